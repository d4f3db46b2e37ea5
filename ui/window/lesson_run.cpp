#include "ui/window/lesson_run.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sondeyard::ui {

void follow(LessonRun& run, const field::Setting& setting, const field::ExerciseState& state,
            const field::Observation& seen) {
    if (run.test) {
        field::follow(run.lesson().test, setting, state, seen, run.test_work);
    } else if (field::steps_done(run.lesson(), run.work)) {
        run.rest_ticks += run.looking ? 0 : 1;
    } else {
        field::follow(run.lesson(), setting, state, seen, run.work);
    }
}

bool test_is_due(const LessonRun& run) { return !run.test && run.rest_ticks >= rest_before_test_ticks; }

void judge(LessonRun& run, const field::ExerciseState& state, const field::Score& score) {
    if (run.test) {
        run.judgement = field::judge(run.lesson().test, state, score, run.test_work);
        run.passed = field::passed(run.judgement);
        return;
    }
    const std::size_t steps = run.lesson().steps.size();
    run.judgement = {{"steps", fmt::format("all {} done, then the test", steps),
                      fmt::format("finished after {}", run.work.step), false}};
    run.passed = false;
}

LessonNext next_of(const LessonRun& run, field::Units units) {
    if (run.test) {
        return {};
    }
    if (field::steps_done(run.lesson(), run.work) && run.looking) {
        return {
            "All steps are done. Look as long as you like; without the map (Ctrl S) the test begins, in another yard.",
            "lesson_map"};
    }
    if (field::steps_done(run.lesson(), run.work)) {
        const int left_s = (rest_before_test_ticks - run.rest_ticks + 59) / 60;
        return {fmt::format("All steps are done. {}Now without help, in another yard: in {} s.",
                            run.lesson().field_shown ? "Ctrl S shows the field that was walked. " : "",
                            std::max(left_s, 0)),
                run.lesson().field_shown ? "lesson_map" : ""};
    }
    if (run.guidance() == field::Guidance::goal) {
        return {};
    }
    const field::CourseStep& step = run.lesson().steps[run.work.step];
    return {field::in_units(step.text, units), step.key};
}

std::string place_of(const LessonRun& run, std::size_t lessons) {
    const std::string_view part = run.test ? "test" : "guided";
    return run.index < 0 ? fmt::format("lesson, {}", part)
                         : fmt::format("lesson {} of {}, {}", run.index + 1, lessons, part);
}

// ---- The course and its results ----

std::vector<LessonRow> lesson_rows() {
    std::vector<LessonRow> rows;
    for (const std::string& name : scenarios::bundled_lesson_names()) {
        const scenarios::LessonFile file = scenarios::bundled_lesson(name);
        rows.push_back({.name = name, .title = file.lesson.title, .goal = file.lesson.goal});
    }
    return rows;
}

std::string lesson_result_name(std::string_view lesson) { return fmt::format("{}{}", field::lesson_prefix, lesson); }

int count_passes(const std::vector<Result>& results, std::string_view lesson) {
    const std::string name = lesson_result_name(lesson);
    return static_cast<int>(
        std::ranges::count_if(results, [&](const Result& r) { return r.exercise == name && r.passed; }));
}

void take_results(std::vector<LessonRow>& rows, const std::vector<Result>& results) {
    for (LessonRow& row : rows) {
        row.passes = count_passes(results, row.name);
        row.tried =
            std::ranges::any_of(results, [&](const Result& r) { return r.exercise == lesson_result_name(row.name); });
    }
}

int next_lesson_to_do(const std::vector<LessonRow>& rows) {
    const auto first = std::ranges::find(rows, 0, &LessonRow::passes);
    return static_cast<int>(first == rows.end() ? std::max<std::ptrdiff_t>(0, std::ssize(rows) - 1)
                                                : first - rows.begin());
}

} // namespace sondeyard::ui
