// The procedure point by point: done, not done, and what the evidence says.
#include "score_fixture.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace score_fixture;

namespace {

ProcedureItem checked(const ExerciseState& state, std::string_view key, const World& world = yard()) {
    return item(scored(world, state), key);
}

World coil_yard() {
    World world = yard();
    world.receiver.kind = sim::ReceiverKind::single_coil;
    return world;
}

bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("the procedure has the issue's keys in its order") {
    const Score s = scored(yard(), worked_well());
    const std::vector<std::string_view> keys = {"ticket_checked", "frequency_checked", "approached",
                                                "plumb_points",   "walked_off",        "tip_down_and_plumb",
                                                "paired_reading", "lift_check"};
    REQUIRE(s.procedure.size() == keys.size());
    for (std::size_t i = 0; i < keys.size(); ++i) {
        CHECK(s.procedure[i].key == keys[i]);
    }
}

TEST_CASE("each item left undone costs two of the sixteen points") {
    ExerciseState state = worked_well();
    CHECK(scored(yard(), state).procedure_points == 16);
    state.ticket_read_tick.reset();
    CHECK(scored(yard(), state).procedure_points == 14);
    state.truck_checks.clear();
    CHECK(scored(yard(), state).procedure_points == 12);
}

TEST_CASE("ticket_checked says when the ticket was read") {
    const ProcedureItem done = checked(worked_well(), "ticket_checked");
    CHECK(*done.tick == 60);
    CHECK(done.evidence == "ticket T-1 (all positive responses) read at 0:01.0");
    CHECK(clock_text(3600 + 138) == "1:02.3");
    CHECK(clock_text(0) == "0:00.0");
}

TEST_CASE("frequency_checked needs a check that was heard, on the frequency that was then used") {
    ExerciseState state = worked_well();
    CHECK(checked(state, "frequency_checked").evidence == "512 Hz read 2.00 m at 2.0 m");
    state.frequency_hz = 640.0;
    CHECK(!checked(state, "frequency_checked").done);
    CHECK(has(checked(state, "frequency_checked").evidence, "then set to 640 Hz"));
    // Unheard on the sheet's frequency, found on another: the second check is the evidence.
    state.truck_checks = {{100, 512.0, -20.0, std::nullopt, false}, {200, 640.0, 71.0, 2.01, true}};
    CHECK(checked(state, "frequency_checked").done);
    CHECK(*checked(state, "frequency_checked").tick == 200);
    state.truck_checks.pop_back();
    CHECK(!checked(state, "frequency_checked").done);
    CHECK(has(checked(state, "frequency_checked").evidence, "not the sonde's"));
}

TEST_CASE("approached needs the raised tip within two depths before the first mark") {
    ExerciseState state = worked_well();
    CHECK(*checked(state, "approached").tick == 900); // 2.0 m off; at tick 600 it was 5 m
    state.trail[1].tip_m = spot - glm::dvec2{0.0, 3.0};
    CHECK(checked(state, "approached").done); // exactly 2 d
    state.trail[1].tip_m.y -= 0.01;
    CHECK(!checked(state, "approached").done);
    CHECK(checked(state, "approached").evidence ==
          "with the tip raised no nearer than 3.01 m before the first mark (limit 3.00 m)");
    state = worked_well();
    state.trail[1].tip_height_m = 0.0;
    CHECK(!checked(state, "approached").done);
    state = worked_well();
    state.first_mark_tick = 900;
    CHECK(!checked(state, "approached").done);
}

TEST_CASE("plumb_points needs two marks with dip over 80 deg") {
    ExerciseState state = worked_well();
    CHECK(*checked(state, "plumb_points").tick == 1500);
    CHECK(checked(state, "plumb_points").evidence == "dip 88.0 and 86.5 deg at two marks 2.19 m apart");
    state.notebook.marks[1].dip_deg = 80.0;
    CHECK(!checked(state, "plumb_points").done);
    state.notebook.marks[1].dip_deg = 80.1;
    CHECK(checked(state, "plumb_points").done);
    state.notebook.marks[1].dip_deg.reset(); // too weak to say
    CHECK(!checked(state, "plumb_points").done);
}

TEST_CASE("one plumb point will do with a call of tilted or on end") {
    ExerciseState state = worked_well();
    state.notebook.marks.erase(state.notebook.marks.begin() + 1);
    for (const TiltCall call : {TiltCall::none, TiltCall::level, TiltCall::tilted, TiltCall::on_end}) {
        state.notebook.tilt_call = call;
        CHECK(checked(state, "plumb_points").done == (call == TiltCall::tilted || call == TiltCall::on_end));
    }
    state.notebook.marks.erase(state.notebook.marks.begin());
    CHECK(!checked(state, "plumb_points").done);
    CHECK(checked(state, "plumb_points").evidence == "no plumb point was marked");
}

TEST_CASE("two plumb marks on one spot are one plumb point") {
    ExerciseState state = worked_well();
    state.notebook.marks[1].place_m = state.notebook.marks[0].place_m + glm::dvec2{0.1, 0.0};
    CHECK(!checked(state, "plumb_points").done);
}

TEST_CASE("walked_off needs four directions, far enough, near enough, low and 3 dB down") {
    const auto walked = [](auto&& change) {
        ExerciseState state = worked_well();
        change(state.trail[3]); // the second of the four, to the east
        return checked(state, "walked_off").done;
    };
    const auto at = [](double share) {
        return [share](TrailPoint& p) { p.tip_m = spot + glm::dvec2{share * depth, 0.0}; };
    };
    CHECK(walked([](TrailPoint&) {}));
    CHECK(walked(at(0.80)));
    CHECK(!walked(at(0.79)));
    CHECK(walked(at(1.50)));
    CHECK(!walked(at(1.51)));
    CHECK(walked([](TrailPoint& p) { p.signal_dbpt = 67.0; }));
    CHECK(!walked([](TrailPoint& p) { p.signal_dbpt = 67.1; }));
    CHECK(!walked([](TrailPoint& p) { p.tip_height_m = 0.5; }));
    // North, east, south, west: east may turn to 60 deg from north, no nearer.
    CHECK(walked([](TrailPoint& p) { p.tip_m = spot + 1.5 * direction_of(60.0); }));
    CHECK(!walked([](TrailPoint& p) { p.tip_m = spot + 1.5 * direction_of(59.5); }));
    // The last and the first have to be apart too, across north.
    const auto west_at = [](double bearing_deg) {
        ExerciseState state = worked_well();
        state.trail.back().tip_m = spot + 1.5 * direction_of(bearing_deg);
        return checked(state, "walked_off").done;
    };
    CHECK(west_at(300.0));
    CHECK(!west_at(300.5));
}

TEST_CASE("walked_off says when the fourth direction was reached and how far the signal fell") {
    ExerciseState state = worked_well();
    const ProcedureItem done = checked(state, "walked_off");
    CHECK(*done.tick == 2580);
    CHECK(has(done.evidence,
              "in 4 of 4 directions (1.20 m to 2.25 m from the peak, at least 3 dB down), the least 10.0 dB"));
    state.trail.pop_back();
    CHECK(has(checked(state, "walked_off").evidence, "in 3 of 4 directions"));
    // Later walking does not move the evidence.
    state = worked_well();
    for (int i = 0; i < 36; ++i) {
        state.trail.push_back({3000 + 6 * i, spot + 1.6 * direction_of(10.0 * i), 0.0, 50.0});
    }
    CHECK(*checked(state, "walked_off").tick == 2580);
    // A whole round gives four, wherever it starts, also with no cardinal direction among them.
    state = worked_well();
    state.trail.erase(state.trail.begin() + 2, state.trail.end());
    for (int i = 0; i < 18; ++i) {
        state.trail.push_back({3000 + 6 * i, spot + 1.6 * direction_of(7.0 + 20.0 * i), 0.0, 50.0});
    }
    CHECK(checked(state, "walked_off").done);
}

TEST_CASE("walked with the tip up no direction counts, and that is said") {
    ExerciseState state = worked_well();
    CHECK(!has(checked(state, "walked_off").evidence, "tip"));
    for (TrailPoint& p : state.trail) {
        p.tip_height_m = 0.5;
    }
    CHECK(has(checked(state, "walked_off").evidence, "in 0 of 4 directions"));
    CHECK(has(checked(state, "walked_off").evidence, ": walked with the tip 0.50 m up"));
    for (TrailPoint& p : state.trail) { // up, and too near besides: it was not the tip
        p.tip_m = spot;
    }
    CHECK(!has(checked(state, "walked_off").evidence, "tip"));
}

TEST_CASE("walked_off is about the peak, by the true depth, whatever was called") {
    ExerciseState state = worked_well();
    state.notebook.depth_call_m = 0.9;
    CHECK(checked(state, "walked_off").done);
    CHECK(has(checked(state, "walked_off").evidence, "1.20 m to 2.25 m")); // 0.8 and 1.5 of 1.50 m
    std::erase_if(state.notebook.marks, [](const Mark& m) { return m.kind == MarkKind::peak; });
    CHECK(!checked(state, "walked_off").done);
    CHECK(has(checked(state, "walked_off").evidence, "no peak was marked"));
}

TEST_CASE("a walk on another frequency, or with the coil turned, is no walk off") {
    ExerciseState state = worked_well();
    REQUIRE(checked(state, "walked_off").done);
    SUBCASE("frequency") {
        for (TrailPoint& p : state.trail) {
            p.frequency_hz = 640.0;
        }
    }
    SUBCASE("coil") {
        for (TrailPoint& p : state.trail) {
            p.coil = sim::CoilAttitude::upright;
        }
    }
    CHECK(!checked(state, "walked_off").done);
}

TEST_CASE("the guide counts the same directions by the depth he goes by") {
    ExerciseState state = worked_well();
    CHECK(walked_off(state).directions == walk_off_directions);
    CHECK(walked_off(state).radius_m == doctest::Approx(*state.notebook.depth_call_m));
    state.notebook.depth_call_m.reset();
    state.notebook.readings.clear();
    CHECK(walked_off(state).radius_m == 0.0);
}

TEST_CASE("tip_down_and_plumb needs a depth read with the tip under 0.03 m and the mast within 5 deg") {
    ExerciseState state = worked_well();
    state.all_readings.resize(1);
    Reading& r = state.all_readings[0];
    CHECK(*checked(state, "tip_down_and_plumb").tick == 3000);
    r.tip_height_m = 0.029;
    r.lean_deg = 4.9;
    CHECK(checked(state, "tip_down_and_plumb").done);
    r.tip_height_m = 0.03;
    CHECK(!checked(state, "tip_down_and_plumb").done);
    r.tip_height_m = 0.0;
    r.lean_deg = 5.0;
    CHECK(!checked(state, "tip_down_and_plumb").done);
    CHECK(checked(state, "tip_down_and_plumb").evidence ==
          "1.49 m read with the tip 0.000 m up and the mast 5.0 deg off plumb at 0:50.0");
    r.lean_deg = 0.0;
    r.depth_m.reset(); // too weak to read
    CHECK(!checked(state, "tip_down_and_plumb").done);
}

TEST_CASE("paired_reading needs a facing pair within 10 percent") {
    ExerciseState state = worked_well();
    CHECK(*checked(state, "paired_reading").tick == 3744);
    CHECK(checked(state, "paired_reading").evidence == "pair 1.49 m and 1.52 m, agree 2.0 %, 12.4 s apart");
    state.all_readings[1].agreement = 0.10;
    CHECK(checked(state, "paired_reading").done);
    state.all_readings[1].agreement = 0.101;
    CHECK(!checked(state, "paired_reading").done);
    CHECK(has(checked(state, "paired_reading").evidence, "disagree by 10.1 %, 12.4 s apart, no cross pair"));
    state.all_readings[1].facing_reading_of = 0;
    CHECK(has(checked(state, "paired_reading").evidence, "no depth was read a second time"));
}

TEST_CASE("a cross pair a quarter turn from one that disagrees counts") {
    ExerciseState state = worked_well();
    state.all_readings[1].agreement = 0.14;
    Reading a = reading(8, 4000, 1.40, 100.0);
    Reading b = reading(9, 4200, 1.60, 280.0);
    b.facing_reading_of = 8;
    b.agreement = 0.2 / 1.5;
    state.all_readings.push_back(a);
    state.all_readings.push_back(b);
    CHECK(checked(state, "paired_reading").done);
    CHECK(*checked(state, "paired_reading").tick == 4200);
    CHECK(has(checked(state, "paired_reading").evidence, "a cross pair"));
    const auto done_facing = [&](double facing_deg) {
        state.all_readings[3].facing_deg = facing_deg;
        return checked(state, "paired_reading").done;
    };
    CHECK(done_facing(120.0)); // the first pair's first faced 10 deg
    CHECK(!done_facing(121.0));
    CHECK(done_facing(80.0));
    CHECK(!done_facing(79.0));
    CHECK(done_facing(280.0)); // a quarter turn the other way
    CHECK(!done_facing(10.0));
    state.all_readings[3].facing_deg = 100.0;
    state.all_readings[3].place_m.x += 0.11; // another spot
    CHECK(!checked(state, "paired_reading").done);
}

TEST_CASE("the lift check has to hold") {
    ExerciseState state = worked_well();
    const ProcedureItem done = checked(state, "lift_check");
    CHECK(*done.tick == 3900);
    CHECK(has(done.evidence, "raised 0.50 m, the depth reading grew 0.5"));
    state.all_readings[2].depth_m = 1.80;
    CHECK(!checked(state, "lift_check").done);
    CHECK(has(checked(state, "lift_check").evidence, "grew 0.3"));
    state.all_readings.pop_back();
    CHECK(has(checked(state, "lift_check").evidence, "no depth was read with the tip raised"));
}

TEST_CASE("readings deleted from the notebook still count as done") {
    ExerciseState state = worked_well();
    state.notebook.readings.clear();
    const Score s = scored(yard(), state);
    CHECK(item(s, "tip_down_and_plumb").done);
    CHECK(item(s, "paired_reading").done);
    CHECK(item(s, "lift_check").done);
}

TEST_CASE("with a single coil the items of depth readings do not apply and spacing takes their place") {
    ExerciseState state = worked_well();
    state.all_readings.clear();
    state.notebook.readings.clear();
    for (Mark& m : state.notebook.marks) {
        m.dip_deg.reset();
    }
    const Score s = scored(coil_yard(), state);
    for (const std::string_view key : {"tip_down_and_plumb", "paired_reading", "lift_check"}) {
        CHECK(!item(s, key).applies);
        CHECK(!item(s, key).done);
        CHECK(!item(s, key).tick);
    }
    // Marked 1.096 m fore and aft, which is 0.7071 of 1.50 m and the 0.05 m from tip to coil.
    CHECK(item(s, "plumb_points").done);
    CHECK(item(s, "depth_from_spacing").done);
    CHECK(item(s, "depth_from_spacing").evidence == "2.19 m / 1.414 = 1.55 m, called 1.50 m");
    CHECK(s.procedure_points == 16);
    CHECK(s.points == 100);
}

TEST_CASE("a single coil's plumb marks are judged by the true field at them") {
    // Near a plumb point the dip falls by about 76 deg a depth (4/3 rad): 80 deg are left about 0.13 d from it.
    ExerciseState state = worked_well();
    for (Mark& m : state.notebook.marks) {
        m.dip_deg.reset();
    }
    const auto moved = [&](double metres) {
        ExerciseState other = state;
        other.notebook.marks[1].place_m.y -= metres;
        return scored(coil_yard(), other);
    };
    CHECK(item(moved(0.15), "plumb_points").done);
    CHECK(!item(moved(0.40), "plumb_points").done);
    CHECK(!item(moved(-0.40), "plumb_points").done);
    CHECK(!item(moved(0.40), "depth_from_spacing").done);
    CHECK(moved(0.40).procedure_points == 10); // four of six
    // The coil stood higher when the tip was up: the field there is plumb farther out.
    ExerciseState high = state;
    high.trail.push_back({1494, spot, 0.6, 60.0});
    std::ranges::sort(high.trail, {}, &TrailPoint::tick);
    CHECK(!item(scored(coil_yard(), high), "plumb_points").done);
}

TEST_CASE("depth_from_spacing compares the call with the marks, not with the truth") {
    ExerciseState state = worked_well();
    const auto with_call = [&](std::optional<double> called_m) {
        state.notebook.depth_call_m = called_m;
        return item(scored(coil_yard(), state), "depth_from_spacing").done;
    };
    // 2.192 / 1.41421 = 1.550 m, 15 % of it 0.2325 m.
    CHECK(with_call(1.78));
    CHECK(!with_call(1.79));
    CHECK(with_call(1.32));
    CHECK(!with_call(1.31));
    CHECK(!with_call(std::nullopt));
}

TEST_CASE("what step records is what the score finds") {
    const Setting setting(yard());
    ExerciseState state = start(setting);
    Action idle;
    idle.move.hand_m = state.body.tip_m;
    Action act = idle;
    act.command = ReadTicket{};
    step(setting, state, act);
    act.command = TruckCheck{};
    step(setting, state, act);
    act.command = PlaceMark{MarkKind::locate};
    step(setting, state, act);
    act.command = CallDepth{1.5};
    step(setting, state, act);
    act.command = Finish{};
    step(setting, state, act);
    const Score s = score(setting, state);
    CHECK(s.finished);
    CHECK(item(s, "ticket_checked").done);
    CHECK(*item(s, "ticket_checked").tick == 1);
    CHECK(item(s, "frequency_checked").done);
    CHECK(*s.horizontal_error_m == doctest::Approx(glm::distance(state.body.tip_m, spot)).epsilon(1e-6));
    CHECK(!s.passed);
}

TEST_CASE("a pair or a lift of readings that do not count is none") {
    ExerciseState state = worked_well();
    REQUIRE(checked(state, "paired_reading").done);
    REQUIRE(checked(state, "lift_check").done);
    for (Reading& r : state.all_readings) {
        r.lean_deg = 7.0;
        r.counts = false;
    }
    CHECK(!checked(state, "paired_reading").done);
    CHECK(!checked(state, "lift_check").done);
}

TEST_CASE("with twin coils facing pair and lift check apply, and nulls are judged by the true field") {
    World world = yard();
    world.receiver.kind = sim::ReceiverKind::twin_coil;
    const Score s = scored(world, worked_well());
    CHECK(s.procedure.size() == 8);
    CHECK(std::ranges::all_of(s.procedure, &ProcedureItem::applies));
    CHECK(item(s, "paired_reading").done);
    CHECK(item(s, "lift_check").done);
    CHECK(item(s, "plumb_points").done);
    CHECK(has(item(s, "plumb_points").evidence, "true dip"));
    ExerciseState elsewhere = worked_well();
    for (Mark& mark : elsewhere.notebook.marks) {
        mark.place_m += 0.5 * direction_of(world.sonde.heading_deg);
    }
    CHECK_FALSE(item(scored(world, elsewhere), "plumb_points").done);
}
