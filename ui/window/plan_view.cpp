// How the sheet is laid out: the view's scale and what it shows, lengths of its furniture, the uniform colours of lines;
// and the strokes and names that the sheet's parts share.
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

constexpr double least_px_per_m = 4.0;
constexpr double most_px_per_m = 100.0;

} // namespace

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

std::vector<ImVec2> thinned(const Sheet& sheet, std::span<const glm::dvec2> yard_m, float least_px) {
    std::vector<ImVec2> points;
    for (std::size_t i = 0; i < yard_m.size(); ++i) {
        const ImVec2 at = sheet.at(yard_m[i]);
        if (points.empty() || length(at - points.back()) >= least_px || i + 1 == yard_m.size()) {
            points.push_back(at);
        }
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
    if (!place) {
        return;
    }
    // What does not stand beside its thing is led to it by a thin line.
    const ImVec2 end{std::clamp(at.x, place->x, place->x + size.x), std::clamp(at.y, place->y, place->y + size.y)};
    const float way = length(end - at);
    if (way > 1.5F * half + gap) {
        sheet.list.AddLine(at + (end - at) * (half / way), end, with_alpha(colour, 0.7F), 1.0F);
    }
    draw_text_on_paper(sheet.list, font, *place, colour, sheet.ink().paper, words);
}

} // namespace sondeyard::ui
