// What sends in a yard: the sonde through its pipe and the ground, what it induces in the lines beside it, other crews'
// transmitters, and the mains.
#pragma once

#include "field/world.hpp"
#include "sim/scene.hpp"

#include <memory>
#include <optional>
#include <vector>

namespace sondeyard::sim {
class GroundTable;
class GroundTables;
} // namespace sondeyard::sim

namespace sondeyard::field {

// What of a yard's fields does not hang on where the sonde lies, worked out once: what the ground adds to each sonde's
// field (tens of milliseconds a sonde), and what the pipe's wall lets out.
struct GroundModel {
    std::shared_ptr<const sim::GroundTables> sonde;              // wherever the cable may take it; none: free space
    std::vector<std::shared_ptr<const sim::GroundTable>> others; // in the order of World::other_sondes
    std::optional<sim::WallFactors> wall;                        // of the run, at the sonde's frequency; none: no metal
};
GroundModel ground_model_of(const World& world);

// The sonde as it is seen from outside its pipe: its moment through the wall, where it lies.
sim::Dipole dipole_seen(const World& world, const GroundModel& ground, const SondeTruth& sonde);

// All that sends, with the sonde lying as given. The sonde's own emission, with all that metal and ground make of it,
// comes first.
sim::Scene scene_of(const World& world, const GroundModel& ground, const SondeTruth& sonde);

} // namespace sondeyard::field
