// The shape of the ground: its height over the yard's datum as a function of the place in plan.
//
// A plane slope, straight steps (a kerb, a retaining wall, a bank: the same thing with a narrow or a wide ramp) and
// raised pads (a slab with upright sides) add up. Heights are relative: only the difference to the height at `zero_m`
// counts, which is 0 there. Left out: anything curved, a step that ends within the yard, ground under a building (it is
// as outside).
//
// Plain arithmetic on directions that are rounded to 1e-9 first, so that a height does not hang on the last digit of a
// sine. Depth is always straight down (by gravity) from the surface over a place, never square to a slope.
#pragma once

#include "field/geometry.hpp"

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace sondeyard::field {

struct GroundStep {
    glm::dvec2 place_m{0.0}; // of the middle of its ramp; the line runs on across the whole yard
    double toward_deg = 0.0; // the way the ground goes up, square to the line; clockwise from north
    double rise_m = 0.0;     // down for less than 0
    double ramp_m = 0.0;     // from foot to top in plan; 0 is an upright wall
};

struct Pad {
    Polygon outline_m;
    double rise_m = 0.0;
};

struct Terrain {
    double slope_percent = 0.0;    // of the plane: fall in m over 100 m in plan
    double slope_toward_deg = 0.0; // the way it falls; clockwise from north
    glm::dvec2 zero_m{0.0};        // where the height is 0
    std::vector<GroundStep> steps;
    std::vector<Pad> pads;
};

bool is_flat(const Terrain& terrain); // z = 0 everywhere, to the last digit
double height_m(const Terrain& terrain, const glm::dvec2& place_m);
double height_without_pads_m(const Terrain& terrain, const glm::dvec2& place_m); // the ground that a pad was laid on

// The same ground with its heights counted from another place. A Brief's are: the truth counts from over the sonde.
Terrain counted_from(Terrain terrain, const glm::dvec2& place_m);

// Too high and too steep to be climbed: over half a metre at more than 45 deg.
inline constexpr double highest_stride_m = 0.5;
bool is_wall(const GroundStep& step);
// Does a disc of this radius touch such a wall?
bool at_wall(const Terrain& terrain, const glm::dvec2& place_m, double radius_m);

// From a step's foot (rise_m < 0: its top) to its top, signed from its middle line, positive the way it goes up.
double across_m(const GroundStep& step, const glm::dvec2& place_m);
// The part of the line, shifted by this much the way it goes up, that lies in the yard; empty when none does.
std::optional<std::pair<glm::dvec2, glm::dvec2>> line_in_yard(const GroundStep& step, double shift_m, double width_m,
                                                              double length_m);

// Lines of equal height of the ground without its pads, in straight pieces over cells of cell_m: exact on a plane,
// within a cell where a ramp begins or ends.
struct ContourPiece {
    double height_m = 0.0; // a whole multiple of the interval
    glm::dvec2 from_m{0.0};
    glm::dvec2 to_m{0.0};
};
std::vector<ContourPiece> contours(const Terrain& terrain, const glm::dvec2& low_m, const glm::dvec2& high_m,
                                   double cell_m, double interval_m);
double relief_m(const Terrain& terrain, double width_m, double length_m); // highest less lowest, without pads
double contour_interval_m(double relief_m);                               // 0.25 m up to 2 m of relief, then 0.5 m

// Why a terrain cannot be used: one sentence a fault, empty when sound.
std::vector<std::string> faults(const Terrain& terrain, double width_m, double length_m);

} // namespace sondeyard::field
