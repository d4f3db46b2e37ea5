// Lines as the yard shows them: paint, wires, clues, cleanout; and the truck that came for them.
#include "ui/window/plan_sheet.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

void draw_clue_symbol(Sheet& sheet, const field::Clue& clue, ImVec2 c, float r) {
    ImDrawList& list = sheet.list;
    const ImU32 line = sheet.ink().ink;
    const auto box = [&](float w, float t) {
        list.AddRectFilled({c.x - w, c.y - t}, {c.x + w, c.y + t}, sheet.ink().paper);
        list.AddRect({c.x - w, c.y - t}, {c.x + w, c.y + t}, line, 0.0F, 0, 1.0F);
    };
    const auto ring = [&] {
        list.AddCircleFilled(c, r, sheet.ink().paper, 16);
        list.AddCircle(c, r, line, 16, 1.0F);
    };
    switch (clue.kind) {
    case field::ClueKind::gas_meter:
    case field::ClueKind::water_meter:
    case field::ClueKind::electric_meter:
        ring();
        list.AddLine(c, {c.x + r * 0.6F, c.y - r * 0.6F}, line, 1.0F);
        list.AddLine({c.x - r * 0.7F, c.y + r * 0.45F}, {c.x + r * 0.7F, c.y + r * 0.45F}, line, 1.0F);
        break;
    case field::ClueKind::pedestal:
        box(r * 0.65F, r);
        list.AddLine({c.x - r * 0.65F, c.y - r * 0.4F}, {c.x + r * 0.65F, c.y - r * 0.4F}, line, 1.0F);
        break;
    case field::ClueKind::grill:
        ring();
        for (const float x : {-0.4F, 0.0F, 0.4F}) {
            list.AddLine({c.x + r * x, c.y - r * 0.85F}, {c.x + r * x, c.y + r * 0.85F}, line, 1.0F);
        }
        break;
    case field::ClueKind::lit_outbuilding:
        ring();
        for (int k = 0; k < 8; ++k) {
            const float a = static_cast<float>(k) * 0.7853982F;
            const ImVec2 ray{std::cos(a), std::sin(a)};
            list.AddLine(c + ray * (r * 1.2F), c + ray * (r * 1.65F), line, 1.0F);
        }
        break;
    case field::ClueKind::irrigation_valve:
        box(r * 0.9F, r * 0.9F);
        list.AddLine({c.x - r * 0.9F, c.y - r * 0.9F}, {c.x + r * 0.9F, c.y + r * 0.9F}, line, 1.0F);
        list.AddLine({c.x - r * 0.9F, c.y + r * 0.9F}, {c.x + r * 0.9F, c.y - r * 0.9F}, line, 1.0F);
        break;
    }
}

} // namespace

// Dashes of spray paint half a metre long; the letter of the line every few metres, in the gap of the dashes.
void draw_paint(Sheet& sheet, std::span<const glm::dvec2> paint, field::LineKind kind) {
    const ImU32 colour = line_colour(sheet.ink(), kind);
    ImFont* font = sheet.theme.note;
    const std::array<char, 2> letter = {line_letter(kind), 0};
    const ImVec2 size = text_size(font, letter.data());
    const float dash = std::max(sheet.px(0.5), 6.0F);
    const double between_m = step_m(sheet.view.px_per_m, 9.0 * sheet.theme.h);
    double walked = 0.0;
    double next_letter = 0.4 * between_m;
    for (std::size_t i = 0; i + 1 < paint.size(); ++i) {
        const double piece = glm::length(paint[i + 1] - paint[i]);
        if (piece <= 0.0) {
            continue;
        }
        draw_dashes(sheet.list, sheet.at(paint[i]), sheet.at(paint[i + 1]), colour, 2.0F, dash, dash * 0.7F, sheet.box);
        while (next_letter <= walked + piece) {
            const glm::dvec2 place = paint[i] + (paint[i + 1] - paint[i]) * ((next_letter - walked) / piece);
            const ImVec2 at = sheet.at(place) - size * 0.5F;
            if (sheet.labels.place(size, std::array{at})) {
                sheet.list.AddRectFilled(at - ImVec2{2, 0}, at + size + ImVec2{2, 0}, sheet.ink().paper);
                draw_text(sheet.list, font, at, colour, letter.data());
            }
            next_letter += between_m;
        }
        walked += piece;
    }
}

void draw_overhead(Sheet& sheet, std::span<const glm::dvec3> wires_m) {
    constexpr std::string_view name = "wires overhead";
    const float h = sheet.theme.h;
    const ImVec2 size = text_size(sheet.theme.note, name);
    bool named = false;
    for (std::size_t i = 0; i + 1 < wires_m.size(); ++i) {
        const ImVec2 a = sheet.at(field::plan(wires_m[i]));
        const ImVec2 b = sheet.at(field::plan(wires_m[i + 1]));
        draw_dashes(sheet.list, a, b, sheet.ink().ink, 1.0F, 0.9F * h, 0.5F * h, sheet.box);
        for (int k = 1; k < 20 && !named; ++k) { // from the middle outward, since most of them leads out of the yard
            const int steps = k / 2;
            const float share = 0.5F + (k % 2 == 0 ? 0.025F : -0.025F) * static_cast<float>(steps);
            const ImVec2 at = a + (b - a) * share;
            if (sheet.sees(at, -2.0F * h)) {
                if (const auto place = sheet.labels.place_beside(at, {2, 2}, size, 4.0F)) {
                    draw_text_on_paper(sheet.list, sheet.theme.note, *place, sheet.ink().ink, sheet.ink().paper, name);
                    named = true;
                }
            }
        }
    }
}

void draw_clues(Sheet& sheet, const std::vector<field::Clue>& clues) {
    const float r = std::max(0.32F * sheet.theme.h, sheet.px(0.12));
    for (const field::Clue& clue : clues) {
        const ImVec2 at = sheet.at(clue.place_m);
        if (!sheet.sees(at, r)) {
            continue;
        }
        draw_clue_symbol(sheet, clue, at, r);
        sheet.labels.take(grown({at, at}, r));
        name_point(sheet, at, r * 1.3F, sheet.ink().quiet, field::name_of(clue.kind));
    }
}

void draw_cleanout(Sheet& sheet, const glm::dvec2& place) {
    const ImVec2 at = sheet.at(place);
    const float r = std::max(0.34F * sheet.theme.h, sheet.px(0.08));
    if (!sheet.sees(at, r)) {
        return;
    }
    sheet.list.AddCircleFilled(at, r, sheet.ink().paper, 24);
    sheet.list.AddCircle(at, r, sheet.ink().sewer, 24, 2.0F);
    sheet.list.AddCircleFilled(at, r * 0.35F, sheet.ink().sewer, 12);
    sheet.labels.take(grown({at, at}, r));
    name_point(sheet, at, r, sheet.ink().ink, "cleanout");
}

void draw_truck(Sheet& sheet, const glm::dvec2& start_m, double facing_deg) {
    // A hand truck with the tools, not a lorry: it must not hide the yard.
    const glm::dvec2 centre = start_m - 0.7 * field::direction_of(facing_deg);
    const field::Polygon body = field::rectangle(centre, facing_deg + 90.0, 1.2, 0.7);
    const std::vector<ImVec2> outline = screen_of(sheet.view, body);
    const ImVec2 at = sheet.at(centre);
    if (!sheet.sees(at, sheet.px(1.0))) {
        return;
    }
    sheet.list.AddConvexPolyFilled(outline.data(), static_cast<int>(outline.size()), sheet.ink().paper);
    closed_line(sheet.list, outline, sheet.ink().ink, 1.5F);
    sheet.list.AddLine(outline[0], outline[2], sheet.ink().quiet);
    sheet.list.AddLine(outline[1], outline[3], sheet.ink().quiet);
    const float half = std::max(0.3F * sheet.theme.h, sheet.px(0.6));
    sheet.labels.take(grown({at, at}, half));
    name_point(sheet, at, half, sheet.ink().ink, "truck");
}

} // namespace sondeyard::ui
