#include "ui/window/plan_sheet.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

glm::dvec2 middle_of(std::span<const glm::dvec2> points) {
    glm::dvec2 sum{0.0};
    for (const glm::dvec2& p : points) {
        sum += p;
    }
    return sum / static_cast<double>(std::max<std::size_t>(points.size(), 1));
}

// A finer ladder for hatching, so that its density hardly changes with the zoom.
double hatch_step_m(double px_per_m, double least_px) {
    double step = 0.02;
    while (step * px_per_m < least_px) {
        step *= 1.3;
    }
    return step;
}

// ---- Hatching: anchored in the yard, so that it stays put under a pan

struct Span { // of a hatch line, along it
    double from, to;
};

// Where the line { p : dot(p, normal) = offset } runs inside the polygon, measured along `along`.
void crossings(const field::Polygon& polygon, const glm::dvec2& normal, const glm::dvec2& along, double offset,
               std::vector<double>& cuts) {
    cuts.clear();
    for (std::size_t i = 0; i < polygon.size(); ++i) {
        const glm::dvec2& a = polygon[i];
        const glm::dvec2& b = polygon[(i + 1) % polygon.size()];
        const double da = glm::dot(a, normal) - offset;
        const double db = glm::dot(b, normal) - offset;
        if ((da < 0.0) == (db < 0.0)) {
            continue;
        }
        cuts.push_back(glm::dot(a + (b - a) * (da / (da - db)), along));
    }
    std::sort(cuts.begin(), cuts.end());
}

void hatch(Sheet& sheet, const field::Polygon& polygon, double heading_deg, double spacing_px, ImU32 colour) {
    const glm::dvec2 along = field::direction_of(heading_deg);
    const glm::dvec2 normal{along.y, -along.x};
    const double spacing = hatch_step_m(sheet.view.px_per_m, spacing_px);
    double low = 1e300;
    double high = -1e300;
    for (const glm::dvec2& p : polygon) {
        low = std::min(low, glm::dot(p, normal));
        high = std::max(high, glm::dot(p, normal));
    }
    // Only what can be seen: the sheet's own circle.
    const glm::dvec2 centre = sheet.view.centre_m;
    const double radius = 0.5 * length(sheet.view.size) / sheet.view.px_per_m;
    low = std::max(low, glm::dot(centre, normal) - radius);
    high = std::min(high, glm::dot(centre, normal) + radius);
    const double left = glm::dot(centre, along) - radius;
    const double right = glm::dot(centre, along) + radius;
    std::vector<double> cuts;
    const auto last = static_cast<int>(std::floor(high / spacing));
    for (auto k = static_cast<int>(std::ceil(low / spacing)); k <= last; ++k) {
        const double offset = k * spacing;
        crossings(polygon, normal, along, offset, cuts);
        for (std::size_t i = 0; i + 1 < cuts.size(); i += 2) {
            const Span run{std::max(cuts[i], left), std::min(cuts[i + 1], right)};
            if (run.to > run.from) {
                sheet.list.AddLine(sheet.at(normal * offset + along * run.from),
                                   sheet.at(normal * offset + along * run.to), colour, 1.0F);
            }
        }
    }
}

// Calls put(screen place, row + column) on a staggered grid inside the polygon.
template <class Put>
void stipple(Sheet& sheet, const field::Polygon& polygon, double spacing_px, double clear_m, Put put) {
    const double spacing = hatch_step_m(sheet.view.px_per_m, spacing_px);
    const glm::dvec2 half{0.5 * sheet.view.size.x / sheet.view.px_per_m, 0.5 * sheet.view.size.y / sheet.view.px_per_m};
    glm::dvec2 polygon_low = polygon.front();
    glm::dvec2 polygon_high = polygon.front();
    for (const glm::dvec2& p : polygon) {
        polygon_low = glm::min(polygon_low, p);
        polygon_high = glm::max(polygon_high, p);
    }
    const glm::dvec2 low = glm::max(sheet.view.centre_m - half, polygon_low);
    const glm::dvec2 high = glm::min(sheet.view.centre_m + half, polygon_high);
    const auto first_row = static_cast<int>(std::ceil(low.y / spacing));
    const auto last_row = static_cast<int>(std::floor(high.y / spacing));
    for (int row = first_row; row <= last_row; ++row) {
        const double shift = row % 2 == 0 ? 0.0 : 0.5;
        const auto first = static_cast<int>(std::ceil(low.x / spacing - shift));
        const auto last = static_cast<int>(std::floor(high.x / spacing - shift));
        for (int column = first; column <= last; ++column) {
            const glm::dvec2 place{(column + shift) * spacing, row * spacing};
            if (field::contains(polygon, place) && field::distance_to_edge_m(polygon, place) > clear_m) {
                put(sheet.at(place), row + column);
            }
        }
    }
}

// ---- Ground: grid, property line

void draw_grid(Sheet& sheet, double width_m, double length_m) {
    const double unit_m = grid_unit_m(sheet);
    const double px_per_unit = sheet.view.px_per_m * unit_m;
    const bool fine = px_per_unit >= 13.0;
    const glm::dvec2 a = sheet.view.to_yard(sheet.box.low);
    const glm::dvec2 b = sheet.view.to_yard(sheet.box.high);
    const auto lines = [&](bool across, double low, double high, double end) {
        const int step = fine ? 1 : px_per_unit >= 2.6 ? 5 : 10;
        const auto first = static_cast<int>(std::ceil(std::max(low, 0.0) / unit_m / step)) * step;
        for (int k = first; k * unit_m <= std::min(high, end); k += step) {
            const ImU32 colour = fine && k % 5 != 0 ? with_alpha(sheet.ink().grid, 0.62F)
                                                    : mix(sheet.ink().grid, sheet.ink().quiet, fine ? 0.22F : 0.0F);
            const ImVec2 from = across ? sheet.at({0.0, k * unit_m}) : sheet.at({k * unit_m, 0.0});
            const ImVec2 to = across ? sheet.at({width_m, k * unit_m}) : sheet.at({k * unit_m, length_m});
            const ImVec2 p{std::floor(std::max(from.x, sheet.box.low.x)) + 0.5F,
                           std::floor(std::min(from.y, sheet.box.high.y)) + 0.5F};
            const ImVec2 q{std::floor(std::min(to.x, sheet.box.high.x)) + 0.5F,
                           std::floor(std::max(to.y, sheet.box.low.y)) + 0.5F};
            sheet.list.AddLine(p, across ? ImVec2{q.x, p.y} : ImVec2{p.x, q.y}, colour, 1.0F);
        }
    };
    lines(false, a.x, b.x, width_m);
    lines(true, b.y, a.y, length_m);
}

// The yard's edge as a surveyor draws a property line: a long dash and two short ones.
void draw_property_line(Sheet& sheet, double width_m, double length_m) {
    const float h = sheet.theme.h;
    const std::array<ImVec2, 4> corner = {sheet.at({0, 0}), sheet.at({width_m, 0}), sheet.at({width_m, length_m}),
                                          sheet.at({0, length_m})};
    const float period = 3.4F * h;
    for (std::size_t i = 0; i < 4; ++i) {
        const ImVec2 a = corner[i];
        const ImVec2 b = corner[(i + 1) % 4];
        draw_dashes(sheet.list, a, b, sheet.ink().quiet, 1.0F, 2.0F * h, period - 2.0F * h, sheet.box);
        draw_dashes(sheet.list, a, b, sheet.ink().quiet, 1.0F, 0.25F * h, period - 0.25F * h, sheet.box, -2.3F * h);
        draw_dashes(sheet.list, a, b, sheet.ink().quiet, 1.0F, 0.25F * h, period - 0.25F * h, sheet.box, -2.8F * h);
    }
}

// ---- Areas

// An outline of little bumps, as a bed or a hedge is drawn.
std::vector<ImVec2> scallops(std::span<const ImVec2> outline, float bump) {
    std::vector<ImVec2> points;
    double twice_area = 0.0;
    for (std::size_t i = 0; i < outline.size(); ++i) {
        const ImVec2 a = outline[i];
        const ImVec2 b = outline[(i + 1) % outline.size()];
        twice_area += static_cast<double>(a.x) * b.y - static_cast<double>(b.x) * a.y;
    }
    const float out = twice_area > 0.0 ? -1.0F : 1.0F;
    for (std::size_t i = 0; i < outline.size(); ++i) {
        const ImVec2 a = outline[i];
        const ImVec2 b = outline[(i + 1) % outline.size()];
        const int count = std::clamp(static_cast<int>(std::lround(length(b - a) / bump)), 1, 400);
        const ImVec2 piece = (b - a) * (1.0F / static_cast<float>(count));
        const ImVec2 rise = square_to(piece) * (out * 0.38F);
        const int corners = length(piece) > 14.0F ? 10 : 4; // a bump seen from near must be round
        for (int k = 0; k < count * corners; ++k) {
            const float within = static_cast<float>(k % corners) / static_cast<float>(corners);
            const ImVec2 foot = a + piece * (static_cast<float>(k) / static_cast<float>(corners));
            points.push_back(foot + rise * std::sqrt(std::sin(within * 3.1415927F)));
        }
    }
    return points;
}

void draw_house(Sheet& sheet, const field::Area& area, const std::vector<ImVec2>& outline) {
    const bool shed = area.kind == field::AreaKind::shed;
    fill_polygon(sheet.list, outline, mix(sheet.ink().paper, sheet.ink().hatch, shed ? 0.08F : 0.16F));
    hatch(sheet, area.outline_m, 45.0, shed ? 11.0 : 7.0, with_alpha(sheet.ink().hatch, 0.75F));
    closed_line(sheet.list, outline, sheet.ink().ink, shed ? 1.0F : 2.0F);
}

void draw_slab(Sheet& sheet, const field::Area& area, const std::vector<ImVec2>& outline) {
    fill_polygon(sheet.list, outline, mix(sheet.ink().paper, sheet.ink().hatch, 0.07F));
    const ImU32 colour = with_alpha(sheet.ink().hatch, 0.9F);
    stipple(sheet, area.outline_m, 15.0, 0.1, [&](ImVec2 p, int) {
        sheet.list.AddRectFilled({p.x - 2.0F, p.y}, {p.x + 3.0F, p.y + 1.0F}, colour);
        sheet.list.AddRectFilled({p.x, p.y - 2.0F}, {p.x + 1.0F, p.y + 3.0F}, colour);
    });
    closed_line(sheet.list, outline, sheet.ink().quiet, 1.0F);
}

void draw_paving(Sheet& sheet, const field::Area& area, const std::vector<ImVec2>& outline) {
    const bool street = area.kind == field::AreaKind::street;
    fill_polygon(sheet.list, outline, mix(sheet.ink().paper, sheet.ink().hatch, street ? 0.20F : 0.10F));
    if (!street) {
        const ImU32 colour = with_alpha(sheet.ink().hatch, 0.9F);
        stipple(sheet, area.outline_m, 11.0, 0.05,
                [&](ImVec2 p, int) { sheet.list.AddRectFilled({p.x, p.y}, {p.x + 1.5F, p.y + 1.5F}, colour); });
    }
    closed_line(sheet.list, outline, sheet.ink().quiet, street ? 2.0F : 1.0F);
}

void draw_planting(Sheet& sheet, const field::Area& area, const std::vector<ImVec2>& outline) {
    const ImU32 green = mix(sheet.ink().sewer, sheet.ink().quiet, 0.35F);
    fill_polygon(sheet.list, outline, mix(sheet.ink().paper, sheet.ink().sewer, 0.09F));
    const float s = std::clamp(sheet.px(0.14), 2.5F, 7.0F);
    stipple(sheet, area.outline_m, 13.0, 0.12, [&](ImVec2 p, int k) {
        const float lean = k % 3 == 0 ? 0.3F : (k % 3 == 1 ? -0.2F : 0.0F);
        sheet.list.AddLine({p.x, p.y + s}, {p.x - s * (0.7F - lean), p.y - s}, green, 1.0F);
        sheet.list.AddLine({p.x, p.y + s}, {p.x + s * (0.7F + lean), p.y - s}, green, 1.0F);
    });
    closed_line(sheet.list, scallops(outline, std::max(sheet.px(0.4), 8.0F)), green, 1.0F);
}

void draw_pond(Sheet& sheet, const field::Area& area, const std::vector<ImVec2>& outline) {
    fill_polygon(sheet.list, outline, mix(sheet.ink().paper, sheet.ink().water, 0.14F));
    stipple(sheet, area.outline_m, 24.0, 0.25, [&](ImVec2 p, int) {
        sheet.list.AddBezierQuadratic({p.x - 6, p.y}, {p.x - 3, p.y - 4}, p, sheet.ink().water, 1.0F, 4);
        sheet.list.AddBezierQuadratic(p, {p.x + 3, p.y + 4}, {p.x + 6, p.y}, sheet.ink().water, 1.0F, 4);
    });
    closed_line(sheet.list, outline, sheet.ink().water, 1.0F);
}

// The outline is the trunk, what one walks into; the crown round it is only drawn.
void draw_tree(Sheet& sheet, const field::Area& area, const std::vector<ImVec2>& outline) {
    const glm::dvec2 middle = middle_of(area.outline_m);
    double trunk_m = 0.05;
    for (const glm::dvec2& p : area.outline_m) {
        trunk_m = std::max(trunk_m, glm::length(p - middle));
    }
    const float crown = sheet.px(std::clamp(4.0 * trunk_m, trunk_m + 0.5, trunk_m + 1.6));
    const ImVec2 centre = sheet.at(middle);
    constexpr int bumps = 11;
    std::vector<ImVec2> ring;
    ring.reserve(bumps * 4);
    for (int k = 0; k < bumps * 4; ++k) {
        const int bump_number = k / 4;
        // Uneven bumps from the tree's own place: the same on every frame, and different from its neighbour.
        const double seed = middle.x * 12.9898 + middle.y * 78.233 + bump_number * 37.719;
        const auto uneven = static_cast<float>(0.90 + 0.14 * std::sin(seed));
        const float bump = uneven * (0.88F + 0.12F * std::sin(static_cast<float>(k % 4) / 4.0F * 3.1415927F));
        const float angle = static_cast<float>(k) / (bumps * 4.0F) * 6.2831853F;
        ring.push_back(centre + ImVec2{std::sin(angle), -std::cos(angle)} * (crown * bump));
    }
    const ImU32 green = mix(sheet.ink().sewer, sheet.ink().quiet, 0.25F);
    fill_polygon(sheet.list, ring, with_alpha(sheet.ink().sewer, 0.08F));
    closed_line(sheet.list, ring, green, 1.0F);
    fill_polygon(sheet.list, outline, mix(sheet.ink().paper, sheet.ink().quiet, 0.75F));
    closed_line(sheet.list, outline, sheet.ink().ink, 1.0F);
}

// A fence is a thin polygon: its long middle line, with posts 2 m apart.
void draw_fence(Sheet& sheet, const field::Area& area, const std::vector<ImVec2>& outline) {
    const field::Polygon& o = area.outline_m;
    std::vector<glm::dvec2> line = o;
    bool closed = true;
    if (o.size() == 4) {
        const bool first_is_long = glm::length(o[1] - o[0]) >= glm::length(o[2] - o[1]);
        line = first_is_long ? std::vector{0.5 * (o[0] + o[3]), 0.5 * (o[1] + o[2])}
                             : std::vector{0.5 * (o[0] + o[1]), 0.5 * (o[3] + o[2])};
        closed = false;
    }
    const ImU32 colour = sheet.ink().ink;
    fill_polygon(sheet.list, outline, with_alpha(sheet.ink().quiet, 0.35F));
    const std::vector<ImVec2> points = screen_of(sheet.view, line);
    sheet.list.AddPolyline(points.data(), static_cast<int>(points.size()), colour,
                           closed ? ImDrawFlags_Closed : ImDrawFlags_None, 1.0F);
    const float post = std::max(2.0F, sheet.px(0.05));
    for (std::size_t i = 0; i + 1 < line.size() + (closed ? 1U : 0U); ++i) {
        const glm::dvec2 a = line[i];
        const glm::dvec2 b = line[(i + 1) % line.size()];
        const int bays = std::max(1, static_cast<int>(std::lround(glm::length(b - a) / 2.0)));
        for (int k = 0; k <= bays; ++k) {
            const ImVec2 p = sheet.at(a + (b - a) * (static_cast<double>(k) / bays));
            sheet.list.AddRectFilled(p - ImVec2{post, post}, p + ImVec2{post, post}, colour);
        }
    }
}

void draw_area(Sheet& sheet, const field::Area& area) {
    if (area.outline_m.size() < 3) {
        return;
    }
    const std::vector<ImVec2> outline = screen_of(sheet.view, area.outline_m);
    const float margin = area.kind == field::AreaKind::tree ? sheet.px(2.0) : 8.0F;
    if (!grown(extent_of(outline), margin).overlaps(sheet.box)) {
        return;
    }
    switch (area.kind) {
    case field::AreaKind::house:
    case field::AreaKind::shed:
        draw_house(sheet, area, outline);
        break;
    case field::AreaKind::slab:
        draw_slab(sheet, area, outline);
        break;
    case field::AreaKind::drive:
    case field::AreaKind::street:
        draw_paving(sheet, area, outline);
        break;
    case field::AreaKind::planting:
        draw_planting(sheet, area, outline);
        break;
    case field::AreaKind::pond:
        draw_pond(sheet, area, outline);
        break;
    case field::AreaKind::tree:
        draw_tree(sheet, area, outline);
        break;
    case field::AreaKind::fence:
        draw_fence(sheet, area, outline);
        break;
    }
}

// Lowest first: a house stands on its slab, a tree spreads over everything.
int layer_of(field::AreaKind kind) {
    switch (kind) {
    case field::AreaKind::street:
        return 0;
    case field::AreaKind::drive:
        return 1;
    case field::AreaKind::slab:
        return 2;
    case field::AreaKind::planting:
    case field::AreaKind::pond:
        return 3;
    case field::AreaKind::house:
    case field::AreaKind::shed:
        return 4;
    case field::AreaKind::fence:
        return 5;
    case field::AreaKind::tree:
        return 6;
    }
    return 0;
}

} // namespace

std::vector<const field::Area*> by_layer(const std::vector<field::Area>& areas) {
    std::vector<const field::Area*> order;
    order.reserve(areas.size());
    for (const field::Area& area : areas) {
        order.push_back(&area);
    }
    std::sort(order.begin(), order.end(), [](const field::Area* a, const field::Area* b) {
        const int one = layer_of(a->kind);
        const int other = layer_of(b->kind);
        return one != other ? one < other : a < b; // both of one array: as written
    });
    return order;
}

void draw_ground(Sheet& sheet, const field::Brief& brief, const std::vector<const field::Area*>& areas) {
    draw_grid(sheet, brief.width_m, brief.length_m);
    const auto standing = std::ranges::find_if(
        areas, [](const field::Area* area) { return layer_of(area->kind) >= layer_of(field::AreaKind::house); });
    std::for_each(areas.begin(), standing, [&](const field::Area* area) { draw_area(sheet, *area); });
    draw_relief(sheet, brief); // over what lies on the ground, under what stands on it
    std::for_each(standing, areas.end(), [&](const field::Area* area) { draw_area(sheet, *area); });
    draw_property_line(sheet, brief.width_m, brief.length_m);
}

} // namespace sondeyard::ui
