// The drain in plan: from a cleanout at a wall of the house, round what is in the way, to the main in the street.
#include "scenarios/yard_plan.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

bool lot_standable(const Lot& lot, const glm::dvec2& p) {
    return field::standable(lot.width_m, lot.depth_m, lot.areas, p);
}

struct Outlet { // where the pipe leaves the house: the cleanout, and which way it sets out
    glm::dvec2 place{0.0};
    glm::dvec2 outward{0.0};
};

// A place a step off one of the walls, one can stand at it and it is not in a bed or the drive.
std::optional<Outlet> draw_outlet(const Lot& lot, sim::Draws& draws) {
    const std::vector<Wall> all = walls(lot.house);
    const Wall& wall = all[static_cast<std::size_t>(draws.integer(0, static_cast<int>(all.size()) - 1))];
    const double share = draws.uniform(0.0, 1.0);
    const double off = to_cm(draws.uniform(0.55, 1.1));
    if (wall.length_m < 1.6) {
        return std::nullopt;
    }
    const glm::dvec2 at = wall.from + (wall.to - wall.from) * ((0.6 + share * (wall.length_m - 1.2)) / wall.length_m);
    const glm::dvec2 place{to_cm(at.x + off * wall.outward.x), to_cm(at.y + off * wall.outward.y)};
    if (!lot_standable(lot, place)) {
        return std::nullopt;
    }
    for (const field::Area& area : lot.areas) {
        if ((area.kind == field::AreaKind::drive || area.kind == field::AreaKind::street) &&
            field::contains(area.outline_m, place)) {
            return std::nullopt;
        }
    }
    return Outlet{place, wall.outward};
}

// On from a place straight above the main (route's last point) to the main: straight, by a jog of two eighth bends, or
// with one eighth bend into the main, as pipe layers do it. `bent`: the route has a bend already, so straight will do.
void on_to_main(const Lot& lot, Route& route, bool bent, sim::Draws& draws) {
    const glm::dvec2 from = route.back();
    const double room = from.y - lot.main_v_m;
    const int way = draws.integer(0, 2);
    const double sign = draws.chance(0.5) ? 1.0 : -1.0;
    const double aside = sign * to_cm(draws.uniform(0.8, 4.5));
    const double down = to_cm(draws.uniform(1.0, std::max(1.1, room - std::abs(aside) - 1.2)));
    if ((bent && way == 0) || room < std::abs(aside) + 2.4) {
        route.emplace_back(from.x, lot.main_v_m);
        return;
    }
    if (way == 1) { // into the main at an eighth
        const double last = std::min(room - 1.2, std::abs(aside) + 1.5);
        route.emplace_back(from.x, lot.main_v_m + last);
        route.emplace_back(from.x + (aside > 0.0 ? last : -last), lot.main_v_m);
        return;
    }
    route.emplace_back(from.x, from.y - down);
    route.emplace_back(from.x + aside, from.y - down - std::abs(aside));
    route.emplace_back(from.x + aside, lot.main_v_m);
}

// From an outlet to the main, round the house where it must. May come out wrong; the caller checks.
Route route_from(const Lot& lot, const Outlet& outlet, sim::Draws& draws) {
    Route route = {outlet.place};
    const double out = to_cm(draws.uniform(0.8, 4.0));
    const Box house = bounds(lot.house);
    if (outlet.outward.y < -0.5) {
        if (draws.chance(0.25)) { // along the front first
            const double sign = draws.chance(0.5) ? 1.0 : -1.0;
            const double aside = sign * to_cm(draws.uniform(1.8, 7.0));
            route.emplace_back(outlet.place.x, outlet.place.y - out);
            route.emplace_back(outlet.place.x + aside, outlet.place.y - out);
            route.emplace_back(outlet.place.x + aside, lot.main_v_m);
        } else {
            on_to_main(lot, route, false, draws);
        }
    } else if (outlet.outward.y < 0.5) {
        route.emplace_back(outlet.place.x + out * outlet.outward.x, outlet.place.y);
        on_to_main(lot, route, true, draws);
    } else {
        const bool left = draws.chance(0.5);
        const double past =
            left ? house.u0 - to_cm(draws.uniform(0.8, 2.6)) : house.u1 + to_cm(draws.uniform(0.8, 2.6));
        route.emplace_back(outlet.place.x, outlet.place.y + out);
        route.emplace_back(past, outlet.place.y + out);
        route.emplace_back(past, lot.main_v_m);
    }
    return route;
}

} // namespace

bool in_lot(const Lot& lot, const glm::dvec2& p, double margin) {
    return p.x > margin && p.x < lot.width_m - margin && p.y < lot.depth_m - margin;
}

bool can_be_laid(const Lot& lot, const Route& route) {
    if (route.size() < 3 || route.size() > 5) { // one to three bends
        return false;
    }
    for (std::size_t i = 1; i < route.size(); ++i) {
        const glm::dvec2 piece = route[i] - route[i - 1];
        if (glm::length(piece) < 0.8 || !in_lot(lot, route[i], 0.5)) {
            return false;
        }
        if (i + 1 < route.size() && glm::dot(glm::normalize(piece), glm::normalize(route[i + 1] - route[i])) < -0.02) {
            return false;
        }
    }
    return keeps_clear(lot, route);
}

Route with_sweeps(const Route& corners) {
    Route points = {corners.front()};
    for (std::size_t i = 1; i + 1 < corners.size(); ++i) {
        const glm::dvec2 in = corners[i] - corners[i - 1];
        const glm::dvec2 out = corners[i + 1] - corners[i];
        const double tangent = std::min({0.45, 0.4 * glm::length(in), 0.4 * glm::length(out)});
        const glm::dvec2 a = corners[i] - tangent * glm::normalize(in);
        const glm::dvec2 b = corners[i] + tangent * glm::normalize(out);
        const double turn = glm::dot(glm::normalize(in), glm::normalize(out));
        if (turn > 0.9998) { // as good as straight on
            continue;
        }
        const int pieces = turn < 0.5 ? 4 : 2;
        for (int k = 0; k <= pieces; ++k) {
            const double t = static_cast<double>(k) / pieces;
            points.push_back((1.0 - t) * (1.0 - t) * a + 2.0 * t * (1.0 - t) * corners[i] + t * t * b);
        }
    }
    points.push_back(corners.back());
    return points;
}

Route draw_route(const Lot& lot, sim::Draws& draws) {
    const std::optional<Outlet> outlet = draw_outlet(lot, draws);
    const Route route = outlet ? route_from(lot, *outlet, draws) : Route{};
    return can_be_laid(lot, route) ? route : Route{};
}

bool keeps_clear(const Lot& lot, const Route& route) {
    for (const field::Area& area : lot.areas) {
        const double margin = area.kind == field::AreaKind::tree                                         ? 0.6
                              : area.kind == field::AreaKind::pond || area.kind == field::AreaKind::shed ? 0.4
                              : area.kind == field::AreaKind::house                                      ? 0.4
                                                                                                         : 0.0;
        if (margin > 0.0 && field::distance_to_polyline_m(area.outline_m, route) < margin) {
            return false;
        }
    }
    return true;
}

Route route_through(const Lot& lot, const glm::dvec2& place, const glm::dvec2& direction, double back_m, double on_m,
                    sim::Draws& draws) {
    const glm::dvec2 a = place - (back_m + to_cm(draws.uniform(0.0, 5.0))) * direction;
    const glm::dvec2 b = place + (on_m + to_cm(draws.uniform(0.0, 2.5))) * direction;
    const std::optional<Outlet> outlet = draw_outlet(lot, draws);
    const double side = draws.chance(0.5) ? 1.0 : -1.0;
    const double aside = to_cm(draws.uniform(1.0, 3.0));
    if (!outlet) {
        return {};
    }
    Route route = {outlet->place, a};
    if (direction.y < -0.999) { // towards the street already
        route.emplace_back(place.x, lot.main_v_m + 0.9);
        route.emplace_back(place.x + 0.9 * side, lot.main_v_m);
    } else if (direction.y <= 0.02) {
        route.push_back(b);
        route.emplace_back(b.x, lot.main_v_m);
    } else { // away from the street: a quarter bend aside first, then down to it
        const glm::dvec2 square = direction.y > 0.999
                                      ? glm::dvec2{side, 0.0}
                                      : glm::dvec2{direction.y, -direction.x} * (direction.x > 0.0 ? 1.0 : -1.0);
        route.push_back(b);
        route.push_back(b + aside * square);
        route.emplace_back(route.back().x, lot.main_v_m);
    }
    return can_be_laid(lot, route) ? route : Route{};
}

} // namespace sondeyard::scenarios
