// A bare lawn with one sonde in it, for tests that need a world and nothing round it.
#pragma once

#include "field/exercise.hpp"

#include <glm/geometric.hpp>

#include <cmath>

namespace sondeyard::test {

inline field::World empty_yard(double depth_m = 1.2, double heading_deg = 90.0, double tilt_deg = 0.0) {
    field::World world;
    world.seed = 7;
    world.yard.width_m = 30.0;
    world.yard.length_m = 30.0;
    world.sonde = {512.0, 0.1, {15.0, 15.0, -depth_m}, heading_deg, tilt_deg};
    world.sheet.title = "Bare lawn";
    world.sheet.truck_signal_dbpt = 61.3;
    world.sheet.ticket.number = "NV-0001";
    world.habits = {0.0, 0.0};
    world.start_m = {15.0, 8.0};
    world.start_facing_deg = 0.0;
    return world;
}

inline field::Action hand_at(const glm::dvec2& place_m, double height_m = 0.0) {
    field::Action action;
    action.move.hand_m = place_m;
    action.move.hand_height_m = height_m;
    return action;
}

// Holds the hand at a place until the tip rests there, then a second longer.
inline field::Observation go_to(const field::Setting& setting, field::ExerciseState& state, const glm::dvec2& place_m,
                                double height_m = 0.0) {
    field::Observation seen = field::observe(setting, state);
    int still = 0;
    for (int tick = 0; tick < 60 * 120 && still < 60; ++tick) {
        seen = field::step(setting, state, hand_at(place_m, height_m));
        const bool there = glm::distance(seen.tip_m, place_m) < 1e-3 && std::abs(seen.tip_height_m - height_m) < 1e-3;
        still = there ? still + 1 : 0;
    }
    return seen;
}

inline field::Observation command(const field::Setting& setting, field::ExerciseState& state, const field::Command& c) {
    field::Action action = hand_at(state.body.tip_m, state.body.tip_height_m);
    action.command = c;
    field::Observation seen = field::step(setting, state, action);
    while (seen.turning) { // a turn asked for as a whole takes its time
        seen = field::step(setting, state, hand_at(state.body.tip_m, state.body.tip_height_m));
    }
    return seen;
}

} // namespace sondeyard::test
