// Metres or feet and inches in the window: the setting, what is written on the sheets, what may be typed.
#include "ui/window/plan.hpp"
#include "window_harness.hpp"

#include <algorithm>
#include <charconv>
#include <regex>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;
using test::text_of_frame;

namespace {

std::string metric_in(const std::string& text) {
    static const std::regex length(R"((\d ?(m|cm|mm|m2|m3)\b.{0,20})|(.{0,20}[Mm]etres?\b)|(\{[^}]*\}))");
    std::smatch found;
    return std::regex_search(text, found, length) ? found.str() : std::string();
}

} // namespace

TEST_CASE("The units are a setting with a key, kept for the next start") {
    const Folder home;
    {
        Desk desk(home.path(), "level-lawn");
        CHECK(desk.app->settings().units == field::Units::metric);
        desk.press(SDLK_u, true);
        CHECK(desk.app->settings().units == field::Units::feet);
        CHECK(desk.app->theme().units == field::Units::feet);
    }
    Desk again(home.path(), "level-lawn");
    CHECK(again.app->theme().units == field::Units::feet);
    AppOptions options = test::options_in(home.path(), "level-lawn");
    options.units = field::Units::metric; // the command line comes first, and is not kept
    Desk asked(options);
    CHECK(asked.app->theme().units == field::Units::metric);
    CHECK(asked.app->settings().units == field::Units::feet);
}

TEST_CASE("With feet set the sheets, help and settings write no metres") {
    const Folder home;
    for (const char* scenario : {"level-lawn", "two-pipes", "single-coil"}) {
        CAPTURE(scenario);
        Desk desk(home.path(), scenario, ImVec2(1366, 20000)); // tall: everything is in sight
        if (desk.app->theme().units == field::Units::metric) {
            CHECK(metric_in(text_of_frame(desk)) != "");
            desk.press(SDLK_u, true);
        }
        const std::string sheet = text_of_frame(desk);
        CHECK(sheet.find("Pipe's top") != std::string::npos);
        CHECK(metric_in(sheet) == "");
        desk.press(SDLK_c);
        desk.frames(3);
        CHECK(metric_in(text_of_frame(desk)) == "");
        desk.press(SDLK_F1);
        const std::string help = text_of_frame(desk);
        CHECK(help.find("A locate in three parts") != std::string::npos);
        CHECK(metric_in(std::regex_replace(help, std::regex("Metres or feet|between metres and feet"), "")) == "");
        desk.press(SDLK_F1);
        desk.finish();
        CHECK(metric_in(desk.app->session()->debrief->hole) == "");
        CHECK(text_of_frame(desk).find("true peak") != std::string::npos); // on the plan
        for (const int view : {SDLK_1, SDLK_2, SDLK_3, SDLK_4}) {
            desk.press(view);
            CAPTURE(static_cast<int>(desk.app->session()->debrief_ui.shown));
            CHECK(metric_in(text_of_frame(desk)) == "");
        }
        desk.press(SDLK_u, true); // and back: said anew
        CHECK(metric_in(text_of_frame(desk)) != "");
        const auto& notes = desk.app->session()->debrief->notes;
        CHECK(std::ranges::any_of(notes, [](const std::string& note) { return metric_in(note) != ""; }));
        desk.press(SDLK_u, true);
        CHECK(std::ranges::none_of(desk.app->session()->debrief->notes,
                                   [](const std::string& note) { return metric_in(note) != ""; }));
    }
}

TEST_CASE("Lengths are typed in either system") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.hold(SDLK_w, 5);
    const auto call = [&](const char* text) {
        desk.press(SDLK_0); // the form opens with the keyboard in the depth call
        desk.type(text);
        desk.frames(3);
        desk.press(SDLK_ESCAPE);
        return desk.state().notebook.depth_call_m.value_or(-1.0);
    };
    CHECK(call("1.6") == doctest::Approx(1.6));
    CHECK(call("5 ft 3 in") == doctest::Approx(1.6).epsilon(1e-3));
    CHECK(call("150cm") == doctest::Approx(1.5));
    CHECK(call("deep") == doctest::Approx(1.5)); // refused, and said
    CHECK(desk.app->session()->ui.form.trouble.find("\"deep\" is no length. Allowed: 1.6 m, 160 cm") == 0);
    desk.press(SDLK_u, true);
    CHECK(call("5' 6\"") == doctest::Approx(1.676).epsilon(1e-3));
    CHECK(call("4.5") == doctest::Approx(1.372).epsilon(1e-3)); // a number alone is in feet now
    CHECK(call("1.2 m") == doctest::Approx(1.2));
}

TEST_CASE("In feet the scale bar is as long as its label says, and the cable goes in feet") {
    for (int step = 0; step < 48; ++step) {
        const double px_per_m = 4.0 * std::pow(1.07, step);
        const ScaleBar bar = scale_bar(px_per_m, 180.0F, field::Units::feet);
        CAPTURE(bar.label);
        const std::optional<double> metres = field::parse_length(bar.label);
        REQUIRE(metres.has_value());
        CHECK(bar.px == doctest::Approx(*metres * px_per_m));
        CHECK(bar.px <= 180.0F);
        CHECK(bar.px > 60.0F);
    }
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_u, true);
    CHECK(desk.app->session()->ui.cable_step_m == doctest::Approx(0.9144));
    desk.press(SDLK_F8);
    CHECK(desk.app->session()->ui.cable_step_m == doctest::Approx(2.7432));
}
