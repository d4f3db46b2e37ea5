// The larger parts of a score, each in a file of its own: what the dig finds, the procedure, and of that the walk off
// from the peak. Private to the score's files.
#pragma once

#include "field/score.hpp"

namespace sondeyard::field {

// A limit itself is inside: 0.60 m is wide enough, 15 % is within 15 %. This keeps the last digit of a sum of decimal
// fractions from deciding.
inline constexpr double edge = 1e-9;

// score_dig.cpp: lines near the box, safety, outcome, dig points. Needs nothing of the score before it.
void score_dig(const World& world, const Notebook& notebook, Score& out);

// score_procedure.cpp: the items and their points. Needs nothing of the score before it.
void score_procedure(const Setting& setting, const ExerciseState& state, Score& out);

inline constexpr double lay_still_m = 0.02; // the sonde was where it had been, as near as anyone can tell
ProcedureItem new_item(std::string_view key, std::string_view title, std::string_view why); // not done yet

// score_walk.cpp: the procedure's item "walked_off".
ProcedureItem walk_item(const Setting& setting, const ExerciseState& state);

} // namespace sondeyard::field
