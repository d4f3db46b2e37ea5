// What a trainee must not see is not drawn: two worlds that differ only below the ground give the same picture to the
// byte.
#include "plan_fixture.hpp"

#include <algorithm>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

void draw(test::Frame& frame, const field::Setting& setting, double px_per_m, bool with_truth) {
    const field::Notebook notebook = test::worked_notebook();
    std::vector<field::TrailPoint> trail;
    trail.reserve(400);
    for (int k = 0; k < 400; ++k) {
        trail.push_back({6 * k, {15.0 + std::sin(0.1 * k), 14.0 - 0.008 * k}, 0.5, 50.0});
    }
    field::Observation seen;
    seen.feet_m = {13.5, 10.2};
    seen.tip_m = {13.1, 10.9};
    PlanView view = test::view_of(30.0, 36.0, {800, 600});
    if (px_per_m > 0.0) {
        view.centre_m = {13.0, 11.0};
        view.px_per_m = px_per_m;
    }
    PlanContent content;
    content.brief = &setting.brief;
    content.notebook = &notebook;
    content.trail = trail;
    content.seen = &seen;
    content.truth = with_truth ? &setting : nullptr;
    frame.draw([&](ImDrawList& list) { draw_plan(list, frame.theme, view, content); });
}

// Everything hidden is different: run, sonde, frequency, moment, private line, true place of the marked line, habits,
// seed.
field::World other_truth() {
    field::World world = test::yard_with_drain();
    world.seed = 999;
    world.run->centreline_m = {{11, 21, -0.5}, {25, 15, -0.8}, {25, 2, -0.9}};
    world.run->inside_diameter_m = 0.15;
    world.sonde = {32768.0, 0.4, {25.0, 12.0, -0.85}, 33.0, 41.0};
    world.yard.lines[0].points_m = {{19.8, 0, -1.7}, {19.9, 22, -1.6}};
    world.yard.lines[1].points_m = {{1, 6, -0.9}, {29, 31, -0.2}};
    world.yard.lines.push_back({field::LineKind::water, "private", {{3, 3, -1.0}, {9, 30, -1.0}}, 0.1, true, {}});
    world.habits = {8.0, 120.0};
    return world;
}

} // namespace

TEST_CASE("without the truth the plan is the same to the byte whatever lies under the ground") {
    const field::Setting one(test::yard_with_drain());
    const field::Setting other(other_truth());
    for (const double px_per_m : {0.0, 30.0, 95.0}) {
        test::Frame first;
        test::Frame second;
        draw(first, one, px_per_m, false);
        draw(second, other, px_per_m, false);
        CHECK(first.vertices.size() > 500);
        CHECK(first.same_as(second));
    }
}

TEST_CASE("with the truth the two worlds look different") {
    const field::Setting one(test::yard_with_drain());
    const field::Setting other(other_truth());
    test::Frame first;
    test::Frame second;
    test::Frame bare;
    draw(first, one, 30.0, true);
    draw(second, other, 30.0, true);
    draw(bare, one, 30.0, false);
    CHECK_FALSE(first.same_as(second));
    CHECK_FALSE(first.same_as(bare));
}

TEST_CASE("what anyone sees does change the plan") {
    const field::Setting one(test::yard_with_drain());
    field::World moved = test::yard_with_drain();
    moved.yard.lines[0].paint_m[0].x += 0.3;
    const field::Setting other(moved);
    test::Frame first;
    test::Frame second;
    draw(first, one, 0.0, false);
    draw(second, other, 0.0, false);
    CHECK_FALSE(first.same_as(second));
}

TEST_CASE("plan and section of every kind of sonde are drawn with finite numbers") {
    for (const double fall_deg : {0.0, 2.0, 35.0}) {
        for (const bool run : {true, false}) {
            for (const bool worked : {true, false}) {
                field::World world = test::yard_with_drain(fall_deg);
                if (!run) {
                    world.run.reset();
                    world.sonde.tilt_deg = fall_deg > 10.0 ? 90.0 : -fall_deg;
                }
                const field::Setting setting(world);
                field::ExerciseState state = field::start(setting);
                if (worked) {
                    state.notebook = test::worked_notebook();
                }
                const field::Score score = field::score(setting, state);
                test::Frame frame;
                const PlanView view = test::view_of(30.0, 36.0, {400, 600});
                frame.draw([&](ImDrawList& list) {
                    draw_plan(
                        list, frame.theme, view,
                        {.brief = &setting.brief, .notebook = &state.notebook, .truth = &setting, .score = &score});
                    const SectionField lines = section_field_of(setting, state.notebook, score);
                    draw_section(list, frame.theme, {0, 300}, {400, 300}, setting, state.notebook, score, &lines);
                    draw_section(list, frame.theme, {400, 0}, {400, 300}, setting, state.notebook, score);
                    draw_section(list, frame.theme, {400, 300}, {90, 70}, setting, state.notebook, score);
                    draw_thumbnail(list, frame.theme, {500, 400}, {90, 70}, setting.brief);
                });
                CHECK(frame.vertices.size() > 500);
                CHECK(frame.all_finite());
            }
        }
    }
}

TEST_CASE("where the cable had been moved plan and section show the sonde at the stop and as it was marked") {
    const field::Setting setting(test::yard_with_drain());
    REQUIRE(setting.cable.has_run);
    field::ExerciseState state = field::start(setting);
    state.notebook = test::worked_notebook();
    const field::Score still = field::score(setting, state);
    CHECK_FALSE(located_apart(still.located));
    state.cable.moves = {{0, {}}, {1, {-1.5, -1.5}}};
    for (field::Mark& mark : state.notebook.marks) {
        mark.tick = 2;
    }
    const field::Score pulled = field::score(setting, state);
    REQUIRE(located_apart(pulled.located));
    const PlanExtent extent = debrief_extent(setting, state.notebook, &pulled);
    for (const glm::dvec3& p : {setting.world.sonde.position_m, pulled.located.then.position_m}) {
        CHECK(p.x > extent.low_m.x);
        CHECK(p.y > extent.low_m.y);
        CHECK(p.x < extent.high_m.x);
        CHECK(p.y < extent.high_m.y);
    }
    test::Frame one;
    test::Frame two;
    for (const auto& [frame, score] : {std::pair{&one, &still}, std::pair{&two, &pulled}}) {
        PlanView view;
        view.size = ImVec2(400, 300);
        view.fit(extent.low_m, extent.high_m);
        PlanContent content;
        content.brief = &setting.brief;
        content.notebook = &state.notebook;
        content.truth = &setting;
        content.score = score;
        frame->draw([&](ImDrawList& list) {
            draw_plan(list, frame->theme, view, content);
            draw_section(list, frame->theme, {400, 0}, {400, 300}, setting, state.notebook, *score);
        });
        CHECK(frame->all_finite());
    }
    CHECK_FALSE(one.same_as(two));
}

TEST_CASE("the debrief's first view holds sonde, locate and dig box") {
    const field::Setting setting(test::yard_with_drain());
    field::Notebook notebook = test::worked_notebook();
    notebook.marks.back().place_m = {17.0, 19.0};
    const PlanExtent extent = debrief_extent(setting, notebook);
    const auto holds = [&](const glm::dvec2& p) {
        return p.x > extent.low_m.x && p.y > extent.low_m.y && p.x < extent.high_m.x && p.y < extent.high_m.y;
    };
    CHECK(holds(field::plan(setting.world.sonde.position_m)));
    CHECK(holds({17.0, 19.0}));
    CHECK(holds(notebook.dig->centre_m));
    CHECK(extent.high_m.x - extent.low_m.x >= 3.0);
}

TEST_CASE("a long trail is thinned and still reaches where the tip is") {
    const field::Setting setting(test::yard_with_drain());
    std::vector<field::TrailPoint> trail; // an hour at ten points a second
    trail.reserve(36001);
    for (int k = 0; k < 36000; ++k) {
        trail.push_back({6 * k, {15.0 + 8.0 * std::sin(0.7 * k), 14.0 + 8.0 * std::cos(0.31 * k)}, 0.5, 50.0});
    }
    trail.push_back({216000, {3.0, 30.0}, 0.0, 50.0});
    test::Frame frame;
    const PlanView view = test::view_of(30.0, 36.0, {800, 600});
    frame.draw(
        [&](ImDrawList& list) { draw_plan(list, frame.theme, view, {.brief = &setting.brief, .trail = trail}); });
    const ImVec2 end = view.to_screen({3.0, 30.0});
    const bool reached = std::any_of(frame.vertices.begin(), frame.vertices.end(), [&](const ImDrawVert& v) {
        return std::abs(v.pos.x - end.x) < 3.0F && std::abs(v.pos.y - end.y) < 3.0F;
    });
    CHECK(reached);
    CHECK(frame.all_finite());
}
