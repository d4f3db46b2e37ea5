// The cable hand at the window: keys, step, job sheet, refusals.
#include "window_harness.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;

TEST_CASE("The cable hand is asked by keys, by the step chosen, and a refusal is shown until the next command") {
    const Folder home;
    Desk desk(home.path(), "two-percent");
    const auto& session = *desk.app->session();
    REQUIRE(session.seen.counter_m);
    const double stop_m = *session.seen.counter_m;
    desk.press(SDLK_F6);
    desk.frames(3);
    CHECK(session.seen.cable_moving);
    desk.press(SDLK_F7); // while it moves
    desk.frames(2);
    CHECK(session.note.find("still moving") != std::string::npos);
    desk.frames(260); // 1 m at 0.25 m/s
    CHECK_FALSE(session.seen.cable_moving);
    CHECK(*session.seen.counter_m == doctest::Approx(stop_m - 1.0));
    for (const double step_m : {3.0, 0.1, 0.5, 1.0, 3.0, 0.1}) {
        desk.press(SDLK_F8);
        CHECK(session.ui.cable_step_m == step_m);
    }
    desk.press(SDLK_F7);
    desk.frames(40);
    CHECK(*session.seen.counter_m == doctest::Approx(stop_m - 0.9));
    CHECK(session.note.empty());
}

TEST_CASE("Without a counter on the job sheet there is nobody to ask") {
    CommandContext c;
    c.page = Page::exercise;
    for (const char* id : {"pull_back", "push_on", "cable_step"}) {
        c.has_cable = true;
        CHECK(enabled(id, c));
        c.has_cable = false;
        CHECK_FALSE(enabled(id, c));
    }
}
