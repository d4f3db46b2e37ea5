// Nothing depends on where north is: the whole yard turned about its middle, with all who work in it, gives the same
// observations in the operator's own frame, tick by tick.
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>

#include <vector>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

constexpr glm::dvec2 middle_m{15.0, 15.0};

// Angles of the 3-4-5 and the 7-24-25 triangle: they carry places on a grid of 0.1 m to places on the millimetres of an
// action.
const double three_four_five_deg = sim::degrees(std::atan2(3.0, 4.0));    // 36.87
const double seven_twenty_four_deg = sim::degrees(std::atan2(24.0, 7.0)); // 73.74

glm::dvec2 turned_place(const glm::dvec2& place_m, double clockwise_deg) {
    const double a = sim::radians(clockwise_deg);
    const glm::dvec2 v = place_m - middle_m;
    return middle_m + glm::dvec2{v.x * std::cos(a) + v.y * std::sin(a), v.y * std::cos(a) - v.x * std::sin(a)};
}

// The sonde off the middle, so that turning moves it; habits that lean the mast, which turns with him.
World tilted_yard() {
    World world = sondeyard::test::empty_yard(1.3, 68.0, 23.0);
    world.sonde.position_m = {15.7, 16.1, -1.3};
    world.start_m = {14.2, 12.5};
    world.start_facing_deg = 20.0;
    world.habits = {4.0, 50.0};
    world.receiver.signal_resolution_db = 0.001;
    world.receiver.depth_resolution_m = 0.001;
    return world;
}

World turned_yard(World world, double clockwise_deg) {
    const glm::dvec2 sonde = turned_place(plan(world.sonde.position_m), clockwise_deg);
    world.sonde.position_m = {sonde, world.sonde.position_m.z};
    world.sonde.heading_deg = sim::wrap_360(world.sonde.heading_deg + clockwise_deg);
    world.start_m = turned_place(world.start_m, clockwise_deg);
    world.start_facing_deg = sim::wrap_360(world.start_facing_deg + clockwise_deg);
    return world;
}

// Half a minute round the sonde, tip on the ground from the second second on: standing, walking, turning, leaning,
// reading.
std::vector<Observation> round_the_sonde(const Setting& setting, double clockwise_deg, std::vector<Reading>& readings,
                                         std::vector<Mark>& marks) {
    const std::vector<glm::dvec2> places = {{14.9, 14.2}, {16.4, 15.2}, {15.7, 16.1},
                                            {14.3, 17.4}, {13.1, 15.9}, {15.6, 15.8}};
    ExerciseState state = start(setting);
    std::vector<Observation> all;
    for (const glm::dvec2& place : places) {
        for (int tick = 0; tick < 300; ++tick) {
            Action action = sondeyard::test::hand_at(turned_place(place, clockwise_deg));
            action.move.turn = tick > 200 && tick < 230 ? 0.7 : 0.0;
            action.move.lean_forward = tick > 240 && tick < 270 ? -0.4 : 0.0;
            if (tick == 290) {
                action.command = ReadDepth{};
            } else if (tick == 295) {
                action.command = PlaceMark{MarkKind::plumb};
            }
            all.push_back(step(setting, state, action));
        }
    }
    readings = state.notebook.readings;
    marks = state.notebook.marks;
    return all;
}

double apart_as_axes_deg(double a_deg, double b_deg) { return std::abs(0.5 * sim::wrap_180(2.0 * (a_deg - b_deg))); }

void check_same_in_his_frame(const Setting& setting, const Setting& turned, double clockwise_deg) {
    std::vector<Reading> readings;
    std::vector<Reading> turned_readings;
    std::vector<Mark> marks;
    std::vector<Mark> turned_marks;
    const auto seen = round_the_sonde(setting, 0.0, readings, marks);
    const auto then = round_the_sonde(turned, clockwise_deg, turned_readings, turned_marks);
    REQUIRE(seen.size() == then.size());
    for (std::size_t i = 120; i < seen.size();
         ++i) { // the raised receiver sways east and north, whichever way he faces
        const Observation& a = seen[i];
        const Observation& b = then[i];
        CAPTURE(a.tick);
        REQUIRE(a.has_axis);
        REQUIRE(b.has_axis);
        REQUIRE(glm::distance(turned_place(a.tip_m, clockwise_deg), b.tip_m) < 1e-4);
        REQUIRE(std::abs(sim::wrap_180(b.facing_deg - a.facing_deg - clockwise_deg)) < 0.01);
        REQUIRE(std::abs(b.signal_dbpt - a.signal_dbpt) < 0.005);
        REQUIRE(std::abs(b.lean_deg - a.lean_deg) < 0.01);
        REQUIRE(std::abs(std::abs(b.dip_deg) - std::abs(a.dip_deg)) < 0.05);
        if (std::abs(a.dip_deg) < 85.0) { // the needle says nothing where the field stands plumb
            REQUIRE(apart_as_axes_deg(b.needle_deg, a.needle_deg) < 0.1);
        }
    }
    REQUIRE(readings.size() == 6);
    REQUIRE(turned_readings.size() == 6);
    REQUIRE(marks.size() == 6);
    REQUIRE(turned_marks.size() == 6);
    for (std::size_t i = 0; i < 6; ++i) {
        REQUIRE(readings[i].depth_m.has_value());
        REQUIRE(turned_readings[i].depth_m.has_value());
        CHECK(std::abs(*turned_readings[i].depth_m - *readings[i].depth_m) < 0.002);
        REQUIRE(marks[i].field_heading_deg.has_value());
        REQUIRE(turned_marks[i].field_heading_deg.has_value());
        CHECK(apart_as_axes_deg(*turned_marks[i].field_heading_deg, *marks[i].field_heading_deg + clockwise_deg) < 0.1);
    }
}

} // namespace

TEST_CASE("the whole yard turned: a perfect receiver without noise shows the same to whoever turned with it") {
    World world = tilted_yard();
    world.receiver.side_offset_sd_m = 0.0;
    world.receiver.axis_error_sd_deg = 0.0;
    world.receiver.noise_floor_pt_per_rthz = 0.0;
    world.receiver.noise_at_512_pt_per_rthz = 0.0;
    for (const double clockwise_deg : {90.0, 180.0, three_four_five_deg, -seven_twenty_four_deg}) {
        CAPTURE(clockwise_deg);
        check_same_in_his_frame(Setting(world), Setting(turned_yard(world, clockwise_deg)), clockwise_deg);
    }
}

TEST_CASE("the whole yard turned: mounting errors and noise belong to the receiver and turn with it") {
    const World world = tilted_yard();
    for (const double clockwise_deg : {90.0, three_four_five_deg}) {
        CAPTURE(clockwise_deg);
        check_same_in_his_frame(Setting(world), Setting(turned_yard(world, clockwise_deg)), clockwise_deg);
    }
}

TEST_CASE("a sonde turned by itself, the yard left as it was, does not show the same") {
    // What makes the two tests above worth something: the tolerance tells turned from not turned.
    World world = tilted_yard();
    const Setting before(world);
    world.sonde.heading_deg += 37.0;
    const Setting after(world);
    ExerciseState a = start(before);
    ExerciseState b = start(after);
    const Observation seen = sondeyard::test::go_to(before, a, {14.9, 15.2});
    const Observation then = sondeyard::test::go_to(after, b, {14.9, 15.2});
    CHECK(std::abs(seen.signal_dbpt - then.signal_dbpt) > 0.2);
    CHECK(std::abs(seen.needle_deg - then.needle_deg) > 5.0);
}
