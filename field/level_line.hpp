// The arithmetic of the level-line method, apart from the legwork, so that it can be checked by itself.
#pragma once

#include <span>

namespace sondeyard::field {

// The sonde lies between level line and peak; how far along from the level line to the peak, 0..1, follows from how
// much stronger (dB) the peak is than the level line. Exact for a dipole in free space at any tilt; 0.3 sqrt(dB) is
// within 0.025 of it up to 7 dB.
double share_from_level_to_peak(double peak_over_level_db);

// The same in four steps, as one keeps it in one's head: under 0.5 dB the level line, to 5 half way, to 10 three
// quarters, beyond that the peak. Off by at most 0.11 depth.
double share_by_rule_of_thumb(double peak_over_level_db);

// Tilt from the same difference, 0..90 deg: 0.45 dB at 5 deg, 4.3 at 30, 10.2 at 60, 17.3 on end.
double tilt_from_peak_over_level_deg(double peak_over_level_db);

// Tilt from the two ghost peaks of a level coil along the track, how much stronger one is than the other (dB, 0 or
// more): 0.56 dB at 1 deg, 5.6 at 10, 17.7 at 30.
double tilt_from_ghosts_deg(double strong_over_weak_db);

struct TrackSample {
    double along_m = 0.0;
    double dbpt = 0.0;
    double slope_deg = 0.0; // of the field in the plane through the track, -90..90, positive when it rises ahead
};

// Where along a track the signal is strongest, and how strong there: the top of a smooth curve through the samples
// within reach_m of the strongest. `level_dbpt` is that curve at along_m = 0 when 0 lies among them, else the sample
// nearest to 0. Needs samples.
struct TrackPeak {
    double along_m = 0.0;
    double dbpt = 0.0;
    double level_dbpt = 0.0;
};
TrackPeak peak_on_track(std::span<const TrackSample> samples, double reach_m);

} // namespace sondeyard::field
