// A drain run: the pipe from the cleanout to the main, and where a sonde pushed into it comes to lie.
#pragma once

#include "sim/pipe_wall.hpp"

#include <glm/vec3.hpp>

#include <optional>
#include <string_view>
#include <vector>

namespace sondeyard::field {

enum class PipeMaterial { pvc, clay, cast_iron, steel, stainless };
std::string_view name_of(PipeMaterial material); // "pvc", "clay", "cast iron", "steel", "stainless steel"

// What a wall of it is to a field, when nothing better is known; plastic and clay do nothing. Assumptions of ordinary
// size: see sim/pipe_wall.hpp.
struct PipeMetal {
    double conductivity_s_per_m = 0.0; // 0: no metal
    double relative_permeability = 1.0;
};
PipeMetal usual_metal(PipeMaterial material);

struct Run {
    std::vector<glm::dvec3> centreline_m; // from the cleanout's foot downstream; at least two points; yard frame
    PipeMaterial material = PipeMaterial::pvc;
    double inside_diameter_m = 0.10;
    double wall_m = 0.003;
    PipeMetal metal = {};                         // as it really is
    std::optional<double> slack_m = std::nullopt; // of the cable in it; empty: drawn from the seed, see cable.hpp
};

// Where along the run a developed (three-dimensional) length from its first point comes to lie, and the run's direction
// there (unit vector, the way the cable is pushed). Clamped to the run's ends.
struct RunPoint {
    glm::dvec3 centre_m{0.0};
    glm::dvec3 direction{0.0};
};
RunPoint at_length(const Run& run, double along_m);
double length_m(const Run& run);

// The developed length of the run's point nearest to a place, and how far off it the place is.
struct RunProjection {
    double along_m = 0.0;
    double distance_m = 0.0;
};
RunProjection project(const Run& run, const glm::dvec3& place_m);

// The sonde's centre: on a pipe that is not upright it rides at height_above_invert_m over the invert, square to the
// run; in a vertical drop it stands in the middle.
// The height of that centre over the invert, for the way from the sonde's depth to the pipe's top: half the diameter in
// a vertical drop.
double centre_above_invert_m(const Run& run, double along_m, double height_above_invert_m);
glm::dvec3 sonde_centre_m(const Run& run, double along_m, double height_above_invert_m);

// Heading and tilt of the run at a length, of the end that points down; deg. A vertical drop has tilt 90 and heading 0.
struct RunAttitude {
    double heading_deg = 0.0;
    double tilt_deg = 0.0;
};
RunAttitude attitude_at(const Run& run, double along_m);

// What the run's wall lets out of a sonde's moment, along and across the pipe; empty where the wall is not of metal.
std::optional<sim::WallFactors> wall_factors_of(const Run& run, double frequency_hz);

} // namespace sondeyard::field
