// How one person gets on: errors and their trend, weak parts, what to practise next, every attempt.
#include "ui/window/drafting.hpp"
#include "ui/window/people_pages.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

constexpr std::size_t most_practice_rows = 6;

// ---- The graph ----

// Even steps of the share axis: at most five of them.
double share_step(double largest) {
    for (const double step : {0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0}) {
        if (largest <= 5.0 * step) {
            return step;
        }
    }
    return largest / 5.0;
}

// Error in plan as a share of the depth, attempt by attempt; the line is the trend where there is one to be told.
void error_graph(const Theme& theme, const ProgressFacts& facts, ImVec2 size) {
    const std::vector<double>& shares = facts.trend.share;
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const ImVec2 at = ImGui::GetCursorScreenPos();
    ImGui::Dummy(size);
    const double step = share_step(*std::ranges::max_element(shares));
    const int lines = std::max(1, static_cast<int>(std::ceil(*std::ranges::max_element(shares) / step - 1e-9)));
    const double top_share = step * lines;
    const float left = at.x + 3.2F * theme.h;
    const float right = at.x + size.x - 0.8F * theme.h;
    const float top = at.y + 0.6F * theme.h;
    const float bottom = at.y + size.y - 1.4F * theme.h;
    const auto y_of = [&](double share) {
        return bottom - static_cast<float>(std::clamp(share / top_share, 0.0, 1.0)) * (bottom - top);
    };
    const auto count = static_cast<float>(shares.size());
    const auto x_of = [&](std::size_t i) {
        return shares.size() == 1 ? 0.5F * (left + right)
                                  : left + (right - left) * static_cast<float>(i) / (count - 1.0F);
    };
    for (int k = 0; k <= lines; ++k) {
        const float y = std::round(y_of(step * k));
        list.AddLine(ImVec2(left, y), ImVec2(right, y), k == 0 ? p.quiet : p.grid);
        const std::string words = fmt::format("{:.0f} %", 100.0 * step * k);
        draw_text(list, theme.note, ImVec2(left - text_size(theme.note, words).x - 0.4F * theme.h, y - 0.45F * theme.h),
                  p.quiet, words);
    }
    if (facts.trend.trend) {
        const field::Trend& t = *facts.trend.trend;
        const double end = t.intercept + t.slope * static_cast<double>(shares.size() - 1);
        list.AddLine(ImVec2(x_of(0), y_of(t.intercept)), ImVec2(x_of(shares.size() - 1), y_of(end)), p.survey, 2.0F);
    }
    for (std::size_t i = 0; i < shares.size(); ++i) {
        const ImVec2 point(x_of(i), y_of(shares[i]));
        const bool passed = facts.rows[facts.attempts - 1 - facts.trend.attempt[i]].passed;
        const float r = 0.22F * theme.h;
        if (passed) {
            list.AddCircleFilled(point, r, p.sewer, 12);
        } else {
            list.AddCircle(point, r, p.ink, 12, 1.5F);
        }
    }
    const std::string first = fmt::format("attempt {}", facts.trend.attempt.front() + 1);
    const std::string last = fmt::format("{}", facts.trend.attempt.back() + 1);
    draw_text(list, theme.note, ImVec2(left, bottom + 0.3F * theme.h), p.quiet, first);
    if (shares.size() > 1) {
        draw_text(list, theme.note, ImVec2(right - text_size(theme.note, last).x, bottom + 0.3F * theme.h), p.quiet,
                  last);
    }
}

// ---- The parts of the page ----

void delete_question(const Theme& theme, const ProgressFacts& facts, const CommandContext& context,
                     const ProgressUi& ui, Requests& requests) {
    heading(theme, fmt::format("Delete {}?", facts.person));
    ImGui::PushStyleColor(ImGuiCol_Text, theme.palette.warning);
    wrapped(fmt::format("The name and {} attempt{} go for good{}. This cannot be undone.", facts.attempts,
                        facts.attempts == 1 ? "" : "s",
                        ui.logs_too ? ", their work logs with them; a CSV that was written stays"
                                    : "; their work logs stay, and a CSV that was written"));
    ImGui::PopStyleColor();
    command_button(theme, context, "confirm_delete", requests);
    ImGui::SameLine(0, 0.5F * theme.h);
    command_button(theme, context, "delete_logs", requests, ui.logs_too ? "Keep the logs" : "Logs too");
    ImGui::SameLine(0, 0.5F * theme.h);
    command_button(theme, context, "go_back", requests);
    rule(theme);
}

void errors_part(const Theme& theme, const ProgressFacts& facts, float wide) {
    heading(theme, "Errors over time");
    if (!facts.trend.share.empty()) {
        error_graph(theme, facts, ImVec2(wide, 9.5F * theme.h));
        note_text(theme,
                  facts.trend.trend
                      ? "Error in plan in % of the depth. Full dot: passed. Ring: not passed. Line: trend."
                      : "Error in plan in % of the depth. Full dot: passed. Ring: not passed.",
                  theme.palette.quiet);
    }
    wrapped(field::sentence_of(facts.trend));
    gap(theme, 0.4F);
    heading(theme, "Parts");
    for (const std::string& sentence : facts.weak) {
        wrapped(sentence);
    }
    if (facts.streak >= 2) {
        gap(theme, 0.3F);
        note_text(theme, fmt::format("{} days of practice in a row.", facts.streak), theme.palette.quiet);
    }
}

void practice_part(const Theme& theme, const ProgressFacts& facts, const CommandContext& context, float wide,
                   ProgressUi& ui, Requests& requests) {
    heading(theme, "Next to practise");
    const std::size_t shown = std::min(facts.practise.size(), most_practice_rows);
    for (std::size_t i = 0; i < shown; ++i) {
        const ImVec2 at = ImGui::GetCursorScreenPos();
        const ImVec2 size(wide, std::round(1.9F * theme.h));
        ImGui::PushID(static_cast<int>(i));
        if (ImGui::InvisibleButton("##practise", size)) {
            ui.begin = static_cast<int>(i);
        }
        ImGui::PopID();
        ImDrawList& list = *ImGui::GetWindowDrawList();
        if (ImGui::IsItemHovered()) {
            list.AddRectFilled(at, ImVec2(at.x + size.x, at.y + size.y), theme.palette.panel);
            ImGui::SetTooltip("A click begins it.");
        }
        draw_text(list, theme.text, ImVec2(at.x, at.y), theme.palette.ink, facts.titles[i]);
        draw_text(list, theme.note, ImVec2(at.x, at.y + 1.0F * theme.h), theme.palette.quiet,
                  field::reason_of(facts.practise[i]));
    }
    if (shown > 0) {
        command_button(theme, context, "practise", requests);
    }
}

void attempts_part(const Theme& theme, const ProgressFacts& facts, float wide, ProgressUi& ui) {
    heading(theme, fmt::format("Attempts: {}", facts.attempts));
    if (facts.rows.empty()) {
        note_text(theme, "None yet.", theme.palette.quiet);
    }
    const Palette& p = theme.palette;
    const ImVec2 size(wide, std::round(2.35F * theme.h));
    for (std::size_t i = 0; i < facts.rows.size(); ++i) {
        const ProgressFacts::Row& row = facts.rows[i];
        const ImVec2 at = ImGui::GetCursorScreenPos();
        ImGui::PushID(static_cast<int>(1000 + i));
        if (ImGui::InvisibleButton("##attempt", size)) {
            ui.selected = static_cast<int>(i);
            ui.open = static_cast<int>(i);
        }
        ImGui::PopID();
        const bool selected = static_cast<int>(i) == ui.selected;
        if (selected && ui.bring_into_view) {
            ImGui::SetScrollHereY(0.5F);
        }
        if (!ImGui::IsItemVisible()) {
            continue;
        }
        ImDrawList& list = *ImGui::GetWindowDrawList();
        const ImVec2 end(at.x + size.x, at.y + size.y);
        if (selected || ImGui::IsItemHovered()) {
            list.AddRectFilled(at, end, p.panel);
        }
        if (selected) {
            list.AddRectFilled(at, ImVec2(at.x + 0.25F * theme.h, end.y), p.survey);
        }
        list.AddLine(ImVec2(at.x, end.y), end, p.grid);
        const float x = at.x + 0.6F * theme.h;
        const float result_x = end.x - text_size(theme.text, row.result).x - 0.5F * theme.h;
        list.PushClipRect(at, ImVec2(result_x - 0.4F * theme.h, end.y), true);
        draw_text(list, theme.text, ImVec2(x, at.y + 0.1F * theme.h), p.ink, row.title);
        list.PopClipRect();
        draw_text(list, theme.text, ImVec2(result_x, at.y + 0.1F * theme.h), row.passed ? p.sewer : p.ink, row.result);
        draw_text(list, theme.note, ImVec2(x, at.y + 1.25F * theme.h), p.quiet,
                  fmt::format("{}{}{}", row.date, row.errors, row.has_log ? "" : "  no log"));
    }
    ui.bring_into_view = false;
}

} // namespace

void progress_page(const Theme& theme, const Area& area, const ProgressFacts& facts, const CommandContext& context,
                   float scroll, ProgressUi& ui, Requests& requests) {
    const float h = theme.h;
    const bool two = area.size.x > 62.0F * h;
    const float left_wide = two ? std::round(0.55F * area.size.x) : area.size.x;
    {
        const Panel panel("progress",
                          {area.origin, ImVec2(left_wide, two ? area.size.y : std::round(0.6F * area.size.y))});
        scroll_by(scroll);
        if (!ui.message.empty()) {
            note_text(theme, ui.message, theme.palette.warning);
        }
        if (ui.delete_asked) {
            delete_question(theme, facts, context, ui, requests);
        }
        const float wide = ImGui::GetContentRegionAvail().x;
        errors_part(theme, facts, wide);
        gap(theme, 0.4F);
        practice_part(theme, facts, context, wide, ui, requests);
        gap(theme, 0.5F);
        command_button(theme, context, "export_csv", requests);
        ImGui::SameLine(0, 0.5F * h);
        command_button(theme, context, "delete_person", requests);
        note_text(theme, "A record of practice. It licenses nobody.", theme.palette.quiet);
    }
    const ImVec2 origin = two ? ImVec2(area.origin.x + left_wide, area.origin.y)
                              : ImVec2(area.origin.x, area.origin.y + std::round(0.6F * area.size.y));
    const Area rest{origin, ImVec2(area.origin.x + area.size.x - origin.x, area.origin.y + area.size.y - origin.y)};
    {
        const Panel panel("attempts", rest);
        attempts_part(theme, facts, ImGui::GetContentRegionAvail().x, ui);
    }
    ImDrawList& list = *ImGui::GetWindowDrawList();
    list.AddLine(origin,
                 two ? ImVec2(origin.x, area.origin.y + area.size.y) : ImVec2(area.origin.x + area.size.x, origin.y),
                 theme.palette.grid);
}

} // namespace sondeyard::ui
