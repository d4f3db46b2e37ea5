// The coach's view: questions first, then the findings, by keys alone; nothing of it stands in the way.
#include "ui/window/debrief_views.hpp"
#include "window_harness.hpp"

#include <glm/geometric.hpp>

#include <algorithm>

using namespace sondeyard;
using namespace sondeyard::test;
using namespace sondeyard::ui;

namespace {

// Over the sonde with the tip held out: all marks in one place, one reading, no call.
void work_badly(Desk& desk) {
    desk.walk_over_the_sonde();
    for (const int key : {SDLK_1, SDLK_3, SDLK_4, SDLK_r, SDLK_RETURN, SDLK_RETURN}) {
        desk.press(key);
    }
    desk.frames(3);
    REQUIRE(desk.app->page() == Page::debrief);
}

const CoachState& coach_of(const Desk& desk) { return desk.app->session()->debrief_ui.coach; }

} // namespace

TEST_CASE("The coach asks, shows the answer, and then lists what was found") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    work_badly(desk);
    CHECK(coach_of(desk).findings.size() >= 2); // worked out for the attempt that is kept
    desk.press(SDLK_2);
    const CoachState& coach = coach_of(desk);
    REQUIRE(coach.findings.size() >= 2);
    CHECK(coach.open());
    for (std::size_t i = 0; i < coach.questions(); ++i) {
        CAPTURE(i);
        CHECK(coach.at == i);
        REQUIRE(coach.open());
        CHECK_FALSE(enabled("coach_moment", desk.app->context()));
        for (std::size_t k = 0; k < coach.findings[i].question.right; ++k) {
            desk.press(SDLK_DOWN);
        }
        desk.press(SDLK_RETURN);
        CHECK(coach.asks());
        CHECK(coach.answers[i] == coach.findings[i].question.right);
        desk.press(SDLK_RETURN);
    }
    CHECK_FALSE(coach.asks());
    CHECK(coach.chosen == 0);
    for (std::size_t i = 0; i < coach.findings.size() + 3; ++i) {
        desk.press(SDLK_DOWN);
    }
    CHECK(coach.chosen == coach.listed() - 1); // stops at the end
    desk.press(SDLK_UP);
    CHECK(coach.chosen == coach.listed() - 2);
    desk.press(SDLK_k); // and back to the questions, with their answers
    CHECK(coach.at == 0);
    CHECK_FALSE(coach.open());
}

TEST_CASE("The coach's questions can be skipped, and a finding leads to its moment in the replay") {
    const Folder home;
    Desk desk(home.path(), "level-lawn", ImVec2(1024, 700));
    work_badly(desk);
    desk.press(SDLK_2);
    desk.press(SDLK_k);
    const DebriefState& ui = desk.app->session()->debrief_ui;
    CHECK_FALSE(ui.coach.asks());
    for (const auto& answer : ui.coach.answers) {
        CHECK_FALSE(answer);
    }
    REQUIRE(ui.coach.shown() != nullptr);
    while (!ui.coach.shown()->place_m) { // what was left out has none
        const field::Finding* before = ui.coach.shown();
        desk.press(SDLK_DOWN);
        REQUIRE(ui.coach.shown() != before);
    }
    const field::Finding* shown = ui.coach.shown();
    REQUIRE(shown->tick);
    CHECK(enabled("coach_moment", desk.app->context()));
    const glm::dvec2 place_m = *shown->place_m;
    desk.press(SDLK_g);
    for (int i = 0; i < 600 && ui.wish_place_m; ++i) {
        desk.frames(1);
    }
    // Two depths on every side of the place.
    const PlanView& view = ui.replay.view;
    const double seen_m = std::min(view.size.x, view.size.y) / view.px_per_m;
    CHECK_FALSE(ui.wish_place_m);
    CHECK(glm::distance(view.centre_m, place_m) < 0.05);
    CHECK(seen_m == doctest::Approx(4.0 * desk.app->session()->score->true_depth_m / 0.88).epsilon(0.02));
    REQUIRE(ui.shown == DebriefView::replay);
    desk.frames(2);
    REQUIRE(ui.replay.model);
    CHECK(ui.replay.model->tick() == *shown->tick); // at that very moment, standing still
    CHECK_FALSE(ui.replay.playing);
    CHECK(*shown->tick < ui.replay.model->last_tick());
    desk.press(SDLK_2); // and from another finding to its own
    desk.press(SDLK_DOWN);
    const field::Finding* other = ui.coach.shown();
    REQUIRE(other != nullptr);
    REQUIRE(other != shown);
    if (other->tick) {
        desk.press(SDLK_g);
        desk.frames(2);
        CHECK(ui.shown == DebriefView::replay);
        CHECK(ui.replay.model->tick() == *other->tick);
    }
    desk.press(SDLK_1);
    CHECK(ui.shown == DebriefView::result);
}

TEST_CASE("The coach's steps stop at the ends, with nothing found too") {
    CoachState none;
    coach_step(none, 1);
    coach_answer(none);
    coach_skip(none);
    CHECK(none.shown() == nullptr);
    CHECK_FALSE(none.asks());
    CoachState one;
    one.findings.resize(1);
    one.findings[0].points = 20.0;
    one.findings[0].question = {"?", {"a", "b", "c"}, 1};
    REQUIRE(one.open());
    coach_step(one, -1);
    CHECK(one.option == 0);
    for (int i = 0; i < 5; ++i) {
        coach_step(one, 1);
    }
    CHECK(one.option == 2);
    coach_answer(one);
    CHECK(one.answers[0] == 2);
    CHECK(one.shown() == &one.findings[0]);
    coach_answer(one);
    CHECK_FALSE(one.asks());
}
