#include "ui/window/start_page.hpp"

#include "ui/window/drafting.hpp"
#include "ui/window/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

int next_to_do(const std::vector<CourseRow>& rows, const std::vector<Result>& results) {
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const bool passed =
            std::ranges::any_of(results, [&](const Result& r) { return r.exercise == rows[i].name && r.passed; });
        if (!passed) {
            return static_cast<int>(i);
        }
    }
    return std::max(0, static_cast<int>(rows.size()) - 1);
}

namespace {

void words_at(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words, float right) {
    const ImVec4 clip(at.x, at.y, right, at.y + 2 * font->FontSize);
    list.AddText(font, font->FontSize, at, colour, words.data(), words.data() + words.size(), 0.0F, &clip);
}

// Best result and its date, ending at `end`. Returns where it begins.
float result_of(const Theme& theme, ImVec2 end, const Result* best) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const std::string points = best == nullptr ? std::string() : fmt::format("{} of 100", best->points);
    const std::string words = best == nullptr
                                  ? std::string("not done yet")
                                  : fmt::format("{}, {}", best->passed ? "passed" : "not passed yet", best->date);
    const float words_x = end.x - size_of(theme.note, words).x;
    text_at(list, theme.note, ImVec2(words_x, end.y + 0.25F * theme.h), p.quiet, words);
    const float points_x = words_x - (points.empty() ? 0.0F : size_of(theme.heading, points).x + 0.6F * theme.h);
    text_at(list, theme.heading, ImVec2(points_x, end.y), best != nullptr && best->passed ? p.sewer : p.ink, points);
    return points_x;
}

void row_of(const Theme& theme, ImVec2 at, ImVec2 size, const CourseRow& row, std::size_t number,
            const std::vector<Result>& results, bool selected) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const float h = theme.h;
    if (selected) {
        list.AddRectFilled(at, ImVec2(at.x + size.x, at.y + size.y), p.panel);
        list.AddRectFilled(at, ImVec2(at.x + 0.3F * h, at.y + size.y), p.survey);
    }
    list.AddLine(ImVec2(at.x, at.y + size.y), ImVec2(at.x + size.x, at.y + size.y), p.grid);
    const ImVec2 small(6.2F * h, size.y - 0.6F * h);
    const ImVec2 small_at(at.x + 0.9F * h, at.y + 0.3F * h);
    if (row.brief) {
        draw_thumbnail(list, theme, small_at, small, *row.brief);
    } else {
        list.AddRect(small_at, ImVec2(small_at.x + small.x, small_at.y + small.y), p.grid);
    }
    const float text_x = small_at.x + small.x + h;
    const float right = at.x + size.x - 0.75F * h;
    const float result_x = result_of(theme, ImVec2(right, at.y + 0.45F * h), best_result(results, row.name));
    words_at(list, theme.heading, ImVec2(text_x, at.y + 0.45F * h), p.ink, fmt::format("{}  {}", number + 1, row.title),
             result_x - h);
    const bool trouble = !row.trouble.empty();
    words_at(list, theme.text, ImVec2(text_x, at.y + 1.95F * h), trouble ? p.warning : p.ink,
             trouble ? row.trouble : in_units(theme, row.story), right);
    if (!row.news.empty()) {
        const std::string news = fmt::format("New: {}", in_units(theme, row.news));
        float y = at.y + 3.2F * h;
        for (const std::string_view line : wrapped(theme.note, news, right - text_x)) {
            draw_text(list, theme.note, ImVec2(text_x, y), p.quiet, line);
            y += theme.note->FontSize;
        }
    }
}

} // namespace

void start_tabs(const Theme& theme, const CommandContext& context, bool newcomer, Requests& requests) {
    tab_button(theme, context, "show_lessons", context.lists_lessons, requests);
    ImGui::SameLine(0.0F, 0.4F * theme.h);
    tab_button(theme, context, "show_exercises", !context.lists_lessons, requests);
    if (newcomer && context.lists_lessons) {
        ImGui::PushStyleColor(ImGuiCol_Text, theme.palette.survey);
        wrapped("New here? Begin with lesson 1: Enter.");
        ImGui::PopStyleColor();
    }
    note_text(theme, "Up and Down choose, Enter begins. A click begins too.", theme.palette.quiet);
}

void start_page(const Theme& theme, const Area& area, const std::vector<CourseRow>& rows,
                const std::vector<Result>& results, const CommandContext& context, std::string_view message,
                StartUi& ui, Requests& requests) {
    const Panel panel("rows", area);
    const float h = theme.h;
    if (!message.empty()) {
        note_text(theme, message, theme.palette.warning);
    }
    start_tabs(theme, context, ui.newcomer, requests);
    const float wide = ImGui::GetContentRegionAvail().x;
    const ImVec2 size(wide, std::round((wide > 62.0F * h ? 4.7F : 5.6F) * h)); // a narrow row's last line wraps
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const ImVec2 at = ImGui::GetCursorScreenPos();
        ImGui::PushID(static_cast<int>(i));
        if (ImGui::InvisibleButton("##row", size)) {
            ui.selected = static_cast<int>(i);
            ui.begin = static_cast<int>(i);
        }
        ImGui::PopID();
        if (ImGui::IsItemHovered()) {
            ImGui::GetWindowDrawList()->AddRectFilled(at, ImVec2(at.x + size.x, at.y + size.y), theme.palette.panel);
        }
        const bool selected = static_cast<int>(i) == ui.selected;
        if (selected && ui.bring_into_view) {
            ImGui::SetScrollHereY(0.5F);
        }
        if (ImGui::IsItemVisible()) {
            row_of(theme, at, size, rows[i], i, results, selected);
        }
    }
    ui.bring_into_view = false;
}

} // namespace sondeyard::ui
