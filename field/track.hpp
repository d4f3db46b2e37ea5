// What a sonde shows on the ground along its track (the vertical plane through its axis), the ground as it is, the tip on
// it: found by walking along. In free space for lessons and debrief, in the field as it really was for the coach. Over the
// whole yard, and where a bent pipe or a line moves a point off the track: field/true_points.hpp. In closed form over level
// ground: field/tilt_fix.hpp.
#pragma once

#include "field/world.hpp"
#include "sim/scene.hpp"

#include <optional>
#include <vector>

namespace sondeyard::field {

// Metres from the sonde towards its raised end (level: the way opposite to its heading).
struct TrackSpots {
    glm::dvec2 sonde_m{0.0};
    glm::dvec2 ahead{0.0, 1.0};    // unit vector
    double scale_m = 1.0;          // the antenna's height over the sonde
    double peak_m = 0.0;           // of the whole field: the one that one climbs to from over the sonde
    std::optional<double> level_m; // where the level line crosses; of several, here as below, the nearest
    std::optional<double> plumb_ahead_m;
    std::optional<double> plumb_behind_m;
    std::vector<double> ghosts_m;     // of a level coil along the track, beyond the plumb points
    std::vector<double> side_peaks_m; // of an upright coil, beside the level line

    glm::dvec2 at(double along_m) const { return sonde_m + along_m * ahead; }
    double along_m(const glm::dvec2& place_m) const;
    double across_m(const glm::dvec2& place_m) const; // no sign
};

// To three depths on either side; places to about a thousandth of the depth on even ground.
TrackSpots track_spots(const World& world, const SondeTruth& sonde, const sim::Emission& emission);

// The sonde alone in free space, of any strength.
sim::Emission in_free_space(const SondeTruth& sonde);

} // namespace sondeyard::field
