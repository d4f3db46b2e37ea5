// The level-line operator with two three-axis antenna sets: plumb points, level line and peak; the locate between level
// line and peak by how much stronger the peak is; depth at the peak by a facing pair, proved by a lift check.
// Private to this folder: level_line.cpp fixes, level_line_prove.cpp proves and calls, pull_back.cpp does it elsewhere.
#pragma once

#include "field/level_line.hpp"
#include "field/operator_script.hpp"

#include <array>

namespace sondeyard::field {

class LevelLine : public Script {
public:
    explicit LevelLine(const Brief& brief) : Script(brief) {}

protected:
    void work() override;
    void wrap_up() override;

    void rough_peak();
    void rough_depth();
    void look_round();
    void find_level_line();
    void seek_level(double along_m, double slope_deg, double step_m, int steps_left);
    void close_in_on_level(double before_m, double before_deg, double after_m, double after_deg, int probes_left);
    void take_level(const Sample& s);
    void centre_across(double half_width_m, int tries_left);
    void straighten_track();
    void scan_track();
    void extend_scan(int extensions_left);
    void find_plumb_points();
    void seek_plumb(double side, double along_m, double before_m, double before_turn_deg, int misses_left);
    void close_in_on_plumb(double side, double before_m, double before_deg, double after_m, double after_deg,
                           int probes_left);
    void take_plumb(double side, const Sample& s, int shifts_left);
    void locate_here(); // from the level line on: track, plumb points, marks, depth, walk-off
    void mark_what_was_found();
    void prove();
    void walk_off();
    void say(); // locate, depth, tilt
    void call();
    double downhill_evidence() const;

    glm::dvec2 at(double along_m) const { return origin_m_ + along_m * direction_of(along_deg_); }
    double slope_on_track_deg(const glm::dvec3& axis) const;
    double turned_deg(double side, double slope_deg) const;
    void point_track_along(const glm::dvec2& level_part);
    void place_by_rule();
    bool tilted() const { return raised_deg_.has_value(); }

    void forget(); // all that was found, for another place of the sonde

    double depth_m_ = 1.5; // working value: rough first, then read at the peak
    bool depth_read_ = false;
    std::vector<int> peak_readings_; // ids of those that make the depth
    glm::dvec2 origin_m_{0.0};       // of the track; on the level line as soon as that is found
    double along_deg_ = 0.0;         // heading of the track
    bool track_known_ = false;
    bool steep_ = false; // the field stands nearly plumb at the peak
    bool level_found_ = false;
    double level_dbpt_ = 0.0;
    std::vector<TrackSample> scan_;
    glm::dvec2 peak_m_{0.0};
    double peak_over_level_db_ = 0.0;
    struct PlumbPoint {
        glm::dvec2 place_m{0.0};
        double dbpt = 0.0;
    };
    std::array<std::optional<PlumbPoint>, 2> plumb_; // ahead, behind
    glm::dvec2 locate_m_{0.0};
    double tilt_deg_ = 0.0;
    std::optional<double> raised_deg_; // heading of the raised end
};

} // namespace sondeyard::field
