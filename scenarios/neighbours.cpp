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
constexpr double clear_of_run_m = 0.05;     // wall to wall
constexpr double shortest_m = 6.0;
constexpr double longest_m = 45.0;
constexpr double step_m = 0.25;
constexpr double wires_up_m = 6.5;
constexpr double wires_beyond_m = 30.0; // they come from somewhere and go on
constexpr double own_room_m = 1.5;      // another crew's sonde from walls and edges
constexpr int places_tried = 60;

bool line_may_be(const field::Yard& yard, const glm::dvec2& p) {
    if (p.x < 0.0 || p.y < 0.0 || p.x > yard.width_m || p.y > yard.length_m) {
        return false;
    }
    return std::ranges::none_of(yard.areas, [&](const field::Area& area) {
        const bool in_the_way = field::solid(area.kind) || area.kind == field::AreaKind::pond;
        return in_the_way && (field::contains(area.outline_m, p) ||
                              field::distance_to_edge_m(area.outline_m, p) < clear_of_building_m);
    });
}

// From a place as far as a line may go, in whole steps.
glm::dvec2 as_far_as_it_goes(const field::Yard& yard, const glm::dvec2& from, const glm::dvec2& direction) {
    glm::dvec2 end = from;
    for (double along = step_m; along < longest_m; along += step_m) {
        const glm::dvec2 next = from + along * direction;
        if (!line_may_be(yard, next)) {
            break;
        }
        end = next;
    }
    return end;
}

// Keeps clear of the drain where the two cross.
bool clears_run(const Site& site, const std::vector<glm::dvec3>& line, double radius_m) {
    if (!site.drain) {
        return true;
    }
    const field::Run& run = site.drain->run;
    const double needed_m = radius_m + 0.5 * run.inside_diameter_m + run.wall_m + clear_of_run_m;
    const double length_m = glm::distance(line.front(), line.back());
    for (double along = 0.0; along <= length_m; along += 0.5 * step_m) {
        const glm::dvec3 p = line.front() + (along / length_m) * (line.back() - line.front());
        if (field::project(run, p).distance_m < needed_m) {
            return false;
        }
    }
    return true;
}

glm::dvec3 to_cm_3d(const glm::dvec2& p, double z_m) { return {to_cm(p.x), to_cm(p.y), z_m}; }

} // namespace

bool lay_neighbour(Site& site, std::string_view owner, std::string& why) {
    const Neighbour& wanted = *site.wanted.neighbour;
    sim::Draws draws(site.seed, "yard.neighbour");
    const glm::dvec2 sonde = field::plan(site.sonde.position_m);
    const glm::dvec2 along = field::direction_of(site.sonde.heading_deg);
    const glm::dvec2 across{along.y, -along.x};
    const double first_side = draws.chance(0.5) ? 1.0 : -1.0;
    for (const double side : {first_side, -first_side}) {
        const glm::dvec2 nearest = sonde + side * wanted.offset_m * (wanted.across ? along : across);
        const glm::dvec2 direction = wanted.across ? across : along;
        if (!line_may_be(site.yard, nearest)) {
            continue;
        }
        const glm::dvec2 from = as_far_as_it_goes(site.yard, nearest, -direction);
        const glm::dvec2 to = as_far_as_it_goes(site.yard, nearest, direction);
        field::BuriedLine line{wanted.kind,
                               std::string(owner),
                               {to_cm_3d(from, -wanted.depth_m), to_cm_3d(to, -wanted.depth_m)},
                               wanted.width_m,
                               false,
                               {}};
        if (glm::distance(from, to) < shortest_m || !clears_run(site, line.points_m, 0.5 * wanted.width_m)) {
            continue;
        }
        line.connection = wanted.connection;
        line.resistance_ohm = wanted.resistance_ohm;
        line.clamp_current_a = wanted.clamp_current_a;
        line.clamp_frequency_hz = wanted.clamp_frequency_hz;
        site.yard.lines.push_back(std::move(line));
        return true;
    }
    why = fmt::format("there is no room for a {} line {} m {} the sonde", field::name_of(wanted.kind), wanted.offset_m,
                      wanted.across ? "up or down the run from" : "beside");
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
    auto cable = site.yard.lines.end();
    for (auto line = site.yard.lines.begin(); line != site.yard.lines.end(); ++line) {
        const bool is_neighbour = site.wanted.neighbour && line + 1 == site.yard.lines.end();
        if (line->kind == field::LineKind::electric && (cable == site.yard.lines.end() || is_neighbour)) {
            cable = line;
        }
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
    const field::Yard& yard = site.yard;
    sim::Draws draws(site.seed, "yard.other_crew");
    const glm::dvec2 sonde = field::plan(site.sonde.position_m);
    for (int i = 0; i < places_tried; ++i) {
        const double bearing_deg = std::floor(draws.uniform(0.0, 360.0));
        const double heading_deg = std::floor(draws.uniform(0.0, 360.0));
        const glm::dvec2 place = sonde + crew.distance_m * field::direction_of(bearing_deg);
        const bool inside = place.x > own_room_m && place.y > own_room_m && place.x < yard.width_m - own_room_m &&
                            place.y < yard.length_m - own_room_m;
        const bool free =
            inside && std::ranges::none_of(yard.areas, [&](const field::Area& area) {
                return field::solid(area.kind) && (field::contains(area.outline_m, place) ||
                                                   field::distance_to_edge_m(area.outline_m, place) < own_room_m);
            });
        if (free) {
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
