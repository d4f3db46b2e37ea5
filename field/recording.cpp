#include "field/recording.hpp"

namespace sondeyard::field {

void record_tick(WorkLog& record, const Action& action, const Observation& seen, const ExerciseState& state) {
    if (state.tick != static_cast<std::int64_t>(record.actions.size()) + 1) {
        return;
    }
    record.actions.push_back(on_log_grid(action));
    const std::int64_t since = record.checkpoints.empty() ? 0 : record.checkpoints.back().tick;
    if (action.command || state.tick - since >= checkpoint_every_ticks) { // as LogWriter does
        record.checkpoints.push_back(
            {state.tick, seen.feet_m, seen.tip_m, seen.signal_dbpt, seen.has_axis ? seen.dip_deg : 0.0, state.digest});
    }
    record.ended = state.finished_tick.has_value();
}

} // namespace sondeyard::field
