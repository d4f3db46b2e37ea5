// The sonde's field at many places at once, for maps, model operators and bounds.
//
// Frame, units and formula as in sim/dipole.hpp. The loop is compiled for each instruction set (AVX-512, AVX2, SSE4,
// SSSE3, plain) and the best one that this machine has is taken at run time. Multiply-adds are fused where there are
// any and AVX-512 gets 1/R from an approximate root and a correction of third order, so the last digits differ from
// machine to machine and from sim::dipole_field_t: by less than 1e-14 of the field's magnitude. Hence nothing that a
// replay or a score uses may come from here; the exercise itself stays with the scalar functions.
#pragma once

#include "sim/ground.hpp"
#include "sim/line.hpp"

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

namespace sondeyard::sim {

// Places as a structure of arrays: metres, all three of one length. Fastest when each begins on 64 bytes.
struct PlacesSoA {
    std::span<const double> x_m;
    std::span<const double> y_m;
    std::span<const double> z_m;
};

// Fields at those places in tesla, for one part (real or imaginary) of the phasor: as long as the places. May not
// overlap them.
struct FieldsSoA {
    std::span<double> x_t;
    std::span<double> y_t;
    std::span<double> z_t;
};

// Throws std::invalid_argument when the arrays differ in length; every function here asks it first.
void check_lengths(const PlacesSoA& places, const FieldsSoA& out);

// Field of one dipole at every place; what was in `out` is overwritten. `moment_am2` is one part of the phasor: a
// moment with an imaginary part is two calls. Finite everywhere, held inside closest_range_m as dipole_field_t does.
// Any number of places, none included.
void dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                     const FieldsSoA& out);

// The same, added to what is in `out`.
void add_dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                         const FieldsSoA& out);

// Both parts of a phasor.
struct PhasorsSoA {
    FieldsSoA re;
    FieldsSoA im;
};

// Field of a dipole with both parts of its moment, added to what is in `out`.
void add_dipole_fields_t(const Dipole& source, const PlacesSoA& places, const PhasorsSoA& out);

// Field per ampere of a chain of straight pieces, as unit_current_field_t; what was in `out` is overwritten. Agrees
// with it to 1e-12 of the sum of the pieces' magnitudes; places within closest_to_line_m of the straight line through a
// piece get the scalar function itself.
void line_unit_fields_t(std::span<const glm::dvec3> points_m, const PlacesSoA& places, const FieldsSoA& out);

// Adds a complex multiple of real fields: those of a line's unit current times its current.
void add_times_t(const FieldsSoA& fields, std::complex<double> factor, const PhasorsSoA& out);

// A GroundTable at the heights of one map, in a form that vectors read. Its sums times R^3 at nodes in
// 1 - sqrt((d+z)/R), z the lowest height, taken as straight between them; at one height or, by parabolas, at several,
// evenly in the rise z/(z+2d). Off from the table by less than 1e-3 of the whole field's |B| within most_radius_m, and
// by less than 1e-4 where the depth is 1 m and more.
class GroundSheet {
public:
    // depth_m as the table was made for. Heights over the surface point above the source, held within 0 to
    // ground_most_height_m; the field of places farther out than most_radius_m falls as 1/R^3 from its value there.
    // Throws std::invalid_argument unless depth_m and most_radius_m are above 0 and the heights in order.
    GroundSheet(const GroundTable& table, double depth_m, double low_height_m, double high_height_m,
                double most_radius_m);

    static constexpr int parts = 10; // upright z, upright r, level P, Q, S: real and imaginary
    static constexpr int nodes = 1024;

    // For the vector loop. The parts of node i of layer k begin at (k (nodes + 1) + i) parts.
    const std::vector<double>& values() const { return values_; }
    double depth_m() const { return depth_m_; }
    double lowest_m() const { return lowest_m_; } // from the source up to the lowest height
    int layers() const { return layers_; }        // 1, or 3 and more
    double layers_per_rise() const { return layers_per_rise_; }
    double first_layer() const { return first_layer_; } // times layers_per_rise gives the lowest rise
    double nodes_per_share() const { return nodes_per_share_; }

private:
    void sample(const GroundTable& table, int layer, int node);

    double depth_m_;
    double lowest_m_;
    double layers_per_rise_ = 1.0;
    double first_layer_ = 0.0;
    double nodes_per_share_ = 1.0;
    int layers_ = 1;
    std::vector<double> values_;
};

// What the ground adds to the field of a dipole that lies its depth below `surface_m`, added to what is in `out`.
void add_ground_fields_t(const GroundSheet& sheet, const glm::dvec3& surface_m, const Phasor3& moment_am2,
                         const PlacesSoA& places, const PhasorsSoA& out);

// The same as dipole_fields_t, one place after another, compiled at -O2 without vectorising whatever the build: what a
// plain loop makes of this machine, for `sondeyard bench` to compare with.
void plain_dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                           const FieldsSoA& out);

// The bound that dipole_fields_t is measured against: its multiply-adds, divisions and roots in the same numbers and
// the same width, but independent of each other and in registers, with no memory touched. `divider` takes a division
// and a root even where the kernel goes round them. Does the work of at least `points` places.
struct LimitWork {
    std::size_t points = 0; // whose work was done
    double checksum = 0.0;  // depends on all of it, so that none can be left out
};
LimitWork dipole_limit_work(std::size_t points, bool divider);

// The instruction set in use, as the library that chooses it names it: "AVX3" is AVX-512.
const char* batch_target();

} // namespace sondeyard::sim
