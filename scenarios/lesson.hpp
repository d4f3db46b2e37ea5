// How a lesson of the course is written down: TOML in, a field::CourseLesson and its two yards out. The table of keys
// is lesson_keys_markdown(), and DEVELOPERS.md says how to add one.
#pragma once

#include "field/course.hpp"
#include "field/progress_review.hpp"
#include "scenarios/scenario.hpp"

namespace sondeyard::scenarios {

struct LessonFile {
    field::CourseLesson lesson;
    Scenario yard; // of the guided part
    std::uint64_t seed = 1;
    Scenario test_yard;
    std::uint64_t test_seed = 1;
};

// Does this text say that it is a lesson (its key lesson_format)? For a command that takes both.
bool is_lesson(std::string_view text);

// All throw ScenarioError with every fault found, "file:line:column: key: what was found; what is allowed"; faults of a
// yard written in the lesson are told at their place in it. `source` is the name used in messages.
LessonFile parse_lesson(std::string_view text, std::string_view source);
LessonFile load_lesson(const std::filesystem::path& file);

// The course, in order. Names are file stems, none of them an exercise's.
std::vector<std::string> bundled_lesson_names();
LessonFile bundled_lesson(std::string_view name); // throws std::out_of_range

// What each of them helps with, for who proposes one.
std::vector<field::LessonTopic> bundled_lesson_topics();

// A path to a file, or the name of a bundled lesson when no such file exists. Throws ScenarioError naming both.
LessonFile find_lesson(const std::string& path_or_name);

std::string lesson_keys_markdown();

} // namespace sondeyard::scenarios
