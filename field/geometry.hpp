// Plane geometry of the yard. Points are (east, north) in metres.
#pragma once

#include <glm/vec2.hpp>
#include <glm/vec3.hpp>

#include <span>
#include <vector>

namespace sondeyard::field {

using Polygon = std::vector<glm::dvec2>; // simple, either sense, not repeated at the end

// Unit vector of a heading clockwise from north, and back to [0, 360).
glm::dvec2 direction_of(double heading_deg);
double heading_of(const glm::dvec2& direction);

bool contains(const Polygon& polygon, const glm::dvec2& point);
double distance_to_segment_m(const glm::dvec2& point, const glm::dvec2& a, const glm::dvec2& b);
double distance_to_line_m(const glm::dvec2& point, std::span<const glm::dvec2> polyline); // infinity when empty
double distance_to_edge_m(const Polygon& polygon, const glm::dvec2& point);             // to the outline, inside or out
bool segment_crosses(const Polygon& polygon, const glm::dvec2& a, const glm::dvec2& b); // touches or enters

// A rectangle by centre, heading of its long side, length along it and width across.
Polygon rectangle(const glm::dvec2& centre, double heading_deg, double length_m, double width_m);
double area_m2(const Polygon& polygon);

// Distance between two polygons, 0 when they overlap. For a polyline pass its points as `line`.
double distance_to_polyline_m(const Polygon& polygon, std::span<const glm::dvec2> line);

glm::dvec2 plan(const glm::dvec3& p);
std::vector<glm::dvec2> plan(const std::vector<glm::dvec3>& line);

} // namespace sondeyard::field
