#include "sim/units.hpp"
#include "ui/window/section_sheet.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

namespace sondeyard::ui {

namespace {

// A figure in the margin, beside an axis that names its unit.
std::string margin_figure(const Theme& theme, double length_m) {
    return theme.units == field::Units::feet ? length_words(theme, length_m) : fmt::format("{:.2f}", length_m);
}

void draw_heights(SectionSheet& sheet, LabelBoard& labels) {
    const bool feet = sheet.theme.units == field::Units::feet;
    const double quarters = sheet.px_per_m > 2.2 * sheet.theme.h / 0.25  ? 0.25
                            : sheet.px_per_m > 2.0 * sheet.theme.h / 0.5 ? 0.5
                                                                         : 1.0;
    const double step = feet ? 4.0 * quarters * field::metres_per_foot : quarters; // 1, 2 or 4 ft
    const auto deepest = static_cast<int>(std::floor(-sheet.low_t() / step));
    for (int k = -static_cast<int>(std::floor(sheet.ground_high_t / step)); k <= deepest; ++k) {
        const double t = -k * step;
        const float y = std::floor(sheet.at(0.0, t).y) + 0.5F;
        sheet.list.AddLine({sheet.drawing.low.x, y}, {sheet.drawing.high.x, y}, sheet.ink().grid, 1.0F);
        const std::string figure =
            feet     ? fmt::format("{:.0f}{}", -k * step / field::metres_per_foot + 0.0, k == 0 ? " ft" : "")
            : k == 0 ? std::string("0 m")
                     : fmt::format("{:.{}f}", t, step < 0.5 ? 2 : 1);
        const ImVec2 size = text_size(sheet.theme.note, figure);
        const ImVec2 place{sheet.drawing.low.x - size.x - 0.3F * sheet.theme.h, y - size.y * 0.5F};
        labels.take({place, place + size});
        draw_text(sheet.list, sheet.theme.note, place, sheet.ink().quiet, figure);
    }
}

void thick_line(SectionSheet& sheet, const std::vector<ImVec2>& points, ImU32 colour, float thickness) {
    sheet.list.AddPolyline(points.data(), static_cast<int>(points.size()), colour, ImDrawFlags_None, thickness);
}

// The ground's surface with the short slanting strokes that stand for earth on any section.
float ground_y(const SectionSheet& sheet, const Profile& profile, float x) {
    const double s = sheet.s_left + (x - sheet.drawing.low.x) / sheet.px_per_m;
    return sheet.at(s, profile.ground_t(s)).y;
}

void draw_ground_line(SectionSheet& sheet, const Profile& profile) {
    const ImU32 earth = with_alpha(mix(sheet.ink().paper, sheet.ink().hatch, 0.14F), 1.0F);
    const float strip = profile.flat() ? sheet.drawing.high.x - sheet.drawing.low.x : 2.0F;
    const int strips = static_cast<int>(std::ceil((sheet.drawing.high.x - sheet.drawing.low.x) / strip - 1e-3F));
    for (int k = 0; k < strips; ++k) {
        const float x = sheet.drawing.low.x + static_cast<float>(k) * strip;
        sheet.list.AddRectFilled({x, ground_y(sheet, profile, x + 0.5F * strip)}, {x + strip, sheet.drawing.high.y},
                                 earth);
    }
}

void draw_earth_strokes(SectionSheet& sheet, const Profile& profile) {
    const float h = sheet.theme.h;
    const int groups = static_cast<int>((sheet.drawing.high.x - sheet.drawing.low.x - 0.8F * h) / (2.6F * h));
    for (int group = 0; group <= groups; ++group) {
        const float x = sheet.drawing.low.x + (0.3F + 2.6F * static_cast<float>(group)) * h;
        for (int k = 0; k < 3; ++k) {
            const float left = x + static_cast<float>(k) * 0.38F * h;
            const float y = ground_y(sheet, profile, left + 0.38F * h);
            sheet.list.AddLine({left + 0.38F * h, y}, {left, y + 0.5F * h}, sheet.ink().quiet, 1.0F);
        }
    }
    const int pieces = profile.flat() ? 1 : static_cast<int>((sheet.drawing.high.x - sheet.drawing.low.x) / 2.0F) + 1;
    std::vector<ImVec2> surface;
    for (int k = 0; k <= pieces; ++k) {
        const float x = sheet.drawing.low.x + (sheet.drawing.high.x - sheet.drawing.low.x) * static_cast<float>(k) /
                                                  static_cast<float>(pieces);
        surface.emplace_back(x, ground_y(sheet, profile, x));
    }
    thick_line(sheet, surface, sheet.ink().ink, 2.0F);
}

void draw_pipe(SectionSheet& sheet, const Profile& profile) {
    if (profile.pipe.size() < 2) {
        return;
    }
    std::vector<ImVec2> points;
    for (const ProfilePoint& p : profile.pipe) {
        const ImVec2 at = sheet.at(p.s, p.t);
        if (points.empty() || length(at - points.back()) > 0.5F) {
            points.push_back(at);
        }
    }
    if (points.size() < 2) {
        return;
    }
    // Wall at true scale, but never thinner than can be seen.
    const float outside = std::max(sheet.px(profile.outside_m), 4.0F);
    const float inside = std::min(sheet.px(profile.inside_m), outside - 2.0F);
    thick_line(sheet, points, sheet.ink().sewer, outside);
    thick_line(sheet, points, sheet.ink().paper, inside);
    // Round the corners of a drop, where two thick strokes leave a notch.
    for (std::size_t i = 1; i + 1 < points.size(); ++i) {
        sheet.list.AddCircleFilled(points[i], inside * 0.5F, sheet.ink().paper, 20);
    }
}

// Where a bottom of the hole counts as on the pipe: from 0.30 m above its top down to the springline.
void draw_wanted_bottom(SectionSheet& sheet, const Facts& facts, LabelBoard& labels) {
    const float half = std::max(sheet.px(0.30), 1.2F * sheet.theme.h);
    const ImVec2 top = sheet.at(facts.target_s, facts.surface_t - (facts.target.pipe_top_depth_m - 0.30));
    const ImVec2 foot = sheet.at(facts.target_s, facts.surface_t - facts.target.springline_depth_m);
    sheet.list.AddRectFilled({top.x - half, top.y}, {foot.x + half, foot.y}, with_alpha(sheet.ink().sewer, 0.16F));
    const std::string_view words = "bottom of the hole: in here";
    const ImVec2 size = text_size(sheet.theme.note, words);
    const float mid = 0.5F * (top.y + foot.y) - 0.5F * size.y;
    const std::array<ImVec2, 4> candidates = {{{top.x + half + 6.0F, top.y},
                                               {top.x - half - size.x - 6.0F, top.y},
                                               {top.x + half + 6.0F, mid},
                                               {top.x - half - size.x - 6.0F, mid}}};
    if (const auto place = labels.place(size, candidates)) {
        draw_text_on_paper(sheet.list, sheet.theme.note, *place, sheet.ink().sewer, sheet.ink().paper, words);
    }
}

bool dig_is_shown(const Facts& facts) {
    return facts.dig && facts.dig_low_s < farthest_shown_m && facts.dig_high_s > -farthest_shown_m;
}

void draw_dig(SectionSheet& sheet, const Profile& profile, const Facts& facts) {
    if (!dig_is_shown(facts)) {
        return;
    }
    const bool said = facts.dig_depth_m > 0.0;
    const double depth = said ? facts.dig_depth_m : 0.15;
    const double bottom_t = facts.surface_t - depth; // level, from the ground at the box's middle
    const ImVec2 a = sheet.at(facts.dig_low_s, profile.ground_t(facts.dig_low_s));
    const ImVec2 b = sheet.at(facts.dig_high_s, bottom_t);
    const ImVec2 c = sheet.at(facts.dig_high_s, profile.ground_t(facts.dig_high_s));
    const std::array<ImVec2, 4> walls = {{a, {a.x, b.y}, b, c}};
    std::vector<ImVec2> hole(walls.begin(), walls.end());
    const int pieces = profile.flat() ? 1 : 32;
    for (int k = 1; k < pieces; ++k) { // back along the surface
        const double s = facts.dig_high_s + (facts.dig_low_s - facts.dig_high_s) * k / pieces;
        hole.push_back(sheet.at(s, profile.ground_t(s)));
    }
    fill_polygon(sheet.list, hole,
                 with_alpha(sheet.ink().excavation, sheet.theme.choice == ThemeChoice::day ? 0.55F : 0.10F));
    const auto line = [&](ImU32 colour, float thickness) {
        sheet.list.AddPolyline(walls.data(), 4, colour, ImDrawFlags_None, thickness);
    };
    line(sheet.ink().excavation_edge, 4.0F);
    if (said) {
        line(sheet.ink().excavation, 2.0F);
    }
}

// A hole that this plane does not cut is drawn all the same, and said to stand beside it.
void name_dig_aside(SectionSheet& sheet, const Facts& facts, LabelBoard& labels) {
    if (!dig_is_shown(facts) || facts.dig_aside_m < 0.005) {
        return;
    }
    const std::string words = fmt::format("hole {} to the side", length_words(sheet.theme, facts.dig_aside_m));
    const ImVec2 size = text_size(sheet.theme.note, words);
    const float h = sheet.theme.h;
    const ImVec2 a = sheet.at(facts.dig_low_s, facts.surface_t);
    const ImVec2 b = sheet.at(facts.dig_high_s, facts.surface_t);
    const float mid = 0.5F * (a.x + b.x - size.x);
    const std::array<ImVec2, 4> candidates = {{{mid, a.y + 0.7F * h},
                                               {b.x + 0.4F * h, a.y + 0.7F * h},
                                               {a.x - size.x - 0.4F * h, a.y + 0.7F * h},
                                               {mid, a.y - size.y - 1.2F * h}}};
    if (const auto place = labels.place(size, candidates)) {
        draw_text_on_paper(sheet.list, sheet.theme.note, *place, sheet.ink().warning, sheet.ink().paper, words);
    }
}

void draw_sonde(SectionSheet& sheet, const field::SondeTruth& sonde, double s, std::string_view name, ImU32 ink,
                const Profile& profile, LabelBoard& labels) {
    const float h = sheet.theme.h;
    const ImVec2 at = sheet.at(s, sonde.position_m.z);
    // Of the axis in this plane: heading is that of the end that points down.
    const double slope = sim::radians(sonde.tilt_deg);
    const double flat = std::cos(slope) * glm::dot(field::direction_of(sonde.heading_deg), profile.ahead);
    const ImVec2 way = unit({static_cast<float>(flat), static_cast<float>(std::sin(slope))});
    const float half = std::max(sheet.px(0.05), 0.45F * h);
    const float thick = std::max(sheet.px(0.022), 4.0F);
    const Box all = grown(sheet.drawing, 0.0F);
    draw_dashes(sheet.list, at - way * (half + 2.4F * h), at + way * (half + 2.4F * h), sheet.ink().trail, 1.0F, 6.0F,
                4.0F, all);
    const ImVec2 side = square_to(way);
    sheet.list.AddQuadFilled(at - way * half + side * (thick * 0.5F), at + way * half + side * (thick * 0.5F),
                             at + way * half - side * (thick * 0.5F), at - way * half - side * (thick * 0.5F), ink);
    sheet.list.AddCircleFilled(at, 1.5F, sheet.ink().paper, 8);
    labels.take(grown({at, at}, half));
    const double steep = std::abs(sonde.tilt_deg);
    const std::string words = steep < 0.5    ? fmt::format("{}, level", name)
                              : steep > 75.0 ? fmt::format("{}, on end ({:.0f} deg)", name, steep)
                                             : fmt::format("{}, tilt {:.0f} deg", name, steep);
    const ImVec2 size = text_size(sheet.theme.note, words);
    const float clear = std::max(sheet.px(profile.outside_m), 0.6F * h);
    const float below = at.y + clear + std::abs(way.y) * (half + 0.6F * h);
    const float above = at.y - clear - size.y;
    const std::array<ImVec2, 6> candidates = {{{at.x - size.x * 0.5F, below},
                                               {at.x + half + h, below},
                                               {at.x - half - h - size.x, below},
                                               {at.x + half + h, at.y - size.y * 0.5F},
                                               {at.x - half - h - size.x, at.y - size.y * 0.5F},
                                               {at.x + half + h, above}}};
    if (const auto place = labels.place(size, candidates)) {
        draw_text_on_paper(sheet.list, sheet.theme.note, *place, ink, sheet.ink().paper, words);
    }
}

// The one that counts; and, quieter, the other one, when the cable had been moved.
void draw_sondes(SectionSheet& sheet, const field::World& world, const field::LocatedSonde& located, const Facts& facts,
                 const Profile& profile, LabelBoard& labels) {
    if (facts.other_s && std::abs(*facts.other_s) <= farthest_shown_m) {
        draw_sonde(sheet, located.at_stop ? located.then : world.sonde, *facts.other_s,
                   located.at_stop ? "when the locate was marked" : "at the stop", sheet.ink().quiet, profile, labels);
    }
    draw_sonde(sheet, located.sonde, facts.sonde_s, facts.other_s && located.at_stop ? "sonde at the stop" : "sonde",
               sheet.ink().ink, profile, labels);
}

void upright_dimension(SectionSheet& sheet, double s, double top_t, double depth, float offset, ImU32 colour,
                       const std::string& words, LabelBoard& labels) {
    const float h = sheet.theme.h;
    const ImVec2 a = sheet.at(s, top_t);
    const ImVec2 b = sheet.at(s, top_t - depth);
    const ImVec2 middle = draw_dimension(sheet.list, a, b, offset, colour, 0.6F * h);
    labels.take({{middle.x - 3.0F, a.y}, {middle.x + 3.0F, b.y}});
    const ImVec2 size = text_size(sheet.theme.note, words);
    std::vector<ImVec2> candidates;
    for (const float share : {0.5F, 0.35F, 0.65F, 0.2F}) {
        const float y = a.y + (b.y - a.y) * share - size.y * 0.5F;
        const ImVec2 left{middle.x - size.x - 0.4F * h, y};
        const ImVec2 right{middle.x + 0.4F * h, y};
        candidates.push_back(offset > 0.0F ? left : right);
        candidates.push_back(offset > 0.0F ? right : left);
    }
    if (const auto place = labels.place(size, candidates)) {
        draw_text_on_paper(sheet.list, sheet.theme.note, *place, colour, sheet.ink().paper, words);
    }
}

void draw_depths(SectionSheet& sheet, const Facts& facts, LabelBoard& labels) {
    const float h = sheet.theme.h;
    // The two depths stand on different sides of the sonde, whatever side the locate lies on.
    const double locate = facts.locate_s.value_or(facts.sonde_s);
    const bool shown = std::abs(locate) <= farthest_shown_m;
    const bool call_left = locate <= facts.sonde_s;
    const double true_m = facts.sonde_top_t - facts.sonde_t;
    upright_dimension(sheet, facts.sonde_s, facts.sonde_top_t, true_m, call_left ? -2.2F * h : 2.2F * h,
                      sheet.ink().ink, "true " + length_words(sheet.theme, true_m), labels);
    if (facts.call_m && *facts.call_m > 0.0 && shown) {
        upright_dimension(sheet, locate, facts.locate_t, std::min(*facts.call_m, 8.0), call_left ? 1.0F * h : -1.0F * h,
                          sheet.ink().survey, "called " + length_words(sheet.theme, *facts.call_m), labels);
    }
    if (facts.locate_s && shown) {
        const ImVec2 at = sheet.at(locate, facts.locate_t);
        draw_mark_symbol(sheet.list, sheet.theme, at, 0.42F * h, field::MarkKind::locate);
        labels.take({{at.x - 0.5F * h, at.y - h}, {at.x + 0.9F * h, at.y}});
    }
}

void draw_fault(SectionSheet& sheet, const field::World& world, const Facts& facts, LabelBoard& labels) {
    if (glm::length(facts.target.centre_m - world.sonde.position_m) < 0.08) {
        return;
    }
    const float r = 0.45F * sheet.theme.h;
    const ImVec2 at = sheet.at(facts.target_s, facts.target.centre_m.z);
    const ImU32 colour = sheet.ink().warning;
    sheet.list.AddLine({at.x - r, at.y - r}, {at.x + r, at.y + r}, colour, 2.0F);
    sheet.list.AddLine({at.x - r, at.y + r}, {at.x + r, at.y - r}, colour, 2.0F);
    labels.take(grown({at, at}, r));
    if (const auto place = labels.place_beside(at, {r, r + 4.0F}, text_size(sheet.theme.note, "fault"), 4.0F)) {
        draw_text_on_paper(sheet.list, sheet.theme.note, *place, colour, sheet.ink().paper, "fault");
    }
}

struct MarginNote {
    double t;     // height it points at
    float from_x; // where its leader begins
    std::string words;
    ImU32 colour;
    float y = 0.0F;
};

std::vector<MarginNote> margin_notes(const SectionSheet& sheet, const Facts& facts) {
    const float pipe_x = sheet.at(facts.target_s + 0.12, 0.0).x;
    std::vector<MarginNote> notes;
    notes.push_back({facts.surface_t - facts.target.pipe_top_depth_m, pipe_x,
                     "pipe top " + margin_figure(sheet.theme, facts.target.pipe_top_depth_m), sheet.ink().sewer});
    notes.push_back({facts.surface_t - facts.target.springline_depth_m, pipe_x,
                     "springline " + margin_figure(sheet.theme, facts.target.springline_depth_m), sheet.ink().sewer});
    if (dig_is_shown(facts) && facts.dig_depth_m > 0.0) {
        notes.push_back({facts.surface_t - facts.dig_depth_m, sheet.at(facts.dig_high_s, 0.0).x,
                         "dig bottom " + margin_figure(sheet.theme, facts.dig_depth_m), sheet.ink().ink});
    }
    return notes;
}

// The margin is as wide as its longest note needs, which feet and inches make longer.
float margin_width(const SectionSheet& sheet, const Facts& facts) {
    float widest = text_size(sheet.theme.note, "dig bottom 0.00").x;
    for (const MarginNote& note : margin_notes(sheet, facts)) {
        widest = std::max(widest, text_size(sheet.theme.note, note.words).x);
    }
    return widest + 1.6F * sheet.theme.h;
}

// Depths of the pipe's parts and of the hole's bottom stand in the right margin, moved apart where they would touch.
void draw_margin_notes(SectionSheet& sheet, const Facts& facts, LabelBoard& labels) {
    const float h = sheet.theme.h;
    std::vector<MarginNote> notes = margin_notes(sheet, facts);
    std::sort(notes.begin(), notes.end(), [](const MarginNote& a, const MarginNote& b) { return a.t > b.t; });
    const float line = 1.05F * h;
    float least = sheet.box.low.y + line;
    for (MarginNote& note : notes) {
        note.y = std::max(sheet.at(0.0, note.t).y, least);
        least = note.y + line;
    }
    float most = sheet.box.high.y - 0.6F * h;
    for (auto note = notes.rbegin(); note != notes.rend(); ++note) {
        note->y = std::min(note->y, most);
        most = note->y - line;
    }
    for (const MarginNote& note : notes) {
        const float y = sheet.at(0.0, note.t).y;
        const float knee = sheet.drawing.high.x + 0.2F * h;
        sheet.list.AddLine({std::min(note.from_x, knee), y}, {knee, y}, with_alpha(note.colour, 0.6F), 1.0F);
        sheet.list.AddLine({knee, y}, {knee + 0.7F * h, note.y}, with_alpha(note.colour, 0.6F), 1.0F);
        const ImVec2 size = text_size(sheet.theme.note, note.words);
        const ImVec2 place{knee + 0.9F * h, note.y - size.y * 0.5F};
        labels.take({place - ImVec2{0.9F * h, 0.0F}, place + size});
        draw_text(sheet.list, sheet.theme.note, place, note.colour, note.words);
    }
}

std::string_view compass_word(const glm::dvec2& direction) {
    static constexpr std::array<std::string_view, 8> words = {"north", "north-east", "east", "south-east",
                                                              "south", "south-west", "west", "north-west"};
    const auto k = static_cast<std::size_t>(std::lround(field::heading_of(direction) / 45.0)) % 8;
    return words[k];
}

void draw_captions(SectionSheet& sheet, const Profile& profile, const Facts& facts, LabelBoard& labels) {
    const float h = sheet.theme.h;
    const std::string left = fmt::format("\u2190 {}", compass_word(-profile.ahead));
    const std::string ahead = fmt::format("{} \u2192", compass_word(profile.ahead));
    const std::string flow = profile.pipe.empty() ? ahead : "flow, " + ahead;
    const float room = sheet.drawing.high.x - sheet.drawing.low.x - text_size(sheet.theme.note, left).x - 0.6F * h;
    const std::string& right = text_size(sheet.theme.note, flow).x < room ? flow : ahead;
    const float y = sheet.box.low.y + 0.25F * h;
    draw_text(sheet.list, sheet.theme.note, {sheet.drawing.low.x, y}, sheet.ink().quiet, left);
    const ImVec2 size = text_size(sheet.theme.note, right);
    draw_text(sheet.list, sheet.theme.note, {sheet.drawing.high.x - size.x, y}, sheet.ink().quiet, right);
    labels.take({{sheet.box.low.x, y}, {sheet.box.high.x, y + size.y}});
    if (facts.locate_s && std::abs(*facts.locate_s) > farthest_shown_m) {
        const std::string words =
            fmt::format("locate {} this way", length_words(sheet.theme, std::abs(*facts.locate_s)));
        const ImVec2 wide = text_size(sheet.theme.note, words);
        const bool to_left = *facts.locate_s < 0.0;
        const float x = to_left ? sheet.drawing.low.x + 1.5F * h : sheet.drawing.high.x - wide.x - 1.5F * h;
        const float line = y + 1.1F * h;
        draw_text_on_paper(sheet.list, sheet.theme.note, {x, line}, sheet.ink().sewer, sheet.ink().paper, words);
        const float mid = line + 0.5F * h;
        draw_arrow(sheet.list, {to_left ? x - 0.2F * h : x + wide.x + 0.2F * h, mid},
                   {to_left ? x - 1.4F * h : x + wide.x + 1.4F * h, mid}, sheet.ink().sewer, 1.0F, 0.4F * h);
    }
}

} // namespace

void draw_section(ImDrawList& list, const Theme& theme, ImVec2 origin, ImVec2 size, const field::Setting& truth,
                  const field::Notebook& notebook, const field::Score& score, const SectionField* field) {
    if (size.x < 4.0F * theme.h || size.y < 4.0F * theme.h) {
        return;
    }
    const field::World& world = truth.world;
    const Profile profile = profile_of(world);
    const Facts facts = facts_of(world, notebook, score.located, profile);
    const float h = theme.h;
    SectionSheet sheet{list, theme, {origin, origin + size}, {}, 100.0, 0.0, 0.0, 0.0};
    const float note_width = margin_width(sheet, facts);
    const float height_width = text_size(theme.note, "-0.00").x + 0.9F * h;
    sheet.drawing = {origin + ImVec2{height_width, 1.4F * h}, origin + size - ImVec2{note_width, 0.4F * h}};
    choose_scale(sheet, profile, facts, field != nullptr);
    list.PushClipRect(origin, origin + size, true);
    list.PushClipRect(sheet.drawing.low, sheet.drawing.high, true);
    draw_ground_line(sheet, profile);
    list.PopClipRect();
    LabelBoard labels(grown(sheet.box, -2.0F));
    draw_heights(sheet, labels);
    list.PushClipRect(sheet.drawing.low, sheet.drawing.high, true);
    if (field != nullptr) {
        draw_field_lines(sheet, *field, labels);
    }
    draw_dig(sheet, profile, facts);
    draw_pipe(sheet, profile);
    draw_earth_strokes(sheet, profile);
    list.PopClipRect();
    if (field != nullptr) {
        draw_receiver(sheet, profile, *field, labels);
    }
    draw_margin_notes(sheet, facts, labels);
    draw_captions(sheet, profile, facts, labels);
    name_dig_aside(sheet, facts, labels);
    draw_fault(sheet, world, facts, labels);
    draw_depths(sheet, facts, labels);
    draw_sondes(sheet, world, score.located, facts, profile, labels);
    draw_wanted_bottom(sheet, facts, labels);
    list.PopClipRect();
}

} // namespace sondeyard::ui
