// A level coil along the track falls silent at the plumb points; beyond them it rises again to a ghost peak, a fifth of
// the main one. Working outward from the main peak to the first silence on each side is what keeps the ghosts out.
#include "field/level_line_coil.hpp"

#include "field/tilt_fix.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

double CoilMethod::amplitude(const Sample& s) { return std::pow(10.0, s.signal_dbpt / 20.0); }

void CoilMethod::find_track() {
    paperwork();
    come_near();
    decide([this] { walk_to(best_m_, 0.0); });
    hold_plumb();
    decide([this] { climb_to_track(); });
}

void CoilMethod::climb_to_track() {
    decide([this] {
        constexpr double first_step_m = 0.5;
        constexpr double last_step_m = 0.2;
        best_m_ = seen().tip_m;
        climb_on_ground(first_step_m, last_step_m);
    });
    decide([this] {
        origin_m_ = locate_m_ = best_m_;
        turn_for_heading();
    });
    decide([this] {
        constexpr double half_width_m = 0.7;
        centre_across(half_width_m, 3);
    });
}

// ---- Holding the coil ----

// Turns to the nearer end of the track: a coil hears the same either way round.
void CoilMethod::face_along() {
    decide([this] {
        constexpr double near_enough_deg = 0.5;
        double turn = sim::wrap_180(along_deg_ - seen().facing_deg);
        if (std::abs(turn) > 90.0) {
            turn = sim::wrap_180(turn + 180.0);
        }
        if (std::abs(turn) > near_enough_deg) {
            turn_by(turn);
        }
    });
}

void CoilMethod::hold_coil(sim::CoilAttitude attitude) {
    decide([this, attitude] {
        if (seen().coil != attitude) {
            command(TurnCoil{attitude});
        }
    });
}

void CoilMethod::coil_at(double along_m, sim::CoilAttitude attitude, Use use) {
    constexpr double listen_s = 0.5;
    walk_to(at(along_m), 0.0);
    face_along();
    hold_coil(attitude);
    settle();
    average(listen_s, std::move(use));
}

// Level coil, an eighth of half a turn at a time: its square goes as the cosine of twice the angle off the track.
void CoilMethod::turn_for_heading() {
    constexpr int turns = 8;
    struct Sums {
        double cosine = 0.0;
        double sine = 0.0;
    };
    const auto sums = std::make_shared<Sums>();
    walk_to(origin_m_, 0.0);
    hold_coil(sim::CoilAttitude::level);
    for (int i = 0; i < turns; ++i) {
        settle();
        average(0.3, [this, sums](const Sample& s) {
            const double twice = 2.0 * sim::radians(seen().facing_deg);
            const double square = std::pow(10.0, s.signal_dbpt / 10.0);
            sums->cosine += square * std::cos(twice);
            sums->sine += square * std::sin(twice);
        });
        turn_by(180.0 / turns);
    }
    decide([this, sums] { along_deg_ = sim::wrap_360(0.5 * sim::degrees(std::atan2(sums->sine, sums->cosine))); });
}

void CoilMethod::centre_across(double half_width_m, int tries_left) {
    const glm::dvec2 middle = origin_m_;
    const glm::dvec2 right = direction_of(along_deg_ + 90.0);
    if (tries_left == 0) {
        return;
    }
    if (!walkway().can_hold(middle + half_width_m * right) || !walkway().can_hold(middle - half_width_m * right)) {
        centre_across(0.6 * half_width_m, tries_left - 1);
        return;
    }
    const auto heard = std::make_shared<std::vector<double>>();
    for (const double side : {-1.0, 0.0, 1.0}) {
        decide([=, this] {
            origin_m_ = middle + side * half_width_m * right;
            coil_at(0.0, sim::CoilAttitude::level, [heard](const Sample& s) { heard->push_back(s.signal_dbpt); });
        });
    }
    decide([=, this] {
        const double bend = 2.0 * (*heard)[1] - (*heard)[0] - (*heard)[2];
        const double tilt = (*heard)[2] - (*heard)[0];
        const double shift =
            bend > 0.2 ? 0.5 * half_width_m * tilt / bend : (tilt > 0.0 ? half_width_m : -half_width_m);
        origin_m_ = middle + std::clamp(shift, -half_width_m, half_width_m) * right;
        if (bend > 0.2) { // across a level sonde the signal goes as (1 + (y/d)^2)^-3/2
            const double fall = std::pow(10.0, 0.5 * bend / 30.0);
            scale_m_ = std::clamp(half_width_m / std::sqrt(fall * fall - 1.0), 0.3, 6.0);
        }
        if (std::abs(shift) > 0.3 * half_width_m) {
            centre_across(half_width_m, tries_left - 1);
        }
    });
}

// ---- Along the track ----

// Level coil outward from the main peak, until it has been silent and is rising again.
void CoilMethod::walk_out(double side, double along_m) {
    constexpr double step = 0.14; // of the scale
    constexpr double farthest = 2.0;
    coil_at(side * along_m, sim::CoilAttitude::level, [=, this](const Sample& s) {
        const double next_m = along_m + step * scale_m_;
        if (there_) {
            level_coil_.push_back({side * along_m, s.signal_dbpt, 0.0});
        }
        double quietest = 1e9;
        double loudest = 0.0;
        for (const TrackSample& t : level_coil_) {
            if (side * t.along_m >= 0.0) {
                quietest = std::min(quietest, std::pow(10.0, t.dbpt / 20.0));
                loudest = std::max(loudest, std::pow(10.0, t.dbpt / 20.0));
            }
        }
        const bool passed = there_ && quietest < 0.3 * loudest && amplitude(s) > 1.5 * quietest;
        if (!passed && next_m < farthest * scale_m_ && walkway().can_hold(at(side * next_m))) {
            walk_out(side, next_m);
        }
    });
}

void CoilMethod::find_nulls() {
    for (const double side : {1.0, -1.0}) {
        decide([this, side] {
            const TrackSample* quietest = nullptr;
            double farthest_m = 0.0;
            for (const TrackSample& t : level_coil_) {
                farthest_m = std::max(farthest_m, side * t.along_m);
                if (side * t.along_m > 0.0 && (quietest == nullptr || t.dbpt < quietest->dbpt)) {
                    quietest = &t;
                }
            }
            if (quietest == nullptr || side * quietest->along_m >= farthest_m) {
                return; // it never rose again: no silence was passed
            }
            close_in_on_null(quietest->along_m, sim::CoilAttitude::level, 2,
                             [this, side](double along_m) { plumb_along_m_[side > 0.0 ? 0 : 1] = along_m; });
        });
    }
}

void CoilMethod::scan_track() {
    decide([this] { turn_for_heading(); });
    decide([this] { centre_across(std::clamp(0.5 * scale_m_, 0.3, 1.5), 2); });
    decide([this] { walk_out(1.0, 0.0); });
    decide([this] { walk_out(-1.0, 0.0); });
    find_nulls();
}

// On both sides of a silence the signal grows with distance: two places and their signals give where it would be
// nothing.
void CoilMethod::close_in_on_null(double along_m, sim::CoilAttitude attitude, int rounds_left,
                                  std::function<void(double)> use) {
    if (rounds_left == 0) {
        use(along_m);
        return;
    }
    const double half_m = (rounds_left == 2 ? 0.14 : 0.10) * scale_m_;
    const auto before = std::make_shared<double>(0.0);
    coil_at(along_m - half_m, attitude, [before](const Sample& s) { *before = amplitude(s); });
    coil_at(along_m + half_m, attitude, [=, this, use = std::move(use)](const Sample& s) {
        const double after = amplitude(s);
        const double null_m = along_m - half_m + 2.0 * half_m * *before / (*before + after);
        close_in_on_null(there_ ? null_m : along_m, attitude, rounds_left - 1, use);
    });
}

// ---- Working out ----

bool CoilMethod::take_loudest() {
    if (!level_coil_.empty()) {
        constexpr double reach = 0.35;
        peak_along_m_ = peak_on_track(level_coil_, reach * scale_m_).along_m;
        locate_m_ = at(peak_along_m_);
        depth_m_ = scale_m_;
    }
    return both_nulls();
}

double CoilMethod::take_depth_from_spacing(double side) {
    const double from_antenna_m = null_spacing_m() / plumb_spacing(std::min(tilt_deg_, steepest_worked_deg));
    depth_m_ = std::max(from_antenna_m - brief().tip_to_antenna_m, 0.1);
    raised_deg_ = sim::wrap_360(along_deg_ + (side > 0.0 ? 0.0 : 180.0));
    return from_antenna_m;
}

// ---- Marks and the rest ----

void CoilMethod::mark_plumb_points() {
    for (const std::size_t i : {0U, 1U}) {
        decide([this, i] {
            if (plumb_along_m_[i]) {
                coil_at(*plumb_along_m_[i], sim::CoilAttitude::level, [](const Sample&) {});
                command(PlaceMark{MarkKind::plumb});
            }
        });
    }
}

void CoilMethod::walk_off() {
    decide([this] {
        probe_each(places_to_walk_off(at(peak_along_m_), depth_m_, along_deg_), [](const std::vector<Sample>&) {});
    });
}

void CoilMethod::call() {
    decide([this] { mark_at(locate_m_, MarkKind::locate); });
    decide([this] {
        command(CallDepth{depth_m_});
        if (tilt_deg_ < 5.0 || !raised_deg_) {
            command(CallTilt{TiltCall::level, 0.0, tilt_deg_});
        } else {
            command(CallTilt{tilt_deg_ > 75.0 ? TiltCall::on_end : TiltCall::tilted, *raised_deg_, tilt_deg_});
        }
        white_line_and_finish(locate_m_, depth_m_, Lie{along_deg_, downhill_evidence_, tilt_deg_});
    });
}

} // namespace sondeyard::field
