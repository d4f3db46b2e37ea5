// One exercise, tick by tick: what the receiver shows, marks, readings, pairs, undo, the truck check.
//
//  what                                   | against
//  signal above a level sonde             | 370 pT for 0.1 A m2 broadside at 3 m, from B = mu0 m / 4 pi r^3
//  plumb points                           | 0.7071 depth fore and aft (dipole geometry, tan I = 2 tan latitude turned
//  over) twice the distance                     | 18.06 dB (inverse cube) depth reading                          | the
//  true depth, exact above a dipole at any tilt
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>

using namespace sondeyard;
using namespace sondeyard::field;
using test::command;
using test::go_to;

namespace {

World quiet(World world) { // no mounting errors and next to no noise: what remains is field and geometry
    world.receiver.side_offset_sd_m = 0.0;
    world.receiver.axis_error_sd_deg = 0.0;
    world.receiver.noise_at_512_pt_per_rthz = 1e-6;
    world.receiver.noise_floor_pt_per_rthz = 1e-6;
    world.receiver.tip_to_antenna_m = 0.0;
    return world;
}

} // namespace

TEST_CASE("3 m above a level sonde of 0.1 A m2 the receiver shows 370 pT, 51.4 dBpT") {
    const Setting setting(quiet(test::empty_yard(3.0)));
    ExerciseState state = start(setting);
    CHECK(go_to(setting, state, {15.0, 15.0}).signal_dbpt == doctest::Approx(20.0 * std::log10(370.37)).epsilon(0.002));
}

TEST_CASE("a sonde twice as deep is 18 dB weaker") {
    double signal[2];
    for (int i = 0; i < 2; ++i) {
        const Setting setting(quiet(test::empty_yard(i == 0 ? 1.5 : 3.0)));
        ExerciseState state = start(setting);
        signal[i] = go_to(setting, state, {15.0, 15.0}).signal_dbpt;
    }
    CHECK(signal[0] - signal[1] == doctest::Approx(18.06).epsilon(0.008)); // display resolution 0.1 dB
}

TEST_CASE("the field stands plumb 0.7071 depth fore and aft, lies level over the middle") {
    const double depth = 2.0;
    const Setting setting(quiet(test::empty_yard(depth, 90.0)));
    ExerciseState state = start(setting);
    CHECK(std::abs(go_to(setting, state, {15.0 + 0.70711 * depth, 15.0}).dip_deg) > 89.5);
    CHECK(std::abs(go_to(setting, state, {15.0 - 0.70711 * depth, 15.0}).dip_deg) > 89.5);
    CHECK(std::abs(go_to(setting, state, {15.0 + 0.60 * depth, 15.0}).dip_deg) < 85.0);
    CHECK(std::abs(go_to(setting, state, {15.0, 15.0}).dip_deg) < 0.3);
}

TEST_CASE("above the sonde the needle lies along it, whichever way he faces") {
    const Setting setting(quiet(test::empty_yard(1.5, 60.0)));
    ExerciseState state = start(setting);
    Observation seen = go_to(setting, state, {15.0, 15.0});
    for (int quarter = 0; quarter < 4; ++quarter) {
        const double axis = sim::wrap_360(seen.facing_deg + seen.needle_deg);
        const double off = std::min(std::abs(sim::wrap_180(axis - 60.0)), std::abs(sim::wrap_180(axis - 240.0)));
        CHECK(off < 0.5);
        CHECK(std::abs(seen.needle_deg) <= 90.0);
        command(setting, state, TurnBy{90.0});
        seen = go_to(setting, state, {15.0, 15.0}); // the detector settles
    }
}

TEST_CASE("a facing pair at the peak agrees, reads the depth, and the lift check grows by the lift") {
    const double depth = 1.8;
    const Setting setting(test::empty_yard(depth));
    ExerciseState state = start(setting);
    go_to(setting, state, {15.0, 15.0});
    command(setting, state, PlaceMark{MarkKind::peak});
    command(setting, state, ReadDepth{});
    command(setting, state, TurnBy{180.0});
    go_to(setting, state, {15.0, 15.0});
    command(setting, state, ReadDepth{});
    REQUIRE(state.notebook.readings.size() == 2);
    const Reading& first = state.notebook.readings[0];
    const Reading& second = state.notebook.readings[1];
    CHECK(first.counts);
    CHECK(second.facing_reading_of == first.id);
    CHECK(*second.agreement < 0.10);
    CHECK(*first.depth_m == doctest::Approx(depth).epsilon(0.08));
    go_to(setting, state, {15.0, 15.0}, 0.5);
    command(setting, state, ReadDepth{});
    CHECK_FALSE(state.notebook.readings.back().counts); // raised
    const auto lift = find_lift_check(state.notebook);
    REQUIRE(lift);
    CHECK(lift->holds);
    CHECK(lift->raised_m == doctest::Approx(0.5).epsilon(0.01));
}

TEST_CASE("a second reading too far off does not pair and says by how much") {
    const Setting setting(test::empty_yard());
    ExerciseState state = start(setting);
    go_to(setting, state, {15.0, 15.0});
    command(setting, state, ReadDepth{});
    command(setting, state, TurnBy{180.0});
    go_to(setting, state, {15.0, 15.25});
    command(setting, state, ReadDepth{});
    CHECK_FALSE(state.notebook.readings.back().agreement);
    CHECK(state.notebook.readings.back().off_first_m == doctest::Approx(0.25).epsilon(0.01));
    SUBCASE("and neither does one that was not turned") {
        go_to(setting, state, {15.0, 15.0});
        command(setting, state, TurnBy{180.0});
        command(setting, state, ReadDepth{});
        CHECK_FALSE(state.notebook.readings.back().agreement);
    }
}

TEST_CASE("the wrong frequency picks up next to nothing, at the truck and in the yard") {
    World world = test::empty_yard();
    world.sonde.frequency_hz = 640.0;
    const Setting setting(world);
    ExerciseState state = start(setting);
    command(setting, state, TruckCheck{});
    CHECK_FALSE(state.truck_checks.back().heard);
    const double deaf = go_to(setting, state, {15.0, 15.0}).signal_dbpt;
    CHECK(deaf < setting.brief.noise_floor_dbpt_at_512 + 8.0);
    command(setting, state, SetFrequency{640.0});
    CHECK(go_to(setting, state, {15.0, 15.0}).signal_dbpt > deaf + 40.0);
    CHECK(command(setting, state, TruckCheck{}).refused); // 7 m from the truck
    go_to(setting, state, {15.0, 8.0});
    command(setting, state, TruckCheck{});
    CHECK(state.truck_checks.back().heard);
    CHECK(*state.truck_checks.back().depth_m == doctest::Approx(2.0).epsilon(0.05));
    CHECK(command(setting, state, SetFrequency{777.0}).refused);
}

TEST_CASE("one coil has no dial and no depth; turned level it has nulls at the plumb points") {
    World world = quiet(test::empty_yard(1.5, 0.0)); // along the way he faces
    world.receiver.kind = sim::ReceiverKind::single_coil;
    const Setting setting(world);
    ExerciseState state = start(setting);
    const Observation above = go_to(setting, state, {15.0, 15.0});
    CHECK_FALSE(above.has_axis);
    CHECK(command(setting, state, ReadDepth{}).refused);
    const Observation null = go_to(setting, state, {15.0, 15.0 + 0.70711 * 1.5});
    CHECK(null.signal_dbpt < above.signal_dbpt - 40.0);
    command(setting, state, TurnCoil{sim::CoilAttitude::upright});
    CHECK(go_to(setting, state, {15.0, 15.0}).signal_dbpt < above.signal_dbpt - 40.0); // its null is straight above
}

TEST_CASE(
    "twin coils have no dial and no coil to turn, read depth along the sonde, and have nulls at the plumb points") {
    World world = quiet(test::empty_yard(1.5, 0.0)); // along the way he faces
    world.receiver.kind = sim::ReceiverKind::twin_coil;
    const Setting setting(world);
    ExerciseState state = start(setting);
    CHECK(command(setting, state, TurnCoil{sim::CoilAttitude::upright}).refused);
    command(setting, state, TruckCheck{});
    CHECK(state.truck_checks.back().heard);
    const Observation above = go_to(setting, state, {15.0, 15.0});
    CHECK_FALSE(above.has_axis);
    CHECK_FALSE(command(setting, state, ReadDepth{}).refused);
    REQUIRE(state.notebook.readings.back().depth_m);
    CHECK(*state.notebook.readings.back().depth_m == doctest::Approx(1.5).epsilon(0.01));
    CHECK(go_to(setting, state, {15.0, 15.0 + 0.70711 * 1.5}).signal_dbpt < above.signal_dbpt - 40.0);
    go_to(setting, state, {15.0, 15.0});
    command(setting, state, TurnBy{90.0}); // across the sonde: nothing to hear, nothing to read
    const Observation across = go_to(setting, state, {15.0, 15.0});
    CHECK(across.signal_dbpt < above.signal_dbpt - 40.0);
}

TEST_CASE("the wide setting is the trainee's choice where the receiver has one, and is quicker") {
    const Setting narrow_only(test::empty_yard());
    ExerciseState without = start(narrow_only);
    CHECK(command(narrow_only, without, SetBandwidth{sim::Bandwidth::wide}).refused);
    CHECK(observe(narrow_only, without).bandwidth == sim::Bandwidth::narrow);

    World world = quiet(test::empty_yard());
    world.receiver.has_wide = true;
    const Setting setting(world);
    CHECK(setting.brief.has_wide);
    // Off the sonde's frequency and back: a command holds from the next tick on, so five of them, 1/12 s.
    const auto missing_db = [&](sim::Bandwidth bandwidth) {
        ExerciseState state = start(setting);
        const double full = go_to(setting, state, {15.0, 15.0}).signal_dbpt;
        CHECK(command(setting, state, SetBandwidth{bandwidth}).bandwidth == bandwidth);
        command(setting, state, SetFrequency{8192.0});
        go_to(setting, state, {15.0, 15.0});
        command(setting, state, SetFrequency{512.0});
        Observation seen;
        for (int i = 0; i < 5; ++i) {
            seen = step(setting, state, test::hand_at({15.0, 15.0}));
        }
        return full - seen.signal_dbpt;
    };
    CHECK(missing_db(sim::Bandwidth::wide) ==
          doctest::Approx(-20.0 * std::log10(1.0 - std::exp(-1.0 / 0.6))).epsilon(0.05));
    CHECK(missing_db(sim::Bandwidth::narrow) ==
          doctest::Approx(-20.0 * std::log10(1.0 - std::exp(-1.0 / 1.8))).epsilon(0.05));
}

TEST_CASE("too near the sonde the display says overload, shows the full scale and gives no depth") {
    World world = test::empty_yard(0.3, 0.0);
    world.sonde.moment_am2 = 1.0; // 1e-7 / 0.35^3: 2.3 uT at the lower antenna
    const Setting setting(world);
    ExerciseState state = start(setting);
    CHECK_FALSE(observe(setting, state).overload);
    const Observation above = go_to(setting, state, {15.0, 15.0});
    CHECK(above.overload);
    CHECK(above.signal_dbpt == doctest::Approx(120.0));
    CHECK_FALSE(above.has_axis);
    CHECK(command(setting, state, ReadDepth{}).refused);
    CHECK(state.notebook.readings.empty());
    const Observation raised = go_to(setting, state, {15.0, 15.0}, 0.5); // 0.16 uT
    CHECK_FALSE(raised.overload);
    CHECK(raised.has_axis);
    CHECK_FALSE(command(setting, state, ReadDepth{}).refused);
}

TEST_CASE("marks move, are taken back, and undo goes back step by step") {
    const Setting setting(test::empty_yard());
    ExerciseState state = start(setting);
    go_to(setting, state, {15.0, 10.0});
    command(setting, state, PlaceMark{MarkKind::plumb});
    command(setting, state, PlaceMark{MarkKind::peak});
    const int peak = state.notebook.marks.back().id;
    go_to(setting, state, {15.0, 12.0});
    command(setting, state, MoveMark{peak});
    CHECK(state.notebook.marks.back().place_m.y == doctest::Approx(12.0));
    CHECK(command(setting, state, MoveMark{99}).refused);
    command(setting, state, TakeBack{MarkKind::plumb});
    CHECK(state.notebook.marks.size() == 1);
    CHECK(command(setting, state, TakeBack{MarkKind::plumb}).refused);
    command(setting, state, Undo{});
    CHECK(state.notebook.marks.size() == 2);
    command(setting, state, Undo{});
    CHECK(state.notebook.marks.back().place_m.y == doctest::Approx(10.0));
    command(setting, state, Undo{});
    command(setting, state, Undo{});
    CHECK(state.notebook.marks.empty());
    CHECK(command(setting, state, Undo{}).refused);
    command(setting, state, PlaceMark{MarkKind::locate});
    command(setting, state, PlaceMark{MarkKind::locate});
    CHECK(state.notebook.marks.size() == 1); // one locate; a second moves it
}

TEST_CASE("a deleted reading leaves its partner single, and what was really done stays on record") {
    const Setting setting(test::empty_yard());
    ExerciseState state = start(setting);
    go_to(setting, state, {15.0, 15.0});
    command(setting, state, ReadDepth{});
    command(setting, state, TurnBy{180.0});
    command(setting, state, ReadDepth{});
    REQUIRE(state.notebook.readings.back().agreement);
    command(setting, state, DeleteReading{state.notebook.readings.front().id});
    CHECK_FALSE(state.notebook.readings.back().agreement);
    CHECK(state.all_readings.size() == 2);
}

TEST_CASE("after the finish nothing moves any more") {
    const Setting setting(test::empty_yard());
    ExerciseState state = start(setting);
    command(setting, state, Finish{});
    const std::int64_t tick = state.tick;
    const Observation seen = step(setting, state, test::hand_at({20.0, 20.0}));
    CHECK(seen.finished);
    CHECK(state.tick == tick);
}

TEST_CASE("no phase reference: a source driven with any phase gives the same observations") {
    // Without noise, which has a phase of its own; quantised as they are seen, so exactly the same.
    World world = quiet(test::empty_yard(1.3, 75.0, 12.0));
    world.receiver.noise_at_512_pt_per_rthz = 0.0;
    world.receiver.noise_floor_pt_per_rthz = 0.0;
    world.habits = {4.0, 120.0};
    const Setting setting(world);
    for (const double phi : {0.4, 1.1, 3.14159265358979, 5.0}) {
        ExerciseState a = start(setting);
        ExerciseState b = a;
        sim::Scene shifted = *a.scene;
        sim::Phasor3& moment = shifted.emissions.front().dipoles.front().dipole.moment_am2;
        moment = {std::cos(phi) * moment.re, std::sin(phi) * moment.re};
        b.scene = std::make_shared<sim::Scene>(shifted);
        a.detector = b.detector = {}; // filled anew by the next tick, each with its own phase
        for (const glm::dvec2 place : {glm::dvec2{15.3, 14.2}, {15.6, 14.7}, {14.2, 15.3}}) {
            go_to(setting, a, place);
            go_to(setting, b, place);
            CHECK(a.digest == b.digest);
        }
    }
}
