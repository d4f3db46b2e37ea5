// What the trainee does, on the sheet: marks and dig box, his trail, himself with the receiver at true size.
#include "sim/units.hpp"
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <string>

namespace sondeyard::ui {

namespace {

float bar_heading(const field::Mark& mark) { return static_cast<float>(mark.field_heading_deg.value_or(0.0) + 90.0); }

// The flag stands up from its foot, so more of it lies above the place than below.
Box mark_extent(ImVec2 at, float r, field::MarkKind kind) {
    Box box = grown({at, at}, r + 1.0F);
    if (kind == field::MarkKind::locate) {
        box.low.y -= r;
        box.high.x += r * 0.6F;
    }
    return box;
}

void draw_ellipse(Sheet& sheet, const glm::dvec2& centre, double heading_deg, double along_m, double across_m,
                  ImU32 fill, ImU32 edge) {
    const glm::dvec2 ahead = field::direction_of(heading_deg);
    const glm::dvec2 right = field::direction_of(heading_deg + 90.0);
    std::array<ImVec2, 20> ring;
    for (std::size_t k = 0; k < ring.size(); ++k) {
        const double a = 6.283185307179586 * static_cast<double>(k) / static_cast<double>(ring.size());
        ring[k] = sheet.at(centre + ahead * (along_m * std::cos(a)) + right * (across_m * std::sin(a)));
    }
    sheet.list.AddConvexPolyFilled(ring.data(), static_cast<int>(ring.size()), fill);
    sheet.list.AddPolyline(ring.data(), static_cast<int>(ring.size()), edge, ImDrawFlags_Closed, 1.0F);
}

} // namespace

// ---- Marks and dig box

void draw_mark_symbol(ImDrawList& list, const Theme& theme, ImVec2 at, float radius, field::MarkKind kind,
                      float level_bar_heading_deg) {
    const Palette& ink = theme.palette;
    const float r = radius;
    const float line = r > 9.0F ? 3.0F : 2.0F;
    switch (kind) {
    case field::MarkKind::plumb: {
        const std::array<ImVec2, 4> square = {{{at.x, at.y - r}, {at.x + r, at.y}, {at.x, at.y + r}, {at.x - r, at.y}}};
        list.AddConvexPolyFilled(square.data(), 4, with_alpha(ink.paper, 0.8F));
        list.AddPolyline(square.data(), 4, ink.survey, ImDrawFlags_Closed, line);
        list.AddCircleFilled(at, std::max(1.5F, r * 0.22F), ink.survey, 8);
        break;
    }
    case field::MarkKind::level: {
        const glm::dvec2 d = field::direction_of(static_cast<double>(level_bar_heading_deg));
        const ImVec2 along{static_cast<float>(d.x), static_cast<float>(-d.y)};
        const float half = r * 1.3F;
        list.AddLine(at - along * (half + 2.0F), at + along * (half + 2.0F), with_alpha(ink.paper, 0.8F), line + 4.0F);
        list.AddLine(at - along * half, at + along * half, ink.survey, line + 1.0F);
        const ImVec2 across = square_to(along);
        list.AddLine(at - across * (r * 0.45F), at + across * (r * 0.45F), ink.survey, 1.0F);
        break;
    }
    case field::MarkKind::peak:
        list.AddCircleFilled(at, r, with_alpha(ink.paper, 0.6F), 24);
        list.AddCircle(at, r, ink.survey, 24, line);
        list.AddCircleFilled(at, 1.5F, ink.survey, 8);
        break;
    case field::MarkKind::locate: {
        // A pin flag seen a little from the side: its foot is the place.
        const ImVec2 top{at.x, at.y - 2.0F * r};
        list.AddLine(at, top, ink.paper, 4.0F);
        list.AddTriangleFilled({top.x - 1, top.y - 1.5F}, {top.x + 1.75F * r, top.y + 0.6F * r},
                               {top.x - 1, top.y + 1.3F * r}, ink.paper);
        list.AddTriangleFilled(top, {top.x + 1.5F * r, top.y + 0.6F * r}, {top.x, top.y + 1.15F * r}, ink.sewer);
        list.AddLine(at, top, ink.sewer, 2.0F);
        list.AddCircleFilled(at, std::max(2.5F, r * 0.28F), ink.sewer, 12);
        break;
    }
    }
}

void draw_marks(Sheet& sheet, const field::Notebook& notebook) {
    const float r = mark_radius_px(sheet.view, sheet.theme.h);
    for (const field::Mark& mark : notebook.marks) {
        const ImVec2 at = sheet.at(mark.place_m);
        if (sheet.sees(at, 3.0F * r)) {
            draw_mark_symbol(sheet.list, sheet.theme, at, r, mark.kind, bar_heading(mark));
        }
    }
}

void keep_marks_free(Sheet& sheet, const field::Notebook& notebook) {
    const float r = mark_radius_px(sheet.view, sheet.theme.h);
    for (const field::Mark& mark : notebook.marks) {
        sheet.labels.take(mark_extent(sheet.at(mark.place_m), r, mark.kind));
    }
}

// Names beside the marks only where there is room: the shapes say it already.
void name_marks(Sheet& sheet, const field::Notebook& notebook) {
    const float r = mark_radius_px(sheet.view, sheet.theme.h);
    std::vector<field::Mark> order; // the locate first: its name matters most
    for (const bool locates : {true, false}) {
        std::copy_if(notebook.marks.begin(), notebook.marks.end(), std::back_inserter(order),
                     [&](const field::Mark& mark) { return (mark.kind == field::MarkKind::locate) == locates; });
    }
    for (const field::Mark& mark : order) {
        const ImVec2 at = sheet.at(mark.place_m);
        if (!sheet.sees(at, 0.0F)) {
            continue;
        }
        const bool locate = mark.kind == field::MarkKind::locate;
        std::string words{locate ? "locate" : field::name_of(mark.kind)};
        if (locate && notebook.depth_call_m) {
            words += " " + length_words(sheet.theme, *notebook.depth_call_m);
        }
        name_point(sheet, at, r * 1.4F, locate ? sheet.ink().sewer : sheet.ink().survey, words, locate);
    }
}

void draw_dig_box(Sheet& sheet, const field::DigBox& dig) {
    const std::vector<ImVec2> outline =
        screen_of(sheet.view, field::rectangle(dig.centre_m, dig.heading_deg, dig.length_m, dig.width_m));
    const bool day = sheet.theme.choice == ThemeChoice::day;
    fill_polygon(sheet.list, outline, with_alpha(sheet.ink().excavation, day ? 0.45F : 0.09F));
    closed_line(sheet.list, outline, sheet.ink().excavation_edge, 4.0F);
    closed_line(sheet.list, outline, sheet.ink().excavation, 2.0F);
    std::string words = sheet.theme.units == field::Units::feet
                            ? fmt::format("dig {} x {}", length_words(sheet.theme, dig.length_m),
                                          length_words(sheet.theme, dig.width_m))
                            : fmt::format("dig {:.1f} x {:.1f} m", dig.length_m, dig.width_m);
    if (dig.depth_m > 0.0) {
        words += sheet.theme.units == field::Units::feet
                     ? fmt::format(", {} deep", length_words(sheet.theme, dig.depth_m))
                     : fmt::format(", {:.2f} deep", dig.depth_m);
    }
    if (dig.method != field::DigMethod::none) {
        words += fmt::format(", {}", field::name_of(dig.method));
    }
    const Box whole = extent_of(outline);
    const ImVec2 half = (whole.high - whole.low) * 0.5F;
    ImFont* font = sheet.theme.note;
    const ImVec2 size = text_size(font, words);
    const ImVec2 centre = (whole.low + whole.high) * 0.5F;
    const float gap = 0.3F * sheet.theme.h;
    const std::array<ImVec2, 8> candidates = {{{centre.x - size.x * 0.5F, whole.high.y + gap},
                                               {centre.x - size.x * 0.5F, whole.low.y - size.y - gap},
                                               {centre.x + half.x + gap, centre.y - size.y * 0.5F},
                                               {centre.x - half.x - gap - size.x, centre.y - size.y * 0.5F},
                                               {whole.low.x, whole.high.y + gap},
                                               {whole.high.x - size.x, whole.high.y + gap},
                                               {centre.x + half.x + gap, whole.high.y - size.y},
                                               {centre.x + half.x + gap, whole.low.y}}};
    if (const auto place = sheet.labels.place(size, candidates)) {
        draw_text_on_paper(sheet.list, font, *place, sheet.ink().ink, sheet.ink().paper, words);
    }
}

// ---- Trail

// One polyline, thinned to what the eye can tell apart.
void draw_trail(Sheet& sheet, std::span<const field::TrailPoint> trail, float strength) {
    constexpr std::size_t most_points = 6000;
    const float least = trail.size() > most_points ? 3.0F : 2.0F;
    const ImU32 colour = with_alpha(sheet.ink().trail, strength);
    std::vector<ImVec2> points;
    for (std::size_t i = 0; i < trail.size(); ++i) {
        const ImVec2 p = sheet.at(trail[i].tip_m);
        if (points.empty() || length(p - points.back()) >= least || i + 1 == trail.size()) {
            points.push_back(p);
            if (points.size() == most_points) { // 16-bit indices: a new stroke that starts where this one ends
                open_line(sheet.list, points, colour, 1.0F);
                points = {p};
            }
        }
    }
    if (points.size() > 1) {
        open_line(sheet.list, points, colour, 1.0F);
    }
}

// A stroke for every run of one colour, on an edge that keeps the palest and the darkest of them apart from the ground.
void draw_coloured_trail(Sheet& sheet, std::span<const field::TrailPoint> trail, std::span<const ImU32> colours) {
    const float least = trail.size() > 6000 ? 3.0F : 2.0F;
    struct Point {
        ImVec2 at;
        ImU32 colour;
    };
    std::vector<Point> points;
    for (std::size_t i = 0; i < trail.size(); ++i) {
        const ImVec2 p = sheet.at(trail[i].tip_m);
        if (points.empty() || length(p - points.back().at) >= least || i + 1 == trail.size()) {
            points.push_back({p, colours[i]});
        }
    }
    const auto strokes = [&](auto&& colour_of, float thickness) {
        std::vector<ImVec2> stroke;
        for (std::size_t i = 0; i < points.size(); ++i) {
            stroke.push_back(points[i].at);
            const bool ends = i + 1 == points.size() || stroke.size() == 4000 || // 16-bit indices
                              colour_of(points[i + 1]) != colour_of(points[i]);
            if (ends && i + 1 < points.size()) {
                stroke.push_back(points[i + 1].at);
            }
            if (ends && stroke.size() > 1) {
                open_line(sheet.list, stroke, colour_of(points[i]), thickness);
            }
            if (ends) {
                stroke.clear();
            }
        }
    };
    const ImU32 edge = with_alpha(sheet.ink().ink, 0.45F);
    strokes([&](const Point&) { return edge; }, 4.5F);
    strokes([](const Point& p) { return p.colour; }, 3.0F);
}

// ---- The operator at true size

void draw_tip(Sheet& sheet, const field::Observation& seen) {
    const float h = sheet.theme.h;
    const ImVec2 tip = sheet.at(seen.tip_m);
    const ImU32 ink = sheet.ink().ink;
    const bool down = seen.tip_height_m <= field::tip_down_m;
    const float r = std::max(sheet.px(0.03), 3.0F);
    // Full when it stands on the ground, hollow when it is held up.
    sheet.list.AddCircleFilled(tip, r, down ? ink : sheet.ink().paper, 16);
    sheet.list.AddCircle(tip, r, ink, 16, 2.0F);
    const bool fine = sheet.view.px_per_m > fine_px_per_m;
    const float from = r + (fine ? 3.0F : 2.0F);
    const float to = fine ? 1.8F * h : 0.55F * h;
    for (const ImVec2 way : {ImVec2{1, 0}, ImVec2{-1, 0}, ImVec2{0, 1}, ImVec2{0, -1}}) {
        const ImVec2 a = tip + way * from;
        const ImVec2 b = tip + way * (from + to);
        sheet.list.AddLine(a, b, with_alpha(sheet.ink().paper, 0.8F), 3.0F);
        sheet.list.AddLine(a, b, ink, 1.0F);
    }
}

void draw_operator(Sheet& sheet, const field::Observation& seen) {
    const ImU32 ink = sheet.ink().ink;
    const ImU32 quiet = sheet.ink().quiet;
    const glm::dvec2 ahead = field::direction_of(seen.facing_deg);
    const glm::dvec2 right = field::direction_of(seen.facing_deg + 90.0);
    const ImVec2 feet = sheet.at(seen.feet_m);
    sheet.list.AddCircle(feet, sheet.px(field::reach_m), with_alpha(quiet, 0.7F), 64, 1.0F);
    const ImU32 shoe = mix(sheet.ink().paper, quiet, 0.8F);
    for (const double side : {-0.11, 0.11}) {
        draw_ellipse(sheet, seen.feet_m + right * side + ahead * 0.08, seen.facing_deg, 0.14, 0.05, shoe, quiet);
    }
    draw_ellipse(sheet, seen.feet_m, seen.facing_deg, 0.12, 0.24, mix(sheet.ink().paper, quiet, 0.35F), ink);
    draw_ellipse(sheet, seen.feet_m + ahead * 0.02, seen.facing_deg, 0.10, 0.08, sheet.ink().paper, ink);
    // Which way he faces, also when he is only a few pixels tall.
    const float nose = std::max(sheet.px(0.30), 0.55F * sheet.theme.h);
    const ImVec2 way{static_cast<float>(ahead.x), static_cast<float>(-ahead.y)};
    draw_arrow(sheet.list, feet + way * std::max(sheet.px(0.14), 3.0F), feet + way * nose, ink, 1.0F,
               std::max(sheet.px(0.07), 0.28F * sheet.theme.h));
    // The receiver: mast seen from above with its lean, the grip where the hand holds it, an arm from the right
    // shoulder.
    constexpr double mast_m = 1.0;
    const double up = std::sin(sim::radians(seen.lean_forward_deg)) * mast_m;
    const double out = std::sin(sim::radians(seen.lean_right_deg)) * mast_m;
    const glm::dvec2 grip = seen.tip_m + ahead * up + right * out;
    const glm::dvec2 shoulder = seen.feet_m + right * 0.20;
    sheet.list.AddLine(sheet.at(shoulder), sheet.at(grip), mix(sheet.ink().paper, ink, 0.6F),
                       std::max(2.0F, sheet.px(0.07)));
    sheet.list.AddLine(sheet.at(grip), sheet.at(seen.tip_m), ink, std::max(2.0F, sheet.px(0.04)));
    const ImVec2 g = sheet.at(grip);
    const float half = std::max(sheet.px(0.06), 2.0F);
    const ImVec2 side = square_to(way);
    sheet.list.AddQuadFilled(g + way * half + side * half, g - way * half + side * half, g - way * half - side * half,
                             g + way * half - side * half, ink);
}

void keep_operator_free(Sheet& sheet, const field::Observation& seen) {
    const ImVec2 feet = sheet.at(seen.feet_m);
    sheet.labels.take(grown({feet, feet}, std::max(sheet.px(0.3), 6.0F)));
    const ImVec2 tip = sheet.at(seen.tip_m);
    sheet.labels.take(grown({tip, tip}, (sheet.view.px_per_m > fine_px_per_m ? 2.2F : 1.0F) * sheet.theme.h));
}

} // namespace sondeyard::ui
