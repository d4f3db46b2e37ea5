// The score of an exercise: how far off, what the dig would have found, and whether the procedure was followed.
//
// The scored locate is the sonde; the scored dig is the fault (field::dig_target). The rubric's bands are in the World;
// what is the same in every exercise is here.
//
// With the cable hand there are two right places: where the sonde lay when the locate was marked, and the stop, which
// the trainee may mark by carrying on with counter and pipe heading. A locate counts against the nearer one, and the
// depth call with it.
#pragma once

#include "field/exercise.hpp"
#include "field/lengths.hpp"

namespace sondeyard::field {

// ---- Points, 100 in all ----

inline constexpr int full_position_points = 40; // half of it within the half band, a quarter within the quarter band
inline constexpr int full_depth_points = 14;    // within the rubric's share of the true depth, else none
inline constexpr int full_tilt_points = 10;     // the call is right, else none
inline constexpr int full_dig_points = 20;      // on the pipe and no safety item failed, else none; less for a big hole
inline constexpr int full_procedure_points = 16; // in proportion to the items done, of those that apply
static_assert(full_position_points + full_depth_points + full_tilt_points + full_dig_points + full_procedure_points ==
              100);

// ---- Limits of a dig box ----

inline constexpr double least_box_m = 0.60;     // length and width, to be worked in at all
inline constexpr double deep_box_from_m = 1.20; // deeper than this a box has to be larger:
inline constexpr double least_deep_width_m = 0.80;
inline constexpr double least_deep_length_m = 1.20;
inline constexpr double largest_box_m2 = 4.0;
inline constexpr double free_volume_m3 = 1.5; // beyond it a point goes for each started half cubic metre,
inline constexpr double volume_step_m3 = 0.5;
inline constexpr int most_volume_points = 10;      // but never more than these
inline constexpr double rising_pipe_from_m = 0.10; // a drain that comes up more than this in the box rises in it
inline constexpr double above_pipe_m = 0.30;       // the bottom lies at most this far over the pipe's top

// ---- Limits of a tilt call (deg) ----

inline constexpr double level_below_deg = 5.0;
inline constexpr double on_end_above_deg = 75.0;
inline constexpr double tilt_slack_deg = 5.0; // a call is right this far outside its limits
// Under this no end is raised: `tilted`, which names the raised end, cannot be right then.
inline constexpr double least_raised_deg = 0.05;

enum class DigOutcome { none, on_the_pipe, shallow, beside, into_the_pipe, too_large, too_small, through_a_line };
std::string_view name_of(DigOutcome outcome); // "on the pipe", "short", "beside", "into the pipe", ...

struct ProcedureItem {
    std::string_view key;   // "ticket_checked", as in `score --json`
    std::string_view title; // as the debrief prints it
    bool applies = true;    // some items do not with a single coil
    bool done = false;
    std::optional<std::int64_t> tick; // evidence: when
    std::string evidence;             // what was seen, in figures
    std::string_view why;             // why it matters, one sentence
};

struct SafetyItem {
    std::string_view key; // "machine_in_tolerance_zone", "machine_without_clearance"
    bool judged = true;   // false: there is no dig box to judge
    bool failed = false;
    std::string evidence;
};

struct TiltScore {
    bool called = false;
    bool right = false;
    std::optional<double> tilt_error_deg; // angle called minus true, when an angle was called
    double true_tilt_deg = 0.0;           // unsigned, 0..90
    double true_raised_heading_deg = 0.0; // means nothing under least_raised_deg or on end
};

// Which sonde a score is held against, and how the cable had been moved by then.
struct LocatedSonde {
    SondeTruth sonde;     // the one that counts
    SondeTruth then;      // where it lay when the locate was marked (no locate: where it lies now)
    bool at_stop = true;  // `sonde` is the one at the stop
    bool asked = false;   // the cable hand was asked for anything at all
    CablePlace cable;     // when the locate was marked, from the stop; zeros: as at the stop
    double slack_m = 0.0; // between pulling and pushing
};

struct Score {
    bool finished = false;
    LocatedSonde located;
    std::optional<double> horizontal_error_m; // empty: no locate marked
    double full_band_m = 0.0;
    double half_band_m = 0.0;
    double quarter_band_m = 0.0;
    double true_depth_m = 0.0;    // from the surface over the sonde that counts: what the bands go by
    double depth_at_mark_m = 0.0; // from the surface at the locate, when there is one: what the call is held against
    std::optional<double> depth_call_m;
    std::optional<double> depth_error_m;       // reported minus true
    std::optional<double> depth_error_percent; // of true
    double depth_band_m = 0.0;                 // what depth_within allows
    bool depth_within = false;
    TiltScore tilt;
    DigOutcome dig_outcome = DigOutcome::none;
    bool by_machine = false;               // so judged too when a box was drawn and no method said
    std::vector<std::string> lines_in_box; // "gas, Vale Gas, 0.20 m from the box": any inside its tolerance zone
    std::string line_hit;                  // "the gas line of Vale Gas, 0.45 m down"; empty: none in the box
    double dig_volume_m3 = 0.0;
    double target_distance_m = 0.0;      // dig box centre to the fault, plan
    double target_gap_m = 0.0;           // dig box edge to the fault, plan; 0 when the box holds it
    double pipe_top_depth_m = 0.0;       // at the fault, from the surface at the box's middle (no box: over the fault)
    double springline_depth_m = 0.0;     // the same
    std::optional<double> rising_pipe_m; // the drain's own springline where it comes up in the box (drop, steep branch)
    bool deep_dig = false;               // the rubric's protection depth or more at its highest side
    std::vector<ProcedureItem> procedure;
    std::vector<SafetyItem> safety;
    int points = 0; // of 100
    int position_points = 0;
    int depth_points = 0;
    int tilt_points = 0;
    int dig_points = 0;
    int procedure_points = 0;
    bool passed = false;
};

// The procedure's keys: ticket_checked, frequency_checked, approached, plumb_points, walked_off, tip_down_and_plumb,
// paired_reading, lift_check. A single coil reads no depth: its last three do not apply, and depth_from_spacing is
// added. Deleted readings count: a score looks at what was really done. `units` are those of its evidence, the numbers
// are SI. Never throws.
Score score(const Setting& setting, const ExerciseState& state, Units units = Units::metric);

// Distance in plan from a dig box's edge to a place, 0 when the box holds it.
double gap_to_box_m(const DigBox& box, const glm::dvec2& place_m);

// How far the walk round the peak has come, from what the trainee can know: the radius is his depth (call, else last
// counted reading; 0 when he has neither, or no peak mark).
inline constexpr int walk_off_directions = 4;
inline constexpr double walk_low_tip_m =
    0.10; // raising the tip lowers the signal by itself, so a high one proves nothing
struct WalkOff {
    double radius_m = 0.0;
    int directions = 0;
};
WalkOff walked_off(const ExerciseState& state);

std::string clock_text(std::int64_t ticks); // "1:02.3", minutes and seconds

} // namespace sondeyard::field
