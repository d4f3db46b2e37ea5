// Points, bands, tilt call and dig outcome, each on both sides of its limits.
#include "score_fixture.hpp"

#include <doctest/doctest.h>

using namespace score_fixture;

namespace {

Score located_off(double off_m, double depth_m = depth) {
    ExerciseState state = worked_well();
    state.notebook.marks.back().place_m = spot + glm::dvec2{off_m, 0.0};
    state.notebook.depth_call_m = depth_m;
    return scored(yard_at(depth_m), state);
}

Score dug(const DigBox& proposed, const World& world = yard()) {
    ExerciseState state = worked_well();
    state.notebook.dig = proposed;
    return scored(world, state);
}

Score called_tilt(double true_tilt_deg, TiltCall call, double raised_heading_deg = 0.0,
                  std::optional<double> angle_deg = std::nullopt) {
    World world = yard();
    world.sonde.tilt_deg = true_tilt_deg;
    ExerciseState state = worked_well();
    state.notebook.tilt_call = call;
    state.notebook.raised_heading_deg = raised_heading_deg;
    state.notebook.tilt_angle_call_deg = angle_deg;
    return scored(world, state);
}

} // namespace

TEST_CASE("an exercise worked well gets all 100 points and passes") {
    const Score s = scored(yard(), worked_well());
    CHECK(s.position_points == 40);
    CHECK(s.depth_points == 14);
    CHECK(s.tilt_points == 10);
    CHECK(s.dig_points == 20);
    CHECK(s.procedure_points == 16);
    CHECK(s.points == 100);
    CHECK(s.passed);
    CHECK(s.finished);
    for (const ProcedureItem& i : s.procedure) {
        CAPTURE(i.key);
        CHECK(i.applies);
        CHECK(i.done);
        CHECK(i.tick.has_value());
        CHECK(!i.evidence.empty());
        CHECK(!i.why.empty());
    }
}

TEST_CASE("an exercise in which nothing was done gets no points and does not pass") {
    const Score s = scored(yard(), ExerciseState{});
    CHECK(s.points == 0);
    CHECK(!s.passed);
    CHECK(!s.horizontal_error_m);
    CHECK(!s.depth_error_m);
    CHECK(!s.depth_error_percent);
    CHECK(!s.tilt.tilt_error_deg);
    CHECK(s.dig_outcome == DigOutcome::none);
    for (const ProcedureItem& i : s.procedure) {
        CAPTURE(i.key);
        CHECK(!i.done);
        CHECK(!i.tick);
    }
}

TEST_CASE("the full band is the B1 band of PAS 128") {
    // The larger of 150 mm and 15 % of the depth (from memory of the published table): 1.0 m is the cross-over.
    CHECK(located_off(0.0, 0.5).full_band_m == doctest::Approx(0.150));
    CHECK(located_off(0.0, 1.0).full_band_m == doctest::Approx(0.150));
    CHECK(located_off(0.0, 1.5).full_band_m == doctest::Approx(0.225));
    CHECK(located_off(0.0, 2.0).full_band_m == doctest::Approx(0.300));
    CHECK(located_off(0.0, 3.0).full_band_m == doctest::Approx(0.450));
}

TEST_CASE("position points step down at the edges of the three bands") {
    // At 2 m: 0.30, 0.50 and 0.80 m. A limit itself is inside.
    CHECK(located_off(0.300, 2.0).position_points == 40);
    CHECK(located_off(0.301, 2.0).position_points == 20);
    CHECK(located_off(0.500, 2.0).position_points == 20);
    CHECK(located_off(0.501, 2.0).position_points == 10);
    CHECK(located_off(0.800, 2.0).position_points == 10);
    CHECK(located_off(0.801, 2.0).position_points == 0);
    // At 0.5 m the least widths hold: 0.15, 0.25 and 0.50 m.
    CHECK(located_off(0.15, 0.5).position_points == 40);
    CHECK(located_off(0.16, 0.5).position_points == 20);
    CHECK(located_off(0.26, 0.5).position_points == 10);
    CHECK(located_off(0.51, 0.5).position_points == 0);
    CHECK(*located_off(0.51, 0.5).horizontal_error_m == doctest::Approx(0.51));
}

TEST_CASE("moving the locate away never raises the position points") {
    for (const double depth_m : {0.4, 1.0, 1.7, 4.0}) {
        int before = full_position_points;
        for (int step = 0; step <= 200; ++step) {
            const int now = located_off(0.01 * step, depth_m).position_points;
            CHECK(now <= before);
            before = now;
        }
        CHECK(before == 0);
    }
}

TEST_CASE("position is the distance in plan whatever the direction") {
    ExerciseState state = worked_well();
    state.notebook.marks.back().place_m = spot + glm::dvec2{0.3, -0.4};
    CHECK(*scored(yard(), state).horizontal_error_m == doctest::Approx(0.5));
}

TEST_CASE("depth counts within 15 percent of the true depth on either side") {
    ExerciseState state = worked_well();
    const auto at = [&](double called_m) {
        state.notebook.depth_call_m = called_m;
        return scored(yard_at(2.0), state);
    };
    CHECK(at(2.30).depth_points == 14);
    CHECK(at(2.31).depth_points == 0);
    CHECK(at(1.70).depth_points == 14);
    CHECK(at(1.69).depth_points == 0);
    CHECK(*at(1.70).depth_error_m == doctest::Approx(-0.30));
    CHECK(*at(1.70).depth_error_percent == doctest::Approx(-15.0));
    CHECK(*at(2.10).depth_error_percent == doctest::Approx(5.0));
}

TEST_CASE("a tilt call is right up to 5 deg outside its limits") {
    CHECK(called_tilt(10.0, TiltCall::level).tilt.right);
    CHECK(!called_tilt(10.1, TiltCall::level).tilt.right);
    CHECK(called_tilt(-10.0, TiltCall::level).tilt.right);
    CHECK(!called_tilt(-10.1, TiltCall::level).tilt.right);
    CHECK(called_tilt(80.0, TiltCall::tilted).tilt.right);
    CHECK(!called_tilt(80.1, TiltCall::tilted).tilt.right);
    CHECK(called_tilt(0.5, TiltCall::tilted).tilt.right);
    CHECK(called_tilt(70.0, TiltCall::on_end).tilt.right);
    CHECK(!called_tilt(69.9, TiltCall::on_end).tilt.right);
    CHECK(!called_tilt(20.0, TiltCall::none).tilt.right);
    CHECK(called_tilt(10.0, TiltCall::level).tilt_points == 10);
    CHECK(called_tilt(11.0, TiltCall::level).tilt_points == 0);
}

TEST_CASE("a level sonde has no raised end, so calling it tilted is wrong") {
    CHECK(!called_tilt(0.0, TiltCall::tilted).tilt.right);
    CHECK(!called_tilt(0.0, TiltCall::tilted, 180.0).tilt.right);
}

TEST_CASE("a call of tilted names the raised end within a quarter turn") {
    // The end at heading 180 points down for tilt > 0: the raised one is to the north. For tilt < 0 it is the
    // heading's.
    CHECK(called_tilt(30.0, TiltCall::tilted, 0.0).tilt.true_raised_heading_deg == doctest::Approx(0.0));
    CHECK(called_tilt(-30.0, TiltCall::tilted, 0.0).tilt.true_raised_heading_deg == doctest::Approx(180.0));
    CHECK(called_tilt(30.0, TiltCall::tilted, 89.0).tilt.right);
    CHECK(!called_tilt(30.0, TiltCall::tilted, 91.0).tilt.right);
    CHECK(called_tilt(30.0, TiltCall::tilted, 271.0).tilt.right);
    CHECK(!called_tilt(30.0, TiltCall::tilted, 269.0).tilt.right);
    CHECK(!called_tilt(-30.0, TiltCall::tilted, 0.0).tilt.right);
    CHECK(called_tilt(-30.0, TiltCall::tilted, 180.0).tilt.right);
}

TEST_CASE("the tilt error is the angle called minus the true one, and is empty when no angle was called") {
    CHECK(*called_tilt(30.0, TiltCall::tilted, 0.0, 25.0).tilt.tilt_error_deg == doctest::Approx(-5.0));
    CHECK(*called_tilt(-30.0, TiltCall::tilted, 180.0, 33.0).tilt.tilt_error_deg == doctest::Approx(3.0));
    CHECK(!called_tilt(30.0, TiltCall::tilted, 0.0).tilt.tilt_error_deg);
    CHECK(!called_tilt(30.0, TiltCall::none, 0.0, 25.0).tilt.tilt_error_deg);
}

TEST_CASE("the pipe's top is worked from the sonde's depth as on the job sheet") {
    // By hand: 1.50 - (0.100 - 0.025) - 0.003 = 1.422 m; the springline lies 0.050 + 0.003 below that.
    const Score s = scored(yard(), worked_well());
    CHECK(s.pipe_top_depth_m == doctest::Approx(1.422));
    CHECK(s.springline_depth_m == doctest::Approx(1.475));
    CHECK(pipe_top_depth_m(1.5, yard().sheet) == doctest::Approx(1.422));
}

TEST_CASE("a box on the pipe has its bottom between 0.30 m over the pipe's top and the springline") {
    CHECK(dug(box(1.2, 0.8, 1.121)).dig_outcome == DigOutcome::shallow);
    CHECK(dug(box(1.2, 0.8, 1.122)).dig_outcome == DigOutcome::on_the_pipe);
    CHECK(dug(box(1.2, 0.8, 1.475)).dig_outcome == DigOutcome::on_the_pipe);
    CHECK(dug(box(1.2, 0.8, 1.476)).dig_outcome == DigOutcome::into_the_pipe);
}

TEST_CASE("a box is beside when the target is outside it, however it is turned") {
    CHECK(dug(box(1.2, 0.8, 1.4, DigMethod::machine, spot + glm::dvec2{0.40, 0.0})).dig_outcome ==
          DigOutcome::on_the_pipe);
    const Score off = dug(box(1.2, 0.8, 1.4, DigMethod::machine, spot + glm::dvec2{0.41, 0.0}));
    CHECK(off.dig_outcome == DigOutcome::beside);
    CHECK(off.target_gap_m == doctest::Approx(0.01));
    CHECK(off.target_distance_m == doctest::Approx(0.41));
    DigBox turned = box(1.2, 0.8, 1.4, DigMethod::machine, spot + glm::dvec2{0.55, 0.0});
    CHECK(dug(turned).dig_outcome == DigOutcome::beside);
    turned.heading_deg = 90.0; // its length now runs east and reaches 0.60 m
    CHECK(dug(turned).dig_outcome == DigOutcome::on_the_pipe);
    // Off a corner by 3, 4, 5: the gap is the straight distance.
    CHECK(gap_to_box_m(box(1.2, 0.8, 1.0), spot + glm::dvec2{0.4 + 0.3, 0.6 + 0.4}) == doctest::Approx(0.5));
}

TEST_CASE("a box too small to work in, or larger than four square metres, is not on the pipe") {
    const World shallow = yard_at(1.0); // top of the pipe 0.922 m down
    CHECK(dug(box(0.60, 0.60, 0.9), shallow).dig_outcome == DigOutcome::on_the_pipe);
    CHECK(dug(box(0.59, 0.60, 0.9), shallow).dig_outcome == DigOutcome::too_small);
    CHECK(dug(box(2.0, 0.59, 0.9), shallow).dig_outcome == DigOutcome::too_small);
    CHECK(dug(box(2.0, 2.0, 0.9), shallow).dig_outcome == DigOutcome::on_the_pipe);
    CHECK(dug(box(2.0, 2.01, 0.9), shallow).dig_outcome == DigOutcome::too_large);
    // Deeper than 1.2 m it takes 0.8 by 1.2 m, either way round.
    CHECK(dug(box(0.60, 0.60, 1.20)).dig_outcome == DigOutcome::on_the_pipe);
    CHECK(dug(box(0.60, 0.60, 1.21)).dig_outcome == DigOutcome::too_small);
    CHECK(dug(box(0.80, 1.20, 1.21)).dig_outcome == DigOutcome::on_the_pipe);
    CHECK(dug(box(0.80, 1.19, 1.21)).dig_outcome == DigOutcome::too_small);
    CHECK(dug(box(1.30, 0.79, 1.21)).dig_outcome == DigOutcome::too_small);
}

TEST_CASE("volume beyond 1.5 cubic metres costs a point for each started half cubic metre") {
    CHECK(dug(box(1.25, 1.0, 1.2)).dig_volume_m3 == doctest::Approx(1.5));
    CHECK(dug(box(1.25, 1.0, 1.2)).dig_points == 20);
    CHECK(dug(box(1.25, 1.0, 1.21)).dig_points == 19);
    CHECK(dug(box(1.6, 1.25, 1.0), yard_at(1.1)).dig_points == 19); // 2.0 m3
    CHECK(dug(box(1.6, 1.25, 1.01), yard_at(1.1)).dig_points == 18);
    CHECK(dug(box(2.0, 2.0, 3.0), yard_at(3.05)).dig_points == 10); // 12 m3: never more than ten points
    CHECK(dug(box(2.0, 2.0, 3.0), yard_at(3.05)).passed == false);  // the depth call is 1.5 m
}

TEST_CASE("the dig is scored against the fault and the locate against the sonde") {
    World world = yard();
    world.sheet.sonde_to_lens_m = 0.3;
    world.sheet.lens_to_fault_m = 0.5; // 0.8 m on, to the south
    CHECK(dug(box(1.2, 0.8, 1.45), world).dig_outcome == DigOutcome::beside);
    const Score s = dug(box(1.2, 0.8, 1.45, DigMethod::machine, spot - glm::dvec2{0.0, 0.8}), world);
    CHECK(s.dig_outcome == DigOutcome::on_the_pipe);
    CHECK(*s.horizontal_error_m == doctest::Approx(0.0));
    CHECK(s.passed);
}

TEST_CASE("each condition of a pass can fail by itself") {
    const auto fails = [](auto&& spoil) {
        ExerciseState state = worked_well();
        spoil(state);
        return !scored(yard(), state).passed;
    };
    CHECK(!fails([](ExerciseState&) {}));
    CHECK(fails([](ExerciseState& s) { s.finished_tick.reset(); }));
    CHECK(fails([](ExerciseState& s) { s.notebook.marks.pop_back(); }));                 // the locate
    CHECK(!fails([](ExerciseState& s) { s.notebook.marks.back().place_m.x += 0.374; })); // half band 0.375 m
    CHECK(fails([](ExerciseState& s) { s.notebook.marks.back().place_m.x += 0.376; }));
    CHECK(fails([](ExerciseState& s) { s.notebook.depth_call_m.reset(); }));
    CHECK(fails([](ExerciseState& s) { s.notebook.depth_call_m = 1.73; }));
    CHECK(fails([](ExerciseState& s) { s.notebook.dig.reset(); }));
    CHECK(fails([](ExerciseState& s) { s.notebook.dig->depth_m = 0.0; }));
    CHECK(fails([](ExerciseState& s) { s.notebook.dig->depth_m = 1.1; }));
    // Neither the tilt call nor the procedure is a condition.
    CHECK(!fails([](ExerciseState& s) { s.notebook.tilt_call = TiltCall::on_end; }));
    CHECK(!fails([](ExerciseState& s) { s.ticket_read_tick.reset(); }));
}

TEST_CASE("a dig deeper than 1.5 m is marked as deep") {
    CHECK(!dug(box(1.2, 0.8, 1.49), yard_at(1.6)).deep_dig);
    CHECK(dug(box(1.2, 0.8, 1.50), yard_at(1.6)).deep_dig);
    // The rule itself says 5 ft (from memory: 29 CFR 1926.652); a foot is 0.3048 m, so ours is the stricter.
    CHECK(Rubric{}.protection_depth_m < 5 * 0.3048);
}

TEST_CASE("in a drop the pipe stands in the hole: by hand it is exposed, a machine goes through it") {
    World world = yard();
    // Level at 0.9 m, then straight down past the sonde at 1.5 m.
    world.run = Run{{{15.0, 35.0, -0.9}, {15.0, 20.0, -0.9}, {15.0, 20.0, -2.4}}, PipeMaterial::clay, 0.10, 0.003};
    world.sonde.position_m = {spot.x, spot.y, -depth};
    world.sonde.heading_deg = 0.0;
    world.sonde.tilt_deg = 90.0;
    world.sheet.sonde_above_invert_m = 0.05; // in the middle of the pipe
    ExerciseState state = worked_well();
    state.notebook.dig = DigBox{spot, 0.0, 1.2, 0.8, 1.45, DigMethod::hand};
    Score by_hand = score(Setting(world), state);
    CHECK(by_hand.dig_outcome == DigOutcome::on_the_pipe);
    REQUIRE(by_hand.rising_pipe_m);
    CHECK(*by_hand.rising_pipe_m == doctest::Approx(0.9));
    state.notebook.dig->method = DigMethod::machine;
    CHECK(score(Setting(world), state).dig_outcome == DigOutcome::into_the_pipe);
    state.notebook.dig->depth_m = 0.85; // stops above the elbow, and short of the fault
    CHECK(score(Setting(world), state).dig_outcome == DigOutcome::shallow);
    // An ordinary fall does not count as rising.
    CHECK_FALSE(score(Setting(yard()), worked_well()).rising_pipe_m);
}
