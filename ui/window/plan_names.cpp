// What is written on the ground: names of areas, metres along the edges.
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

namespace sondeyard::ui {

namespace {

// The roomiest places of the part that can be seen, best first, for the name to stand on.
std::vector<ImVec2> roomy_places(const Sheet& sheet, const field::Polygon& polygon, ImVec2 label) {
    const std::vector<ImVec2> outline = screen_of(sheet.view, polygon);
    Box seen = extent_of(outline);
    seen.low = {std::max(seen.low.x, sheet.box.low.x), std::max(seen.low.y, sheet.box.low.y)};
    seen.high = {std::min(seen.high.x, sheet.box.high.x), std::min(seen.high.y, sheet.box.high.y)};
    struct Place {
        double room;
        ImVec2 at;
    };
    std::vector<Place> places;
    constexpr int cells = 7;
    for (int i = 0; i < cells; ++i) {
        for (int j = 0; j < cells; ++j) {
            const ImVec2 p{seen.low.x + (seen.high.x - seen.low.x) * (static_cast<float>(i) + 0.5F) / cells,
                           seen.low.y + (seen.high.y - seen.low.y) * (static_cast<float>(j) + 0.5F) / cells};
            const glm::dvec2 yard = sheet.view.to_yard(p);
            if (!field::contains(polygon, yard)) {
                continue;
            }
            const double edge = field::distance_to_edge_m(polygon, yard) * sheet.view.px_per_m;
            const double rim = std::min({p.x - seen.low.x, seen.high.x - p.x, p.y - seen.low.y, seen.high.y - p.y});
            places.push_back({std::min(edge, rim), p - label * 0.5F});
        }
    }
    std::sort(places.begin(), places.end(), [](const Place& a, const Place& b) { return a.room > b.room; });
    std::vector<ImVec2> candidates;
    candidates.reserve(places.size() + 4);
    for (const Place& place : places) {
        candidates.push_back(place.at);
    }
    const Box whole = extent_of(outline);
    const float mid_x = (whole.low.x + whole.high.x - label.x) * 0.5F;
    const float mid_y = (whole.low.y + whole.high.y - label.y) * 0.5F;
    for (const ImVec2 beside : {ImVec2{mid_x, whole.high.y + 3}, ImVec2{mid_x, whole.low.y - label.y - 3},
                                ImVec2{whole.high.x + 4, mid_y}, ImVec2{whole.low.x - label.x - 4, mid_y}}) {
        candidates.push_back(beside);
    }
    return candidates;
}

} // namespace

// Metres along the sheet's lower and left edge, where the yard reaches them.
void draw_grid_figures(Sheet& sheet, double width_m, double length_m) {
    ImFont* font = sheet.theme.note;
    const float h = sheet.theme.h;
    const double unit_m = grid_unit_m(sheet);
    const double step = std::max(1.0, step_m(sheet.view.px_per_m * unit_m, 3.6 * h)); // in units
    const ImVec2 origin = sheet.at({0.0, 0.0});
    const ImVec2 far = sheet.at({width_m, length_m});
    const float below = std::min(origin.y + h * 0.2F, sheet.box.high.y - h * 1.0F);
    const ImVec2 nought = text_size(font, "0");
    for (int k = 0; k * step * unit_m <= width_m; ++k) {
        const double x = k * step * unit_m;
        const std::string figure = fmt::format("{:g}", k * step);
        const ImVec2 size = text_size(font, figure);
        const ImVec2 place{sheet.at({x, 0.0}).x - size.x * 0.5F, below};
        if (sheet.labels.place(size, std::array{place})) {
            draw_text_on_paper(sheet.list, font, place, sheet.ink().quiet, sheet.ink().paper, figure);
        }
    }
    for (int k = 1; k * step * unit_m <= length_m; ++k) {
        const double y = k * step * unit_m;
        const std::string figure = fmt::format("{:g}", k * step);
        const ImVec2 size = text_size(font, figure);
        const float left = std::max(origin.x - size.x - h * 0.35F, sheet.box.low.x + 3.0F);
        const ImVec2 place{left, sheet.at({0.0, y}).y - nought.y * 0.5F};
        if (place.x < far.x && sheet.labels.place(size, std::array{place})) {
            draw_text_on_paper(sheet.list, font, place, sheet.ink().quiet, sheet.ink().paper, figure);
        }
    }
}

bool name_area(Sheet& sheet, const field::Area& area) {
    if (area.name.empty() || area.outline_m.size() < 3) {
        return false;
    }
    const std::vector<ImVec2> outline = screen_of(sheet.view, area.outline_m);
    const Box whole = extent_of(outline);
    if (!whole.overlaps(sheet.box)) {
        return false;
    }
    const bool large = area.kind == field::AreaKind::house || area.kind == field::AreaKind::street;
    ImFont* font = large ? sheet.theme.text : sheet.theme.note;
    const ImVec2 size = text_size(font, area.name);
    // A name much larger than its thing says nothing at this scale.
    if (whole.high.x - whole.low.x + whole.high.y - whole.low.y < size.x * 0.8F) {
        return false;
    }
    std::vector<ImVec2> candidates = roomy_places(sheet, area.outline_m, size);
    if (area.kind != field::AreaKind::house && area.kind != field::AreaKind::shed) {
        std::erase_if(candidates, [&](ImVec2 at) { return sheet.labels.in_building(at + size * 0.5F); });
    }
    const auto place = sheet.labels.place(size, candidates);
    if (place) {
        draw_text_on_paper(sheet.list, font, *place, sheet.ink().ink, sheet.ink().paper, area.name);
    }
    return place.has_value();
}

} // namespace sondeyard::ui
