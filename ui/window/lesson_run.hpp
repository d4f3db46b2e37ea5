// A lesson being taken: its guided part, its test and how that came out; and the panels that show it. Which lesson
// comes when, and how often it was passed, is the app's.
#pragma once

#include "field/lengths.hpp"
#include "scenarios/lesson.hpp"
#include "ui/window/panels.hpp"

#include <memory>
#include <optional>

namespace sondeyard::ui {

struct LessonRun {
    std::shared_ptr<const scenarios::LessonFile> file;
    int index = -1; // in the bundled course, or -1
    int passes = 0; // before this time
    bool test = false;
    std::uint64_t seed = 0; // of the yard that is open
    field::LessonWork work;
    field::TestWork test_work;
    bool looking = false;                      // at the field map: the test waits until it is put away
    int rest_ticks = 0;                        // since the last step was done
    std::vector<field::Requirement> judgement; // when the test, or an unfinished guided part, has been finished
    bool passed = false;

    const field::CourseLesson& lesson() const { return file->lesson; }
    field::Guidance guidance() const { return field::guidance_after(passes); }
};
inline constexpr int rest_before_test_ticks = 240; // 4 s to read that all steps are done

// One tick further, after each step of the exercise.
void follow(LessonRun& run, const field::Setting& setting, const field::ExerciseState& state,
            const field::Observation& seen);
bool test_is_due(const LessonRun& run);
void judge(LessonRun& run, const field::ExerciseState& state, const field::Score& score);

// What the line below the plan says in a lesson: the step that is due, nothing in the test.
struct LessonNext {
    std::string sentence;
    std::string_view command;
};
LessonNext next_of(const LessonRun& run, field::Units units);
std::string place_of(const LessonRun& run, std::size_t lessons); // "lesson 3 of 18, test"

// ---- The list on the start page ----

struct LessonRow {
    std::string name;
    std::string title;
    std::string goal;
    int passes = 0;
    bool tried = false;
};
std::vector<LessonRow> lesson_rows();                    // the course, nothing passed yet
std::string lesson_result_name(std::string_view lesson); // the name its results are kept under
int count_passes(const std::vector<Result>& results, std::string_view lesson);
void take_results(std::vector<LessonRow>& rows, const std::vector<Result>& results);
int next_lesson_to_do(const std::vector<LessonRow>& rows); // the first not passed, else the last

struct StartUi;
void lesson_list(const Theme& theme, const Area& area, const std::vector<LessonRow>& rows, field::Units units,
                 const CommandContext& context, std::string_view message, StartUi& ui, Requests& requests);

// ---- Panels ----

// The steps at the left while working: done, due, to come; in the test its task.
void lesson_panel(const Theme& theme, const Area& area, const LessonRun& run, field::Units units, float scroll);
// After the test: passed or what is missing, and where to go from there.
void lesson_result_page(const Theme& theme, const Area& area, const LessonRun& run, field::Units units,
                        const CommandContext& context, std::string_view message, Requests& requests);

} // namespace sondeyard::ui
