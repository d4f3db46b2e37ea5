// From where on the coach speaks, each limit with its reason. d is the depth of the sonde below the receiver's antenna.
// Facts of a dipole's field (plumb points, peak, ghosts) are recomputed in tests/reference/locate_facts.csv.
#pragma once

#include "field/score.hpp"

namespace sondeyard::field::coaching {

// ---- Marks ----

// A locate rests on a mark this near to it: a tenth of the depth is what a locate can be off and still be good, and
// nobody's foot finds a mark again to better than 5 cm.
inline constexpr double rests_on_share = 0.08;
inline constexpr double rests_on_least_m = 0.05;
// A mark stands at the true spot within this: along the sonde the signal keeps 95 % over 0.8 d, so a peak is found to
// about a third of the depth; across it falls off sharply.
inline constexpr double peak_along_share = 0.35;
inline constexpr double peak_across_share = 0.20;
// Peak, level line and midpoint mislead where they are off by more than half the band for full points: else the locate
// would be as good on them as anywhere.
inline constexpr double misleads_share_of_band = 0.5;
// Where a plumb point stands nearer to the peak than this (0.34 d apart at 10 deg, 0.18 at 30, 0.12 at 45), one cannot be
// taken for the other.
inline constexpr double apart_spots_share = 0.25;
inline constexpr double plumb_spot_share = 0.20;
inline constexpr double plumb_from_dip_deg = 60.0; // nearer to plumb than to level, clearly
inline constexpr double plumb_mark_dip_deg = 70.0; // less, and a plumb mark is not one: the procedure asks for 80
// Ghost peaks are 0.5 d wide to nine tenths of their height; upright coils' side peaks lie 0.5 d from the middle.
inline constexpr double ghost_reach_share = 0.30;
inline constexpr double side_peak_reach_share = 0.20;
inline constexpr double side_peak_from_share = 0.30; // on end the upright coil's peak is the sonde: no side peak
// Passed a plumb point: the dip is over 75 deg within 0.1 d of it along the track, so at 0.15 d the dial says so.
inline constexpr double passed_share = 0.15;
inline constexpr double marked_share = 0.35; // a plumb mark this near is that plumb point's
inline constexpr double walking_tip_m =
    0.35; // lower than this the field is that of the ground, not of the held-out tip
// Up to here the far plumb point lies within 1.8 d of the sonde, and one can be asked to walk there.
inline constexpr double far_plumb_to_tilt_deg = 45.0;

inline constexpr double over_sonde_m = 0.01; // a spot said to lie straight over the sonde

// Below this a drain counts as lying level: 2 % is 1.1 deg. The peak moves by 0.13 d even so.
inline constexpr double least_tilt_deg = 0.5;

// ---- Another source ----

inline constexpr double transmitter_reach_share = 0.7; // of its depth: the half-width of a dipole's half signal across
inline constexpr double line_reach_m = 0.5;
inline constexpr double line_reach_share = 0.5; // of the line's depth: its field has fallen to 0.9 there
inline constexpr double over_m = 0.05;          // said as "over it"
inline constexpr double same_frequency_hz = 1.0;
// Half as strong as the sonde there, or more: then it makes a ridge or a peak of its own.
inline constexpr double own_peak_from_db = -6.0;

// ---- Hand and display ----

// A mark or reading was taken while the display still ran behind: it showed the place where the tip was, on average
// over the filter's time, so far back. 0.05 d turns the dip by 8 deg; under 5 cm no hand would notice.
inline constexpr double behind_share = 0.05;
inline constexpr double behind_least_m = 0.05;
// Standing still, for the search: the display is less than this behind, and it has been so for a second in all.
inline constexpr double still_share = 0.03;
inline constexpr double still_least_m = 0.03;
inline constexpr double still_enough_s = 1.0;
inline constexpr double near_share = 1.5; // of d, round the sonde, where the spots lie
inline constexpr double near_enough_s = 3.0;
// A plumb point moves outward by 0.7 of the tip's height, the level line over a tilted sonde by 0.67 tan tilt of it: at
// 0.15 m that is 10 cm, a full band's worth over a shallow sonde.
inline constexpr double mark_height_m = 0.15;
// A reading is put right by one that counts, taken later this near to it.
inline constexpr double same_spot_m = 0.30;
inline constexpr double lift_slack_m = 0.15; // a lift check is half a metre; so much either way was meant as one
// Beside the track depth reads high: 3.4 % at 0.2 d, 7.7 at 0.3, 21 at 0.5; 15 % is allowed.
inline constexpr double beside_share = 0.30;
// The call rests on a reading, or on the middle of a facing pair, when it is within this of it: rounded to 5 cm or 2 in.
inline constexpr double call_rests_m = 0.05;
// A cause is charged with points for depth from this share of the allowed error on; and named in figures from a centimetre
// on, as far as a reading is rounded.
inline constexpr double makes_share_of_band = 0.25;
inline constexpr double makes_least_m = 0.01;

// ---- Tilt ----

// Up to here a level call is right, so none is missing. The plumb points' signals differ by 0.43 dB a degree: by 4.3 here.
inline constexpr double tilt_shows_from_deg = level_below_deg + tilt_slack_deg;
inline constexpr double tilt_shows_db = 3.0;

// ---- What was left out ----

// No sonde lies farther from its peak than 0.26 of the depth under level ground. A locate farther off than this from a
// peak mark that is nearer to the sonde does not rest on it.
inline constexpr double off_peak_mark_share = 0.40;
// Nor on the level line: peak and level line lie 0.57 d apart at 30 deg and 0.9 at 60, the sonde between them; farther than this from all of
// that it rests on neither, marked or not.
inline constexpr double off_spots_share = 0.30;
// A mark or a reading this near to the locate is measuring at it: a plumb point of a level sonde
// lies 0.71 d away.
inline constexpr double measured_near_share = 0.75;
// Half as strong as at the peak: then the two signals are told.
inline constexpr double far_off_db = 6.0;

} // namespace sondeyard::field::coaching
