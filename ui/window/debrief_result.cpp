// What was done and what it was worth: plan and section with the truth, figures, procedure, reasons.
#include "ui/window/debrief_views.hpp"
#include "ui/window/drafting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

namespace sondeyard::ui {

namespace {

// ---- Plan and section

void draw_pictures(const DebriefParts& page, ImVec2 size) {
    const ImVec2 origin = ImGui::GetCursorScreenPos();
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const float gap = 0.5F * page.h();
    const float left = std::floor((size.x - gap) * 0.5F);
    if (page.state.lines_shown && !page.state.field_lines) {
        page.state.field_lines = section_field_of(page.setting, page.exercise.notebook, page.score);
    }
    work_plan(page, origin, {left, size.y});
    PlanContent content = finished_work(page);
    add_truth(page, content);
    content.score = &page.score;
    content.points = &true_points_of(page);
    draw_plan(list, page.theme, page.state.view, content);
    const ImVec2 right = origin + ImVec2{left + gap, 0.0F};
    draw_section(list, page.theme, right, {size.x - left - gap, size.y}, page.setting, page.exercise.notebook,
                 page.score, page.state.lines_shown ? &*page.state.field_lines : nullptr);
    list.AddRect(origin, origin + ImVec2{left, size.y}, page.ink().hatch, 0.0F, 0, 1.0F);
    list.AddRect(right, origin + size, page.ink().hatch, 0.0F, 0, 1.0F);
    ImGui::SetCursorScreenPos(origin + ImVec2{0.0F, size.y});
    ImGui::Dummy({size.x, 0.25F * page.h()});
}

// ---- Figures with their tolerances

const char* word_of(Sign sign) { return sign == Sign::none ? "not asked" : sign == Sign::good ? "ok" : "no"; }

bool was_asked(const DebriefParts& page, const field::Figure& figure) {
    return figure.part == nullptr || page.asked.*figure.part;
}

struct FigureBlock { // a figure laid out: its lines, broken where one is wider than the page
    std::vector<std::string_view> value;
    std::vector<std::string_view> tolerance;
    ImVec2 size;
};

FigureBlock block_of(const DebriefParts& page, const field::Figure& figure, float width) {
    const float h = page.h();
    FigureBlock block{wrapped(page.theme.heading, figure.value, width - 1.3F * h),
                      wrapped(page.theme.note, page.test_passed ? std::string_view() : figure.tolerance, width),
                      ImVec2(0.0F, 0.35F * h)};
    float widest = text_size(page.theme.note, figure.title + word_of(Sign::none)).x + h;
    for (const std::string_view line : block.value) {
        widest = std::max(widest, text_size(page.theme.heading, line).x + 1.3F * h);
    }
    for (const std::string_view line : block.tolerance) {
        widest = std::max(widest, text_size(page.theme.note, line).x);
    }
    block.size.x = std::min(widest + 1.6F * h, width);
    block.size.y += page.theme.note->FontSize * static_cast<float>(1 + block.tolerance.size()) +
                    page.theme.heading->FontSize * static_cast<float>(block.value.size());
    return block;
}

void draw_block(const DebriefParts& page, const field::Figure& figure, const FigureBlock& block, ImVec2 at) {
    const float h = page.h();
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Sign sign = !was_asked(page, figure) ? Sign::none : figure.good ? Sign::good : Sign::bad;
    const ImU32 colour = sign == Sign::none ? page.ink().quiet : figure.good ? page.ink().ink : page.ink().warning;
    draw_text(list, page.theme.note, at, page.ink().quiet, figure.title);
    draw_text(list, page.theme.note, {at.x + text_size(page.theme.note, figure.title).x + 0.5F * h, at.y},
              sign == Sign::good ? page.ink().sewer : colour, word_of(sign));
    at.y += page.theme.note->FontSize;
    draw_sign(list, page, {at.x + 0.4F * h, at.y + page.theme.heading->FontSize * 0.52F}, sign);
    for (const std::string_view line : block.value) {
        draw_text(list, page.theme.heading, {at.x + 1.1F * h, at.y}, colour, line);
        at.y += page.theme.heading->FontSize;
    }
    for (const std::string_view line : block.tolerance) {
        draw_text(list, page.theme.note, at, page.ink().quiet, line);
        at.y += page.theme.note->FontSize;
    }
}

// Blocks side by side, as many in a row as fit: what it is, the figure, what is allowed.
void draw_figures(const DebriefParts& page, float width) {
    const ImVec2 start = ImGui::GetCursorScreenPos();
    ImVec2 at = start;
    float row_height = 0.0F;
    for (const field::Figure& figure : page.debrief.figures) {
        const FigureBlock block = block_of(page, figure, width);
        if (at.x > start.x && at.x + block.size.x > start.x + width) {
            at = {start.x, at.y + row_height + 0.2F * page.h()};
            row_height = 0.0F;
        }
        draw_block(page, figure, block, at);
        at.x += block.size.x;
        row_height = std::max(row_height, block.size.y);
    }
    ImGui::Dummy({width, at.y + row_height - start.y});
}

void draw_points(const DebriefParts& page, float wrap) {
    const field::Score& s = page.score;
    if (page.test_passed) {
        write(page.theme.note, page.ink().quiet, "The lesson's result says what its small test asked for.", wrap);
    } else {
        write(page.theme.note, page.ink().quiet,
              fmt::format("Points: position {} of {}, depth {} of {}, tilt {} of {}, dig {} of {}, procedure {} of {}.",
                          s.position_points, field::full_position_points, s.depth_points, field::full_depth_points,
                          s.tilt_points, field::full_tilt_points, s.dig_points, field::full_dig_points,
                          s.procedure_points, field::full_procedure_points),
              wrap);
    }
    write(page.theme.note, page.ink().quiet,
          fmt::format("Yard {}, worked for {}.", page.setting.world.seed,
                      clock_text(page.exercise.finished_tick.value_or(page.exercise.tick))),
          wrap);
}

// ---- Procedure and safety

struct Point { // of the list: a sign, a word that repeats it, what was asked, what was seen, why it matters
    Sign sign = Sign::none;
    std::string_view word;
    std::string title;
    std::string evidence;
    std::string_view why;
};

Point point_of(const field::ProcedureItem& item, bool asked) {
    Point point;
    point.title = std::string(item.title);
    point.evidence = item.evidence;
    point.why = item.why;
    if (!item.applies || (!asked && !item.done)) {
        point.word = "not asked";
    } else {
        point.sign = item.done ? Sign::good : Sign::bad;
        point.word = item.done ? "ok" : "no";
    }
    if (item.tick && item.done) {
        point.title += fmt::format("  {}", clock_text(*item.tick));
    }
    return point;
}

std::string spaced(std::string_view key) {
    std::string words(key);
    std::replace(words.begin(), words.end(), '_', ' ');
    return words;
}

void draw_point(const DebriefParts& page, const Point& point, float width, int id) {
    const float h = page.h();
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float left = ImGui::GetCursorPosX();
    const float indent = 1.1F * h + text_size(page.theme.text, "ok ").x;
    const float wrap = left + width;
    ImGui::PushID(id);
    ImGui::BeginGroup();
    const ImU32 colour =
        point.sign == Sign::bad ? page.ink().warning : (point.sign == Sign::good ? page.ink().sewer : page.ink().quiet);
    draw_sign(*ImGui::GetWindowDrawList(), page, {at.x + 0.4F * h, at.y + 0.55F * h}, point.sign);
    if (point.sign != Sign::none) {
        draw_text(*ImGui::GetWindowDrawList(), page.theme.text, {at.x + 1.0F * h, at.y}, colour, point.word);
    }
    ImGui::SetCursorPosX(left + indent);
    const std::string title = point.sign == Sign::none ? point.title + " (not asked)" : point.title;
    write(page.theme.text, point.sign == Sign::none ? page.ink().quiet : page.ink().ink, title, wrap);
    // What went wrong is always said; the rest waits until it is asked for.
    if (!point.evidence.empty() && (page.state.reasons || point.sign == Sign::bad)) {
        ImGui::SetCursorPosX(left + indent);
        write(page.theme.note, page.ink().quiet, point.evidence, wrap);
    }
    if (page.state.reasons && !point.why.empty()) {
        ImGui::SetCursorPosX(left + indent);
        write(page.theme.note, page.ink().ink, point.why, wrap);
        ImGui::Dummy({1.0F, 0.2F * h});
    }
    ImGui::EndGroup();
    if (ImGui::IsItemClicked()) {
        page.requests.commands.emplace_back("reasons");
    }
    if (ImGui::IsItemHovered() && !page.state.reasons && !point.why.empty()) {
        ImGui::BeginTooltip();
        const std::string words = fmt::format("{}{}{}", point.evidence, point.evidence.empty() ? "" : "\n", point.why);
        write(page.theme.note, page.ink().ink, words, 30.0F * h);
        ImGui::EndTooltip();
    }
    ImGui::PopID();
}

std::vector<Point> points_of(std::span<const field::Requirement> judged, field::Units units) {
    std::vector<Point> points;
    for (const field::Requirement& r : judged) {
        Point point;
        point.sign = r.met ? Sign::good : Sign::bad;
        point.word = r.met ? "ok" : "no";
        point.title = field::in_units(fmt::format("{}: {}", r.what, r.found), units);
        point.evidence = field::in_units(fmt::format("Needed: {}.", r.needed), units);
        points.push_back(std::move(point));
    }
    return points;
}

// In two columns where there is room, filled downward so that the order of the work can be followed.
void draw_points_list(const DebriefParts& page, const std::vector<Point>& points, float width, int first_id) {
    const int columns = width > 46.0F * page.h() ? 2 : 1;
    if (columns == 1) {
        for (std::size_t i = 0; i < points.size(); ++i) {
            draw_point(page, points[i], width, first_id + static_cast<int>(i));
        }
        return;
    }
    const ImVec2 start = ImGui::GetCursorPos();
    const float column = width * 0.5F;
    const std::size_t half = (points.size() + 1) / 2;
    float bottom = start.y;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const bool second = i >= half;
        if (i == 0 || i == half) {
            ImGui::SetCursorPosY(start.y);
        }
        ImGui::SetCursorPosX(start.x + (second ? column : 0.0F));
        draw_point(page, points[i], column - 1.5F * page.h(), first_id + static_cast<int>(i));
        bottom = std::max(bottom, ImGui::GetCursorPosY());
    }
    ImGui::SetCursorPos({start.x, bottom});
    ImGui::Dummy({1.0F, 1.0F});
}

void draw_safety(const DebriefParts& page, float width) {
    std::vector<Point> points;
    for (const field::SafetyItem& item : page.score.safety) {
        Point point;
        point.sign = !item.judged ? Sign::none : item.failed ? Sign::bad : Sign::good;
        point.word = !item.judged ? "-" : item.failed ? "no" : "ok";
        point.title =
            item.failed ? fmt::format("failed: {}", spaced(item.key)) : fmt::format("no {}", spaced(item.key));
        point.evidence = item.evidence;
        points.push_back(point);
    }
    if (points.empty()) {
        return;
    }
    debrief_heading(page, "SAFETY");
    draw_points_list(page, points, width, 1000);
    const float wrap = ImGui::GetCursorPosX() + width;
    for (const std::string& caution : page.debrief.cautions) {
        write(page.theme.text, page.ink().warning, caution, wrap);
    }
}

void draw_notes(const DebriefParts& page, float wrap) {
    if (page.debrief.notes.empty()) {
        return;
    }
    debrief_heading(page, "WHAT EXPLAINS IT");
    for (const std::string& note : page.debrief.notes) {
        if (std::ranges::find(page.debrief.cautions, note) != page.debrief.cautions.end()) {
            continue; // stands under SAFETY
        }
        const float left = ImGui::GetCursorPosX();
        const ImVec2 at = ImGui::GetCursorScreenPos();
        ImGui::GetWindowDrawList()->AddRectFilled({at.x + 0.3F * page.h(), at.y + 0.5F * page.h()},
                                                  {at.x + 0.55F * page.h(), at.y + 0.62F * page.h()}, page.ink().quiet);
        ImGui::SetCursorPosX(left + 1.1F * page.h());
        write(page.theme.text, page.ink().ink, note, wrap);
    }
}

// The scenario's own words on the yard. Asked for, it comes to the top of what is seen; asked again, the page goes back
// up.
void draw_lesson(const DebriefParts& page, float wrap) {
    const bool wished = std::exchange(page.state.lesson_wish, false);
    if (page.debrief.lesson.empty()) {
        return;
    }
    ImGui::Dummy({1.0F, 0.15F * page.h()});
    const float top = ImGui::GetCursorPosY();
    debrief_heading(page, "IN THIS YARD");
    for (const field::LessonPart& part : page.debrief.lesson) {
        write(page.theme.text, page.ink().survey, part.title, wrap);
        write(page.theme.text, page.ink().ink, part.text, wrap);
        ImGui::Dummy({1.0F, 0.25F * page.h()});
    }
    if (wished) {
        const float there = std::min(top, ImGui::GetScrollMaxY());
        ImGui::SetScrollY(ImGui::GetScrollY() >= there - 1.0F ? 0.0F : there);
    }
}

void draw_lower_part(const DebriefParts& page, ImVec2 size) {
    ImGui::BeginChild("##debrief_text", size, false, ImGuiWindowFlags_NoNav);
    const float width = ImGui::GetContentRegionAvail().x - 0.5F * page.h();
    const float wrap = ImGui::GetCursorPosX() + width;
    if (!page.judged.empty()) {
        debrief_heading(page, "WHAT THE SMALL TEST ASKED FOR");
        draw_points_list(page, points_of(page.judged, page.units()), width, 2000);
    }
    draw_figures(page, width);
    debrief_heading(page, page.state.reasons ? "PROCEDURE" : "PROCEDURE   reasons: press W or click a point");
    std::vector<Point> points;
    points.reserve(page.score.procedure.size());
    for (const field::ProcedureItem& item : page.score.procedure) {
        points.push_back(point_of(item, page.asked.procedure));
    }
    draw_points_list(page, points, width, 0);
    draw_safety(page, width);
    draw_notes(page, wrap);
    draw_lesson(page, wrap);
    ImGui::Dummy({1.0F, 0.15F * page.h()});
    draw_points(page, wrap);
    write(page.theme.note, page.ink().quiet, page.debrief.disclaimer, wrap);
    scroll_by_keys(2.0F * page.h());
    const bool more = ImGui::GetScrollY() < ImGui::GetScrollMaxY() - 2.0F;
    const ImVec2 corner = ImGui::GetWindowPos() + ImVec2{size.x, size.y};
    ImDrawList& list = *ImGui::GetWindowDrawList();
    if (more) { // said in words, since a thin scroll bar is easily overlooked
        const std::string_view words = "more below: Down";
        const ImVec2 extent = text_size(page.theme.note, words);
        const ImVec2 at = corner - ImVec2{extent.x + 1.4F * page.h(), extent.y + 2.0F};
        list.AddRectFilled(at - ImVec2{0.5F * page.h(), 0.0F}, corner - ImVec2{0.8F * page.h(), 0.0F},
                           page.ink().paper);
        draw_text(list, page.theme.note, at, page.ink().quiet, words);
    }
    ImGui::EndChild();
}

} // namespace

void debrief_result(const DebriefParts& page, ImVec2 size) {
    const float top = ImGui::GetCursorPosY();
    const float left = ImGui::GetCursorPosX();
    draw_pictures(page, {size.x, std::floor(size.y * (page.tight ? 0.56F : 0.52F))});
    ImGui::SetCursorPosX(left);
    const float used = ImGui::GetCursorPosY() - top;
    draw_lower_part(page, {size.x, std::max(size.y - used, 3.0F * page.h())});
}

} // namespace sondeyard::ui
