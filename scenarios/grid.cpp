#include "scenarios/grid.hpp"

namespace sondeyard::scenarios {

namespace {

// Angles that were brought into [0, 360) before may round up to 360.
void heading_to_grid(double& heading_deg) {
    to_grid(heading_deg);
    if (heading_deg >= 360.0) {
        heading_deg -= 360.0;
    }
}
} // namespace

void to_grid(field::World& world) {
    to_grid(world.yard.width_m);
    to_grid(world.yard.length_m);
    for (field::Area& area : world.yard.areas) {
        to_grid(area.outline_m);
    }
    for (field::Clue& clue : world.yard.clues) {
        to_grid(clue.place_m);
    }
    for (field::BuriedLine& line : world.yard.lines) {
        to_grid(line.points_m);
        to_grid(line.paint_m);
        to_grid(line.width_m);
    }
    for (field::OverheadLine& line : world.yard.overhead) {
        to_grid(line.points_m);
    }
    for (field::OtherSonde& other : world.other_sondes) {
        to_grid(other.sonde.position_m);
        heading_to_grid(other.sonde.heading_deg);
    }
    if (world.run) {
        to_grid(world.run->centreline_m);
        to_grid(world.run->inside_diameter_m);
        if (world.run->slack_m) {
            to_grid(*world.run->slack_m);
        }
        to_grid(world.run->wall_m);
    }
    to_grid(world.sonde.position_m);
    heading_to_grid(world.sonde.heading_deg);
    to_grid(world.sonde.tilt_deg);
    if (world.sheet.cleanout_m) {
        to_grid(*world.sheet.cleanout_m);
    }
    if (world.sheet.counter_m) {
        to_grid(*world.sheet.counter_m);
    }
    world.sheet.truck_signal_dbpt = std::round(world.sheet.truck_signal_dbpt * 1e3) / 1e3;
    to_grid(world.habits.lean_deg);
    to_grid(world.habits.lean_toward_deg);
    to_grid(world.start_m);
    heading_to_grid(world.start_facing_deg);
}

} // namespace sondeyard::scenarios
