// What sends or carries current beside the sonde: a metal line laid near it, the mains, another crew.
#include "scenarios/yard_plan.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

constexpr double clear_of_building_m = 0.3; // a line ends here at a wall, where it goes in
constexpr double shortest_m = 10.0;
constexpr double longest_m = 45.0;
constexpr double step_m = 0.25;
constexpr double wires_up_m = 6.5;
constexpr double wires_beyond_m = 30.0; // they come from somewhere and go on
constexpr double own_room_m = 1.5;      // another crew's sonde from walls and edges
constexpr double own_drain_m = 2.5;     // and from the drain worked on: it lies in another
constexpr double own_trench_m = 0.6;    // and from the other lines
constexpr int places_tried = 60;

enum class Way { free, ends, barred };

// What a line meets at a place: at a building or the yard's edge it ends, since there it goes in or on to somebody
// else; under a tree or a pond nobody lays one.
Way met_at(const field::Yard& yard, const glm::dvec2& p) {
    if (p.x < 0.0 || p.y < 0.0 || p.x > yard.width_m || p.y > yard.length_m) {
        return Way::ends;
    }
    Way way = Way::free;
    for (const field::Area& area : yard.areas) {
        const bool building = area.kind == field::AreaKind::house || area.kind == field::AreaKind::shed;
        const bool bar = area.kind == field::AreaKind::tree || area.kind == field::AreaKind::pond;
        if ((building || bar) && (field::contains(area.outline_m, p) ||
                                  field::distance_to_edge_m(area.outline_m, p) < clear_of_building_m)) {
            way = bar ? Way::barred : Way::ends;
        }
    }
    return way;
}

// From a place as far as a line goes, in whole steps; empty when something bars it.
std::optional<glm::dvec2> as_far_as_it_goes(const field::Yard& yard, const glm::dvec2& from,
                                            const glm::dvec2& direction) {
    glm::dvec2 end = from;
    constexpr int most_steps = static_cast<int>(longest_m / step_m) - 1;
    for (int i = 1; i <= most_steps; ++i) {
        const glm::dvec2 next = from + step_m * i * direction;
        const Way way = met_at(yard, next);
        if (way == Way::barred) {
            return std::nullopt;
        }
        if (way == Way::ends) {
            break;
        }
        end = next;
    }
    return end;
}

bool keeps_clear_of_lines(const Site& site, const std::vector<glm::dvec3>& line, double width_m) {
    return std::ranges::all_of(site.yard.lines, [&](const field::BuriedLine& other) {
        return clear_of(line, other.points_m, 0.5 * (width_m + other.width_m));
    });
}

bool crew_may_be_at(const Site& site, const glm::dvec2& place) {
    const field::Yard& yard = site.yard;
    const bool inside = place.x > own_room_m && place.y > own_room_m && place.x < yard.width_m - own_room_m &&
                        place.y < yard.length_m - own_room_m;
    const field::Run* run = run_of(site);
    if (!inside || (run != nullptr && field::distance_to_line_m(place, field::plan(run->centreline_m)) < own_drain_m)) {
        return false;
    }
    return std::ranges::none_of(yard.areas,
                                [&](const field::Area& area) {
                                    return field::solid(area.kind) &&
                                           (field::contains(area.outline_m, place) ||
                                            field::distance_to_edge_m(area.outline_m, place) < own_room_m);
                                }) &&
           std::ranges::none_of(yard.lines, [&](const field::BuriedLine& line) {
               return field::distance_to_line_m(place, field::plan(line.points_m)) < own_trench_m;
           });
}

glm::dvec3 to_cm_3d(const glm::dvec2& p, double z_m) { return {to_cm(p.x), to_cm(p.y), z_m}; }

// The place of a neighbour that is nearest to the sonde, on one side (1) or the other (-1), and which way it runs.
struct Course {
    glm::dvec2 nearest_m{0.0};
    glm::dvec2 direction{0.0};
};
Course course_of(const Neighbour& wanted, const glm::dvec2& sonde_m, double heading_deg, double side) {
    const glm::dvec2 along = field::direction_of(heading_deg);
    const glm::dvec2 across{along.y, -along.x};
    return wanted.across ? Course{sonde_m + side * wanted.offset_m * along, across}
                         : Course{sonde_m + side * wanted.offset_m * across, along};
}

std::string wanted_text(const Neighbour& wanted) {
    return fmt::format("{} line {} m {} the sonde", field::name_of(wanted.kind), wanted.offset_m,
                       wanted.across ? "up or down the run from" : "beside");
}

} // namespace

std::string neighbour_fault(const Wanted& wanted) {
    if (!wanted.neighbour || !wanted.run || !wanted.position_m || !wanted.heading_deg) {
        return {};
    }
    const Neighbour& line = *wanted.neighbour;
    for (const double side : {1.0, -1.0}) {
        const glm::dvec2 nearest = course_of(line, *wanted.position_m, *wanted.heading_deg, side).nearest_m;
        const glm::dvec3 there = to_cm_3d(nearest, -line.depth_m);
        if (clear_of({there, there}, line.width_m, *wanted.run)) {
            return {};
        }
    }
    return fmt::format(
        "found a {}, {} m deep, which would cut through the pipe given by run.points_m; allowed: a depth "
        "or an offset_m that leaves 0.15 m between line and pipe",
        wanted_text(line), line.depth_m);
}

bool lay_neighbour(Site& site, std::string_view owner, std::string& why) {
    const Neighbour& wanted = *site.wanted.neighbour;
    sim::Draws draws(site.seed, "yard.neighbour");
    const glm::dvec2 sonde = field::plan(site.sonde.position_m);
    const field::Run* run = run_of(site);
    bool through_run = false;
    const double first_side = draws.chance(0.5) ? 1.0 : -1.0;
    for (const double side : {first_side, -first_side}) {
        const auto [nearest, direction] = course_of(wanted, sonde, site.sonde.heading_deg, side);
        if (met_at(site.yard, nearest) != Way::free) {
            continue;
        }
        const std::optional<glm::dvec2> from = as_far_as_it_goes(site.yard, nearest, -direction);
        const std::optional<glm::dvec2> to = as_far_as_it_goes(site.yard, nearest, direction);
        if (!from || !to || glm::distance(*from, *to) < shortest_m) {
            continue;
        }
        field::BuriedLine line{wanted.kind,
                               std::string(owner),
                               {to_cm_3d(*from, -wanted.depth_m), to_cm_3d(*to, -wanted.depth_m)},
                               wanted.width_m,
                               false,
                               {}};
        if (run != nullptr && !clear_of(line.points_m, wanted.width_m, *run)) {
            through_run = true;
            continue;
        }
        if (!keeps_clear_of_lines(site, line.points_m, wanted.width_m)) {
            continue;
        }
        line.connection = wanted.connection;
        line.resistance_ohm = wanted.resistance_ohm;
        line.clamp_current_a = wanted.clamp_current_a;
        line.clamp_frequency_hz = wanted.clamp_frequency_hz;
        site.neighbour = site.yard.lines.size();
        site.yard.lines.push_back(std::move(line));
        return true;
    }
    why = through_run ? fmt::format("a {} would cut through the pipe", wanted_text(wanted))
                      : fmt::format("there is no room for a {}", wanted_text(wanted));
    return false;
}

bool connect_supply(Site& site, std::string& why) {
    const Supply& supply = *site.wanted.supply;
    if (supply.overhead) {
        const double v = 0.5 * site.lot.street_m;
        const glm::dvec2 from = site.placement.to_yard({-wires_beyond_m, v});
        const glm::dvec2 to = site.placement.to_yard({site.lot.width_m + wires_beyond_m, v});
        site.yard.overhead.push_back({{to_cm_3d(from, wires_up_m), to_cm_3d(to, wires_up_m)}, supply.current_a});
        return true;
    }
    // The neighbour, when it is a cable; else the first one that comes from the street.
    const auto is_cable = [](const field::BuriedLine& line) { return line.kind == field::LineKind::electric; };
    auto cable = std::ranges::find_if(site.yard.lines, is_cable);
    if (site.neighbour && is_cable(site.yard.lines[*site.neighbour])) {
        cable = site.yard.lines.begin() + static_cast<std::ptrdiff_t>(*site.neighbour);
    }
    if (cable == site.yard.lines.end()) {
        why = "no electric cable was drawn to carry the mains current";
        return false;
    }
    cable->mains_current_a = supply.current_a;
    return true;
}

bool place_other_crew(const Site& site, std::vector<field::OtherSonde>& others, std::string& why) {
    const OtherCrew& crew = *site.wanted.other_crew;
    sim::Draws draws(site.seed, "yard.other_crew");
    const glm::dvec2 sonde = field::plan(site.sonde.position_m);
    for (int i = 0; i < places_tried; ++i) {
        const double bearing_deg = std::floor(draws.uniform(0.0, 360.0));
        const double heading_deg = std::floor(draws.uniform(0.0, 360.0));
        const glm::dvec2 place = sonde + crew.distance_m * field::direction_of(bearing_deg);
        if (crew_may_be_at(site, place)) {
            const double depth_m = crew.depth_m.value_or(-site.sonde.position_m.z);
            others.push_back(
                {"another crew", {crew.frequency_hz, crew.moment_am2, {place, -depth_m}, heading_deg, crew.tilt_deg}});
            return true;
        }
    }
    why = fmt::format("there is no place for another crew's sonde {} m from the sonde", crew.distance_m);
    return false;
}

} // namespace sondeyard::scenarios
