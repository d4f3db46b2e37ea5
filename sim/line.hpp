// A buried line beside the run: the current that the sonde induces in it, and the field of that current.
//
// A line is a chain of straight pieces, metres, that carries one current along the order of its points and back through
// the earth. Frame as everywhere: x east, y north, z up; RMS phasors e^{+i omega t}.
//
//     Phi = sum over the pieces of the integral of A . dl              flux of the sonde linked with line and return
//     I   = -i omega Phi / (R + i omega L)                          Faraday; R both earthings and the wire, in series
//     L   = mu0 l / 2 pi (ln(2 l / a) - 1)                          straight wire: Rosa, Bulletin of the Bureau of
//                                                                      Standards 4, 1908 (from memory)
//     B   = I x Biot and Savart over the pieces
//
// Flux and field are one closed form: by reciprocity, Phi = m . (field of unit current at the sonde). The current lags
// Phi by 90 degrees while R governs, by 180 while L does. A sonde level with and parallel to a straight line couples
// nothing; one across it couples most. The field falls off as 1 / distance against the sonde's 1 / distance^3.
//
// Assumed and left out: one current all along the line (no capacitance to the soil, no leakage through a coating or at
// joints); the return in the earth is far away and has no field of its own; the ground changes neither Phi nor B; a
// bent line has the inductance of a straight one as long; inside the metal the current has no phase of its own (no skin
// effect in R or L); lines do not couple with one another. So good to the size of the effect, not to its last percent.
#pragma once

#include "sim/dipole.hpp"

#include <complex>
#include <span>
#include <vector>

namespace sondeyard::sim {

struct Conductor {
    std::vector<glm::dvec3> points_m; // two or more
    double radius_m = 0.0125;         // outside, of the metal
    double resistance_ohm = 10.0;     // both earthings and the wire, in series; infinity for a line that is isolated
};

// A place nearer to a piece than this sees what it would inside a bar of this radius: zero on the axis, rising to the
// field at its surface, which is continuous. No antenna comes so near a buried line.
inline constexpr double closest_to_line_m = 0.05;

// Rosa's formula, and the picture of a thin wire, ask for a line this many times as long as its radius.
inline constexpr double least_length_by_radius = 10.0;

// Sum of the pieces; 0 for fewer than two points.
double conductor_length_m(std::span<const glm::dvec3> points_m);

// Henry, of a straight wire with its return far away; internal inductance left out (current at the surface). Throws
// std::invalid_argument unless radius_m > 0 and length_m is finite and at least least_length_by_radius times radius_m.
double self_inductance_h(double length_m, double radius_m);

// Weber RMS: integral of the dipole's vector potential along the points' order. 0 for fewer than two points. Within
// closest_to_line_m of a piece it goes to 0 as unit_current_field_t does.
std::complex<double> linked_flux_wb(std::span<const glm::dvec3> points_m, const Dipole& source);

// Ampere RMS at the dipole's frequency, positive along the points' order. 0 at 0 Hz and for infinite resistance.
// Throws std::invalid_argument for a resistance not above 0, a frequency below 0 or not finite, and as
// self_inductance_h does.
std::complex<double> induced_current_a(const Conductor& conductor, const Dipole& source);

// Tesla per ampere at a place; real, since the ground does not delay it. Finite and continuous everywhere. One square
// root and one division a piece. Pieces without length add nothing.
glm::dvec3 unit_current_field_t(std::span<const glm::dvec3> points_m, const glm::dvec3& place_m);

} // namespace sondeyard::sim
