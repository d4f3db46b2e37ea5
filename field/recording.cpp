#include "field/recording.hpp"

namespace sondeyard::field {

void record_tick(WorkLog& record, const Action& action, const Observation& seen, const ExerciseState& state) {
    if (state.tick != static_cast<std::int64_t>(record.actions.size()) + 1) {
        return;
    }
    record.actions.push_back(on_log_grid(action));
    if (action.command || state.tick % checkpoint_every_ticks == 0) {
        record.checkpoints.push_back(
            {state.tick, seen.feet_m, seen.tip_m, seen.signal_dbpt, seen.has_axis ? seen.dip_deg : 0.0, state.digest});
    }
    record.ended = state.finished_tick.has_value();
}

} // namespace sondeyard::field
