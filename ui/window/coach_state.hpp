// What the debrief's view "Coach" keeps between frames: the questions come first, one at a time, then the list of
// findings. A question can be answered or skipped; after an answer its finding is shown, and Enter goes on.
#pragma once

#include "field/coach.hpp"

#include <array>
#include <optional>
#include <vector>

namespace sondeyard::ui {

struct CoachState {
    std::optional<field::Units> units; // of the findings' texts; empty: not worked out yet
    std::vector<field::Finding> findings;
    std::array<std::optional<std::size_t>, field::findings_asked> answers; // option given to each question
    std::size_t at = 0;       // the question, then, from questions() on, the list
    std::size_t option = 0;   // chosen of an open question
    std::size_t chosen = 0;   // finding of the list
    bool into_view = false;   // the chosen one is to be scrolled to
    int scroll_lines = 0;     // asked for while an answer is read, down positive
    bool covers_most = false; // of the points that were lost: only then is it said what mattered most
    bool place_seen = false;  // the plan has been moved so that the place of the one shown is on it

    std::size_t questions() const { return field::questions_of(findings); }
    std::size_t listed() const { return std::min(findings.size(), field::findings_shown); }
    bool asks() const { return at < questions(); } // a question, open or answered
    bool open() const { return asks() && !answers[at]; }
    // The finding that the plan shows: of the question, else the one chosen; nullptr when there is none.
    const field::Finding* shown() const;
};

// The findings in these units, and whether they account for most of what was lost.
void work_out(CoachState& coach, const field::Setting& setting, const field::ExerciseState& state,
              const field::Score& score, field::Units units, const field::ScoreParts& asked);
void coach_step(CoachState& coach,
                int by);              // to the next option or finding, stopping at the ends; in an answer, reads on
void coach_answer(CoachState& coach); // gives the chosen option, or goes on to the next question, then the list
void coach_skip(CoachState& coach);   // the questions that are left; in the list: back to the first question

} // namespace sondeyard::ui
