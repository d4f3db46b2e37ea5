// What the dig does to other people's lines, and whether a machine may dig at all.
#include "score_fixture.hpp"

#include <doctest/doctest.h>

using namespace score_fixture;

namespace {

constexpr std::string_view zone_key = "machine_in_tolerance_zone";
constexpr std::string_view clearance_key = "machine_without_clearance";

// The box reaches east to x = 15.4.
Score dug_near(const BuriedLine& line, DigMethod method = DigMethod::machine, double depth_m = 1.45,
               std::vector<Clue> clues = {}) {
    World world = yard();
    world.yard.lines = {line};
    world.yard.clues = std::move(clues);
    ExerciseState state = worked_well();
    state.notebook.dig = box(1.2, 0.8, depth_m, method);
    return scored(world, state);
}

BuriedLine unmarked(BuriedLine line, bool is_private) {
    line.paint_m.clear();
    line.is_private = is_private;
    return line;
}

} // namespace

TEST_CASE("the tolerance zone is half the line's width and 18 inches") {
    CHECK(Rubric{}.tolerance_zone_m == doctest::Approx(18 * 0.0254).epsilon(0.001)); // 0.4572 m
    // Width 0.05 m: 0.025 + 0.457 = 0.482 m from the box's edge at 15.4.
    const Score in = dug_near(line_north(15.4 + 0.481, 0.6));
    CHECK(safety(in, zone_key).failed);
    CHECK(in.lines_in_box.size() == 1);
    CHECK(in.dig_outcome == DigOutcome::on_the_pipe);
    CHECK(!in.passed);
    CHECK(in.dig_points == 0);
    const Score out = dug_near(line_north(15.4 + 0.483, 0.6));
    CHECK(!safety(out, zone_key).failed);
    CHECK(out.lines_in_box.empty());
    CHECK(out.passed);
}

TEST_CASE("the tolerance zone is a setting of the rubric") {
    World world = yard();
    world.rubric.tolerance_zone_m = 0.610; // 24 in
    world.yard.lines = {line_north(15.4 + 0.6, 0.6)};
    CHECK(safety(scored(world, worked_well()), zone_key).failed);
    world.rubric.tolerance_zone_m = 0.457;
    CHECK(!safety(scored(world, worked_well()), zone_key).failed);
}

TEST_CASE("hand and vacuum are allowed inside a tolerance zone, a box with no method said is not") {
    const BuriedLine line = line_north(15.6, 0.6);
    CHECK(!safety(dug_near(line, DigMethod::hand), zone_key).failed);
    CHECK(dug_near(line, DigMethod::hand).passed);
    CHECK(!safety(dug_near(line, DigMethod::vacuum), zone_key).failed);
    CHECK(safety(dug_near(line, DigMethod::machine), zone_key).failed);
    CHECK(safety(dug_near(line, DigMethod::none), zone_key).failed);
    CHECK(dug_near(line, DigMethod::hand).lines_in_box.size() == 1); // told all the same
}

TEST_CASE("a machine goes through a line in the box that lies above its bottom") {
    const Score through = dug_near(line_north(15.2, 0.602));
    CHECK(through.dig_outcome == DigOutcome::through_a_line);
    CHECK(through.line_hit == "the gas line of Vale Gas, 0.58 m down"); // its top: 0.602 less 0.025
    CHECK(safety(through, zone_key).failed);
    CHECK(!through.passed);
    // By hand it is exposed.
    const Score exposed = dug_near(line_north(15.2, 0.6), DigMethod::hand);
    CHECK(exposed.dig_outcome == DigOutcome::on_the_pipe);
    CHECK(!exposed.line_hit.empty());
    CHECK(exposed.passed);
    // A line whose top is deeper than the bottom is not met, though its zone still is.
    const Score under = dug_near(line_north(15.2, 1.476));
    CHECK(under.dig_outcome == DigOutcome::on_the_pipe);
    CHECK(under.line_hit.empty());
    CHECK(safety(under, zone_key).failed);
    CHECK(dug_near(line_north(15.2, 1.474)).dig_outcome == DigOutcome::through_a_line);
}

TEST_CASE("a line is met as wide as it is") {
    CHECK(dug_near(line_north(15.424, 0.6)).dig_outcome == DigOutcome::through_a_line); // edge at 15.399
    CHECK(dug_near(line_north(15.426, 0.6)).dig_outcome == DigOutcome::on_the_pipe);    // edge at 15.401
}

TEST_CASE("only the part of a falling line inside the box matters") {
    BuriedLine falling = line_north(15.0, 0.6);
    falling.points_m = {{0.0, 20.0, -0.2}, {30.0, 20.0, -3.2}}; // east-west, 1.70 m deep under the box
    falling.paint_m = {{0.0, 20.0}, {30.0, 20.0}};
    CHECK(dug_near(falling).dig_outcome == DigOutcome::on_the_pipe);
    falling.points_m = {{0.0, 20.0, -0.2}, {30.0, 20.0, -2.8}}; // 1.50 m in the middle, 1.465 at the west edge
    const Score s = dug_near(falling);
    CHECK(s.dig_outcome == DigOutcome::through_a_line);
    // 1.4653 at x = 14.6, less the radius 0.025; the part just outside is up to 2 mm shallower.
    CHECK(s.line_hit == "the gas line of Vale Gas, 1.44 m down");
}

TEST_CASE("a line past a corner of the box is not in it") {
    BuriedLine corner = line_north(0.0, 0.6);
    corner.width_m = 0.10;
    // At 45 deg past the corner (15.4, 20.6), its centre 0.06 m from it: 0.01 m clear.
    const glm::dvec2 middle = glm::dvec2{15.4, 20.6} + 0.06 * direction_of(45.0);
    const glm::dvec2 a = middle - 3.0 * direction_of(135.0);
    const glm::dvec2 b = middle + 3.0 * direction_of(135.0);
    corner.points_m = {{a.x, a.y, -0.6}, {b.x, b.y, -0.6}};
    CHECK(dug_near(corner).line_hit.empty());
    corner.width_m = 0.14;
    CHECK(!dug_near(corner).line_hit.empty());
}

TEST_CASE("where a line is painted the rule goes by the paint, and a strike by the line") {
    BuriedLine line = line_north(15.4 + 0.6, 0.6);
    for (glm::dvec2& p : line.paint_m) {
        p.x = 15.4 + 0.3; // painted 0.3 m too near
    }
    const Score near_paint = dug_near(line);
    CHECK(safety(near_paint, zone_key).failed);
    CHECK(near_paint.lines_in_box.size() == 1);
    for (glm::dvec2& p : line.paint_m) {
        p.x = 15.4 + 0.5; // outside the zone, while the line itself is inside it
    }
    for (glm::dvec3& p : line.points_m) {
        p.x = 15.4 + 0.2;
    }
    const Score near_line = dug_near(line);
    CHECK(!safety(near_line, zone_key).failed);
    CHECK(near_line.lines_in_box.size() == 1); // the truth is told
    for (glm::dvec3& p : line.points_m) {
        p.x = 15.3;
    }
    const Score struck = dug_near(line);
    CHECK(struck.dig_outcome == DigOutcome::through_a_line);
    CHECK(safety(struck, zone_key).failed);
}

TEST_CASE("an unmarked private line counts where it is, when something in the yard showed it") {
    const BuriedLine line = unmarked(line_north(15.6, 0.6, LineKind::electric, "Vale Power"), true);
    const Score without = dug_near(line);
    CHECK(!safety(without, zone_key).failed);
    CHECK(without.lines_in_box.size() == 1);
    CHECK(!safety(dug_near(line, DigMethod::machine, 1.45, {{ClueKind::gas_meter, {1.0, 1.0}}}), zone_key).failed);
    CHECK(safety(dug_near(line, DigMethod::machine, 1.45, {{ClueKind::lit_outbuilding, {1.0, 1.0}}}), zone_key).failed);
    // A strike is one, known or not.
    const Score struck = dug_near(unmarked(line_north(15.2, 0.6, LineKind::electric), true));
    CHECK(struck.dig_outcome == DigOutcome::through_a_line);
    CHECK(safety(struck, zone_key).failed);
    // An owner's line that is not marked yet is on the ticket: that was warning enough.
    CHECK(safety(dug_near(unmarked(line, false)), zone_key).failed);
}

TEST_CASE("a machine needs a cleared ticket, careful hand digging does not") {
    for (const TicketState ticket : {TicketState::requested, TicketState::cleared, TicketState::expired}) {
        for (const DigMethod method : {DigMethod::none, DigMethod::machine, DigMethod::hand, DigMethod::vacuum}) {
            World world = yard();
            world.sheet.ticket.state = ticket;
            ExerciseState state = worked_well();
            state.notebook.dig->method = method;
            const Score s = scored(world, state);
            const bool machine = method == DigMethod::none || method == DigMethod::machine;
            CHECK(safety(s, clearance_key).failed == (machine && ticket != TicketState::cleared));
            CHECK(s.passed == !safety(s, clearance_key).failed);
            CHECK((s.dig_points == 20) == s.passed);
        }
    }
}

TEST_CASE("without a dig no safety item fails") {
    World world = yard();
    world.sheet.ticket.state = TicketState::expired;
    world.yard.lines = {line_north(15.0, 0.3)};
    ExerciseState state = worked_well();
    state.notebook.dig.reset();
    const Score s = scored(world, state);
    CHECK(s.safety.size() == 2);
    CHECK(!safety(s, zone_key).failed);
    CHECK(!safety(s, clearance_key).failed);
}

TEST_CASE("a machine box drawn on a line fails safety even before it has a depth") {
    const Score drawn = dug_near(line_north(15.2, 0.6), DigMethod::machine, 0.0);
    CHECK(drawn.dig_outcome == DigOutcome::none);
    CHECK(safety(drawn, zone_key).judged);
    CHECK(safety(drawn, zone_key).failed);
    ExerciseState nothing = worked_well();
    nothing.notebook.dig.reset();
    CHECK_FALSE(safety(scored(yard(), nothing), zone_key).judged);
}
