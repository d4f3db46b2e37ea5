#include "field/walkway.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <queue>

namespace sondeyard::field {

namespace {

constexpr double cell_m = 0.25;
constexpr double arm_m = 0.85; // plans with a little less than the full reach
constexpr int far_cells = 6;
constexpr double look_ahead_m = 0.05; // step along a straight line when asking whether it is free

} // namespace

Walkway::Walkway(const Brief& brief)
    : brief_(&brief), columns_(std::max(1, static_cast<int>(std::ceil(brief.width_m / cell_m)))),
      rows_(std::max(1, static_cast<int>(std::ceil(brief.length_m / cell_m)))),
      known_(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_), Known::not_yet) {}

glm::dvec2 Walkway::centre_m(const Cell& cell) const { return {(cell.x + 0.5) * cell_m, (cell.y + 0.5) * cell_m}; }

Walkway::Cell Walkway::cell_at(const glm::dvec2& place_m) const {
    return {std::clamp(static_cast<int>(std::floor(place_m.x / cell_m)), 0, columns_ - 1),
            std::clamp(static_cast<int>(std::floor(place_m.y / cell_m)), 0, rows_ - 1)};
}

std::size_t Walkway::index(const Cell& cell) const {
    return static_cast<std::size_t>(cell.y) * static_cast<std::size_t>(columns_) + static_cast<std::size_t>(cell.x);
}

bool Walkway::can_stand(const glm::dvec2& place_m) const { return standable(*brief_, place_m); }

bool Walkway::is_clear(const Cell& cell) {
    if (cell.x < 0 || cell.y < 0 || cell.x >= columns_ || cell.y >= rows_) {
        return false;
    }
    Known& known = known_[index(cell)];
    if (known == Known::not_yet) {
        known = can_stand(centre_m(cell)) ? Known::clear : Known::blocked;
    }
    return known == Known::clear;
}

bool Walkway::straight(const glm::dvec2& a, const glm::dvec2& b) const {
    const int pieces = std::max(1, static_cast<int>(std::ceil(glm::distance(a, b) / look_ahead_m)));
    for (int i = 1; i <= pieces; ++i) {
        if (!can_stand(a + (b - a) * (static_cast<double>(i) / pieces))) {
            return false;
        }
    }
    return true;
}

bool Walkway::arm_reaches(const glm::dvec2& feet_m, const glm::dvec2& tip_m) const {
    if (glm::distance(feet_m, tip_m) > arm_m) {
        return false;
    }
    constexpr int pieces = 6;
    for (int i = 1; i <= pieces; ++i) {
        if (!tip_may_be(brief_->width_m, brief_->length_m, brief_->areas,
                        feet_m + (tip_m - feet_m) * (static_cast<double>(i) / pieces))) {
            return false;
        }
    }
    return true;
}

bool Walkway::can_hold(const glm::dvec2& tip_m) const {
    if (!tip_may_be(brief_->width_m, brief_->length_m, brief_->areas, tip_m)) {
        return false;
    }
    for (const double away_m : {0.4, 0.8}) {
        for (int i = 0; i < 8; ++i) {
            const glm::dvec2 feet = tip_m + away_m * direction_of(45.0 * i);
            if (can_stand(feet) && arm_reaches(feet, tip_m)) {
                return true;
            }
        }
    }
    return false;
}

std::vector<glm::dvec2> Walkway::pulled_tight(const glm::dvec2& from_m, const std::vector<glm::dvec2>& cells) const {
    std::vector<glm::dvec2> corners;
    glm::dvec2 at = from_m;
    for (std::size_t i = 0; i < cells.size();) {
        std::size_t far = i;
        while (far + 1 < cells.size() && straight(at, cells[far + 1])) {
            ++far;
        }
        corners.push_back(cells[far]);
        at = cells[far];
        i = far + 1;
    }
    return corners;
}

// A* on eight neighbours. The nearest cell to the goal that was reached stands in when none is near enough.
Walkway::Path Walkway::path(const glm::dvec2& from_m, const glm::dvec2& tip_m) {
    if (arm_reaches(from_m, tip_m)) {
        return {{}, true};
    }
    struct Open {
        double estimate;
        std::size_t order; // of insertion: equal estimates are taken in the order they came, on every machine
        Cell cell;
        bool operator<(const Open& o) const { return estimate != o.estimate ? estimate > o.estimate : order > o.order; }
    };
    static constexpr double infinity = std::numeric_limits<double>::infinity();
    static constexpr std::array<Cell, 8> neighbours = {
        {{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1}}};
    std::vector<double> cost(known_.size(), infinity);
    std::vector<std::size_t> came_from(known_.size(), known_.size());
    std::priority_queue<Open> open;
    std::size_t order = 0;
    const auto left_m = [&](const Cell& c) { return std::max(0.0, glm::distance(centre_m(c), tip_m) - arm_m); };
    const Cell start = cell_at(from_m);
    Cell nearest = start;
    bool arrives = false;
    cost[index(start)] = 0.0;
    open.push({left_m(start), order++, start});
    if (!is_clear(
            start)) { // a narrow place that the net of cells misses: any cell in a straight line will do to begin with
        for (int dx = -far_cells; dx <= far_cells; ++dx) {
            for (int dy = -far_cells; dy <= far_cells; ++dy) {
                const Cell cell{start.x + dx, start.y + dy};
                if (is_clear(cell) && straight(from_m, centre_m(cell))) {
                    cost[index(cell)] = glm::distance(from_m, centre_m(cell));
                    came_from[index(cell)] = index(start);
                    open.push({cost[index(cell)] + left_m(cell), order++, cell});
                }
            }
        }
    }
    while (!open.empty()) {
        const Open top = open.top();
        open.pop();
        if (top.estimate > cost[index(top.cell)] + left_m(top.cell) + 1e-9) {
            continue; // an older, longer way to it
        }
        if (left_m(top.cell) < left_m(nearest)) {
            nearest = top.cell;
        }
        if (arm_reaches(centre_m(top.cell), tip_m)) {
            nearest = top.cell;
            arrives = true;
            break;
        }
        for (const Cell& n : neighbours) {
            const Cell next{top.cell.x + n.x, top.cell.y + n.y};
            if (!is_clear(next) ||
                (n.x != 0 && n.y != 0 &&
                 (!is_clear({top.cell.x + n.x, top.cell.y}) || !is_clear({top.cell.x, top.cell.y + n.y})))) {
                continue;
            }
            const double there = cost[index(top.cell)] + cell_m * (n.x != 0 && n.y != 0 ? std::sqrt(2.0) : 1.0);
            if (there < cost[index(next)] - 1e-9) {
                cost[index(next)] = there;
                came_from[index(next)] = index(top.cell);
                open.push({there + left_m(next), order++, next});
            }
        }
    }
    std::vector<glm::dvec2> cells;
    const auto columns = static_cast<std::size_t>(columns_);
    for (std::size_t i = index(nearest); i != index(start); i = came_from[i]) {
        cells.push_back(centre_m({static_cast<int>(i % columns), static_cast<int>(i / columns)}));
    }
    std::ranges::reverse(cells);
    return {pulled_tight(from_m, cells), arrives};
}

} // namespace sondeyard::field
