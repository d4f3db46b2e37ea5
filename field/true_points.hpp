// Where plumb points, level line and peak of a yard really are: found from the true field, with all that pipe, ground
// and lines make of the sonde's signal (the first emission of a scene), by a receiver on a plumb mast with its tip on
// the ground. Truth: for a debrief, a coach and tests. No closed form of a dipole alone is used, so a bent, tilted,
// doubled or missing point comes out as it is. Tens of milliseconds a yard.
#pragma once

#include "field/world.hpp"
#include "sim/scene.hpp"

#include <optional>
#include <vector>

namespace sondeyard::field {

struct TruePoint {
    glm::dvec2 place_m{0.0};
    double dbpt = 0.0; // of the whole field there; of coil_peaks, of what the coil hears
};

// All within the yard, and only where the receiver would show a dip (see audible_dbpt).
struct TruePoints {
    // Where the field stands plumb (within half a degree), strongest first: the nearer one of a tilted sonde, then the
    // one farther off; one of a sonde on end; more where a line carries current.
    std::vector<TruePoint> plumb;
    // Where the field lies level, in pieces: straight across a level sonde, a bow that bends round the raised end of a
    // tilted one, a ring round one on end; a closed piece repeats its first point. Beside a line that carries current
    // there may be more of them.
    std::vector<std::vector<glm::dvec2>> level_line;
    // Where the whole field is strongest; and lesser peaks that stand by themselves, strongest first.
    std::optional<TruePoint> peak;
    std::vector<TruePoint> lesser_peaks;
    // Of one level coil along the sonde (its heading): the main one first, then its ghosts, which a level sonde has
    // 1.22 depths fore and aft. Empty when the sonde stands within 10 deg of plumb, where no heading is the sonde's.
    std::vector<TruePoint> coil_peaks;
};

// `scene` is scene_of(world, ground, sonde) of that very sonde.
TruePoints true_points(const World& world, const sim::Scene& scene, const SondeTruth& sonde);

// The field of the first emission at a receiver's lower antenna, tip on the ground.
sim::Phasor3 field_at_tip_t(const World& world, const sim::Scene& scene, const glm::dvec2& place_m);

// From here upward dip and needle are given: sim::axis_times_noise times the noise of one antenna in the narrow band.
double audible_dbpt(const World& world, const SondeTruth& sonde);

} // namespace sondeyard::field
