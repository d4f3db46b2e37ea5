#include "sim/units.hpp"
#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

namespace sondeyard::ui {

namespace {

// Of a line that matters to the fields round it: ", bonded, carries mains".
std::string what_it_carries(const field::BuriedLine& line) {
    std::string words;
    if (line.connection != field::LineConnection::none) {
        words += fmt::format(", {}", field::name_of(line.connection));
    }
    if (line.clamp_current_a > 0.0) {
        words += fmt::format(", transmitter on it ({})", field::frequency_text(line.clamp_frequency_hz));
    }
    if (line.mains_current_a > 0.0) {
        words += ", carries mains";
    }
    return words;
}

void name_line(Sheet& sheet, const field::World& world, const field::BuriedLine& line) {
    ImFont* font = sheet.theme.note;
    const ImU32 colour = line_colour(sheet.ink(), line.kind);
    for (std::size_t i = 0; i + 1 < line.points_m.size(); ++i) {
        for (const double share : {0.5, 0.3, 0.7, 0.15, 0.85}) {
            const glm::dvec3 p = line.points_m[i] + (line.points_m[i + 1] - line.points_m[i]) * share;
            const ImVec2 at = sheet.at(field::plan(p));
            if (!sheet.sees(at, -8.0F)) {
                continue;
            }
            const std::string words = fmt::format("{} {} deep{}{}", field::name_of(line.kind),
                                                  length_words(sheet.theme, field::depth_m(world, p)),
                                                  line.paint_m.empty() ? ", not marked" : "", what_it_carries(line));
            if (const auto place = sheet.labels.place_beside(at, {2, 2}, text_size(font, words), 4.0F)) {
                draw_text_on_paper(sheet.list, font, *place, colour, sheet.ink().paper, words);
                return;
            }
        }
    }
}

// With no offset the fault is where the sonde is, and one symbol with both names is clearer than two on one spot.
bool fault_is_apart(const field::World& world) {
    return glm::length(field::plan(field::dig_target(world).centre_m) - field::plan(world.sonde.position_m)) > 0.02;
}

} // namespace

void draw_true_lines(Sheet& sheet, const field::World& world) {
    for (const field::BuriedLine& line : world.yard.lines) {
        const std::vector<ImVec2> points = screen_of(sheet.view, field::plan(line.points_m));
        if (points.size() < 2) {
            continue;
        }
        const ImU32 colour = line_colour(sheet.ink(), line.kind);
        const float zone = sheet.px(2.0 * world.rubric.tolerance_zone_m + line.width_m);
        open_line(sheet.list, points, with_alpha(colour, 0.10F), zone);
        // A wide one is lighter inside, so that what is drawn on it stays readable.
        const float wide = std::max(1.0F, std::round(sheet.px(line.width_m)));
        open_line(sheet.list, points, colour, wide);
        if (wide > 6.0F) {
            open_line(sheet.list, points, mix(colour, sheet.ink().paper, 0.6F), wide - 2.0F);
        }
    }
}

void draw_true_run(Sheet& sheet, const field::World& world) {
    if (!world.run) {
        return;
    }
    const field::Run& run = *world.run;
    const std::vector<ImVec2> points = screen_of(sheet.view, field::plan(run.centreline_m));
    const float outside = std::max(5.0F, sheet.px(run.inside_diameter_m + 2.0 * run.wall_m));
    open_line(sheet.list, points, sheet.ink().sewer, outside);
    open_line(sheet.list, points, mix(sheet.ink().paper, sheet.ink().sewer, 0.12F), outside - 2.0F);
    // The way the water runs.
    const double whole = field::length_m(run);
    const double every = step_m(sheet.view.px_per_m, 6.0 * sheet.theme.h);
    for (int k = 0; (k + 0.5) * every < whole; ++k) {
        const double along = (k + 0.5) * every;
        const field::RunPoint p = field::at_length(run, along);
        const ImVec2 way{static_cast<float>(p.direction.x), static_cast<float>(-p.direction.y)};
        const ImVec2 at = sheet.at(field::plan(p.centre_m));
        if (length(way) > 0.3F && sheet.sees(at, 0.0F)) {
            const float head = 0.35F * sheet.theme.h;
            draw_arrow(sheet.list, at - unit(way) * head, at + unit(way) * head, sheet.ink().sewer, 1.0F, head);
        }
    }
}

namespace {

const field::SondeTruth& counted_sonde(const field::World& world, const field::Score* score) {
    return score != nullptr ? score->located.sonde : world.sonde;
}

// The other place of the sonde, when the cable had been moved; else nullptr.
const field::SondeTruth* other_sonde(const field::World& world, const field::Score* score) {
    if (score == nullptr || !located_apart(score->located)) {
        return nullptr;
    }
    return score->located.at_stop ? &score->located.then : &world.sonde;
}

// The sonde as an arrow along its axis, its head at the end that points down; on end it is a dot in a ring.
void draw_sonde_symbol(Sheet& sheet, const field::SondeTruth& sonde, ImU32 ink) {
    const float h = sheet.theme.h;
    const ImVec2 at = sheet.at(field::plan(sonde.position_m));
    const double raised = sonde.tilt_deg < 0.0 ? 180.0 : 0.0;
    const glm::dvec2 axis = field::direction_of(sonde.heading_deg + raised);
    const ImVec2 way{static_cast<float>(axis.x), static_cast<float>(-axis.y)};
    const double steep = std::abs(sonde.tilt_deg);
    const float reach =
        std::max(1.1F * h, sheet.px(0.15)) * static_cast<float>(std::max(0.25, std::cos(sim::radians(steep))));
    if (steep < 75.0) {
        sheet.list.AddLine(at - way * (reach + 2.0F), at + way * reach, sheet.ink().paper, 6.0F);
        draw_arrow(sheet.list, at - way * reach, at + way * (reach + 2.0F), ink, 3.0F, 0.6F * h);
    }
    sheet.list.AddCircleFilled(at, 0.22F * h, sheet.ink().paper, 16);
    sheet.list.AddCircle(at, 0.22F * h, ink, 16, 2.0F);
    if (steep >= 75.0) {
        sheet.list.AddCircleFilled(at, 2.0F, ink, 8);
    }
}

std::string lie_words(double steep_deg) {
    return steep_deg < 0.5    ? std::string("level")
           : steep_deg > 75.0 ? fmt::format("on end ({:.0f} deg)", steep_deg)
                              : fmt::format("tilt {:.0f} deg", steep_deg);
}

} // namespace

void draw_true_sonde(Sheet& sheet, const field::World& world, const field::Score* score) {
    const ImVec2 at = sheet.at(field::plan(counted_sonde(world, score).position_m));
    if (score != nullptr) {
        const ImU32 ring = with_alpha(sheet.ink().sewer, 0.8F);
        sheet.list.AddCircle(at, sheet.px(score->full_band_m), ring, 64, 1.0F);
        const float half = sheet.px(score->half_band_m);
        constexpr int dashes = 32;
        for (int k = 0; k < dashes; ++k) {
            sheet.list.PathArcTo(at, half, 6.2831853F * static_cast<float>(k) / dashes,
                                 6.2831853F * (static_cast<float>(k) + 0.55F) / dashes, 3);
            sheet.list.PathStroke(ring, ImDrawFlags_None, 1.0F);
        }
    }
    if (const field::SondeTruth* other = other_sonde(world, score)) {
        draw_sonde_symbol(sheet, *other, sheet.ink().quiet);
    }
    draw_sonde_symbol(sheet, counted_sonde(world, score), sheet.ink().ink);
}

void draw_sonde_then(Sheet& sheet, const field::World& world, const field::SondeTruth& then) {
    if (glm::distance(then.position_m, world.sonde.position_m) < 0.02) {
        return;
    }
    draw_sonde_symbol(sheet, then, sheet.ink().ink);
    name_point(sheet, sheet.at(field::plan(then.position_m)), 0.9F * sheet.theme.h, sheet.ink().ink, "sonde then",
               true);
}

void name_true_sonde(Sheet& sheet, const field::World& world, const field::Score* score) {
    const field::SondeTruth* other = other_sonde(world, score);
    const bool at_stop = score == nullptr || score->located.at_stop;
    const auto name = [&](const field::SondeTruth& sonde, bool counted) {
        const ImVec2 at = sheet.at(field::plan(sonde.position_m));
        sheet.labels.take(grown({at, at}, 0.9F * sheet.theme.h));
        std::string_view what = "sonde";
        if (at_stop == counted) { // the one at the stop
            what = fault_is_apart(world) ? (other == nullptr ? "sonde" : "sonde at the stop")
                                         : (other == nullptr ? "sonde and fault" : "stop and fault");
        } else {
            what = "sonde as marked";
        }
        name_point(sheet, at, 1.1F * sheet.theme.h, counted ? sheet.ink().ink : sheet.ink().quiet,
                   fmt::format("{} {} deep, {}", what,
                               length_words(sheet.theme, field::depth_m(world, sonde.position_m)),
                               lie_words(std::abs(sonde.tilt_deg))),
                   true);
    };
    name(counted_sonde(world, score), true);
    if (other != nullptr) {
        name(*other, false);
    }
}

void draw_other_sondes(Sheet& sheet, const field::World& world) {
    const float r = 0.3F * sheet.theme.h;
    for (const field::OtherSonde& other : world.other_sondes) {
        const ImVec2 at = sheet.at(field::plan(other.sonde.position_m));
        if (!sheet.sees(at, 0.0F)) {
            continue;
        }
        sheet.list.AddCircleFilled(at, r, sheet.ink().paper, 16);
        sheet.list.AddCircle(at, r, sheet.ink().warning, 16, 2.0F);
        sheet.list.AddCircleFilled(at, 2.0F, sheet.ink().warning, 8);
        sheet.labels.take(grown({at, at}, r));
        name_point(sheet, at, r, sheet.ink().warning,
                   fmt::format("{}'s sonde, {}, {} deep", other.owner, field::frequency_text(other.sonde.frequency_hz),
                               length_words(sheet.theme, field::depth_m(world, other.sonde.position_m))),
                   true);
    }
}

void draw_target(Sheet& sheet, const field::World& world) {
    const glm::dvec2 place = field::plan(field::dig_target(world).centre_m);
    const ImVec2 at = sheet.at(place);
    const float r = 0.5F * sheet.theme.h;
    const ImU32 colour = sheet.ink().warning;
    if (fault_is_apart(world)) {
        sheet.list.AddLine({at.x - r, at.y - r}, {at.x + r, at.y + r}, colour, 2.0F);
        sheet.list.AddLine({at.x - r, at.y + r}, {at.x + r, at.y - r}, colour, 2.0F);
        sheet.labels.take(grown({at, at}, r));
        name_point(sheet, at, r, colour, "fault");
    }
}

void draw_error(Sheet& sheet, const field::Notebook& notebook, const field::Score& score) {
    const field::Mark* locate = field::find_last(notebook, field::MarkKind::locate);
    if (locate == nullptr || !score.horizontal_error_m) {
        return;
    }
    const float h = sheet.theme.h;
    const ImVec2 a = sheet.at(locate->place_m);
    const ImVec2 b = sheet.at(field::plan(score.located.sonde.position_m));
    const double error = *score.horizontal_error_m;
    const std::string words = error_words(sheet.theme, error);
    const ImVec2 size = text_size(sheet.theme.text, words);
    const ImVec2 side = square_to(unit(b - a));
    const float reach = 0.5F * h + 0.5F * (std::abs(side.x) * size.x + std::abs(side.y) * size.y);
    // The side on which the figure is free; the right one when neither is.
    float offset = 1.6F * h;
    const auto figure_at = [&] {
        return (a + b) * 0.5F + side * (offset + (offset > 0.0F ? reach : -reach)) - size * 0.5F;
    };
    if (const ImVec2 first = figure_at(); !sheet.labels.is_free({first, first + size})) {
        offset = -offset;
        if (const ImVec2 second = figure_at(); !sheet.labels.is_free({second, second + size})) {
            offset = -offset;
        }
    }
    const ImVec2 middle = draw_dimension(sheet.list, a, b, offset, sheet.ink().ink, 0.6F * h);
    const ImVec2 at = figure_at();
    sheet.labels.take(grown({at, at + size}, 2.0F));
    sheet.labels.take(grown({middle, middle}, 0.5F * h));
    draw_text_on_paper(sheet.list, sheet.theme.text, at, sheet.ink().ink, sheet.ink().paper, words);
}

void name_true_lines(Sheet& sheet, const field::World& world) {
    for (const field::BuriedLine& line : world.yard.lines) {
        name_line(sheet, world, line);
    }
}

} // namespace sondeyard::ui
