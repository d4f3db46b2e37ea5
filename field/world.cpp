#include "field/world.hpp"

#include "sim/line.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <iterator>

namespace sondeyard::field {

std::string_view name_of(AreaKind kind) {
    static constexpr std::array<std::string_view, 9> names = {"house",    "shed", "slab", "drive", "street",
                                                              "planting", "pond", "tree", "fence"};
    return names[static_cast<std::size_t>(kind)];
}

bool walkable(AreaKind kind) { return kind == AreaKind::slab || kind == AreaKind::drive || kind == AreaKind::street; }

bool solid(AreaKind kind) { return kind == AreaKind::house || kind == AreaKind::shed || kind == AreaKind::tree; }

std::string_view name_of(ClueKind kind) {
    static constexpr std::array<std::string_view, 7> names = {
        "gas meter", "water meter", "electric meter", "pedestal", "grill", "lit outbuilding", "irrigation valve"};
    return names[static_cast<std::size_t>(kind)];
}

std::string_view name_of(LineKind kind) {
    static constexpr std::array<std::string_view, 6> names = {"electric",        "gas",  "communication", "water",
                                                              "reclaimed water", "sewer"};
    return names[static_cast<std::size_t>(kind)];
}

std::string_view name_of(LineConnection connection) {
    static constexpr std::array<std::string_view, 3> names = {"none", "isolated", "bonded"};
    return names[static_cast<std::size_t>(connection)];
}

std::string_view name_of(TicketState state) {
    static constexpr std::array<std::string_view, 3> names = {"requested", "all positive responses", "expired"};
    return names[static_cast<std::size_t>(state)];
}

std::string_view name_of(CounterZero zero) { return zero == CounterZero::cleanout_rim ? "cleanout rim" : "pipe mouth"; }

double depth_m(const World& world, const glm::dvec3& place_m) {
    return height_m(world.yard.terrain, plan(place_m)) - place_m.z;
}

double depth_m(const World& world) { return depth_m(world, world.sonde.position_m); }

Cover cover_of(const World& world, const Run& run) {
    constexpr double look_every_m = 0.25;
    Cover cover{1e9, {}};
    for (std::size_t i = 1; i < run.centreline_m.size(); ++i) {
        const glm::dvec3& a = run.centreline_m[i - 1];
        const glm::dvec3& b = run.centreline_m[i];
        const int pieces = std::max(1, static_cast<int>(std::ceil(glm::distance(a, b) / look_every_m)));
        for (int k = 0; k <= pieces; ++k) {
            const glm::dvec3 p = a + (b - a) * (static_cast<double>(k) / pieces);
            const double over_m = depth_m(world, p) - 0.5 * run.inside_diameter_m - run.wall_m;
            if (over_m < cover.least_m) {
                cover = {over_m, plan(p)};
            }
        }
    }
    return cover;
}

double riser_m(const World& world) { return world.run ? depth_m(world, world.run->centreline_m.front()) : 0.0; }

double Band::width_m(double true_depth_m) const { return std::max(least_m, share_of_depth * true_depth_m); }

double pipe_top_depth_m(double sonde_depth_m, const JobSheet& sheet) {
    return sonde_depth_m - (sheet.inside_diameter_m - sheet.sonde_above_invert_m) - sheet.wall_m;
}

DigTarget dig_target(const World& world) {
    const JobSheet& sheet = world.sheet;
    const double ahead_m = sheet.sonde_to_lens_m + sheet.lens_to_fault_m;
    const double radius_m = 0.5 * sheet.inside_diameter_m;
    glm::dvec3 centre{0.0};
    if (world.run) {
        centre = at_length(*world.run, project(*world.run, world.sonde.position_m).along_m + ahead_m).centre_m;
    } else {
        const glm::dvec3 axis = sim::axis_of(world.sonde.heading_deg, world.sonde.tilt_deg);
        const glm::dvec3 above{0.0, 0.0, radius_m - sheet.sonde_above_invert_m};
        centre = world.sonde.position_m + ahead_m * axis + above;
    }
    const double springline_m = depth_m(world, centre);
    return {centre, springline_m - radius_m - sheet.wall_m, springline_m};
}

Brief brief_of(const World& world) {
    Brief brief;
    brief.width_m = world.yard.width_m;
    brief.length_m = world.yard.length_m;
    brief.areas = world.yard.areas;
    brief.clues = world.yard.clues;
    for (const BuriedLine& line : world.yard.lines) {
        if (!line.paint_m.empty()) {
            brief.paint.push_back({line.kind, line.owner, line.paint_m});
        }
    }
    brief.terrain = counted_from(world.yard.terrain, world.start_m);
    brief.mains_hz = world.yard.mains_hz;
    for (const OverheadLine& line : world.yard.overhead) {
        brief.overhead_m.push_back(line.points_m);
        for (glm::dvec3& p : brief.overhead_m.back()) {
            p.z -= height_m(world.yard.terrain,
                            world.start_m); // as the terrain is: the datum would tell the sonde's place
        }
    }
    brief.sheet = world.sheet;
    brief.receiver_kind = world.receiver.kind;
    brief.has_wide = world.receiver.has_wide;
    brief.antenna_spacing_m = world.receiver.antenna_spacing_m;
    brief.tip_to_antenna_m = world.receiver.tip_to_antenna_m;
    const double noise_t =
        sim::noise_density_t(world.receiver, 512.0) * std::sqrt(sim::noise_bandwidth_hz(world.receiver));
    brief.noise_floor_dbpt_at_512 = sim::dbpt(noise_t * std::sqrt(6.0)); // three antennas, real and imaginary parts
    brief.pair_share = world.rubric.pair_share;
    brief.protection_depth_m = world.rubric.protection_depth_m;
    brief.start_m = world.start_m;
    brief.start_facing_deg = world.start_facing_deg;
    return brief;
}

namespace {

bool inside_yard(double width_m, double length_m, const glm::dvec2& p, double margin_m) {
    return p.x >= margin_m && p.y >= margin_m && p.x <= width_m - margin_m && p.y <= length_m - margin_m;
}

} // namespace

bool standable(double width_m, double length_m, const std::vector<Area>& areas, const glm::dvec2& place_m) {
    if (!inside_yard(width_m, length_m, place_m, body_radius_m)) {
        return false;
    }
    return std::ranges::none_of(areas, [&](const Area& area) {
        return !walkable(area.kind) &&
               (contains(area.outline_m, place_m) || distance_to_edge_m(area.outline_m, place_m) < body_radius_m);
    });
}

bool standable(const Yard& yard, const glm::dvec2& place_m) {
    return !at_wall(yard.terrain, place_m, body_radius_m) &&
           standable(yard.width_m, yard.length_m, yard.areas, place_m);
}

bool standable(const Brief& brief, const glm::dvec2& place_m) {
    return !at_wall(brief.terrain, place_m, body_radius_m) &&
           standable(brief.width_m, brief.length_m, brief.areas, place_m);
}

bool tip_may_be(double width_m, double length_m, const std::vector<Area>& areas, const glm::dvec2& place_m) {
    if (!inside_yard(width_m, length_m, place_m, 0.0)) {
        return false;
    }
    return std::ranges::none_of(
        areas, [&](const Area& area) { return solid(area.kind) && contains(area.outline_m, place_m); });
}

namespace {

using Faults = std::vector<std::string>;

void require(Faults& faults, bool holds, const std::function<std::string()>& otherwise) {
    if (!holds) {
        faults.push_back(otherwise());
    }
}

bool in_range(double value, double low, double high) { return value >= low && value <= high; } // false for NaN

void check_sonde(const World& world, Faults& faults) {
    const SondeTruth& sonde = world.sonde;
    const Yard& yard = world.yard;
    require(faults, inside_yard(yard.width_m, yard.length_m, plan(sonde.position_m), 0.0), [&] {
        return fmt::format("the sonde at ({}, {}) lies outside the yard of {} by {} m", sonde.position_m.x,
                           sonde.position_m.y, yard.width_m, yard.length_m);
    });
    const double deep_m = depth_m(world);
    require(faults, in_range(deep_m, sim::closest_range_m, 10.0), [&] {
        return deep_m < 0.0
                   ? fmt::format("the sonde lies {} m above the ground; 0.15 to 10 m under it is allowed", -deep_m)
                   : fmt::format("the sonde's depth is {} m; 0.15 to 10 m is allowed", deep_m);
    });
    require(faults, in_range(sonde.moment_am2, 1e-4, 10.0),
            [&] { return fmt::format("the sonde's moment is {} A m2; 0.0001 to 10 is allowed", sonde.moment_am2); });
    require(faults, in_range(sonde.frequency_hz, 50.0, 100e3),
            [&] { return fmt::format("the sonde's frequency is {} Hz; 50 to 100000 is allowed", sonde.frequency_hz); });
    require(faults, in_range(sonde.tilt_deg, -90.0, 90.0) && std::isfinite(sonde.heading_deg), [&] {
        return fmt::format("the sonde's heading {} or tilt {} deg makes no sense; tilt is -90 to 90", sonde.heading_deg,
                           sonde.tilt_deg);
    });
}

// On flat ground a pipe may lie as shallow as somebody says; where the surface comes and goes it keeps its cover.
void check_cover(const World& world, Faults& faults) {
    const bool flat = is_flat(world.yard.terrain);
    const Cover cover = cover_of(world, *world.run);
    const double radius_m = 0.5 * world.run->inside_diameter_m + world.run->wall_m;
    if (cover.least_m + radius_m <= 0.0) {
        faults.push_back(
            fmt::format("the run comes out of the ground at ({:.2f}, {:.2f})", cover.place_m.x, cover.place_m.y));
    } else if (!flat && cover.least_m < least_cover_m - 1e-6) {
        faults.push_back(fmt::format("the run has {:.2f} m of cover at ({:.2f}, {:.2f}); {:.2f} m or more is allowed",
                                     cover.least_m, cover.place_m.x, cover.place_m.y, least_cover_m));
    }
}

void check_lines(const World& world, Faults& faults) {
    for (const BuriedLine& line : world.yard.lines) {
        const auto out =
            std::ranges::find_if(line.points_m, [&](const glm::dvec3& p) { return depth_m(world, p) <= 0.0; });
        if (out != line.points_m.end()) {
            faults.push_back(fmt::format("a buried {} line comes out of the ground at ({:.2f}, {:.2f})",
                                         name_of(line.kind), out->x, out->y));
        }
    }
}

// Metal beside the sonde and what it carries.
void check_conductors(const World& world, Faults& faults) {
    for (const BuriedLine& line : world.yard.lines) {
        const std::string what = fmt::format("a buried {} line", name_of(line.kind));
        require(faults, line.points_m.size() >= 2,
                [&] { return fmt::format("{} has {} points; two or more are allowed", what, line.points_m.size()); });
        require(faults, in_range(line.width_m, 1e-3, 5.0),
                [&] { return fmt::format("{} is {} m across; 0.001 to 5 m is allowed", what, line.width_m); });
        const double length_m = sim::conductor_length_m(line.points_m);
        const double least_m = sim::least_length_by_radius * 0.5 * line.width_m;
        require(
            faults, line.connection != LineConnection::bonded || line.points_m.size() < 2 || length_m >= least_m, [&] {
                return fmt::format("{} is bonded and {:.4g} m long; at its width of {} m {:.4g} m or more is allowed",
                                   what, length_m, line.width_m, least_m);
            });
        require(faults, line.connection != LineConnection::bonded || in_range(line.resistance_ohm, 0.1, 10e3), [&] {
            return fmt::format("{} is bonded through {} ohm; 0.1 to 10000 ohm is allowed", what, line.resistance_ohm);
        });
        require(faults, in_range(line.clamp_current_a, 0.0, 5.0), [&] {
            return fmt::format("{} has a transmitter of {} A on it; 0 to 5 A is allowed", what, line.clamp_current_a);
        });
        require(faults, line.clamp_current_a == 0.0 || in_range(line.clamp_frequency_hz, 50.0, 100e3), [&] {
            return fmt::format("{} has a transmitter of {} Hz on it; 50 to 100000 Hz is allowed", what,
                               line.clamp_frequency_hz);
        });
        require(faults, in_range(line.mains_current_a, 0.0, 100.0), [&] {
            return fmt::format("{} carries {} A of mains; 0 to 100 A is allowed", what, line.mains_current_a);
        });
    }
    for (const OverheadLine& wires : world.yard.overhead) {
        require(faults, wires.points_m.size() >= 2,
                [] { return std::string("wires overhead have fewer than two points"); });
        const auto low =
            std::ranges::find_if(wires.points_m, [&](const glm::dvec3& p) { return !(depth_m(world, p) < -2.0); });
        require(faults, low == wires.points_m.end(), [&] {
            return fmt::format(
                "wires overhead hang {:.2f} m over the ground at ({:.2f}, {:.2f}); 2 m or more is allowed",
                -depth_m(world, *low), low->x, low->y);
        });
        require(faults, in_range(wires.mains_current_a, 0.0, 100.0), [&] {
            return fmt::format("wires overhead carry {} A of mains; 0 to 100 A is allowed", wires.mains_current_a);
        });
    }
    require(faults, in_range(world.yard.mains_hz, 45.0, 65.0),
            [&] { return fmt::format("the mains run at {} Hz; 45 to 65 Hz is allowed", world.yard.mains_hz); });
}

void check_other_sondes(const World& world, Faults& faults) {
    const Yard& yard = world.yard;
    for (const OtherSonde& other : world.other_sondes) {
        const SondeTruth& sonde = other.sonde;
        const std::string whose = fmt::format("the sonde of {}", other.owner.empty() ? "another crew" : other.owner);
        require(faults, inside_yard(yard.width_m, yard.length_m, plan(sonde.position_m), 0.0), [&] {
            return fmt::format("{} at ({}, {}) lies outside the yard; 0 to {} m east and 0 to {} m north is allowed",
                               whose, sonde.position_m.x, sonde.position_m.y, yard.width_m, yard.length_m);
        });
        const double deep_m = depth_m(world, sonde.position_m);
        require(faults, in_range(deep_m, sim::closest_range_m, 10.0), [&] {
            return deep_m < 0.0
                       ? fmt::format("{} lies {} m above the ground; 0.15 to 10 m under it is allowed", whose, -deep_m)
                       : fmt::format("{} lies {} m deep; 0.15 to 10 m is allowed", whose, deep_m);
        });
        require(faults, in_range(sonde.moment_am2, 1e-4, 10.0), [&] {
            return fmt::format("{} has a moment of {} A m2; 0.0001 to 10 is allowed", whose, sonde.moment_am2);
        });
        require(faults, in_range(sonde.frequency_hz, 50.0, 100e3), [&] {
            return fmt::format("{} sends at {} Hz; 50 to 100000 Hz is allowed", whose, sonde.frequency_hz);
        });
        require(faults, in_range(sonde.tilt_deg, -90.0, 90.0) && std::isfinite(sonde.heading_deg), [&] {
            return fmt::format("{} has heading {} deg and tilt {} deg; a tilt of -90 to 90 is allowed", whose,
                               sonde.heading_deg, sonde.tilt_deg);
        });
    }
}

void check_run(const World& world, Faults& faults) {
    const Run& run = *world.run;
    if (run.centreline_m.size() < 2) {
        faults.emplace_back("the run has fewer than two points");
        return;
    }
    for (std::size_t i = 1; i < run.centreline_m.size(); ++i) {
        const glm::dvec3& a = run.centreline_m[i - 1];
        const glm::dvec3& b = run.centreline_m[i];
        if (!(glm::distance(a, b) > 1e-3)) {
            faults.push_back(fmt::format("run points {} and {} are the same place", i, i + 1));
            return;
        }
        require(faults, b.z <= a.z + 1e-9,
                [&] { return fmt::format("the run rises from point {} to point {}; a drain falls", i, i + 1); });
    }
    require(faults, in_range(run.inside_diameter_m, 0.03, 1.0) && in_range(run.wall_m, 0.0005, 0.1), [&] {
        return fmt::format("the pipe's inside diameter {} m or wall {} m makes no sense", run.inside_diameter_m,
                           run.wall_m);
    });
    require(faults,
            run.metal.conductivity_s_per_m == 0.0 || (in_range(run.metal.conductivity_s_per_m, 1e4, 70e6) &&
                                                      in_range(run.metal.relative_permeability, 1.0, 5000.0)),
            [&] {
                return fmt::format(
                    "the pipe's metal conducts {} S/m with a relative permeability of {}; 10^4 to 7 10^7 "
                    "and 1 to 5000 are allowed",
                    run.metal.conductivity_s_per_m, run.metal.relative_permeability);
            });
    check_cover(world, faults);
    const RunProjection off = project(run, world.sonde.position_m);
    require(faults, off.distance_m <= 0.5 * run.inside_diameter_m + 1e-6, [&] {
        return fmt::format(
            "the sonde lies {:.3f} m off the run's centre line; at most the inside radius {:.3f} m is allowed",
            off.distance_m, 0.5 * run.inside_diameter_m);
    });
}

} // namespace

std::vector<std::string> faults(const World& world) {
    Faults found;
    const Yard& yard = world.yard;
    require(found, in_range(yard.width_m, 10.0, 100.0) && in_range(yard.length_m, 10.0, 100.0), [&] {
        return fmt::format("the yard is {} by {} m; 10 to 100 m a side is allowed", yard.width_m, yard.length_m);
    });
    for (const Area& area : yard.areas) {
        require(found, area.outline_m.size() >= 3,
                [&] { return fmt::format("the outline of a {} has fewer than three corners", name_of(area.kind)); });
    }
    std::ranges::move(faults(yard.terrain, yard.width_m, yard.length_m), std::back_inserter(found));
    if (!found.empty()) {
        return found;
    }
    check_sonde(world, found);
    if (world.run) {
        check_run(world, found);
    }
    if (!is_flat(yard.terrain)) {
        check_lines(world, found);
    }
    check_conductors(world, found);
    check_other_sondes(world, found);
    require(found, !yard.resistivity_ohm_m || in_range(*yard.resistivity_ohm_m, 1.0, 100e3), [&] {
        return fmt::format("the ground's resistivity is {} ohm m; 1 to 100000 ohm m is allowed",
                           *yard.resistivity_ohm_m);
    });
    require(found, tip_may_be(yard.width_m, yard.length_m, yard.areas, plan(world.sonde.position_m)),
            [] { return std::string("the sonde lies under a house, shed or tree, where no receiver can stand"); });
    require(found, standable(yard, world.start_m),
            [&] { return fmt::format("nobody can stand at the start ({}, {})", world.start_m.x, world.start_m.y); });
    require(found,
            in_range(world.receiver.antenna_spacing_m, 0.05, 1.5) &&
                in_range(world.receiver.tip_to_antenna_m, 0.0, 1.0),
            [] { return std::string("antenna spacing (0.05 to 1.5 m) or tip to antenna (0 to 1 m) is out of range"); });
    return found;
}

} // namespace sondeyard::field
