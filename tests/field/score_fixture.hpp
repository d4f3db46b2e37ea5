// A small yard and an exercise worked well in it, both built by hand, for the tests of score and debrief.
//
// Sonde at (15, 20), 1.50 m down, level, in a level 100 mm pipe that runs from north to south:
//     invert 1.525, springline 1.475, top of the pipe 1.422 m down (sheet: 25 mm over the invert, wall 3 mm).
#pragma once

#include "field/debrief.hpp"
#include "field/score.hpp"

#include <algorithm>
#include <string>

namespace score_fixture {

using namespace sondeyard;
using namespace sondeyard::field;

inline constexpr double depth = 1.5;
inline constexpr glm::dvec2 spot{15.0, 20.0};

inline World yard_at(double sonde_depth_m) {
    World world;
    world.yard.width_m = 30.0;
    world.yard.length_m = 40.0;
    world.sonde.position_m = {spot.x, spot.y, -sonde_depth_m};
    world.sonde.heading_deg = 180.0;
    world.sonde.tilt_deg = 0.0;
    const double centre_z = -sonde_depth_m + 0.025;
    world.run = Run{{{15.0, 35.0, centre_z}, {15.0, 5.0, centre_z}}, PipeMaterial::pvc, 0.10, 0.003};
    world.sheet.title = "Behind the garage";
    world.sheet.frequency_hz = 512.0;
    world.sheet.ticket = {"T-1", TicketState::cleared, {}};
    world.start_m = {15.0, 10.0};
    world.habits.lean_deg = 0.0;
    return world;
}
inline World yard() { return yard_at(depth); }

inline Mark mark(int id, MarkKind kind, glm::dvec2 place_m, std::int64_t tick, double signal_dbpt = 70.0,
                 std::optional<double> dip_deg = std::nullopt) {
    Mark m;
    m.id = id;
    m.kind = kind;
    m.place_m = place_m;
    m.tick = tick;
    m.signal_dbpt = signal_dbpt;
    m.dip_deg = dip_deg;
    return m;
}

inline Reading reading(int id, std::int64_t tick, double depth_m, double facing_deg, double tip_height_m = 0.0) {
    Reading r;
    r.id = id;
    r.tick = tick;
    r.place_m = spot;
    r.facing_deg = facing_deg;
    r.tip_height_m = tip_height_m;
    r.lean_deg = 1.0;
    r.depth_m = depth_m;
    r.counts = tip_height_m < tip_down_m;
    return r;
}

inline DigBox box(double length_m, double width_m, double depth_m, DigMethod method = DigMethod::machine,
                  glm::dvec2 centre_m = spot) {
    return {centre_m, 0.0, length_m, width_m, depth_m, method};
}

inline void keep(ExerciseState& state, const Reading& r) {
    state.notebook.readings.push_back(r);
    state.all_readings.push_back(r);
}

// Everything done, and right: 100 points.
inline ExerciseState worked_well() {
    ExerciseState state;
    state.tick = 6000;
    state.ticket_read_tick = 60;
    state.truck_checks.push_back({120, 512.0, 71.9, 2.0, true});
    state.first_mark_tick = 1200;
    state.finished_tick = 6000;
    state.trail.push_back({600, {15.0, 15.0}, 0.8, 40.0});
    state.trail.push_back({900, {15.0, 18.0}, 0.8, 55.0});
    for (int i = 0; i < 4; ++i) {
        state.trail.push_back({2400 + 60 * i, spot + 1.5 * direction_of(90.0 * i), 0.0, 60.0});
    }
    auto& marks = state.notebook.marks;
    marks.push_back(mark(1, MarkKind::plumb, spot + glm::dvec2{0.0, 1.096}, 1200, 66.0, 88.0));
    marks.push_back(mark(2, MarkKind::plumb, spot - glm::dvec2{0.0, 1.096}, 1500, 66.0, 86.5));
    marks.push_back(mark(3, MarkKind::peak, spot, 1800, 70.0, 2.0));
    marks.push_back(mark(4, MarkKind::locate, spot, 4000, 70.0, 2.0));
    keep(state, reading(5, 3000, 1.49, 10.0));
    Reading facing = reading(6, 3744, 1.52, 190.0);
    facing.facing_reading_of = 5;
    facing.agreement = 0.03 / 1.505;
    keep(state, facing);
    keep(state, reading(7, 3900, 2.01, 190.0, 0.5));
    state.notebook.depth_call_m = 1.5;
    state.notebook.tilt_call = TiltCall::level;
    state.notebook.dig = box(1.2, 0.8, 1.45);
    return state;
}

inline Score scored(const World& world, const ExerciseState& state) { return score(Setting(world), state); }

inline const ProcedureItem& item(const Score& s, std::string_view key) {
    return *std::ranges::find(s.procedure, key, &ProcedureItem::key);
}
inline const SafetyItem& safety(const Score& s, std::string_view key) {
    return *std::ranges::find(s.safety, key, &SafetyItem::key);
}

// A straight line from south to north or west to east through the yard, at a place and depth.
inline BuriedLine line_north(double x, double depth_m, LineKind kind = LineKind::gas, std::string owner = "Vale Gas") {
    BuriedLine line;
    line.kind = kind;
    line.owner = std::move(owner);
    line.points_m = {{x, 0.0, -depth_m}, {x, 40.0, -depth_m}};
    line.width_m = 0.05;
    line.paint_m = {{x, 0.0}, {x, 40.0}};
    return line;
}

} // namespace score_fixture
