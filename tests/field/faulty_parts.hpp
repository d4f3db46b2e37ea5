// What endings with a fault (faulty_operators.cpp) and whole exercises with one (faulty_exercises.cpp) share. Private to
// the two.
#pragma once

#include "field/model_operator.hpp"
#include "tests/field/faulty_operators.hpp"

#include <cstdint>

namespace sondeyard::test {

inline constexpr std::int64_t an_hour_ticks = std::int64_t{60} * 60 * 60;

// Works on from a state until the operator would finish; that last command is given or left out.
void work_on(const field::Setting& setting, field::ModelOperator& who, field::ExerciseState& state, bool finish);

// Whether the locate is farther from the sonde than the band allows. Worlds without a cable that is moved.
bool off_band(const field::World& world, const field::ExerciseState& state);

} // namespace sondeyard::test
