// A run with a drop in it, and a sonde that hangs in the drop.
//
//   along 0 m      level, 1.00 m down, from (15, 5) north     9 m: the drop begins     10 m: its foot
//                                                             then level again, 2.00 m down, north to (15, 24): 20 m
//
// The sonde hangs 0.4 m below the drop's head, at along 9.4 m.
#pragma once

#include "tests/field/empty_yard.hpp"

namespace sondeyard::test {

inline field::World yard_with_drop(double slack_m = 0.2) {
    field::World world = empty_yard(1.4, 0.0, 90.0);
    world.run = field::Run{{{15.0, 5.0, -1.0}, {15.0, 14.0, -1.0}, {15.0, 14.0, -2.0}, {15.0, 24.0, -2.0}},
                           field::PipeMaterial::pvc,
                           0.10,
                           0.003};
    world.run->slack_m = slack_m;
    world.sonde.position_m = {15.0, 14.0, -1.4};
    world.sheet.counter_m = 12.30;
    world.sheet.sonde_above_invert_m = 0.05;
    world.start_m = {12.0, 10.0};
    return world;
}

// The same pipe, without slack, the sonde level in it before the drop, at along 5 m.
inline field::World level_before_drop() {
    field::World world = yard_with_drop(0.0);
    world.sonde.position_m = {15.0, 10.0, -1.0};
    world.sonde.tilt_deg = 0.0;
    return world;
}

// Asks, and waits until the cable stands.
inline field::Observation ask_cable(const field::Setting& setting, field::ExerciseState& state, double by_m) {
    field::Observation seen = command(setting, state, field::AskCable{by_m});
    while (seen.cable_moving) {
        seen = field::step(setting, state, hand_at(state.body.tip_m, state.body.tip_height_m));
    }
    return seen;
}

} // namespace sondeyard::test
