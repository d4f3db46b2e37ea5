// The ground's shape on the plan and in the section.
#include "tests/ui/plan_fixture.hpp"

#include <algorithm>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

field::World shaped_yard() {
    field::World world = test::yard_with_drain();
    field::Terrain& terrain = world.yard.terrain;
    terrain.slope_percent = 8.0;
    terrain.slope_toward_deg = 180.0;
    terrain.zero_m = field::plan(world.sonde.position_m);
    return world;
}

void draw(test::Frame& frame, const field::World& world) {
    const field::Brief brief = field::brief_of(world);
    const PlanView view = test::view_of(30.0, 36.0, {800, 600});
    PlanContent content;
    content.brief = &brief;
    frame.draw([&](ImDrawList& list) { draw_plan(list, frame.theme, view, content); });
}

// Pixels of the surface's thick line: (x, y) of vertices in the drawing's ink, leftmost and rightmost.
std::pair<ImVec2, ImVec2> ends_of_surface(test::Frame& frame, const field::World& world) {
    const field::Setting setting(world);
    const field::Notebook notebook;
    frame.draw([&](ImDrawList& list) {
        draw_section(list, frame.theme, {0, 0}, {800, 600}, setting, notebook, field::Score{});
    });
    ImVec2 left{1e9F, 0};
    ImVec2 right{-1e9F, 0};
    for (const ImDrawVert& v : frame.vertices) {
        if (v.col != frame.theme.palette.ink || v.pos.y > 500.0F) {
            continue;
        }
        left = v.pos.x < left.x ? v.pos : left;
        right = v.pos.x > right.x ? v.pos : right;
    }
    return {left, right};
}

} // namespace

TEST_CASE("sloping ground brings contours and their figures to the plan, flat ground nothing") {
    test::Frame flat;
    test::Frame again;
    test::Frame sloped;
    draw(flat, test::yard_with_drain());
    field::World moved = test::yard_with_drain();
    moved.yard.terrain.zero_m = {3.0, 4.0}; // flat wherever it is counted from
    draw(again, moved);
    draw(sloped, shaped_yard());
    CHECK(flat.same_as(again));
    CHECK(sloped.vertices.size() > flat.vertices.size());
    CHECK(sloped.all_finite());
}

TEST_CASE("the plan does not tell where the heights of the truth are counted from") {
    test::Frame here;
    test::Frame there;
    draw(here, shaped_yard());
    field::World world = shaped_yard();
    world.yard.terrain.zero_m = {1.0, 1.0};
    draw(there, world);
    REQUIRE(here.vertices.size() == there.vertices.size());
    float worst = 0.0F;
    for (std::size_t i = 0; i < here.vertices.size(); ++i) {
        worst = std::max({worst, std::abs(here.vertices[i].pos.x - there.vertices[i].pos.x),
                          std::abs(here.vertices[i].pos.y - there.vertices[i].pos.y)});
    }
    CHECK(worst < 0.01F);
}

TEST_CASE("walls, kerbs, banks and slabs are drawn at any zoom") {
    for (const double ramp : {0.0, 0.4, 5.0}) {
        for (const double rise : {-1.5, 0.1, 2.0}) {
            field::World world = shaped_yard();
            world.yard.terrain.steps = {{{15.0, 18.0}, 20.0, rise, ramp}};
            world.yard.terrain.pads = {{{{2, 5}, {6, 5}, {6, 9}, {2, 9}}, 0.2}};
            const field::Brief brief = field::brief_of(world);
            PlanContent content;
            content.brief = &brief;
            for (const double px_per_m : {4.0, 20.0, 100.0}) {
                test::Frame frame;
                PlanView view = test::view_of(30.0, 36.0, {800, 600});
                view.centre_m = {15.0, 18.0};
                view.px_per_m = px_per_m;
                frame.draw([&](ImDrawList& list) { draw_plan(list, frame.theme, view, content); });
                CHECK(frame.all_finite());
                CHECK(frame.vertices.size() > 500);
                CHECK(frame.vertices.size() < 150000);
            }
        }
    }
}

TEST_CASE("the section's surface falls with the ground") {
    // The run goes south past the sonde, as the ground falls: downstream, to the right, is lower.
    test::Frame level;
    const auto [level_left, level_right] = ends_of_surface(level, test::yard_with_drain());
    CHECK(std::abs(level_left.y - level_right.y) < 4.0F);
    test::Frame sloped;
    const auto [left, right] = ends_of_surface(sloped, shaped_yard());
    CHECK(sloped.all_finite());
    CHECK(right.x - left.x > 300.0F);
    CHECK(right.y - left.y > 10.0F); // 8 % of what is shown
    CHECK((right.y - left.y) / (right.x - left.x) == doctest::Approx(0.08).epsilon(0.15));
}

TEST_CASE("a section with a hole on a step, a deep call and a mark far up the bank stays in order") {
    field::World world = shaped_yard();
    world.yard.terrain.steps = {{{15.0, 11.4}, 0.0, 2.5, 1.0}};
    world.yard.terrain.pads = {{{{12, 10}, {14, 10}, {14, 11}, {12, 11}}, 0.3}};
    field::Notebook notebook = test::worked_notebook();
    notebook.marks.back().place_m = {13.0, 14.0};
    notebook.depth_call_m = 6.0;
    const field::Setting setting(world);
    test::Frame frame;
    frame.draw([&](ImDrawList& list) {
        draw_section(list, frame.theme, {0, 0}, {800, 600}, setting, notebook, field::Score{});
    });
    CHECK(frame.all_finite());
    CHECK(frame.vertices.size() > 500);
}
