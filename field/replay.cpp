#include "field/replay.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

std::string difference(const Checkpoint& then, const Observation& now) {
    return fmt::format(
        "by tick {} ({:.1f} s) the replay differs from the log: feet {:.6f} m, tip {:.6f} m, signal {:.3f} dB, "
        "dip {:.3f} deg apart",
        then.tick, static_cast<double>(then.tick) * tick_s, glm::distance(then.feet_m, now.feet_m),
        glm::distance(then.tip_m, now.tip_m), now.signal_dbpt - then.signal_dbpt,
        (now.has_axis ? now.dip_deg : 0.0) - then.dip_deg);
}

} // namespace

ReplayResult replay(const Setting& setting, const WorkLog& log) {
    ReplayResult result{.state = start(setting), .ticks = 0, .checkpoints = 0, .first_difference = std::nullopt};
    auto checkpoint = log.checkpoints.begin();
    for (const Action& action : log.actions) {
        const Observation seen = step(setting, result.state, action);
        for (; checkpoint != log.checkpoints.end() && checkpoint->tick == result.state.tick; ++checkpoint) {
            ++result.checkpoints;
            if (checkpoint->digest != result.state.digest && !result.first_difference) {
                result.first_difference = ReplayDifference{result.state.tick, difference(*checkpoint, seen)};
            }
        }
    }
    result.ticks = result.state.tick;
    return result;
}

Player::Player(const Setting& setting, const WorkLog& log) : setting_(setting), log_(log), current_(start(setting)) {
    keyframes_.push_back(current_);
}

std::int64_t Player::last_tick() const { return static_cast<std::int64_t>(log_.actions.size()); }

const ExerciseState& Player::seek(std::int64_t tick) {
    tick = std::clamp<std::int64_t>(tick, 0, last_tick());
    const auto frame = std::min(static_cast<std::size_t>(tick / keyframe_ticks), keyframes_.size() - 1);
    if (current_.tick > tick || current_.tick < keyframes_[frame].tick) {
        current_ = keyframes_[frame];
    }
    while (current_.tick < tick) {
        const std::int64_t before = current_.tick;
        step(setting_, current_, log_.actions[static_cast<std::size_t>(before)]);
        if (current_.tick == before) {
            break; // finished: nothing moves any more
        }
        if (current_.tick % keyframe_ticks == 0 &&
            static_cast<std::size_t>(current_.tick / keyframe_ticks) == keyframes_.size()) {
            keyframes_.push_back(current_);
        }
    }
    return current_;
}

} // namespace sondeyard::field
