// With the cable hand there are two right places, and a locate counts against the nearer one.
//
// Outside sources: figures follow from the drawing in cable_fixture.hpp by hand.
#include "field/debrief.hpp"
#include "field/guide.hpp"
#include "tests/field/cable_fixture.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>

using namespace sondeyard;
using namespace sondeyard::field;
using doctest::Approx;
using test::ask_cable;
using test::command;
using test::go_to;
using test::level_before_drop;
using test::yard_with_drop;

namespace {

bool any_note(const Setting& setting, const ExerciseState& state, const std::string& words) {
    const Debrief said = debrief(setting, state, score(setting, state));
    return std::ranges::any_of(said.notes, [&](const std::string& n) { return n.find(words) != std::string::npos; });
}

void call(const Setting& setting, ExerciseState& state, const glm::dvec2& place_m, double depth_m, TiltCall tilt) {
    go_to(setting, state, place_m);
    command(setting, state, PlaceMark{MarkKind::locate});
    command(setting, state, CallDepth{depth_m});
    command(setting, state, CallTilt{tilt, 0.0, std::nullopt});
}

const ProcedureItem& item(const Score& score, std::string_view key) {
    return *std::ranges::find(score.procedure, key, &ProcedureItem::key);
}

} // namespace

TEST_CASE("a locate where the sonde lay when it was marked counts there, with its depth and its tilt") {
    const Setting setting(yard_with_drop(0.2));
    ExerciseState state = start(setting);
    ask_cable(setting, state, -2.6); // 2.4 m of it reach the sonde: level, 1.00 m down at (15, 12)
    call(setting, state, {15.0, 12.0}, 1.0, TiltCall::level);
    ask_cable(setting, state, -1.0); // what comes after the mark does not change it
    const Score s = score(setting, state);
    CHECK_FALSE(s.located.at_stop);
    CHECK(s.located.cable.sonde_m == Approx(-2.4));
    CHECK(*s.horizontal_error_m < 0.002);
    CHECK(s.true_depth_m == Approx(1.0));
    CHECK(s.depth_within);
    CHECK(s.tilt.right);
    CHECK(s.tilt.true_tilt_deg == Approx(0.0));
    CHECK(s.position_points + s.depth_points + s.tilt_points ==
          full_position_points + full_depth_points + full_tilt_points);
    CHECK(any_note(setting, state, "the sonde lay 2.40 m back from where it had stopped"));
    CHECK(any_note(setting, state, "counted against that"));
    CHECK(any_note(setting, state, "0.20 m of slack"));
}

TEST_CASE("a locate carried on to the stop counts there, whatever the cable does; level and on end are both right") {
    for (const TiltCall tilt : {TiltCall::level, TiltCall::on_end, TiltCall::tilted}) {
        const Setting setting(yard_with_drop(0.2));
        ExerciseState state = start(setting);
        ask_cable(setting, state, -2.6);
        call(setting, state, {15.0, 13.95}, 1.4, tilt);
        const Score s = score(setting, state);
        CHECK(s.located.at_stop);
        CHECK(*s.horizontal_error_m == Approx(0.05).epsilon(0.05));
        CHECK(s.true_depth_m == Approx(1.4));
        CHECK(s.depth_within);
        CHECK(s.tilt.right == (tilt != TiltCall::tilted));
        CHECK(any_note(setting, state, "carried on by counter and pipe heading"));
    }
}

TEST_CASE("the depth call belongs to the place where the locate counts, and the dig to the fault") {
    World world = yard_with_drop(0.0);
    const Setting setting(world);
    ExerciseState state = start(setting);
    ask_cable(setting, state, -2.4);
    call(setting, state, {15.0, 12.0}, 1.4, TiltCall::level); // the stop's depth at the other place
    command(setting, state, ProposeDig{{{15.0, 14.0}, 0.0, 1.2, 0.8, 1.3, DigMethod::hand}});
    Score s = score(setting, state);
    CHECK_FALSE(s.depth_within);
    CHECK(s.target_gap_m == 0.0); // over the fault, at the stop
    command(setting, state, ProposeDig{{{15.0, 12.0}, 0.0, 1.2, 0.8, 0.9, DigMethod::hand}});
    s = score(setting, state);
    CHECK(s.dig_outcome == DigOutcome::beside);
    CHECK(any_note(setting, state, "the fault"));
}

TEST_CASE("nobody asked: nothing is said of a cable, and the score file has null for it") {
    const Setting setting(yard_with_drop(0.2));
    ExerciseState state = start(setting);
    call(setting, state, {15.0, 14.0}, 1.4, TiltCall::on_end);
    CHECK_FALSE(any_note(setting, state, "able hand"));
    CHECK(score_json(score(setting, state)).find("\"cable\": null") != std::string::npos);
    ask_cable(setting, state, -1.0);
    CHECK(score_json(score(setting, state)).find("\"slack_m\": 0.2") != std::string::npos);
}

TEST_CASE("plumb points of two places of the sonde are no pair") {
    for (const bool pulled : {false, true}) {
        CAPTURE(pulled);
        const Setting setting(level_before_drop());
        ExerciseState state = start(setting);
        const double half_m = std::sqrt(0.5) * (1.0 + setting.world.receiver.tip_to_antenna_m);
        go_to(setting, state, {15.0, 10.0 + half_m});
        command(setting, state, PlaceMark{MarkKind::plumb});
        const double by_m = pulled ? -2.0 : 0.0;
        if (pulled) {
            ask_cable(setting, state, by_m);
        }
        go_to(setting, state, {15.0, 10.0 + by_m - half_m});
        command(setting, state, PlaceMark{MarkKind::plumb});
        CHECK(item(score(setting, state), "plumb_points").done == !pulled);
    }
}

TEST_CASE("an approach counts against where the sonde lay at the time") {
    const Setting setting(yard_with_drop(0.0));
    ExerciseState state = start(setting);
    go_to(setting, state, {15.0, 6.0}, 0.5);
    CHECK_FALSE(item(score(setting, state), "approached").done); // 8 m from the stop
    for (const double by_m : {-3.0, -3.0, -2.4}) {
        ask_cable(setting, state, by_m); // (15, 6)
    }
    for (int tick = 0; tick < 30; ++tick) {
        step(setting, state, test::hand_at({15.0, 6.0}, 0.5));
    }
    CHECK(item(score(setting, state), "approached").done);
}

TEST_CASE("the guide says what the asking has changed, and begins anew where the sonde lies now") {
    const Setting setting(yard_with_drop(0.2));
    ExerciseState state = start(setting);
    command(setting, state, ReadTicket{});
    command(setting, state, TruckCheck{});
    go_to(setting, state, {15.0, 14.0});
    for (const MarkKind kind : {MarkKind::plumb, MarkKind::peak}) {
        command(setting, state, PlaceMark{kind});
    }
    const auto hint = [&] { return next_hint(setting.brief, state, observe(setting, state)); };
    CHECK(hint().sentence.find("counter") == std::string::npos);
    command(setting, state, AskCable{-2.0});
    CHECK(hint().sentence.find("wait until the counter stands") != std::string::npos);
    const Observation seen = ask_cable(setting, state, -2.0); // refused: still moving; waits for the first
    CHECK_FALSE(seen.cable_moving);
    CHECK(hint().sentence.find("belong to where the sonde lies now") != std::string::npos);
    CHECK(hint().sentence.find("2.00 m farther on along the pipe") !=
          std::string::npos); // by the counter, not the truth
    go_to(setting, state, {15.0, 12.9});
    for (int tick = 0; tick < 700; ++tick) {
        step(setting, state, test::hand_at({15.0, 12.9}));
    }
    CHECK(hint().sentence.find("belong to") == std::string::npos);
    CHECK(hint().command != "read_depth"); // plumb points and peak of the drop do not count here
    command(setting, state, PlaceMark{MarkKind::peak});
    CHECK(hint().sentence.find("belong to") == std::string::npos);
}
