// Keys that open a number: what is typed after them goes into it. And what the strip says of a call, a dig, a check.
#include "window_harness.hpp"

#include <fmt/format.h>
#include <imgui_internal.h>

#include <cmath>
#include <string_view>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;
using test::text_of_frame;

namespace {

bool says(Desk& desk, std::string_view words) { return text_of_frame(desk).find(words) != std::string::npos; }

void read_over_the_sonde(Desk& desk) {
    desk.walk_over_the_sonde();
    desk.press(SDLK_SPACE);
    desk.frames(90);
    desk.hold(SDLK_x, 120);
    desk.press(SDLK_3);
    desk.press(SDLK_r);
    REQUIRE(desk.state().notebook.readings.back().counts);
}

} // namespace

TEST_CASE("Digits typed straight after 6 are the depth, and drop no marks") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    read_over_the_sonde(desk);
    const field::Notebook& n = desk.state().notebook;
    const std::size_t marks = n.marks.size();
    desk.rattle("61.42");
    CHECK(says(desk, "The keys type the depth. Enter takes what stands there"));
    desk.enter();
    CHECK(n.depth_call_m == 1.42);
    CHECK(n.marks.size() == marks);
    CHECK_FALSE(n.dig.has_value());
    CHECK_FALSE(says(desk, "The keys type"));
    desk.press(SDLK_4); // the number is left: a mark again
    CHECK(n.marks.size() == marks + 1);
}

TEST_CASE("6 without digits calls the reading at the peak, by its name") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    read_over_the_sonde(desk);
    const field::Notebook& n = desk.state().notebook;
    const double at_the_peak_m = *n.readings[0].depth_m;
    desk.hold(SDLK_w, 60); // half a metre or more on, read once more
    desk.hold(SDLK_x, 120);
    desk.press(SDLK_r);
    REQUIRE(n.readings.size() == 2);
    REQUIRE(n.readings[1].depth_m != n.readings[0].depth_m);
    desk.press(SDLK_6);
    CHECK(n.depth_call_m == at_the_peak_m);
    desk.enter();
    CHECK(n.depth_call_m == at_the_peak_m);
    CHECK(says(desk, fmt::format("reading {}, at the peak", n.readings[0].id)));
}

TEST_CASE("With no reading that counts 6 calls nothing, leaves the number empty and says why") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_6);
    desk.frames(4);
    CHECK_FALSE(desk.state().notebook.depth_call_m.has_value());
    CHECK(says(desk, "no reading yet"));
    CHECK_FALSE(says(desk, "0.00"));
    desk.enter(); // nothing typed: nothing called, nothing wrong
    CHECK_FALSE(desk.state().notebook.depth_call_m.has_value());
    CHECK_FALSE(says(desk, "is no length"));
    desk.walk_over_the_sonde();
    desk.press(SDLK_r); // the tip is still carried
    CHECK(says(desk, "no reading that counts: the tip was 0.80 m up"));
}

TEST_CASE("After 7, 8, Y and 0 digits go into the number that is opened") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    read_over_the_sonde(desk);
    const field::Notebook& n = desk.state().notebook;
    const std::size_t marks = n.marks.size();
    desk.rattle("01.31");
    desk.enter();
    CHECK(n.depth_call_m == 1.31);
    desk.press(SDLK_7);
    desk.press(SDLK_7);
    desk.rattle("714");
    desk.enter();
    CHECK(n.tilt_call == field::TiltCall::tilted);
    CHECK(n.tilt_angle_call_deg == 14.0);
    desk.rattle("8123");
    desk.enter();
    CHECK(n.raised_heading_deg == 123.0);
    CHECK(n.tilt_angle_call_deg == 14.0);
    desk.press(SDLK_5);
    desk.rattle("y1.24");
    desk.enter();
    CHECK(n.dig->depth_m == 1.24);
    CHECK(n.marks.size() == marks);
}

TEST_CASE("T lifts, T again lowers, and both say so") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.walk_over_the_sonde();
    desk.press(SDLK_SPACE);
    desk.frames(90);
    CHECK(says(desk, "Lift 0.5 m"));
    desk.press(SDLK_t);
    desk.frames(90);
    CHECK(desk.app->session()->seen.tip_height_m == doctest::Approx(0.5));
    CHECK(says(desk, "Lower again"));
    desk.press(SDLK_t);
    desk.frames(90);
    CHECK(desk.app->session()->seen.tip_height_m < field::tip_down_m);
    CHECK(says(desk, "Lift 0.5 m"));
}

TEST_CASE("A deep dig box and a ticket that is not cleared are spoken of beside the numbers") {
    const Folder home;
    Desk desk(home.path(), "on-end"); // its ticket is only requested
    REQUIRE(desk.app->session()->setting.brief.sheet.ticket.state == field::TicketState::requested);
    desk.press(SDLK_5);
    CHECK(says(desk, "nobody digs yet, by hand either"));
    CHECK_FALSE(says(desk, "1.50 m deep"));
    desk.rattle("62.4"); // a depth call, for Y to work from
    desk.enter();
    desk.rattle("y1.5");
    desk.enter();
    REQUIRE(desk.state().notebook.dig->depth_m == 1.5);
    CHECK(says(desk, "1.50 m deep: from 1.5 m (5 ft) on, a protective system and a competent person"));
    desk.finish();
    CHECK(says(desk, "The hole is 1.50 m deep, 1.5 m (5 ft) or more")); // under SAFETY
    CHECK(says(desk, "The dig proposed here waits for that."));
}

TEST_CASE("What the truck check showed is said on the NEXT line for a while") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_o);
    desk.press(SDLK_c);
    desk.frames(2);
    const auto times = [&] {
        const std::string all = text_of_frame(desk);
        int n = 0;
        for (std::size_t at = all.find(": good."); at != std::string::npos; at = all.find(": good.", at + 1)) {
            ++n;
        }
        return n;
    };
    CHECK(times() == 2); // on the sheet and on the line
    desk.frames(600);
    CHECK(times() == 1);
}

TEST_CASE("O and C bring ticket and check to the top of what is seen of the sheet") {
    const Folder home;
    Desk desk(home.path(), "on-end", ImVec2(1024, 700));
    const auto scrolled_px = [&] {
        for (const ImGuiWindow* window : ImGui::GetCurrentContext()->Windows) {
            if (window->WasActive && std::string_view(window->Name).find("/sheet_") != std::string_view::npos) {
                return window->Scroll.y;
            }
        }
        return -1.0F;
    };
    CHECK(scrolled_px() == -1.0F); // folded in a window this narrow
    desk.press(SDLK_o);
    desk.frames(3);
    const float at_ticket = scrolled_px();
    CHECK(at_ticket > 2.0F * desk.app->theme().h);
    desk.press(SDLK_c);
    desk.frames(3);
    CHECK(scrolled_px() > at_ticket + 2.0F * desk.app->theme().h);
    desk.press(SDLK_o);
    desk.frames(3);
    CHECK(std::abs(scrolled_px() - at_ticket) < 0.2F * desk.app->theme().h);
    desk.hold(SDLK_w, 3); // asked once, it stays where one then scrolls to
    ui::Input down;
    down.held.push_back(SDLK_PAGEDOWN);
    down.ctrl = true;
    for (int i = 0; i < 20; ++i) {
        desk.frame(down);
    }
    CHECK(scrolled_px() > at_ticket);
}
