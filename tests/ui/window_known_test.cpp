// The debrief's view "What could be known", by keys..
#include "ui/window/debrief_views.hpp"
#include "window_harness.hpp"

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;

TEST_CASE("Debrief: key 3 shows what could be known, worked out once; without any sounding it says so") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.walk_over_the_sonde();
    desk.press(SDLK_SPACE);
    desk.frames(120);
    desk.press(SDLK_4);
    desk.press(SDLK_6);
    desk.enter();
    desk.press(SDLK_RETURN);
    desk.press(SDLK_RETURN);
    REQUIRE(desk.app->page() == Page::debrief);
    CHECK_FALSE(desk.app->session()->debrief_ui.known);
    desk.press(SDLK_3);
    const auto known = desk.app->session()->debrief_ui.known;
    REQUIRE(known);
    CHECK(known->any);
    CHECK(known->bound.known);
    CHECK(known->fit.found);
    desk.frames(3);
    CHECK(desk.app->session()->debrief_ui.known == known);
    desk.press(SDLK_1);
    CHECK(desk.app->session()->debrief_ui.shown == DebriefView::result);
}
