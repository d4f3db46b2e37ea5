// With feet and inches set no sentence speaks of metres: score, debrief and guide over exercises of every kind, worked by
// model operators well and badly. What the window writes is in tests/ui/window_units_test.cpp.
#include "field/debrief.hpp"
#include "field/guide.hpp"
#include "field/model_operator.hpp"
#include "scenarios/scenario.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <regex>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

// A number with a metric unit of length, or one of its words. "ohm m" is no length.
std::string metric_in(const std::string& text) {
    static const std::regex length(R"((\d ?(m|cm|mm|m2|m3)\b)|([Mm]etres?\b)|(\{[^}]*\}))");
    std::smatch found;
    return std::regex_search(text, found, length) ? found.str() : std::string();
}

void expect_feet(const std::string& text) {
    CAPTURE(text);
    CHECK(metric_in(text) == "");
}

void expect_all_in_feet(const Setting& setting, const ExerciseState& state) {
    const Score s = score(setting, state, Units::feet);
    for (const ProcedureItem& item : s.procedure) {
        expect_feet(item.evidence);
        expect_feet(std::string(item.why));
        expect_feet(std::string(item.title));
    }
    for (const SafetyItem& item : s.safety) {
        expect_feet(item.evidence);
    }
    const Debrief d = debrief(setting, state, s, Units::feet);
    expect_feet(d.hole);
    for (const std::string& note : d.notes) {
        expect_feet(note);
    }
    for (const Figure& figure : d.figures) {
        expect_feet(figure.value);
        expect_feet(figure.tolerance);
    }
    for (const LessonPart& part : d.lesson) {
        expect_feet(part.text);
    }
    expect_feet(in_units(setting.brief.sheet.caller, Units::feet));
    expect_feet(in_units(setting.brief.sheet.camera, Units::feet));
}

} // namespace

TEST_CASE("The search for metric lengths finds them and leaves the rest") {
    CHECK(metric_in("lies 0.35 m on") == "5 m");
    CHECK(metric_in("18 cm") == "8 cm");
    CHECK(metric_in("half a metre") == "metre");
    CHECK(metric_in("{0.5 m}") != "");
    CHECK(metric_in("5 ft 3 in at 512 Hz, 69 dBpT, 20 ohm m, 14:05 minutes, 3 marks") == "");
}

TEST_CASE("With feet set score, debrief and guide speak of no metres") {
    for (const char* name : {"level-lawn", "tilted", "on-end", "single-coil", "twin-coil", "two-pipes", "pull-back",
                             "bank", "clay-line-bank", "line-beside", "isolated-line", "deep-and-noisy"}) {
        const auto names = scenarios::bundled_names();
        if (std::ranges::find(names, name) == names.end()) {
            continue;
        }
        CAPTURE(name);
        const Setting setting(scenarios::resolve(scenarios::bundled(name), 1));
        for (const std::string_view who : model_operator_names()) {
            const auto operate_as = make_model_operator(who, setting.brief);
            std::int64_t n = 0;
            const auto guided = [&](const Action&, const Observation& seen, const ExerciseState& state) {
                if (++n % 30 == 0) {
                    expect_feet(next_hint(setting.brief, state, seen, Units::feet).sentence);
                    expect_feet(in_units(seen.note, Units::feet));
                }
            };
            const ExerciseState state = operate(setting, *operate_as, 20 * 60 * 60, guided);
            CHECK(n > 100);
            expect_all_in_feet(setting, state);
            expect_all_in_feet(setting, start(setting)); // nothing done at all
        }
    }
}

TEST_CASE("What is said in metres is what was said before there were feet") {
    const Setting setting(scenarios::resolve(scenarios::bundled("two-pipes"), 1));
    const auto who = make_model_operator("level-line", setting.brief);
    const ExerciseState state = operate(setting, *who, 20 * 60 * 60, [](const auto&, const auto&, const auto&) {});
    const Score s = score(setting, state);
    const Debrief d = debrief(setting, state, s);
    for (const std::string& note : d.notes) {
        CHECK(note.find_first_of("{}|") == std::string::npos);
    }
    CHECK(std::ranges::any_of(d.notes, [](const std::string& note) { return metric_in(note) != ""; }));
    const Score feet = score(setting, state, Units::feet);
    CHECK(feet.points == s.points); // the numbers are the same
    CHECK(feet.horizontal_error_m == s.horizontal_error_m);
}
