// Playing a work log again, straight or to any tick, and checking it against what was seen then. A log that was read back
// and a record kept in memory (recording.hpp) are the same thing here.
#pragma once

#include "field/timeline.hpp"
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

// Seeking: state and display at any tick, equal to playing straight to it. A keyframe every second holds the state without
// what only grows (trail, soundings) or is large and seldom changes (earlier notebooks), which are kept once; so a seek is a
// copy and less than a second's steps, and an hour takes some 20 MB.
class Player {
public:
    Player(const Setting& setting, const WorkLog& log); // both must outlive the player

    const ExerciseState& seek(std::int64_t tick); // clamped to 0 .. last_tick()
    const ExerciseState& state() const { return current_; }
    const Observation& seen() const { return seen_; } // as displayed at that tick, what was said of a command included
    std::int64_t last_tick() const;                   // of the log, or where the exercise was finished in it

    // Plays on by so many ticks from the farthest place reached, so that keyframes and timeline grow; seeks do the same when
    // they go beyond. False: all of the log has been played.
    bool prepare(std::int64_t ticks);
    std::int64_t prepared() const { return timeline_.last_tick(); } // the farthest tick reached
    const Timeline& timeline() const { return timeline_; }          // up to there
    std::span<const TrailPoint> trail() const { return trail_; }    // up to there

private:
    static constexpr std::int64_t keyframe_ticks = 60;
    struct Keyframe {
        ExerciseState state; // trail, soundings and undo left out
        Observation seen;
        std::size_t trail_size = 0;
        std::size_t soundings_size = 0;
        std::shared_ptr<const std::vector<Notebook>> undo;
    };
    void keep_keyframe();
    void go_to(const Keyframe& keyframe);
    bool step_on(); // false: the log, or the exercise, ends here

    const Setting& setting_;
    const WorkLog& log_;
    ExerciseState current_;
    Observation seen_;
    std::vector<Keyframe> keyframes_;
    std::vector<TrailPoint> trail_; // as far as it was played
    std::vector<Sounding> soundings_;
    Timeline timeline_;
    bool undo_changed_ = true; // since the last keyframe
    bool ended_ = false;       // the exercise was finished before the log's last tick
};

} // namespace sondeyard::field
