#include "ui/window/plan.hpp"

#include "ui/window/plan_sheet.hpp"

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

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
    if (content.notebook != nullptr) {
        keep_marks_free(sheet, *content.notebook);
    }
    if (content.seen != nullptr) {
        keep_operator_free(sheet, *content.seen);
    }
}

} // namespace

// ---- The sheet

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
    for (const field::Area* area : areas) {
        if (area->kind == field::AreaKind::house || area->kind == field::AreaKind::shed) {
            sheet.labels.add_building(screen_of(view, area->outline_m));
        }
    }
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
