// What stands where: margins, sizes, lines of writing, and the plan's view.
#include "window_harness.hpp"

#include <fstream>
#include <iterator>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;

namespace {

// How far to the left anything of this child window reaches.
float leftmost_of(std::string_view child) {
    float left = 1e9F;
    const ImDrawData* data = ImGui::GetDrawData();
    for (int i = 0; i < data->CmdListsCount; ++i) {
        const ImDrawList& list = *data->CmdLists[i];
        if (std::string_view(list._OwnerName).find(child) != std::string_view::npos) {
            for (const ImDrawVert& v : list.VtxBuffer) {
                left = std::min(left, v.pos.x);
            }
        }
    }
    return left;
}

} // namespace

TEST_CASE("The debrief's words keep a margin at the left") {
    for (const ImVec2 size : {ImVec2(1366, 768), ImVec2(1024, 700)}) {
        const Folder home;
        Desk desk(home.path(), "level-lawn", size);
        desk.finish();
        const float left = leftmost_of("##debrief_text");
        CHECK(left >= 0.5F * desk.app->theme().h);
        CHECK(left < 3.0F * desk.app->theme().h);
    }
}

TEST_CASE("A larger window has larger writing and still more room, and a scale that was set multiplies it") {
    CHECK(growth_of_window({1366, 768}) == 1.0);
    CHECK(growth_of_window({1024, 700}) == 1.0); // laid out for it
    CHECK(growth_of_window({2732, 1536}) == doctest::Approx(1.26).epsilon(0.01));
    CHECK(growth_of_window({2732, 768}) == 1.0); // the smaller side counts
    const Folder home;
    Desk desk(home.path(), "level-lawn", ImVec2(2732, 1536));
    CHECK(desk.app->theme().h == 20.0F); // 16 times the cube root of 2
    desk.press(SDLK_PLUS, true);
    CHECK(desk.app->settings().scale == doctest::Approx(1.15));
    CHECK(desk.app->theme().h == 23.0F);
    desk.size = ImVec2(1366, 768);
    desk.frames(2);
    CHECK(desk.app->theme().h == 18.0F); // 16 times 1.15
    CHECK(desk.app->settings().scale == doctest::Approx(1.15));
}

TEST_CASE("A small window takes the writing down, so that no panel is cut off") {
    const Folder home;
    Desk desk(home.path(), "level-lawn", ImVec2(640, 480));
    CHECK(desk.app->theme().h <= 480.0F / 29.0F);
    CHECK(desk.app->theme().h <= 640.0F / 42.0F);
}

TEST_CASE("In the debrief keys zoom the plan, move it, show the whole yard and come back to what matters") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.finish();
    const PlanView& view = desk.app->session()->debrief_ui.view;
    const PlanView fitted = view;
    desk.press(SDLK_PAGEDOWN); // a small piece of ground is shown as near as the plan goes, so out first
    const double out = view.px_per_m;
    CHECK(out < fitted.px_per_m / 1.2);
    CHECK(glm::distance(view.centre_m, fitted.centre_m) < 1e-9);
    desk.press(SDLK_PAGEUP);
    CHECK(view.px_per_m > 1.2 * out);
    desk.press(SDLK_END);
    const double whole = view.px_per_m;
    CHECK(whole < fitted.px_per_m);
    const field::Brief& brief = desk.app->session()->setting.brief;
    CHECK(view.to_yard(view.origin).x < 0.0);
    CHECK(view.to_yard(ImVec2(view.origin.x + view.size.x, view.origin.y)).x > brief.width_m);
    desk.press(SDLK_PAGEDOWN);
    CHECK(view.px_per_m < whole);
    Input east;
    east.held = {SDLK_RIGHT};
    east.ctrl = true;
    const double before_m = view.centre_m.x;
    desk.frame(east, 0.05);
    CHECK(view.centre_m.x > before_m);
    desk.press(SDLK_HOME);
    CHECK(view.px_per_m == doctest::Approx(fitted.px_per_m));
    CHECK(view.centre_m == fitted.centre_m);
}

TEST_CASE("A click near a mark with the tip up chooses it, elsewhere and with the tip down it keeps the hand") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_1);
    const field::Mark mark = desk.state().notebook.marks.at(0);
    Input click;
    click.pointer = desk.app->session()->ui.view.to_screen(mark.place_m);
    click.left_clicked = true;
    desk.frame(click);
    CHECK(desk.app->session()->ui.selected_mark == mark.id);
    CHECK_FALSE(desk.app->session()->hand.held_still);
    desk.press(SDLK_n); // chosen no longer
    REQUIRE(desk.app->session()->ui.selected_mark == 0);
    desk.press(SDLK_SPACE);
    desk.frame(click);
    CHECK(desk.app->session()->ui.selected_mark == 0);
    CHECK(desk.app->session()->hand.held_still);
    CHECK(find_command("hold_hand")->help.find("chooses the mark") != std::string_view::npos);
}

TEST_CASE("No text is broken into lines by the library, which parts figures at their point") {
    const auto folder = std::filesystem::path(SONDEYARD_TEST_DATA).parent_path() / "ui" / "window";
    int files = 0;
    for (const auto& entry : std::filesystem::directory_iterator(folder)) {
        std::ifstream in(entry.path(), std::ios::binary);
        const std::string text{std::istreambuf_iterator<char>(in), {}};
        CAPTURE(entry.path().string());
        CHECK(text.find("TextWrap") == std::string::npos); // PushTextWrapPos and TextWrapped
        ++files;
    }
    CHECK(files > 30);
}
