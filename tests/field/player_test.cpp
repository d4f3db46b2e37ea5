// The time machine's core: any tick of a record equals playing straight to it, display included; what a graph and a list of
// events are made of. Checked against straight play and against plain loops; no outside source.
#include "field/recording.hpp"
#include "field/replay.hpp"
#include "sim/random.hpp"
#include "tests/field/empty_yard.hpp"
#include "tests/temp_folder.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

// Sweeps, turns, marks, reads, undoes, and asks for what cannot be done.
Action busy(std::int64_t tick) {
    const auto u = sim::uniform_pair(5, sim::stream_of("busy"), static_cast<std::uint64_t>(tick / 25));
    Action action;
    action.move.hand_m = {12.0 + 6.0 * u[0], 11.0 + 6.0 * u[1]};
    action.move.hand_height_m = (tick / 300) % 2 == 0 ? 0.0 : 0.8;
    action.move.lean_right = tick % 130 < 20 ? u[1] - 0.5 : 0.0;
    switch (tick % 157) {
    case 12:
        action.command = PlaceMark{tick % 2 == 0 ? MarkKind::plumb : MarkKind::locate};
        break;
    case 40:
        action.command = ReadDepth{};
        break;
    case 60: // which on the standard receiver is exactly a keyframe's tick now and then
        action.command = TurnCoil{sim::CoilAttitude::upright};
        break;
    case 80:
        action.command = Undo{};
        break;
    case 99:
        action.command = TurnBy{180.0};
        break;
    case 120:
        action.command = SetFrequency{tick % 2 == 0 ? 640.0 : 512.0};
        break;
    default:
        break;
    }
    return action;
}

struct Worked {
    ExerciseState state;
    WorkLog record;
};

Worked work(const Setting& setting, std::int64_t ticks, LogWriter* writer = nullptr) {
    Worked worked{start(setting), {}};
    for (std::int64_t tick = 1; tick <= ticks; ++tick) {
        const Action action = busy(tick);
        const Observation seen = step(setting, worked.state, action);
        record_tick(worked.record, action, seen, worked.state);
        if (writer != nullptr) {
            writer->record(action, seen, worked.state);
        }
    }
    return worked;
}

void check_same(const Observation& a, const Observation& b) {
    REQUIRE(a.tick == b.tick);
    REQUIRE(a.feet_m == b.feet_m);
    REQUIRE(a.facing_deg == b.facing_deg);
    REQUIRE(a.tip_m == b.tip_m);
    REQUIRE(a.tip_height_m == b.tip_height_m);
    REQUIRE(a.lean_forward_deg == b.lean_forward_deg);
    REQUIRE(a.lean_right_deg == b.lean_right_deg);
    REQUIRE(a.signal_dbpt == b.signal_dbpt);
    REQUIRE(a.has_axis == b.has_axis);
    REQUIRE(a.dip_deg == b.dip_deg);
    REQUIRE(a.needle_deg == b.needle_deg);
    REQUIRE(a.hum_dbpt == b.hum_dbpt);
    REQUIRE(a.frequency_hz == b.frequency_hz);
    REQUIRE(a.overload == b.overload);
    REQUIRE(a.walking == b.walking);
    REQUIRE(a.turning == b.turning);
    REQUIRE(a.finished == b.finished);
    REQUIRE(a.refused == b.refused);
    REQUIRE(a.note == b.note);
}

} // namespace

TEST_CASE("seeking in a record in memory: state and display at every tick equal straight play") {
    const Setting setting(test::empty_yard());
    const Worked worked = work(setting, 1500);
    std::vector<Observation> seen = {observe(setting, start(setting))};
    std::vector<ExerciseState> states = {start(setting)};
    ExerciseState state = start(setting);
    for (const Action& action : worked.record.actions) {
        seen.push_back(step(setting, state, action));
        states.push_back(state);
    }
    for (const bool prepared : {false, true}) {
        Player player(setting, worked.record);
        while (prepared && player.prepare(111)) {
        }
        for (std::int64_t i = 0; i <= 1500; ++i) {
            const std::int64_t tick = (i * 7919) % 1501; // every tick once, in a jumping order
            const auto k = static_cast<std::size_t>(tick);
            const ExerciseState& there = player.seek(tick);
            REQUIRE(there.digest == states[k].digest);
            REQUIRE(there.trail.size() == states[k].trail.size());
            REQUIRE(there.soundings.size() == states[k].soundings.size());
            REQUIRE(there.undo.size() == states[k].undo.size());
            REQUIRE(there.notebook.marks.size() == states[k].notebook.marks.size());
            REQUIRE(there.notebook.readings.size() == states[k].notebook.readings.size());
            REQUIRE(there.all_readings.size() == states[k].all_readings.size());
            check_same(player.seen(), seen[k]);
        }
        // On from a jump, by a step and by an undo, all is as if it had not been left.
        player.seek(1003);
        ExerciseState on = player.seek(700);
        for (std::size_t k = 700; k < 1500; ++k) {
            step(setting, on, worked.record.actions[k]);
        }
        CHECK(on.digest == states.back().digest);
        CHECK(on.undo.size() == states.back().undo.size());
        REQUIRE(on.soundings.size() == states.back().soundings.size());
        CHECK(on.soundings.size() > 20);
        for (std::size_t k = 0; k < on.soundings.size(); ++k) {
            REQUIRE(on.soundings[k].tick == states.back().soundings[k].tick);
            REQUIRE(on.soundings[k].heard_pt == states.back().soundings[k].heard_pt);
        }
        CHECK(on.notebook.marks.size() == states.back().notebook.marks.size());
    }
}

TEST_CASE("a record in memory and the log that was written meanwhile are the same") {
    const test::Folder temp;
    const Setting setting(test::empty_yard());
    Worked worked;
    {
        LogWriter writer(temp / "a.jsonl", {1, "test", "text\n", sha256_hex("text\n"), 7, "tri-axis"});
        worked = work(setting, 700, &writer);
        writer.end(worked.state);
    }
    const WorkLog log = read_log(temp / "a.jsonl");
    REQUIRE(log.actions.size() == worked.record.actions.size());
    REQUIRE(log.checkpoints.size() == worked.record.checkpoints.size());
    for (std::size_t k = 0; k < log.checkpoints.size(); ++k) {
        CHECK(log.checkpoints[k].tick == worked.record.checkpoints[k].tick);
        CHECK(log.checkpoints[k].digest == worked.record.checkpoints[k].digest);
        CHECK(log.checkpoints[k].signal_dbpt == doctest::Approx(worked.record.checkpoints[k].signal_dbpt));
    }
    CHECK_FALSE(worked.record.ended); // it was left unfinished
    const ReplayResult again = replay(setting, worked.record);
    CHECK_FALSE(again.first_difference.has_value());
    CHECK(again.checkpoints == static_cast<std::int64_t>(log.checkpoints.size()));
    CHECK(again.state.digest == worked.state.digest);
}

TEST_CASE("preparing plays ahead in slices and leaves the player where it stood") {
    const Setting setting(test::empty_yard());
    const Worked worked = work(setting, 1000);
    Player player(setting, worked.record);
    player.seek(130);
    const std::uint64_t digest = player.state().digest;
    int slices = 0;
    while (player.prepare(300)) {
        ++slices;
        CHECK(player.state().tick == 130);
        CHECK(player.state().digest == digest);
    }
    CHECK(slices == 2); // 130, 430, 730, then the rest
    CHECK(player.prepared() == 1000);
    REQUIRE(player.timeline().moments.size() == 1001);
    CHECK(player.trail().size() == worked.state.trail.size());
    for (std::int64_t tick = 0; tick <= 1000; tick += 37) {
        player.seek(tick);
        const Moment& m = player.timeline().moments[static_cast<std::size_t>(tick)];
        CHECK(m.signal_dbpt == player.seen().signal_dbpt);
        CHECK(static_cast<double>(m.tip_height_m) == doctest::Approx(player.seen().tip_height_m).epsilon(1e-6));
        const double dip = player.seen().has_axis ? std::abs(player.seen().dip_deg) : -1.0;
        CHECK(static_cast<double>(m.dip_deg) == doctest::Approx(dip).epsilon(1e-6));
    }
}

TEST_CASE("an exercise that was finished ends the player there, whatever the log holds beyond") {
    const Setting setting(test::empty_yard());
    Worked worked = work(setting, 300);
    worked.record.actions[199].command = Finish{};
    Player player(setting, worked.record);
    CHECK_FALSE(player.prepare(10'000));
    CHECK(player.last_tick() == 200);
    CHECK(player.seek(300).tick == 200);
    CHECK(player.state().finished_tick == 200);
    CHECK(player.timeline().moments.size() == 201);
}

TEST_CASE("events: each command with what came of it, in order, and the way from one to the next") {
    const Setting setting(test::empty_yard());
    ExerciseState state = start(setting);
    WorkLog record;
    const auto work_tick = [&](std::optional<Command> command) {
        Action action = test::hand_at({15.0, 14.0}, 0.0);
        action.command = std::move(command);
        const Observation seen = step(setting, state, action);
        record_tick(record, action, seen, state);
    };
    const auto rest = [&](int ticks) {
        for (int i = 0; i < ticks; ++i) {
            work_tick(std::nullopt);
        }
    };
    work_tick(ReadTicket{});
    rest(9);
    work_tick(TruckCheck{});
    work_tick(TurnCoil{sim::CoilAttitude::upright}); // refused
    rest(600);
    work_tick(PlaceMark{MarkKind::plumb});
    work_tick(ReadDepth{});
    work_tick(Finish{});
    work_tick(PlaceMark{MarkKind::peak}); // after the end: never was
    Player player(setting, record);
    CHECK_FALSE(player.prepare(100'000));
    const std::vector<Event>& events = player.timeline().events;
    REQUIRE(events.size() == 6);
    CHECK(event_text(events[0]) == "ticket read");
    CHECK(events[0].tick == 1);
    CHECK(event_text(events[1]).starts_with("check at the truck: reads "));
    CHECK(events[2].refused);
    CHECK(event_text(events[2]) == "not done: coil upright");
    CHECK(events[2].note.find("none of them turns") != std::string::npos);
    CHECK(event_text(events[3]) == "plumb point marked");
    CHECK(kind_of(events[3]) == EventKind::mark);
    REQUIRE(events[4].reading.has_value());
    REQUIRE(events[4].reading->depth_m.has_value());
    CHECK(event_text(events[4]) == "depth " + length_text(*events[4].reading->depth_m, Units::metric));
    CHECK(event_text(events[4], Units::feet).find(" ft ") != std::string::npos);
    CHECK(event_text(events[5]) == "finished");
    CHECK(record.ended);
    CHECK(event_before(player.timeline(), 1) == nullptr);
    CHECK(event_before(player.timeline(), 2) == &events[0]);
    CHECK(event_after(player.timeline(), 0) == &events[0]);
    CHECK(event_after(player.timeline(), 1) == &events[1]);
    CHECK(event_after(player.timeline(), events[5].tick) == nullptr);
}

TEST_CASE("a graph's columns keep the least and the largest of what lies in them") {
    std::vector<float> values;
    for (std::uint64_t i = 0; i < 10'007; ++i) {
        values.push_back(static_cast<float>(sim::normal_pair(3, sim::stream_of("graph"), i)[0]));
    }
    values[5000] = 99.0F;
    values[5001] = -99.0F;
    values[77] = std::numeric_limits<float>::quiet_NaN();
    const std::vector<Span> spans = decimated(values, 311);
    REQUIRE(spans.size() == 311);
    float low = 1e9F;
    float high = -1e9F;
    std::size_t at = 0;
    for (std::size_t k = 0; k < spans.size(); ++k) { // each value lies in its column
        for (; at < (k + 1) * values.size() / spans.size(); ++at) {
            const bool held = std::isnan(values[at]) || (values[at] >= spans[k].low && values[at] <= spans[k].high);
            REQUIRE(held);
        }
        low = std::min(low, spans[k].low);
        high = std::max(high, spans[k].high);
    }
    CHECK(at == values.size());
    CHECK(low == -99.0F);
    CHECK(high == 99.0F);
    const std::vector<Span> few = decimated(std::array{1.0F, 3.0F}, 4);
    CHECK(few[1].low == 1.0F);
    CHECK(few[2].high == 3.0F);
    CHECK(std::isnan(decimated(std::span<const float>{}, 3)[1].low));
    CHECK(decimated(values, 0).empty());
    const std::vector<float> nothing(50, std::numeric_limits<float>::quiet_NaN());
    CHECK(std::isnan(decimated(nothing, 10)[4].high));
}

TEST_CASE("the tip's speed along a trail is way over time") {
    std::vector<TrailPoint> trail;
    for (int i = 0; i < 100; ++i) { // 0.9 m/s east for five seconds, then at rest
        TrailPoint p;
        p.tick = 6 * i;
        p.tip_m = {0.09 * std::min(i, 50), 3.0};
        trail.push_back(p);
    }
    const std::vector<float> speeds = trail_speeds_m_s(trail);
    REQUIRE(speeds.size() == 100);
    CHECK(speeds[20] == doctest::Approx(0.9));
    CHECK(speeds[80] == doctest::Approx(0.0));
    CHECK(speeds[51] < 0.9F);
    CHECK(trail_speeds_m_s({}).empty());
}
