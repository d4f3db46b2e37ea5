// The sonde's field in free space: a point magnetic dipole, and sums of several.
//
// Frame: x east, y north, z up, metres. Fields are RMS phasors in tesla, moments RMS phasors in A m2.
//     B = 1e-7 [ 3 r (m.r) / R^5 - m / R^3 ],   r = place - dipole          (Jackson, Classical Electrodynamics, ch. 5)
// A sonde's 6 x 60 mm coil is a point dipole to 1 % beyond 0.42 m and to 0.1 % beyond 1.3 m.
#pragma once

#include "sim/phasor.hpp"

#include <span>

namespace sondeyard::sim {

struct Dipole {
    glm::dvec3 position_m{0.0};
    Phasor3 moment_am2{};
    double frequency_hz = 512.0;
};

// Nearer than this the point dipole says nothing true about a real coil; the field is held at its value on this sphere.
inline constexpr double closest_range_m = 0.15;

// Field of one dipole at a place. Finite everywhere: inside closest_range_m the place is moved out to that distance
// (straight up when it is the dipole itself).
Phasor3 dipole_field_t(const Dipole& source, const glm::dvec3& place_m);

// Sum over sources. Sources of different frequency do not add as phasors; the caller passes those of one frequency.
Phasor3 field_t(std::span<const Dipole> sources, const glm::dvec3& place_m);

// Derivatives of the field by place and by moment, for a moment with one phase (a real vector). All T, T/m and T/(A
// m2):
//     dB/dm = 1e-7 [ 3 r r^T / R^5 - 1 / R^3 ]
//     dB_i/dplace_j = 3e-7 / R^5 [ (m.r) d_ij + m_i r_j + r_i m_j - 5 (m.r) r_i r_j / R^2 ]
// Both are symmetric, the second has no trace, and dB/dposition is minus it. Inside closest_range_m the place is moved
// out as for the field.
struct DipoleDerivatives {
    glm::dvec3 field_t{0.0};
    glm::dmat3 by_place{0.0};
    glm::dmat3 by_moment{0.0};
};
DipoleDerivatives dipole_derivatives(const glm::dvec3& position_m, const glm::dvec3& moment_am2,
                                     const glm::dvec3& place_m);

// Unit vector of an axis: heading clockwise from north of the end that points DOWN for tilt > 0; tilt 90 is on end.
//     u = (sin h cos t, cos h cos t, -sin t)
glm::dvec3 axis_of(double heading_deg, double tilt_deg);

// The inverse: heading in [0, 360) and tilt in [-90, 90] of a non-zero vector. On end the heading is 0.
struct HeadingTilt {
    double heading_deg = 0.0;
    double tilt_deg = 0.0;
};
HeadingTilt heading_tilt_of(const glm::dvec3& axis);

// A sonde: moment in A m2 RMS along its axis.
Dipole make_sonde(const glm::dvec3& position_m, double heading_deg, double tilt_deg, double moment_am2,
                  double frequency_hz);

} // namespace sondeyard::sim
