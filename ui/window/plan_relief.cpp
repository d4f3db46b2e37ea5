// The ground's shape on the plan, as a survey drawing shows it: contours with their heights, hachures down a bank,
// ticks on the low side of a wall. Heights count from where the operator started.
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string>

namespace sondeyard::ui {

namespace {

constexpr double cell_m = 0.5;        // contours of ground with steps are straight within it
constexpr double narrow_ramp_m = 0.5; // drawn as one line; wider ones as a bank
constexpr double kerb_m = 0.25;

struct Window { // the part of the yard that is on the sheet
    glm::dvec2 low_m{0.0};
    glm::dvec2 high_m{0.0};
    bool empty() const { return low_m.x >= high_m.x || low_m.y >= high_m.y; }
};

Window window_of(const Sheet& sheet, const field::Brief& brief) {
    const glm::dvec2 a = sheet.view.to_yard(sheet.box.low);
    const glm::dvec2 b = sheet.view.to_yard(sheet.box.high);
    return {{std::max(0.0, a.x), std::max(0.0, b.y)}, {std::min(brief.width_m, b.x), std::min(brief.length_m, a.y)}};
}

double interval_m(const field::Brief& brief) {
    return field::contour_interval_m(field::relief_m(brief.terrain, brief.width_m, brief.length_m));
}

std::vector<field::ContourPiece> contours_on(const Sheet& sheet, const field::Brief& brief) {
    const Window window = window_of(sheet, brief);
    if (window.empty()) {
        return {};
    }
    // A plane is cut exactly whatever the cell.
    const double cell = brief.terrain.steps.empty() ? 100.0 : cell_m;
    std::vector<field::ContourPiece> pieces =
        field::contours(brief.terrain, window.low_m, window.high_m, cell, interval_m(brief));
    // Along a wall or kerb they would all run in one line, which its own symbol is.
    std::erase_if(pieces, [&](const field::ContourPiece& piece) {
        const glm::dvec2 middle = 0.5 * (piece.from_m + piece.to_m);
        return std::ranges::any_of(brief.terrain.steps, [&](const field::GroundStep& step) {
            return step.ramp_m <= narrow_ramp_m && std::abs(field::across_m(step, middle)) < 0.5 * step.ramp_m + cell_m;
        });
    });
    return pieces;
}

ImU32 contour_colour(const Palette& ink) { return mix(mix(ink.quiet, ink.gas, 0.4F), ink.paper, 0.15F); }

bool is_metre(double height_m) { return std::abs(height_m - std::round(height_m)) < 1e-6; }

glm::dvec2 nearest_on(const field::ContourPiece& piece, const glm::dvec2& p) {
    const glm::dvec2 along = piece.to_m - piece.from_m;
    const double square = glm::dot(along, along);
    const double t = square > 0.0 ? std::clamp(glm::dot(p - piece.from_m, along) / square, 0.0, 1.0) : 0.0;
    return piece.from_m + t * along;
}

bool under_a_roof(const field::Brief& brief, const glm::dvec2& p) {
    return std::ranges::any_of(brief.areas, [&](const field::Area& area) {
        return (area.kind == field::AreaKind::house || area.kind == field::AreaKind::shed) &&
               field::contains(area.outline_m, p);
    });
}

// The edge where a step is high, and the way down from it.
struct Edge {
    glm::dvec2 from_m{0.0};
    glm::dvec2 to_m{0.0};
    glm::dvec2 down{0.0};
};
std::optional<Edge> high_edge(const field::Brief& brief, const field::GroundStep& step) {
    const double sign = step.rise_m < 0.0 ? -1.0 : 1.0;
    const auto line = field::line_in_yard(step, sign * 0.5 * step.ramp_m, brief.width_m, brief.length_m);
    if (!line) {
        return std::nullopt;
    }
    return Edge{line->first, line->second, -sign * field::direction_of(step.toward_deg)};
}

void draw_step(Sheet& sheet, const field::Brief& brief, const field::GroundStep& step) {
    const std::optional<Edge> edge = high_edge(brief, step);
    if (!edge) {
        return;
    }
    const bool narrow = step.ramp_m <= narrow_ramp_m;
    const ImU32 colour = narrow ? sheet.ink().ink : contour_colour(sheet.ink());
    sheet.list.AddLine(sheet.at(edge->from_m), sheet.at(edge->to_m), colour, field::is_wall(step) ? 3.0F : 1.0F);
    const double whole_m = glm::distance(edge->from_m, edge->to_m);
    const glm::dvec2 along = (edge->to_m - edge->from_m) / whole_m;
    const double every_m = std::max(narrow ? 0.4 : 0.5, 9.0 / sheet.view.px_per_m);
    const double tick_m = narrow ? std::max(0.15, 5.0 / sheet.view.px_per_m) : step.ramp_m;
    const auto count = static_cast<int>(whole_m / every_m);
    for (int k = 0; k <= count; ++k) {
        const glm::dvec2 top = edge->from_m + (k + 0.5) * every_m * along;
        const ImVec2 at = sheet.at(top);
        const double long_m = narrow || k % 2 == 0 ? tick_m : 0.5 * tick_m; // a bank's hachures, long and short
        if ((k + 0.5) * every_m < whole_m && sheet.sees(at, sheet.px(tick_m))) {
            sheet.list.AddLine(at, sheet.at(top + long_m * edge->down), colour, 1.0F);
        }
    }
}

std::string step_words(const Theme& theme, const field::GroundStep& step) {
    const double high_m = std::abs(step.rise_m);
    const std::string_view what = field::is_wall(step)          ? "wall"
                                  : step.ramp_m > narrow_ramp_m ? "bank"
                                  : high_m <= kerb_m            ? "kerb"
                                                                : "step";
    return fmt::format("{} {}", what, length_words(theme, high_m));
}

} // namespace

void draw_relief(Sheet& sheet, const field::Brief& brief) {
    if (field::is_flat(brief.terrain)) {
        return;
    }
    const ImU32 colour = contour_colour(sheet.ink());
    for (const field::ContourPiece& piece : contours_on(sheet, brief)) {
        sheet.list.AddLine(sheet.at(piece.from_m), sheet.at(piece.to_m), colour,
                           is_metre(piece.height_m) ? 1.6F : 1.0F);
    }
    for (const field::GroundStep& step : brief.terrain.steps) {
        draw_step(sheet, brief, step);
    }
    for (const field::Pad& pad : brief.terrain.pads) {
        closed_line(sheet.list, screen_of(sheet.view, pad.outline_m), sheet.ink().ink, 2.0F);
    }
}

void name_relief(Sheet& sheet, const field::Brief& brief) {
    if (field::is_flat(brief.terrain)) {
        return;
    }
    ImFont* font = sheet.theme.note;
    for (const field::GroundStep& step : brief.terrain.steps) {
        if (const std::optional<Edge> edge = high_edge(brief, step)) {
            for (const double share : {0.5, 0.3, 0.7, 0.15, 0.85}) {
                const ImVec2 at = sheet.at(edge->from_m + share * (edge->to_m - edge->from_m));
                const std::string words = step_words(sheet.theme, step);
                if (!sheet.sees(at, -8.0F)) {
                    continue;
                }
                if (const auto place = sheet.labels.place_beside(at, {4, 4}, text_size(font, words), 4.0F)) {
                    draw_text_on_paper(sheet.list, font, *place, sheet.ink().ink, sheet.ink().paper, words);
                    break;
                }
            }
        }
    }
    for (const field::Pad& pad : brief.terrain.pads) {
        name_point(sheet, sheet.at(pad.outline_m.front()), 3.0F, sheet.ink().ink,
                   fmt::format("slab {} up", length_words(sheet.theme, pad.rise_m)));
    }
    // One figure a level, in a row up the slope; which side of the sheet is free, the labels decide.
    const std::vector<field::ContourPiece> pieces = contours_on(sheet, brief);
    std::map<int, bool> named;
    for (const glm::vec2& share : {glm::vec2{0.3F, 0.6F}, {0.7F, 0.4F}, {0.15F, 0.25F}, {0.85F, 0.8F}}) {
        const glm::dvec2 guide = sheet.view.to_yard({sheet.box.low.x + share.x * (sheet.box.high.x - sheet.box.low.x),
                                                     sheet.box.low.y + share.y * (sheet.box.high.y - sheet.box.low.y)});
        std::map<int, std::pair<double, glm::dvec2>> best; // by level: how far off, and where
        for (const field::ContourPiece& piece : pieces) {
            const glm::dvec2 p = nearest_on(piece, guide);
            const double off = glm::distance(p, guide);
            const auto [at, fresh] = best.try_emplace(static_cast<int>(std::lround(piece.height_m * 100.0)), off, p);
            if (!fresh && off < at->second.first) {
                at->second = {off, p};
            }
        }
        std::erase_if(best, [&](const auto& one) { return under_a_roof(brief, one.second.second); });
        for (const auto& [level, place] : best) {
            const std::string figure = level == 0 ? std::string("0.00") : fmt::format("{:+.2f}", 0.01 * level);
            const ImVec2 size = text_size(font, figure);
            const ImVec2 corner = sheet.at(place.second) - size * 0.5F;
            if (!named[level] && sheet.labels.place(size, std::array{corner})) {
                draw_text_on_paper(sheet.list, font, corner, contour_colour(sheet.ink()), sheet.ink().paper, figure);
                named[level] = true;
            }
        }
    }
}

} // namespace sondeyard::ui
