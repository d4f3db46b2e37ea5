// The debrief in words and figures: every sentence is built from the score and true of it.
#pragma once

#include "field/score.hpp"

namespace sondeyard::field {

struct Figure {
    std::string title;     // "position"
    std::string value;     // "18 cm"
    std::string tolerance; // "24 cm for full points"
    bool good = false;
};

struct LessonPart {    // of what this yard teaches
    std::string title; // "What is different"
    std::string text;
};

struct Debrief {
    std::string hole; // the first line: what the dig would have found, one sentence
    std::vector<std::string>
        notes; // what explains it: tilt and peak, depth of pipe's top, lines nearby, deep-trench rule
    std::vector<std::string> cautions; // those of the notes that belong beside the dig's safety
    std::vector<Figure> figures;
    std::vector<LessonPart> lesson; // the parts that the scenario has written; may be none
    std::string disclaimer;         // training licenses nobody
};

// `units` are those of every length in it; the score is to be of the same (its evidence is cited).
Debrief debrief(const Setting& setting, const ExerciseState& state, const Score& score, Units units = Units::metric);

// JSON documents for programs (UTF-8, one object, no trailing newline).
std::string score_json(const Score& score, int indent = 2);

} // namespace sondeyard::field
