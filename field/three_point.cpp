// The operator of three points: both plumb points and the level line, each looked at from both sides of the receiver,
// and from them and the depth read at the peak the tilt fix; where the track runs between the plumb points, from the
// field's lean to the side there. What the fix will not vouch for is left to the level-line rule.
//
// An antenna set is mounted a degree or so askew, and a hand holds the mast so. Half a turn round the tip turns the
// error round with it: the mean of both ways has the dip without it.
#include "field/level_line_operator.hpp"
#include "field/tilt_fix.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

class ThreePoint final : public LevelLine {
public:
    explicit ThreePoint(const Brief& brief) : LevelLine(brief) { latest_tick_ = 13 * 60 * 60; }

private:
    void work() override;

    void look_both_ways(const glm::dvec2& place_m, Use use);
    void set_right_level();
    void set_right_plumb(std::size_t i);
    void fix();
    std::optional<double> track_aside_m(std::size_t i) const;
    double across_m(const glm::dvec2& place_m) const {
        return glm::dot(place_m - origin_m_, direction_of(along_deg_ + 90.0));
    }
    double along_m(const glm::dvec2& place_m) const { return glm::dot(place_m - origin_m_, direction_of(along_deg_)); }

    std::array<std::optional<double>, 2>
        aside_; // at each plumb point how far the field leans to the right, over upright
};

void ThreePoint::work() {
    paperwork();
    come_near();
    rough_peak();
    rough_depth();
    find_level_line();
    straighten_track();
    scan_track();
    find_plumb_points();
    decide([this] { set_right_plumb(0); });
    decide([this] { set_right_plumb(1); });
    decide([this] { set_right_level(); });
    mark_what_was_found();
    prove();
    decide([this] { fix(); });
    walk_off();
    call();
}

void ThreePoint::look_both_ways(const glm::dvec2& place_m, Use use) {
    const auto one = std::make_shared<Sample>();
    probe(place_m, [one](const Sample& s) { *one = s; });
    turn_by(180.0);
    probe(place_m, [this, one, use = std::move(use)](const Sample& s) {
        if (!there_ || !s.axis || !one->axis) {
            return;
        }
        const glm::dvec3 other = glm::dot(*s.axis, *one->axis) < 0.0 ? -*one->axis : *one->axis;
        use({s.place_m, 0.5 * (s.signal_dbpt + one->signal_dbpt), glm::normalize(*s.axis + other)});
    });
}

// The field turns by 1.33 radians in a depth at a level sonde's plumb points, and by
// (4 x + 3 T) / (3 x + 2 T - T x^2) at a tilted one's.
void ThreePoint::set_right_plumb(std::size_t i) {
    if (!plumb_[i]) {
        return;
    }
    look_both_ways(plumb_[i]->place_m, [this, i](const Sample& s) {
        aside_[i] = glm::dot(plan(*s.axis), direction_of(along_deg_ + 90.0)) / s.axis->z;
        constexpr double farthest = 0.06; // of the depth; more is no error of mounting
        constexpr double worth_going = 0.008;
        const double side = i == 0 ? 1.0 : -1.0;
        const bool raised_ahead = tilted() && std::abs(sim::wrap_180(*raised_deg_ - along_deg_)) < 90.0;
        const bool raised_here = raised_ahead == (i == 0);
        const double tilt_deg = std::min(tilt_deg_, 70.0);
        const double slope = std::tan(sim::radians(tilt_deg));
        const TrackPlaces places = places_on_track(tilt_deg);
        const double x = raised_here ? places.plumb_strong : places.plumb_weak;
        const double rate = std::abs((4.0 * x + 3.0 * slope) / (3.0 * x + 2.0 * slope - slope * x * x));
        const double antenna_m = depth_m_ + brief().tip_to_antenna_m;
        const double off_m = sim::radians(90.0 - turned_deg(side, slope_on_track_deg(*s.axis))) / rate * antenna_m;
        const double shift_m = std::clamp(off_m, -farthest * antenna_m, farthest * antenna_m);
        plumb_[i] = PlumbPoint{s.place_m, s.signal_dbpt};
        if (std::abs(shift_m) < worth_going * antenna_m) {
            return;
        }
        const glm::dvec2 to_m = s.place_m + side * shift_m * direction_of(along_deg_);
        probe(to_m, [this, i](const Sample& there) {
            if (!there_) {
                return;
            }
            plumb_[i] = PlumbPoint{there.place_m, there.signal_dbpt};
            const Mark* nearest = nullptr;
            for (const Mark& m : notebook().marks) {
                const double off = glm::distance(m.place_m, there.place_m);
                if (m.kind == MarkKind::plumb && off < 0.1 * depth_m_) {
                    nearest = &m;
                }
            }
            if (nearest != nullptr) {
                command(MoveMark{nearest->id});
            }
        });
    });
}

// Along the track the field turns by (3 - 2 T x) / (1 - 3 T x - 2 x^2) radians in a depth there: three over a level
// sonde.
void ThreePoint::set_right_level() {
    if (!level_found_) {
        return;
    }
    look_both_ways(origin_m_, [this](const Sample& s) {
        constexpr double farthest = 0.06;
        const double tilt_deg = std::min(tilt_deg_, 70.0);
        const double slope = std::tan(sim::radians(tilt_deg));
        const double x = places_on_track(tilt_deg).level_line;
        const double rate = std::abs((3.0 - 2.0 * slope * x) / (1.0 - 3.0 * slope * x - 2.0 * x * x));
        const double antenna_m = depth_m_ + brief().tip_to_antenna_m;
        const double off_m = sim::radians(slope_on_track_deg(*s.axis)) / rate * antenna_m; // rising: it lies ahead
        const double shift_m = std::clamp(off_m, -farthest * antenna_m, farthest * antenna_m);
        origin_m_ += shift_m * direction_of(along_deg_);
        for (TrackSample& sample : scan_) { // counted from there
            sample.along_m -= shift_m;
        }
    });
}

void ThreePoint::fix() {
    if (!plumb_[0] || !plumb_[1] || !level_found_ || !depth_read_) {
        return;
    }
    const double a_m = along_m(plumb_[1]->place_m); // A behind, B ahead
    TiltFixInput in;
    in.spacing_m = along_m(plumb_[0]->place_m) - a_m;
    in.depth_m = depth_m_;
    in.a_over_b_db = plumb_[1]->dbpt - plumb_[0]->dbpt;
    in.level_from_a_m = -a_m;
    in.rise_m = height_m(brief().terrain, plumb_[0]->place_m) - height_m(brief().terrain, plumb_[1]->place_m);
    in.antenna_spacing_m = brief().antenna_spacing_m;
    in.tip_to_antenna_m = brief().tip_to_antenna_m;
    in.mark_sd_m = 0.012 * depth_m_;
    in.depth_sd_m = 0.015 * depth_m_;
    in.signal_sd_db = 0.15;
    if (!faults(in).empty()) {
        return;
    }
    const TiltFix worked = tilt_fix(in);
    if (!trusted(worked.trust)) {
        return;
    }
    const double along = a_m + worked.from_a_m.value;
    locate_m_ = at(along);
    depth_m_ = worked.depth_m.value;
    tilt_deg_ = worked.tilt_deg.value;
    raised_deg_.reset();
    if (tilt_deg_ > 0.0) {
        const bool behind = worked.raised == PlumbSide::unknown ? *in.a_over_b_db > 0.0 : worked.raised == PlumbSide::a;
        raised_deg_ = sim::wrap_360(along_deg_ + (behind ? 180.0 : 0.0));
    }
    // The track was laid by the needle and centred on the level line by the signal, whose slope along the track gets into
    // that as soon as the needle is a degree out. Where the sonde's track really runs the field says at both plumb points.
    const std::optional<double> ahead = track_aside_m(0);
    const std::optional<double> behind = track_aside_m(1);
    if (ahead && behind) {
        const double share = (along - a_m) / in.spacing_m;
        locate_m_ += (*behind + share * (*ahead - *behind)) * direction_of(along_deg_ + 90.0);
    }
}

// How far to the right the sonde's track passes at a plumb point. Beside the track by y the field leans aside there by
// 3 (x + T) y / (3 (x + T) - T (1 + x^2)).
std::optional<double> ThreePoint::track_aside_m(std::size_t i) const {
    if (!aside_[i]) {
        return std::nullopt;
    }
    const double tilt_deg = std::min(tilt_deg_, 70.0);
    const double slope = std::tan(sim::radians(tilt_deg));
    const TrackPlaces places = places_on_track(tilt_deg);
    const bool raised_ahead = tilted() && std::abs(sim::wrap_180(*raised_deg_ - along_deg_)) < 90.0;
    const double x = raised_ahead == (i == 0) ? places.plumb_strong : places.plumb_weak;
    const double turned = 3.0 * (x + slope);
    const double antenna_m = depth_m_ + brief().tip_to_antenna_m;
    return across_m(plumb_[i]->place_m) - *aside_[i] * (turned - slope * (1.0 + x * x)) / turned * antenna_m;
}

} // namespace

std::unique_ptr<ModelOperator> make_three_point(const Brief& brief) { return std::make_unique<ThreePoint>(brief); }

} // namespace sondeyard::field
