// How a lesson looks: its list on the start page, its steps beside the plan, and its result.
#include "ui/window/drafting.hpp"
#include "ui/window/lesson_run.hpp"
#include "ui/window/start_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

enum class StepState { done, due, to_come };

// One step: the word that says how it stands, its text, and the hint while it is due.
void step_row(const Theme& theme, std::size_t number, const field::CourseStep& step, StepState state, bool with_hint,
              field::Units units) {
    const Palette& p = theme.palette;
    const float h = theme.h;
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float wide = ImGui::GetContentRegionAvail().x;
    const bool due = state == StepState::due;
    const float indent = 2.9F * h;
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const std::string_view word = state == StepState::done ? "done" : due ? "now" : "";
    draw_text(list, theme.note, ImVec2(at.x + 0.35F * h, at.y), due ? p.survey : p.quiet,
              fmt::format("{}", number + 1));
    draw_text(list, theme.note, ImVec2(at.x + 0.35F * h, at.y + theme.note->FontSize), due ? p.survey : p.sewer, word);
    float y = at.y;
    const auto lines = [&](ImFont* font, ImU32 colour, std::string_view text) {
        for (const std::string_view line : wrapped(font, text, wide - indent)) {
            draw_text(list, font, ImVec2(at.x + indent, y), colour, line);
            y += font->FontSize;
        }
    };
    lines(due ? theme.text : theme.note, due ? p.ink : p.quiet, field::in_units(step.text, units));
    if (due && with_hint && !step.hint.empty()) {
        y += 0.2F * h;
        lines(theme.note, p.quiet, field::in_units(step.hint, units));
    }
    y = std::max(y, at.y + 2.0F * theme.note->FontSize);
    if (due) {
        list.AddRectFilled(at, ImVec2(at.x + 0.2F * h, y), p.survey);
    }
    ImGui::Dummy(ImVec2(wide, y - at.y + 0.45F * h));
    // Brought into sight once, when it becomes due: whoever scrolls then is left alone.
    ImGuiStorage& kept = *ImGui::GetStateStorage();
    const ImGuiID key = ImGui::GetID("due");
    const int shown = static_cast<int>(number) + 1;
    if (due && kept.GetInt(key, 1) != shown) {
        kept.SetInt(key, shown);
        ImGui::SetScrollHereY(shown == 1 ? 1.0F : 0.6F);
    }
}

void guided_steps(const Theme& theme, const LessonRun& run, field::Units units) {
    const field::CourseLesson& lesson = run.lesson();
    const std::size_t step = run.work.step;
    if (field::steps_done(lesson, run.work)) {
        wrapped("All steps are done. The test begins in a moment: another yard, and no help.");
        gap(theme, 0.5F);
    }
    if (run.guidance() == field::Guidance::goal) {
        wrapped(fmt::format("{} of {} steps done.", step, lesson.steps.size()));
        note_text(theme, "You have passed this lesson before: the steps are yours to remember.", theme.palette.quiet);
        return;
    }
    for (std::size_t i = 0; i < lesson.steps.size(); ++i) {
        step_row(theme, i, lesson.steps[i],
                 i < step    ? StepState::done
                 : i == step ? StepState::due
                             : StepState::to_come,
                 run.guidance() == field::Guidance::full, units);
    }
}

} // namespace

void lesson_panel(const Theme& theme, const Area& area, const LessonRun& run, field::Units units, float scroll) {
    const Panel panel("lesson", area);
    scroll_by(scroll);
    const field::CourseLesson& lesson = run.lesson();
    heading(theme, lesson.title);
    wrapped(field::in_units(lesson.goal, units));
    gap(theme, 0.3F);
    if (run.test) {
        rule(theme);
        heading(theme, "Test: now without help");
        wrapped(field::in_units(lesson.test.task, units));
        gap(theme, 0.3F);
        note_text(theme, "Finish with Enter when you are done.", theme.palette.quiet);
        return;
    }
    note_text(theme, field::in_units(lesson.fact, units), theme.palette.quiet);
    rule(theme);
    guided_steps(theme, run, units);
}

// ---- The list ----

namespace {

void list_row(const Theme& theme, ImVec2 at, ImVec2 size, const LessonRow& row, std::size_t number,
              field::Units units) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const float h = theme.h;
    const std::string word = row.passes == 1  ? std::string("passed")
                             : row.passes > 1 ? fmt::format("passed {} times", row.passes)
                             : row.tried      ? std::string("not passed yet")
                                              : std::string("not done yet");
    const float left = at.x + 0.9F * h;
    const float right = at.x + size.x - 0.75F * h;
    draw_text(list, theme.note, ImVec2(right - text_size(theme.note, word).x, at.y + 0.5F * h),
              row.passes > 0 ? p.sewer : p.quiet, word);
    draw_text(list, theme.heading, ImVec2(left, at.y + 0.3F * h), p.ink, fmt::format("{}  {}", number + 1, row.title));
    draw_lines(list, theme.note, ImVec2(left, at.y + 1.75F * h), p.quiet, field::in_units(row.goal, units),
               right - left);
}

} // namespace

void lesson_list(const Theme& theme, const Area& area, const std::vector<LessonRow>& rows, field::Units units,
                 const CommandContext& context, std::string_view message, StartUi& ui, Requests& requests) {
    start_list(theme, area, "lessons", context, message, rows.size(), row_height(theme, area, 3.0F, 3.9F), ui, requests,
               [&](ImVec2 at, ImVec2 size, std::size_t i) { list_row(theme, at, size, rows[i], i, units); });
}

// ---- The result ----

namespace {

void judgement_row(const Theme& theme, const field::Requirement& r, float wide, field::Units units) {
    const Palette& p = theme.palette;
    const float h = theme.h;
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const ImVec2 at = ImGui::GetCursorScreenPos();
    draw_text(list, theme.text, at, r.met ? p.sewer : p.warning, r.met ? "ok" : "no");
    float y = at.y;
    const std::string text = field::in_units(
        fmt::format("{}: {}", r.what,
                    r.met || r.needed == "done" ? r.found : fmt::format("{}. Needed: {}", r.found, r.needed)),
        units);
    for (const std::string_view line : wrapped(theme.text, text, wide - 2.5F * h)) {
        draw_text(list, theme.text, ImVec2(at.x + 2.5F * h, y), p.ink, line);
        y += theme.text->FontSize;
    }
    ImGui::Dummy(ImVec2(wide, y - at.y + 0.35F * h));
}

} // namespace

void lesson_result_page(const Theme& theme, const Area& area, const LessonRun& run, field::Units units,
                        const CommandContext& context, std::string_view message, Requests& requests) {
    static constexpr std::array<std::string_view, 5> buttons = {"next_lesson", "lesson_test", "lesson_again",
                                                                "lesson_debrief", "start_page"};
    const Panel panel("lesson result", area);
    const float wide = std::min(ImGui::GetContentRegionAvail().x, 46.0F * theme.h);
    gap(theme, 0.5F);
    heading(theme, run.passed ? "Passed" : run.test ? "Not passed yet" : "Broken off");
    wrapped(field::in_units(run.passed ? run.lesson().goal : "The goal: " + run.lesson().goal, units), wide);
    gap(theme, 0.6F);
    for (const field::Requirement& r : run.judgement) {
        judgement_row(theme, r, wide, units);
    }
    gap(theme, 0.3F);
    wrapped(field::in_units(run.lesson().fact, units), wide);
    gap(theme, 0.3F);
    if (run.passed) {
        const bool fewer = field::guidance_after(run.passes + 1) != run.guidance();
        note_text(theme,
                  fewer ? "Next time there are fewer hints: what one recalls without help stays longer."
                        : "Come back to it in a few days: what is recalled after a while stays longer.",
                  theme.palette.quiet);
    } else if (!run.test) {
        note_text(theme, "The lesson again (A) begins with its first step; T or Enter takes its test at once.",
                  theme.palette.quiet);
    } else {
        note_text(theme,
                  "The test again (T or Enter) is in another yard. The debrief (D) shows where the sonde lay and why.",
                  theme.palette.quiet);
    }
    if (!message.empty()) {
        note_text(theme, message, theme.palette.warning);
    }
    gap(theme, 0.6F);
    float x = 0.0F;
    const float from = ImGui::GetCursorPosX();
    for (const std::string_view id : buttons) {
        if (id == "next_lesson" && !enabled(id, context)) {
            continue; // not passed, or the last of the course: Enter is another button's then
        }
        const std::string_view label = id == "start_page" ? "All lessons" : "";
        const float width = command_button_width(theme, id, label);
        if (x > 0.0F && x + width > ImGui::GetWindowContentRegionMax().x - from) {
            x = 0.0F;
            gap(theme, 0.15F);
        } else if (x > 0.0F) {
            ImGui::SameLine(from + x);
        }
        command_button(theme, context, id, requests, label);
        x += width + 0.4F * theme.h;
    }
}

} // namespace sondeyard::ui
