#include "scenarios/yard_plan.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

std::string_view name_of(LotKind kind) {
    static constexpr std::array<std::string_view, lot_kind_count> names = {
        "suburban", "corner", "deep", "courtyard", "detached garage", "narrow", "set back", "garden", "twin"};
    return names[static_cast<std::size_t>(kind)];
}

SizeRange size_range(LotKind kind) {
    switch (kind) {
    case LotKind::suburban:
        return {20.0, 44.0, 24.0, 60.0, {22.0, 30.0}, {28.0, 38.0}};
    case LotKind::corner:
        return {28.0, 60.0, 26.0, 60.0, {30.0, 38.0}, {28.0, 38.0}};
    case LotKind::deep:
        return {20.0, 36.0, 38.0, 60.0, {20.0, 26.0}, {42.0, 58.0}};
    case LotKind::courtyard:
        return {27.0, 60.0, 30.0, 60.0, {28.0, 38.0}, {32.0, 42.0}};
    case LotKind::detached_garage:
        return {23.0, 44.0, 30.0, 60.0, {24.0, 32.0}, {34.0, 46.0}};
    case LotKind::narrow:
        return {20.0, 23.0, 30.0, 60.0, {20.0, 22.0}, {34.0, 48.0}};
    case LotKind::set_back:
        return {20.0, 60.0, 20.0, 60.0, {28.0, 42.0}, {32.0, 46.0}};
    case LotKind::garden:
        return {30.0, 60.0, 28.0, 60.0, {34.0, 50.0}, {32.0, 44.0}};
    case LotKind::twin:
        return {28.0, 60.0, 28.0, 60.0, {30.0, 38.0}, {30.0, 42.0}};
    }
    return {};
}

double to_cm(double value_m) { return std::floor(value_m * 100.0 + 0.5) / 100.0; }

field::Polygon outline(const Box& box) {
    return {{box.u0, box.v0}, {box.u1, box.v0}, {box.u1, box.v1}, {box.u0, box.v1}};
}

Box bounds(const field::Polygon& polygon) {
    Box box{polygon.front().x, polygon.front().y, polygon.front().x, polygon.front().y};
    for (const glm::dvec2& p : polygon) {
        box.u0 = std::min(box.u0, p.x);
        box.v0 = std::min(box.v0, p.y);
        box.u1 = std::max(box.u1, p.x);
        box.v1 = std::max(box.v1, p.y);
    }
    return box;
}

bool apart(const field::Polygon& a, const field::Polygon& b, double distance_m) {
    const Box p = bounds(a);
    const Box q = bounds(b);
    if (p.u0 > q.u1 + distance_m || q.u0 > p.u1 + distance_m || p.v0 > q.v1 + distance_m || q.v0 > p.v1 + distance_m) {
        return true;
    }
    if (field::contains(b, a.front())) {
        return false;
    }
    field::Polygon ring = b;
    ring.push_back(b.front());
    return field::distance_to_polyline_m(a, ring) >= distance_m;
}

const field::Area* named(const Lot& lot, std::string_view name) {
    const auto found = std::ranges::find(lot.areas, name, &field::Area::name);
    return found == lot.areas.end() ? nullptr : &*found;
}

std::vector<Wall> walls(const field::Polygon& house) {
    std::vector<Wall> all;
    for (std::size_t i = 0; i < house.size(); ++i) {
        Wall wall{house[i], house[(i + 1) % house.size()]};
        const glm::dvec2 along = wall.to - wall.from;
        wall.length_m = std::abs(along.x) + std::abs(along.y); // square corners
        wall.outward = {along.y / wall.length_m, -along.x / wall.length_m};
        all.push_back(wall);
    }
    return all;
}

glm::dvec2 Placement::to_yard(const glm::dvec2& p) const {
    const double u = mirrored ? lot_width_m - p.x : p.x;
    switch (side) {
    case 0:
        return {u, p.y};
    case 1:
        return {lot_depth_m - p.y, u};
    case 2:
        return {lot_width_m - u, lot_depth_m - p.y};
    default:
        return {p.y, lot_width_m - u};
    }
}

glm::dvec2 Placement::to_lot(const glm::dvec2& p) const {
    glm::dvec2 lot{0.0};
    switch (side) {
    case 0:
        lot = p;
        break;
    case 1:
        lot = {p.y, lot_depth_m - p.x};
        break;
    case 2:
        lot = {lot_width_m - p.x, lot_depth_m - p.y};
        break;
    default:
        lot = {lot_width_m - p.y, p.x};
        break;
    }
    return {mirrored ? lot_width_m - lot.x : lot.x, lot.y};
}

glm::dvec2 Placement::turned_to_lot(const glm::dvec2& direction) const {
    glm::dvec2 d{0.0};
    switch (side) {
    case 0:
        d = direction;
        break;
    case 1:
        d = {direction.y, -direction.x};
        break;
    case 2:
        d = -direction;
        break;
    default:
        d = {-direction.y, direction.x};
        break;
    }
    return {mirrored ? -d.x : d.x, d.y};
}

} // namespace sondeyard::scenarios
