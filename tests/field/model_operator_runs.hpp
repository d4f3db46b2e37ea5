// A model operator let loose in a world, and worlds for it: a bare lawn with a sonde drawn at random.
#pragma once

#include "field/model_operator.hpp"
#include "field/score.hpp"
#include "sim/random.hpp"
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"

#include <cstdlib>
#include <functional>
#include <stdexcept>
#include <string>

namespace sondeyard::test {

// Fewer seeds under sanitizers, which run ten times slower.
inline int seeds(int in_release, int sanitized) {
    return std::getenv("SONDEYARD_SANITIZED") != nullptr ? sanitized : in_release;
}

inline constexpr std::int64_t longest_run_ticks = 15 * 60 * 60; // a quarter of an hour

// Works the exercise to its end, or stops at longest_run_ticks with the state unfinished.
inline field::ExerciseState operate(const field::Setting& setting, std::string_view name,
                                    const field::OnStep& witness = {}) {
    const auto model = field::make_model_operator(name, setting.brief);
    if (!model) {
        throw std::invalid_argument("no operator of this name");
    }
    return field::operate(setting, *model, longest_run_ticks, witness);
}

// Sonde anywhere well inside, any heading; the operator anywhere, with a lean of his own.
inline field::World drawn_lawn(std::uint64_t seed, double depth_m, double tilt_deg, double moment_am2,
                               sim::ReceiverKind kind = sim::ReceiverKind::tri_axis) {
    sim::Draws draws(seed, "test.lawn");
    field::World world = empty_yard(depth_m, draws.uniform(0.0, 360.0), tilt_deg);
    world.seed = seed;
    world.sonde.position_m = {draws.uniform(9.0, 21.0), draws.uniform(9.0, 21.0), -depth_m};
    world.sonde.moment_am2 = moment_am2;
    world.start_m = {draws.uniform(1.0, 29.0), draws.uniform(1.0, 29.0)};
    world.start_facing_deg = draws.uniform(0.0, 360.0);
    world.habits = {draws.uniform(2.0, 8.0), draws.uniform(0.0, 360.0)};
    world.receiver.kind = kind;
    const sim::Instrument instrument = sim::make_instrument(world.receiver, seed);
    const auto signals = sim::truck_check_signals_t(instrument, field::truck_distance_m, moment_am2, 512.0, 512.0);
    world.sheet.truck_signal_dbpt =
        sim::dbpt(sim::measure(instrument, signals, 512.0, 0.0, sim::CoilAttitude::level).signal_t);
    return world;
}

inline std::string undone(const field::Score& score) { // procedure items, with the evidence against them
    std::string text;
    for (const field::ProcedureItem& item : score.procedure) {
        if (item.applies && !item.done) {
            text.append(item.key).append(": ").append(item.evidence).append("; ");
        }
    }
    return text;
}

} // namespace sondeyard::test
