// What could be known: the bound beside what was marked and called, the best fit, and how the bound shrank as he
// worked.
#include "ui/window/debrief_views.hpp"
#include "ui/window/drafting.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

using field::WhatCouldBeKnown;

constexpr int ellipse_points = 48;

// The outline that holds 95 %, about a place; view: pixels a metre and where the place lies.
std::vector<ImVec2> outline(const field::Ellipse& ellipse, ImVec2 centre, double px_per_m) {
    const glm::dvec2 along = field::direction_of(ellipse.heading_deg);
    const glm::dvec2 across{along.y, -along.x};
    std::vector<ImVec2> points;
    points.reserve(ellipse_points);
    for (int i = 0; i < ellipse_points; ++i) {
        const double angle = 2.0 * 3.141592653589793 * i / ellipse_points;
        const glm::dvec2 off = field::ellipse_95 * px_per_m *
                               (ellipse.major_m * std::cos(angle) * along + ellipse.minor_m * std::sin(angle) * across);
        points.push_back(centre + ImVec2{static_cast<float>(off.x), static_cast<float>(-off.y)});
    }
    return points;
}

void draw_outline(ImDrawList& list, const std::vector<ImVec2>& points, ImU32 colour, float thickness) {
    list.AddPolyline(points.data(), static_cast<int>(points.size()), colour, ImDrawFlags_Closed, thickness);
}

// Every second piece: the ellipse that counts mounting errors in.
void draw_dashed_outline(ImDrawList& list, const std::vector<ImVec2>& points, ImU32 colour) {
    for (std::size_t i = 0; i < points.size(); i += 2) {
        list.AddLine(points[i], points[(i + 1) % points.size()], colour, 1.5F);
    }
}

// The best fit: an upright cross in a square.
void draw_fit_symbol(ImDrawList& list, const DebriefParts& page, ImVec2 at) {
    const float r = 0.36F * page.h();
    list.AddRectFilled(at - ImVec2{r, r}, at + ImVec2{r, r}, page.ink().paper);
    list.AddRect(at - ImVec2{r, r}, at + ImVec2{r, r}, page.ink().survey, 0.0F, 0, 1.5F);
    list.AddLine(at - ImVec2{r, 0.0F}, at + ImVec2{r, 0.0F}, page.ink().survey, 1.5F);
    list.AddLine(at - ImVec2{0.0F, r}, at + ImVec2{0.0F, r}, page.ink().survey, 1.5F);
}

ImVec2 way_px(const glm::dvec2& off_m, double px_per_m) {
    return {static_cast<float>(off_m.x * px_per_m), static_cast<float>(-off_m.y * px_per_m)};
}

// In a table or a drawing there is no room for "less than".
std::string short_text(double m, field::Units units) {
    std::string text = field::fine_text(m, units);
    constexpr std::string_view less = "less than ";
    return text.starts_with(less) ? "< " + text.substr(less.size()) : text;
}

struct FineBar { // of a drawing in which a millimetre may be the whole width
    float px = 0.0F;
    std::string words;
};

// The longest of 1, 2, 5 times a power of ten, in millimetres or inches, that is not longer than this.
FineBar fine_bar(double px_per_m, float longest_px, field::Units units) {
    const bool feet = units == field::Units::feet;
    const double px_per_unit = px_per_m * (feet ? field::metres_per_inch : 0.001);
    const double most = static_cast<double>(longest_px) / px_per_unit;
    const double decade = std::pow(10.0, std::floor(std::log10(most)));
    const double digit = most >= 5.0 * decade ? 5.0 : most >= 2.0 * decade ? 2.0 : 1.0;
    return {static_cast<float>(digit * decade * px_per_unit),
            fmt::format("{:g} {}", digit * decade, feet ? "in" : "mm")};
}

// ---- Close to the sonde, enlarged: on the plan a bound of millimetres is a dot

void draw_enlarged(const DebriefParts& page, const WhatCouldBeKnown& w, ImVec2 low, float side) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Theme& theme = page.theme;
    const float h = page.h();
    const ImVec2 high = low + ImVec2{side, side};
    list.AddRectFilled(low, high, page.ink().paper);
    list.AddRect(low, high, page.ink().ink, 0.0F, 0, 1.0F);
    const field::Ellipse& wide = w.bound_as_mounted.known ? w.bound_as_mounted.ellipse : w.bound.ellipse;
    double reach_m = field::ellipse_95 * wide.major_m;
    const glm::dvec2 fit_m = field::plan(w.fit.dipole.position_m - w.truth.position_m);
    if (w.fit.found && glm::length(fit_m) < 4.0 * reach_m) {
        reach_m = std::max(reach_m, 1.1 * glm::length(fit_m));
    }
    reach_m = std::max(reach_m, 1e-5);
    const ImVec2 centre = low + ImVec2{0.5F * side, 0.5F * side};
    const double px_per_m = 0.36 * static_cast<double>(side) / reach_m;
    list.PushClipRect(low, high, true);
    if (w.bound_as_mounted.known) {
        draw_dashed_outline(list, outline(w.bound_as_mounted.ellipse, centre, px_per_m), page.ink().quiet);
    }
    draw_outline(list, outline(w.bound.ellipse, centre, px_per_m), page.ink().sewer, 2.0F);
    list.AddCircleFilled(centre, 2.5F, page.ink().ink, 12);
    if (w.fit.found) {
        draw_fit_symbol(list, page, centre + way_px(fit_m, px_per_m));
    }
    list.PopClipRect();
    const FineBar bar = fine_bar(px_per_m, 0.3F * side, page.units());
    const ImVec2 at = low + ImVec2{0.5F * h, side - 0.5F * h};
    list.AddLine(at, at + ImVec2{bar.px, 0.0F}, page.ink().ink, 2.0F);
    draw_text_on_paper(list, theme.note, {at.x + bar.px + 0.3F * h, at.y - 0.6F * h}, page.ink().ink, page.ink().paper,
                       bar.words);
    ImVec2 title = low + ImVec2{0.3F * h, 0.1F * h};
    for (const std::string_view line : wrapped(theme.note, "at the sonde, enlarged", side - 0.6F * h)) {
        draw_text_on_paper(list, theme.note, title, page.ink().quiet, page.ink().paper, line);
        title.y += theme.note->FontSize;
    }
}

void draw_plan_part(const DebriefParts& page, const WhatCouldBeKnown& w, ImVec2 size) {
    const ImVec2 origin = ImGui::GetCursorScreenPos();
    ImDrawList& list = *ImGui::GetWindowDrawList();
    work_plan(page, origin, size);
    PlanContent content = finished_work(page);
    add_truth(page, content);
    content.score = &page.score;
    draw_plan(list, page.theme, page.state.view, content);
    const PlanView& view = page.state.view;
    list.PushClipRect(origin, origin + size, true);
    const ImVec2 sonde = view.to_screen(field::plan(w.truth.position_m));
    if (w.bound.known) {
        if (w.bound_as_mounted.known) {
            draw_dashed_outline(list, outline(w.bound_as_mounted.ellipse, sonde, view.px_per_m), page.ink().quiet);
        }
        draw_outline(list, outline(w.bound.ellipse, sonde, view.px_per_m), page.ink().sewer, 2.0F);
    }
    if (w.fit.found) {
        const ImVec2 at = view.to_screen(field::plan(w.fit.dipole.position_m));
        if (w.fit_errors.position_m &&
            *w.fit_errors.position_m * view.px_per_m > static_cast<double>(0.5F * page.h())) {
            draw_fit_symbol(list, page, at); // else it would only hide the sonde: the enlarged part shows it
        }
    }
    list.PopClipRect();
    list.AddRect(origin, origin + size, page.ink().hatch, 0.0F, 0, 1.0F);
}

// ---- Figures

struct Line {
    std::string_view what;
    std::string_view short_what; // where the columns leave no room
    std::string place, depth, tilt;
};

std::string tilt_text(std::optional<double> deg) {
    constexpr double finest_deg = 0.1; // as in the sentences
    return !deg ? "-" : std::abs(*deg) < finest_deg ? "< 0.1°" : fmt::format("{:.1f}°", std::abs(*deg));
}

Line line_of(std::string_view what, std::string_view short_what, const field::SondeErrors& e, field::Units units) {
    const auto text = [&](const std::optional<double>& m) { return m ? short_text(std::abs(*m), units) : "-"; };
    return {what, short_what, text(e.position_m), text(e.depth_m), tilt_text(e.tilt_deg)};
}

Line line_of(std::string_view what, std::string_view short_what, const field::Knowable& b, field::Units units) {
    constexpr double two_sided_95 = 1.96;
    if (!b.known) {
        return {what, short_what, "not yet", "knowable", ""};
    }
    return {what, short_what, short_text(field::ellipse_95 * b.ellipse.major_m, units),
            short_text(two_sided_95 * b.depth_sd_m, units), tilt_text(two_sided_95 * b.tilt_sd_deg)};
}

// Columns as wide as their figures; what they are of stands before them, in few words or on a line of its own where
// there is no room for more.
void draw_figures(const DebriefParts& page, const WhatCouldBeKnown& w, float width) {
    const field::Units units = page.units();
    const std::array<Line, 5> lines = {
        {{"", "", "place", "depth", "tilt"},
         line_of("marked and called", "marked, called", w.trainee, units),
         line_of("could be known, antennas as mounted (95 %)", "as mounted (95 %)", w.bound_as_mounted, units),
         line_of("if nothing but noise were wrong (95 %)", "noise alone (95 %)", w.bound, units),
         line_of("best fit", "best fit", w.fit_errors, units)}};
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Theme& theme = page.theme;
    const float h = page.h();
    std::array<float, 3> columns{};
    float longest = 0.0F;
    float shortest = 0.0F;
    for (const Line& line : lines) {
        const std::array<std::string_view, 3> cells = {line.place, line.depth, line.tilt};
        for (std::size_t c = 0; c < cells.size(); ++c) {
            columns[c] = std::max(columns[c], text_size(theme.text, cells[c]).x + 0.8F * h);
        }
        longest = std::max(longest, text_size(theme.note, line.what).x + h);
        shortest = std::max(shortest, text_size(theme.note, line.short_what).x + h);
    }
    const float figures = columns[0] + columns[1] + columns[2];
    const bool with_long = longest + figures <= width;
    const bool beside = with_long || shortest + figures <= width;
    const float first = with_long ? longest : beside ? shortest : h;
    ImVec2 at = ImGui::GetCursorScreenPos();
    const ImVec2 start = at;
    for (std::size_t i = 0; i < lines.size(); ++i) {
        const Line& line = lines[i];
        ImFont* font = i == 0 ? theme.note : theme.text;
        const ImU32 ink = i == 0 ? page.ink().quiet : page.ink().ink;
        draw_text(list, theme.note, at + ImVec2{0.0F, 0.1F * h}, page.ink().quiet,
                  with_long || !beside ? line.what : line.short_what);
        at.y += beside || i == 0 ? 0.0F : 1.1F * h;
        draw_text(list, font, at + ImVec2{first, 0.0F}, ink, line.place);
        draw_text(list, font, at + ImVec2{first + columns[0], 0.0F}, ink, line.depth);
        draw_text(list, font, at + ImVec2{first + columns[0] + columns[1], 0.0F}, ink, line.tilt);
        at.y += 1.3F * h;
    }
    ImGui::Dummy({width, at.y - start.y});
}

// The enlarged part stands beside the words or below them: on the plan it would cover what is written there.
void draw_words(const DebriefParts& page, const WhatCouldBeKnown& w, ImVec2 size) {
    ImGui::BeginChild("##known_words", size, false, ImGuiWindowFlags_NoNav);
    const float h = page.h();
    const float side = std::floor(std::min(12.0F * h, ImGui::GetContentRegionAvail().x - 0.5F * h));
    const bool enlarged = w.bound.known;
    const bool beside = enlarged && ImGui::GetContentRegionAvail().x > 38.0F * h;
    const float width = ImGui::GetContentRegionAvail().x - (beside ? side + 1.3F * h : 0.5F * h);
    if (beside) {
        const ImVec2 at = ImGui::GetCursorScreenPos();
        draw_enlarged(page, w, at + ImVec2{width + 0.8F * h, 0.3F * h}, side);
    }
    const float wrap = ImGui::GetCursorPosX() + width;
    debrief_heading(page, "HOW FAR OFF, AND HOW FAR IT NEED HAVE BEEN");
    if (w.any) {
        draw_figures(page, w, width);
    }
    debrief_heading(page, "WHAT IT MEANS");
    for (const std::string& sentence : field::known_sentences(w, page.units())) {
        write(page.theme.text, page.ink().ink, sentence, wrap);
        ImGui::Dummy({1.0F, 0.2F * page.h()});
    }
    if (w.any) {
        write(page.theme.note, page.ink().quiet,
              "On the plan, and enlarged here: dashed ellipse, antennas as mounted; solid, noise alone; cross in a "
              "square, best fit.",
              wrap);
    }
    if (enlarged && !beside) {
        draw_enlarged(page, w, ImGui::GetCursorScreenPos(), side);
        ImGui::Dummy({side, side + 0.3F * h});
    }
    scroll_by_keys(2.0F * page.h());
    ImGui::EndChild();
}

// ---- How it shrank

struct Axes {
    ImVec2 low, high;
    double last_tick = 1.0;
    double least_m = 1e-4, most_m = 1.0; // decades

    float x(std::int64_t tick) const {
        return low.x + (high.x - low.x) * static_cast<float>(static_cast<double>(tick) / last_tick);
    }
    float y(double m) const {
        const double part = std::log(std::clamp(m, least_m, most_m) / least_m) / std::log(most_m / least_m);
        return high.y - (high.y - low.y) * static_cast<float>(part);
    }
};

Axes axes_of(const WhatCouldBeKnown& w, ImVec2 low, ImVec2 high, std::int64_t last_tick) {
    Axes axes{low, high, static_cast<double>(std::max<std::int64_t>(last_tick, 1))};
    double least = 1.0;
    for (const field::KnowableThen& then : w.shrank) {
        if (then.bound.known) {
            least = std::min(least, field::ellipse_95 * then.bound.ellipse.minor_m);
        }
    }
    axes.least_m = std::pow(10.0, std::floor(std::log10(std::max(least, 1e-5))));
    return axes;
}

void draw_curve(const DebriefParts& page, const WhatCouldBeKnown& w, const Axes& axes, bool depth) {
    constexpr double two_sided_95 = 1.96;
    std::vector<ImVec2> points;
    for (const field::KnowableThen& then : w.shrank) {
        if (then.bound.known) {
            const double m =
                depth ? two_sided_95 * then.bound.depth_sd_m : field::ellipse_95 * then.bound.ellipse.major_m;
            points.emplace_back(axes.x(then.tick), axes.y(m));
        }
    }
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const ImU32 colour = depth ? page.ink().water : page.ink().sewer;
    if (points.size() > 1) {
        list.AddPolyline(points.data(), static_cast<int>(points.size()), colour, ImDrawFlags_None, depth ? 1.5F : 2.5F);
    }
    if (!points.empty()) { // the thick one is the place: the words stand one below the other whatever they cross
        const float row = depth ? 1.0F : 0.0F;
        draw_text_on_paper(list, page.theme.note,
                           {axes.high.x - text_size(page.theme.note, "place (thick)").x - 0.4F * page.h(),
                            axes.low.y + (0.1F + 1.1F * row) * page.h()},
                           colour, page.ink().paper, depth ? "depth (thin)" : "place (thick)");
    }
}

void draw_shrank(const DebriefParts& page, const WhatCouldBeKnown& w, ImVec2 size) {
    const ImVec2 origin = ImGui::GetCursorScreenPos();
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Theme& theme = page.theme;
    const float h = page.h();
    draw_text(list, theme.note, origin, page.ink().quiet,
              "HOW IT SHRANK   what noise alone left open, 95 %, with your marks and readings");
    const bool feet = page.units() == field::Units::feet;
    const double unit_m = feet ? field::metres_per_inch : 1.0; // decades of inches or of metres
    const auto figure = [feet](int decade) {
        return feet          ? fmt::format("{:g} in", std::pow(10.0, decade))
               : decade < -3 ? fmt::format("{:g} mm", std::pow(10.0, decade + 3))
                             : field::fine_text(std::pow(10.0, decade), field::Units::metric);
    };
    const float label = text_size(theme.note, feet ? "0.001 in" : "0.01 mm").x + 0.6F * h;
    const Axes axes = axes_of(w, origin + ImVec2{label, 1.4F * h},
                              origin + ImVec2{size.x - 0.5F * h, size.y - 2.6F * h}, page.exercise.tick);
    list.AddRect(axes.low, axes.high, page.ink().grid, 0.0F, 0, 1.0F);
    float labelled = 1e9F; // height of the last figure, from below; where they crowd, every second or third has one
    for (int decade = -5; decade <= 1; ++decade) {
        const double m = std::pow(10.0, decade) * unit_m;
        if (m < 0.99 * axes.least_m || m > 1.01 * axes.most_m) {
            continue;
        }
        const float y = axes.y(m);
        list.AddLine({axes.low.x, y}, {axes.high.x, y}, page.ink().grid, 1.0F);
        if (labelled - y < 1.1F * h) {
            continue;
        }
        labelled = y;
        const std::string words = figure(decade);
        const ImVec2 extent = text_size(theme.note, words);
        draw_text(list, theme.note, {axes.low.x - extent.x - 0.3F * h, y - 0.5F * extent.y}, page.ink().quiet, words);
    }
    const auto first = std::ranges::find_if(w.shrank, [](const field::KnowableThen& t) { return t.bound.known; });
    const float known_from = first == w.shrank.end() ? axes.high.x : axes.x(first->tick);
    if (known_from - axes.low.x > text_size(theme.note, "not yet knowable").x + h) {
        draw_text(list, theme.note, axes.low + ImVec2{0.4F * h, 0.3F * h}, page.ink().quiet, "not yet knowable");
    }
    draw_curve(page, w, axes, true);
    draw_curve(page, w, axes, false);
    const float below = axes.high.y + 0.75F * h;
    for (const field::Mark& mark : page.exercise.notebook.marks) {
        const float x = axes.x(mark.tick);
        list.AddLine({x, axes.low.y}, {x, axes.high.y}, with_alpha(page.ink().survey, 0.35F), 1.0F);
        draw_mark_symbol(list, theme, {x, below}, 0.36F * h, mark.kind);
    }
    for (const field::Reading& reading : page.exercise.notebook.readings) {
        const float x = axes.x(reading.tick);
        list.AddLine({x, axes.high.y}, {x, axes.high.y + 0.3F * h}, page.ink().ink, 1.0F);
        draw_text(list, theme.note, {x - 0.25F * h, axes.high.y + 1.25F * h}, page.ink().ink, "R");
    }
    draw_text(list, theme.note, {axes.low.x, axes.high.y + 1.5F * h}, page.ink().quiet, "0:00");
    const std::string end = clock_text(page.exercise.tick);
    draw_text(list, theme.note, {axes.high.x - text_size(theme.note, end).x, axes.high.y + 1.5F * h}, page.ink().quiet,
              end);
    ImGui::Dummy(size);
}

} // namespace

void debrief_known(const DebriefParts& page, ImVec2 size) {
    if (!page.state.known) {
        page.state.known = std::make_shared<const WhatCouldBeKnown>(
            field::what_could_be_known(page.setting, page.exercise, page.score));
    }
    const WhatCouldBeKnown& w = *page.state.known;
    const float h = page.h();
    const ImVec2 start = ImGui::GetCursorPos();
    const float graph = w.any ? std::floor(std::clamp(0.3F * size.y, 7.0F * h, 12.0F * h)) : 0.0F;
    const float upper = size.y - graph - (w.any ? 0.5F * h : 0.0F);
    const float left = std::floor(0.48F * size.x);
    draw_plan_part(page, w, {left, upper});
    ImGui::SetCursorPos({start.x + left + 0.6F * h, start.y});
    draw_words(page, w, {size.x - left - 0.6F * h, upper});
    if (w.any) {
        ImGui::SetCursorPos({start.x, start.y + upper + 0.5F * h});
        draw_shrank(page, w, {size.x, graph});
    }
}

} // namespace sondeyard::ui
