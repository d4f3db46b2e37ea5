// The true plumb points, level line and peak, with their names.
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

namespace sondeyard::ui {

namespace {

float point_radius(const Sheet& sheet) { return 0.42F * sheet.theme.h; }

// A true point has the shape of its mark, in ink and filled: the trainee's marks are pink and open.
void draw_plumb(Sheet& sheet, ImVec2 at, float r) {
    const auto square = [at](float half) {
        return std::array<ImVec2, 4>{
            {{at.x, at.y - half}, {at.x + half, at.y}, {at.x, at.y + half}, {at.x - half, at.y}}};
    };
    sheet.list.AddConvexPolyFilled(square(r + 2.0F).data(), 4, sheet.ink().paper);
    sheet.list.AddConvexPolyFilled(square(r).data(), 4, sheet.ink().ink);
    sheet.list.AddCircleFilled(at, std::max(1.5F, 0.25F * r), sheet.ink().paper, 10);
}

void draw_peak(Sheet& sheet, ImVec2 at, float r) {
    sheet.list.AddCircle(at, r, sheet.ink().paper, 24, 5.0F);
    sheet.list.AddCircle(at, r, sheet.ink().ink, 24, 2.5F);
    sheet.list.AddCircleFilled(at, 2.0F, sheet.ink().ink, 8);
}

} // namespace

void draw_level_lines(Sheet& sheet, const field::TruePoints& points) {
    const float dash = 0.9F * sheet.theme.h;
    for (const std::vector<glm::dvec2>& line : points.level_line) {
        const std::vector<ImVec2> way = thinned(sheet, line, 2.0F);
        open_line(sheet.list, way, with_alpha(sheet.ink().paper, 0.8F), 4.0F);
        float done = 0.0F; // the dashes run on through its bends
        for (std::size_t i = 1; i < way.size(); ++i) {
            draw_dashes(sheet.list, way[i - 1], way[i], sheet.ink().ink, 2.0F, dash, 0.35F * dash, sheet.box, done);
            done += length(way[i] - way[i - 1]);
        }
    }
}

void draw_true_points(Sheet& sheet, const field::TruePoints& points) {
    const float r = point_radius(sheet);
    for (const field::TruePoint& point : points.plumb) {
        draw_plumb(sheet, sheet.at(point.place_m), r);
    }
    if (points.peak) {
        draw_peak(sheet, sheet.at(points.peak->place_m), 1.25F * r);
    }
}

void keep_true_points_free(Sheet& sheet, const field::TruePoints& points) {
    const float r = point_radius(sheet);
    const auto keep = [&](const field::TruePoint& point) {
        const ImVec2 at = sheet.at(point.place_m);
        sheet.labels.take(grown({at, at}, 1.3F * r));
    };
    std::ranges::for_each(points.plumb, keep);
    if (points.peak) {
        keep(*points.peak);
    }
}

void name_true_points(Sheet& sheet, const field::TruePoints& points) {
    const float r = point_radius(sheet);
    const auto name = [&](const field::TruePoint& point, std::string_view what) {
        const ImVec2 at = sheet.at(point.place_m);
        if (sheet.sees(at, 0.0F)) {
            name_point(sheet, at, 1.3F * r, sheet.ink().ink, fmt::format("{}, {:.1f} dBpT", what, point.dbpt), true);
        }
    };
    if (points.peak) {
        const auto at_peak = [&](const field::TruePoint& p) {
            return length(sheet.at(p.place_m) - sheet.at(points.peak->place_m)) < r;
        };
        const bool plumb_too = std::ranges::any_of(points.plumb, at_peak);
        name(*points.peak, plumb_too ? "true peak and plumb point" : "true peak");
        for (const field::TruePoint& point : points.plumb) {
            if (!at_peak(point)) {
                name(point, "true plumb point");
            }
        }
    }
    // The level line: once, at the first of some places along its longest piece that is free.
    const auto longest = std::ranges::max_element(points.level_line, {}, [](const auto& line) { return line.size(); });
    for (std::size_t k = 1; longest != points.level_line.end() && k < 32; ++k) {
        const ImVec2 at = sheet.at((*longest)[k * 13 % 32 * (longest->size() - 1) / 32]);
        const ImVec2 size = text_size(sheet.theme.note, "true level line");
        if (!sheet.sees(at, -2.0F * sheet.theme.h)) {
            continue;
        }
        if (const auto place = sheet.labels.place_beside(at, {4.0F, 4.0F}, size, 0.2F * sheet.theme.h)) {
            draw_text_on_paper(sheet.list, sheet.theme.note, *place, sheet.ink().ink, sheet.ink().paper,
                               "true level line");
            break;
        }
    }
}

} // namespace sondeyard::ui
