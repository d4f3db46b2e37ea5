// Prove and call: facing pair, lift check, walking off; then locate, depth, tilt and dig box.
#include "field/level_line_operator.hpp"
#include "sim/units.hpp"

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

// ---- Prove ----

namespace {

// How many readings a side: the weaker the signal, the more a single one scatters.
int readings_for(double over_floor_db, double depth_m, double spacing_m) {
    constexpr double wanted = 0.015; // of the depth
    constexpr double noise_to_floor = 0.7;
    const double scatter = (1.0 + depth_m / spacing_m) / 3.0 * noise_to_floor * std::pow(10.0, -over_floor_db / 20.0);
    return std::clamp(static_cast<int>(std::ceil(scatter * scatter / (wanted * wanted))), 1, 12);
}

} // namespace

void LevelLine::prove() {
    decide([this] { walk_to(peak_m_, 0.0); });
    hold_plumb();
    settle();
    decide([this] {
        const std::size_t before = notebook().readings.size();
        const int count = readings_for(seen().signal_dbpt - floor_dbpt(), depth_m_, brief().antenna_spacing_m);
        read_depth(count);
        turn_by(180.0);
        read_depth(count);
        decide([this] { cross_pair_if_needed(); });
        decide([this, before, count] {
            double sum = 0.0; // of one over distance: that is what the ratio of the antennas scatters evenly in
            int used = 0;
            const auto& readings = notebook().readings;
            for (std::size_t i = before; i < readings.size(); ++i) {
                if (readings[i].counts) {
                    sum += 1.0 / (*readings[i].depth_m + brief().tip_to_antenna_m);
                    ++used;
                }
            }
            if (used > 0) {
                depth_m_ = used / sum - brief().tip_to_antenna_m;
                depth_read_ = true;
            }
            hold_height(lift_m);
            read_lifted(2 * count);
            hold_height(0.0);
        });
    });
}

// Deep down one reading scatters by more than the half metre that is looked for: read again until two agree.
void LevelLine::read_lifted(int most) {
    constexpr int even_when_strong = 4;
    for (int i = 0; i < std::max(most, even_when_strong); ++i) {
        decide([this] {
            const std::optional<LiftCheck> lift = find_lift_check(notebook());
            if (!lift || !lift->holds) {
                read_depth(1);
            }
        });
    }
}

void LevelLine::cross_pair_if_needed() {
    const bool agrees = std::ranges::any_of(
        notebook().readings, [this](const Reading& r) { return r.agreement && *r.agreement <= brief().pair_share; });
    if (!agrees) {
        turn_by(90.0);
        read_depth(2);
        turn_by(180.0);
        read_depth(2);
    }
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

void LevelLine::call() {
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
        white_line_and_finish(locate_m_, depth_m_,
                              track_known_ ? std::optional(Lie{along_deg_, downhill_evidence(), tilt_deg_})
                                           : std::nullopt);
    });
}

} // namespace sondeyard::field
