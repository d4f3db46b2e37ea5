#include "field/tilt_track.hpp"

#include "sim/mutation.hpp"
#include "sim/units.hpp"

#include <cmath>

namespace sondeyard::field {

namespace {

double tangent(double tilt_deg) { return std::tan(sim::radians(tilt_deg)); }

// |B|^2 over a moment of 1, at x on the track and z above the sonde: (3 (m.r/R)^2 + 1) / R^6.
double square_of_field(double tilt_deg, double x, double z) {
    const double along = std::cos(sim::radians(tilt_deg)) * x + std::sin(sim::radians(tilt_deg)) * z;
    const double r2 = x * x + z * z;
    return (3.0 * along * along / r2 + 1.0) / (r2 * r2 * r2);
}

} // namespace

TrackPlaces places_on_track(double tilt_deg) {
    const double slope = tangent(tilt_deg);
    const double eight = sim::mutated(sim::Mutation::tilt_plumb_eight_becomes_nine) ? 9.0 : 8.0;
    const double root = std::sqrt(9.0 * slope * slope + eight);
    // (3 - sqrt(9+8T^2)) / (2T), without its nought by nought
    const double level = -4.0 * slope / (3.0 + std::sqrt(9.0 + 8.0 * slope * slope));
    return {(-3.0 * slope - root) / 4.0, (-3.0 * slope + root) / 4.0, level};
}

double total_peak_on_track(double tilt_deg) {
    constexpr double beyond_any_peak = 0.3; // it lies 0.250 out at most, at 12.5 deg
    const double c = std::cos(sim::radians(tilt_deg));
    const double s = std::sin(sim::radians(tilt_deg));
    // The slope of (3 (c x + s)^2 + 1 + x^2) / (1 + x^2)^4, times (1 + x^2)^5 / 2.
    const auto slope = [&](double x) {
        const double along = c * x + s;
        const double r2 = 1.0 + x * x;
        return (3.0 * c * along + x) * r2 - 4.0 * x * (3.0 * along * along + r2);
    };
    return root_of_falling(slope, 0.0, beyond_any_peak);
}

double plumb_spacing(double tilt_deg) {
    const double slope = tangent(tilt_deg);
    return 0.5 * std::sqrt(9.0 * slope * slope + 8.0);
}

double weak_over_strong_db(double tilt_deg) {
    const double slope = tangent(tilt_deg);
    const TrackPlaces places = places_on_track(tilt_deg);
    const auto signal = [&](double x) { return std::abs(1.0 / x - slope) / std::pow(1.0 + x * x, 1.5); };
    // For the weak one 1/x - T cancels as the sonde stands up: with x_weak x_strong = -1/2 it is -(2 x_strong + T).
    const double weak =
        (2.0 * places.plumb_strong + slope) / std::pow(1.0 + places.plumb_weak * places.plumb_weak, 1.5);
    return 20.0 * std::log10(weak / signal(places.plumb_strong));
}

namespace {

// On a slope the peak is sought as one walks for it: it lies lower down than on the level.
double peak_on_slope(double tilt_deg, double grade) {
    constexpr double beyond_any_peak = 0.8; // at the steepest grade
    constexpr int steps = 32;
    const auto strength = [&](double x) { return square_of_field(tilt_deg, x, 1.0 + grade * x); };
    constexpr double step = 2.0 * beyond_any_peak / steps;
    double best = -beyond_any_peak;
    for (int i = 1; i <= steps; ++i) {
        const double x = -beyond_any_peak + i * step;
        best = strength(x) > strength(best) ? x : best;
    }
    double low = best - step;
    double high = best + step;
    constexpr double third = 1.0 / 3.0;
    for (int i = 0; i < 40; ++i) {
        const double a = low + third * (high - low);
        const double b = high - third * (high - low);
        (strength(a) > strength(b) ? high : low) = strength(a) > strength(b) ? b : a;
    }
    return 0.5 * (low + high);
}

} // namespace

double depth_read_at_peak(double tilt_deg, double antenna_spacing, double grade) {
    const double x = grade == 0.0 ? total_peak_on_track(tilt_deg) : peak_on_slope(tilt_deg, grade);
    const double z = 1.0 + grade * x;
    const double ratio = square_of_field(tilt_deg, x, z) / square_of_field(tilt_deg, x, z + antenna_spacing);
    return antenna_spacing / (std::pow(ratio, 1.0 / 6.0) - 1.0);
}

double tilt_from_plumb_points_deg(double weak_over_strong) {
    constexpr double nearly_on_end_deg = 89.9;
    return weak_over_strong >= 0.0
               ? 0.0
               : root_of_falling([&](double t) { return weak_over_strong_db(t) - weak_over_strong; }, 0.0,
                                 nearly_on_end_deg);
}

} // namespace sondeyard::field
