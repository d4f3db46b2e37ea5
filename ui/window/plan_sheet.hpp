// Inside of the plan: what its parts share. plan.cpp sets the order and draws the furniture of the sheet; plan_view.cpp
// has its scale and what the parts draw with; plan_ground.cpp, plan_services.cpp and plan_relief.cpp what anyone in the
// yard sees; plan_work.cpp what the trainee does there; plan_truth.cpp, plan_points.cpp, map_picture.cpp and
// map_lines.cpp what is only shown in the debrief (the last three also in a lesson that shows the field).
#pragma once

#include "ui/window/drafting.hpp"
#include "ui/window/plan.hpp"

#include <span>
#include <string_view>
#include <vector>

namespace sondeyard::ui {

// What every part of the sheet needs. Later parts are drawn over earlier ones; labels go to places that are still free.
struct Sheet {
    ImDrawList& list;
    const Theme& theme;
    const PlanView& view;
    Box box;
    LabelBoard labels;

    const Palette& ink() const { return theme.palette; }
    float px(double metres) const { return static_cast<float>(metres * view.px_per_m); }
    ImVec2 at(const glm::dvec2& yard_m) const { return view.to_screen(yard_m); }
    bool sees(ImVec2 point, float margin) const { return grown(box, margin).holds(point); }
};

Box extent_of(std::span<const ImVec2> points); // at least one
std::vector<ImVec2> screen_of(const PlanView& view, std::span<const glm::dvec2> yard_m);
// On the screen, without the points that lie nearer than this to the one before.
std::vector<ImVec2> thinned(const Sheet& sheet, std::span<const glm::dvec2> yard_m, float least_px);
void closed_line(ImDrawList& list, const std::vector<ImVec2>& points, ImU32 colour, float thickness);
void open_line(ImDrawList& list, const std::vector<ImVec2>& points, ImU32 colour, float thickness);

// The smallest of a 1/2/5 ladder of metres that is at least this many pixels.
double step_m(double px_per_m, double least_px);
// What the grid and its figures count: metres, or feet.
inline double grid_unit_m(const Sheet& sheet) {
    return sheet.theme.units == field::Units::feet ? field::metres_per_foot : 1.0;
}

// Sets a name beside a point where there is room. Important names may stand a little farther off when all places next
// to the thing are taken; others are left out.
void name_point(Sheet& sheet, ImVec2 at, float half, ImU32 colour, std::string_view words, bool important = false);

// plan_ground.cpp
std::vector<const field::Area*> by_layer(const std::vector<field::Area>& areas); // lowest first
void draw_ground(Sheet& sheet, const field::Brief& brief, const std::vector<const field::Area*>& areas);

// plan_names.cpp
void draw_grid_figures(Sheet& sheet, double width_m, double length_m);
bool name_area(Sheet& sheet, const field::Area& area); // false: no room, nothing to say, or out of sight

// plan_services.cpp
void draw_paint(Sheet& sheet, std::span<const glm::dvec2> paint, field::LineKind kind);
void draw_overhead(Sheet& sheet, std::span<const glm::dvec3> wires_m); // thin dashes, named once
void draw_clues(Sheet& sheet, const std::vector<field::Clue>& clues);
void draw_cleanout(Sheet& sheet, const glm::dvec2& place);
void draw_truck(Sheet& sheet, const glm::dvec2& start_m, double facing_deg); // parked behind where the work starts

// plan_relief.cpp: nothing on flat ground
void draw_relief(Sheet& sheet, const field::Brief& brief);
void name_relief(Sheet& sheet, const field::Brief& brief);

// plan_work.cpp
void draw_trail(Sheet& sheet, std::span<const field::TrailPoint> trail, float strength);
void draw_coloured_trail(Sheet& sheet, std::span<const field::TrailPoint> trail, std::span<const ImU32> colours);
void draw_dig_box(Sheet& sheet, const field::DigBox& dig);
void draw_marks(Sheet& sheet, const field::Notebook& notebook);
void keep_marks_free(Sheet& sheet, const field::Notebook& notebook);
void name_marks(Sheet& sheet, const field::Notebook& notebook);
void draw_operator(Sheet& sheet, const field::Observation& seen);
void draw_tip(Sheet& sheet, const field::Observation& seen); // over all else
void keep_operator_free(Sheet& sheet, const field::Observation& seen);

// plan_truth.cpp: called only when the content brings the truth
void draw_true_lines(Sheet& sheet, const field::World& world);
void name_true_lines(Sheet& sheet, const field::World& world);
void draw_true_run(Sheet& sheet, const field::World& world);
void draw_true_sonde(Sheet& sheet, const field::World& world, const field::Score* score);
void name_true_sonde(Sheet& sheet, const field::World& world, const field::Score* score);
void draw_sonde_then(Sheet& sheet, const field::World& world,
                     const field::SondeTruth& then);             // once the cable had moved
void draw_other_sondes(Sheet& sheet, const field::World& world); // other crews', with their names and frequencies
void draw_target(Sheet& sheet, const field::World& world);
void draw_error(Sheet& sheet, const field::Notebook& notebook, const field::Score& score);

// plan_points.cpp: the same, or in a lesson that shows the field
void draw_level_lines(Sheet& sheet, const field::TruePoints& points);
void draw_true_points(Sheet& sheet, const field::TruePoints& points);
void keep_true_points_free(Sheet& sheet, const field::TruePoints& points);
void name_true_points(Sheet& sheet, const field::TruePoints& points);

// map_lines.cpp: the same
void draw_map_lines(Sheet& sheet, const MapPicture& map);
void name_map_lines(Sheet& sheet, const MapPicture& map);

// map_picture.cpp: the same
void draw_field_map(Sheet& sheet, const MapPicture& map);
void keep_map_legend_free(Sheet& sheet, const MapPicture& map);
void draw_map_legend(Sheet& sheet, const MapPicture& map);

} // namespace sondeyard::ui
