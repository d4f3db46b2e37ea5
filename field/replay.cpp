#include "field/replay.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

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

// The first `size` of all; `have` holds the first few, or more of them than that.
template <typename T>
std::vector<T> first_of(const std::vector<T>& all, std::size_t size, std::vector<T> have) {
    have.resize(std::min(have.size(), size));
    have.insert(have.end(), all.begin() + std::ssize(have), all.begin() + static_cast<std::ptrdiff_t>(size));
    return have;
}

// Takes over what has grown beyond what is there already.
template <typename T>
void grow(std::vector<T>& all, const std::vector<T>& longer) {
    all.insert(all.end(), longer.begin() + std::ssize(all), longer.end());
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

// ---- Player ----

Player::Player(const Setting& setting, const WorkLog& log)
    : setting_(setting), log_(log), current_(start(setting)), seen_(observe(setting, current_)),
      trail_(current_.trail) {
    timeline_.take(std::nullopt, seen_, current_);
    keep_keyframe();
}

std::int64_t Player::last_tick() const { return ended_ ? prepared() : static_cast<std::int64_t>(log_.actions.size()); }

void Player::keep_keyframe() {
    // Not copied with the rest.
    std::vector<TrailPoint> trail = std::exchange(current_.trail, {});
    std::vector<Sounding> soundings = std::exchange(current_.soundings, {});
    std::vector<Notebook> undo = std::exchange(current_.undo, {});
    std::shared_ptr<const std::vector<Notebook>> kept =
        undo_changed_ ? std::make_shared<const std::vector<Notebook>>(undo) : keyframes_.back().undo;
    keyframes_.push_back({current_, seen_, trail.size(), soundings.size(), std::move(kept)});
    undo_changed_ = false;
    current_.trail = std::move(trail);
    current_.soundings = std::move(soundings);
    current_.undo = std::move(undo);
}

void Player::go_to(const Keyframe& keyframe) {
    std::vector<TrailPoint> trail = std::exchange(current_.trail, {}); // of the same exercise: only longer or shorter
    std::vector<Sounding> soundings = std::exchange(current_.soundings, {});
    current_ = keyframe.state;
    current_.trail = first_of(trail_, keyframe.trail_size, std::move(trail));
    current_.soundings = first_of(soundings_, keyframe.soundings_size, std::move(soundings));
    current_.undo = *keyframe.undo;
    seen_ = keyframe.seen;
}

bool Player::step_on() {
    const std::int64_t before = current_.tick;
    if (before >= last_tick()) {
        return false;
    }
    const Action& action = log_.actions[static_cast<std::size_t>(before)];
    const Observation seen = step(setting_, current_, action);
    if (current_.tick == before) { // finished: nothing moves any more
        ended_ = true;
        return false;
    }
    seen_ = seen;
    if (current_.tick > prepared()) {
        timeline_.take(action.command, seen_, current_);
        grow(trail_, current_.trail);
        grow(soundings_, current_.soundings);
        undo_changed_ = undo_changed_ || action.command;
        if (current_.tick % keyframe_ticks == 0) {
            keep_keyframe();
        }
    }
    return true;
}

const ExerciseState& Player::seek(std::int64_t tick) {
    tick = std::clamp<std::int64_t>(tick, 0, last_tick());
    const auto frame = std::min(static_cast<std::size_t>(tick / keyframe_ticks), keyframes_.size() - 1);
    if (current_.tick > tick || current_.tick < keyframes_[frame].state.tick) {
        go_to(keyframes_[frame]);
    }
    while (current_.tick < tick && step_on()) {
    }
    return current_;
}

bool Player::prepare(std::int64_t ticks) {
    const std::int64_t here = current_.tick;
    seek(prepared());
    bool more = true;
    for (std::int64_t i = 0; i < ticks && more; ++i) {
        more = step_on();
    }
    seek(here);
    return prepared() < last_tick();
}

} // namespace sondeyard::field
