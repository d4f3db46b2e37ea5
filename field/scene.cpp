#include "field/scene.hpp"

#include "sim/ground.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

// As deep as the ground's tables go; a run may leave their range far from the sonde, and what the ground adds there is
// then that of the range's end.
double table_depth_m(const World& world, const glm::dvec3& place_m) {
    return std::clamp(depth_m(world, place_m), sim::ground_least_depth_m, sim::ground_most_depth_m);
}

// Depths that the sonde may come to lie at as the cable is pulled and pushed: those of the whole run.
std::pair<double, double> depth_range_m(const World& world) {
    constexpr double look_every_m = 0.25;
    double least_m = table_depth_m(world, world.sonde.position_m);
    double most_m = least_m;
    if (world.run) {
        const double room_m = 0.5 * world.run->inside_diameter_m;
        const double end_m = length_m(*world.run);
        const int looks = static_cast<int>(std::ceil(end_m / look_every_m));
        for (int i = 0; i <= looks; ++i) {
            const glm::dvec3 centre_m = at_length(*world.run, std::min(look_every_m * i, end_m)).centre_m;
            least_m = std::min(least_m, table_depth_m(world, centre_m + glm::dvec3{0.0, 0.0, room_m}));
            most_m = std::max(most_m, table_depth_m(world, centre_m - glm::dvec3{0.0, 0.0, room_m}));
        }
    }
    return {least_m, most_m};
}

// The sonde's emission: its moment as a metal pipe lets it out, with what it induces in bonded lines.
sim::Emission emission_of(const World& world, const sim::Dipole& sonde, std::shared_ptr<const sim::GroundTable> table) {
    sim::Emission emission;
    emission.frequency_hz = sonde.frequency_hz;
    emission.dipoles.push_back({sonde, height_m(world.yard.terrain, plan(sonde.position_m)), std::move(table)});
    for (const BuriedLine& line : world.yard.lines) {
        if (line.connection == LineConnection::bonded) {
            const sim::Conductor conductor{line.points_m, 0.5 * line.width_m, line.resistance_ohm};
            emission.currents.push_back({line.points_m, sim::induced_current_a(conductor, sonde)});
        }
    }
    return emission;
}

sim::Dipole dipole_of(const SondeTruth& sonde) {
    return sim::make_sonde(sonde.position_m, sonde.heading_deg, sonde.tilt_deg, sonde.moment_am2, sonde.frequency_hz);
}

void add_clamps(const World& world, sim::Scene& scene) {
    for (const BuriedLine& line : world.yard.lines) {
        if (line.clamp_current_a > 0.0) {
            scene.emissions.push_back({line.clamp_frequency_hz, {}, {{line.points_m, line.clamp_current_a}}});
        }
    }
}

void add_hum(const World& world, sim::Scene& scene) {
    sim::Hum hum;
    hum.mains_hz = world.yard.mains_hz;
    hum.seed = world.seed;
    for (const BuriedLine& line : world.yard.lines) {
        if (line.mains_current_a > 0.0) {
            hum.fundamental.push_back({line.points_m, line.mains_current_a});
        }
    }
    for (const OverheadLine& line : world.yard.overhead) {
        if (line.mains_current_a > 0.0) {
            hum.fundamental.push_back({line.points_m, line.mains_current_a});
        }
    }
    if (!hum.fundamental.empty()) {
        scene.hums.push_back(std::move(hum));
    }
}

} // namespace

GroundModel ground_model_of(const World& world) {
    GroundModel model;
    if (world.run) {
        model.wall = wall_factors_of(*world.run, world.sonde.frequency_hz);
    }
    if (!world.yard.resistivity_ohm_m) {
        return model;
    }
    const double resistivity = *world.yard.resistivity_ohm_m;
    const auto [least_m, most_m] = depth_range_m(world);
    model.sonde = std::make_shared<sim::GroundTables>(world.sonde.frequency_hz, resistivity, least_m, most_m);
    for (const OtherSonde& other : world.other_sondes) {
        const double other_m = table_depth_m(world, other.sonde.position_m);
        const sim::GroundTables tables(other.sonde.frequency_hz, resistivity, other_m, other_m);
        model.others.push_back(std::make_shared<sim::GroundTable>(tables.at_depth(other_m)));
    }
    return model;
}

sim::Dipole dipole_seen(const World& world, const GroundModel& ground, const SondeTruth& sonde) {
    sim::Dipole seen = dipole_of(sonde);
    if (world.run && ground.wall) {
        const double along_m = project(*world.run, sonde.position_m).along_m;
        seen.moment_am2 = sim::moment_seen(seen.moment_am2, at_length(*world.run, along_m).direction, *ground.wall);
    }
    return seen;
}

sim::Scene scene_of(const World& world, const GroundModel& ground, const SondeTruth& sonde) {
    const sim::Dipole seen = dipole_seen(world, ground, sonde);
    std::shared_ptr<const sim::GroundTable> table;
    if (ground.sonde) {
        table = std::make_shared<sim::GroundTable>(ground.sonde->at_depth(table_depth_m(world, sonde.position_m)));
    }
    sim::Scene scene;
    scene.emissions.push_back(emission_of(world, seen, std::move(table)));
    for (std::size_t i = 0; i < world.other_sondes.size(); ++i) {
        const sim::Dipole other = dipole_of(world.other_sondes[i].sonde);
        scene.emissions.push_back(emission_of(world, other, ground.others.empty() ? nullptr : ground.others[i]));
    }
    add_clamps(world, scene);
    add_hum(world, scene);
    return scene;
}

} // namespace sondeyard::field
