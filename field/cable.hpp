// The cable behind the sonde: what the cable hand pays out and pulls back, what the counter shows, and how much of it
// reaches the sonde.
//
// The stop is where the sonde lay when the fault was on the screen. A pushed cable lies against the outside of every
// curve, a pulled one against the inside; the difference is slack. Pushed on from the stop the sonde moves at once;
// pulled back it stays until the slack is taken up, while the counter runs. Left out: that slack grows with the cable
// that is out, and that a stiff cable springs.
#pragma once

#include "field/world.hpp"

#include <cstdint>
#include <vector>

namespace sondeyard::field {

inline constexpr double least_ask_m = 0.1; // what a cable hand can do as told, and what he does at one asking
inline constexpr double most_ask_m = 3.0;
inline constexpr double cable_m_per_s = 0.25;
inline constexpr double cable_end_clear_m = 0.10; // half a sonde: it stays that far inside the run's ends

// Lengths from the stop, onward positive, on a grid of 1e-6 m.
struct CablePlace {
    double out_m = 0.0;   // by the counter
    double sonde_m = 0.0; // along the run; out_m - sonde_m is between -slack and 0
};

// From one of these to the next the cable ran evenly.
struct CablePoint {
    std::int64_t tick = 0;
    CablePlace place;
};

struct Cable {
    CablePlace now;
    double to_go_m = 0.0;          // of what he was asked for
    std::vector<CablePoint> moves; // rising ticks; empty: never asked
};

// What a world allows; without a run nothing moves.
struct CableLimits {
    bool has_run = false;
    double stop_along_m = 0.0;
    double slack_m = 0.0;
    double back_m = 0.0; // farthest places of the sonde: <= 0 ..
    double on_m = 0.0;   // .. and >= 0
};
CableLimits cable_limits_of(const World& world);

// How much he can pull (below 0) or push of what he is asked: it ends where the run does. On the grid.
double reachable_m(const CableLimits& limits, const CablePlace& now, double by_m);

// One tick of 1/60 s: the one that leads to the state after `tick`. False when the cable stands.
bool advance_cable(Cable& cable, const CableLimits& limits, std::int64_t tick, double tick_length_s);

CablePlace place_at(const Cable& cable, std::int64_t tick); // ticks before the first move are the stop

// The sonde that far along the run from its stop: centre, heading and tilt follow the pipe, and it keeps the place and
// the turn that it has to the pipe at the stop (an upright pipe has no turn to keep). At 0 exactly World::sonde.
SondeTruth sonde_lying(const World& world, const CableLimits& limits, double sonde_m);

} // namespace sondeyard::field
