#include "scenarios/drape.hpp"

#include "scenarios/grid.hpp"
#include "scenarios/yard_plan.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

using field::AreaKind;

constexpr double spare_cover_m = 0.05;  // laid a little deeper than the least
constexpr double behind_sonde_m = 2.5;  // the run is as drawn from here
constexpr double beyond_fault_m = 1.0;  // to here
constexpr double piece_m = 0.5;         // what a line or run is cut into to follow the ground
constexpr double round_step_m = 0.5;    // a line keeps below the lower ground this near to a step
constexpr double between_pipes_m = 0.1; // a line and the run, wall to wall

double to_degree(double value) { return std::floor(value + 0.5); }

// The way from the yard to its street, one of the four winds; empty where there is none.
std::optional<double> to_street_deg(const field::Yard& yard) {
    const auto street = std::ranges::find(yard.areas, AreaKind::street, &field::Area::kind);
    if (street == yard.areas.end()) {
        return std::nullopt;
    }
    const Box box = bounds(street->outline_m);
    const glm::dvec2 middle{0.5 * (box.u0 + box.u1), 0.5 * (box.v0 + box.v1)};
    const std::array<double, 4> off = {yard.length_m - middle.y, yard.width_m - middle.x, middle.y, middle.x};
    const auto side = std::ranges::min_element(off) - off.begin();
    return 90.0 * static_cast<double>(side);
}

void lay_slope(field::Terrain& terrain, const GroundWish& wish, std::optional<double> street_deg, std::uint64_t seed) {
    sim::Draws draws(seed, "ground.slope");
    const double to_street =
        street_deg ? *street_deg + to_degree(draws.uniform(-20.0, 20.0)) : to_degree(draws.uniform(0.0, 359.0));
    terrain.slope_percent = wish.slope_percent;
    terrain.slope_toward_deg = wish.slope_percent != 0.0 ? wish.slope_toward_deg.value_or(to_street) : 0.0;
}

// A bank may run across a drive, a wall may not; neither goes through a building, a pond or the street.
bool step_fits(const field::Yard& yard, const field::GroundStep& step, const std::pair<glm::dvec2, glm::dvec2>& line) {
    const std::array<glm::dvec2, 2> middle = {line.first, line.second};
    const double half_m = 0.5 * step.ramp_m + 0.2;
    return std::ranges::none_of(yard.areas, [&](const field::Area& area) {
        const bool stands = area.kind == AreaKind::house || area.kind == AreaKind::shed ||
                            area.kind == AreaKind::pond || area.kind == AreaKind::street ||
                            (area.kind == AreaKind::drive && field::is_wall(step));
        return stands && field::distance_to_polyline_m(area.outline_m, middle) < half_m;
    });
}

bool lay_step(field::World& world, const GroundWish& wish, std::optional<double> street_deg, std::uint64_t seed,
              std::string& why) {
    if (wish.step_rise_m == 0.0) {
        return true;
    }
    const glm::dvec2 sonde = field::plan(world.sonde.position_m);
    sim::Draws draws(seed, "ground.step");
    for (int i = 0; i < 24; ++i) {
        // A lot steps up away from its street; sideways when that does not fit.
        const double up_deg = street_deg ? *street_deg + 180.0 : 90.0 * draws.integer(0, 3);
        const double aside_deg = i < 12 ? 0.0 : (i % 2 == 0 ? 90.0 : -90.0);
        const double drawn_deg =
            up_deg + (wish.step_rise_m < 0.0 ? 180.0 : 0.0) + aside_deg + to_degree(draws.uniform(-8.0, 8.0));
        const double toward_deg = micro(std::fmod(wish.step_toward_deg.value_or(drawn_deg) + 720.0, 360.0));
        const double offset_m = wish.step_offset_m.value_or(to_cm(draws.uniform(1.5, 4.0)));
        field::GroundStep step{micro(sonde + offset_m * field::direction_of(toward_deg)), toward_deg, wish.step_rise_m,
                               wish.step_ramp_m};
        const auto line = field::line_in_yard(step, 0.0, world.yard.width_m, world.yard.length_m);
        if (!line || !step_fits(world.yard, step, *line)) {
            continue;
        }
        // Any point of it will do, and the one beside the sonde would tell.
        step.place_m = micro(0.5 * (line->first + line->second));
        world.yard.terrain.steps.push_back(step);
        return true;
    }
    why = "the step would leave the yard or cut through a building, a pond, the street or a drive";
    return false;
}

bool lay_pad(field::World& world, const GroundWish& wish, std::uint64_t seed, std::string& why) {
    if (wish.pad_rise_m == 0.0) {
        return true;
    }
    constexpr double margin_m = 0.3;
    const glm::dvec2 sonde = field::plan(world.sonde.position_m);
    sim::Draws draws(seed, "ground.pad");
    for (int i = 0; i < 32; ++i) {
        const double drawn_deg = 22.5 * draws.integer(0, 15);
        const double toward_deg = wish.pad_toward_deg.value_or(drawn_deg);
        const double offset_m = wish.pad_offset_m.value_or(to_cm(draws.uniform(0.2, 0.8)));
        const double deep_m = to_cm(draws.uniform(2.5, 4.0));
        const double wide_m = to_cm(draws.uniform(3.0, 5.0));
        const double aside_m = to_cm(draws.uniform(-0.3, 0.3) * wide_m);
        const glm::dvec2 ahead = field::direction_of(toward_deg);
        const glm::dvec2 centre = sonde + (offset_m + 0.5 * deep_m) * ahead + aside_m * glm::dvec2{ahead.y, -ahead.x};
        field::Polygon outline = field::rectangle(centre, toward_deg, deep_m, wide_m);
        for (glm::dvec2& p : outline) {
            p = micro(p);
        }
        const bool in_yard = std::ranges::all_of(outline, [&](const glm::dvec2& p) {
            return p.x >= margin_m && p.y >= margin_m && p.x <= world.yard.width_m - margin_m &&
                   p.y <= world.yard.length_m - margin_m;
        });
        const auto in_the_way = [&](const field::Area& area) { return !apart(outline, area.outline_m, 0.1); };
        const bool may_go = std::ranges::all_of(world.yard.areas, [&](const field::Area& area) {
            return area.kind == AreaKind::planting || area.kind == AreaKind::tree || !in_the_way(area);
        });
        if (!in_yard || !may_go) {
            continue;
        }
        std::erase_if(world.yard.areas, in_the_way);
        world.yard.areas.push_back({AreaKind::slab, outline, "slab"});
        world.yard.terrain.pads.push_back({std::move(outline), wish.pad_rise_m});
        return true;
    }
    why = "there is no room for the raised slab beside the sonde";
    return false;
}

// ---- What is buried ----

std::vector<glm::dvec3> in_pieces(const std::vector<glm::dvec3>& points, double most_m) {
    std::vector<glm::dvec3> out = {points.front()};
    for (std::size_t i = 1; i < points.size(); ++i) {
        const glm::dvec3 step = points[i] - points[i - 1];
        const int pieces = std::max(1, static_cast<int>(std::ceil(glm::length(step) / most_m)));
        for (int k = 1; k <= pieces; ++k) {
            out.push_back(k == pieces ? points[i] : points[i - 1] + step * (static_cast<double>(k) / pieces));
        }
    }
    return out;
}

// Takes out what lies on the straight line between its neighbours.
std::vector<glm::dvec3> thinned(const std::vector<glm::dvec3>& points) {
    std::vector<glm::dvec3> out = {points.front()};
    for (std::size_t i = 1; i + 1 < points.size(); ++i) {
        const glm::dvec3 whole = points[i + 1] - out.back();
        const glm::dvec3 part = points[i] - out.back();
        const double share = glm::dot(part, whole) / glm::dot(whole, whole);
        if (glm::length(part - share * whole) > 1e-5) {
            out.push_back(points[i]);
        }
    }
    out.push_back(points.back());
    return out;
}

// Goes down with the ground away from sonde and fault. What is lowered stays lowered from there on, so that falls are
// kept.
bool lower_run(field::World& world, std::string& why) {
    field::Run run = *world.run;
    const double radius_m = 0.5 * run.inside_diameter_m + run.wall_m;
    const double sonde_m = field::project(run, world.sonde.position_m).along_m;
    const double fault_m = sonde_m + world.sheet.sonde_to_lens_m + world.sheet.lens_to_fault_m;
    auto& points = run.centreline_m;
    points = in_pieces(points, piece_m);
    std::vector<double> along_m = {0.0};
    for (std::size_t i = 1; i < points.size(); ++i) {
        along_m.push_back(along_m.back() + glm::distance(points[i - 1], points[i]));
    }
    const auto too_high_m = [&](const glm::dvec3& p) {
        return p.z + radius_m + field::least_cover_m + spare_cover_m -
               field::height_m(world.yard.terrain, field::plan(p));
    };
    double lowered_m = 0.0;
    for (std::size_t i = 0; i < points.size(); ++i) {
        if (along_m[i] > fault_m + beyond_fault_m) {
            lowered_m = std::max(lowered_m, too_high_m(points[i]));
            points[i].z -= lowered_m;
        }
    }
    lowered_m = 0.0;
    for (std::size_t i = points.size() - 1; i-- > 0;) {
        if (along_m[i] < sonde_m - behind_sonde_m) {
            lowered_m = std::max(lowered_m, too_high_m(points[i]));
            points[i].z = std::max(points[i].z - lowered_m, points[i + 1].z); // level at the flattest
        }
    }
    points = thinned(points);
    const field::Cover cover = field::cover_of(world, run);
    if (cover.least_m < field::least_cover_m) {
        why = cover.least_m < 0.0 ? "the run comes out of the ground"
                                  : fmt::format("the run has only {:.2f} m of cover left", cover.least_m);
        return false;
    }
    world.run = std::move(run);
    return true;
}

double line_height_m(const field::Terrain& terrain, const glm::dvec2& p, const glm::dvec2& along) {
    const double here_m = field::height_without_pads_m(terrain, p);
    const bool near_step = std::ranges::any_of(terrain.steps, [&](const field::GroundStep& step) {
        return std::abs(field::across_m(step, p)) <= 0.5 * step.ramp_m + round_step_m;
    });
    return near_step ? std::min({here_m, field::height_without_pads_m(terrain, p - round_step_m * along),
                                 field::height_without_pads_m(terrain, p + round_step_m * along)})
                     : here_m;
}

void follow_ground(field::BuriedLine& line, const field::Terrain& terrain, double more_m) {
    const bool bends = !terrain.steps.empty();
    std::vector<glm::dvec3> points = bends ? in_pieces(line.points_m, piece_m) : line.points_m;
    std::vector<glm::dvec3> laid = points;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const glm::dvec2 step = field::plan(points[std::min(i + 1, points.size() - 1)] - points[i > 0 ? i - 1 : 0]);
        const glm::dvec2 along = glm::length(step) > 1e-9 ? step / glm::length(step) : glm::dvec2{0.0};
        laid[i].z += line_height_m(terrain, field::plan(points[i]), along) + more_m;
    }
    line.points_m = bends ? thinned(laid) : std::move(laid);
}

// The main that the drain goes into, and no other sewer that may lie about.
bool is_main(const field::BuriedLine& line, const glm::dvec3& run_end_m) {
    constexpr double joined_m = 0.3;
    return line.kind == field::LineKind::sewer && !line.is_private &&
           field::distance_to_line_m(field::plan(run_end_m), field::plan(line.points_m)) < joined_m;
}

bool lay_lines(field::World& world, const std::optional<glm::dvec3>& old_end, std::string& why) {
    for (field::BuriedLine& line : world.yard.lines) {
        double more_m = 0.0;
        if (old_end && is_main(line, *old_end)) { // stays where the drain goes into it
            const glm::dvec3 end = world.run->centreline_m.back();
            more_m = end.z - old_end->z - field::height_without_pads_m(world.yard.terrain, field::plan(end));
        }
        follow_ground(line, world.yard.terrain, more_m);
    }
    if (!world.run) {
        return true;
    }
    const double radius_m = 0.5 * world.run->inside_diameter_m + world.run->wall_m;
    for (const field::BuriedLine& line : world.yard.lines) {
        for (const glm::dvec3& p : in_pieces(line.points_m, 0.1)) {
            if (!is_main(line, world.run->centreline_m.back()) &&
                field::project(*world.run, p).distance_m < radius_m + 0.5 * line.width_m + between_pipes_m) {
                why = fmt::format("a {} line would touch the run", field::name_of(line.kind));
                return false;
            }
        }
    }
    return true;
}

// Cable out from the rim or the pipe's mouth, with the slack it was drawn with.
double cable_m(const field::World& world, double riser_m) {
    const double along_m = field::project(*world.run, world.sonde.position_m).along_m;
    return along_m + (world.sheet.counter_zero == field::CounterZero::cleanout_rim ? riser_m : 0.0);
}

bool can_be_worked(field::World& world, std::uint64_t seed, std::string& why) {
    if (std::ranges::none_of(world.yard.terrain.steps, field::is_wall)) {
        return true;
    }
    Site site;
    site.seed = seed;
    site.sonde = world.sonde;
    site.yard = world.yard;
    const Ground ground(site.yard, field::plan(site.sonde.position_m));
    if (!workable(site, ground, why)) {
        return false;
    }
    if (!ground.walked(world.start_m) && !choose_start(site, ground, world)) {
        why = "there is no place to start from on the sonde's side of the wall";
        return false;
    }
    return true;
}

} // namespace

bool shaped(const GroundWish& wish) {
    return wish.slope_percent != 0.0 || wish.step_rise_m != 0.0 || wish.pad_rise_m != 0.0;
}

bool drape(field::World& world, const GroundWish& wish, std::uint64_t seed, bool run_is_given, std::string& why) {
    to_grid(world.sonde.position_m);
    field::Terrain& terrain = world.yard.terrain;
    terrain = {};
    terrain.zero_m = field::plan(world.sonde.position_m);
    const std::optional<double> street_deg = to_street_deg(world.yard);
    lay_slope(terrain, wish, street_deg, seed);
    if (!lay_step(world, wish, street_deg, seed, why) || !lay_pad(world, wish, seed, why)) {
        return false;
    }
    std::optional<glm::dvec3> old_end;
    double old_cable_m = 0.0;
    if (world.run) {
        old_cable_m = cable_m(world, -world.run->centreline_m.front().z);
        if (!run_is_given) {
            old_end = world.run->centreline_m.back();
            if (field::cover_of(world, *world.run).least_m < field::least_cover_m && !lower_run(world, why)) {
                return false;
            }
        }
    }
    if (!lay_lines(world, old_end, why)) {
        return false;
    }
    for (field::OverheadLine& line : world.yard.overhead) {
        for (glm::dvec3& p : line.points_m) {
            p.z += field::height_without_pads_m(world.yard.terrain, field::plan(p));
        }
    }
    for (field::OtherSonde& other : world.other_sondes) {
        other.sonde.position_m.z += field::height_m(world.yard.terrain, field::plan(other.sonde.position_m));
    }
    if (world.run && world.sheet.counter_m) {
        const double out_m = cable_m(world, field::riser_m(world));
        const double slack = std::max(1.0, *world.sheet.counter_m / old_cable_m);
        world.sheet.counter_m = std::max(std::floor(out_m * slack * 100.0) / 100.0, std::ceil(out_m * 100.0) / 100.0);
    }
    if (!can_be_worked(world, seed, why)) {
        return false;
    }
    const std::vector<std::string> faults = field::faults(world);
    if (!faults.empty()) {
        why = faults.front();
    }
    return faults.empty();
}

} // namespace sondeyard::scenarios
