// The shape of the ground: heights, contours, walls, and what depth means on a slope.
//
// Outside sources: heights and contour spacing are a surveyor's arithmetic (rise = run x grade); the dipole's field is
// that of Jackson, ch. 5, by way of a turned frame; the plumb points on a slope come from its condition 2 x^2 = h^2,
// solved by hand.
#include "field/debrief.hpp"
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"
#include "tests/field/score_fixture.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

World on_slope(double percent, double toward_deg, double depth = 1.2, double heading_deg = 90.0,
               double tilt_deg = 0.0) {
    World world = test::empty_yard(depth, heading_deg, tilt_deg);
    world.yard.terrain.slope_percent = percent;
    world.yard.terrain.slope_toward_deg = toward_deg;
    world.yard.terrain.zero_m = plan(world.sonde.position_m);
    return world;
}

// The lower antenna set's field with the tip on the ground, as the exercise feels it.
sim::Phasor3 felt_t(const World& world, const glm::dvec2& place) {
    Body body;
    body.tip_m = place;
    body.tip_height_m = 0.0;
    const sim::Pose pose = pose_of(body, world, 0);
    const sim::Dipole sonde = sim::make_sonde(world.sonde.position_m, world.sonde.heading_deg, world.sonde.tilt_deg,
                                              world.sonde.moment_am2, world.sonde.frequency_hz);
    return sim::dipole_field_t(sonde, pose.tip_m + glm::dvec3{0.0, 0.0, world.receiver.tip_to_antenna_m});
}

bool mentions(const std::vector<std::string>& texts, std::string_view words) {
    return std::ranges::any_of(texts, [&](const std::string& t) { return t.find(words) != std::string::npos; });
}

} // namespace

TEST_CASE("flat ground is z = 0 to the last digit, wherever its heights are counted from") {
    Terrain flat;
    flat.zero_m = {3.3, 7.7};
    CHECK(is_flat(flat));
    CHECK(height_m(flat, {12.345, 6.789}) == 0.0);
    CHECK(height_m(counted_from(flat, {1.0, 2.0}), {29.0, 1.0}) == 0.0);
    CHECK(contours(flat, {0, 0}, {30, 30}, 0.5, 0.25).empty());
}

TEST_CASE("a plane of 8 percent falls 8 cm a metre the way it is said to, and not across") {
    Terrain terrain;
    terrain.slope_percent = 8.0;
    terrain.slope_toward_deg = 90.0;
    terrain.zero_m = {10.0, 10.0};
    CHECK(height_m(terrain, {10.0, 10.0}) == 0.0);
    CHECK(height_m(terrain, {17.5, 10.0}) == doctest::Approx(-0.60));
    CHECK(height_m(terrain, {5.0, 10.0}) == doctest::Approx(0.40));
    CHECK(height_m(terrain, {10.0, 25.0}) == doctest::Approx(0.0));
    terrain.slope_toward_deg = 225.0; // south-west: 3-4-5 is not needed, 5 m of it is 40 cm
    CHECK(height_m(terrain, glm::dvec2{10.0, 10.0} - 5.0 * glm::dvec2{std::sqrt(0.5), std::sqrt(0.5)}) ==
          doctest::Approx(-0.40));
}

TEST_CASE("a bank rises in a straight line over its ramp, a wall at once, and steps add up") {
    Terrain terrain;
    terrain.steps = {{{15.0, 20.0}, 0.0, 1.2, 4.0}}; // up to the north, from y = 18 to 22
    terrain.zero_m = {15.0, 10.0};
    CHECK(height_m(terrain, {3.0, 17.99}) == 0.0);
    CHECK(height_m(terrain, {3.0, 19.0}) == doctest::Approx(0.3));
    CHECK(height_m(terrain, {27.0, 20.0}) == doctest::Approx(0.6));
    CHECK(height_m(terrain, {27.0, 22.5}) == doctest::Approx(1.2));
    terrain.steps.push_back({{15.0, 25.0}, 0.0, -0.7, 0.0}); // and a wall down
    CHECK(height_m(terrain, {15.0, 24.999999}) == doctest::Approx(1.2));
    CHECK(height_m(terrain, {15.0, 25.0}) == doctest::Approx(0.5));
    CHECK(height_m(counted_from(terrain, {15.0, 30.0}), {15.0, 10.0}) == doctest::Approx(-0.5));
}

TEST_CASE("a pad is up as a whole, and the ground it was laid on is known too") {
    Terrain terrain;
    terrain.pads = {{{{10, 10}, {14, 10}, {14, 13}, {10, 13}}, 0.15}};
    terrain.zero_m = {12.0, 11.0}; // on it
    CHECK(height_m(terrain, {11.0, 12.9}) == 0.0);
    CHECK(height_m(terrain, {9.99, 11.0}) == doctest::Approx(-0.15));
    CHECK(height_without_pads_m(terrain, {11.0, 12.0}) == doctest::Approx(-0.15));
}

// ---- Depth and the field ----

TEST_CASE("straight above the sonde the ratio of two antennas gives its depth exactly, whatever the slope") {
    for (const double percent : {0.0, 5.0, 12.0, 30.0}) {
        for (const double tilt : {0.0, 25.0, 90.0}) {
            const World world = on_slope(percent, 200.0, 1.37, 60.0, tilt);
            Body body;
            body.tip_m = plan(world.sonde.position_m);
            body.tip_height_m = 0.0;
            const sim::Instrument instrument = sim::perfect_instrument(world.receiver);
            const sim::Dipole sonde = sim::make_sonde(world.sonde.position_m, 60.0, tilt, 0.1, 512.0);
            sim::Pose pose = pose_of(body, world, 0);
            pose.lean_forward_deg = pose.lean_right_deg = 0.0;
            const auto signals = sim::antenna_signals_t(instrument, pose, {&sonde, 1}, 512.0);
            const auto m = sim::measure(instrument, signals, 512.0, 0.0, sim::CoilAttitude::level);
            REQUIRE(m.depth_m.has_value());
            CHECK(*m.depth_m == doctest::Approx(1.37).epsilon(1e-9));
        }
    }
}

TEST_CASE("on a slope the field is that of a frame turned with it: a tilted sonde under level ground") {
    // A plane that falls at angle a toward the east over a level sonde at depth d is, turned by a about it, level
    // ground at d cos a over a sonde that is tilted by a, raised at its lower-ground end.
    const double percent = 20.0;
    const double a = std::atan(percent / 100.0);
    const double depth = 1.5;
    World sloped = on_slope(percent, 90.0, depth, 90.0, 0.0);
    sloped.receiver.tip_to_antenna_m = 0.0;
    World level = test::empty_yard(depth * std::cos(a), 270.0, sim::degrees(a));
    level.receiver.tip_to_antenna_m = 0.0;
    for (const double up_slope_m :
         {-2.0, -0.7, 0.0, 0.4, 1.1, 2.6}) { // from the surface over the sonde, along the slope
        const glm::dvec2 on_slope_place{15.0 - up_slope_m * std::cos(a), 15.0};
        // The foot of the square from the sonde lies d sin a up the slope.
        const glm::dvec2 turned_place{15.0 - (up_slope_m - depth * -std::sin(a)), 15.0};
        CHECK(sim::magnitude(felt_t(sloped, on_slope_place)) ==
              doctest::Approx(sim::magnitude(felt_t(level, turned_place))).epsilon(1e-9));
    }
}

TEST_CASE("plumb points on a slope are where the field's condition puts them, the farther one uphill") {
    // Level sonde, grade g along it: h = h0 + g x and 2 x^2 = h^2, so x = h0 / (sqrt 2 -+ g). At 10 %, 1.5 m and 50 mm
    // to the antenna: 1.180 m up, 1.024 m down.
    const World world = on_slope(10.0, 270.0, 1.5, 90.0, 0.0); // falls west: up is east, the sonde's heading
    const auto level_part = [&](double x) { return felt_t(world, {15.0 + x, 15.0}).re.x; };
    const auto root = [&](double low, double high) { // bisection: knows nothing of the formula
        const bool low_sign = level_part(low) < 0.0;
        for (int i = 0; i < 60; ++i) {
            const double middle = 0.5 * (low + high);
            ((level_part(middle) < 0.0) == low_sign ? low : high) = middle;
        }
        return low;
    };
    const double h0 = 1.55;
    CHECK(root(0.5, 2.0) == doctest::Approx(h0 / (std::sqrt(2.0) - 0.10)).epsilon(1e-6));
    CHECK(root(-2.0, -0.5) == doctest::Approx(-h0 / (std::sqrt(2.0) + 0.10)).epsilon(1e-6));
    CHECK(root(0.5, 2.0) == doctest::Approx(1.1795).epsilon(1e-3));
    CHECK(root(-2.0, -0.5) == doctest::Approx(-1.0236).epsilon(1e-3));
    // The debrief says the same, and that the sonde is not midway.
    ExerciseState state = start(Setting(world));
    const Setting setting(world);
    const Debrief d = debrief(setting, state, score(setting, state));
    CHECK(mentions(d.notes, "1.18 m"));
    CHECK(mentions(d.notes, "1.02 m"));
    CHECK(mentions(d.notes, "not midway"));
}

// ---- Contours ----

TEST_CASE("contours of a plane stand as far apart as its grade says, and every piece lies on its level") {
    Terrain terrain;
    terrain.slope_percent = 5.0;
    terrain.slope_toward_deg = 180.0;
    terrain.zero_m = {0.0, 12.0};
    const auto pieces = contours(terrain, {0.0, 0.0}, {20.0, 40.0}, 0.7, 0.25);
    REQUIRE(!pieces.empty());
    for (const ContourPiece& piece : pieces) {
        for (const glm::dvec2& p : {piece.from_m, piece.to_m}) {
            REQUIRE(height_m(terrain, p) == doctest::Approx(piece.height_m).epsilon(1e-9));
            REQUIRE(p.y == doctest::Approx(12.0 + piece.height_m / 0.05).epsilon(1e-9)); // 5 m apart for 0.25 m
        }
    }
    const auto levels = [&](double level) {
        double length = 0.0;
        for (const ContourPiece& piece : pieces) {
            length += std::abs(piece.height_m - level) < 1e-9 ? glm::distance(piece.from_m, piece.to_m) : 0.0;
        }
        return length;
    };
    CHECK(levels(0.25) == doctest::Approx(20.0)); // from side to side, once
    CHECK(levels(-0.5) == doctest::Approx(20.0));
    CHECK(levels(1.25) == doctest::Approx(20.0));
    CHECK(levels(1.5) == 0.0); // 30 m up: beyond the edge
}

TEST_CASE("contours crowd on a bank and leave pads alone; the interval follows the relief") {
    Terrain terrain;
    terrain.steps = {{{15.0, 15.0}, 90.0, 1.1, 2.0}};
    terrain.pads = {{{{2, 2}, {6, 2}, {6, 6}, {2, 6}}, 0.3}};
    terrain.zero_m = {1.0, 15.0};
    int count = 0;
    for (const ContourPiece& piece : contours(terrain, {0.0, 0.0}, {30.0, 30.0}, 0.5, 0.25)) {
        ++count;
        CHECK(piece.from_m.x > 13.9);
        CHECK(piece.from_m.x < 16.1);
        CHECK(std::abs(piece.from_m.x - (14.0 + piece.height_m / 1.1 * 2.0)) < 0.5);
    }
    CHECK(count > 4 * 60);
    CHECK(relief_m(terrain, 30.0, 30.0) == doctest::Approx(1.1));
    CHECK(contour_interval_m(1.1) == 0.25);
    CHECK(contour_interval_m(2.5) == 0.5);
}

// ---- Feet ----

TEST_CASE("nobody steps over a retaining wall of 0.8 m, but over a kerb and up a bank") {
    const auto walked_to = [](const GroundStep& step) {
        World world = test::empty_yard();
        world.yard.terrain.steps = {step};
        Body body = body_at_start(world); // at y = 8
        for (int tick = 0; tick < 600; ++tick) {
            Move move;
            move.hand_m = {15.0, 25.0};
            advance(body, world, move);
            REQUIRE(standable(world.yard, body.feet_m));
        }
        return body;
    };
    const glm::dvec2 line{15.0, 12.0};
    const Body at_wall_foot = walked_to({line, 0.0, 0.8, 0.0});
    CHECK(at_wall_foot.feet_m.y <= 12.0 - body_radius_m + 1e-6);
    CHECK(at_wall_foot.blocked);
    CHECK(walked_to({line, 0.0, -0.8, 0.3}).feet_m.y < 12.0); // nor down it
    CHECK(walked_to({line, 0.0, 0.15, 0.0}).feet_m.y > 20.0);
    CHECK(walked_to({line, 0.0, 1.5, 4.0}).feet_m.y > 20.0);
}

// ---- What may be known ----

TEST_CASE("the brief has the ground's shape, counted from the start and not from over the sonde") {
    World world = on_slope(10.0, 180.0);
    world.yard.terrain.steps = {{{15.0, 20.0}, 0.0, 0.4, 1.0}};
    const Brief brief = brief_of(world);
    CHECK(height_m(brief.terrain, world.start_m) == 0.0);
    for (const glm::dvec2& p : {glm::dvec2{3.0, 4.0}, {15.0, 15.0}, {20.0, 29.0}}) {
        CHECK(height_m(brief.terrain, p) ==
              doctest::Approx(height_m(world.yard.terrain, p) - height_m(world.yard.terrain, world.start_m)));
    }
    CHECK(height_m(brief.terrain, {15.0, 15.0}) == doctest::Approx(0.7)); // 7 m up the slope from the start
}

// ---- Score ----

TEST_CASE("a depth call is held against the depth under the mark, the bands go by the depth over the sonde") {
    World world = score_fixture::yard();
    world.yard.terrain.slope_percent = 20.0;
    world.yard.terrain.slope_toward_deg = 180.0;
    world.yard.terrain.zero_m = score_fixture::spot;
    ExerciseState state = score_fixture::worked_well();
    for (Mark& m : state.notebook.marks) {
        if (m.kind == MarkKind::locate) {
            m.place_m += glm::dvec2{0.0, 1.0}; // 1 m uphill: 0.20 m higher
        }
    }
    state.notebook.depth_call_m = 1.7;
    const Score s = score_fixture::scored(world, state);
    CHECK(s.true_depth_m == 1.5);
    CHECK(s.depth_at_mark_m == doctest::Approx(1.7));
    CHECK(*s.depth_error_m == doctest::Approx(0.0));
    CHECK(s.full_band_m == doctest::Approx(0.225));
    state.notebook.marks.clear(); // no mark: over the sonde
    CHECK(*score_fixture::scored(world, state).depth_error_m == doctest::Approx(0.2));
}

TEST_CASE("a mark at the foot of a bank, lower than the sonde, makes no depth of nothing") {
    World world = score_fixture::yard();
    world.yard.terrain.steps = {{{15.0, 24.0}, 180.0, 2.0, 1.0}}; // the yard north of y = 24.5 lies 2 m lower
    world.yard.terrain.zero_m = score_fixture::spot;
    ExerciseState state = score_fixture::worked_well();
    state.notebook.marks.back().place_m = {15.0, 30.0};
    CHECK(score_fixture::scored(world, state).depth_at_mark_m == 1.5);
}

TEST_CASE("on a slope a dig box counts from the ground at its middle, and its uphill side decides on protection") {
    World world = score_fixture::yard();
    world.yard.terrain.slope_percent = 20.0;
    world.yard.terrain.slope_toward_deg = 180.0;
    world.yard.terrain.zero_m = score_fixture::spot;
    ExerciseState state = score_fixture::worked_well();
    state.notebook.dig = score_fixture::box(1.2, 0.8, 1.45);
    Score s = score_fixture::scored(world, state);
    CHECK(s.pipe_top_depth_m == doctest::Approx(1.422));
    CHECK(s.dig_outcome == DigOutcome::on_the_pipe);
    CHECK(s.deep_dig); // 1.45 at its middle, 0.6 m on it is 1.57
    state.notebook.dig = score_fixture::box(1.2, 0.8, 1.45, DigMethod::machine, {15.0, 20.5}); // 0.10 m higher
    s = score_fixture::scored(world, state);
    CHECK(s.pipe_top_depth_m == doctest::Approx(1.522));
    CHECK(s.springline_depth_m == doctest::Approx(1.575));
    CHECK(s.dig_outcome == DigOutcome::on_the_pipe);
    state.notebook.dig = score_fixture::box(1.2, 0.8, 1.45, DigMethod::machine, {15.0, 19.5}); // 0.10 m lower: 1.375
    CHECK(score_fixture::scored(world, state).dig_outcome == DigOutcome::into_the_pipe);
}

TEST_CASE("a line in a box on a slope is said to be as deep as it lies under the ground over it") {
    World world = score_fixture::yard();
    world.yard.terrain.slope_percent = 20.0;
    world.yard.terrain.slope_toward_deg = 180.0;
    world.yard.terrain.zero_m = score_fixture::spot;
    BuriedLine line = score_fixture::line_north(15.0, 0.625);
    line.points_m = {{10.0, 20.4, 0.08 - 0.625},
                     {20.0, 20.4, 0.08 - 0.625}}; // along a contour, its top 0.60 m under it
    line.paint_m.clear();
    world.yard.lines = {line};
    ExerciseState state = score_fixture::worked_well();
    const Score s = score_fixture::scored(world, state);
    CHECK_MESSAGE(s.line_hit.find("0.60 m down") != std::string::npos, s.line_hit);
}

// ---- Bad worlds ----

TEST_CASE("a sonde above the ground, a run that comes out of it and absurd shapes are said in words") {
    World world = test::empty_yard(0.5);
    world.yard.terrain.steps = {{{15.0, 10.0}, 180.0, 0.9, 1.0}}; // from y = 10.5 on the ground lies 0.9 m lower
    world.yard.terrain.zero_m = {15.0, 5.0};
    CHECK(mentions(faults(world), "the sonde lies 0.4 m above the ground"));

    world = test::empty_yard(1.2, 180.0);
    world.run = Run{{{15.0, 20.0, -1.1}, {15.0, 10.0, -1.2}}, PipeMaterial::pvc, 0.2, 0.003};
    world.sonde.position_m.z = -1.15;
    world.sonde.position_m.y = 15.0;
    CHECK(faults(world).empty());
    world.yard.terrain.slope_percent = 20.0; // to 1 m lower at the run's end: 0.2 m left
    world.yard.terrain.slope_toward_deg = 180.0;
    world.yard.terrain.zero_m = {15.0, 15.0};
    CHECK(mentions(faults(world), "m of cover at (15.00, 10.00); 0.30 m or more is allowed"));
    world.yard.terrain.slope_percent = 30.0;
    CHECK(mentions(faults(world), "the run comes out of the ground at (15.00, 10.00)"));

    world = on_slope(10.0, 0.0);
    world.yard.lines = {score_fixture::line_north(20.0, 0.5)};
    CHECK(mentions(faults(world), "a buried gas line comes out of the ground"));
    world.yard.lines.clear();
    CHECK(faults(world).empty());
    world.yard.terrain.slope_percent = -3.0;
    CHECK(mentions(faults(world), "slope is -3 %"));
    world.yard.terrain.slope_percent = std::numeric_limits<double>::quiet_NaN();
    CHECK(!faults(world).empty());
    world.yard.terrain.slope_percent = 0.0;
    world.yard.terrain.steps = {{{15.0, 20.0}, 0.0, 9.0, 1.0}};
    CHECK(mentions(faults(world), "rises 9 m"));
    world.yard.terrain.steps = {{{15.0, 70.0}, 0.0, 1.0, 1.0}};
    CHECK(mentions(faults(world), "outside the yard"));
    world.yard.terrain.steps.clear();
    world.yard.terrain.pads = {{{{1, 1}, {2, 2}}, 0.1}};
    CHECK(mentions(faults(world), "fewer than three corners"));
}
