// Contour lines of the field map with their figures.
#include "ui/window/map_picture.hpp"
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <map>

namespace sondeyard::ui {

namespace {

constexpr float least_between_px = 1.5F; // points of a line nearer than this are one
constexpr int figures_a_level = 2;
constexpr int figures_in_all = 18;

bool in_sight(const Sheet& sheet, const std::vector<ImVec2>& points) {
    return points.size() > 1 && extent_of(points).overlaps(sheet.box);
}

float length_of(const std::vector<ImVec2>& points) {
    float sum = 0.0F;
    for (std::size_t i = 1; i < points.size(); ++i) {
        sum += length(points[i] - points[i - 1]);
    }
    return sum;
}

// The figure stands in a gap of its line, cut by a patch of paper; where all round is taken the line goes without.
bool set_figure(Sheet& sheet, const std::vector<ImVec2>& points, std::string_view figure) {
    const ImVec2 size = text_size(sheet.theme.note, figure);
    constexpr std::size_t tries = 24;
    for (std::size_t k = 0; k < tries; ++k) {
        // Spread over the line, so that neighbours' figures do not line up by chance.
        const ImVec2 at = points[(k * 7 + 5) % tries * (points.size() - 1) / tries];
        const ImVec2 low = at - size * 0.5F;
        if (!grown(sheet.box, -1.2F * sheet.theme.h).holds(at)) {
            continue;
        }
        const Box patch = grown({low, low + size}, 1.0F);
        if (sheet.labels.is_free(grown(patch, 0.3F * sheet.theme.h))) {
            sheet.labels.take(patch);
            draw_text_on_paper(sheet.list, sheet.theme.note, low, sheet.ink().ink, sheet.ink().paper, figure);
            return true;
        }
    }
    return false;
}

} // namespace

void draw_map_lines(Sheet& sheet, const MapPicture& map) {
    const ImU32 colour = with_alpha(sheet.ink().ink, 0.75F);
    for (const sim::Isoline& line : map.lines()) {
        const std::vector<ImVec2> points = thinned(sheet, line.points_m, least_between_px);
        if (in_sight(sheet, points)) {
            open_line(sheet.list, points, colour, 1.0F);
        }
    }
}

void name_map_lines(Sheet& sheet, const MapPicture& map) {
    struct Named {
        double level;
        std::vector<ImVec2> points;
        float length;
    };
    std::vector<Named> lines;
    for (const sim::Isoline& line : map.lines()) {
        std::vector<ImVec2> points = thinned(sheet, line.points_m, least_between_px);
        std::erase_if(points, [&](const ImVec2& p) { return !sheet.sees(p, 0.0F); });
        const float whole = points.size() > 1 ? length_of(points) : 0.0F;
        if (whole > 6.0F * sheet.theme.h) {
            lines.push_back({line.level, std::move(points), whole});
        }
    }
    std::ranges::sort(lines, std::greater{}, &Named::length);
    std::map<double, int> set;
    int all = 0;
    for (int round = 1; round <= figures_a_level; ++round) { // every level once before any twice
        for (const Named& line : lines) {
            if (all < figures_in_all && set[line.level] < round &&
                (round == 1 || line.length > 40.0F * sheet.theme.h) &&
                set_figure(sheet, line.points, fmt::format("{:.0f}", line.level))) {
                ++set[line.level];
                ++all;
            }
        }
    }
}

} // namespace sondeyard::ui
