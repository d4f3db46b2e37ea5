// The track of a tilted sonde: where on it the field stands plumb and level, where it is strongest, and what is read
// there. Formulas and their source stand in tilt_fix.hpp. Lengths in depths below the antenna, tilt from level, 0 to 90
// deg.
#pragma once

namespace sondeyard::field {

struct TrackPlaces { // from above the sonde towards its raised end
    double plumb_weak = 0.0;
    double plumb_strong = 0.0;
    double level_line = 0.0;
};
TrackPlaces places_on_track(double tilt_deg); // of less than 90 deg; below 0: of the mirror image
double total_peak_on_track(double tilt_deg);  // of |B| on the ground
double plumb_spacing(double tilt_deg);
double weak_over_strong_db(double tilt_deg); // signals at the plumb points, 0 or less; -infinity on end
// What two antennas of three axes each, the lower on the ground at the peak, read for a depth of 1 over the sonde. The
// ground rises by `grade` to a length towards the raised end; with a grade the tilt may be below 0.
double depth_read_at_peak(double tilt_deg, double antenna_spacing, double grade = 0.0);
// Inverse of weak_over_strong_db; 0 for more than 0 dB. -2.1 dB: 5 deg, -13.6: 30.
double tilt_from_plumb_points_deg(double weak_over_strong_db);

// Where f, which falls from low to high, is 0.
template <typename Function>
double root_of_falling(Function f, double low, double high) {
    constexpr int halvings = 40;
    for (int i = 0; i < halvings; ++i) {
        const double middle = 0.5 * (low + high);
        (f(middle) > 0.0 ? low : high) = middle;
    }
    return 0.5 * (low + high);
}

} // namespace sondeyard::field
