// The tilt worksheet in the window: filled from the notebook, corrected by keyboard, taken as calls.
#include "field/geometry.hpp"
#include "field/tilt_fix.hpp"
#include "window_harness.hpp"

#include <cmath>
#include <fstream>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;

namespace {

// A bare lawn with a sonde that is tilted by 20 deg.
std::string tilted_lawn(const Folder& home) {
    const auto file = home.path() / "tilted.toml";
    std::ofstream(file) << "format = 1\ntitle = \"Tilted\"\n[yard]\nlayout = \"empty_lawn\"\nline_count = 0\n"
                           "[sonde]\nposition_m = [15.0, 15.0]\ndepth_m = 1.5\nheading_deg = 40.0\ntilt_deg = 20.0\n";
    return file.string();
}

void go_and_mark(Desk& desk, const glm::dvec2& place_m, int key) {
    desk.point_at(place_m, 900);
    desk.press(key);
    desk.frames(4);
}

// Marks plumb points and peak and reads the depth, where they are in truth.
void work_the_track(Desk& desk) {
    const field::World& world = desk.app->session()->setting.world;
    const glm::dvec2 sonde_m = field::plan(world.sonde.position_m);
    const double tilt_deg = world.sonde.tilt_deg;
    const double antenna_m = field::depth_m(world) + world.receiver.tip_to_antenna_m;
    const glm::dvec2 raised = -field::direction_of(world.sonde.heading_deg);
    const field::TrackPlaces places = field::places_on_track(tilt_deg);
    desk.press(SDLK_SPACE);
    go_and_mark(desk, sonde_m + places.plumb_weak * antenna_m * raised, SDLK_1);
    go_and_mark(desk, sonde_m + field::total_peak_on_track(tilt_deg) * antenna_m * raised, SDLK_3);
    desk.hold(SDLK_x, 300);
    desk.press(SDLK_r);
    desk.frames(4);
    go_and_mark(desk, sonde_m + places.plumb_strong * antenna_m * raised, SDLK_1);
}

} // namespace

TEST_CASE("The worksheet fills itself from the notebook and is taken as calls, by keys alone") {
    const Folder home;
    Desk desk(home.path(), tilted_lawn(home));
    const field::World& world = desk.app->session()->setting.world;
    work_the_track(desk);
    desk.press(SDLK_F10);
    CHECK(desk.app->left(desk.size) == LeftPanel::worksheet);
    const Worksheet& w = desk.app->session()->ui.worksheet;
    REQUIRE(w.fix);
    INFO("trust " << name_of(w.fix->trust) << ", tilt " << w.fix->tilt_deg.value << " for " << world.sonde.tilt_deg);
    CHECK(trusted(w.fix->trust));
    CHECK(std::abs(w.fix->tilt_deg.value - std::abs(world.sonde.tilt_deg)) < 3.0);
    REQUIRE(desk.app->context().has_tilt_calls);
    desk.press(SDLK_F11);
    desk.frames(4);
    const field::Notebook& notebook = desk.state().notebook;
    CHECK(notebook.tilt_call == field::TiltCall::tilted);
    REQUIRE(notebook.depth_call_m);
    CHECK(std::abs(*notebook.depth_call_m - field::depth_m(world)) < 0.1);
    CHECK(notebook.tilt_angle_call_deg == std::round(w.fix->tilt_deg.value));
    CHECK(std::abs(std::remainder(notebook.raised_heading_deg - world.sonde.heading_deg - 180.0, 360.0)) < 3.0);
    desk.press(SDLK_F10);
    CHECK(desk.app->left(desk.size) != LeftPanel::worksheet);
}

TEST_CASE("A number typed over counts, nonsense says what is allowed, and the notebook's can be had back") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    const Worksheet& w = desk.app->session()->ui.worksheet;
    desk.press(SDLK_F10, true);
    CHECK(desk.app->left(desk.size) == LeftPanel::worksheet);
    CHECK_FALSE(w.fix);
    CHECK_FALSE(desk.app->context().has_tilt_calls);
    desk.type("7ft 2in");
    REQUIRE(w.numbers[Worksheet::spacing].typed);
    CHECK(*w.numbers[Worksheet::spacing].typed == doctest::Approx(2.1844));
    desk.press(SDLK_F10, true);
    desk.type("two");
    CHECK_FALSE(w.numbers[Worksheet::spacing].typed);
    CHECK(w.numbers[Worksheet::spacing].trouble.find("allowed: 1.6 m") != std::string::npos);
    desk.press(SDLK_F11, true);
    CHECK(w.numbers[Worksheet::spacing].trouble.empty());
    desk.press(SDLK_F12);
    CHECK(w.stronger == field::PlumbSide::a);
    desk.press(SDLK_F12);
    CHECK(w.stronger == field::PlumbSide::b);
}

TEST_CASE("How sure he is of spacing and depth is typed, and has a default that is shown") {
    const Folder home;
    Desk desk(home.path(), tilted_lawn(home));
    work_the_track(desk);
    desk.press(SDLK_F10);
    const Worksheet& w = desk.app->session()->ui.worksheet;
    REQUIRE(w.fix);
    const double usual_m = spacing_sd_m(*w.input);
    CHECK(usual_m == doctest::Approx(1.4142 * 0.03 * w.input->depth_m).epsilon(1e-3));
    CHECK(field::parse_length(w.numbers[Worksheet::spacing_sd].text.data()).value_or(0.0) ==
          doctest::Approx(usual_m).epsilon(0.1)); // in whole centimetres
    CHECK(field::parse_length(w.numbers[Worksheet::depth_sd].text.data()).value_or(0.0) > 0.0);
    const field::TiltFix usual = *w.fix;
    const auto go_to = [&](int line) { // with Tab, from the first number
        desk.press(SDLK_F10, true);
        desk.frames(2);
        ImGuiIO& io = ImGui::GetIO();
        for (int i = 0; i < line; ++i) {
            io.KeysDown[io.KeyMap[ImGuiKey_Tab]] = true;
            desk.frame();
            io.KeysDown[io.KeyMap[ImGuiKey_Tab]] = false;
            desk.frames(2);
        }
    };
    go_to(Worksheet::spacing_sd);
    desk.type("30 cm");
    REQUIRE(w.numbers[Worksheet::spacing_sd].typed);
    CHECK(spacing_sd_m(*w.input) == doctest::Approx(0.3));
    CHECK(w.fix->from_a_m.high - w.fix->from_a_m.low > 1.5 * (usual.from_a_m.high - usual.from_a_m.low));
    go_to(Worksheet::depth_sd);
    desk.type("8 in");
    CHECK(depth_sd_m(*w.input) == doctest::Approx(0.2032));
    CHECK(w.fix->depth_m.high - w.fix->depth_m.low > usual.depth_m.high - usual.depth_m.low);
    desk.press(SDLK_F11, true); // the usual again
    CHECK(w.fix->tilt_deg.high == usual.tilt_deg.high);
}

TEST_CASE("The worksheet has no place outside an exercise, and nothing in it is over the plan") {
    const Folder home;
    Desk desk(home.path(), "level-lawn", ImVec2(1024, 700));
    desk.press(SDLK_F10);
    const Layout layout = lay_out(desk.app->theme(), desk.size, desk.app->left(desk.size), desk.app->context());
    CHECK(layout.left.size.x <= 0.4F * desk.size.x);
    CHECK(layout.plan.origin.x >= layout.left.origin.x + layout.left.size.x - 1.0F);
    desk.press(SDLK_RETURN);
    desk.press(SDLK_RETURN);
    desk.frames(3);
    REQUIRE(desk.app->page() == Page::debrief);
    CHECK(desk.app->left(desk.size) == LeftPanel::folded);
}
