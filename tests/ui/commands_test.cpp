#include "ui/window/commands.hpp"
#include "window_harness.hpp"

#include <set>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

// Contexts that occur: every page, and every question and state on the exercise page.
std::vector<CommandContext> contexts() {
    std::vector<CommandContext> all;
    for (const Page page : {Page::start, Page::exercise, Page::debrief, Page::people, Page::progress}) {
        for (int bits = 0; bits < 64; ++bits) {
            CommandContext c;
            c.page = page;
            c.has_dial = c.reads_depth = (bits & 1) != 0;
            c.turns_coil = !c.has_dial;
            c.has_wide = (bits & 2) == 0;
            c.finish_asked = (bits & 2) != 0;
            c.leave_asked = (bits & 4) != 0 && !c.finish_asked;
            c.form_open = (bits & 8) != 0;
            c.has_marks = c.mark_selected = c.has_readings = (bits & 16) != 0;
            c.delete_asked = (bits & 4) != 0;
            c.has_person = (bits & 1) != 0;
            c.has_dig = c.can_undo = c.has_next = (bits & 32) != 0;
            if (page == Page::debrief) {
                c.view = static_cast<DebriefView>(bits % 4);
            }
            all.push_back(c);
        }
    }
    return all;
}

bool escape_closes_something(const CommandContext& c) { return c.finish_asked || c.leave_asked || c.form_open; }

} // namespace

TEST_CASE("Every command has an id of its own, a label, a key and a help sentence") {
    std::set<std::string_view> ids;
    for (const CommandInfo& info : command_table()) {
        CAPTURE(info.id);
        CHECK(ids.insert(info.id).second);
        CHECK_FALSE(info.label.empty());
        CHECK_FALSE(info.key_text.empty());
        CHECK(info.help.ends_with("."));
        CHECK_FALSE(info.group.empty());
        CHECK(info.chords[0].key != 0);
    }
    CHECK(ids.size() > 60);
}

TEST_CASE("No key means two things at once") {
    for (const CommandContext& c : contexts()) {
        for (const CommandInfo& a : command_table()) {
            for (const CommandInfo& b : command_table()) {
                if (&a >= &b || !a.enabled(c) || !b.enabled(c)) {
                    continue;
                }
                for (const Chord& chord : a.chords) {
                    if (chord.key == 0 || (chord.key == SDLK_ESCAPE && escape_closes_something(c))) {
                        continue; // Escape goes back first; the table's order says so
                    }
                    INFO(a.id, " and ", b.id, " on page ", name_of(c.page));
                    CHECK(std::ranges::find(b.chords, chord) == b.chords.end());
                }
            }
        }
    }
}

TEST_CASE("Escape closes the question or the form before it leaves the exercise") {
    CommandContext c;
    c.page = Page::exercise;
    REQUIRE(command_of({SDLK_ESCAPE, false}, c) != nullptr);
    CHECK(command_of({SDLK_ESCAPE, false}, c)->id == "start_page");
    c.form_open = true;
    CHECK(command_of({SDLK_ESCAPE, false}, c)->id == "go_back");
    c.form_open = false;
    c.finish_asked = true;
    CHECK(command_of({SDLK_ESCAPE, false}, c)->id == "go_back");
    CHECK(command_of({SDLK_RETURN, false}, c)->id == "confirm_finish");
}

TEST_CASE("While the strip asks, no work is done by a key") {
    CommandContext c;
    c.page = Page::exercise;
    c.finish_asked = true;
    for (const int key : {SDLK_1, SDLK_r, SDLK_SPACE, SDLK_5}) {
        CHECK(command_of({key, false}, c) == nullptr);
    }
}

TEST_CASE("A single coil has no depth reading and a coil to turn") {
    CommandContext c;
    c.page = Page::exercise;
    c.has_dial = c.reads_depth = false;
    c.turns_coil = true;
    CHECK_FALSE(enabled("read_depth", c));
    CHECK(enabled("coil", c));
    c.has_dial = c.reads_depth = true;
    c.turns_coil = false;
    CHECK(enabled("read_depth", c));
    CHECK_FALSE(enabled("coil", c));
}

TEST_CASE("The hints of the guide name commands that exist") {
    for (const std::string_view id :
         {"read_ticket", "truck_check", "frequency_next", "toggle_height", "mark_plumb", "mark_level", "mark_peak",
          "mark_locate", "read_depth", "plumb_mast", "half_round", "quarter_round", "lift", "call_depth", "call_tilt",
          "dig_box", "coil", "finish"}) {
        CAPTURE(id);
        CHECK(find_command(id) != nullptr);
    }
}

TEST_CASE("A click on a command's button asks for it, and for nothing when it is not enabled") {
    for (const bool in_exercise : {true, false}) {
        test::Context imgui;
        Theme theme;
        std::string why_not;
        REQUIRE(load_theme(theme, ThemeChoice::day, 16.0F, why_not));
        test::Context::build_fonts();
        CommandContext c;
        c.page = in_exercise ? Page::exercise : Page::start;
        Requests requests;
        ImVec2 middle;
        const auto frame = [&] {
            ImGui::NewFrame();
            ImGui::SetNextWindowPos(ImVec2(0, 0));
            ImGui::Begin("w");
            command_button(theme, c, "mark_plumb", requests);
            const ImVec2 low = ImGui::GetItemRectMin();
            const ImVec2 high = ImGui::GetItemRectMax();
            middle = ImVec2((low.x + high.x) / 2, (low.y + high.y) / 2);
            ImGui::End();
            ImGui::Render();
        };
        frame();
        ImGui::GetIO().MousePos = middle;
        frame();
        ImGui::GetIO().MouseDown[0] = true;
        frame();
        ImGui::GetIO().MouseDown[0] = false;
        frame();
        CHECK(requests.commands ==
              (in_exercise ? std::vector<std::string_view>{"mark_plumb"} : std::vector<std::string_view>{}));
    }
}
