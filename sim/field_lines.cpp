#include "sim/field_lines.hpp"

#include "sim/mutation.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

namespace sondeyard::sim {

namespace {

// Dormand-Prince: stages, fifth-order weights (the last stage is the next step's first), and fifth less fourth order.
constexpr std::array<std::array<double, 6>, 6> stage = {{
    {1.0 / 5.0},
    {3.0 / 40.0, 9.0 / 40.0},
    {44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0},
    {19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0},
    {9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0},
    {35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0},
}};
constexpr std::array<double, 7> difference = {71.0 / 57600.0,      0.0,          -71.0 / 16695.0, 71.0 / 1920.0,
                                              -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0};

struct Step {
    glm::dvec2 to{0.0};
    glm::dvec2 way{0.0}; // there
    double error_m = 0.0;
};

std::optional<glm::dvec2> unit_along(const glm::dvec2& axis, const glm::dvec2& way) {
    const double size = glm::length(axis);
    if (!(size > 0.0)) {
        return std::nullopt;
    }
    const bool turned = glm::dot(axis, way) < 0.0 && !mutated(Mutation::field_line_axis_not_turned);
    return axis * ((turned ? -1.0 : 1.0) / size);
}

std::optional<Step> step_of(const PlaneAxis& axis_at, const glm::dvec2& at, const glm::dvec2& way, double step_m) {
    std::array<glm::dvec2, 7> k;
    k[0] = way;
    glm::dvec2 there = at;
    for (std::size_t i = 1; i < k.size(); ++i) {
        glm::dvec2 mean{0.0};
        for (std::size_t j = 0; j < i; ++j) {
            mean += stage[i - 1][j] * k[j];
        }
        there = at + step_m * mean;
        const auto unit = unit_along(axis_at(there), k[i - 1]);
        if (!unit) {
            return std::nullopt;
        }
        k[i] = *unit;
    }
    glm::dvec2 error{0.0};
    for (std::size_t i = 0; i < k.size(); ++i) {
        error += difference[i] * k[i];
    }
    if (mutated(Mutation::field_line_first_order)) {
        there = at + step_m * way;
    }
    return Step{there, k[6], step_m * glm::length(error)};
}

// The way from one point of a line to the next, in pieces that turn by little, so that it is drawn as the bow it is: a
// cubic through both with the directions there (Hermite's).
void add_bow(std::vector<glm::dvec2>& points, const glm::dvec2& from_way, const glm::dvec2& to,
             const glm::dvec2& to_way, double step_m) {
    constexpr double most_turn = 0.07; // 4 deg
    const glm::dvec2 from = points.back();
    const double turn = std::acos(std::clamp(glm::dot(from_way, to_way), -1.0, 1.0));
    const int pieces = std::max(1, static_cast<int>(std::ceil(turn / most_turn)));
    for (int k = 1; k < pieces; ++k) {
        const double t = static_cast<double>(k) / pieces;
        const double u = 1.0 - t;
        points.push_back(u * u * (1.0 + 2.0 * t) * from + t * t * (1.0 + 2.0 * u) * to +
                         step_m * t * u * (u * from_way - t * to_way));
    }
    points.push_back(to);
}

// Where lines cross the plane square to the axis: evenly at first, then each twice as far as the one before.
std::vector<double> crossings_m(double spacing_m, double even_to_m) {
    constexpr int wider = 4;
    std::vector<double> all;
    const int even = std::max(1, static_cast<int>(even_to_m / spacing_m + 1e-9));
    for (int k = 1; k <= even; ++k) {
        all.push_back(k * (mutated(Mutation::field_line_spacing_halved) ? 0.5 * spacing_m : spacing_m));
    }
    for (int k = 0; k < wider; ++k) {
        all.push_back(2.0 * all.back());
    }
    return all;
}

} // namespace

std::vector<glm::dvec2> trace_field_line(const PlaneAxis& axis_at, const glm::dvec2& start, const glm::dvec2& toward,
                                         const TraceLimits& limits, const glm::dvec2& home, double home_m) {
    std::vector<glm::dvec2> points = {start};
    std::optional<glm::dvec2> way = unit_along(axis_at(start), toward);
    double step_m = 0.25 * limits.most_step_m;
    bool away = home_m <= 0.0;
    for (int k = 0; way && k < limits.most_steps; ++k) {
        const std::optional<Step> next = step_of(axis_at, points.back(), *way, step_m);
        if (!next) {
            break;
        }
        const double wanted = next->error_m > 0.0 ? 0.9 * std::pow(limits.tolerance_m / next->error_m, 0.2) : 3.0;
        if (next->error_m <= limits.tolerance_m || mutated(Mutation::field_line_any_error)) {
            add_bow(points, *way, next->to, next->way, step_m);
            way = next->way;
            const double off = glm::length(next->to - home);
            away = away || off > 1.05 * home_m;
            if (!limits.box.holds(next->to) || (home_m > 0.0 && away && off < home_m)) {
                break;
            }
        }
        step_m = std::min(limits.most_step_m, step_m * std::clamp(wanted, 0.2, 3.0));
    }
    return points;
}

std::vector<FieldLine> section_field_lines(const Scene& scene, const SectionPlane& plane, const PlaneBox& box,
                                           double spacing_m, double even_to_m) {
    std::vector<FieldLine> lines;
    if (scene.emissions.empty() || scene.emissions.front().dipoles.empty()) {
        return lines;
    }
    const Emission& emission = scene.emissions.front();
    const Dipole& sonde = emission.dipoles.front().dipole;
    const glm::dvec3 to_sonde = sonde.position_m - plane.origin_m;
    const glm::dvec2 centre{to_sonde.x * plane.along.x + to_sonde.y * plane.along.y, sonde.position_m.z};
    const glm::dvec3 moment = major_axis(sonde.moment_am2);
    const auto pole = unit_along(plane.of(moment), plane.of(moment));
    if (!pole || glm::length(plane.of(moment)) < 0.2) {
        return lines;
    }
    const glm::dvec2 side{-pole->y, pole->x};
    const PlaneAxis axis_at = [&](const glm::dvec2& p) {
        return plane.of(major_axis(emission_field_t(emission, plane.place(p))));
    };
    const double home_m = 1.02 * closest_range_m;
    const double size_m = glm::length(box.high_m - box.low_m);
    const TraceLimits limits{box, std::max(0.02, size_m / 60.0), 1e-5, 2000};
    const auto add = [&](double latitude_cos, double end, double beside) {
        const double sine = std::sqrt(std::max(0.0, 1.0 - latitude_cos * latitude_cos));
        const glm::dvec2 out = *pole * (end * sine) + side * (beside * latitude_cos);
        FieldLine line;
        line.points_m = trace_field_line(axis_at, centre + home_m * out, out, limits, centre, home_m);
        for (const glm::dvec2& p : line.points_m) {
            const double in_plane = glm::length(axis_at(p));
            line.most_out_deg = std::max(line.most_out_deg, degrees(std::acos(std::clamp(in_plane, 0.0, 1.0))));
        }
        line.comes_back = glm::length(line.points_m.back() - centre) < 1.01 * home_m && box.holds(line.points_m.back());
        lines.push_back(std::move(line));
        return lines.back().comes_back;
    };
    for (const double beside : {1.0, -1.0}) {
        for (const double crossing_m : crossings_m(spacing_m, even_to_m)) {
            if (crossing_m <= 1.2 * home_m) {
                continue;
            }
            const double cosine = std::sqrt(home_m / crossing_m);
            if (!add(cosine, 1.0, beside)) { // gone: the part at the other end begins there
                add(cosine, -1.0, beside);
            }
        }
    }
    add(0.0, 1.0, 1.0);
    add(0.0, -1.0, 1.0);
    return lines;
}

} // namespace sondeyard::sim
