#include "field/geometry.hpp"

#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace sondeyard::field {

namespace {

double cross(const glm::dvec2& a, const glm::dvec2& b) { return a.x * b.y - a.y * b.x; }

bool segments_touch(const glm::dvec2& a, const glm::dvec2& b, const glm::dvec2& c, const glm::dvec2& d) {
    const double c_side = cross(b - a, c - a);
    const double d_side = cross(b - a, d - a);
    const double a_side = cross(d - c, a - c);
    const double b_side = cross(d - c, b - c);
    if (c_side == 0.0 && d_side == 0.0) { // in one line: they touch when their boxes do
        const auto overlap = [](double p, double q, double r, double s) {
            return std::max(std::min(p, q), std::min(r, s)) <= std::min(std::max(p, q), std::max(r, s));
        };
        return overlap(a.x, b.x, c.x, d.x) && overlap(a.y, b.y, c.y, d.y);
    }
    return c_side * d_side <= 0.0 && a_side * b_side <= 0.0;
}

double segment_distance_m(const glm::dvec2& a, const glm::dvec2& b, const glm::dvec2& c, const glm::dvec2& d) {
    if (segments_touch(a, b, c, d)) {
        return 0.0;
    }
    return std::min({distance_to_segment_m(a, c, d), distance_to_segment_m(b, c, d), distance_to_segment_m(c, a, b),
                     distance_to_segment_m(d, a, b)});
}

} // namespace

glm::dvec2 plan(const glm::dvec3& p) { return {p.x, p.y}; }

std::vector<glm::dvec2> plan(const std::vector<glm::dvec3>& line) {
    std::vector<glm::dvec2> flat;
    flat.reserve(line.size());
    for (const glm::dvec3& p : line) {
        flat.push_back(plan(p));
    }
    return flat;
}

glm::dvec2 direction_of(double heading_deg) {
    const double h = sim::radians(heading_deg);
    return {std::sin(h), std::cos(h)};
}

double heading_of(const glm::dvec2& direction) {
    return sim::wrap_360(sim::degrees(std::atan2(direction.x, direction.y)));
}

bool contains(const Polygon& polygon, const glm::dvec2& point) {
    bool inside = false;
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        const glm::dvec2& a = polygon[i];
        const glm::dvec2& b = polygon[j];
        if ((a.y > point.y) != (b.y > point.y) && point.x < (b.x - a.x) * (point.y - a.y) / (b.y - a.y) + a.x) {
            inside = !inside;
        }
    }
    return inside;
}

double distance_to_segment_m(const glm::dvec2& point, const glm::dvec2& a, const glm::dvec2& b) {
    const glm::dvec2 along = b - a;
    const double square = glm::dot(along, along);
    const double t = square > 0.0 ? std::clamp(glm::dot(point - a, along) / square, 0.0, 1.0) : 0.0;
    return glm::distance(point, a + t * along);
}

double distance_to_line_m(const glm::dvec2& point, std::span<const glm::dvec2> polyline) {
    double nearest = std::numeric_limits<double>::infinity();
    if (polyline.size() == 1) {
        return glm::distance(point, polyline.front());
    }
    for (std::size_t i = 1; i < polyline.size(); ++i) {
        nearest = std::min(nearest, distance_to_segment_m(point, polyline[i - 1], polyline[i]));
    }
    return nearest;
}

double distance_to_edge_m(const Polygon& polygon, const glm::dvec2& point) {
    double nearest = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        nearest = std::min(nearest, distance_to_segment_m(point, polygon[j], polygon[i]));
    }
    return nearest;
}

bool segment_crosses(const Polygon& polygon, const glm::dvec2& a, const glm::dvec2& b) {
    if (contains(polygon, a) || contains(polygon, b)) {
        return true;
    }
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        if (segments_touch(a, b, polygon[j], polygon[i])) {
            return true;
        }
    }
    return false;
}

Polygon rectangle(const glm::dvec2& centre, double heading_deg, double length_m, double width_m) {
    const glm::dvec2 along = direction_of(heading_deg) * (0.5 * length_m);
    const glm::dvec2 right = direction_of(heading_deg + 90.0) * (0.5 * width_m);
    return {centre - along - right, centre + along - right, centre + along + right, centre - along + right};
}

double area_m2(const Polygon& polygon) {
    double twice = 0.0;
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        twice += cross(polygon[j], polygon[i]);
    }
    return 0.5 * std::abs(twice);
}

double distance_to_polyline_m(const Polygon& polygon, std::span<const glm::dvec2> line) {
    double nearest = std::numeric_limits<double>::infinity();
    for (std::size_t k = 0; k < line.size(); ++k) {
        if (contains(polygon, line[k])) {
            return 0.0;
        }
        const glm::dvec2& from = line[k == 0 ? 0 : k - 1];
        for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
            nearest = std::min(nearest, segment_distance_m(from, line[k], polygon[j], polygon[i]));
        }
    }
    return nearest;
}

} // namespace sondeyard::field
