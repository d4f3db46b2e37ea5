// Lays a yard that was drawn on level ground over ground with a shape. Private to this folder and its tests.
#pragma once

#include "field/world.hpp"

#include <cstdint>
#include <optional>
#include <string>

namespace sondeyard::scenarios {

// What a scenario asks of the ground, single values; empty: drawn.
struct GroundWish {
    double slope_percent = 0.0;
    std::optional<double> slope_toward_deg; // drawn: to the street, within 20 deg
    double step_rise_m = 0.0; // 0: no step. Beyond it, as seen from the sonde, the ground is so much higher
    double step_ramp_m = 0.1;
    std::optional<double> step_offset_m;   // from the sonde to the middle of its ramp
    std::optional<double> step_toward_deg; // the way from the sonde to it
    double pad_rise_m = 0.0;               // 0: no raised slab
    std::optional<double> pad_offset_m;    // from the sonde to its near edge; less than 0: the sonde lies under it
    std::optional<double> pad_toward_deg;
};
bool shaped(const GroundWish& wish);

// The surface over the sonde becomes z = 0, so that its depth holds. The run keeps its falls near sonde and fault;
// farther off it goes down with the ground where it would lose its cover, as a pipe layer would have it (a run that the
// scenario gives is never moved). Lines follow the surface, the counter the height of the rim. False, with the reason
// in `why`, when this yard does not fit; the world is half done then.
bool drape(field::World& world, const GroundWish& wish, std::uint64_t seed, bool run_is_given, std::string& why);

} // namespace sondeyard::scenarios
