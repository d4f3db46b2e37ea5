#include "scenarios/yard_furniture.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

using field::AreaKind;

constexpr double passage_m = 0.9; // between two things one cannot walk on: enough for a barrow

bool inside(const Lot& lot, const field::Polygon& polygon, double margin_m) {
    const Box b = bounds(polygon);
    return b.u0 >= margin_m && b.v0 >= lot.street_m + margin_m && b.u1 <= lot.width_m - lot.side_street_m - margin_m &&
           b.v1 <= lot.depth_m - margin_m;
}

// Sets an area where it keeps this far from paving and that far from what one cannot walk on.
bool set_down(Lot& lot, AreaKind kind, field::Polygon polygon, std::string_view name, double from_paving_m,
              double from_closed_m) {
    if (!inside(lot, polygon, 0.1)) {
        return false;
    }
    for (const field::Area& area : lot.areas) {
        if (!apart(polygon, area.outline_m, field::walkable(area.kind) ? from_paving_m : from_closed_m)) {
            return false;
        }
    }
    lot.areas.push_back({kind, std::move(polygon), std::string(name)});
    return true;
}

// A closed curve of twelve corners, longer one way than the other. The table is cos and sin of 30 deg steps.
field::Polygon oval(const glm::dvec2& centre, double half_u, double half_v) {
    static constexpr std::array<double, 12> c = {1.0,  0.866025,  0.5,  0.0, -0.5, -0.866025,
                                                 -1.0, -0.866025, -0.5, 0.0, 0.5,  0.866025};
    field::Polygon polygon;
    for (std::size_t i = 0; i < 12; ++i) {
        polygon.emplace_back(to_cm(centre.x + half_u * c[i]), to_cm(centre.y + half_v * c[(i + 9) % 12]));
    }
    return polygon;
}

struct Span {
    double from = 0.0;
    double to = 0.0;
};

// One straight fence, cut where paving, a house or the gate is in its way. `across`: it runs along u at v = fixed.
void fence_line(Lot& lot, bool across, double fixed, Span span, Span gate) {
    constexpr double thick_m = 0.10;
    constexpr double step_m = 0.10;
    const auto free = [&](double at) {
        if (at + step_m > gate.from && at < gate.to) {
            return false;
        }
        const Box piece =
            across ? Box{at, fixed, at + step_m, fixed + thick_m} : Box{fixed, at, fixed + thick_m, at + step_m};
        return std::ranges::all_of(lot.areas, [&](const field::Area& area) {
            return area.kind == AreaKind::fence || apart(outline(piece), area.outline_m, 0.02);
        });
    };
    std::vector<Span> pieces;
    const int steps = static_cast<int>(std::floor((span.to - span.from) / step_m + 1e-6));
    bool open = false;
    for (int i = 0; i < steps; ++i) {
        const double at = span.from + i * step_m;
        if (free(at)) {
            if (!open) {
                pieces.push_back({at, at});
            }
            pieces.back().to = at + step_m;
            open = true;
        } else {
            open = false;
        }
    }
    for (const Span& piece : pieces) {
        if (piece.to - piece.from > 0.25) {
            const double a = to_cm(piece.from);
            const double b = to_cm(piece.to);
            const Box box = across ? Box{a, fixed, b, fixed + thick_m} : Box{fixed, a, fixed + thick_m, b};
            lot.areas.push_back({AreaKind::fence, outline(box), "fence"});
        }
    }
}

Span gate_in(sim::Draws& draws, const Span& span) {
    const double width = to_cm(draws.uniform(1.1, 1.5));
    const double room = span.to - span.from - width - 0.3;
    if (room <= 0.0) {
        return span; // too short for a gate and a fence: left open
    }
    const double from = to_cm(span.from + 0.15 + draws.uniform(0.0, 1.0) * room);
    return {from, from + width};
}

} // namespace

void back_fence(Lot& lot, sim::Draws& draws, const Box& house, double right_u) {
    const double line_v = to_cm(draws.uniform(house.v0 + 1.0, house.v1 - 1.0));
    const double back_v = lot.depth_m - 0.35;
    const double left = 0.25;
    const double right = right_u - 0.35;
    const Span none{-1.0, -1.0};
    fence_line(lot, false, left, {line_v, back_v}, none);
    fence_line(lot, false, right, {line_v, back_v}, none);
    fence_line(lot, true, back_v, {left, right + 0.1}, none);
    const Span left_return{left + 0.1, house.u0 - 0.02};
    const Span right_return{house.u1 + 0.02, right};
    fence_line(lot, true, line_v, left_return, gate_in(draws, left_return));
    fence_line(lot, true, line_v, right_return, gate_in(draws, right_return));
}

void foundation_beds(Lot& lot, sim::Draws& draws, double chance_per_wall) {
    for (const Wall& wall : walls(lot.house)) {
        const double share = draws.uniform(0.3, 0.75);
        const double place = draws.uniform(0.0, 1.0);
        const double deep = draws.uniform(0.6, 1.1);
        if (!draws.chance(chance_per_wall) || wall.length_m < 2.5) {
            continue;
        }
        const double length = share * wall.length_m;
        const double from = 0.2 + place * (wall.length_m - length - 0.4);
        const glm::dvec2 along = (wall.to - wall.from) / wall.length_m;
        const glm::dvec2 a = wall.from + from * along + 0.03 * wall.outward;
        const glm::dvec2 b = a + std::max(length, 1.0) * along + deep * wall.outward;
        const Box box{to_cm(std::min(a.x, b.x)), to_cm(std::min(a.y, b.y)), to_cm(std::max(a.x, b.x)),
                      to_cm(std::max(a.y, b.y))};
        set_down(lot, AreaKind::planting, outline(box), "bed", 0.05, 0.02);
    }
}

void hedge(Lot& lot, sim::Draws& draws, double chance) {
    if (!draws.chance(chance)) {
        return;
    }
    const double v0 = lot.street_m + 0.5;
    const double v1 = to_cm(v0 + draws.uniform(0.6, 1.0));
    // Cut by the drive and the walk: pieces between them, each with room at its ends.
    double from = 0.3;
    std::vector<Box> across;
    for (const field::Area& area : lot.areas) {
        const Box b = bounds(area.outline_m);
        if (area.kind != AreaKind::street && b.v0 < v1 && b.v1 > v0) {
            across.push_back(b);
        }
    }
    std::ranges::sort(across, {}, &Box::u0);
    across.push_back({lot.width_m - lot.side_street_m - 0.3 + 0.35, 0.0, lot.width_m, 0.0});
    for (const Box& b : across) {
        const double to = to_cm(b.u0 - 0.35);
        if (to - from > 1.5) {
            set_down(lot, AreaKind::planting, outline({from, v0, to, v1}), "hedge", 0.2, 0.3);
        }
        from = std::max(from, to_cm(b.u1 + 0.35));
    }
}

void back_beds(Lot& lot, sim::Draws& draws, int count) {
    const double rear = bounds(lot.house).v1;
    for (int i = 0; i < count; ++i) {
        const double deep = to_cm(draws.uniform(0.7, 1.5));
        const int where = draws.integer(0, 2);
        const double a = draws.uniform(0.0, 1.0);
        const double b = draws.uniform(0.0, 1.0);
        Box box;
        if (where == 2) {
            const double u0 = 0.6 + std::min(a, b) * (lot.width_m - 1.2);
            box = {to_cm(u0), lot.depth_m - 0.5 - deep, to_cm(0.6 + std::max(a, b) * (lot.width_m - 1.2)),
                   lot.depth_m - 0.5};
        } else {
            const double v0 = rear + 1.0;
            const double room = std::max(0.0, lot.depth_m - 0.8 - v0);
            const double right = lot.width_m - lot.side_street_m - 0.5;
            box = {where == 0 ? 0.5 : right - deep, to_cm(v0 + std::min(a, b) * room), where == 0 ? 0.5 + deep : right,
                   to_cm(v0 + std::max(a, b) * room)};
        }
        if (box.u1 - box.u0 > 0.6 && box.v1 - box.v0 > 0.6) {
            set_down(lot, AreaKind::planting, outline(box), "bed", 0.2, 0.03);
        }
    }
}

void vegetable_beds(Lot& lot, sim::Draws& draws) {
    const double length = to_cm(draws.uniform(2.6, 4.2));
    const double wide = 1.2;
    const int rows = draws.integer(2, 4);
    const double rear = bounds(lot.house).v1;
    const double u0 = to_cm(draws.uniform(1.4, std::max(1.5, lot.width_m - length - 1.4)));
    const double v0 = to_cm(draws.uniform(rear + 5.0, std::max(rear + 5.1, lot.depth_m - 8.0 - rows * 2.2)));
    for (int i = 0; i < rows; ++i) {
        const double v = v0 + i * (wide + 0.8);
        set_down(lot, AreaKind::planting, outline({u0, v, u0 + length, v + wide}), "vegetables", 0.3, 0.7);
    }
}

void island_bed(Lot& lot, sim::Draws& draws, const Box& within) {
    for (int i = 0; i < 12; ++i) {
        const double half_u = draws.uniform(0.9, 2.2);
        const double half_v = draws.uniform(0.8, 1.6);
        const glm::dvec2 centre{draws.uniform(within.u0, within.u1), draws.uniform(within.v0, within.v1)};
        if (set_down(lot, AreaKind::planting, oval(centre, half_u, half_v), "bed", 0.5, 1.4)) {
            return;
        }
    }
}

void pond(Lot& lot, sim::Draws& draws, const Box& within, double least_m, double most_m) {
    for (int i = 0; i < 12; ++i) {
        const double half_u = draws.uniform(0.5 * least_m, 0.5 * most_m);
        const double half_v = draws.uniform(0.5 * least_m, 0.5 * most_m);
        const glm::dvec2 centre{draws.uniform(within.u0, within.u1), draws.uniform(within.v0, within.v1)};
        if (set_down(lot, AreaKind::pond, oval(centre, half_u, half_v), "pond", 0.5, 1.4)) {
            return;
        }
    }
}

void shed(Lot& lot, sim::Draws& draws, const Box& within, std::string_view name, bool large) {
    for (int i = 0; i < 12; ++i) {
        const double wide = to_cm(large ? draws.uniform(3.0, 4.0) : draws.uniform(2.2, 3.2));
        const double deep = to_cm(large ? draws.uniform(2.6, 3.4) : draws.uniform(1.8, 2.6));
        const double u0 = to_cm(draws.uniform(within.u0, std::max(within.u0, within.u1 - wide)));
        const double v0 = to_cm(draws.uniform(within.v0, std::max(within.v0, within.v1 - deep)));
        if (set_down(lot, AreaKind::shed, outline({u0, v0, u0 + wide, v0 + deep}), name, 0.3, passage_m)) {
            return;
        }
    }
}

void trees(Lot& lot, sim::Draws& draws, int count) {
    static constexpr std::array<glm::dvec2, 8> octagon = {glm::dvec2{1.0, 0.0}, {0.7071, 0.7071}, {0.0, 1.0},
                                                          {-0.7071, 0.7071},    {-1.0, 0.0},      {-0.7071, -0.7071},
                                                          {0.0, -1.0},          {0.7071, -0.7071}};
    for (int n = 0; n < count; ++n) {
        for (int i = 0; i < 14; ++i) {
            const double radius = draws.uniform(0.15, 0.26);
            const glm::dvec2 centre{draws.uniform(1.0, lot.width_m - 1.0),
                                    draws.uniform(lot.street_m + 1.0, lot.depth_m - 1.0)};
            field::Polygon trunk;
            for (const glm::dvec2& corner : octagon) {
                trunk.emplace_back(to_cm(centre.x + radius * corner.x), to_cm(centre.y + radius * corner.y));
            }
            const bool crowded = std::ranges::any_of(lot.areas, [&](const field::Area& area) {
                const double distance = area.kind == AreaKind::house ? 2.5 : area.kind == AreaKind::tree ? 3.5 : 0.0;
                return distance > 0.0 && !apart(trunk, area.outline_m, distance);
            });
            if (!crowded && set_down(lot, AreaKind::tree, trunk, "", 0.5, passage_m)) {
                break;
            }
        }
    }
}

} // namespace sondeyard::scenarios
