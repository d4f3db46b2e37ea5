// Field lines in an upright plane: the true field of a scene projected on the plane and followed with adaptive steps
// (Dormand and Prince's pair of order 5 and 4, 1980; coefficients from memory, checked against lines in closed form),
// with cubic bows between the steps.
//
// A line of a dipole alone, in a plane through its axis, is r = L cos^2(latitude), L being where it crosses the plane
// square to the axis (any textbook of geomagnetism). Where lines or a bend take the field out of the plane, what is
// drawn is its shadow on the plane: each line says by how much. Under the ground's surface the ground's own part of the
// field is taken as at the surface: it is small there beside the sonde's.
#pragma once

#include "sim/scene.hpp"

#include <glm/vec2.hpp>

#include <functional>
#include <vector>

namespace sondeyard::sim {

// Places in it are (along, height): metres from origin_m the way `along` points, and z of the frame.
struct SectionPlane {
    glm::dvec3 origin_m{0.0};
    glm::dvec2 along{0.0, 1.0}; // unit vector in plan

    glm::dvec3 place(const glm::dvec2& in_plane_m) const {
        return {origin_m.x + along.x * in_plane_m.x, origin_m.y + along.y * in_plane_m.x, in_plane_m.y};
    }
    glm::dvec2 of(const glm::dvec3& v) const { return {v.x * along.x + v.y * along.y, v.z}; } // of a direction
};

struct PlaneBox {
    glm::dvec2 low_m{0.0};
    glm::dvec2 high_m{0.0};
    bool holds(const glm::dvec2& p) const {
        return p.x >= low_m.x && p.y >= low_m.y && p.x <= high_m.x && p.y <= high_m.y;
    }
};

struct FieldLine {
    std::vector<glm::dvec2> points_m; // in the plane, from the sonde outward
    double most_out_deg = 0.0;        // how far the field leaves the plane at most along it
    bool comes_back = false;          // it ends at the sonde again, not at the box
};

// The field's undirected axis at a place of the plane; its length is free, zero ends a line.
using PlaneAxis = std::function<glm::dvec2(const glm::dvec2&)>;

struct TraceLimits {
    PlaneBox box;
    double most_step_m = 0.1;
    double tolerance_m = 1e-5; // of one step
    int most_steps = 2000;
};

// From `start` the way that is nearer to `toward`, until it leaves the box (the last point lies just outside), comes
// within `home_m` of `home` (after having been farther off), meets no field, or has taken all its steps.
std::vector<glm::dvec2> trace_field_line(const PlaneAxis& axis_at, const glm::dvec2& start, const glm::dvec2& toward,
                                         const TraceLimits& limits, const glm::dvec2& home = {}, double home_m = 0.0);

// Lines of the scene's first emission round its first dipole, which lies in the plane: evenly spaced where they cross
// the plane square to its axis, spacing_m apart out to even_to_m and then four more, each twice as far, on both sides,
// and the one along the axis both ways. They begin at closest_range_m from it: nearer a point dipole says nothing true.
// Empty when nothing sends, or the moment stands square to the plane.
std::vector<FieldLine> section_field_lines(const Scene& scene, const SectionPlane& plane, const PlaneBox& box,
                                           double spacing_m, double even_to_m);

} // namespace sondeyard::sim
