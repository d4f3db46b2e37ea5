// The tilt fix's worksheet at the left of the exercise: filled from the notebook, corrected by hand, worked out, taken
// as calls. In words and numbers, as a tape has them: it draws nothing on the plan and knows nothing but the notebook.
#pragma once

#include "field/lengths.hpp"
#include "field/tilt_sheet.hpp"
#include "ui/window/panels.hpp"

namespace sondeyard::ui {

struct Worksheet { // kept between frames
    enum Line : std::size_t {
        spacing,
        depth,
        signal_a,
        signal_b,
        level_from_a,
        rise,       // of the ground from A to B
        spacing_sd, // how sure he is of A to B, and of the depth
        depth_sd,
        line_count
    };
    struct Number {
        std::array<char, 24> text{}; // as it stands in the field
        std::optional<double> typed; // m or dB, in place of the notebook's or the usual one; empty: that
        std::string trouble;         // what was typed and is no number of this kind, and what is allowed
        ImVec2 middle{0.0F, 0.0F};   // of the field on the screen, when it was last drawn
    };
    std::array<Number, line_count> numbers;
    field::PlumbSide stronger = field::PlumbSide::unknown; // by ear, where no signals are known
    bool focus_first = false;                              // put the keyboard into the first number at the next frame

    // Worked out by refresh().
    field::TiltSheet sheet;
    std::optional<field::TiltFixInput> input; // of the fix below
    std::optional<field::TiltFix> fix;        // empty: `trouble` says what is wrong, or something is missing
    std::vector<std::string> trouble;         // lengths in braces
    std::vector<field::Command> calls;        // what taking it calls; empty when there is nothing to take
};

// What the notebook says, with what was typed over it, and the fix from both.
void refresh(Worksheet& w, const field::Brief& brief, const field::Notebook& notebook);
// Everything that was typed is forgotten.
void fill_from_notebook(Worksheet& w);
// The strong one by ear: A, B, not said.
void next_stronger(Worksheet& w);
// As calls for the notebook. Keeps the depth that the fix was made from, so that calling it changes nothing.
std::vector<field::Command> take_as_calls(Worksheet& w);

// What it says, for tests that work the window from outside; see App::note_trace.
std::vector<std::string> trace_lines(const Worksheet& w);

void worksheet_panel(const Theme& theme, const Area& area, const ExerciseModel& model, Worksheet& w, float scroll,
                     Requests& requests);

// How the tilt fix works, for the help sheet.
void help_tilt_fix(const Theme& theme);

} // namespace sondeyard::ui
