// The exercise page: where everything is on it, and the plan in its middle. Nothing opens over the plan.
//
//   +--------------------------------------------------+
//   | header                                           |
//   +---------+------------------------------+---------+
//   | left    | plan                         | receiver|
//   +---------+------------------------------+---------+
//   | strip: NEXT, marks and readings, buttons         |
//   +--------------------------------------------------+
#pragma once

#include "ui/window/controls.hpp"
#include "ui/window/map_picture.hpp"
#include "ui/window/panels.hpp"
#include "ui/window/plan.hpp"
#include "ui/window/worksheet.hpp"

#include <memory>
#include <optional>

namespace sondeyard::ui {

struct Layout {
    Area header, left, plan, receiver, strip;
    bool narrow = false; // no room for the job sheet beside the plan: it folds to a tab at the left edge
};
Layout lay_out(const Theme& theme, ImVec2 size, LeftPanel left, const CommandContext& context);
bool is_narrow(const Theme& theme, ImVec2 size);

// A header and, when something is unfolded there, the sheet at the left: what start page and debrief use.
Layout lay_out_plain(const Theme& theme, ImVec2 size, LeftPanel left);

struct ExerciseUi { // kept between frames; the app owns it
    PlanView view;
    bool view_placed = false;
    bool whole_yard = true; // the view shows all of it, and goes on to when the window changes; until someone zooms
    bool follow = true;
    bool over_plan = false; // the pointer was over the plan in this frame
    DigForm form;
    Worksheet worksheet;
    int selected_mark = 0;
    double cable_step_m = 1.0;              // what the cable hand is asked for at a time
    SheetPart sheet_part = SheetPart::none; // asked for by a key: brought to sight once
    float scroll = 0.0F;                    // of the sheet at the left, in this frame
    // A lesson that shows the field: whoever begins the lesson sets this once (App::allow_field), and from then on the
    // command `lesson_map` (Ctrl S) shows signal, dip and neither in turn on the plan being worked on, with plumb
    // points, level line and peak. Off in every exercise. The rest is kept by that command.
    bool field_allowed = false;
    MapLayer layer = MapLayer::none;
    std::unique_ptr<MapPicture> map;
    std::optional<field::TruePoints> points;
    glm::dvec3 map_sonde_m{0.0}; // where the sonde lay when the map was made
};

// Moves the view by wheel, right drag and keys, and places it at first. Before the hand looks at the pointer.
void move_view(ExerciseUi& ui, const Area& plan, const field::Brief& brief, const field::Observation& seen,
               const Input& input, const CommandContext& context, float frame_s);

// The mark within reach of a click, or 0.
int mark_at(const PlanView& view, const field::Notebook& notebook, ImVec2 pointer, float radius);

void exercise_page(const Theme& theme, const Layout& layout, LeftPanel left, const ExerciseModel& model, ExerciseUi& ui,
                   std::string_view sound, Requests& requests);

// What is missing when he wants to finish, in words.
std::vector<std::string> missing_items(const field::Notebook& notebook, bool ticket_read);

} // namespace sondeyard::ui
