// The views of the debrief, and what they share. Each is one function in a file of its own that draws into the area
// whose top left is the current cursor position and whose size (pixels) it is given; headline, row of views and buttons
// below are the page's. To add one: its function here, its row in the table of debrief_page.cpp, its key in the table
// of commands.
#pragma once

#include "ui/window/debrief_page.hpp"

#include <span>
#include <string>
#include <string_view>

namespace sondeyard::ui {

void debrief_result(const DebriefParts& page, ImVec2 size);
void debrief_coach(const DebriefParts& page, ImVec2 size);
void debrief_known(const DebriefParts& page, ImVec2 size);
void debrief_replay(const DebriefParts& page, ImVec2 size);

// ---- The row of views ----

struct DebriefViewInfo {
    DebriefView view;
    std::string_view command; // its id; label and key stand in the table of commands
    void (*draw)(const DebriefParts& parts, ImVec2 size);
};
std::span<const DebriefViewInfo> debrief_views();

// ---- What the views share ----

// Text at the cursor, broken into lines that end at wrap_to_x (window coordinates) when it is given; the cursor goes
// below.
void write(ImFont* font, ImU32 colour, std::string_view words, float wrap_to_x = 0.0F);
void debrief_heading(const DebriefParts& page, std::string_view words); // small and quiet, with a little room above

// A drawn tick, cross or dash: the word beside it says the same.
enum class Sign { good, bad, none };
void draw_sign(ImDrawList& list, const DebriefParts& page, ImVec2 centre, Sign sign);

// The arrow keys turn the child window that is being drawn, so that it can be read without a mouse; by so many pixels.
void scroll_by_keys(float line);

std::string clock_text(std::int64_t tick); // minutes:seconds since the start

// Plumb points, level line and peak as they really are, of the sonde that the locate is scored against: what the plan's
// `points` want. Found once, in some milliseconds.
const field::TruePoints& true_points_of(const DebriefParts& page);
// A row of buttons, or as many rows as this width takes; at the cursor.
struct PageButton {
    std::string_view id;    // of the command
    std::string_view label; // instead of the table's
};
inline constexpr float button_row_h = 1.9F; // of a row, in heights of text
int button_rows(const DebriefParts& page, std::span<const PageButton> buttons, float width);
void draw_buttons(const DebriefParts& page, std::span<const PageButton> buttons, float width);

// What a plan of the debrief is given: the work as it was finished; and what was true, over the map that is asked for.
PlanContent finished_work(const DebriefParts& page);
void add_truth(const DebriefParts& page, PlanContent& content);

// Wheel and drag at a plan of this place (pixels) move the view; true when they did. It takes the pointer there.
bool touch_plan(const char* id, PlanView& view, ImVec2 origin, ImVec2 size);

// Takes wheel and drag of the plan at this place (pixels) into state.view; fits it to what matters when it was not
// placed yet or its size has changed. Before draw_plan.
void work_plan(const DebriefParts& page, ImVec2 origin, ImVec2 size);

} // namespace sondeyard::ui
