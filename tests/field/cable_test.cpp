// The cable hand: counter, slack, and the sonde that follows the pipe.
//
// Outside sources: lengths and attitudes follow from the run's drawing in cable_fixture.hpp by hand. The field of a
// dipole above its middle, mu0 m / (4 pi r^3) for one that lies level and twice that for one on end: any textbook, e.g.
// Griffiths, Introduction to Electrodynamics, 5.4 (from memory).
#include "field/replay.hpp"
#include "tests/field/cable_fixture.hpp"
#include "tests/temp_folder.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

using namespace sondeyard;
using namespace sondeyard::field;
using doctest::Approx;
using test::ask_cable;
using test::command;
using test::level_before_drop;
using test::yard_with_drop;

namespace {

Observation idle(const Setting& setting, ExerciseState& state) {
    return step(setting, state, test::hand_at(state.body.tip_m, state.body.tip_height_m));
}

} // namespace

TEST_CASE("pulled back from the stop the counter runs first and the sonde follows when the slack is taken up") {
    const Setting setting(yard_with_drop(0.2));
    ExerciseState state = start(setting);
    CHECK(observe(setting, state).counter_m == 12.30);
    command(setting, state, AskCable{-1.0});
    CHECK(observe(setting, state).cable_moving);
    for (int tick = 0; tick < 48; ++tick) { // 0.2 m at 0.25 m/s
        CHECK(sonde_now(setting, state).position_m == setting.world.sonde.position_m);
        idle(setting, state);
    }
    CHECK(*observe(setting, state).counter_m == Approx(12.10));
    idle(setting, state);
    CHECK(sonde_now(setting, state).position_m.z > setting.world.sonde.position_m.z);
    int ticks = 49;
    while (observe(setting, state).cable_moving) {
        idle(setting, state);
        ++ticks;
    }
    CHECK(ticks == 240);
    CHECK(*observe(setting, state).counter_m == Approx(11.30));
    CHECK(state.cable.now.out_m == -1.0);
    CHECK(state.cable.now.sonde_m == -0.8); // 0.4 m up the drop and 0.4 m up the level pipe
    CHECK(sonde_now(setting, state).position_m.y == Approx(13.6));
}

TEST_CASE("pushed on from the stop the sonde moves at once, and turned round the slack shows again") {
    const Setting setting(yard_with_drop(0.2));
    ExerciseState state = start(setting);
    ask_cable(setting, state, 2.0);
    CHECK(state.cable.now.out_m == 2.0);
    CHECK(state.cable.now.sonde_m == 2.0);
    ask_cable(setting, state, -0.15);
    CHECK(state.cable.now.out_m == 1.85);
    CHECK(state.cable.now.sonde_m == 2.0); // still within the slack
    ask_cable(setting, state, -0.15);
    CHECK(state.cable.now.sonde_m == Approx(1.9));
    ask_cable(setting, state, -1.7);
    CHECK(state.cable.now.out_m == 0.0);
    CHECK(state.cable.now.sonde_m == Approx(0.2)); // the counter is back, the sonde is not
    ask_cable(setting, state, -1.0);
    ask_cable(setting, state, 1.0);
    CHECK(state.cable.now.sonde_m == 0.0); // pulled past it and pushed on: as it lay at the stop
    CHECK(sonde_now(setting, state).position_m == setting.world.sonde.position_m);
}

TEST_CASE("the sonde follows the pipe with heading and tilt, and rides where it rides in it") {
    const Setting setting(yard_with_drop(0.0));
    const auto lying = [&](double by_m) { return sonde_lying(setting.world, setting.cable, by_m); };
    CHECK(lying(0.0).tilt_deg == 90.0);
    CHECK(lying(-0.3).tilt_deg == Approx(90.0));
    CHECK(lying(-0.3).position_m.z == Approx(-1.1));
    CHECK(lying(-2.0).tilt_deg == Approx(0.0));
    CHECK(lying(-2.0).heading_deg == Approx(0.0));
    CHECK(lying(-2.0).position_m.y == Approx(12.4));
    CHECK(lying(-2.0).position_m.z == Approx(-1.0)); // the middle of the pipe, as high over the invert as in the drop
    CHECK(lying(3.0).position_m.z == Approx(-2.0));
    CHECK(lying(3.0).position_m.y == Approx(16.4));
    SUBCASE("and keeps the turn that it has to a pipe that is not upright, whichever end is named") {
        World world = yard_with_drop(0.0);
        world.sonde.position_m = {15.0, 16.0, -2.0};
        world.run->centreline_m.back() = {15.0, 20.0, -2.0};
        world.run->centreline_m.emplace_back(20.0, 20.0, -2.0); // a bend to the east
        for (const bool other_end : {false, true}) {
            world.sonde.heading_deg = other_end ? 190.0 : 10.0;
            world.sonde.tilt_deg = other_end ? -4.0 : 4.0;
            const CableLimits limits = cable_limits_of(world);
            const SondeTruth there = sonde_lying(world, limits, 5.5); // 1.5 m past the bend, which is at 4.0
            CHECK(there.heading_deg == Approx(other_end ? 280.0 : 100.0));
            CHECK(there.tilt_deg == Approx(other_end ? -4.0 : 4.0));
        }
    }
}

TEST_CASE("what the receiver hears comes from where the sonde lies now") {
    World world = yard_with_drop(0.0);
    world.sonde.moment_am2 = 2.0; // well above any noise
    const Setting setting(world);
    ExerciseState state = start(setting);
    const auto seen_over = [&](const glm::dvec2& place_m) { return test::go_to(setting, state, place_m).signal_dbpt; };
    const auto expected_dbpt = [](double range_m, double times) {
        return 20.0 * std::log10(times * 1e-7 * 2.0 / std::pow(range_m, 3.0) / 1e-12);
    };
    const double antenna_m = world.receiver.tip_to_antenna_m;
    CHECK(std::abs(seen_over({15.0, 14.0}) - expected_dbpt(1.4 + antenna_m, 2.0)) < 0.4);
    ask_cable(setting, state, -2.4); // level now, 2.0 m up the pipe and 1.00 m down
    CHECK(std::abs(seen_over({15.0, 12.0}) - expected_dbpt(1.0 + antenna_m, 1.0)) < 0.4);
    CHECK(std::abs(seen_over({15.0, 14.0}) - expected_dbpt(1.4 + antenna_m, 2.0)) > 3.0);
}

TEST_CASE("the cable hand says what he cannot do, and goes as far as the pipe does") {
    const Setting setting(yard_with_drop(0.2));
    ExerciseState state = start(setting);
    for (const double by_m : {0.0, 0.05, -0.09, 3.01, -3.5, 1000.0}) {
        CAPTURE(by_m);
        const Observation seen = command(setting, state, AskCable{by_m});
        CHECK(seen.refused);
        CHECK(std::string(seen.note).find("0.1 to 3 m") != std::string::npos);
        CHECK_FALSE(seen.cable_moving);
    }
    CHECK_FALSE(command(setting, state, AskCable{3.0}).refused);
    CHECK(command(setting, state, AskCable{1.0}).refused); // still moving
    while (observe(setting, state).cable_moving) {
        idle(setting, state);
    }
    for (int k = 0; k < 2; ++k) {
        CHECK(ask_cable(setting, state, 3.0).note.empty());
    }
    const Observation last = command(setting, state, AskCable{3.0}); // 10.6 m of pipe lie on from the stop
    CHECK_FALSE(last.refused);
    CHECK(last.note.find("as far as it goes") != std::string_view::npos);
    while (observe(setting, state).cable_moving) {
        idle(setting, state);
    }
    CHECK(state.cable.now.sonde_m == Approx(10.6 - cable_end_clear_m));
    CHECK(command(setting, state, AskCable{0.5}).refused);
    for (int k = 0; k < 8; ++k) {
        ask_cable(setting, state, -3.0);
    }
    CHECK(state.cable.now.sonde_m == Approx(-9.4 + cable_end_clear_m));
    CHECK(command(setting, state, AskCable{-0.5}).refused);
    const Setting no_run(test::empty_yard());
    ExerciseState bare = start(no_run);
    CHECK(command(no_run, bare, AskCable{-1.0}).refused);
    CHECK_FALSE(observe(no_run, bare).counter_m);
}

TEST_CASE("an unasked cable has slack of its own from the seed, between 3 and 30 cm") {
    World world = yard_with_drop();
    world.run->slack_m.reset();
    double least = 1.0;
    double most = 0.0;
    for (std::uint64_t seed = 1; seed <= 200; ++seed) {
        world.seed = seed;
        const double slack_m = cable_limits_of(world).slack_m;
        CHECK(slack_m == cable_limits_of(world).slack_m);
        least = std::min(least, slack_m);
        most = std::max(most, slack_m);
    }
    CHECK(least >= 0.03);
    CHECK(least < 0.05);
    CHECK(most <= 0.30);
    CHECK(most > 0.28);
}

TEST_CASE("an exercise with the cable hand replays bit for bit, and from the middle of a pull") {
    const test::Folder temp;
    const Setting setting(yard_with_drop(0.13));
    ExerciseState state = start(setting);
    std::vector<CablePlace> places = {state.cable.now};
    {
        LogWriter writer(temp / "a.jsonl", {1, "test", "t\n", sha256_hex("t\n"), setting.world.seed, "tri-axis"});
        for (std::int64_t tick = 1; tick <= 2400; ++tick) {
            Action action = test::hand_at({14.0 + 0.001 * static_cast<double>(tick), 13.0});
            if (tick % 500 == 100) {
                action.command = AskCable{tick < 1000 ? -1.234 : 0.777};
            } else if (tick % 500 == 150) {
                action.command = PlaceMark{MarkKind::peak};
            }
            const Observation seen = step(setting, state, action);
            writer.record(action, seen, state);
            places.push_back(state.cable.now);
        }
        writer.end(state);
    }
    const WorkLog log = read_log(temp / "a.jsonl");
    CHECK(log.fault.empty());
    const ReplayResult now = replay(setting, log);
    CHECK_FALSE(now.first_difference);
    CHECK(now.state.digest == state.digest);
    CHECK(now.state.cable.now.sonde_m == state.cable.now.sonde_m);
    Player player(setting, log);
    CHECK(player.seek(2400).digest == state.digest);
    CHECK(player.seek(700).cable.now.out_m == places[700].out_m); // in a pull, after a key frame at 600
    CHECK(player.seek(2400).digest == state.digest);
    CHECK(state.cable.moves.size() < 20);
    double off = 0.0;
    for (std::size_t tick = 0; tick < places.size(); ++tick) {
        const CablePlace then = place_at(state.cable, static_cast<std::int64_t>(tick));
        off = std::max({off, std::abs(then.out_m - places[tick].out_m), std::abs(then.sonde_m - places[tick].sonde_m)});
    }
    CHECK(off < 1e-4); // every tick's place back from a dozen points: a tick at the end of the slack is split
}

TEST_CASE("another crew's sonde does not follow the counter") {
    World world = yard_with_drop(0.0);
    world.other_sondes.push_back({"another crew", world.sonde});
    world.other_sondes.back().sonde.position_m.x += 6.0;
    const Setting setting(world);
    ExerciseState state = start(setting);
    const auto place_of = [&](std::size_t i) { return state.scene->emissions[i].dipoles.front().dipole.position_m; };
    const glm::dvec3 ours = place_of(0);
    const glm::dvec3 theirs = place_of(1);
    ask_cable(setting, state, -2.0);
    CHECK(glm::distance(place_of(0), ours) > 1.5);
    CHECK(place_of(0) == sonde_now(setting, state).position_m);
    CHECK(place_of(1) == theirs);
}

TEST_CASE("readings across a pull make no facing pair and no lift check") {
    for (const bool pulled : {false, true}) {
        CAPTURE(pulled);
        const Setting setting(level_before_drop());
        ExerciseState state = start(setting);
        test::go_to(setting, state, {15.0, 9.9});
        command(setting, state, ReadDepth{});
        if (pulled) {
            ask_cable(setting, state, -0.2); // as near to the mark as it was, on the other side
        }
        command(setting, state, TurnBy{180.0});
        test::go_to(setting, state, {15.0, 9.9});
        command(setting, state, ReadDepth{});
        test::go_to(setting, state, {15.0, 9.9}, 0.5);
        command(setting, state, ReadDepth{});
        const auto& readings = state.notebook.readings;
        REQUIRE(readings.size() == 3);
        CHECK((readings[1].facing_reading_of == readings[0].id) == !pulled);
        Notebook first_and_last;
        first_and_last.readings = {readings[0], readings[2]};
        CHECK(find_lift_check(first_and_last).has_value() == !pulled);
    }
}
