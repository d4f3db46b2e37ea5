#include "ui/window/section_sheet.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

namespace sondeyard::ui {

namespace {

constexpr double spacing_depths = 0.4; // of the lines, where they cross the plane square to the sonde
constexpr double even_to_depths = 2.4;
constexpr double said_from_deg = 10.0; // leaving the plane by less is not worth a word
constexpr double mast_m = 0.15;        // above its upper antenna

} // namespace

SectionField section_field_of(const field::Setting& truth, const field::Notebook& notebook, const field::Score& score) {
    const field::World& world = truth.world;
    const field::SondeTruth& sonde = score.located.sonde;
    const Profile profile = profile_of(world);
    const double depth_m = std::max(0.3, field::depth_m(world, sonde.position_m));
    const double ground_t = field::height_m(world.yard.terrain, field::plan(sonde.position_m));
    const sim::SectionPlane plane{{profile.origin_m, 0.0}, profile.ahead};
    const double wide_m = farthest_shown_m + 1.0 + 2.0 * depth_m;
    const double middle_s = profile.s_of(field::plan(sonde.position_m));
    const sim::PlaneBox box{{middle_s - wide_m, sonde.position_m.z - 2.0 * depth_m - 1.0},
                            {middle_s + wide_m, ground_t + 2.0 * depth_m + 2.0}};
    SectionField field;
    field.lines = sim::section_field_lines(field::scene_of(world, truth.ground, sonde), plane, box,
                                           spacing_depths * depth_m, even_to_depths * depth_m);
    for (const sim::FieldLine& line : field.lines) {
        field.most_out_deg = line.comes_back ? std::max(field.most_out_deg, line.most_out_deg) : field.most_out_deg;
    }
    const auto counts = [](const field::Reading& reading) { return reading.counts; };
    const auto reading = std::find_if(notebook.readings.rbegin(), notebook.readings.rend(), counts);
    if (const field::Mark* locate = field::find_last(notebook, field::MarkKind::locate)) {
        field.receiver_m = locate->place_m;
        field.at_locate = true;
    } else if (reading != notebook.readings.rend()) {
        field.receiver_m = reading->place_m;
    }
    field.tip_to_antenna_m = world.receiver.tip_to_antenna_m;
    field.antenna_spacing_m =
        world.receiver.kind == sim::ReceiverKind::single_coil ? 0.0 : world.receiver.antenna_spacing_m;
    return field;
}

void draw_field_lines(SectionSheet& sheet, const SectionField& field, LabelBoard& labels) {
    const ImU32 colour = with_alpha(sheet.ink().trail, 0.8F);
    for (const sim::FieldLine& line : field.lines) {
        std::vector<ImVec2> points;
        for (std::size_t i = 0; i < line.points_m.size(); ++i) {
            const ImVec2 at = sheet.at(line.points_m[i].x, line.points_m[i].y);
            if (points.empty() || length(at - points.back()) >= 2.0F || i + 1 == line.points_m.size()) {
                points.push_back(at);
            }
        }
        sheet.list.AddPolyline(points.data(), static_cast<int>(points.size()), colour, ImDrawFlags_None, 1.0F);
    }
    const float h = sheet.theme.h;
    std::string words = "true field lines";
    if (field.most_out_deg > said_from_deg) {
        words += fmt::format(", seen from the side: up to {:.0f} deg out of this plane", field.most_out_deg);
    }
    const ImVec2 size = text_size(sheet.theme.note, words);
    const std::array<ImVec2, 2> places = {
        {{sheet.drawing.high.x - size.x - 0.3F * h, sheet.drawing.high.y - size.y - 0.2F * h},
         {sheet.drawing.low.x + 0.3F * h, sheet.drawing.high.y - size.y - 0.2F * h}}};
    if (const auto place = labels.place(size, places)) {
        draw_text_on_paper(sheet.list, sheet.theme.note, *place, sheet.ink().trail, sheet.ink().paper, words);
    }
}

// Mast and antennas stand at their true heights, with the spacing drawn between them.
void draw_receiver(SectionSheet& sheet, const Profile& profile, const SectionField& field, LabelBoard& labels) {
    if (!field.receiver_m) {
        return;
    }
    const double s = profile.s_of(*field.receiver_m);
    if (std::abs(s) > farthest_shown_m) {
        return;
    }
    const float h = sheet.theme.h;
    const ImU32 ink = sheet.ink().ink;
    const double tip_t = profile.ground_t(*field.receiver_m);
    const double top_t = tip_t + field.tip_to_antenna_m + std::max(0.3, field.antenna_spacing_m) + mast_m;
    sheet.list.PushClipRect(sheet.drawing.low, sheet.drawing.high, true);
    const ImVec2 tip = sheet.at(s, tip_t);
    sheet.list.AddLine(tip, sheet.at(s, top_t), sheet.ink().paper, 5.0F);
    sheet.list.AddLine(tip, sheet.at(s, top_t), ink, 2.0F);
    // Three crossed coils of some 6 cm: a box with its diagonals.
    const float half = std::max(sheet.px(0.03), 3.0F);
    const auto antenna = [&](double height_m) {
        const ImVec2 at = sheet.at(s, tip_t + height_m);
        sheet.list.AddRectFilled(at - ImVec2{half, half}, at + ImVec2{half, half}, sheet.ink().paper);
        sheet.list.AddRect(at - ImVec2{half, half}, at + ImVec2{half, half}, ink, 0.0F, 0, 1.5F);
        sheet.list.AddLine(at - ImVec2{half, half}, at + ImVec2{half, half}, ink, 1.0F);
        sheet.list.AddLine({at.x - half, at.y + half}, {at.x + half, at.y - half}, ink, 1.0F);
        labels.take(grown({at, at}, half + 2.0F));
        return at;
    };
    const ImVec2 lower = antenna(field.tip_to_antenna_m);
    ImVec2 beside = lower;
    std::string words = field.at_locate ? "coil at the locate" : "coil at the last reading";
    if (field.antenna_spacing_m > 0.0) {
        const ImVec2 upper = antenna(field.tip_to_antenna_m + field.antenna_spacing_m);
        beside = (lower + upper) * 0.5F;
        words = fmt::format("antennas {} apart, {}", length_words(sheet.theme, field.antenna_spacing_m),
                            field.at_locate ? "at the locate" : "at the last reading");
    }
    sheet.list.PopClipRect();
    labels.take({{lower.x - 3.0F, sheet.at(s, top_t).y}, {lower.x + 3.0F, tip.y}});
    const ImVec2 size = text_size(sheet.theme.note, words);
    const float out = half + 0.4F * h;
    std::vector<ImVec2> places;
    for (const float up : {0.0F, 0.8F, -0.8F, 1.6F}) {
        const float y = beside.y - 0.5F * size.y - up * h;
        places.push_back({beside.x + out, y});
        places.push_back({beside.x - out - size.x, y});
    }
    if (const auto place = labels.place(size, places)) {
        draw_text_on_paper(sheet.list, sheet.theme.note, *place, ink, sheet.ink().paper, words);
    }
}

} // namespace sondeyard::ui
