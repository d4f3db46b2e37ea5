#include "field/cautions.hpp"

#include "field/lengths.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

std::string waiting_words(const Ticket& ticket) {
    return ticket.state == TicketState::cleared
               ? std::string()
               : fmt::format("Ticket {} stands at \"{}\": nobody digs yet, by hand either, before every owner has "
                             "answered and the ticket is in force.",
                             ticket.number, name_of(ticket.state));
}

double deepest_side_m(const Terrain& terrain, const DigBox& box) {
    const double middle_m = height_m(terrain, box.centre_m);
    double highest_m = middle_m;
    for (const glm::dvec2& corner : rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m)) {
        highest_m = std::max(highest_m, height_m(terrain, corner));
    }
    return box.depth_m + (highest_m - middle_m);
}

bool is_deep(double deepest_m, double protection_depth_m) { return deepest_m >= protection_depth_m - 1e-9; }

namespace {

std::string begins_at(double protection_depth_m) {
    const bool usual = std::abs(protection_depth_m - 1.5) < 1e-9;
    return usual ? std::string("{1.5 m (5 ft)|5 ft}") : either(protection_depth_m);
}

} // namespace

std::string deep_hole_line(double deepest_m, double protection_depth_m) {
    return fmt::format("{} deep: from {} on, a protective system and a competent person before anybody goes in "
                       "(29 CFR 1926.652).",
                       either(deepest_m), begins_at(protection_depth_m));
}

std::string deep_hole_words(double deepest_m, double protection_depth_m) {
    // 29 CFR 1926.652(a)(1): from 5 ft (1.52 m) on, unless the excavation is entirely in stable rock; shallower ones
    // too unless a competent person finds no indication of a cave-in. From memory of the text; not quoted.
    return fmt::format(
        "The hole is {} deep, {} or more: the protective-system rule for trenches applies (29 CFR 1926.652: sloping, "
        "shoring or a shield unless all of it is stable rock; a competent person looks at it first), and local codes "
        "besides.",
        either(deepest_m), begins_at(protection_depth_m));
}

} // namespace sondeyard::field
