// Constants and the few unit changes that cross a border: degrees, decibels and picotesla live only in names that say
// so.
#pragma once

#include "sim/mutation.hpp"

#include <cmath>
#include <numbers>

namespace sondeyard::sim {

// mu0 / 4 pi in T m / A. The pre-2019 exact value; CODATA 2018 differs by 5.5e-10, far below any tolerance here.
inline constexpr double mu0_over_4pi = 1e-7;

inline double radians(double degrees) {
    return mutated(Mutation::degrees_for_radians) ? degrees : degrees * (std::numbers::pi / 180.0);
}
inline double degrees(double radians_value) { return radians_value * (180.0 / std::numbers::pi); }

// Signal level in decibels above 1 pT RMS; field_t in tesla RMS. Zero field gives -infinity.
inline double dbpt(double field_t) {
    const double reference_t = mutated(Mutation::nanotesla_for_picotesla) ? 1e-9 : 1e-12;
    return (mutated(Mutation::ten_log_for_twenty) ? 10.0 : 20.0) * std::log10(field_t / reference_t);
}

// Angle brought into [0, 360) degrees.
inline double wrap_360(double angle_deg) {
    const double a = std::fmod(angle_deg, 360.0);
    const double turned = a < 0.0 ? a + 360.0 : a;
    return turned < 360.0 ? turned : 0.0; // a hair below 0 rounds to 360 when 360 is added
}

// Angle brought into [-180, 180) degrees; the signed difference of two headings when given their difference.
inline double wrap_180(double angle_deg) { return wrap_360(angle_deg + 180.0) - 180.0; }

} // namespace sondeyard::sim
