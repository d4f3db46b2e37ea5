#include "field/cable.hpp"

#include "sim/random.hpp"
#include "sim/units.hpp"

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double least_slack_m = 0.03; // of ordinary size for some tens of metres of cable; nobody measured it
constexpr double most_slack_m = 0.30;
constexpr double upright_deg = 89.9;
constexpr double same_pace_m = 1e-8; // a tick

double on_grid(double value_m) { return std::nearbyint(value_m * 1e6) / 1e6; }

double slack_of(const World& world) {
    if (world.run->slack_m) {
        return *world.run->slack_m;
    }
    sim::Draws draws(world.seed, "cable.slack");
    return std::nearbyint(100.0 * draws.uniform(least_slack_m, most_slack_m)) / 100.0;
}

bool same_pace(const CablePoint& a, const CablePoint& b, const CablePoint& c) {
    const auto ticks = static_cast<double>(b.tick - a.tick);
    const auto apart = [](double first, double second) { return std::abs(first - second) < same_pace_m; };
    return c.tick == b.tick + 1 && apart((b.place.out_m - a.place.out_m) / ticks, c.place.out_m - b.place.out_m) &&
           apart((b.place.sonde_m - a.place.sonde_m) / ticks, c.place.sonde_m - b.place.sonde_m);
}

} // namespace

CableLimits cable_limits_of(const World& world) {
    CableLimits limits;
    if (!world.run || world.run->centreline_m.size() < 2) {
        return limits;
    }
    limits.has_run = true;
    limits.stop_along_m = project(*world.run, world.sonde.position_m).along_m;
    limits.slack_m = slack_of(world);
    limits.back_m = on_grid(std::min(0.0, cable_end_clear_m - limits.stop_along_m));
    limits.on_m = on_grid(std::max(0.0, length_m(*world.run) - cable_end_clear_m - limits.stop_along_m));
    return limits;
}

double reachable_m(const CableLimits& limits, const CablePlace& now, double by_m) {
    const double lag_m = now.out_m - now.sonde_m; // -slack: pulled taut; 0: pushed
    const double back_m = limits.back_m - now.sonde_m - (limits.slack_m + lag_m);
    const double on_m = limits.on_m - now.sonde_m - lag_m;
    return on_grid(std::clamp(by_m, std::min(back_m, 0.0), std::max(on_m, 0.0)));
}

bool advance_cable(Cable& cable, const CableLimits& limits, std::int64_t tick, double tick_length_s) {
    if (cable.to_go_m == 0.0) {
        return false;
    }
    const double pace_m = cable_m_per_s * tick_length_s;
    const double step_m = on_grid(std::clamp(cable.to_go_m, -pace_m, pace_m));
    const CablePoint before{tick - 1, cable.now};
    cable.to_go_m = on_grid(cable.to_go_m - step_m);
    cable.now.out_m = on_grid(cable.now.out_m + step_m);
    cable.now.sonde_m = on_grid(std::clamp(cable.now.sonde_m, cable.now.out_m, cable.now.out_m + limits.slack_m));
    const CablePoint after{tick, cable.now};
    auto& moves = cable.moves;
    if (moves.empty() || moves.back().tick < before.tick) {
        moves.push_back(before);
    }
    if (moves.size() > 1 && same_pace(moves[moves.size() - 2], moves.back(), after)) {
        moves.back() = after;
    } else {
        moves.push_back(after);
    }
    return true;
}

CablePlace place_at(const Cable& cable, std::int64_t tick) {
    const auto& moves = cable.moves;
    const auto next = std::ranges::upper_bound(moves, tick, {}, &CablePoint::tick);
    if (next == moves.begin()) {
        return {};
    }
    const CablePoint& from = *(next - 1);
    if (next == moves.end()) {
        return from.place;
    }
    const double share = static_cast<double>(tick - from.tick) / static_cast<double>(next->tick - from.tick);
    const auto between = [&](double a, double b) { return on_grid(a + share * (b - a)); };
    return {between(from.place.out_m, next->place.out_m), between(from.place.sonde_m, next->place.sonde_m)};
}

SondeTruth sonde_lying(const World& world, const CableLimits& limits, double sonde_m) {
    SondeTruth sonde = world.sonde;
    if (sonde_m == 0.0 || !limits.has_run) {
        return sonde;
    }
    const Run& run = *world.run;
    const double along_m = limits.stop_along_m + sonde_m;
    const double above_m = world.sheet.sonde_above_invert_m;
    const glm::dvec3 aside = world.sonde.position_m - sonde_centre_m(run, limits.stop_along_m, above_m);
    sonde.position_m = sonde_centre_m(run, along_m, above_m) + aside;
    const RunAttitude there = attitude_at(run, along_m);
    const RunAttitude stop = attitude_at(run, limits.stop_along_m);
    sonde.heading_deg = there.heading_deg;
    sonde.tilt_deg = there.tilt_deg;
    if (stop.tilt_deg < upright_deg) {
        // Which end is named makes no difference to an axis: take the one that points down the run, and give it back.
        const bool other_end = std::abs(sim::wrap_180(world.sonde.heading_deg - stop.heading_deg)) > 90.0;
        const double sign = other_end ? -1.0 : 1.0;
        const double half_round_deg = other_end ? 180.0 : 0.0;
        const double turned_deg = sim::wrap_180(world.sonde.heading_deg + half_round_deg - stop.heading_deg);
        const double tilted_deg = sign * world.sonde.tilt_deg - stop.tilt_deg;
        sonde.heading_deg += turned_deg + half_round_deg;
        sonde.tilt_deg = sign * std::clamp(sonde.tilt_deg + tilted_deg, -90.0, 90.0);
    }
    for (glm::length_t i = 0; i < 3; ++i) { // C libraries differ in the last digits
        sonde.position_m[i] = on_grid(sonde.position_m[i]);
    }
    sonde.heading_deg = on_grid(sim::wrap_360(sonde.heading_deg));
    sonde.tilt_deg = on_grid(sonde.tilt_deg);
    return sonde;
}

} // namespace sondeyard::field
