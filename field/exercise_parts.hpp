// Inside of the exercise: what exercise.cpp (grid, senses, the tick) and exercise_commands.cpp share.
#pragma once

#include "field/exercise.hpp"

namespace sondeyard::field {

double to_step(double value, double step); // as a display of that resolution shows it

const sim::Instrument& instrument_in_use(const Setting& setting, const ExerciseState& state); // of the bandwidth chosen
sim::Measurement measured(const Setting& setting, const ExerciseState& state, double lean_deg);

struct Outcome {
    bool refused = false;
    std::string_view note; // for the trainee: why it was refused, or what came of it
};
// `seen` is of this tick, before the command.
Outcome carry_out(const Setting& setting, ExerciseState& state, const Observation& seen, const Command& command);

} // namespace sondeyard::field
