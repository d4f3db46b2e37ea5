// What conducting ground adds to the sonde's field above it: eddy currents in a uniform half-space, air over it.
//
// Frame: x east, y north, z up, metres; the surface is z = 0 and the source lies straight below its origin. Moments are
// RMS phasors in A m2, fields RMS phasors in tesla, e^{+i omega t}. Only what the ground ADDS is given; the whole field
// is this and dipole_field_t together. At a low frequency the added part lags the moment's own field by a quarter turn.
//
// Sommerfeld integrals over the radial wave number L, the static dipole taken off under the integral sign, so that
// nothing cancels however low the frequency (Wait, Radio Science 1951, and Geo-Electromagnetism, 1982; Ward & Hohmann
// in Electromagnetic Methods in Applied Geophysics, 1988, ch. 4; both from memory). With
// u = sqrt(L^2 + i omega mu0 / rho), Re u > 0, d the depth, z the height, r the horizontal distance, kernels
//     upright moment   Kv = L^2 / (L+u) e^{-u d - L z}       level moment   Kh = L u / (L+u) e^{-u d - L z}
// and the static ones (L/2) e^{-L (d+z)} less from both:
//     upright, times m:      Bz = 2e-7 Int Kv L J0(L r) dL,  Br = 2e-7 Int Kv L J1(L r) dL
//     level, times m along x:  B = 2e-7 (-x^ P + cos a r^ Q + cos a z^ S),  a the azimuth from x,
//         P = Int Kh J1/r dL,  Q = Int Kh L J2 dL,  S = Int Kh L J1 dL
//
// Valid for frequencies to 100 kHz (no displacement current) and uniform, flat, non-magnetic ground. Left out: layers,
// slopes, anisotropy, and the currents' way round pipes, lines and the receiver itself.
#pragma once

#include "sim/phasor.hpp"

#include <array>
#include <memory>
#include <string_view>
#include <vector>

namespace sondeyard::sim {

// What is taken; outside of it std::invalid_argument says which value, and what is allowed. The figures of GroundTable
// hold for 10 to 10,000 ohm m, 100 Hz to 83 kHz and depths of 0.3 to 6 m.
inline constexpr double ground_least_resistivity_ohm_m = 1.0;
inline constexpr double ground_most_resistivity_ohm_m = 1e5;
inline constexpr double ground_least_frequency_hz = 1e-3; // 0 Hz induces nothing: use no table at all
inline constexpr double ground_most_frequency_hz = 1e5;
inline constexpr double ground_least_depth_m = 0.15;
inline constexpr double ground_most_depth_m = 12.0;
inline constexpr double ground_most_height_m = 3.0;  // of a table; above it the field of that height is given
inline constexpr double ground_most_radius_m = 90.0; // of a table; see GroundTable::secondary_t

// By direct quadrature, 800 nodes and more: the proof of the tables, some 0.1 to 1 ms a place. Right to 1e-9 of the
// static field, from a depth of 0.01 m. `from_surface_m`: place relative to the point of the surface straight above the
// source; a height below 0 counts as 0.
Phasor3 ground_secondary_t(const Phasor3& moment_am2, double frequency_hz, double resistivity_ohm_m, double depth_m,
                           const glm::dvec3& from_surface_m);

// The ground's part for one frequency, resistivity and depth; made by GroundTables. A value, cheap to copy (copies
// share the figures, which never change). One made by default stands for ground that does not conduct: it adds nothing.
class GroundTable {
public:
    // Like ground_secondary_t, with heights held within 0 to ground_most_height_m. Off by less than 3e-4 of the whole
    // field's |B| within 15 m and to 2 m of height, and by less than 2e-3 of the added part + 3e-6 of the static one;
    // within 1e-3 of the static field to ground_most_radius_m. Beyond that radius it falls as the far field does from
    // its value at the rim, with the distance's first power in weak ground and its third in strong.
    Phasor3 secondary_t(const Phasor3& moment_am2, const glm::dvec3& from_surface_m) const;

private:
    friend class GroundTables;
    double depth_m_ = 0.0;
    double per_radius_ = 0.0;
    double per_k_squared_ = 0.0;
    int last_cell_ = 0;
    std::shared_ptr<const std::vector<double>> values_;
};

// Tables for a range of depths, so that a sonde pulled along its run needs no new quadrature. A value, cheap to copy.
class GroundTables {
public:
    GroundTables(double frequency_hz, double resistivity_ohm_m, double least_depth_m, double most_depth_m);

    // Throws std::invalid_argument for a depth outside the range given at the start.
    GroundTable at_depth(double depth_m) const;

private:
    double least_depth_m_;
    double most_depth_m_;
    double per_k_squared_;
    int last_cell_;
    std::shared_ptr<const std::vector<std::vector<double>>> by_depth_; // one at each Chebyshev point of log depth
};

// Ground as a caller knows it. Usual ranges, from memory (Telford, Geldart & Sheriff, Applied Geophysics, 1990, ch. 5;
// Ward & Hohmann 1988); they overlap, and wetness counts for more than the name.
struct GroundKind {
    std::string_view name;
    double low_ohm_m;
    double high_ohm_m;
};
inline constexpr std::array<GroundKind, 5> all_ground_kinds = {{
    {"wet clay", 5.0, 30.0},
    {"loam", 20.0, 100.0},
    {"moist sand", 100.0, 500.0},
    {"dry sand", 500.0, 3000.0},
    {"dry gravel", 1000.0, 5000.0},
}};
constexpr const std::array<GroundKind, 5>& ground_kinds() { return all_ground_kinds; }

} // namespace sondeyard::sim
