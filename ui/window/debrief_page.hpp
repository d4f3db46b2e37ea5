// The debrief: the truth in plan and section, every error with its tolerance, the procedure point by point.
//
// Its buttons are commands of the table (ids below), drawn with command_button, so their keys work without this page's
// help:
//   again_same A, again_new N, next_exercise X, save_picture P, reasons W (shows and hides why each point matters),
//   lesson L (goes to what the yard teaches, and back), signal_map S (signal, dip, none), field_lines F, start_page Esc.
#pragma once

#include "field/debrief.hpp"
#include "ui/window/commands.hpp"
#include "ui/window/map_picture.hpp"
#include "ui/window/plan.hpp"

#include <memory>
#include <optional>

namespace sondeyard::ui {

struct DebriefState {         // what the page keeps between frames; the caller owns it and resets it for a new exercise
    bool reasons = false;     // why each point of the procedure matters is shown; toggled by the command `reasons`
    bool lesson_wish = false; // the command `lesson` was given: the page goes to the lesson, or back from it
    MapLayer layer =
        MapLayer::none; // of the true field under the plan; the command `signal_map` goes from one to the next
    std::unique_ptr<MapPicture> map;         // made when it is first asked for
    std::optional<field::TruePoints> points; // found by the page when it is first drawn
    bool lines_shown = false;                // the field in the section; toggled by the command `field_lines`
    std::optional<SectionField> field_lines; // worked out by the page when they are first shown
    bool view_placed = false;                // the plan has been fitted to what matters once; set by the page
    PlanView view;
    std::string message; // set by the app: where the picture went, or why it could not be written; shown as a note
};

// Draws the page into the area whose top left is the current cursor position and whose size is `size` (pixels); the
// caller has begun a window for it. Commands asked for by its buttons go to `requests`.
void debrief_page(const Theme& theme, const CommandContext& context, DebriefState& state, const field::Setting& setting,
                  const field::ExerciseState& exercise, const field::Score& score, const field::Debrief& debrief,
                  ImVec2 size, Requests& requests);

} // namespace sondeyard::ui
