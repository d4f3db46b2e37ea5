// Tilt fix: tilt, place and depth of a sonde from what a tape and a receiver give on its track, with uncertainties.
//
//        A         level line  sonde    peak  B          track, along the ground
//     ---+-------------+---------.-------^----+---->     raised end this way: B is the stronger plumb point
//        |<----------------- spacing -------->|
//                                 \                      sonde, tilted by t
//
// For a dipole in free space at depth d under level ground, T = tan t, places on the track counted from above the sonde
// towards its raised end (roots of the dipole's Bx and Bz):
//     plumb points   d (-3T -+ sqrt(9T^2+8)) / 4      spacing d sqrt(9T^2+8) / 2, middle -3Td/4
//     level line     d (3 - sqrt(9+8T^2)) / (2T)
//     |B| at a plumb point x is |Bz|, and goes as |1/x - T| / (1+x^2)^(3/2); the larger is on the raised side
// so that the spacing gives T = sqrt(4 L^2/d^2 - 8)/3, and the sonde lies L/2 - 3Td/4 from the strong plumb point.
// Under 15 deg the spacing hardly changes (2 % of it is 3.4 deg at 15 and 6.8 at 5) and the signals at the plumb points
// do (0.43 dB a degree). A depth read at the peak is up to 0.9 % low, which makes a tilt by spacing 1.6 deg too large
// at 15; it is corrected here for the receiver's antenna spacing.
// tests/reference/locate_facts.csv has all of these, found numerically by another program.
//
// Where the field stands plumb or level hangs only on the direction from the sonde: those directions are rays. On ground
// that rises evenly by g to a length on the level, a ray of x over level ground meets it at x / (1 - g x), 1 / (1 - g x)
// times as high above the sonde, and the field is weaker by the cube of that. So a slope along the track is taken into
// account; one across it moves nothing along the track.
//
// What it does not know: steps between the marks, currents in lines, conducting ground. They show, if at all, as
// measurements that do not fit each other.
#pragma once

#include "field/tilt_track.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::field {

// ---- The fix ----

enum class PlumbSide { unknown, a, b };
enum class DepthReadAt { peak, over_sonde };

// Plumb points A and B, in whatever order they were found. Lengths in metres, on the level: with the tape held so.
struct TiltFixInput {
    double spacing_m = 0.0; // from A to B
    double rise_m = 0.0;    // of the ground from A to B, evenly; below 0: it falls
    double depth_m = 0.0;   // as read, tip on the ground
    DepthReadAt depth_read_at = DepthReadAt::peak;
    PlumbSide stronger = PlumbSide::unknown; // by ear; not needed with figures
    std::optional<double> a_over_b_db;       // signal at A less signal at B, total field of three axes
    std::optional<double> level_from_a_m;    // where the level line crosses, from A towards B
    double antenna_spacing_m = 0.40;         // of the receiver
    double tip_to_antenna_m = 0.05;          // its lower antenna above the tip
    // One standard deviation each; empty: the default.
    std::optional<double> mark_sd_m;    // of each mark's place: 3 % of depth, at least 0.03 m
    std::optional<double> depth_sd_m;   // 3 % of depth, at least 0.02 m
    std::optional<double> signal_sd_db; // of the difference: 0.5 dB
    bool operator==(const TiltFixInput&) const = default;
};
inline constexpr double least_length_m = 0.05; // of spacing and depth
inline constexpr double most_length_m = 100.0;
inline constexpr double steepest_grade = 0.5; // of rise to spacing, either way
double mark_sd_m(const TiltFixInput& input);
double spacing_sd_m(const TiltFixInput& input);      // of two marks, each as sure as that
double mark_sd_of_spacing_sd_m(double spacing_sd_m); // and back
double depth_sd_m(const TiltFixInput& input);
double signal_sd_db(const TiltFixInput& input);

// What is wrong with it: a sentence each, with what is allowed, lengths in braces (field/lengths.hpp); empty when
// sound.
std::vector<std::string> faults(const TiltFixInput& input);

// Best value and the range in which the true one lies two times in three, if the input is as good as its sd says.
struct Range {
    double value = 0.0;
    double low = 0.0;
    double high = 0.0;
};

enum class TiltTrust {
    holds,
    level_within_error, // level is as good as what was worked out
    spacing_too_blunt,  // by spacing alone, and its range goes below 15 deg: signals are needed
    does_not_fit,       // the measurements contradict each other
    too_steep,          // past 75 deg: as good as on end, where there is one plumb point and the sonde is under it
    too_wide            // what comes out is within 15 deg at best
};
std::string_view name_of(TiltTrust trust);   // "holds", "level within the error" ...
std::string_view reason_of(TiltTrust trust); // why, and what to do: one or two sentences; empty when it holds
bool trusted(TiltTrust trust);               // holds, or level within the error

struct TiltFix {
    TiltTrust trust = TiltTrust::holds;
    Range tilt_deg;                            // 0 to 85
    PlumbSide raised = PlumbSide::unknown;     // side of the raised end
    Range from_a_m;                            // above the sonde, from A towards B
    Range from_b_m;                            // the same, from B towards A
    std::optional<double> other_from_a_m;      // with the raised end on A's side, when nothing says which it is
    Range depth_m;                             // under that place, counted as it was read
    std::optional<double> tilt_by_spacing_deg; // alone; empty: shorter than a level sonde's
    std::optional<double> tilt_by_signals_deg; // alone; empty: no figures
    double depth_correction_m = 0.0; // what was added to the depth read, for reading it at the peak, on its ground
};

// Weighted least squares over place, depth and tilt: the place and depth that fit each tilt best, then the tilt; its
// range ends where the sum of squares is 1 above the least, so it is finite and honest where a slope is nil. Throws
// std::invalid_argument with the faults of an unsound input.
TiltFix tilt_fix(const TiltFixInput& input);

} // namespace sondeyard::field
