// Along a whole exercise the NEXT line sends nobody to a key that does nothing.
#include "field/guide.hpp"
#include "field/model_operator.hpp"
#include "scenarios/scenario.hpp"
#include "ui/window/commands.hpp"

#include <doctest/doctest.h>

#include <set>
#include <string>

using namespace sondeyard;
using namespace sondeyard::ui;

TEST_CASE("Every hint names a command of the table that is enabled at that moment, with either receiver") {
    for (const std::string_view name : {"level-lawn", "single-coil"}) {
        CAPTURE(name);
        const field::Setting setting(scenarios::resolve(scenarios::bundled(name), 1));
        const auto who = field::make_model_operator("level-line", setting.brief);
        REQUIRE(who != nullptr);
        std::set<std::string> named;
        std::set<std::string> dead; // with the sentence
        const auto look = [&](const field::Action&, const field::Observation& seen, const field::ExerciseState& state) {
            const field::Hint hint = field::next_hint(setting.brief, state, seen);
            if (seen.finished || hint.command.empty()) {
                return;
            }
            named.emplace(hint.command);
            if (!enabled(hint.command, work_context(setting.brief, state))) {
                dead.insert(std::string(hint.command) + ": " + hint.sentence);
            }
        };
        constexpr std::int64_t half_an_hour = 30 * 60 * 60;
        const field::ExerciseState end = field::operate(setting, *who, half_an_hour, look);
        REQUIRE(end.finished_tick.has_value());
        for (const std::string& each : dead) {
            FAIL_CHECK(each);
        }
        CHECK(named.size() >= 5); // the guide did speak, of several steps
        // The model operator marks with one coil in an order of his own: the guide asks him for the peak until then.
        CHECK(named.contains(name == "single-coil" ? "mark_peak" : "mark_plumb"));
    }
}

TEST_CASE("The NEXT line shows no key for a command that would do nothing") {
    CommandContext c;
    c.page = Page::exercise;
    CHECK(key_and_label("mark_plumb", c) == "1  Plumb");
    CHECK(key_and_label("call_depth", c) == "6  Call depth"); // also without a reading: it can be typed
    CHECK(key_and_label("dig_to_pipe", c).empty());           // no dig box
    c.reads_depth = false;
    CHECK(key_and_label("read_depth", c).empty());
    c.finish_asked = true;
    CHECK(key_and_label("mark_plumb", c).empty());
    CHECK(key_and_label("", c).empty());
    CHECK(key_and_label("no_such_command", c).empty());
}
