// The operator as a body: speeds, reach, walls, turning round the tip, habits.
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>

#include <limits>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

Move to(const glm::dvec2& hand, double height_m = 0.0) {
    Move move;
    move.hand_m = hand;
    move.hand_height_m = height_m;
    return move;
}

} // namespace

TEST_CASE("he walks at most 1.5 m/s, and stays put while the hand is within reach") {
    const World world = test::empty_yard();
    Body body = body_at_start(world);
    const glm::dvec2 start = body.feet_m;
    advance(body, world, to(start + glm::dvec2{0.3, 0.7}));
    CHECK(body.feet_m == start);
    double fastest = 0.0;
    for (int tick = 0; tick < 300; ++tick) {
        const glm::dvec2 before = body.feet_m;
        advance(body, world, to({15.0, 25.0}));
        fastest = std::max(fastest, glm::distance(before, body.feet_m) / tick_s);
        CHECK(glm::distance(body.feet_m, body.tip_m) <= reach_m + 1e-5);
    }
    CHECK(fastest <= 1.5 + 1e-4);
    CHECK(fastest > 1.4);
    // 5 s at 1.5 m/s from y = 8
    CHECK(body.feet_m.y == doctest::Approx(15.5).epsilon(0.02));
}

TEST_CASE("he stops walking when he has arrived, so that a later turn stays as it was made") {
    const World world = test::empty_yard();
    for (int i = 0; i < 22; ++i) {
        Body body = body_at_start(world);
        const glm::dvec2 hand{11.0 + 0.37 * i, 14.0};
        for (int tick = 0; tick < 600; ++tick) {
            advance(body, world, to(hand));
        }
        REQUIRE_FALSE(body.walking);
        body.turn_left_deg = 90.0;
        const double facing = body.facing_deg;
        for (int tick = 0; tick < 120; ++tick) {
            advance(body, world, to(hand));
        }
        REQUIRE(sim::wrap_180(body.facing_deg - facing) == doctest::Approx(90.0).epsilon(1e-5));
    }
}

TEST_CASE("slow is a tenth") {
    const World world = test::empty_yard();
    Body body = body_at_start(world);
    Move move = to({15.4, 8.6});
    move.slow = true;
    const glm::dvec2 before = body.tip_m;
    for (int tick = 0; tick < 60; ++tick) {
        advance(body, world, move);
    }
    CHECK(glm::distance(before, body.tip_m) == doctest::Approx(0.15).epsilon(0.01));
}

TEST_CASE("nobody walks through a house, and the tip does not pass its wall") {
    World world = test::empty_yard();
    world.yard.areas.push_back({AreaKind::house, rectangle({15.0, 12.0}, 0.0, 4.0, 8.0), "house"}); // y 10..14
    Body body = body_at_start(world);
    bool blocked = false;
    for (int tick = 0; tick < 600; ++tick) {
        advance(body, world, to({15.0, 20.0}));
        blocked |= body.blocked;
        REQUIRE(standable(30.0, 30.0, world.yard.areas, body.feet_m));
        REQUIRE(tip_may_be(30.0, 30.0, world.yard.areas, body.tip_m));
    }
    CHECK(blocked);
}

TEST_CASE("from a pond's edge the tip reaches over the water") {
    World world = test::empty_yard();
    world.yard.areas.push_back({AreaKind::pond, rectangle({15.0, 12.0}, 0.0, 4.0, 8.0), "pond"});
    const Setting setting(world);
    ExerciseState state = start(setting);
    test::go_to(setting, state, {15.0, 10.5});
    CHECK(state.body.tip_m.y == doctest::Approx(10.5));
    CHECK(state.body.feet_m.y < 9.81);
}

TEST_CASE("turning walks him round the tip, which stays where it is") {
    const World world = test::empty_yard();
    Body body = body_at_start(world);
    const glm::dvec2 tip = body.tip_m;
    const double facing = body.facing_deg;
    const glm::dvec2 arm = body.feet_m - tip;
    body.turn_left_deg = 180.0;
    int ticks = 0;
    for (; body.turn_left_deg != 0.0 && ticks < 600; ++ticks) {
        advance(body, world, to(tip));
    }
    CHECK(body.tip_m == tip);
    CHECK(std::abs(sim::wrap_180(body.facing_deg - facing)) == doctest::Approx(180.0));
    CHECK(glm::length(arm + (body.feet_m - tip)) < 1e-4); // on the other side
    CHECK(ticks == 90);                                   // 180 deg at 120 deg/s
}

TEST_CASE("neither fence nor speed limit is broken by turning round a tip that is held over a fence") {
    for (const double thick_m : {0.05, 0.10, 0.15, 0.20}) {
        World world = test::empty_yard();
        const double fence_y = 10.3;
        world.yard.areas.push_back({AreaKind::fence, rectangle({15.0, fence_y}, 90.0, 29.0, thick_m), "fence"});
        world.start_m = {15.0, 9.0};
        Body body = body_at_start(world);
        for (int tick = 0; tick < 120; ++tick) {
            advance(body, world, to({15.0, 10.6}));
        }
        CHECK(body.tip_m.y == doctest::Approx(10.6)); // over the fence, his feet on this side
        body.turn_left_deg = 180.0;
        double fastest_m_s = 0.0;
        for (int tick = 0; tick < 600; ++tick) {
            const glm::dvec2 before = body.feet_m;
            advance(body, world, to({15.0, 10.6}));
            fastest_m_s = std::max(fastest_m_s, glm::distance(before, body.feet_m) / tick_s);
        }
        CHECK(body.feet_m.y < fence_y);
        CHECK(fastest_m_s <= walk_speed_m_s + 1e-3);
        CHECK(body.turn_left_deg == 0.0);
    }
}

TEST_CASE("half round in the open he walks no faster than he can") {
    const World world = test::empty_yard();
    Body body = body_at_start(world);
    for (int tick = 0; tick < 60; ++tick) {
        advance(body, world, to(body.feet_m + glm::dvec2{0.0, 0.94}));
    }
    body.turn_left_deg = -180.0;
    const double facing = body.facing_deg;
    for (int tick = 0; tick < 300; ++tick) {
        const glm::dvec2 before = body.feet_m;
        advance(body, world, to(body.tip_m));
        REQUIRE(glm::distance(before, body.feet_m) / tick_s <= walk_speed_m_s + 1e-3);
    }
    CHECK(std::abs(sim::wrap_180(body.facing_deg - facing)) == doctest::Approx(180.0).epsilon(1e-5));
}

TEST_CASE("where there is no room the turn stops and says so") {
    World world = test::empty_yard();
    world.yard.areas.push_back({AreaKind::pond, rectangle({15.0, 10.8}, 90.0, 20.0, 4.0), "pond"}); // y 8.8..12.8
    Body body = body_at_start(world);
    body.turn_left_deg = 180.0;
    bool blocked = false;
    for (int tick = 0; tick < 200; ++tick) {
        advance(body, world, to(body.tip_m));
        blocked |= body.blocked;
    }
    CHECK(blocked);
    CHECK(body.turn_left_deg == 0.0);
}

TEST_CASE("the habitual lean turns with him until he corrects it") {
    World world = test::empty_yard();
    world.habits = {6.0, 90.0}; // to his right
    Body body = body_at_start(world);
    body.tip_height_m = 0.0;
    const auto leans = [&] { return pose_of(body, world, 0); };
    CHECK(leans().lean_right_deg == doctest::Approx(6.0).epsilon(0.03));
    body.turn_left_deg = 180.0;
    while (body.turn_left_deg != 0.0) {
        advance(body, world, to(body.tip_m));
    }
    CHECK(leans().lean_right_deg == doctest::Approx(6.0).epsilon(0.03)); // still his right: it now leans the other way
    CHECK(sim::mast_frame(leans())[2].x < -0.09);
    Move correct = to(body.tip_m);
    correct.lean_right = -1.0;
    for (int tick = 0; tick < 60; ++tick) {
        advance(body, world, correct); // 6 deg/s
    }
    CHECK(sim::lean_deg(leans()) < 0.4);
}

TEST_CASE("nonsense from outside is brought to the grid and harms nothing") {
    const Setting setting(test::empty_yard());
    ExerciseState state = start(setting);
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const double inf = std::numeric_limits<double>::infinity();
    Action wild;
    wild.move = {{nan, inf}, -inf, nan, 5.0, -9.0, false};
    wild.command = ProposeDig{{{nan, 1e300}, inf, nan, -4.0, 1e9, DigMethod::hand}};
    for (int tick = 0; tick < 10; ++tick) {
        const Observation seen = step(setting, state, wild);
        CHECK(std::isfinite(seen.tip_m.x));
        CHECK(std::isfinite(seen.facing_deg));
        CHECK(std::isfinite(seen.lean_deg));
    }
    CHECK(state.notebook.dig->length_m >= 0.1);
    const Action once = on_log_grid(wild);
    const Action twice = on_log_grid(once);
    CHECK(once.move.hand_m == twice.move.hand_m);
    CHECK(once.move.lean_right == -1.0);
}
