// The one table of commands: id, label, key, help, and when each is enabled. It feeds the keys, the buttons with their
// tooltips, and the help sheet, so none of them can disagree.
#pragma once

#include "field/exercise.hpp"
#include "ui/window/theme.hpp"

#include <array>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::ui {

enum class Page { start, exercise, debrief, lesson_result, people, progress };
std::string_view name_of(Page page);

// The views of the debrief, in the order of their keys.
enum class DebriefView { result, coach, known, replay };
std::string_view name_of(DebriefView view);

// What decides whether a command is enabled; filled in each frame.
struct CommandContext {
    Page page = Page::start;
    DebriefView view = DebriefView::result; // on the debrief's page; a key may mean something else in each
    bool has_dial = true;                   // what the receiver can do
    bool reads_depth = true;
    bool turns_coil = false;
    bool has_wide = false;
    bool has_cable = true;     // a counter on the job sheet: there is a cable hand to ask
    bool tip_down = false;     // the hand is being held at the ground
    bool lifted = false;       // it is being held up for the lift check
    bool finish_asked = false; // the strip asks "finish?" and waits
    bool leave_asked = false;  // the strip asks "leave?" and waits
    bool has_marks = false;
    bool mark_selected = false;
    bool has_readings = false;
    bool has_tilt_calls = false; // the worksheet has something to take
    bool has_dig = false;
    bool can_undo = false;
    bool has_next = false;  // another exercise follows this one in the course
    bool form_open = false; // the form of calls and dig box is in the strip
    bool paused = false;
    bool coach_asks = false; // a question of the coach is open or answered; else its findings are listed
    bool has_findings = false;
    bool has_moment = false; // the finding chosen has a moment that the replay can go to
    bool has_lesson = false; // the debrief has a lesson to show
    bool in_lesson = false;  // a lesson of the course is being taken
    bool lesson_passed = false;
    bool has_next_lesson = false;
    bool lists_lessons = false; // the start page shows the lessons
    bool has_person = false;    // somebody practises here: there is progress to show, and to delete
    bool delete_asked = false;  // the progress page asks "delete?" and waits
    bool field_allowed = false; // the lesson being worked shows the field (ExerciseUi::field_allowed)
    std::string_view next_map;  // what the next press of the map's key shows; empty: no map here
};

// Of an exercise being worked, what notebook and receiver decide. The rest is the window's: questions, form, pause.
CommandContext work_context(const field::Brief& brief, const field::ExerciseState& state);

// A key as the keyboard names it (an SDL_Keycode) with the modifier that has to be held. Shift is not a modifier here:
// it slows the hand, and every key must go on working meanwhile.
struct Chord {
    int key = 0; // 0: none
    bool ctrl = false;
    bool operator==(const Chord&) const = default;
};

struct CommandInfo {
    std::string_view id;
    std::string_view label;    // on a button
    std::string_view key_text; // "Space", "Ctrl Z"
    std::string_view help;     // one sentence, in the tooltip and the help sheet
    std::string_view group;    // heading in the help sheet
    std::array<Chord, 3> chords;
    bool held; // acts as long as the key is down
    bool (*enabled)(const CommandContext&);
};

std::span<const CommandInfo> command_table();
const CommandInfo* find_command(std::string_view id); // nullptr when there is none
const CommandInfo* command_of(const Chord& chord,
                              const CommandContext& context); // the enabled one on that key, or nullptr
bool enabled(std::string_view id, const CommandContext& context);

// What a press would do now, where that changes: "Lower" or "Hold out". The table's label elsewhere.
std::string_view label_now(std::string_view id, const CommandContext& context);

// "6  Call depth": what the NEXT line says of a command. Empty when there is none of this id or its key would do
// nothing now, so that a trainee is never sent to a dead key.
std::string key_and_label(std::string_view id, const CommandContext& context);

// What panels ask for; executed at one place at the start of the next frame. `commands` are ids of the table, `work`
// are notebook changes that carry a value (a number typed into the dig form, the reading to delete).
struct Requests {
    std::vector<std::string_view> commands;
    std::vector<field::Command> work;
};

// A button for a command: its label and key; greyed out when not enabled; the help in its tooltip. Pressed: queued.
// Returns true when it was pressed. `label` replaces label_now when given.
bool command_button(const Theme& theme, const CommandContext& context, std::string_view id, Requests& requests,
                    std::string_view label = {});
float command_button_width(const Theme& theme, std::string_view id, std::string_view label = {});

// The same as one of a row of which one is chosen: that has a bar below it, and is as plain to read as the others.
void tab_button(const Theme& theme, const CommandContext& context, std::string_view id, bool chosen,
                Requests& requests);

} // namespace sondeyard::ui
