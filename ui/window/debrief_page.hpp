// The debrief: a headline about the hole, a row of views, the view itself, buttons below. What a view shows is in its
// own file (debrief_views.hpp). All its buttons are commands of the table, so their keys work without this page's help.
#pragma once

#include "field/course.hpp"
#include "field/debrief.hpp"
#include "field/known.hpp"
#include "field/lengths.hpp"
#include "ui/window/coach_state.hpp"
#include "ui/window/commands.hpp"
#include "ui/window/map_picture.hpp"
#include "ui/window/plan.hpp"
#include "ui/window/replay_model.hpp"
#include "ui/window/settings.hpp"

#include <memory>
#include <optional>
#include <span>

namespace sondeyard::ui {

struct DebriefState { // what the page keeps between frames; the caller owns it and resets it for a new exercise
    DebriefView shown = DebriefView::result; // commands view_result and so on
    bool reasons = false;                    // why each point of the procedure matters is shown; command `reasons`
    bool lesson_wish = false;        // the command `lesson` was given: the page goes to the lesson, or back from it
    MapLayer layer = MapLayer::none; // of the true field under the plan; command `signal_map` goes to the next one
    std::unique_ptr<MapPicture> map; // made when it is first asked for
    std::shared_ptr<const field::WhatCouldBeKnown> known; // worked out when its view is first shown
    std::optional<field::TruePoints> points;              // found when they are first asked for, see true_points_of()
    bool lines_shown = false;                             // the field in the section; command `field_lines`
    std::optional<SectionField> field_lines;              // worked out when they are first shown
    bool view_placed = false; // the plan has been fitted to what matters once; set by the page
    PlanView view;
    ReplayUi replay; // of the view `replay`
    CoachState coach;
    std::optional<std::int64_t> wish_tick;  // another view asks for this moment of the replay,
    std::optional<glm::dvec2> wish_place_m; // and for this place to be looked at closely
    std::string message; // set by the app: where the picture went, or why it could not be written; shown as a note
};

// What every view may look at: all of it true of one finished exercise.
struct DebriefParts {
    const Theme& theme;
    const CommandContext& context;
    DebriefState& state;
    const field::Setting& setting;
    const field::ExerciseState& exercise;
    const field::Score& score;
    const field::Debrief& debrief;
    const Settings& settings; // as shown: with what the command line says instead
    Requests& requests;
    field::ScoreParts asked = {}; // which parts of the score count: what was not asked for is no fault
    std::optional<bool> test_passed =
        {}; // of a lesson's small test that asks for some parts only: it stands for the score
    std::span<const field::Requirement> judged = {}; // what it asked for, and how that came out; where that is known
    bool tight = false;                              // little room for so large a type: set by the page for its views

    const Palette& ink() const { return theme.palette; }
    float h() const { return theme.h; }
    field::Units units() const { return settings.units; } // of all lengths that are shown
};

// The plan that the shown view has: what zoom and pan move.
PlanView& shown_plan(DebriefState& state);

// Draws the page into the area whose top left is the current cursor position and whose size is `size` (pixels); the
// caller has begun a window for it. Commands asked for by its buttons go to `requests`.
void debrief_page(const DebriefParts& parts, ImVec2 size);

} // namespace sondeyard::ui
