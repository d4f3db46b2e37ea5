// The course: every lesson can be done step by step, its test is passed by who does what it asks and by nobody who does
// nothing, and its texts can be read.
#include "field/lengths.hpp"
#include "lesson_doer.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <set>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

std::string in_words(const test::Taken& taken) {
    std::string words;
    for (const field::Requirement& r : taken.judgement) {
        words += fmt::format("{} {} ({}, needed {}); ", r.met ? "ok" : "NO", r.what, r.found, r.needed);
    }
    return words;
}

// The operator that is good enough for each lesson's test; the other tests ask for what no operator does, and are done
// by somebody who does each thing they ask for.
std::string_view honest_operator(const field::LessonTest& test) {
    static const std::set<std::string_view> usual = {"facing_pair",   "lift_checked", "depth_read", "ticket_read",
                                                     "truck_checked", "heard",        "walked_off"};
    const bool only_usual = std::ranges::all_of(test.needs, [&](const field::TestNeed& need) {
        const field::Check& check = need.done_when;
        const bool many = check.kind->name == "facing_pair" && check.values[2] > 1.0; // he takes one
        return usual.contains(check.kind->name) && !many;
    });
    return only_usual && !test.time_at_most_s && !test.dig_safe ? "level-line" : "";
}

} // namespace

TEST_CASE("Every step of every lesson is done by working, in order") {
    for (const std::string& name : bundled_lesson_names()) {
        const LessonFile file = bundled_lesson(name);
        const test::Taken taken = test::take_guided(file);
        double total_s = 0.0;
        for (const double s : taken.seconds) {
            total_s += s;
        }
        CAPTURE(name);
        CAPTURE(taken.stuck_at);
        CHECK(taken.steps_done == file.lesson.steps.size());
        CHECK(taken.finished);
        CHECK_MESSAGE(total_s < 300.0, "more than five minutes even for who knows where everything is: ", total_s);
        std::puts(
            fmt::format("  {:<18} {} steps in {:.0f} s by one who knows", name, taken.steps_done, total_s).c_str());
    }
}

TEST_CASE("Every lesson's test is passed by who does what it asks, over three seeds") {
    for (const std::string& name : bundled_lesson_names()) {
        const LessonFile file = bundled_lesson(name);
        for (std::uint64_t seed = file.test_seed; seed < file.test_seed + 3; ++seed) {
            const test::Taken taken = test::take_test(file, seed);
            CAPTURE(name);
            CAPTURE(seed);
            CAPTURE(in_words(taken));
            CHECK(taken.passed);
        }
    }
}

TEST_CASE("A lesson's test that a model operator can work is passed by it without knowing the truth") {
    int worked = 0;
    for (const std::string& name : bundled_lesson_names()) {
        const LessonFile file = bundled_lesson(name);
        const std::string_view who = honest_operator(file.lesson.test);
        if (who.empty()) {
            continue;
        }
        const test::Taken taken = test::take_test(file, file.test_seed, who);
        CAPTURE(name);
        CAPTURE(in_words(taken));
        CHECK(taken.passed);
        ++worked;
    }
    CHECK(worked > 0);
}

TEST_CASE("No lesson's first step is done by standing at the truck") {
    for (const std::string& name : bundled_lesson_names()) {
        const LessonFile file = bundled_lesson(name);
        const field::Setting setting(resolve(file.yard, file.seed));
        field::ExerciseState state = field::start(setting);
        field::LessonWork work;
        field::Action action;
        action.move.hand_m = state.body.tip_m;
        for (int i = 0; i < 600; ++i) {
            field::follow(file.lesson, setting, state, field::step(setting, state, action), work);
        }
        CAPTURE(name);
        CHECK(work.step == 0);
    }
}

TEST_CASE("No lesson's test is passed with nothing done") {
    for (const std::string& name : bundled_lesson_names()) {
        const LessonFile file = bundled_lesson(name);
        const test::Taken taken = test::take_test_idly(file, file.test_seed);
        CAPTURE(name);
        CHECK(taken.finished);
        CHECK_FALSE(taken.passed);
    }
}

TEST_CASE("There are sixteen lessons and more, each of its own name, title and goal, with no exercise's name") {
    const auto names = bundled_lesson_names();
    CHECK(names.size() >= 16);
    std::set<std::string> seen;
    for (const std::string& exercise : bundled_names()) {
        seen.insert(exercise);
    }
    for (const std::string& name : names) {
        const field::CourseLesson lesson = bundled_lesson(name).lesson;
        CAPTURE(name);
        CHECK(lesson.name == name);
        CHECK(seen.insert(name).second);
        CHECK(seen.insert(lesson.title).second);
        CHECK(seen.insert(lesson.goal).second);
        CHECK(lesson.goal.ends_with("."));
        CHECK(lesson.fact.ends_with("."));
    }
}

TEST_CASE("Lengths in a lesson's texts stand in braces, so that they can be shown in feet and inches") {
    for (const std::string& name : bundled_lesson_names()) {
        const field::CourseLesson lesson = bundled_lesson(name).lesson;
        std::vector<std::string> texts = {lesson.title, lesson.goal, lesson.fact, lesson.test.task};
        for (const field::CourseStep& step : lesson.steps) {
            texts.push_back(step.text);
            texts.push_back(step.hint);
        }
        for (const field::TestNeed& need : lesson.test.needs) {
            texts.push_back(need.text);
        }
        for (const std::string& text : texts) {
            CAPTURE(name);
            CAPTURE(text);
            const std::string feet = field::in_units(text, field::Units::feet);
            CHECK(feet.find('{') == std::string::npos);
            for (std::size_t at = feet.find(" m"); at != std::string::npos; at = feet.find(" m", at + 1)) {
                const bool a_length = at > 0 && feet[at - 1] >= '0' && feet[at - 1] <= '9' &&
                                      (at + 2 == feet.size() || feet[at + 2] < 'a' || feet[at + 2] > 'z');
                CHECK_FALSE(a_length);
            }
        }
    }
}

TEST_CASE("Guidance fades: hints go after the first pass, step texts after the second") {
    CHECK(field::guidance_after(0) == field::Guidance::full);
    CHECK(field::guidance_after(1) == field::Guidance::steps);
    CHECK(field::guidance_after(2) == field::Guidance::goal);
    CHECK(field::guidance_after(9) == field::Guidance::goal);
}
