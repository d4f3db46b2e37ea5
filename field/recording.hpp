// Keeps an exercise in memory, tick by tick, as a log holds it: whatever can be worked out from a work log that was
// read back can be worked out from a record as well, whether or not a file could be written.
#pragma once

#include "field/work_log.hpp"

namespace sondeyard::field {

// To be called with every action given to step, and the observation and state it led to; ticks that did not advance
// (the exercise is finished) are left out. The header is the caller's.
void record_tick(WorkLog& record, const Action& action, const Observation& seen, const ExerciseState& state);

} // namespace sondeyard::field
