// Whole exercises, from the scenario file to the score: worked by the model operators, logged, read back, replayed; and
// over many seeds, does the method reach what the rubric asks wherever a scenario says that it does?
#include "field/debrief.hpp"
#include "field/replay.hpp"
#include "same_world.hpp"
#include "scenarios/log_header.hpp"
#include "tests/temp_folder.hpp"
#include "worked_support.hpp"

#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <csignal>
#include <filesystem>
#include <functional>
#include <set>

using namespace sondeyard;
using namespace sondeyard::scenarios;
using namespace sondeyard::scenarios::test;

namespace {

namespace fs = std::filesystem;

field::ExerciseState work_into(const fs::path& file, const field::Setting& setting, std::string_view who) {
    field::LogWriter writer(file, log_header(setting.world, "test"));
    const auto record = [&](const field::Action& action, const field::Observation& seen,
                            const field::ExerciseState& state) { writer.record(action, seen, state); };
    const auto worker = field::make_model_operator(who, setting.brief);
    REQUIRE(worker != nullptr);
    const field::ExerciseState state = field::operate(setting, *worker, half_an_hour_ticks, record);
    writer.end(state);
    CHECK(writer.broken().empty());
    return state;
}

void work_log_replay_score(const std::string& name, std::string_view who, std::uint64_t seed) {
    CAPTURE(name);
    CAPTURE(who);
    CAPTURE(seed);
    const sondeyard::test::Folder temp;
    const fs::path file = temp / "work.jsonl";
    const field::Setting setting(resolve(bundled(name), seed));
    const field::ExerciseState state = work_into(file, setting, who);
    CHECK(state.finished_tick.has_value());

    const field::WorkLog log = field::read_log(file);
    CHECK(log.fault == "");
    CHECK(log.ended);
    CHECK(static_cast<std::int64_t>(log.actions.size()) == state.tick);
    CHECK((log.header == log_header(setting.world, "test")));
    const field::Setting again(world_of(log.header, "work.jsonl"));
    sondeyard::test::check_same_world(again.world, setting.world);

    const field::ReplayResult result = field::replay(again, log);
    CHECK_MESSAGE(!result.first_difference.has_value(),
                  result.first_difference.value_or(field::ReplayDifference{}).what);
    CHECK(result.checkpoints >= state.tick / 60);
    CHECK(result.state.digest == state.digest);
    CHECK(result.state.finished_tick == state.finished_tick);
    CHECK(field::score_json(field::score(again, result.state)) == field::score_json(field::score(setting, state)));
}

// In the first exercises nothing stands between sonde and receiver; the others have a difficulty each.
constexpr std::size_t plain_count = 8;

// Those that `level-line` solves by the scenario's own claim; seed 0 will do, the claim is not drawn.
std::vector<std::string> solvable(std::vector<std::string> names) {
    std::erase_if(names,
                  [](const std::string& name) { return !resolve(bundled(name), 0).rubric.solvable_by_level_line; });
    return names;
}
std::vector<std::string> plain_names() {
    std::vector<std::string> names = bundled_names();
    names.resize(plain_count);
    return names;
}
std::vector<std::string> difficult_names() {
    const std::vector<std::string> names = bundled_names();
    return {names.begin() + plain_count, names.end()};
}

// Each seed with one scenario, in turn.
std::vector<Job> spread(std::string_view who, const std::vector<std::string>& names, std::uint64_t count) {
    std::vector<Job> jobs;
    jobs.reserve(count);
    for (std::uint64_t seed = 0; seed < count; ++seed) {
        jobs.push_back({std::string(who), names[seed % names.size()], seed, std::nullopt});
    }
    return jobs;
}

void check_sound_and_finished(const Worked& worked) {
    CHECK(worked.trouble == "");
    CHECK(worked.faults.empty());
    CHECK(worked.numbers_sound);
    CHECK(worked.finished);
}

bool reaches_half_band_and_depth(const Worked& worked) {
    const field::Score& score = worked.score;
    return score.horizontal_error_m && *score.horizontal_error_m <= score.half_band_m && score.depth_error_percent &&
           std::abs(*score.depth_error_percent) <= 15.0;
}

} // namespace

TEST_CASE("a floating-point trap stops a program that divides by zero, makes no number of nothing or overflows") {
    for (const std::array<double, 2>& pair : {std::array{1.0, 0.0}, {0.0, 0.0}, {1e300, 1e-300}}) {
        const pid_t child = fork();
        REQUIRE(child >= 0);
        if (child == 0) {
            std::signal(SIGFPE, SIG_DFL);
            const FloatingPointTraps traps;
            const volatile double over = pair[0];
            const volatile double under = pair[1];
            const volatile double quotient = over / under;
            static_cast<void>(quotient);
            _exit(0);
        }
        int status = 0;
        REQUIRE(waitpid(child, &status, 0) == child);
        CHECK(WIFSIGNALED(status));
        CHECK(WTERMSIG(status) == SIGFPE);
    }
}

TEST_CASE(
    "every bundled exercise is worked with floating-point traps on, logged, read back, replayed and scored the same") {
    const FloatingPointTraps traps;
    REQUIRE(traps.on());
    const std::vector<std::uint64_t> seeds =
        sanitized() ? std::vector<std::uint64_t>{1} : std::vector<std::uint64_t>{1, 2, 3, 9'223'372'036'854'775'808U};
    for (const std::string& name : plain_names()) {
        for (const std::string_view who : field::model_operator_names()) {
            for (const std::uint64_t seed : seeds) {
                work_log_replay_score(name, who, seed);
            }
        }
    }
    for (const std::string& name : difficult_names()) {
        for (const std::string_view who : field::model_operator_names()) {
            work_log_replay_score(name, who, 1);
        }
    }
    CHECK(traps.on());
}

TEST_CASE(
    "level-line reaches the half band and 15 % of depth in every yard of every plain exercise that it is said to solve") {
    const std::uint64_t count = sanitized() ? 50 : 2000;
    const std::vector<std::string> names = solvable(plain_names());
    CHECK(names.size() == 7);
    const std::vector<Worked> all = work_all(spread("level-line", names, count));
    MESSAGE(table(all));
    for (const Worked& worked : all) {
        INFO(in_words(worked));
        check_sound_and_finished(worked);
        CHECK(worked.solvable);
        CHECK(reaches_half_band_and_depth(worked));
    }
}

// A line that answers, mains or a transmitter on a line now and then draw him to another place at the start: that is
// what they do to people, too.
TEST_CASE("level-line reaches the half band and 15 % of depth in at least 95 % of forty yards of every exercise with a "
          "difficulty that it is said to solve") {
    const std::uint64_t each = sanitized() ? 1 : 40;
    const std::vector<std::string> names = solvable(difficult_names());
    CHECK(names.size() >= 14);
    const std::vector<Worked> all = work_all(spread("level-line", names, each * names.size()));
    MESSAGE(table(all));
    for (const std::string& name : names) {
        const auto count = [&](const std::function<bool(const Worked&)>& is) {
            return std::ranges::count_if(all, [&](const Worked& w) { return w.job.scenario == name && is(w); });
        };
        CAPTURE(name);
        CHECK(static_cast<double>(count(reaches_half_band_and_depth)) >= 0.95 * static_cast<double>(each));
    }
    for (const Worked& worked : all) {
        INFO(in_words(worked));
        check_sound_and_finished(worked);
    }
}

// Which of two sondes alike is ours only the cable tells; and a stop in a steep piece is marked from the straight one.
TEST_CASE(
    "pull-back solves at least 95 % of forty yards with another crew's sonde or a stop in a steep piece, and level-line "
    "alone goes to the other crew's in many") {
    const std::uint64_t each = sanitized() ? 1 : 40;
    const auto solved = [&](std::string_view who, const std::string& name) {
        const std::vector<Worked> all = work_all(spread(who, {name}, each));
        MESSAGE(who, table(all));
        for (const Worked& worked : all) {
            INFO(in_words(worked));
            check_sound_and_finished(worked);
        }
        return static_cast<double>(std::ranges::count_if(all, reaches_half_band_and_depth)) / static_cast<double>(each);
    };
    CHECK(solved("pull-back", "other-crew") >= 0.95);
    CHECK(solved("pull-back", "stop-in-the-drop") >= 0.95);
    if (!sanitized()) {
        CHECK(solved("level-line", "other-crew") <= 0.8);
    }
}

TEST_CASE("level-line works every yard of single-coil to its end and reaches the half band and 15 % of depth in most") {
    // The scenario promises no more. Over 2,000 seeds two locates went metres astray.
    const std::vector<Worked> all = work_all(spread("level-line", {"single-coil"}, sanitized() ? 4 : 100));
    MESSAGE(table(all));
    const auto reached = std::ranges::count_if(all, reaches_half_band_and_depth);
    for (const Worked& worked : all) {
        INFO(in_words(worked));
        check_sound_and_finished(worked);
    }
    CHECK(static_cast<double>(reached) >= 0.95 * static_cast<double>(all.size()));
}

TEST_CASE(
    "level-line with twin coils reaches the half band and 15 % of depth in at least 95 % of nearly level drains") {
    std::vector<Job> jobs = spread("level-line", {"level-lawn", "two-percent", "single-coil"}, sanitized() ? 6 : 300);
    for (Job& job : jobs) {
        job.receiver = sim::ReceiverKind::twin_coil;
    }
    const std::vector<Worked> all = work_all(jobs);
    MESSAGE(table(all));
    for (const Worked& worked : all) {
        INFO(in_words(worked));
        check_sound_and_finished(worked);
    }
    const auto reached = std::ranges::count_if(all, reaches_half_band_and_depth);
    CHECK(static_cast<double>(reached) >= 0.95 * static_cast<double>(all.size()));
}

TEST_CASE("follows-peak finishes every exercise and reaches the widest band in the easy ones") {
    const std::set<std::string> easy = {"level-lawn", "two-percent"};
    const std::vector<Worked> all = work_all(spread("follows-peak", bundled_names(), sanitized() ? 16 : 200));
    MESSAGE(table(all));
    for (const Worked& worked : all) {
        INFO(in_words(worked));
        check_sound_and_finished(worked);
        if (easy.contains(worked.job.scenario)) {
            CHECK(worked.score.horizontal_error_m.value_or(1e9) <= worked.score.quarter_band_m);
        }
    }
}
