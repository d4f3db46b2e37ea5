// Frame time in, fixed ticks out. Knows nothing of windows or exercises.
//
//   frame time   |--16--|---25---|--16--|-----------900------------|--16--|
//   ticks due        1      1       1              12 (budget)         ..     the rest is dropped
//
// A late frame is caught up, at most `most_ticks_a_frame` at once so that one slow frame does not make the next one
// slow too. What is more than `most_behind_s` late is given up: the exercise then ran slower than the clock on the
// wall, and nothing in a log or a score can tell, since both count ticks.
#pragma once

#include "field/body.hpp"

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

class StepClock {
public:
    static constexpr int most_ticks_a_frame = 12;
    static constexpr double most_behind_s = 0.5;

    // Ticks to step now, given the seconds since the last call. Negative or non-finite time counts as none.
    int advance(double frame_s) {
        if (paused_) {
            return 0;
        }
        if (std::isfinite(frame_s) && frame_s > 0.0) {
            behind_s_ += frame_s;
        }
        if (behind_s_ > most_behind_s) {
            behind_s_ = most_ticks_a_frame * field::tick_s;
        }
        // A hair is added because sixty times 1/60 is a little less than 1 in binary.
        const int due = static_cast<int>(std::floor(behind_s_ / field::tick_s + 1e-9));
        const int now = std::min(due, most_ticks_a_frame);
        behind_s_ = std::max(0.0, behind_s_ - now * field::tick_s);
        return now;
    }

    void pause() { paused_ = true; }
    void go_on() {
        paused_ = false;
        behind_s_ = 0.0; // the time spent in the pause is not owed
    }
    bool paused() const { return paused_; }

private:
    double behind_s_ = 0.0;
    bool paused_ = false;
};

} // namespace sondeyard::ui
