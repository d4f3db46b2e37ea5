// Lines of other owners: services from the street, private lines past the meter, a second drain.
#include "scenarios/yard_plan.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

using field::BuriedLine;
using field::ClueKind;
using field::LineKind;

constexpr double apart_m = 0.15; // least clearance between two lines, wall to wall
constexpr double main_width_m = 0.20;

enum class Job { service, sewer_main, past_water_meter, shed_power, grill_gas, irrigation };
struct Wish {
    Job job = Job::service;
    LineKind kind = LineKind::water;
};

struct DepthRange {
    double least_m;
    double most_m;
};
DepthRange depth_range(LineKind kind, bool is_private) {
    switch (kind) {
    case LineKind::water:
        return {0.80, 1.20};
    case LineKind::gas:
        return is_private ? DepthRange{0.45, 0.60} : DepthRange{0.50, 0.90};
    case LineKind::electric:
        return is_private ? DepthRange{0.45, 0.65} : DepthRange{0.60, 0.95};
    case LineKind::communication:
        return {0.45, 0.70};
    case LineKind::reclaimed_water:
        return {0.45, 0.55};
    case LineKind::sewer:
        break;
    }
    return {0.80, 1.20};
}

double usual_width_m(LineKind kind) {
    switch (kind) {
    case LineKind::water:
        return 0.032;
    case LineKind::gas:
        return 0.025;
    case LineKind::electric:
        return 0.06;
    case LineKind::communication:
        return 0.03;
    case LineKind::reclaimed_water:
        return 0.025;
    case LineKind::sewer:
        break;
    }
    return 0.11;
}

std::vector<glm::dvec3> at_depth(const Site& site, const Route& lot_route, double depth_m, double slope) {
    std::vector<glm::dvec3> points;
    double s = 0.0;
    for (std::size_t i = 0; i < lot_route.size(); ++i) {
        s += i == 0 ? 0.0 : glm::distance(lot_route[i - 1], lot_route[i]);
        points.emplace_back(site.placement.to_yard(lot_route[i]), -depth_m - slope * s);
    }
    return points;
}

} // namespace

const field::Run* run_of(const Site& site) {
    if (site.drain) {
        return &site.drain->run;
    }
    return site.wanted.run ? &*site.wanted.run : nullptr;
}

bool clear_of(const std::vector<glm::dvec3>& line, double width_m, const field::Run& run) {
    return clear_of(line, run.centreline_m, 0.5 * width_m + 0.5 * run.inside_diameter_m + run.wall_m);
}

bool clear_of(const std::vector<glm::dvec3>& line, const std::vector<glm::dvec3>& other, double radii_m) {
    for (std::size_t i = 1; i < line.size(); ++i) {
        const int steps = static_cast<int>(glm::distance(line[i - 1], line[i]) / 0.1) + 1;
        for (int k = 0; k <= steps; ++k) {
            const glm::dvec3 p = line[i - 1] + (line[i] - line[i - 1]) * (static_cast<double>(k) / steps);
            for (std::size_t j = 1; j < other.size(); ++j) {
                const glm::dvec2 a = field::plan(other[j - 1]);
                const glm::dvec2 along = field::plan(other[j]) - a;
                const double square = glm::dot(along, along);
                const double t =
                    square > 1e-12 ? std::clamp(glm::dot(field::plan(p) - a, along) / square, 0.0, 1.0) : 0.0;
                if (glm::distance(field::plan(p), a + t * along) > radii_m + 0.35) {
                    continue;
                }
                const double z0 = other[j - 1].z + t * (other[j].z - other[j - 1].z);
                const double z1 = square > 1e-12 ? z0 : other[j].z; // a vertical drop takes up all heights between
                const double gap = std::max({p.z - std::max(z0, z1), std::min(z0, z1) - p.z, 0.0});
                if (gap < radii_m + apart_m) {
                    return false;
                }
            }
        }
    }
    return true;
}

namespace {

class Digger {
public:
    Digger(Site& site, sim::Draws& draws) : site_(site), draws_(draws) {
        const bool bare = site.wanted.shape == RunShape::none;
        const bool over_it = draws.chance(0.12); // now and then a line passes close by the sonde
        keep_off_m_ = bare || site.wanted.empty_lawn ? 3.0 : over_it ? 0.30 : 1.30;
        sonde_lot_ = site.placement.to_lot(field::plan(site.sonde.position_m));
    }

    bool dig(const Wish& wish, std::string_view owner, bool split_at_meter);
    bool dig_second_drain();

private:
    bool route_free(const Route& route, double skip_first_m, double skip_last_m) const;
    bool lay(const Route& route, LineKind kind, std::string_view owner, bool is_private);
    bool fits(const std::vector<glm::dvec3>& points, double width_m) const;
    void clue(ClueKind kind, const glm::dvec2& lot_place);
    std::optional<Wall> draw_wall(const field::Polygon& house, glm::dvec2& place, bool rear_too);
    bool service(LineKind kind, std::string_view owner, bool split_at_meter);
    bool sewer_main(std::string_view owner);
    bool shed_power();
    bool grill_gas();
    bool irrigation();

    Site& site_;
    sim::Draws& draws_;
    double keep_off_m_ = 1.3;
    glm::dvec2 sonde_lot_{0.0};
};

bool Digger::fits(const std::vector<glm::dvec3>& points, double width_m) const {
    const field::Run* run = run_of(site_);
    if (run != nullptr && !clear_of(points, width_m, *run)) {
        return false;
    }
    return std::ranges::all_of(site_.yard.lines, [&](const BuriedLine& other) {
        return clear_of(points, other.points_m, 0.5 * (width_m + other.width_m));
    });
}

bool Digger::lay(const Route& route, LineKind kind, std::string_view owner, bool is_private) {
    const DepthRange range = depth_range(kind, is_private);
    for (int i = 0; i < 6; ++i) {
        const double depth = to_cm(draws_.uniform(range.least_m, range.most_m));
        std::vector<glm::dvec3> points = at_depth(site_, route, depth, 0.0);
        if (fits(points, usual_width_m(kind))) {
            site_.yard.lines.push_back(
                {kind, std::string(owner), std::move(points), usual_width_m(kind), is_private, {}});
            return true;
        }
    }
    return false;
}

void Digger::clue(ClueKind kind, const glm::dvec2& lot_place) {
    site_.yard.clues.push_back({kind, site_.placement.to_yard(lot_place)});
}

// Inside the lot, off buildings, water and trunks, and far enough from the sonde. The ends may touch a wall.
bool Digger::route_free(const Route& route, double skip_first_m, double skip_last_m) const {
    Route trimmed = route;
    const auto trim = [](glm::dvec2& end, const glm::dvec2& next, double by) {
        const double length = glm::distance(end, next);
        end += (next - end) * (length > 1e-9 ? std::min(by / length, 1.0) : 0.0);
    };
    trim(trimmed.front(), trimmed[1], skip_first_m);
    trim(trimmed.back(), trimmed[trimmed.size() - 2], skip_last_m);
    const Lot& lot = site_.lot;
    for (const glm::dvec2& p : route) {
        if (p.x < 0.6 || p.y < 0.3 || p.x > lot.width_m - 0.6 || p.y > lot.depth_m - 0.6) {
            return false;
        }
    }
    return keeps_clear(lot, trimmed) && field::distance_to_line_m(sonde_lot_, route) >= keep_off_m_;
}

// A place on a wall of the house; a wall of the back only when asked for.
std::optional<Wall> Digger::draw_wall(const field::Polygon& house, glm::dvec2& place, bool rear_too) {
    const std::vector<Wall> all = walls(house);
    const Wall wall = all[static_cast<std::size_t>(draws_.integer(0, static_cast<int>(all.size()) - 1))];
    const double share = draws_.uniform(0.0, 1.0);
    if (wall.length_m < 1.2 || (!rear_too && wall.outward.y > 0.5)) {
        return std::nullopt;
    }
    const glm::dvec2 at = wall.from + (wall.to - wall.from) * ((0.4 + share * (wall.length_m - 0.8)) / wall.length_m);
    place = {to_cm(at.x), to_cm(at.y)};
    return wall;
}

bool Digger::service(LineKind kind, std::string_view owner, bool split_at_meter) {
    for (int i = 0; i < 40; ++i) {
        glm::dvec2 place{0.0};
        const std::optional<Wall> wall = draw_wall(site_.lot.house, place, false);
        const double out = to_cm(draws_.uniform(0.7, 2.4));
        const double jog = draws_.chance(0.35) ? to_cm(draws_.uniform(-5.0, 5.0)) : 0.0;
        const double street_v = to_cm(site_.lot.street_m * draws_.uniform(0.55, 0.9));
        if (!wall) {
            continue;
        }
        Route route = {place};
        if (wall->outward.y > -0.5 || std::abs(jog) > 1.0) {
            route.push_back(place + out * wall->outward);
        }
        if (wall->outward.y < -0.5 && std::abs(jog) > 1.0) {
            route.push_back(route.back() + glm::dvec2{jog, 0.0});
        }
        route.emplace_back(route.back().x, street_v);
        std::ranges::reverse(route); // from the street to the house
        const double meter_v = to_cm(site_.lot.street_m + 0.7);
        if (!route_free(route, 0.0, 0.5) || (split_at_meter && route[1].y < meter_v + 1.0)) {
            continue;
        }
        const glm::dvec2 at_wall = place + 0.12 * wall->outward;
        if (split_at_meter) {
            const glm::dvec2 meter{route.front().x, meter_v};
            Route past = route;
            past.front() = meter;
            if (!lay({route.front(), meter}, kind, owner, false)) {
                continue;
            }
            BuriedLine beyond = site_.yard.lines.back();
            beyond.points_m = at_depth(site_, past, -beyond.points_m.front().z, 0.0);
            beyond.owner.clear();
            beyond.is_private = true;
            const BuriedLine stub = site_.yard.lines.back();
            site_.yard.lines
                .pop_back(); // the two meet at the meter: checked against all others, not against each other
            if (!fits(beyond.points_m, beyond.width_m)) {
                continue;
            }
            site_.yard.lines.push_back(stub);
            site_.yard.lines.push_back(beyond);
            clue(ClueKind::water_meter, meter);
            return true;
        }
        if (lay(route, kind, owner, false)) {
            if (kind == LineKind::gas) {
                clue(ClueKind::gas_meter, at_wall);
            } else if (kind == LineKind::electric) {
                clue(ClueKind::electric_meter, at_wall);
            } else if (kind == LineKind::communication) {
                clue(ClueKind::pedestal, {route.front().x, to_cm(site_.lot.street_m + 0.45)});
            }
            return true;
        }
    }
    return false;
}

// The public sewer under the street. The drain goes into it, so it is not checked against the drain.
bool Digger::sewer_main(std::string_view owner) {
    const double depth = site_.drain ? -site_.drain->run.centreline_m.back().z + 0.10 : to_cm(draws_.uniform(1.6, 3.0));
    const double v = site_.lot.main_v_m;
    const Route route = {{0.5, v}, {site_.lot.width_m - 0.5, v}};
    site_.yard.lines.push_back(
        {LineKind::sewer, std::string(owner), at_depth(site_, route, depth, 0.0), main_width_m, false, {}});
    return true;
}

bool Digger::shed_power() {
    std::vector<const field::Area*> outbuildings;
    for (const field::Area& area : site_.lot.areas) {
        if (area.kind == field::AreaKind::shed || area.name == "garage") {
            outbuildings.push_back(&area);
        }
    }
    if (outbuildings.empty()) {
        return false;
    }
    const field::Polygon building = outbuildings.front()->outline_m;
    for (int i = 0; i < 40; ++i) {
        glm::dvec2 from{0.0};
        glm::dvec2 to{0.0};
        const std::optional<Wall> house = draw_wall(site_.lot.house, from, true);
        const std::optional<Wall> shed = draw_wall(building, to, true);
        const double out = to_cm(draws_.uniform(0.6, 1.6));
        const double in = to_cm(draws_.uniform(0.6, 1.2));
        if (!house || !shed) {
            continue;
        }
        const glm::dvec2 a = from + out * house->outward;
        const glm::dvec2 b = to + in * shed->outward;
        const glm::dvec2 corner = std::abs(house->outward.x) > 0.5 ? glm::dvec2{a.x, b.y} : glm::dvec2{b.x, a.y};
        const Route route = {from, a, corner, b, to};
        if (route_free(route, 0.5, 0.5) && glm::distance(a, corner) > 0.3 && glm::distance(corner, b) > 0.3 &&
            lay(route, LineKind::electric, "", true)) {
            clue(ClueKind::lit_outbuilding, to + 0.10 * shed->outward);
            return true;
        }
    }
    return false;
}

bool Digger::grill_gas() {
    const field::Area* patio = named(site_.lot, "patio");
    if (patio == nullptr) {
        return false;
    }
    const Box b = bounds(patio->outline_m);
    for (int i = 0; i < 40; ++i) {
        glm::dvec2 from{0.0};
        const std::optional<Wall> wall = draw_wall(site_.lot.house, from, true);
        const double out = to_cm(draws_.uniform(0.5, 1.2));
        const glm::dvec2 grill{to_cm(draws_.uniform(b.u0 + 0.4, b.u1 - 0.4)),
                               to_cm(draws_.uniform(b.v0 + 1.0, b.v1 - 0.4))};
        if (!wall) {
            continue;
        }
        const glm::dvec2 a = from + out * wall->outward;
        const glm::dvec2 corner = std::abs(wall->outward.x) > 0.5 ? glm::dvec2{a.x, grill.y} : glm::dvec2{grill.x, a.y};
        const Route route = {from, a, corner, grill};
        if (glm::distance(from, grill) < 12.0 && glm::distance(a, corner) > 0.3 && glm::distance(corner, grill) > 0.3 &&
            route_free(route, 0.5, 0.0) && lay(route, LineKind::gas, "", true)) {
            clue(ClueKind::grill, grill);
            return true;
        }
    }
    return false;
}

bool Digger::irrigation() {
    const Lot& lot = site_.lot;
    for (int i = 0; i < 40; ++i) {
        glm::dvec2 from{0.0};
        const std::optional<Wall> wall = draw_wall(lot.house, from, true);
        const double out = to_cm(draws_.uniform(0.7, 1.5));
        const double first = to_cm(draws_.uniform(2.0, 6.0));
        const double second = to_cm(draws_.uniform(2.0, 7.0));
        const double turn = draws_.chance(0.5) ? 1.0 : -1.0;
        const bool comes_back = draws_.chance(0.6);
        if (!wall) {
            continue;
        }
        const glm::dvec2 side = turn * glm::dvec2{wall->outward.y, -wall->outward.x};
        const glm::dvec2 valve = from + out * wall->outward;
        Route route = {from, valve, valve + first * wall->outward, valve + first * wall->outward + second * side};
        if (comes_back) {
            route.push_back(route.back() - std::min(first - 0.8, 2.5) * wall->outward);
        }
        const bool in_lawn = std::ranges::all_of(route, [&](const glm::dvec2& p) {
            return p.y > lot.street_m + 0.5 && p.x < lot.width_m - lot.side_street_m - 0.5;
        });
        if (in_lawn && route_free(route, 0.5, 0.0) && lay(route, LineKind::reclaimed_water, "", true)) {
            clue(ClueKind::irrigation_valve, valve);
            return true;
        }
    }
    return false;
}

bool Digger::dig(const Wish& wish, std::string_view owner, bool split_at_meter) {
    switch (wish.job) {
    case Job::service:
        return service(wish.kind, owner, split_at_meter);
    case Job::sewer_main:
        return sewer_main(owner);
    case Job::shed_power:
        return shed_power();
    case Job::grill_gas:
        return grill_gas();
    case Job::irrigation:
        return irrigation();
    case Job::past_water_meter:
        break;
    }
    return true; // laid together with the service
}

// A drain without a sonde, 2 to 4 m beside it (3 to 4 m when no pipe may come near), alongside or crossing.
bool Digger::dig_second_drain() {
    const double least = site_.wanted.shape == RunShape::none ? 3.05 : 2.0;
    const glm::dvec2 heading = site_.placement.turned_to_lot(field::direction_of(site_.sonde.heading_deg));
    const bool on_end = std::abs(site_.sonde.tilt_deg) > 75.0;
    const double width = site_.wanted.inside_diameter_m + 2.0 * site_.wanted.wall_m;
    for (int i = 0; i < 160; ++i) {
        const double sign = draws_.chance(0.5) ? 1.0 : -1.0;
        const double aside = to_cm(draws_.uniform(least + 0.1, 3.8));
        const bool alongside = !on_end && draws_.chance(0.6);
        static constexpr std::array<glm::dvec2, 3> usual = {glm::dvec2{0.0, -1.0}, {1.0, 0.0}, {-1.0, 0.0}};
        const glm::dvec2 other = usual[static_cast<std::size_t>(draws_.integer(0, 2))];
        const double offset_depth = to_cm(draws_.uniform(-0.35, 0.5));
        const double slope = to_cm(draws_.uniform(1.0, 2.5)) / 100.0;
        const glm::dvec2 direction = alongside ? heading : other;
        const glm::dvec2 place = sonde_lot_ + sign * aside * glm::dvec2{direction.y, -direction.x};
        const Route route = route_through(site_.lot, place, direction, 1.0, 1.0, draws_);
        if (route.empty()) {
            continue;
        }
        const double off = field::distance_to_line_m(sonde_lot_, route);
        const double depth = std::max(0.5, site_.depth_m + offset_depth);
        std::vector<glm::dvec3> points = at_depth(site_, route, depth, slope);
        if (off >= least && off <= 4.0 && fits(points, width)) {
            site_.yard.lines.push_back({LineKind::sewer, "", std::move(points), width, true, {}});
            return true;
        }
    }
    return false;
}

// What is to be buried: as many as wanted, services first.
std::vector<Wish> draw_wishes(const Site& site, sim::Draws& draws) {
    const bool drawn = site.wanted.line_count < 0;
    int count = drawn ? draws.integer(2, 5) : site.wanted.line_count;
    std::vector<Wish> wishes;
    if (drawn && count > 2 && draws.chance(0.6)) {
        wishes.push_back({Job::sewer_main, LineKind::sewer});
        --count;
    }
    std::vector<LineKind> services = {LineKind::electric, LineKind::gas, LineKind::communication, LineKind::water};
    for (std::size_t i = services.size() - 1; i > 0; --i) {
        std::swap(services[i], services[static_cast<std::size_t>(draws.integer(0, static_cast<int>(i)))]);
    }
    const int private_count = std::max(count > 1 ? draws.integer(0, count / 2) : 0, count - 4);
    const bool garage = named(site.lot, "garage") != nullptr;
    std::vector<Wish> past_meter;
    for (int i = 0; i < count - private_count; ++i) {
        wishes.push_back({Job::service, services[static_cast<std::size_t>(i)]});
        if (wishes.back().kind == LineKind::water) {
            past_meter.push_back({Job::past_water_meter, LineKind::water});
        }
    }
    if (garage ||
        std::ranges::any_of(site.lot.areas, [](const field::Area& a) { return a.kind == field::AreaKind::shed; })) {
        past_meter.push_back({Job::shed_power, LineKind::electric});
    }
    if (named(site.lot, "patio") != nullptr) {
        past_meter.push_back({Job::grill_gas, LineKind::gas});
    }
    past_meter.push_back({Job::irrigation, LineKind::reclaimed_water});
    for (int i = 0; i < private_count; ++i) {
        if (past_meter.empty()) {
            wishes.push_back({Job::irrigation, LineKind::reclaimed_water});
            continue;
        }
        const auto pick = draws.integer(0, static_cast<int>(past_meter.size()) - 1);
        wishes.push_back(past_meter[static_cast<std::size_t>(pick)]);
        past_meter.erase(past_meter.begin() + pick);
    }
    return wishes;
}

} // namespace

bool bury_lines(Site& site, field::Ticket& ticket, std::string& why) {
    sim::Draws draws(site.seed, "yard.lines");
    const Owners owners = draw_owners(site.seed);
    Digger digger(site, draws);
    if (site.wanted.second_drain && !digger.dig_second_drain()) {
        why = "there is no room for a second drain";
        return false;
    }
    if (site.wanted.neighbour) {
        const auto owner = std::ranges::find(owners, site.wanted.neighbour->kind, &Owner::kind);
        if (!lay_neighbour(site, owner == owners.end() ? std::string_view{} : owner->name, why)) {
            return false;
        }
    }
    const std::vector<Wish> wishes = draw_wishes(site, draws);
    const bool at_kerb = std::ranges::any_of(wishes, [](const Wish& w) { return w.job == Job::past_water_meter; });
    for (const Wish& wish : wishes) {
        const auto owner = std::ranges::find(owners, wish.kind, &Owner::kind);
        const std::string_view name = owner == owners.end() ? std::string_view{} : owner->name;
        if (!digger.dig(wish, name, at_kerb && wish.kind == LineKind::water)) {
            why = fmt::format("there is no room for a {} line", field::name_of(wish.kind));
            return false;
        }
    }
    if (site.wanted.supply && !connect_supply(site, why)) {
        return false;
    }
    ticket = answer_ticket(site, owners);
    paint_lines(site, ticket);
    return true;
}

} // namespace sondeyard::scenarios
