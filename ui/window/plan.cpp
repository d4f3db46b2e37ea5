#include "ui/window/plan.hpp"

#include "sim/units.hpp"
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace sondeyard::ui {

namespace {

constexpr double least_px_per_m = 4.0;
constexpr double most_px_per_m = 100.0;

// ---- Marks, dig box, trail

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

void draw_marks(Sheet& sheet, const field::Notebook& notebook) {
    const float r = mark_radius_px(sheet.view, sheet.theme.h);
    for (const field::Mark& mark : notebook.marks) {
        const ImVec2 at = sheet.at(mark.place_m);
        if (sheet.sees(at, 3.0F * r)) {
            draw_mark_symbol(sheet.list, sheet.theme, at, r, mark.kind, bar_heading(mark));
        }
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

// ---- Furniture of the sheet

// Smaller on a small sheet, so that it never takes a fifth of it.
float arrow_unit(const Sheet& sheet) {
    return sheet.theme.h * std::clamp(sheet.view.size.y / (18.0F * sheet.theme.h), 0.6F, 1.0F);
}

Box north_arrow_box(const Sheet& sheet) {
    const float u = arrow_unit(sheet);
    const float letter = text_size(sheet.theme.text, "N").y;
    return {{sheet.box.high.x - 2.4F * u, sheet.box.low.y + 0.4F * u},
            {sheet.box.high.x - 0.6F * u, sheet.box.low.y + 3.3F * u + letter}};
}

void draw_north_arrow(Sheet& sheet) {
    const float u = arrow_unit(sheet);
    const Box box = north_arrow_box(sheet);
    const ImVec2 size = text_size(sheet.theme.text, "N");
    const float x = std::floor((box.low.x + box.high.x) * 0.5F) + 0.5F;
    const float top = box.low.y + size.y + 0.15F * u;
    const float foot = box.high.y - 0.2F * u;
    sheet.list.AddRectFilled(box.low, box.high, with_alpha(sheet.ink().paper, 0.8F));
    draw_text(sheet.list, sheet.theme.text, {x - size.x * 0.5F, box.low.y}, sheet.ink().ink, "N");
    sheet.list.AddLine({x, top}, {x, foot}, sheet.ink().ink, 1.0F);
    // Half full, half open, as on old plans.
    sheet.list.AddTriangleFilled({x, top}, {x, top + 1.5F * u}, {x - 0.42F * u, top + 1.75F * u}, sheet.ink().ink);
    sheet.list.AddTriangle({x, top}, {x, top + 1.5F * u}, {x + 0.42F * u, top + 1.75F * u}, sheet.ink().ink, 1.0F);
    sheet.list.AddLine({x - 0.35F * u, foot}, {x + 0.35F * u, foot}, sheet.ink().ink, 1.0F);
}

struct BarPlace {
    ScaleBar bar;
    Box box;
};

BarPlace scale_bar_place(const Sheet& sheet) {
    const float h = sheet.theme.h;
    BarPlace place;
    place.bar = scale_bar(sheet.view.px_per_m, std::min(11.0F * h, 0.3F * sheet.view.size.x), sheet.theme.units);
    const ImVec2 size = text_size(sheet.theme.note, place.bar.label);
    place.box.low = {sheet.box.low.x + 2.4F * h, sheet.box.high.y - 2.7F * h};
    place.box.high = place.box.low + ImVec2{place.bar.px + size.x + 1.1F * h, 1.2F * h};
    return place;
}

void draw_scale_bar(Sheet& sheet) {
    const float h = sheet.theme.h;
    const BarPlace place = scale_bar_place(sheet);
    sheet.list.AddRectFilled(place.box.low, place.box.high, with_alpha(sheet.ink().paper, 0.85F));
    const float x = std::floor(place.box.low.x + 0.4F * h);
    const float y = std::floor(place.box.low.y + 0.42F * h);
    const float thick = std::floor(0.4F * h);
    constexpr int fields = 5;
    for (int k = 0; k < fields; k += 2) {
        sheet.list.AddRectFilled({x + place.bar.px * static_cast<float>(k) / fields, y},
                                 {x + place.bar.px * static_cast<float>(k + 1) / fields, y + thick}, sheet.ink().ink);
    }
    sheet.list.AddRect({x, y}, {x + place.bar.px, y + thick}, sheet.ink().ink, 0.0F, 0, 1.0F);
    draw_text(sheet.list, sheet.theme.note, {x + place.bar.px + 0.4F * h, place.box.low.y + 0.1F * h}, sheet.ink().ink,
              place.bar.label);
}

// Places that must stay readable are taken before any name is set.
void keep_free(Sheet& sheet, const PlanContent& content) {
    sheet.labels.take(north_arrow_box(sheet));
    sheet.labels.take(scale_bar_place(sheet).box);
    const float r = mark_radius_px(sheet.view, sheet.theme.h);
    if (content.notebook != nullptr) {
        for (const field::Mark& mark : content.notebook->marks) {
            sheet.labels.take(mark_extent(sheet.at(mark.place_m), r, mark.kind));
        }
    }
    if (content.seen != nullptr) {
        const float body = std::max(sheet.px(0.3), 6.0F);
        sheet.labels.take(grown({sheet.at(content.seen->feet_m), sheet.at(content.seen->feet_m)}, body));
        const ImVec2 tip = sheet.at(content.seen->tip_m);
        sheet.labels.take(grown({tip, tip}, (sheet.view.px_per_m > fine_px_per_m ? 2.2F : 1.0F) * sheet.theme.h));
    }
}

} // namespace

// ---- Shared by the parts of the sheet

Box extent_of(std::span<const ImVec2> points) {
    Box box{points.front(), points.front()};
    for (const ImVec2 p : points) {
        box.low = {std::min(box.low.x, p.x), std::min(box.low.y, p.y)};
        box.high = {std::max(box.high.x, p.x), std::max(box.high.y, p.y)};
    }
    return box;
}

std::vector<ImVec2> screen_of(const PlanView& view, std::span<const glm::dvec2> yard_m) {
    std::vector<ImVec2> points;
    points.reserve(yard_m.size());
    for (const glm::dvec2& p : yard_m) {
        points.push_back(view.to_screen(p));
    }
    return points;
}

void closed_line(ImDrawList& list, const std::vector<ImVec2>& points, ImU32 colour, float thickness) {
    list.AddPolyline(points.data(), static_cast<int>(points.size()), colour, ImDrawFlags_Closed, thickness);
}

void open_line(ImDrawList& list, const std::vector<ImVec2>& points, ImU32 colour, float thickness) {
    list.AddPolyline(points.data(), static_cast<int>(points.size()), colour, ImDrawFlags_None, thickness);
}

double step_m(double px_per_m, double least_px) {
    for (const double decade : {0.01, 0.1, 1.0, 10.0, 100.0}) {
        for (const double leading : {1.0, 2.0, 5.0}) {
            if (leading * decade * px_per_m >= least_px) {
                return leading * decade;
            }
        }
    }
    return 1000.0;
}

void name_point(Sheet& sheet, ImVec2 at, float half, ImU32 colour, std::string_view words, bool important) {
    ImFont* font = sheet.theme.note;
    const float gap = sheet.theme.h * 0.25F;
    const ImVec2 size = text_size(font, words);
    auto place = sheet.labels.place_beside(at, {half, half}, size, gap);
    for (const float farther : {1.0F, 2.0F, 3.2F}) {
        if (important && !place) {
            place = sheet.labels.place_beside(at, {half, half}, size, gap + farther * sheet.theme.h);
        }
    }
    if (place) {
        draw_text_on_paper(sheet.list, font, *place, colour, sheet.ink().paper, words);
    }
}

// ---- View

ImVec2 PlanView::to_screen(const glm::dvec2& yard_m) const {
    return {static_cast<float>(origin.x + 0.5 * size.x + (yard_m.x - centre_m.x) * px_per_m),
            static_cast<float>(origin.y + 0.5 * size.y - (yard_m.y - centre_m.y) * px_per_m)};
}

glm::dvec2 PlanView::to_yard(const ImVec2& screen) const {
    return {centre_m.x + (static_cast<double>(screen.x) - origin.x - 0.5 * size.x) / px_per_m,
            centre_m.y - (static_cast<double>(screen.y) - origin.y - 0.5 * size.y) / px_per_m};
}

void PlanView::zoom_about(const ImVec2& screen, double factor) {
    const glm::dvec2 kept = to_yard(screen);
    px_per_m = std::clamp(px_per_m * factor, least_px_per_m, most_px_per_m);
    centre_m += kept - to_yard(screen);
}

void PlanView::fit(const glm::dvec2& low_m, const glm::dvec2& high_m) {
    constexpr double margin = 0.06; // of the sheet, on each side
    centre_m = 0.5 * (low_m + high_m);
    const glm::dvec2 wanted = glm::max(high_m - low_m, glm::dvec2{0.1});
    const double room = 1.0 - 2.0 * margin;
    const double scale = std::min(size.x * room / wanted.x, size.y * room / wanted.y);
    // A small sheet may need less than the smallest scale one can zoom to by hand: everything shown comes first.
    px_per_m = std::clamp(scale, 0.5, most_px_per_m);
}

ScaleBar scale_bar(double px_per_m, float longest_px, field::Units units) {
    ScaleBar bar{0.01, 0.0F, {}};
    const auto take = [&](double metres, std::string label) {
        if (metres * px_per_m <= longest_px) {
            bar.metres = metres;
            bar.label = std::move(label);
        }
    };
    if (units == field::Units::feet) {
        bar = {0.5 * field::metres_per_inch, 0.0F, "1/2 in"};
        for (const int inches : {1, 2, 3, 6}) {
            take(inches * field::metres_per_inch, fmt::format("{} in", inches));
        }
        for (const int feet : {1, 2, 5, 10, 20, 50, 100, 200}) {
            take(feet * field::metres_per_foot, fmt::format("{} ft", feet));
        }
    } else {
        bar.label = "1 cm";
        for (const double metres : {0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0}) {
            take(metres, metres < 1.0 ? fmt::format("{:.0f} cm", metres * 100.0) : fmt::format("{:.0f} m", metres));
        }
    }
    bar.px = static_cast<float>(bar.metres * px_per_m);
    return bar;
}

ImU32 line_colour(const Palette& palette, field::LineKind kind) {
    switch (kind) {
    case field::LineKind::electric:
        return palette.electric;
    case field::LineKind::gas:
        return palette.gas;
    case field::LineKind::communication:
        return palette.communication;
    case field::LineKind::water:
        return palette.water;
    case field::LineKind::reclaimed_water:
        return palette.reclaimed;
    case field::LineKind::sewer:
        return palette.sewer;
    }
    return palette.ink;
}

char line_letter(field::LineKind kind) {
    switch (kind) {
    case field::LineKind::electric:
        return 'E';
    case field::LineKind::gas:
        return 'G';
    case field::LineKind::communication:
        return 'C';
    case field::LineKind::water:
        return 'W';
    case field::LineKind::reclaimed_water:
        return 'R';
    case field::LineKind::sewer:
        return 'S';
    }
    return '?';
}

float mark_radius_px(const PlanView& view, float h) {
    const auto true_size = static_cast<float>(mark_radius_m * view.px_per_m);
    return view.px_per_m > fine_px_per_m ? true_size : std::max(true_size, 0.4F * h);
}

bool located_apart(const field::LocatedSonde& located) { return std::abs(located.cable.sonde_m) > 0.02; }

PlanExtent debrief_extent(const field::Setting& truth, const field::Notebook& notebook, const field::Score* score,
                          const field::TruePoints* points) {
    const glm::dvec2 sonde = field::plan(truth.world.sonde.position_m);
    const glm::dvec2 target = field::plan(field::dig_target(truth.world).centre_m);
    PlanExtent extent{glm::min(sonde, target), glm::max(sonde, target)};
    const auto include = [&](const glm::dvec2& p) {
        extent.low_m = glm::min(extent.low_m, p);
        extent.high_m = glm::max(extent.high_m, p);
    };
    if (const field::Mark* locate = field::find_last(notebook, field::MarkKind::locate)) {
        include(locate->place_m);
    }
    if (score != nullptr && located_apart(score->located)) {
        include(field::plan(score->located.then.position_m));
    }
    if (notebook.dig) {
        for (const glm::dvec2& p : field::rectangle(notebook.dig->centre_m, notebook.dig->heading_deg,
                                                    notebook.dig->length_m, notebook.dig->width_m)) {
            include(p);
        }
    }
    const double near = 2.0 * field::depth_m(truth.world) + 0.5; // plumb points lie within 0.71 depth of a level sonde
    for (const field::Mark& mark : notebook.marks) {
        if (glm::length(mark.place_m - sonde) <= near) {
            include(mark.place_m);
        }
    }
    for (std::size_t k = 0; points != nullptr && k < points->plumb.size(); ++k) {
        if (glm::length(points->plumb[k].place_m - sonde) <= near) {
            include(points->plumb[k].place_m);
        }
    }
    const glm::dvec2 room = glm::max(glm::dvec2{0.4}, 0.5 * (glm::dvec2{3.0} - (extent.high_m - extent.low_m)));
    return {extent.low_m - room, extent.high_m + room};
}

// ---- The sheet

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

void draw_plan(ImDrawList& list, const Theme& theme, const PlanView& view, const PlanContent& content) {
    if (content.brief == nullptr || view.size.x < 1.0F || view.size.y < 1.0F) {
        return;
    }
    const field::Brief& brief = *content.brief;
    const Box box{view.origin, view.origin + view.size};
    Sheet sheet{list, theme, view, box, LabelBoard(grown(box, -2.0F))};
    list.PushClipRect(box.low, box.high, true);
    const std::vector<const field::Area*> areas = by_layer(brief.areas);
    draw_ground(sheet, brief, areas);
    keep_free(sheet, content);
    const bool field_shown = content.truth != nullptr || content.field_allowed;
    const MapPicture* map = field_shown ? content.map : nullptr;
    const field::TruePoints* points = field_shown ? content.points : nullptr;
    if (map != nullptr) {
        draw_field_map(sheet, *map);
        draw_map_lines(sheet, *map);
        keep_map_legend_free(sheet, *map);
    }
    if (content.truth != nullptr) {
        draw_true_lines(sheet, content.truth->world);
    }
    for (const field::PaintedLine& line : brief.paint) {
        draw_paint(sheet, line.paint_m, line.kind);
    }
    if (content.truth != nullptr) {
        draw_true_run(sheet, content.truth->world);
    }
    if (points != nullptr) {
        draw_level_lines(sheet, *points);
        keep_true_points_free(sheet, *points);
    }
    draw_truck(sheet, brief.start_m, brief.start_facing_deg); // before the dig box, whose figures it must not cover
    if (brief.sheet.cleanout_m) {
        draw_cleanout(sheet, *brief.sheet.cleanout_m);
    }
    if (content.trail_colours.size() == content.trail.size() && !content.trail.empty()) {
        draw_coloured_trail(sheet, content.trail, content.trail_colours);
    } else {
        draw_trail(sheet, content.trail, content.truth != nullptr ? 0.45F : 0.75F); // fainter beside the truth
    }
    if (content.notebook != nullptr && content.notebook->dig) {
        draw_dig_box(sheet, *content.notebook->dig);
    }
    if (content.truth != nullptr) {
        if (content.score != nullptr && content.notebook != nullptr) {
            draw_error(sheet, *content.notebook, *content.score);
        }
        draw_target(sheet, content.truth->world);
        draw_other_sondes(sheet, content.truth->world);
        name_true_sonde(sheet, content.truth->world, content.score);
    }
    if (points != nullptr) {
        name_true_points(sheet, *points);
    }
    if (content.notebook != nullptr) {
        name_marks(sheet, *content.notebook);
    }
    for (const std::vector<glm::dvec3>& wires_m : brief.overhead_m) {
        draw_overhead(sheet, wires_m);
    }
    draw_clues(sheet, brief.clues);
    bool fence_named = false; // once is enough for all its sides
    for (const field::Area* area : areas) {
        const bool fence = area->kind == field::AreaKind::fence;
        if (!(fence && fence_named)) {
            const bool named = name_area(sheet, *area);
            fence_named = fence_named || (fence && named);
        }
    }
    if (content.truth != nullptr) {
        name_true_lines(sheet, content.truth->world);
    }
    if (map != nullptr) {
        name_map_lines(sheet, *map);
    }
    name_relief(sheet, brief);
    draw_grid_figures(sheet, brief.width_m, brief.length_m);
    draw_north_arrow(sheet);
    draw_scale_bar(sheet);
    if (map != nullptr) {
        draw_map_legend(sheet, *map);
    }
    if (content.seen != nullptr) {
        draw_operator(sheet, *content.seen);
    }
    if (points != nullptr) {
        draw_true_points(sheet, *points);
    }
    if (content.notebook != nullptr) {
        draw_marks(sheet, *content.notebook);
        if (content.truth != nullptr) {
            draw_true_sonde(sheet, content.truth->world, content.score);
            if (content.sonde_then != nullptr) {
                draw_sonde_then(sheet, content.truth->world, *content.sonde_then);
            }
        }
    }
    if (content.seen != nullptr) {
        draw_tip(sheet, *content.seen);
    }
    list.PopClipRect();
}

void draw_thumbnail(ImDrawList& list, const Theme& theme, ImVec2 origin, ImVec2 size, const field::Brief& brief) {
    PlanView view;
    view.origin = origin;
    view.size = size;
    view.fit({0.0, 0.0}, {brief.width_m, brief.length_m});
    const Palette& ink = theme.palette;
    list.PushClipRect(origin, origin + size, true);
    list.AddRect(view.to_screen({0.0, brief.length_m}), view.to_screen({brief.width_m, 0.0}), ink.quiet, 0.0F, 0, 1.0F);
    for (const field::Area* area : by_layer(brief.areas)) {
        if (area->outline_m.size() < 3) {
            continue;
        }
        const std::vector<ImVec2> outline = screen_of(view, area->outline_m);
        const bool built = area->kind == field::AreaKind::house || area->kind == field::AreaKind::shed;
        fill_polygon(list, outline, mix(ink.paper, built ? ink.ink : ink.hatch, 0.45F));
        if (built) {
            closed_line(list, outline, ink.ink, 1.0F);
        }
    }
    for (const field::PaintedLine& line : brief.paint) {
        const std::vector<ImVec2> points = screen_of(view, line.paint_m);
        if (points.size() > 1) {
            open_line(list, points, line_colour(ink, line.kind), 1.0F);
        }
    }
    if (brief.sheet.cleanout_m) {
        list.AddCircleFilled(view.to_screen(*brief.sheet.cleanout_m), 2.5F, ink.sewer, 10);
    }
    list.PopClipRect();
}

} // namespace sondeyard::ui
