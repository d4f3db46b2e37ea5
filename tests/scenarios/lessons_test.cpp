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

namespace {

// Walks the tip to a place with the steps unwatched, marks there in the first watched tick and leaves at once.
class Hasty {
public:
    explicit Hasty(const LessonFile& file)
        : lesson_(file.lesson), setting_(resolve(file.yard, file.seed)), state_(field::start(setting_)) {}

    field::LessonWork work;
    field::TruePlaces places() const { return field::true_places(setting_.world, setting_.world.sonde); }

    void go(const glm::dvec2& place, double height_m) {
        for (int i = 0; i < 1800; ++i) {
            tick({.move = {.hand_m = place, .hand_height_m = height_m}, .command = {}}, false);
        }
    }
    void mark_and_leave(field::MarkKind kind) {
        const glm::dvec2 away = state_.body.tip_m + glm::dvec2(0.9, 0.0);
        tick({.move = {.hand_m = away, .hand_height_m = 0.8}, .command = field::PlaceMark{kind}}, true);
        for (int i = 0; i < 60; ++i) {
            tick({.move = {.hand_m = away, .hand_height_m = 0.8}, .command = {}}, true);
        }
    }

private:
    void tick(const field::Action& action, bool watched) {
        const field::Observation seen = field::step(setting_, state_, action);
        if (watched) {
            field::follow(lesson_, setting_, state_, seen, work);
        }
    }
    field::CourseLesson lesson_;
    field::Setting setting_;
    field::ExerciseState state_;
};

} // namespace

TEST_CASE("Steps that lead up to a mark count when it is made, without having been held; those that do not stay open") {
    LessonFile file = bundled_lesson("the-field");
    REQUIRE(file.lesson.steps[3].done_when.kind->name == "marked");
    for (const std::size_t way : {0U, 1U, 2U}) {
        REQUIRE(file.lesson.steps[way].leads_up);
    }
    Hasty good(file);
    good.go(good.places().plumb_m.front(), 0.0);
    good.mark_and_leave(field::MarkKind::plumb);
    CHECK(good.work.step == 4); // up to the mark, and not the other plumb point
    CHECK(good.work.done_ticks.size() == 4);
    good.go(good.places().level_m, 0.0);
    good.mark_and_leave(field::MarkKind::level);
    CHECK(good.work.step == 4); // the level line is for later: it skips no plumb point
    good.go(good.places().plumb_m.back(), 0.0);
    good.mark_and_leave(field::MarkKind::plumb);
    CHECK(field::steps_done(file.lesson, good.work)); // the level line was marked already

    Hasty wrong(file);
    wrong.go(wrong.places().sonde_m, 0.0);
    wrong.mark_and_leave(field::MarkKind::plumb);
    CHECK(wrong.work.step < 3);

    for (field::CourseStep& step : file.lesson.steps) {
        step.leads_up = false;
    }
    Hasty alone(file);
    alone.go(alone.places().plumb_m.front(), 0.0);
    alone.mark_and_leave(field::MarkKind::plumb);
    CHECK(alone.work.step < 3);
}

TEST_CASE(
    "A rise of the signal is counted from the weakest since the step began, so that nobody is stuck who began near") {
    const LessonFile file = bundled_lesson("sweeping");
    const field::Setting setting(resolve(file.yard, file.seed));
    field::ExerciseState state = field::start(setting);
    const glm::dvec2 sonde = field::true_places(setting.world, setting.world.sonde).sonde_m;
    const auto walk = [&](const glm::dvec2& place, field::LessonWork* work) {
        for (int i = 0; i < 1200; ++i) {
            const field::Action action{.move = {.hand_m = place, .hand_height_m = 0.8}, .command = {}};
            const field::Observation seen = field::step(setting, state, action);
            if (work != nullptr) {
                field::follow(file.lesson, setting, state, seen, *work);
            }
        }
    };
    field::LessonWork work;
    walk(sonde, nullptr);
    walk(sonde, &work);
    CHECK(work.step == 0); // near, and no stronger
    walk(setting.world.start_m, &work);
    CHECK(work.step == 0); // weaker
    walk(sonde, &work);
    CHECK(work.step >= 2);
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
