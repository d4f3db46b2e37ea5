// What could have been known: the Cramer-Rao bound of a sonde's place, depth and tilt from the soundings that were
// taken (Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, ch. 3; from memory).
//
// Parameters: x, y, z and the three parts of the moment of a plain dipole. A sounding gives one value for each antenna
// that the receiver uses; its phase, and with it the sign, is unknown and free in each. For a moment of one phase that
// costs nothing: what the phase would change lies in the quadrature part, what the parameters change in the other. So
//     F = sum of J^T J / noise^2,   J = d(axis . B) / d(parameters),   covariance >= F^-1
// with noise the deviation of one part of one channel. A single coil's reading is thus its magnitude; twin coils give
// two values with one sign. Magnitudes are taken as normal, so soundings weaker than least_signal_to_noise are left
// out.
//
// It is a bound for whoever makes the best of every sounding, knows where the receiver stood and how it was held, and
// has nothing but noise against him. It is a local one: a mirror image of the sonde, which some paths cannot tell from
// it, does not show.
#pragma once

#include "field/sounding.hpp"

#include <optional>
#include <span>
#include <vector>

namespace sondeyard::field {

struct PlainDipole {
    glm::dvec3 position_m{0.0};
    glm::dvec3 moment_am2{0.0}; // either sign is the same sonde
};

// Tilt from level, 0..90 deg, and heading of the raised end.
struct Attitude {
    double tilt_deg = 0.0;
    double raised_heading_deg = 0.0;
};
Attitude attitude_of(const glm::dvec3& moment_am2);

inline constexpr double least_signal_to_noise =
    5.0; // of all antennas of a sounding together, in deviations of one part
bool strong_enough(const Channels& channels, double noise_t);

// What a sounding of a plain dipole should be, antenna by antenna, and how that changes with position (T/m) and moment
// (T/(A m2)).
struct ModelRow {
    double signal_t = 0.0;
    glm::dvec3 by_position{0.0};
    glm::dvec3 by_moment{0.0};
};
std::array<ModelRow, 6> model_of(const Channels& channels, const PlainDipole& dipole);

struct Ellipse {          // of one standard deviation in plan
    double major_m = 0.0; // half axes
    double minor_m = 0.0;
    double heading_deg = 0.0; // of the major axis, clockwise from north, 0..180
};
inline constexpr double ellipse_95 = 2.4477468306808166; // sqrt(-2 ln 0.05): the half axes times this hold 95 %

struct Knowable {
    bool known = false;     // false: not yet knowable, the soundings leave something open (condition over 1e12)
    double condition = 0.0; // of the scaled information; infinite when it is singular
    int soundings = 0;      // that count
    double east_sd_m = 0.0;
    double north_sd_m = 0.0;
    Ellipse ellipse;
    double depth_sd_m = 0.0;
    double tilt_sd_deg = 0.0;
};

// How well the instrument itself is known: mounting and gain as further unknowns, each with this deviation about what
// is taken for it. Zeros: it is known exactly.
struct MountingPrior {
    double offset_sd_m = 0.0; // of each antenna set, right and forward
    double axis_sd_deg = 0.0; // about each of three axes
    double gain_sd = 0.0;     // of each antenna, relative
};
MountingPrior mounting_prior_of(const sim::ReceiverSpec& spec); // what its maker allows; a bent mast is not in it

// The bound for the dipole as it truly is.
Knowable knowable(std::span<const Sounding> soundings, const sim::Instrument& instrument, const PlainDipole& truth,
                  const MountingPrior& prior = {});

// The same as it stood after each of at most `most` ticks, evenly spaced up to the last sounding, for a graph.
struct KnowableThen {
    std::int64_t tick = 0;
    Knowable bound;
};
std::vector<KnowableThen> knowable_over_time(std::span<const Sounding> soundings, const sim::Instrument& instrument,
                                             const PlainDipole& truth, int most);

} // namespace sondeyard::field
