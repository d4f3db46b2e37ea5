// Fix: level line, track, peak and plumb points, and from them where the sonde is.
#include "field/level_line_operator.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

// An angle of an undirected axis brought into [-90, 90).
double wrap_90(double angle_deg) { return sim::wrap_180(2.0 * angle_deg) / 2.0; }

} // namespace

void LevelLine::work() {
    paperwork();
    come_near();
    rough_peak();
    rough_depth();
    find_level_line();
    locate_here();
    call();
}

void LevelLine::locate_here() {
    straighten_track();
    scan_track();
    find_plumb_points();
    mark_what_was_found();
    prove();
    walk_off();
}

// Time is up: what is known is marked and called as it stands.
void LevelLine::wrap_up() {
    decide([this] {
        if (scan_.empty()) {
            locate_m_ = peak_m_ = level_found_ ? origin_m_ : best_m_;
        }
        place_by_rule();
    });
    call();
}

// ---- Fix ----

void LevelLine::rough_peak() {
    decide([this] { walk_to(best_m_, 0.0); });
    hold_plumb();
    settle();
    constexpr double first_step_m = 0.6;
    constexpr double last_step_m = 0.14;
    decide([this] {
        best_m_ = seen().tip_m;
        climb_on_ground(first_step_m, last_step_m);
    });
}

// One reading to know the scale of things; struck out again, since it was not taken at the peak.
void LevelLine::rough_depth() {
    decide([this] {
        origin_m_ = locate_m_ = peak_m_ = best_m_;
        walk_to(best_m_, 0.0);
    });
    hold_plumb();
    read_depth(1);
    decide([this] {
        if (notebook().readings.empty()) {
            return;
        }
        const Reading& reading = notebook().readings.back();
        if (reading.depth_m) {
            depth_m_ = std::clamp(*reading.depth_m, 0.3, 8.0);
        }
        command(DeleteReading{reading.id});
    });
}

double LevelLine::slope_on_track_deg(const glm::dvec3& axis) const {
    const double ahead = glm::dot(plan(axis), direction_of(along_deg_));
    return wrap_90(sim::degrees(std::atan2(axis.z, ahead)));
}

void LevelLine::point_track_along(const glm::dvec2& level_part) {
    const double heading = heading_of(level_part);
    along_deg_ = std::abs(sim::wrap_180(heading - along_deg_)) > 90.0 ? sim::wrap_360(heading + 180.0) : heading;
}

// From the rough peak along the field's level part towards where the field lies level. Along the track the field's
// slope falls steadily, three radians in a depth over a level sonde; so a rising field says the level line is ahead, a
// falling one behind.
void LevelLine::find_level_line() {
    decide([this] {
        probe(best_m_, [this](const Sample& s) {
            constexpr double steep_from_deg = 70.0;
            if (!s.axis) {
                return; // too weak for the dial: the peak has to do
            }
            track_known_ = true;
            origin_m_ = s.place_m;
            along_deg_ = heading_of(plan(*s.axis));
            const double slope = slope_on_track_deg(*s.axis);
            steep_ = std::abs(slope) > steep_from_deg;
            if (steep_) {
                look_round();
            } else {
                seek_level(0.0, slope, (slope < 0.0 ? -0.25 : 0.25) * depth_m_, 8);
            }
        });
    });
    decide([this] { centre_across(0.5 * depth_m_, 3); });
}

// Steep: the needle says little where the field stands plumb. How soon the field comes down to level on each side tells
// which way the sonde's lowered end points.
void LevelLine::look_round() {
    constexpr int bearings = 8;
    std::vector<glm::dvec2> places;
    places.reserve(bearings);
    for (int i = 0; i < bearings; ++i) {
        places.push_back(best_m_ + 0.6 * depth_m_ * direction_of(45.0 * i));
    }
    probe_each(places, [this](const std::vector<Sample>& samples) {
        glm::dvec2 lowered{0.0};
        std::optional<double> least_deg;
        for (const Sample& s : samples) {
            if (!s.axis) {
                continue;
            }
            const glm::dvec2 outward = glm::normalize(s.place_m - origin_m_);
            const double ahead = glm::dot(plan(*s.axis), outward);
            double rise_deg = wrap_90(sim::degrees(std::atan2(s.axis->z, ahead)));
            rise_deg += rise_deg < -60.0 ? 180.0 : 0.0; // not yet plumb on this side
            if (samples.size() == bearings) {
                lowered -= rise_deg * outward;
            } else if (!least_deg || rise_deg < *least_deg) {
                least_deg = rise_deg;
                lowered = outward;
            }
        }
        if (glm::length(lowered) > 0.0) {
            along_deg_ = heading_of(lowered);
        }
        seek_level(0.0, 90.0, 0.25 * depth_m_, 9);
    });
}

// Steps along the track until the field's slope has changed sign. Ahead it falls, behind it rises.
void LevelLine::seek_level(double along_m, double slope_deg, double step_m, int steps_left) {
    constexpr double still_plumb_deg = 60.0; // beyond this a change of sign is the field passing through plumb
    const double side = step_m < 0.0 ? -1.0 : 1.0;
    if (steps_left == 0) {
        return;
    }
    const double next_m = along_m + step_m;
    probe(at(next_m), [=, this](const Sample& s) {
        if (!there_ || !s.axis) {
            if (there_) {
                return; // too weak so far out
            }
            seek_level(next_m, slope_deg, step_m, steps_left - 1);
            return;
        }
        const double slope = slope_on_track_deg(*s.axis);
        const bool crossed = side * slope <= 0.0 && side * slope > -still_plumb_deg;
        if (crossed) {
            close_in_on_level(along_m, side * slope_deg < 0.0 ? side * 90.0 : slope_deg, next_m, slope, 5);
        } else {
            seek_level(next_m, slope, step_m, steps_left - 1);
        }
    });
}

void LevelLine::close_in_on_level(double before_m, double before_deg, double after_m, double after_deg,
                                  int probes_left) {
    constexpr double level_enough_deg = 1.0;
    const double part = std::clamp(before_deg / (before_deg - after_deg), 0.1, 0.9);
    const double between_m = before_m + part * (after_m - before_m);
    probe(at(between_m), [=, this](const Sample& s) {
        if (!there_ || !s.axis) {
            return;
        }
        const double slope = slope_on_track_deg(*s.axis);
        if (std::abs(slope) < level_enough_deg || probes_left == 0 || std::abs(after_m - before_m) < 0.03 * depth_m_) {
            take_level(s);
        } else if (slope * before_deg > 0.0) {
            close_in_on_level(between_m, slope, after_m, after_deg, probes_left - 1);
        } else {
            close_in_on_level(before_m, before_deg, between_m, slope, probes_left - 1);
        }
    });
}

// On the level line the needle lies along the track.
void LevelLine::take_level(const Sample& s) {
    level_found_ = true;
    origin_m_ = s.place_m;
    level_dbpt_ = s.signal_dbpt;
    point_track_along(plan(*s.axis));
}

// Across the track the signal is the same at equal distances on both sides, and falls off sharply: its top is found to
// a hundredth of the depth.
void LevelLine::centre_across(double half_width_m, int tries_left) {
    const glm::dvec2 right = direction_of(along_deg_ + 90.0);
    const std::vector<glm::dvec2> places = {origin_m_ - half_width_m * right, origin_m_,
                                            origin_m_ + half_width_m * right};
    if (tries_left == 0 || !track_known_) {
        return;
    }
    if (!std::ranges::all_of(places, [this](const glm::dvec2& p) { return walkway().can_hold(p); })) {
        centre_across(0.6 * half_width_m, tries_left - 1);
        return;
    }
    probe_each(places, [=, this](const std::vector<Sample>& s) {
        if (s.size() != 3) {
            return;
        }
        const double bend = 2.0 * s[1].signal_dbpt - s[0].signal_dbpt - s[2].signal_dbpt;
        const double tilt = s[2].signal_dbpt - s[0].signal_dbpt;
        const double shift =
            bend > 0.3 ? 0.5 * half_width_m * tilt / bend : (tilt > 0.0 ? half_width_m : -half_width_m);
        origin_m_ += std::clamp(shift, -half_width_m, half_width_m) * right;
        if (std::abs(shift) > 0.25 * half_width_m) {
            centre_across(half_width_m, tries_left - 1);
        }
    });
}

// Once more from the better place: level line, needle, middle.
void LevelLine::straighten_track() {
    for (int round = 0; round < 2; ++round) {
        decide([this] {
            if (!level_found_) {
                return;
            }
            probe(origin_m_, [this](const Sample& s) {
                if (!there_ || !s.axis) {
                    return;
                }
                take_level(s);
                const double slope = slope_on_track_deg(*s.axis);
                constexpr double level_enough_deg = 1.0;
                if (std::abs(slope) > level_enough_deg) {
                    seek_level(0.0, slope,
                               (slope < 0.0 ? -1.0 : 1.0) * std::max(0.12, std::abs(slope) / 100.0) * depth_m_, 4);
                }
            });
            decide([this] { centre_across(0.5 * depth_m_, 2); });
        });
    }
    decide([this] {
        if (level_found_) {
            probe(origin_m_, [this](const Sample& s) {
                if (there_ && s.axis) {
                    take_level(s);
                }
            });
        }
    });
}

// ---- Along the track ----

constexpr double scan_step = 0.125; // of the depth
constexpr int most_scanned = 40;

void LevelLine::scan_track() {
    decide([this] {
        if (!track_known_) {
            return;
        }
        // Half a depth beyond the level line on the one side and beyond the rough peak on the other.
        const double step_m = scan_step * depth_m_;
        const double rough_m = glm::dot(best_m_ - origin_m_, direction_of(along_deg_));
        const int first = static_cast<int>(std::floor(std::min(0.0, rough_m) / step_m)) - 4;
        const int last = static_cast<int>(std::ceil(std::max(0.0, rough_m) / step_m)) + 4;
        std::vector<glm::dvec2> places;
        for (int i = first; i <= std::min(last, first + most_scanned); ++i) {
            places.push_back(at(i * step_m));
        }
        probe_each(places, [this](const std::vector<Sample>& samples) {
            for (const Sample& s : samples) {
                scan_.push_back({glm::dot(s.place_m - origin_m_, direction_of(along_deg_)), s.signal_dbpt,
                                 s.axis ? slope_on_track_deg(*s.axis) : 0.0});
            }
            extend_scan(10);
        });
    });
    decide([this] { place_by_rule(); });
}

// Goes on at the end where the signal still is near its strongest.
void LevelLine::extend_scan(int extensions_left) {
    constexpr double fallen_db = 0.8;
    if (scan_.empty() || extensions_left == 0) {
        return;
    }
    std::ranges::sort(scan_, {}, &TrackSample::along_m);
    const double strongest = std::ranges::max_element(scan_, {}, &TrackSample::dbpt)->dbpt;
    const bool ahead = scan_.back().dbpt >= scan_.front().dbpt;
    const TrackSample& end = ahead ? scan_.back() : scan_.front();
    if (end.dbpt < strongest - fallen_db) {
        return;
    }
    std::vector<glm::dvec2> places;
    for (int i = 1; i <= 2; ++i) {
        places.push_back(at(end.along_m + (ahead ? i : -i) * scan_step * depth_m_));
    }
    probe_each(places, [=, this](const std::vector<Sample>& samples) {
        for (const Sample& s : samples) {
            scan_.push_back({glm::dot(s.place_m - origin_m_, direction_of(along_deg_)), s.signal_dbpt,
                             s.axis ? slope_on_track_deg(*s.axis) : 0.0});
        }
        if (!samples.empty()) {
            extend_scan(extensions_left - 1);
        }
    });
}

void LevelLine::place_by_rule() {
    constexpr double curve_reach = 0.5; // of the depth
    if (scan_.empty()) {
        return;
    }
    TrackPeak peak = peak_on_track(scan_, curve_reach * depth_m_);
    peak_m_ = at(peak.along_m);
    constexpr double clearly_db = 0.7;
    if (peak.dbpt < best_dbpt_ - clearly_db) { // something kept him from the place that he had found before
        peak.dbpt = best_dbpt_;
        peak_m_ = best_m_;
    }
    locate_m_ = peak_m_;
    if (!level_found_) {
        return;
    }
    peak_over_level_db_ = std::max(0.0, peak.dbpt - peak.level_dbpt);
    locate_m_ = origin_m_ + share_from_level_to_peak(peak_over_level_db_) * (peak_m_ - origin_m_);
    tilt_deg_ = tilt_from_peak_over_level_deg(peak_over_level_db_);
    raised_deg_ = heading_of(peak_m_ - origin_m_); // the peak lies on the raised side
}

// How far the field has turned from level on the way out on one side: 0 on the level line, 90 at the plumb point, more
// beyond.
double LevelLine::turned_deg(double side, double slope_deg) const {
    return side * slope_deg <= 0.0 ? -side * slope_deg : 180.0 - side * slope_deg;
}

void LevelLine::find_plumb_points() {
    decide([this] {
        if (!level_found_) {
            if (steep_) { // no level line in reach: the plumb point is by the peak
                origin_m_ = peak_m_;
            }
            return;
        }
        constexpr double first = 0.4; // of the depth
        seek_plumb(1.0, first * depth_m_, 0.0, 0.0, 2);
        decide([this] { seek_plumb(-1.0, first * depth_m_, 0.0, 0.0, 2); });
    });
}

void LevelLine::seek_plumb(double side, double along_m, double before_m, double before_turn_deg, int misses_left) {
    constexpr double farthest = 1.8; // of the depth, from the level line
    constexpr double step = 0.18;
    constexpr double weak_above_floor_db = 15.0;
    if (along_m > farthest * depth_m_ || misses_left == 0) {
        return;
    }
    probe(at(side * along_m), [=, this](const Sample& s) {
        const double next_m = along_m + step * depth_m_;
        if (!there_) {
            seek_plumb(side, next_m, before_m, before_turn_deg, misses_left - 1);
        } else if (s.axis && s.signal_dbpt > floor_dbpt() + weak_above_floor_db) {
            const double turn = turned_deg(side, slope_on_track_deg(*s.axis));
            if (turn >= 90.0) {
                close_in_on_plumb(side, before_m, before_turn_deg, along_m, turn, 4);
            } else {
                seek_plumb(side, next_m, along_m, turn, misses_left);
            }
        }
    });
}

void LevelLine::close_in_on_plumb(double side, double before_m, double before_deg, double after_m, double after_deg,
                                  int probes_left) {
    constexpr double plumb_enough_deg = 2.0;
    const double part = std::clamp((90.0 - before_deg) / (after_deg - before_deg), 0.05, 0.95);
    const double between_m = before_m + part * (after_m - before_m);
    probe(at(side * between_m), [=, this](const Sample& s) {
        if (!there_ || !s.axis) {
            return;
        }
        const double turn = turned_deg(side, slope_on_track_deg(*s.axis));
        if (std::abs(turn - 90.0) < plumb_enough_deg || probes_left == 0) {
            take_plumb(side, s, 2);
        } else if (turn < 90.0) {
            close_in_on_plumb(side, between_m, turn, after_m, after_deg, probes_left - 1);
        } else {
            close_in_on_plumb(side, before_m, before_deg, between_m, turn, probes_left - 1);
        }
    });
}

// Plumb along the track; across it the field leans outward by about 1.25 y/d, which says how far aside the plumb point
// is.
void LevelLine::take_plumb(double side, const Sample& s, int shifts_left) {
    constexpr double markable_dip_deg = 80.0;
    constexpr double clearly_aside = 0.08; // of the field's upright part
    plumb_[side > 0.0 ? 0 : 1] = PlumbPoint{s.place_m, s.signal_dbpt};
    const glm::dvec2 right = direction_of(along_deg_ + 90.0);
    const double aside = glm::dot(plan(*s.axis), right) / s.axis->z;
    if (std::abs(aside) > clearly_aside && std::abs(aside) < 1.0 && shifts_left > 0) {
        probe(s.place_m - 0.8 * aside * depth_m_ * right, [=, this](const Sample& shifted) {
            if (there_ && shifted.axis) {
                take_plumb(side, shifted, shifts_left - 1);
            }
        });
    } else if (std::abs(seen().dip_deg) > markable_dip_deg) {
        command(PlaceMark{MarkKind::plumb});
    }
}

void LevelLine::mark_what_was_found() {
    decide([this] {
        if (level_found_) {
            mark_at(origin_m_, MarkKind::level);
        }
        mark_at(peak_m_, MarkKind::peak);
        decide([this] {
            // Neither plumb point was in reach but here the field stands plumb: on end, or near it.
            constexpr double markable_dip_deg = 80.0;
            if (!plumb_[0] && !plumb_[1] && seen().has_axis && std::abs(seen().dip_deg) > markable_dip_deg) {
                command(PlaceMark{MarkKind::plumb});
            }
        });
    });
}

std::unique_ptr<ModelOperator> make_level_line(const Brief& brief) { return std::make_unique<LevelLine>(brief); }

} // namespace sondeyard::field
