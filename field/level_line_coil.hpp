// The level-line method with coils that are held level along the track: what the single coil and the twin coils have in
// common. Private to this folder: level_line_coil.cpp has it, level_line_single_coil.cpp and level_line_twin_coil.cpp
// the rest.
#pragma once

#include "field/level_line.hpp"
#include "field/operator_script.hpp"

#include <array>

namespace sondeyard::field {

inline constexpr double steepest_worked_deg = 80.0; // beyond it a tilt is worked with as if it were this

class CoilMethod : public Script {
protected:
    explicit CoilMethod(const Brief& brief) : Script(brief) {}

    void find_track();     // from the truck to the middle of the track, facing along it
    void climb_to_track(); // its last part: from where the tip is
    void face_along();
    void hold_coil(sim::CoilAttitude attitude);
    void coil_at(double along_m, sim::CoilAttitude attitude, Use use);
    void turn_for_heading();
    void centre_across(double half_width_m, int tries_left);
    void walk_out(double side, double along_m);
    void find_nulls();
    void scan_track();   // heading, middle of the track, and the silences on both sides
    bool take_loudest(); // peak, locate and depth by the loudest place; true when there are both silences besides
    double null_spacing_m() const { return *plumb_along_m_[0] - *plumb_along_m_[1]; }
    double middle_of_nulls_m() const { return 0.5 * (*plumb_along_m_[0] + *plumb_along_m_[1]); }
    // Depth and raised end by the spacing of the silences and tilt_deg_; side 1 when the raised end is ahead, -1
    // behind. Returns the depth below the antenna.
    double take_depth_from_spacing(double side);
    void close_in_on_null(double along_m, sim::CoilAttitude attitude, int rounds_left, std::function<void(double)> use);
    void mark_plumb_points();
    void walk_off();
    void call();

    static double amplitude(const Sample& s);
    glm::dvec2 at(double along_m) const { return origin_m_ + along_m * direction_of(along_deg_); }
    bool both_nulls() const { return plumb_along_m_[0] && plumb_along_m_[1]; }

    glm::dvec2 origin_m_{0.0};
    double along_deg_ = 0.0;
    double scale_m_ = 1.5;                               // about the depth
    std::vector<TrackSample> level_coil_;                // along the track
    std::array<std::optional<double>, 2> plumb_along_m_; // ahead, behind
    double peak_along_m_ = 0.0;
    glm::dvec2 locate_m_{0.0};
    double depth_m_ = 1.5;
    double tilt_deg_ = 0.0;
    std::optional<double> raised_deg_;
    double downhill_evidence_ = 0.0; // that the sonde falls ahead, in sizes of what chance can do
};

} // namespace sondeyard::field
