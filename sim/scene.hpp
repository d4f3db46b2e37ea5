// Everything that a receiver may hear: sondes, what they induce in lines beside them, transmitters clamped to lines,
// and mains hum.
//
// Sources superpose: the ground acts on a sonde alone, a pipe wall on the sonde in it alone, and lines do not couple to
// each other. What is left out by that is said in ground.hpp, pipe_wall.hpp and line.hpp.
#pragma once

#include "sim/dipole.hpp"
#include "sim/line.hpp"

#include <complex>
#include <cstdint>
#include <memory>
#include <vector>

namespace sondeyard::sim {

class GroundTable;

// A dipole, and what the ground round it adds. surface_z_m is the height of the ground straight over it; with sloping
// ground the half-space below the level of that place stands for the real one.
struct GroundedDipole {
    Dipole dipole;
    double surface_z_m = 0.0;
    std::shared_ptr<const GroundTable> ground; // none: free space
};

struct LineCurrent {
    std::vector<glm::dvec3> points_m;
    std::complex<double> current_a{0.0}; // RMS phasor, along the order of the points
};

Phasor3 currents_field_t(const std::vector<LineCurrent>& currents, const glm::dvec3& place_m);

// What one transmitter makes a receiver hear, at its one frequency.
struct Emission {
    double frequency_hz = 512.0;
    std::vector<GroundedDipole> dipoles;
    std::vector<LineCurrent> currents;
};
Phasor3 emission_field_t(const Emission& emission, const glm::dvec3& place_m);

// Current of a household's supply that does not come back by the cable it went out by, and its harmonics. The mains
// wander slowly about their frequency, the harmonic n by n times as much.
struct Hum {
    std::vector<LineCurrent> fundamental; // RMS A at mains_hz
    double mains_hz = 60.0;
    std::uint64_t seed = 0; // of the wandering and the harmonics' phases
};

struct Scene {
    std::vector<Emission> emissions;
    std::vector<Hum> hums;
};

// The n-th harmonic's current as a share of the fundamental's: odd ones n^-1.5, even ones 0.15 of that. An assumption
// of ordinary size for rectifiers, lamps and motors together; no household was measured.
double harmonic_share(int n);
double all_harmonics_share(); // RMS of the first 40 together

// The mains at a time: frequency, Hz, within mains_drift_hz of nominal, and turns of phase since time 0 beyond those of
// the nominal frequency.
inline constexpr double mains_drift_hz = 0.2; // of ordinary size on a large grid; from memory
struct MainsPhase {
    double frequency_hz = 60.0;
    double extra_turns = 0.0;
};
MainsPhase mains_at(const Hum& hum, double time_s);

// RMS of fundamental and the first 40 harmonics together, tesla: what hum there is before any filter.
double hum_t(const Scene& scene, const glm::dvec3& place_m);

} // namespace sondeyard::sim
