#include "field/pipe.hpp"

#include "sim/dipole.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace sondeyard::field {

std::string_view name_of(PipeMaterial material) {
    static constexpr std::array<std::string_view, 5> names = {"pvc", "clay", "cast iron", "steel", "stainless steel"};
    return names[static_cast<std::size_t>(material)];
}

PipeMetal usual_metal(PipeMaterial material) {
    const auto of = [](const sim::WallMetal& metal) {
        return PipeMetal{metal.conductivity_s_per_m, metal.relative_permeability};
    };
    switch (material) {
    case PipeMaterial::cast_iron:
        return of(sim::grey_iron);
    case PipeMaterial::steel:
        return of(sim::mild_steel);
    case PipeMaterial::stainless:
        return of(sim::stainless_steel);
    case PipeMaterial::pvc:
    case PipeMaterial::clay:
        break;
    }
    return {};
}

std::optional<sim::WallFactors> wall_factors_of(const Run& run, double frequency_hz) {
    if (run.metal.conductivity_s_per_m <= 0.0) {
        return std::nullopt;
    }
    const sim::PipeWall wall{run.inside_diameter_m + 2.0 * run.wall_m, run.wall_m, run.metal.conductivity_s_per_m,
                             run.metal.relative_permeability};
    return sim::wall_factors(wall, frequency_hz);
}

double length_m(const Run& run) {
    double sum = 0.0;
    for (std::size_t i = 1; i < run.centreline_m.size(); ++i) {
        sum += glm::distance(run.centreline_m[i - 1], run.centreline_m[i]);
    }
    return sum;
}

RunPoint at_length(const Run& run, double along_m) {
    const auto& points = run.centreline_m;
    double left = std::max(along_m, 0.0);
    for (std::size_t i = 1; i < points.size(); ++i) {
        const glm::dvec3 step = points[i] - points[i - 1];
        const double length = glm::length(step);
        if (left <= length || i + 1 == points.size()) {
            return {points[i - 1] + step * (std::min(left, length) / length), step / length};
        }
        left -= length;
    }
    return {};
}

RunProjection project(const Run& run, const glm::dvec3& place_m) {
    RunProjection best{0.0, std::numeric_limits<double>::infinity()};
    double before = 0.0;
    for (std::size_t i = 1; i < run.centreline_m.size(); ++i) {
        const glm::dvec3 a = run.centreline_m[i - 1];
        const glm::dvec3 step = run.centreline_m[i] - a;
        const double length = glm::length(step);
        const double t = std::clamp(glm::dot(place_m - a, step) / (length * length), 0.0, 1.0);
        const double distance = glm::distance(place_m, a + t * step);
        if (distance < best.distance_m) {
            best = {before + t * length, distance};
        }
        before += length;
    }
    return best;
}

namespace {

bool upright(const RunPoint& at) { return std::hypot(at.direction.x, at.direction.y) < 1e-6; }

} // namespace

double centre_above_invert_m(const Run& run, double along_m, double height_above_invert_m) {
    return upright(at_length(run, along_m)) ? 0.5 * run.inside_diameter_m : height_above_invert_m;
}

glm::dvec3 sonde_centre_m(const Run& run, double along_m, double height_above_invert_m) {
    const RunPoint at = at_length(run, along_m);
    if (upright(at)) {
        return at.centre_m;
    }
    // Square to the run, downward: -z less its part along the run.
    const glm::dvec3 down{0.0, 0.0, -1.0};
    const glm::dvec3 to_invert = glm::normalize(down - glm::dot(down, at.direction) * at.direction);
    return at.centre_m + to_invert * (0.5 * run.inside_diameter_m - height_above_invert_m);
}

RunAttitude attitude_at(const Run& run, double along_m) {
    glm::dvec3 direction = at_length(run, along_m).direction;
    if (direction.z > 0.0) {
        direction = -direction;
    }
    const sim::HeadingTilt attitude = sim::heading_tilt_of(direction);
    return {attitude.heading_deg, attitude.tilt_deg};
}

} // namespace sondeyard::field
