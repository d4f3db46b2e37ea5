// The NEXT line: one sentence and one key, from what the trainee can know. It says what to do, never where.
#pragma once

#include "field/exercise.hpp"
#include "field/lengths.hpp"

namespace sondeyard::field {

struct Hint {
    std::string sentence;
    std::string_view command; // id in the window's table of commands, for its key; may be empty
};

Hint next_hint(const Brief& brief, const ExerciseState& state, const Observation& seen, Units units = Units::metric);

} // namespace sondeyard::field
