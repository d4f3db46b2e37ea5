#include "field/true_points.hpp"

#include "sim/isolines.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

namespace sondeyard::field {

namespace {

constexpr double near_depths = 3.5;        // half width of the finer search round the sonde
constexpr double near_cells_a_depth = 8.0; // there
constexpr double yard_cells = 160.0;       // of the coarser one, on the yard's longer side
constexpr double plumb_within_deg = 0.5;   // of a point that the search could not bring nearer: a pad's edge
constexpr double steepest_coil_deg = 80.0; // of a sonde that has a heading
constexpr double least_peak_db = -40.0;    // under the main one: lesser peaks beyond are of no interest

struct Ground { // the scene as a receiver on the ground meets it
    const World& world;
    const sim::Scene& scene;
    double depth_m = 1.0;
    double least_t = 0.0;

    sim::Phasor3 field_t(const glm::dvec2& place_m) const { return field_at_tip_t(world, scene, place_m); }
    glm::dvec3 axis(const glm::dvec2& place_m) const { return sim::major_axis(field_t(place_m)); }
    bool in_yard(const glm::dvec2& p) const {
        return p.x >= 0.0 && p.y >= 0.0 && p.x <= world.yard.width_m && p.y <= world.yard.length_m;
    }
};

glm::dvec2 place_of(const sim::MapGrid& grid, int column, int row) {
    return {grid.west_m + grid.step_m * column, grid.south_m + grid.step_m * row};
}

std::vector<sim::Phasor3> fields_over(const Ground& ground, const sim::MapGrid& grid) {
    std::vector<sim::Phasor3> fields;
    fields.reserve(static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows));
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            fields.push_back(ground.field_t(place_of(grid, column, row)));
        }
    }
    return fields;
}

// The axes where they would be shown, else zero.
std::vector<glm::dvec3> axes_of(const Ground& ground, const std::vector<sim::Phasor3>& fields) {
    std::vector<glm::dvec3> axes;
    axes.reserve(fields.size());
    for (const sim::Phasor3& b : fields) {
        axes.push_back(sim::magnitude(b) >= ground.least_t ? sim::major_axis(b) : glm::dvec3{0.0});
    }
    return axes;
}

// Places of the grid whose value is at least `least` and that of their neighbours.
std::vector<glm::dvec2> summits(const sim::MapGrid& grid, const std::vector<double>& values, double least) {
    std::vector<glm::dvec2> found;
    const auto at = [&](int column, int row) {
        return values[static_cast<std::size_t>(row) * static_cast<std::size_t>(grid.columns) +
                      static_cast<std::size_t>(column)];
    };
    for (int row = 1; row + 1 < grid.rows; ++row) {
        for (int column = 1; column + 1 < grid.columns; ++column) {
            const double here = at(column, row);
            bool highest = here >= least;
            for (int k = 0; k < 9 && highest; ++k) {
                highest = at(column - 1 + k % 3, row - 1 + k / 3) <= here;
            }
            if (highest) {
                found.push_back(place_of(grid, column, row));
            }
        }
    }
    return found;
}

bool is_new(const std::vector<TruePoint>& found, const glm::dvec2& place_m, double apart_m) {
    return std::ranges::none_of(found, [&](const TruePoint& p) { return glm::length(p.place_m - place_m) < apart_m; });
}

void strongest_first(std::vector<TruePoint>& points) {
    std::ranges::sort(points, [](const TruePoint& a, const TruePoint& b) {
        return a.dbpt != b.dbpt ? a.dbpt > b.dbpt : a.place_m.x < b.place_m.x;
    });
}

// Plan part of the axis with its upper end taken: zero where the field stands plumb.
glm::dvec2 off_plumb(const Ground& ground, const glm::dvec2& place_m) {
    const glm::dvec3 axis = ground.axis(place_m);
    return axis.z < 0.0 ? -plan(axis) : plan(axis);
}

// Newton's steps, never farther than the last good distance, halved when one leads astray.
std::optional<glm::dvec2> plumb_near(const Ground& ground, glm::dvec2 at) {
    constexpr double h = 0.005; // m, of the differences
    glm::dvec2 off = off_plumb(ground, at);
    double most_m = 0.3 * ground.depth_m;
    for (int k = 0; k < 40 && glm::length(off) > 1e-7; ++k) {
        const glm::dvec2 dx =
            (off_plumb(ground, at + glm::dvec2{h, 0.0}) - off_plumb(ground, at - glm::dvec2{h, 0.0})) / (2.0 * h);
        const glm::dvec2 dy =
            (off_plumb(ground, at + glm::dvec2{0.0, h}) - off_plumb(ground, at - glm::dvec2{0.0, h})) / (2.0 * h);
        const double det = dx.x * dy.y - dy.x * dx.y;
        if (det == 0.0) {
            break;
        }
        glm::dvec2 step = -glm::dvec2{(dy.y * off.x - dy.x * off.y) / det, (dx.x * off.y - dx.y * off.x) / det};
        const double whole = glm::length(step);
        step *= whole > most_m ? most_m / whole : 1.0;
        const glm::dvec2 then = off_plumb(ground, at + step);
        if (glm::length(then) < glm::length(off)) {
            at += step;
            off = then;
        } else {
            most_m = 0.5 * std::min(whole, most_m);
            if (most_m < 1e-6) {
                break;
            }
        }
    }
    const bool plumb = glm::length(off) < std::sin(sim::radians(plumb_within_deg));
    return plumb && ground.in_yard(at) ? std::optional(at) : std::nullopt;
}

// Uphill by eight ways with steps that halve: slow, sure, and not troubled by a step in the ground.
glm::dvec2 climb(const std::function<double(const glm::dvec2&)>& height, glm::dvec2 at, double step_m) {
    double here = height(at);
    for (int k = 0; k < 600 && step_m > 1e-5; ++k) {
        glm::dvec2 best = at;
        double most = here;
        for (int way = 0; way < 8; ++way) {
            const glm::dvec2 there = at + step_m * direction_of(45.0 * way);
            if (const double value = height(there); value > most) {
                most = value;
                best = there;
            }
        }
        step_m *= most > here ? 1.0 : 0.5;
        at = best;
        here = most;
    }
    return at;
}

std::vector<TruePoint> peaks_of(const Ground& ground, const sim::MapGrid& grid, const std::vector<double>& values_t,
                                const std::function<double(const glm::dvec2&)>& value_t) {
    std::vector<TruePoint> found;
    for (const glm::dvec2& seed : summits(grid, values_t, ground.least_t)) {
        const glm::dvec2 at = climb(value_t, seed, 0.5 * grid.step_m);
        if (ground.in_yard(at) && is_new(found, at, 0.2 * ground.depth_m)) {
            found.push_back({at, sim::dbpt(value_t(at))});
        }
    }
    strongest_first(found);
    std::erase_if(found, [&](const TruePoint& p) { return p.dbpt < found.front().dbpt + least_peak_db; });
    return found;
}

void find_plumb(const Ground& ground, const sim::MapGrid& grid, const std::vector<glm::dvec3>& axes,
                std::vector<TruePoint>& found) {
    std::vector<double> upright;
    upright.reserve(axes.size());
    for (const glm::dvec3& axis : axes) {
        upright.push_back(std::abs(axis.z));
    }
    for (const glm::dvec2& seed : summits(grid, upright, 0.6)) {
        if (const auto at = plumb_near(ground, seed); at && is_new(found, *at, 0.02 + 0.02 * ground.depth_m)) {
            const double b = sim::magnitude(ground.field_t(*at));
            if (b >= ground.least_t) {
                found.push_back({*at, sim::dbpt(b)});
            }
        }
    }
}

// The level line's place beside the middle of a straight piece of it, looked for square to the piece by the chord rule.
glm::dvec2 level_beside(const Ground& ground, const glm::dvec2& from, const glm::dvec2& to) {
    const glm::dvec2 middle = 0.5 * (from + to);
    const glm::dvec2 square{from.y - to.y, to.x - from.x}; // as long as the piece
    const glm::dvec3 like = ground.axis(middle);
    const auto height = [&](double share) { // of the end that is up or down at the middle, wherever it points here
        const glm::dvec3 axis = ground.axis(middle + share * square);
        return glm::dot(axis, like) < 0.0 ? -axis.z : axis.z;
    };
    double before = 0.0;
    double before_height = height(before);
    double share = 0.02;
    for (int k = 0; k < 6; ++k) {
        const double here = height(share);
        const double slope = (here - before_height) / (share - before);
        if (std::abs(here) < 1e-8 || slope == 0.0) {
            break;
        }
        before = share;
        before_height = here;
        share = std::clamp(share - here / slope, -0.5, 0.5);
    }
    return std::abs(height(share)) < 1e-4 ? middle + share * square : middle;
}

// Points put in where it bends, so that its bows are bows.
std::vector<glm::dvec2> bent(const Ground& ground, const std::vector<glm::dvec2>& line) {
    constexpr double straight = 0.999; // cosine, 2.6 deg
    const auto turns = [&](std::size_t i) {
        if (i == 0 || i + 1 >= line.size()) {
            return false;
        }
        const glm::dvec2 a = line[i] - line[i - 1];
        const glm::dvec2 b = line[i + 1] - line[i];
        return glm::dot(a, b) < straight * glm::length(a) * glm::length(b);
    };
    std::vector<glm::dvec2> finer;
    finer.reserve(2 * line.size());
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
        finer.push_back(line[i]);
        if (turns(i) || turns(i + 1)) {
            finer.push_back(level_beside(ground, line[i], line[i + 1]));
        }
    }
    finer.push_back(line.back());
    return finer;
}

} // namespace

sim::Phasor3 field_at_tip_t(const World& world, const sim::Scene& scene, const glm::dvec2& place_m) {
    const double z = height_m(world.yard.terrain, place_m) + world.receiver.tip_to_antenna_m;
    return scene.emissions.empty() ? sim::Phasor3{}
                                   : sim::emission_field_t(scene.emissions.front(), glm::dvec3{place_m, z});
}

double audible_dbpt(const World& world, const SondeTruth& sonde) {
    return sim::dbpt(sim::axis_times_noise * sim::noise_density_t(world.receiver, sonde.frequency_hz) *
                     std::sqrt(sim::noise_bandwidth_hz(world.receiver)));
}

TruePoints true_points(const World& world, const sim::Scene& scene, const SondeTruth& sonde) {
    const glm::dvec2 over = plan(sonde.position_m);
    const Ground ground{world, scene, std::max(0.2, depth_m(world, sonde.position_m)),
                        1e-12 * std::pow(10.0, audible_dbpt(world, sonde) / 20.0)};
    const double near_step_m = ground.depth_m / near_cells_a_depth;
    const int near_half = static_cast<int>(near_depths * near_cells_a_depth);
    const sim::MapGrid near{over.x - near_half * near_step_m, over.y - near_half * near_step_m, near_step_m,
                            2 * near_half + 1, 2 * near_half + 1};
    const double step_m = std::max(world.yard.width_m, world.yard.length_m) / yard_cells;
    const sim::MapGrid yard{0.0, 0.0, step_m, static_cast<int>(std::floor(world.yard.width_m / step_m + 1e-9)) + 1,
                            static_cast<int>(std::floor(world.yard.length_m / step_m + 1e-9)) + 1};
    TruePoints points;
    const std::vector<sim::Phasor3> near_fields = fields_over(ground, near);
    const std::vector<glm::dvec3> yard_axes = axes_of(ground, fields_over(ground, yard));
    find_plumb(ground, near, axes_of(ground, near_fields), points.plumb);
    find_plumb(ground, yard, yard_axes, points.plumb);
    strongest_first(points.plumb);
    for (const sim::Isoline& line :
         sim::level_lines(yard, yard_axes, [&ground](const glm::dvec2& p) { return ground.axis(p); })) {
        points.level_line.push_back(bent(ground, bent(ground, line.points_m)));
    }
    std::vector<double> strength_t;
    std::ranges::transform(near_fields, std::back_inserter(strength_t), &sim::magnitude);
    points.lesser_peaks =
        peaks_of(ground, near, strength_t, [&](const glm::dvec2& p) { return sim::magnitude(ground.field_t(p)); });
    if (!points.lesser_peaks.empty()) {
        points.peak = points.lesser_peaks.front();
        points.lesser_peaks.erase(points.lesser_peaks.begin());
    }
    if (std::abs(sonde.tilt_deg) < steepest_coil_deg) {
        const glm::dvec2 coil = direction_of(sonde.heading_deg);
        const auto heard_t = [&coil](const sim::Phasor3& b) {
            return std::hypot(glm::dot(coil, plan(b.re)), glm::dot(coil, plan(b.im)));
        };
        std::vector<double> coil_t;
        std::ranges::transform(near_fields, std::back_inserter(coil_t), heard_t);
        points.coil_peaks =
            peaks_of(ground, near, coil_t, [&](const glm::dvec2& p) { return heard_t(ground.field_t(p)); });
    }
    return points;
}

} // namespace sondeyard::field
