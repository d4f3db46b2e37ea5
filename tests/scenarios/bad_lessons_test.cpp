// What is wrong with a lesson file is said with file, line, column, key, what was found and what is allowed; all of it
// at once.
#include "scenarios/lesson.hpp"
#include "tests/temp_folder.hpp"

#include <doctest/doctest.h>

#include <fstream>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

constexpr std::string_view sound = R"(lesson_format = 1
title = "One"
goal = "One can do one thing."
fact = "A fact."
yard = "level-lawn"
seed = 3
[[step]]
text = "Lower the receiver."
done_when = { check = "tip_down" }
[[step]]
text = "Mark the peak."
done_when = { check = "marked", what = "peak", within_m = 0.3 }
[[step]]
text = "Read."
done_when = { check = "depth_read" }
[test]
task = "Mark it."
seed = 4
locate_within_m = 0.3
)";

std::string with(std::string_view from, std::string_view to) {
    std::string text(sound);
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

std::vector<std::string> faults_of(std::string_view text) {
    try {
        parse_lesson(text, "mine.toml");
    } catch (const ScenarioError& e) {
        return e.messages;
    }
    return {};
}

struct Bad {
    std::string_view from, to, message;
};

} // namespace

TEST_CASE("A sound lesson is read whole") {
    const LessonFile file = parse_lesson(sound, "mine.toml");
    CHECK(file.lesson.name == "mine");
    CHECK(file.seed == 3);
    CHECK(file.test_seed == 4);
    CHECK(file.yard.title() == file.test_yard.title());
    REQUIRE(file.lesson.steps.size() == 3);
    CHECK(file.lesson.steps[1].done_when.kind->name == "marked");
    CHECK(file.lesson.steps[1].done_when.values[0] == 2.0); // the third word: peak
    CHECK(file.lesson.steps[1].done_when.values[1] == 0.3);
    CHECK(file.lesson.steps[1].done_when.values[2] == 1.0); // left out
    CHECK(file.lesson.test.locate_within_m == 0.3);
}

TEST_CASE("Each fault of a lesson file is told at its place") {
    const std::vector<Bad> all = {
        {"title = \"One\"", "titel = \"One\"",
         "mine.toml:2:1: titel: found the unknown key \"titel\"; did you mean title?"},
        {"lesson_format = 1", "lesson_format = 2", "mine.toml:1:17: lesson_format: found 2; allowed: 1"},
        {"seed = 3", "seed = -1", "mine.toml:6:8: seed: found -1; allowed: a whole number from 0"},
        {"seed = 3", "seed = 3.5", "mine.toml:6:8: seed: found 3.5; allowed: a whole number"},
        {"yard = \"level-lawn\"", "yard = \"no-such\"",
         "mine.toml:5:8: yard: found \"no-such\"; allowed: level-lawn, "},
        {"yard = \"level-lawn\"\n", "", "yard: found none of yard and scenario; allowed: one of them"},
        {"goal = \"One can do one thing.\"", "goal = 7",
         "mine.toml:3:8: goal: found 7; allowed: a text of 1 to 160 characters"},
        {"goal = \"One can do one thing.\"", "goal = \"\"", "mine.toml:3:8: goal: found a text of 0 characters"},
        {"\"tip_down\"", "\"tip_dwon\"",
         "mine.toml:9:23: done_when.check: found the text \"tip_dwon\"; allowed: signal_rose, "},
        {"what = \"peak\"", "what = \"pique\"",
         "mine.toml:12:40: done_when.what: found the text \"pique\"; allowed: \"plumb\", \"level\""},
        {"what = \"peak\", ", "", "done_when.what: found nothing; allowed: \"plumb\""},
        {"within_m = 0.3 }", "within_m = 30 }",
         "mine.toml:12:59: done_when.within_m: found 30; allowed: a number from 0.05 to 5 m"},
        {"within_m = 0.3 }", "within_ft = 1 }",
         "mine.toml:12:48: done_when.within_ft: found an unknown parameter; marked takes: check, what, within_m, count"},
        {"done_when = { check = \"depth_read\" }", "done_when = \"next\"",
         "mine.toml:15:13: step.done_when: found the text \"next\"; allowed: { check = NAME, its parameters }"},
        {"done_when = { check = \"depth_read\" }\n", "",
         "step.done_when: missing; allowed: { check = NAME, its parameters }"},
        {"locate_within_m = 0.3", "locate_within_m = true",
         "locate_within_m: found true; allowed: a number from 0.05 to 3 m"},
        {"locate_within_m = 0.3\n", "", "test: found nothing that is asked for"},
        {"seed = 4", "seed = 3", "mine.toml:18:8: seed: found the lesson's own seed; allowed: another"},
        {"locate_within_m = 0.3", "tilt_right = \"yes\"", "tilt_right: found the text \"yes\"; allowed: true or false"},
        {"locate_within_m = 0.3", "[[test.need]]\ntext = \"x\"\ndone_when = { check = \"none\" }",
         "done_when.check: found the text \"none\""},
        {"[[step]]\ntext = \"Read.\"\ndone_when = { check = \"depth_read\" }\n", "",
         "step: found 2 of them; allowed: 3 to 12"},
        {"{ check = \"depth_read\" }", "{ check = \"depth_read\" }\nleads_up = true",
         "mine.toml:16:12: leads_up: found true, and no step to lead up to; allowed: before a step whose check lasts"},
        {"{ check = \"marked\", what = \"peak\", within_m = 0.3 }\n[[step]]\ntext = \"Read.\"\ndone_when = { check = \"depth_read\" }",
         "{ check = \"tip_raised\", from_m = 0.5 }\nleads_up = true\n[[step]]\ntext = \"Turn.\"\ndone_when = { check = \"turned\" }",
         "mine.toml:13:12: leads_up: found true, and the step it leads up to asks for turned; allowed: before"},
        {"seed = 3", "seed = 3\nhelps_with = [\"tilt\", \"tact\"]",
         "mine.toml:7:23: helps_with: found \"tact\"; allowed: a list of \"wrong_frequency\", "},
        {"locate_within_m = 0.3", "locate_within_m = { uniform = [0.1, 0.3] }",
         "test.locate_within_m: found a distribution; allowed: a number from 0.05 to 3 m"},
        {"seed = 3", "seed = ", "mine.toml:6:"},
    };
    for (const Bad& bad : all) {
        const auto messages = faults_of(with(bad.from, bad.to));
        CAPTURE(bad.to);
        REQUIRE_FALSE(messages.empty());
        std::string joined;
        for (const std::string& m : messages) {
            joined += m + "\n";
        }
        CAPTURE(joined);
        CHECK(joined.find(bad.message) != std::string::npos);
    }
}

TEST_CASE("All faults of a lesson are told at once") {
    std::string text = with("seed = 3", "seed = -1");
    text.replace(text.find("\"tip_down\""), 10, "\"tip_up\"");
    CHECK(faults_of(text).size() == 2);
}

TEST_CASE("A fault in a yard written out in a lesson is told at its line in the lesson") {
    const auto messages = faults_of(
        with("yard = \"level-lawn\"", "scenario = '''\nformat = 1\ntitle = \"Own\"\n[sonde]\ndepth_m = 99\n'''"));
    REQUIRE(messages.size() == 1);
    CHECK(messages[0].find("mine.toml:9:") == 0);
    CHECK(messages[0].find("sonde.depth_m") != std::string::npos);
}

TEST_CASE("A lesson is known by its first key, and found by path or name") {
    CHECK(is_lesson(sound));
    CHECK(is_lesson("# a comment\n  lesson_format = 1\n"));
    CHECK_FALSE(is_lesson("format = 1\ntitle = \"An exercise\"\n"));
    const test::Folder home;
    const auto path = home.path() / "mine.toml";
    std::ofstream(path) << sound;
    CHECK(find_lesson(path.string()).lesson.title == "One");
    CHECK(find_lesson("sweeping").lesson.name == "sweeping");
    CHECK_THROWS_AS(find_lesson("no-such-lesson"), ScenarioError);
    CHECK_THROWS_AS(bundled_lesson("no-such-lesson"), std::out_of_range);
}
