// A trainee who does what each step of a lesson says, by its check, and knows the truth of where to do it: so that a
// test can say that every step can be done, in order, by working and nothing else.
#pragma once

#include "field/course.hpp"
#include "field/operator_script.hpp"
#include "scenarios/lesson.hpp"

#include <string>

namespace sondeyard::scenarios::test {

struct Taken {
    std::size_t steps_done = 0;
    std::string stuck_at;        // the step's text, when one would not be done
    std::vector<double> seconds; // each step took
    bool finished = false;
    std::vector<field::Requirement> judgement;
    bool passed = false;
};

// The guided part: does the steps one after the other.
Taken take_guided(const LessonFile& file);

// The test in the yard of this seed, by doing what it asks for: its needs in order, then locate, calls and box as far
// as they are asked for. `honest`: located by a model operator instead, who knows no truth.
Taken take_test(const LessonFile& file, std::uint64_t seed, std::string_view model_operator = "");

// The test with nothing done but a step aside, then finished.
Taken take_test_idly(const LessonFile& file, std::uint64_t seed);

} // namespace sondeyard::scenarios::test
