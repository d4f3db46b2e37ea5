// A metal pipe round the sonde: what its wall leaves of the moment.
//
// The wall is an infinite cylindrical shell, inner radius a, outer radius b, k = sqrt(i omega mu0 mu_r sigma). Seen
// from afar, the sonde in it is a dipole whose part along the pipe and whose part across it are each weakened and
// turned in phase by a factor of its own, 1 / S. S is the ratio of a uniform field outside to the field on the axis,
// and by reciprocity that of the moment (Kaden, Wirbelstroeme und Schirmung; Smythe, Static and Dynamic Electricity;
// Stratton, Electromagnetic Theory; from memory):
//
//     S_axial      = k a { I0(kb) [K1(ka) + g K0(ka)] + K0(kb) [I1(ka) - g I0(ka)] },    g = k a / (2 mu_r)
//     S_transverse = [ f(b)/b + f'(b)/mu_r ] / 2,   f = p I1(kr) + q K1(kr),   f(a) = a,  f'(a) = mu_r
//     at 0 Hz        1,   and   [(mu_r + 1)^2 - (mu_r - 1)^2 (a/b)^2] / (4 mu_r)
//
// Plastic and clay do nothing: no wall. For mu_r = 1 the two factors are the same. Neither ever exceeds 1.
//
// Held good for ranges of more than about 1 m: the exact axial solution differs from one factor by 0.2 dB there, by
// several decibels under half a metre and near 0 Hz. Left out: ends, joints, branches and corrosion of the pipe; flux
// that runs along an iron pipe and comes out elsewhere, at low frequency or close range (a leak at a joint is a source
// of its own, at the joint, and no floor under this); a sonde off the axis or one that fills the pipe, which changes
// its moment; iron whose permeability depends on the field or lags it; soil's conduction together with the pipe.
#pragma once

#include "sim/phasor.hpp"

#include <string_view>

namespace sondeyard::sim {

struct PipeWall {
    double outside_diameter_m = 0.112;
    double wall_m = 0.006;
    double conductivity_s_per_m = 1.5e6;
    double relative_permeability = 100.0;
};

// 1 / S. Multiplies the moment.
struct WallFactors {
    std::complex<double> axial{1.0};
    std::complex<double> transverse{1.0};
};

// A guard of the arithmetic, and nothing of physics: no factor below this is given. Iron at 33 kHz would be far below
// it (230 dB), and nothing can be heard of a sonde either way.
inline constexpr double most_wall_loss_db = 140.0;

// The shell as it stands in the formulas. Frequency in Hz, 0 for the static factors. Throws std::invalid_argument
// unless wall > 0 and less than half the outside diameter, conductivity >= 0, permeability >= 1, frequency >= 0, all
// finite.
WallFactors shell_factors(const PipeWall& wall, double frequency_hz);

// The same with every factor brought to a size of at most 1 and at least that of most_wall_loss_db, its phase kept
// (0 where the factor is too small to have one, beyond 6000 dB).
WallFactors wall_factors(const PipeWall& wall, double frequency_hz);

// What is seen from afar of a moment in a pipe that runs along pipe_direction (either way, any length but 0, else
// std::invalid_argument): axial part times axial + transverse part times transverse.
Phasor3 moment_seen(const Phasor3& moment_am2, const glm::dvec3& pipe_direction, const WallFactors& factors);

// Metals of drains. Ordinary values from memory, assumptions for any one pipe: iron varies by a factor of 2 from
// foundry to foundry. Permeability is that of weak fields.
struct WallMetal {
    std::string_view name;
    double conductivity_s_per_m;
    double relative_permeability;
    double least_permeability; // the range met with
    double most_permeability;
};
inline constexpr WallMetal grey_iron{"grey iron", 1.5e6, 100.0, 60.0, 150.0};
inline constexpr WallMetal ductile_iron{"ductile iron", 1.8e6, 250.0, 150.0, 400.0};
inline constexpr WallMetal mild_steel{"steel", 6.0e6, 100.0, 80.0, 200.0};
inline constexpr WallMetal stainless_steel{"stainless steel", 1.4e6, 1.0, 1.0, 1.1}; // austenitic
inline constexpr WallMetal copper{"copper", 5.8e7, 1.0, 1.0, 1.0};

} // namespace sondeyard::sim
