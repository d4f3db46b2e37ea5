// Model operators in drawn yards, with houses, beds, fences and bends: every bundled exercise over many seeds.
#include "scenarios/scenario.hpp"
#include "tests/field/model_operator_runs.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

// In the first exercises nothing stands between sonde and receiver. The others are worked in tests/scenarios.
std::vector<std::string> plain_names() {
    std::vector<std::string> names = scenarios::bundled_names();
    names.resize(8);
    return names;
}

} // namespace

TEST_CASE("level-line passes every plain bundled exercise that says it is solvable by it") {
    const int runs = test::seeds(40, 2);
    for (const std::string& name : plain_names()) {
        const scenarios::Scenario scenario = scenarios::bundled(name);
        int complete = 0;
        for (int seed = 1; seed <= runs; ++seed) {
            const Setting setting(scenarios::resolve(scenario, static_cast<std::uint64_t>(seed)));
            const ExerciseState state = test::operate(setting, "level-line");
            const Score result = score(setting, state);
            INFO(name << " seed " << seed << " off " << result.horizontal_error_m.value_or(-1.0) << " m, depth "
                      << result.depth_error_percent.value_or(-100.0) << " %, dig " << name_of(result.dig_outcome)
                      << ", " << test::undone(result));
            REQUIRE(state.finished_tick);
            if (setting.world.rubric.solvable_by_level_line) {
                CHECK(result.horizontal_error_m.value_or(99.0) <= result.half_band_m);
                CHECK(result.depth_within);
                CHECK(result.passed);
            }
            complete += test::undone(result).empty() ? 1 : 0;
        }
        fmt::print("{:16} {} of {} with every procedure item\n", name, complete, runs);
        CHECK(complete >= runs - 1 - runs / 20); // close to a house there may be no room to walk off four ways
    }
}

TEST_CASE("follows-peak finishes every plain bundled exercise, and in the first lies within the widest band") {
    const int runs = test::seeds(15, 1);
    for (const std::string& name : plain_names()) {
        const scenarios::Scenario scenario = scenarios::bundled(name);
        for (int seed = 1; seed <= runs; ++seed) {
            const Setting setting(scenarios::resolve(scenario, static_cast<std::uint64_t>(seed)));
            const ExerciseState state = test::operate(setting, "follows-peak");
            const Score result = score(setting, state);
            INFO(name << " seed " << seed << " off " << result.horizontal_error_m.value_or(-1.0) << " m");
            CHECK(state.finished_tick);
            if (name == scenarios::bundled_names().front()) {
                CHECK(result.horizontal_error_m.value_or(99.0) <= result.quarter_band_m);
                CHECK(result.depth_within);
            }
        }
    }
}
