// Playing a work log again, straight or to any tick, and checking it against what was seen then.
#pragma once

#include "field/work_log.hpp"

namespace sondeyard::field {

struct ReplayDifference {
    std::int64_t tick = 0;
    std::string what; // where and by how much, one sentence
};

struct ReplayResult {
    ExerciseState state;
    std::int64_t ticks = 0;
    std::int64_t checkpoints = 0; // compared
    std::optional<ReplayDifference> first_difference;
};

// From the start to the end of the log.
ReplayResult replay(const Setting& setting, const WorkLog& log);

// Seeking. State at any tick, equal to playing straight to it; keeps a copy of the state every keyframe_ticks.
class Player {
public:
    Player(const Setting& setting, const WorkLog& log); // both must outlive the player
    const ExerciseState& seek(std::int64_t tick);       // clamped to 0 .. last tick
    std::int64_t last_tick() const;

private:
    static constexpr std::int64_t keyframe_ticks = 600;
    const Setting& setting_;
    const WorkLog& log_;
    ExerciseState current_;
    std::vector<ExerciseState> keyframes_;
};

} // namespace sondeyard::field
