// The NEXT line: always something to do, in the order of the work, from what can be known, never saying where.
#include "field/guide.hpp"
#include "field/model_operator.hpp"
#include "field/score.hpp"
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

using namespace sondeyard;
using namespace sondeyard::field;
using test::command;
using test::go_to;

namespace {

struct Heard {
    const Setting* setting;
    std::vector<std::string> commands; // in the order in which they were first asked for
    std::vector<std::string> sentences;
};

void listen(Heard& heard, const Observation& seen, const ExerciseState& state) {
    const Hint hint = next_hint(heard.setting->brief, state, seen);
    const std::string command(hint.command);
    if (!command.empty() && std::ranges::find(heard.commands, command) == heard.commands.end()) {
        heard.commands.push_back(command);
    }
    if (heard.sentences.empty() || heard.sentences.back() != hint.sentence) {
        heard.sentences.push_back(hint.sentence);
    }
}

ExerciseState run(const Setting& setting, Heard& heard) {
    const auto who = make_model_operator("level-line", setting.brief);
    return operate(setting, *who, 60 * 60 * 20,
                   [&](const Action& /*action*/, const Observation& seen, const ExerciseState& state) {
                       listen(heard, seen, state);
                   });
}

// A well-worked exercise that can be worked on: all but the finish.
ExerciseState run_to_the_end(const Setting& setting) {
    Heard heard{&setting, {}, {}};
    ExerciseState state = run(setting, heard);
    REQUIRE(state.finished_tick);
    state.finished_tick.reset();
    return state;
}

std::size_t place_of(const std::vector<std::string>& all, const char* what) {
    return static_cast<std::size_t>(std::ranges::find(all, what) - all.begin());
}

// Ticket and truck done: nothing keeps him from the yard.
ExerciseState with_papers_read(const Setting& setting) {
    ExerciseState state = start(setting);
    command(setting, state, ReadTicket{});
    command(setting, state, TruckCheck{});
    return state;
}

World yard_for(sim::ReceiverKind kind) { // the sonde along the way he walks from the truck
    World world = test::empty_yard(1.2, 0.0);
    world.receiver.kind = kind;
    world.receiver.axis_error_sd_deg = 0.0;
    return world;
}

Observation mark_peak_as_told(const Setting& setting, ExerciseState& state) {
    const Observation seen = go_to(setting, state, {15.0, 15.0});
    CHECK(next_hint(setting.brief, state, seen).command == "mark_peak");
    return command(setting, state, PlaceMark{MarkKind::peak});
}

} // namespace

TEST_CASE("the guide leads through the whole job in order and ends at the finish") {
    const Setting setting(test::empty_yard(1.2, 40.0, 3.0));
    Heard heard{&setting, {}, {}};
    const ExerciseState state = run(setting, heard);
    REQUIRE(state.finished_tick);
    const ExerciseState fresh = start(setting);
    CHECK(next_hint(setting.brief, fresh, observe(setting, fresh)).command == "read_ticket");
    const auto& c = heard.commands; // he reads the ticket in his first tick
    CHECK(c.front() == "truck_check");
    CHECK(place_of(c, "truck_check") < place_of(c, "toggle_height"));
    CHECK(place_of(c, "toggle_height") < place_of(c, "read_depth"));
    CHECK(place_of(c, "read_depth") < c.size());
    CHECK(place_of(c, "mark_locate") < c.size());
    // All is done: what remains is to finish.
    CHECK(next_hint(setting.brief, state, observe(setting, state)).command == "finish");
    for (const std::string& sentence : heard.sentences) {
        CHECK(sentence.size() > 10);
        CHECK(sentence.size() < 140);
    }
}

TEST_CASE("the guide knows no more than the trainee: two worlds that look alike give the same advice") {
    // Same field at the receiver needs the same sonde; what is hidden besides (lines, run, rubric) may differ freely.
    World a = test::empty_yard();
    World b = a;
    b.yard.lines.push_back({LineKind::gas, "Vale Gas", {{10, 15, -0.6}, {20, 15, -0.6}}, 0.05, true, {}});
    b.run = Run{{{10, 15, -1.175}, {20, 15, -1.175}}, PipeMaterial::pvc, 0.10, 0.003};
    const Setting sa(a);
    const Setting sb(b);
    Heard ha{&sa, {}, {}};
    Heard hb{&sb, {}, {}};
    run(sa, ha);
    run(sb, hb);
    CHECK(ha.sentences == hb.sentences);
}

TEST_CASE("with the wrong frequency the guide sends him to the next one, and back to the truck") {
    World world = test::empty_yard();
    world.sonde.frequency_hz = 8192.0;
    const Setting setting(world);
    ExerciseState state = start(setting);
    command(setting, state, ReadTicket{});
    Observation seen = command(setting, state, TruckCheck{});
    CHECK(next_hint(setting.brief, state, seen).command == "frequency_next");
    seen = command(setting, state, SetFrequency{640.0});
    CHECK(next_hint(setting.brief, state, seen).command == "truck_check");
    go_to(setting, state, {15.0, 25.0}, 0.8);
    for (int tick = 0; tick < 60 * 30; ++tick) {
        seen = step(setting, state, test::hand_at({15.0, 25.0}, 0.8));
    }
    CHECK(next_hint(setting.brief, state, seen).sentence.find("Go back to the truck") != std::string::npos);
}

TEST_CASE("a leaning mast is straightened before a reading, a raised tip lowered") {
    World world = test::empty_yard();
    world.habits = {7.0, 90.0};
    const Setting setting(world);
    ExerciseState state = with_papers_read(setting);
    go_to(setting, state, {15.85, 15.0});
    command(setting, state, PlaceMark{MarkKind::plumb});
    go_to(setting, state, {14.15, 15.0});
    command(setting, state, PlaceMark{MarkKind::plumb});
    go_to(setting, state, {15.0, 15.0});
    command(setting, state, PlaceMark{MarkKind::level});
    Observation seen = command(setting, state, PlaceMark{MarkKind::peak});
    CHECK(next_hint(setting.brief, state, seen).command == "plumb_mast");
    seen = go_to(setting, state, {15.0, 15.0}, 0.3);
    CHECK(next_hint(setting.brief, state, seen).command == "toggle_height");
}

TEST_CASE("walking off and marking the locate with the tip up he is told to lower it") {
    const Setting setting(test::empty_yard());
    ExerciseState state = run_to_the_end(setting);
    state.notebook.marks.erase(
        std::ranges::find(state.notebook.marks, MarkKind::locate, &Mark::kind)); // all else is done
    Observation seen = go_to(setting, state, {15.0, 15.0}, 0.5);
    Hint hint = next_hint(setting.brief, state, seen);
    CHECK(hint.command == "toggle_height");
    CHECK(hint.sentence == "Lower the tip to the ground, to mark the locate there.");
    command(setting, state, PlaceMark{MarkKind::locate});
    seen = go_to(setting, state, {15.0, 15.0}, 0.5);
    hint = next_hint(setting.brief, state, seen);
    CHECK(hint.command == "toggle_height");
    CHECK(hint.sentence == "The locate was marked with the tip 0.50 m up: lower it.");
    seen = go_to(setting, state, {15.0, 15.0});
    CHECK(next_hint(setting.brief, state, seen).command == "mark_locate");
    command(setting, state, PlaceMark{MarkKind::locate});
    seen = go_to(setting, state, {15.0, 15.0});
    CHECK(next_hint(setting.brief, state, seen).command == "finish");
    // The way round the peak, taken back: with the tip up nothing of it would count.
    std::erase_if(state.trail, [&](const TrailPoint& p) { return p.tick > *state.first_mark_tick; });
    REQUIRE(walked_off(state).directions == 0);
    seen = go_to(setting, state, {15.0, 15.0}, 0.5);
    hint = next_hint(setting.brief, state, seen);
    CHECK(hint.command == "toggle_height");
    CHECK(hint.sentence.starts_with("Lower the tip, which is 0.50 m up"));
}

TEST_CASE("on a ticket that is not cleared nobody is told to dig, whatever the method") {
    World world = test::empty_yard();
    world.sheet.ticket.state = TicketState::requested;
    const Setting setting(world);
    ExerciseState state = run_to_the_end(setting);
    state.notebook.dig->method = DigMethod::none;
    const Hint hint = next_hint(setting.brief, state, observe(setting, state));
    CHECK(hint.command == "dig_method");
    CHECK(hint.sentence.starts_with("The ticket is not cleared: nobody digs before every owner has answered."));
}

TEST_CASE("a mark of what it is not is spoken of at once") {
    const Setting setting(test::empty_yard(1.2, 90.0));
    ExerciseState state = with_papers_read(setting);
    go_to(setting, state, {15.3, 15.0}); // between peak and plumb point
    Observation seen = command(setting, state, PlaceMark{MarkKind::plumb});
    CHECK(next_hint(setting.brief, state, seen).command == "take_back_plumb");
    command(setting, state, TakeBack{MarkKind::plumb});
    go_to(setting, state, {15.0, 15.0});
    go_to(setting, state, {15.0, 15.9});
    seen = command(setting, state, PlaceMark{MarkKind::peak});
    CHECK(next_hint(setting.brief, state, seen).command == "take_back_peak");
}

TEST_CASE("walking the wrong way he is turned round, past the strongest place he is sent back and told to lower") {
    const Setting setting(test::empty_yard(1.2, 90.0));
    ExerciseState state = with_papers_read(setting);
    Observation seen = go_to(setting, state, {15.0, 3.0}, 0.8); // away from the sonde at 15, 15
    CHECK(next_hint(setting.brief, state, seen).sentence.find("turn round") != std::string::npos);
    seen = go_to(setting, state, {15.0, 19.0}, 0.8);
    CHECK(next_hint(setting.brief, state, seen).sentence.find("You have passed it") != std::string::npos);
    seen = go_to(setting, state, {15.0, 15.1}, 0.8);
    CHECK(next_hint(setting.brief, state, seen).command == "toggle_height");
}

TEST_CASE("a tilt called with the wrong end raised is questioned from what he marked himself") {
    const Setting setting(test::empty_yard(1.5, 90.0, 28.0)); // east end down, west end raised: the peak lies west
    ExerciseState state = start(setting);
    Heard heard{&setting, {}, {}};
    state = run(setting, heard);
    state.finished_tick.reset();
    state.notebook.tilt_call = TiltCall::tilted;
    state.notebook.raised_heading_deg = 90.0;
    CHECK(next_hint(setting.brief, state, observe(setting, state)).command == "raised_end");
    state.notebook.raised_heading_deg = 270.0;
    CHECK(next_hint(setting.brief, state, observe(setting, state)).command != "raised_end");
}

TEST_CASE(
    "with one coil the guide asks for the peak, then for a mark where the signal vanishes, then for the spacing") {
    World world = yard_for(sim::ReceiverKind::single_coil);
    world.sheet.truck_signal_dbpt = 61.3;
    const Setting setting(world);
    ExerciseState state = with_papers_read(setting);
    Observation seen = mark_peak_as_told(setting, state);
    seen = go_to(setting, state, {15.0, 15.85}); // 0.707 of the depth on: the coil's null
    CHECK(next_hint(setting.brief, state, seen).command == "mark_plumb");
    command(setting, state, PlaceMark{MarkKind::plumb});
    seen = go_to(setting, state, {15.0, 15.0});
    CHECK(next_hint(setting.brief, state, seen).command != "mark_plumb"); // no null here
    go_to(setting, state, {15.0, 14.15});
    command(setting, state, PlaceMark{MarkKind::plumb});
    seen = go_to(setting, state, {15.0, 15.0});
    seen = command(setting, state, PlaceMark{MarkKind::locate});
    CHECK(next_hint(setting.brief, state, seen).command == "edit_form");
}

TEST_CASE("with twin coils the guide asks for the peak, the nulls, then for readings at the peak and no cross pair") {
    const World world = yard_for(sim::ReceiverKind::twin_coil);
    const Setting setting(world);
    ExerciseState state = with_papers_read(setting);
    Observation seen = mark_peak_as_told(setting, state);
    for (const double y : {15.0 + 0.8839, 15.0 - 0.8839}) { // 0.707 of 1.25 m: the coils' nulls
        seen = go_to(setting, state, {15.0, y});
        CHECK(next_hint(setting.brief, state, seen).command == "mark_plumb");
        command(setting, state, PlaceMark{MarkKind::plumb});
    }
    seen = go_to(setting, state, {15.0, 14.2}); // no reading away from the peak
    CHECK(next_hint(setting.brief, state, seen).command.empty());
    seen = go_to(setting, state, {15.0, 15.0}); // walking back has turned him
    CHECK(next_hint(setting.brief, state, seen).sentence.starts_with("Go back to the peak and turn"));
    command(setting, state, TurnBy{sim::wrap_180(-seen.facing_deg)});
    seen = go_to(setting, state, {15.0, 15.0});
    CHECK(next_hint(setting.brief, state, seen).command == "read_depth");
    seen = command(setting, state, ReadDepth{});
    CHECK(next_hint(setting.brief, state, seen).command == "half_round");
    command(setting, state, TurnBy{180.0});
    go_to(setting, state, {15.0, 15.0});
    seen = command(setting, state, ReadDepth{});
    CHECK(next_hint(setting.brief, state, seen).command == "lift");
    Brief strict = setting.brief; // as if the pair had disagreed: a quarter turn would lay the coils across the sonde
    strict.pair_share = -1.0;
    CHECK(next_hint(strict, state, seen).command == "read_depth");
    CHECK(next_hint(strict, state, seen).sentence.find("another facing pair") != std::string::npos);
}
