#include "ui/window/debrief_page.hpp"

#include "ui/window/debrief_views.hpp"
#include "ui/window/drafting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace sondeyard::ui {

namespace {

constexpr auto views = std::to_array<DebriefViewInfo>({
    {DebriefView::result, "view_result", debrief_result},
    {DebriefView::coach, "view_coach", debrief_coach},
    {DebriefView::known, "view_known", debrief_known},
    {DebriefView::replay, "view_replay", debrief_replay},
});

// ---- First line: the hole

void draw_headline(const DebriefParts& page, float width) {
    ImFont* font =
        page.tight ? page.theme.text : page.theme.heading; // large type in a small window would leave too little below
    const float right = ImGui::GetCursorPosX() + width;
    const float left = ImGui::GetCursorPosX();
    const bool passed = page.test_passed.value_or(page.score.passed);
    const std::string points =
        page.test_passed ? std::string("small test") : fmt::format("{} of 100", page.score.points);
    const std::string_view verdict = passed ? "passed" : "not passed";
    const std::string hole = page.asked.dig ? page.debrief.hole
                             : page.judged.empty()
                                 ? std::string("The small test asked for no dig.")
                                 : std::string("The small test asked for no dig. What it asked for stands below.");
    const float points_width = text_size(font, points).x;
    const float verdict_width = text_size(page.theme.text, verdict).x;
    const float from = right - points_width - verdict_width - 2.0F * page.h();
    const ImVec2 top = ImGui::GetCursorPos();
    write(font, page.ink().ink, hole, from - page.h());
    const float bottom = ImGui::GetCursorPosY();
    ImGui::SetCursorPos({from + 0.5F * page.h(), top.y});
    write(font, page.ink().ink, points);
    const float drop = text_size(font, "0").y - text_size(page.theme.text, "0").y;
    ImGui::SetCursorPos({from + points_width + 1.4F * page.h(), top.y + 0.8F * drop});
    write(page.theme.text, passed ? page.ink().sewer : page.ink().warning, verdict);
    ImGui::SetCursorPos({left, std::max(bottom, ImGui::GetCursorPosY())});
}

// ---- The row of views: the one shown has a bar below it

void draw_views_row(const DebriefParts& page) {
    for (const DebriefViewInfo& info : views) {
        tab_button(page.theme, page.context, info.command, info.view == page.state.shown, page.requests);
        ImGui::SameLine(0.0F, 0.35F * page.h());
    }
    ImGui::NewLine();
}

// ---- Buttons

struct ButtonPlace {
    std::string_view id;
    std::optional<DebriefView> only_in; // empty: in every view
    bool may_go = false;                // beside the result, where there is little room: it has its key
};

constexpr auto button_places = std::to_array<ButtonPlace>({
    {"again_same", {}, true},
    {"again_new", {}, true},
    {"next_exercise", {}, true},
    {"save_picture", {}},
    {"reasons", DebriefView::result},
    {"lesson", DebriefView::result},
    {"signal_map", {}},
    {"field_lines", DebriefView::result},
    {"start_page", {}},
});

std::vector<PageButton> buttons_of(const DebriefState& state, const CommandContext& context, bool tight) {
    std::vector<PageButton> buttons;
    for (const ButtonPlace& place : button_places) {
        const bool goes = place.may_go && tight && state.shown != DebriefView::result;
        if (!goes && place.only_in.value_or(state.shown) == state.shown) {
            buttons.push_back({place.id, label_now(place.id, context)});
        }
    }
    for (PageButton& button : buttons) {
        if (button.id == "reasons") {
            button.label = state.reasons ? "Hide reasons" : "Show reasons";
        } else if (button.id == "field_lines") {
            button.label = state.lines_shown ? "Hide field lines" : "Field lines";
        }
    }
    return buttons;
}

} // namespace

std::span<const DebriefViewInfo> debrief_views() { return views; }

PlanView& shown_plan(DebriefState& state) {
    return state.shown == DebriefView::replay ? state.replay.view : state.view;
}

void debrief_page(const DebriefParts& parts, ImVec2 size) {
    DebriefParts page = parts;
    const float h = page.h();
    const Theme& theme = page.theme;
    const ImVec2 start = ImGui::GetCursorPos();
    const ImVec2 gap = ImGui::GetStyle().ItemSpacing;
    ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, ImVec2(gap.x, std::floor(0.12F * h)));
    page.tight = size.y < 34.0F * h;
    draw_headline(page, size.x);
    ImGui::SetCursorPosX(start.x);
    draw_views_row(page);
    ImGui::SetCursorPosX(start.x);
    const float top = ImGui::GetCursorPosY() - start.y;
    const std::vector<PageButton> buttons = buttons_of(page.state, page.context, page.tight);
    const float message_height = page.state.message.empty() ? 0.0F : 1.3F * h;
    const float foot =
        static_cast<float>(button_rows(page, buttons, size.x)) * button_row_h * h + message_height + 0.3F * h;
    const auto* const shown = std::ranges::find(views, page.state.shown, &DebriefViewInfo::view);
    shown->draw(page, {size.x, std::max(size.y - top - foot, 8.0F * h)});
    ImGui::SetCursorPos({start.x, start.y + size.y - foot + 0.1F * h});
    if (!page.state.message.empty()) {
        write(theme.note, theme.palette.ink, page.state.message, start.x + size.x);
        ImGui::SetCursorPos({start.x, start.y + size.y - foot + 0.1F * h + message_height});
    }
    draw_buttons(page, buttons, size.x);
    ImGui::PopStyleVar();
}

} // namespace sondeyard::ui
