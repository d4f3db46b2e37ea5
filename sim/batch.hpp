// The sonde's field at many places at once, for maps, model operators and bounds.
//
// Frame, units and formula as in sim/dipole.hpp. The loop is compiled for each instruction set (AVX-512, AVX2, SSE4,
// SSSE3, plain) and the best one that this machine has is taken at run time. Multiply-adds are fused where there are
// any and AVX-512 gets 1/R from an approximate root and a correction of third order, so the last digits differ from
// machine to machine and from sim::dipole_field_t: by less than 1e-14 of the field's magnitude. Hence nothing that a
// replay or a score uses may come from here; the exercise itself stays with the scalar functions.
#pragma once

#include <glm/vec3.hpp>

#include <cstddef>
#include <span>

namespace sondeyard::sim {

// Places as a structure of arrays: metres, all three of one length. Fastest when each begins on 64 bytes.
struct PlacesSoA {
    std::span<const double> x_m;
    std::span<const double> y_m;
    std::span<const double> z_m;
};

// Fields at those places in tesla, for one part (real or imaginary) of the phasor: as long as the places. May not overlap
// them.
struct FieldsSoA {
    std::span<double> x_t;
    std::span<double> y_t;
    std::span<double> z_t;
};

// Throws std::invalid_argument when the arrays differ in length; every function here asks it first.
void check_lengths(const PlacesSoA& places, const FieldsSoA& out);

// Field of one dipole at every place; what was in `out` is overwritten. `moment_am2` is one part of the phasor: a moment
// with an imaginary part is two calls. Finite everywhere, held inside closest_range_m as dipole_field_t does. Any number
// of places, none included.
void dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                     const FieldsSoA& out);

// The same, added to what is in `out`.
void add_dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                         const FieldsSoA& out);

// The same as dipole_fields_t, one place after another, compiled at -O2 without vectorising whatever the build: what a
// plain loop makes of this machine, for `sondeyard bench` to compare with.
void plain_dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                           const FieldsSoA& out);

// The bound that dipole_fields_t is measured against: its multiply-adds, divisions and roots in the same numbers and the
// same width, but independent of each other and in registers, with no memory touched. `divider` takes a division and a
// root even where the kernel goes round them. Does the work of at least `points` places.
struct LimitWork {
    std::size_t points = 0; // whose work was done
    double checksum = 0.0;  // depends on all of it, so that none can be left out
};
LimitWork dipole_limit_work(std::size_t points, bool divider);

// The instruction set in use, as the library that chooses it names it: "AVX3" is AVX-512.
const char* batch_target();

} // namespace sondeyard::sim
