// Prove and call: facing pair, lift check, walking off; then locate, depth, tilt and dig box.
#include "field/level_line_operator.hpp"
#include "sim/units.hpp"

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

// ---- Prove ----

void LevelLine::prove() {
    decide([this] {
        prove_depth(peak_m_, depth_m_, [this](double depth_m) {
            depth_m_ = depth_m;
            depth_read_ = true;
        });
    });
}

// One depth away in four directions.
void LevelLine::walk_off() {
    decide(
        [this] { probe_each(places_to_walk_off(peak_m_, depth_m_, along_deg_), [](const std::vector<Sample>&) {}); });
}

// ---- Call ----

// The stronger plumb point is on the raised side: half a decibel is a degree. Without both, the peak's side of the
// level line.
double LevelLine::downhill_evidence() const {
    constexpr double chance_db = 0.15;
    constexpr double clear_tilt_deg = 3.0;
    if (plumb_[0] && plumb_[1]) {
        return (plumb_[1]->dbpt - plumb_[0]->dbpt) / chance_db;
    }
    const bool ahead_raised = tilted() && std::abs(sim::wrap_180(*raised_deg_ - along_deg_)) < 90.0;
    return !tilted() ? 0.0 : (ahead_raised ? -1.0 : 1.0) * tilt_deg_ / clear_tilt_deg;
}

void LevelLine::forget() {
    track_known_ = level_found_ = steep_ = depth_read_ = false;
    scan_.clear();
    plumb_ = {};
    raised_deg_.reset();
    tilt_deg_ = peak_over_level_db_ = 0.0;
}

void LevelLine::say() {
    decide([this] { mark_at(locate_m_, MarkKind::locate); });
    decide([this] {
        depth_m_ += height_m(brief().terrain, locate_m_) - height_m(brief().terrain, peak_m_); // read at the peak
        command(CallDepth{depth_m_});
        if (!level_found_ && steep_) {
            command(CallTilt{TiltCall::on_end, 0.0, std::nullopt});
        } else if (tilt_deg_ < 5.0 || !tilted()) {
            command(CallTilt{TiltCall::level, 0.0, tilt_deg_});
        } else if (tilt_deg_ > 75.0) {
            command(CallTilt{TiltCall::on_end, 0.0, tilt_deg_});
        } else {
            command(CallTilt{TiltCall::tilted, *raised_deg_, tilt_deg_});
        }
    });
}

void LevelLine::call() {
    say();
    decide([this] {
        white_line_and_finish(locate_m_, depth_m_,
                              track_known_ ? std::optional(Lie{along_deg_, downhill_evidence(), tilt_deg_})
                                           : std::nullopt);
    });
}

} // namespace sondeyard::field
