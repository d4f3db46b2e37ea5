// What explains the result: three questions on the moments that mattered most, each with its answer, then the findings
// with their evidence and what to do next time, beside the plan on which each has its place.
#include "ui/window/coach_state.hpp"
#include "ui/window/debrief_views.hpp"
#include "ui/window/drafting.hpp"

#include <fmt/format.h>
#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

namespace sondeyard::ui {

// ---- State ----

const field::Finding* CoachState::shown() const {
    const std::size_t index = asks() ? at : chosen;
    return index < findings.size() ? &findings[index] : nullptr;
}

void work_out(CoachState& coach, const field::Setting& setting, const field::ExerciseState& state,
              const field::Score& score, field::Units units, const field::ScoreParts& asked) {
    coach.findings = field::coach(setting, state, score, units, asked);
    coach.units = units;
    const double lost = field::points_lost(score, asked);
    coach.covers_most = field::points_explained(coach.findings, score, asked) > 0.5 * lost;
}

void coach_step(CoachState& coach, int by) {
    const std::size_t last = coach.open() ? coach.findings[coach.at].question.options.size() : coach.listed();
    std::size_t& now = coach.open() ? coach.option : coach.chosen;
    if (coach.asks() && !coach.open()) {
        coach.scroll_lines += by;
        return;
    }
    if (last == 0) {
        return;
    }
    now = by > 0 ? std::min(now + 1, last - 1) : now - std::min<std::size_t>(now, 1);
    coach.into_view = true;
    coach.place_seen = false;
}

void coach_answer(CoachState& coach) {
    if (coach.open()) {
        coach.answers[coach.at] = coach.option;
    } else if (coach.asks()) {
        ++coach.at;
        coach.option = 0;
        coach.into_view = true;
        coach.place_seen = false;
    }
}

void coach_skip(CoachState& coach) {
    coach.at = coach.asks() ? coach.questions() : 0;
    coach.option = 0;
    coach.into_view = true;
    coach.place_seen = false;
}

namespace {

// ---- The plan: the truth only when no question is open that it would answer ----

void draw_place(const DebriefParts& page, const field::Finding& finding, std::string_view number, bool chosen) {
    if (!finding.place_m) {
        return;
    }
    const PlanView& view = page.state.view;
    const ImVec2 at = view.to_screen(*finding.place_m);
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const float r = 0.8F * page.h();
    const ImU32 colour = chosen ? page.ink().ink : page.ink().quiet;
    list.AddCircle(at, r, page.ink().paper, 0, chosen ? 5.0F : 3.5F);
    list.AddCircle(at, r, colour, 0, chosen ? 2.5F : 1.2F);
    const ImVec2 extent = text_size(page.theme.note, number);
    draw_text_on_paper(list, page.theme.note, {at.x + r + 2.0F, at.y - r - 0.5F * extent.y}, colour, page.ink().paper,
                       number);
}

// The numbers of all findings at one place stand beside one ring.
void draw_places(const DebriefParts& page) {
    const CoachState& coach = page.state.coach;
    if (coach.asks()) {
        draw_place(page, coach.findings[coach.at], fmt::format("{}", coach.at + 1), true);
        return;
    }
    constexpr double one_place_m = 0.25;
    std::vector<bool> drawn(coach.listed(), false);
    for (std::size_t i = 0; i < coach.listed(); ++i) {
        const field::Finding& f = coach.findings[i];
        if (!f.place_m || drawn[i]) {
            continue;
        }
        std::string numbers;
        const field::Finding* at = &f;
        for (std::size_t k = i; k < coach.listed(); ++k) {
            const field::Finding& other = coach.findings[k];
            if (other.place_m && !drawn[k] && glm::distance(*other.place_m, *f.place_m) < one_place_m) {
                drawn[k] = true;
                numbers += fmt::format("{}{}", numbers.empty() ? "" : ", ", k + 1);
                at = k == coach.chosen ? &other : at;
            }
        }
        draw_place(page, *at, numbers, at == &coach.findings[coach.chosen]);
    }
}

// Once for each finding that is shown: afterwards the plan can be moved as one likes.
void bring_place_into_plan(const DebriefParts& page) {
    CoachState& coach = page.state.coach;
    const field::Finding* f = coach.shown();
    if (coach.place_seen || f == nullptr || !f->place_m) {
        return;
    }
    coach.place_seen = true;
    PlanView& view = page.state.view;
    const float room = 2.0F * page.h();
    const ImVec2 at = view.to_screen(*f->place_m) - view.origin;
    if (at.x < room || at.y < room || at.x > view.size.x - room || at.y > view.size.y - room) {
        const PlanExtent extent = debrief_extent(page.setting, page.exercise.notebook, &page.score);
        view.fit(glm::min(extent.low_m, *f->place_m), glm::max(extent.high_m, *f->place_m));
    }
}

void draw_coach_plan(const DebriefParts& page, ImVec2 size) {
    const ImVec2 origin = ImGui::GetCursorScreenPos();
    ImDrawList& list = *ImGui::GetWindowDrawList();
    work_plan(page, origin, size);
    bring_place_into_plan(page);
    PlanContent content = finished_work(page);
    if (!page.state.coach.open()) {
        add_truth(page, content);
        content.score = &page.score;
    }
    draw_plan(list, page.theme, page.state.view, content);
    list.PushClipRect(origin, origin + size, true);
    draw_places(page);
    list.PopClipRect();
    list.AddRect(origin, origin + size, page.ink().hatch, 0.0F, 0, 1.0F);
}

// ---- A question ----

// One option: a ring, filled when chosen, or the sign of what it turned out to be.
bool draw_option(const DebriefParts& page, std::string_view words, std::size_t index, float wrap) {
    const CoachState& coach = page.state.coach;
    const field::CoachQuestion& question = coach.findings[coach.at].question;
    const std::optional<std::size_t> answer = coach.answers[coach.at];
    const float h = page.h();
    const float left = ImGui::GetCursorPosX();
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const bool chosen = answer ? *answer == index : coach.option == index;
    const bool right = answer && index == question.right;
    const bool wrong = answer && chosen && !right;
    ImGui::PushID(static_cast<int>(index));
    ImGui::BeginGroup();
    ImGui::SetCursorPosX(left + 1.8F * h);
    const ImU32 colour = wrong ? page.ink().warning : answer && !right ? page.ink().quiet : page.ink().ink;
    std::string text(words);
    if (right) {
        text += chosen ? "  (right, and chosen)" : "  (right)";
    } else if (wrong) {
        text += "  (chosen)";
    }
    write(page.theme.text, colour, text, wrap);
    ImGui::EndGroup();
    const ImVec2 high = ImGui::GetItemRectMax();
    const bool hovered = ImGui::IsMouseHoveringRect({at.x, at.y}, {at.x + wrap - left, high.y});
    const bool clicked = hovered && !answer && ImGui::IsMouseClicked(ImGuiMouseButton_Left);
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const ImVec2 centre{at.x + 0.9F * h, at.y + 0.6F * h};
    if (right || wrong) {
        draw_sign(list, page, centre, right ? Sign::good : Sign::bad);
    } else {
        list.AddCircle(centre, 0.32F * h, chosen || hovered ? page.ink().ink : page.ink().quiet, 0, 1.4F);
        if (chosen) {
            list.AddCircleFilled(centre, 0.18F * h, page.ink().ink);
        }
    }
    if (chosen && !answer) {
        list.AddRectFilled({at.x, at.y}, {at.x + 0.2F * h, high.y}, page.ink().survey);
    }
    ImGui::PopID();
    ImGui::Dummy({1.0F, 0.35F * h});
    return clicked;
}

std::string points_text(const field::Finding& f) {
    const double points = std::round(f.points);
    const std::string when = f.tick ? fmt::format("{}, ", clock_text(*f.tick)) : std::string();
    return points < 1.0 ? when + "cost no points"
                        : fmt::format("{}up to {:.0f} point{}", when, points, points < 2.0 ? "" : "s");
}

void draw_explanation(const DebriefParts& page, const field::Finding& f, float wrap) {
    write(page.theme.text, page.ink().ink, f.evidence, wrap);
    ImGui::Dummy({1.0F, 0.15F * page.h()});
    write(page.theme.note, page.ink().survey, "Next time");
    write(page.theme.text, page.ink().ink, f.next_time, wrap);
}

void draw_question(const DebriefParts& page, float wrap) {
    CoachState& coach = page.state.coach;
    const field::Finding& f = coach.findings[coach.at];
    debrief_heading(page, fmt::format("{} {} OF {}{}{}", coach.covers_most ? "MOMENT" : "QUESTION", coach.at + 1,
                                      coach.questions(), coach.covers_most ? " THAT MATTERED MOST" : "",
                                      f.tick ? fmt::format("   {}", clock_text(*f.tick)) : std::string()));
    write(page.theme.heading, page.ink().ink, f.question.ask, wrap);
    ImGui::Dummy({1.0F, 0.5F * page.h()});
    std::optional<std::size_t> clicked;
    for (std::size_t i = 0; i < f.question.options.size(); ++i) {
        if (draw_option(page, f.question.options[i], i, wrap)) {
            clicked = i;
        }
    }
    if (clicked) { // as Enter does
        coach.option = *clicked;
        page.requests.commands.emplace_back("coach_answer");
    }
    if (coach.open()) {
        write(page.theme.note, page.ink().quiet, "Choose with Up and Down, or click.", wrap);
        return;
    }
    ImGui::Dummy({1.0F, 0.1F * page.h()});
    write(page.theme.text, page.ink().ink, f.title, wrap);
    write(page.theme.note, page.ink().quiet, points_text(f));
    ImGui::Dummy({1.0F, 0.2F * page.h()});
    draw_explanation(page, f, wrap);
}

// ---- The list ----

bool draw_finding(const DebriefParts& page, std::size_t index, float wrap) {
    CoachState& coach = page.state.coach;
    const field::Finding& f = coach.findings[index];
    const float h = page.h();
    const float left = ImGui::GetCursorPosX();
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const bool chosen = index == coach.chosen;
    ImGui::PushID(static_cast<int>(index));
    ImGui::BeginGroup();
    draw_text(*ImGui::GetWindowDrawList(), page.theme.text, {at.x + 0.6F * h, at.y}, page.ink().ink,
              fmt::format("{}", index + 1));
    ImGui::Indent(1.8F * h);
    write(page.theme.text, page.ink().ink, f.title, wrap);
    write(page.theme.note, page.ink().quiet, points_text(f), wrap);
    write(page.theme.note, page.ink().ink, f.evidence, wrap);
    write(page.theme.note, page.ink().survey, "Next time: " + f.next_time, wrap);
    ImGui::Unindent(1.8F * h);
    ImGui::EndGroup();
    const ImVec2 high = ImGui::GetItemRectMax();
    const bool clicked = ImGui::IsWindowHovered() && ImGui::IsMouseHoveringRect(at, {at.x + wrap - left, high.y}) &&
                         ImGui::IsMouseClicked(ImGuiMouseButton_Left);
    if (chosen) {
        ImGui::GetWindowDrawList()->AddRectFilled(at, {at.x + 0.2F * h, high.y}, page.ink().survey);
        if (coach.into_view) {
            ImGui::SetScrollHereY(0.5F);
        }
    }
    ImGui::PopID();
    ImGui::Dummy({1.0F, 0.4F * h});
    return clicked;
}

std::string unexplained(const DebriefParts& page, int lost) {
    const double rest = std::round(lost - field::points_explained(page.state.coach.findings, page.score, page.asked));
    return rest < 1.0
               ? std::string()
               : fmt::format(" On {:.0f} of them the coach has nothing to say; the result (1) lists them.", rest);
}

void draw_list(const DebriefParts& page, float wrap) {
    CoachState& coach = page.state.coach;
    const int lost = field::points_lost(page.score, page.asked);
    if (coach.findings.empty()) {
        debrief_heading(page, "FINDINGS");
        write(page.theme.text, page.ink().ink,
              lost == 0 ? std::string("Nothing to find: no point was lost.")
                        : fmt::format("The coach has nothing to say on the {} lost; the result (1) says where.",
                                      lost == 1 ? std::string("one point") : fmt::format("{} points", lost)),
              wrap);
        return;
    }
    debrief_heading(page, coach.covers_most ? "FINDINGS, THOSE THAT MATTERED MOST FIRST" : "FINDINGS");
    for (std::size_t i = 0; i < coach.listed(); ++i) {
        if (draw_finding(page, i, wrap)) {
            coach.chosen = i;
            coach.place_seen = false;
        }
    }
    coach.into_view = false;
    if (const std::size_t more = coach.findings.size() - coach.listed(); more > 0) {
        write(page.theme.note, page.ink().quiet, fmt::format("And {} more that mattered less.", more), wrap);
    }
    write(page.theme.note, page.ink().quiet,
          fmt::format("{} point{} lost in all; the same points may stand with several findings.{}", lost,
                      lost == 1 ? " was" : "s were", unexplained(page, lost)),
          wrap);
}

void draw_text_side(const DebriefParts& page, ImVec2 size) {
    CoachState& coach = page.state.coach;
    ImGui::BeginChild("##coach_text", size, false, ImGuiWindowFlags_NoNav);
    const float wrap = ImGui::GetCursorPosX() + ImGui::GetContentRegionAvail().x - 0.8F * page.h();
    if (coach.asks()) {
        draw_question(page, wrap);
        const float by = 2.0F * page.h() * static_cast<float>(std::exchange(coach.scroll_lines, 0));
        if (std::exchange(coach.into_view, false) || by != 0.0F) {
            ImGui::SetScrollY(by == 0.0F ? 0.0F : std::clamp(ImGui::GetScrollY() + by, 0.0F, ImGui::GetScrollMaxY()));
        }
    } else {
        draw_list(page, wrap);
    }
    ImGui::EndChild();
}

// What can be done now, below the text whatever its length.
void draw_coach_buttons(const DebriefParts& page) {
    const CoachState& coach = page.state.coach;
    const bool last = coach.at + 1 == coach.questions();
    const auto button = [&](std::string_view id, std::string_view label) {
        command_button(page.theme, page.context, id, page.requests, label);
        ImGui::SameLine(0.0F, 0.5F * page.h());
    };
    if (coach.asks()) {
        button("coach_answer", coach.open() ? "Answer" : last ? "The findings" : "Next question");
        if (coach.open() || !last) {
            button("coach_skip", {});
        }
    } else {
        button("coach_moment", {});
        if (coach.questions() > 0) {
            button("coach_skip", "The questions");
        }
    }
}

} // namespace

void debrief_coach(const DebriefParts& page, ImVec2 size) {
    CoachState& coach = page.state.coach;
    const field::Units units = page.units();
    if (coach.units != units) {
        work_out(coach, page.setting, page.exercise, page.score, units, page.asked);
    }
    const float gap = 0.8F * page.h();
    const float left = ImGui::GetCursorPosX();
    const float top = ImGui::GetCursorPosY();
    const float foot = coach.findings.empty() ? 0.0F : 2.0F * page.h();
    const float plan_width = std::floor(0.45F * (size.x - gap));
    draw_coach_plan(page, {plan_width, size.y});
    ImGui::SetCursorPos({left + plan_width + gap, top});
    draw_text_side(page, {size.x - plan_width - gap, size.y - foot});
    if (foot > 0.0F) {
        ImGui::SetCursorPos({left + plan_width + gap, top + size.y - 1.7F * page.h()});
        draw_coach_buttons(page);
    }
    ImGui::SetCursorPos({left, top + size.y});
}

} // namespace sondeyard::ui
