// Model operators at work on a bare lawn: what they reach, that they keep to the procedure, and that they always
// finish.
//
//  what                                  | against
//  position, depth                       | the truth of the world, by the rubric's bands
//  procedure                             | the scorer, which goes by the log of what was done
//  the same log gives the same end       | replay from the file
#include "field/replay.hpp"
#include "tests/field/model_operator_runs.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <array>
#include <filesystem>

using namespace sondeyard;
using namespace sondeyard::field;
using test::drawn_lawn;
using test::operate;

namespace {

constexpr std::array tilts_deg = {0.0, 2.0, 5.0, 10.0, 15.0, 25.0, 35.0, 60.0, 90.0};
constexpr std::array depths_m = {0.6, 1.2, 2.0, 3.0, 4.0};

World lawn_number(int i, sim::ReceiverKind kind = sim::ReceiverKind::tri_axis) {
    const auto n = static_cast<std::size_t>(i);
    const double moment_am2 = i % 2 == 0 ? 0.05 : 0.1;
    return drawn_lawn(1000 + n, depths_m[n % depths_m.size()], tilts_deg[n % tilts_deg.size()], moment_am2, kind);
}

std::string told(const World& world, const Score& score) {
    return fmt::format("seed {}, depth {} m, tilt {} deg: off {:.2f} m, depth {:+.1f} %, dig {}; {}", world.seed,
                       depth_m(world), world.sonde.tilt_deg, score.horizontal_error_m.value_or(-1.0),
                       score.depth_error_percent.value_or(-100.0), name_of(score.dig_outcome), test::undone(score));
}

} // namespace

TEST_CASE("there are five model operators, and no others") {
    const Brief brief = brief_of(test::empty_yard());
    REQUIRE(model_operator_names().size() == 5);
    for (const std::string_view name : model_operator_names()) {
        CHECK(make_model_operator(name, brief) != nullptr);
    }
    CHECK(make_model_operator("guesses", brief) == nullptr);
}

TEST_CASE("level-line reaches the half band and 15 % of depth from level to on end, 0.6 to 4 m deep") {
    const int runs = test::seeds(500, 20);
    int procedure_complete = 0;
    double worst = 0.0;
    double ticks = 0.0;
    for (int i = 0; i < runs; ++i) {
        const Setting setting(lawn_number(i));
        const ExerciseState state = operate(setting, "level-line");
        const Score result = score(setting, state);
        INFO(told(setting.world, result));
        REQUIRE(state.finished_tick);
        CHECK(result.horizontal_error_m.value_or(99.0) <= result.half_band_m);
        CHECK(result.depth_within);
        CHECK(result.tilt.right);
        CHECK(result.passed);
        procedure_complete += test::undone(result).empty() ? 1 : 0;
        worst = std::max(worst, result.horizontal_error_m.value_or(99.0) / result.true_depth_m);
        ticks += static_cast<double>(state.tick);
    }
    fmt::print("level-line: {} runs, worst {:.3f} d, {} with every procedure item, {:.0f} s on average\n", runs, worst,
               procedure_complete, ticks * tick_s / runs);
    CHECK(procedure_complete >= runs - 1 - runs / 50); // deep and weak, a lift check may scatter too much
}

TEST_CASE("level-line keeps to the whole procedure in the ordinary case") {
    for (std::uint64_t seed = 1; seed <= 10; ++seed) {
        const Setting setting(drawn_lawn(seed, 1.4, 1.2, 0.1));
        const Score result = score(setting, operate(setting, "level-line"));
        INFO(told(setting.world, result));
        CHECK(test::undone(result).empty());
        CHECK(result.points >= 95);
    }
}

TEST_CASE("level-line with a single coil finds a nearly level sonde and works depth from the plumb points") {
    const int runs = test::seeds(60, 4);
    for (int i = 0; i < runs; ++i) {
        const auto n = static_cast<std::size_t>(i);
        const World world =
            drawn_lawn(2000 + n, std::array{0.6, 1.2, 2.0, 3.0}[n % 4], std::array{0.0, 1.0, 3.0, 6.0, 10.0}[n % 5],
                       0.1, sim::ReceiverKind::single_coil);
        const Setting setting(world);
        const ExerciseState state = operate(setting, "level-line");
        const Score result = score(setting, state);
        INFO(told(world, result));
        REQUIRE(state.finished_tick);
        CHECK(result.passed);
        CHECK(test::undone(result).empty());
        CHECK(state.all_readings.empty());
    }
}

TEST_CASE("level-line with twin coils finds a nearly level sonde and proves its depth by a facing pair") {
    // Over 1,000 seeds one locate went astray, 3 m deep at 10 deg; 95 % is what the method promises.
    const int runs = test::seeds(200, 4);
    int reached = 0;
    for (int i = 0; i < runs; ++i) {
        const auto n = static_cast<std::size_t>(i);
        const World world = drawn_lawn(3000 + n, std::array{0.6, 1.2, 2.0, 3.0}[n % 4],
                                       std::array{0.0, 1.0, 3.0, 6.0, 10.0}[n % 5], 0.1, sim::ReceiverKind::twin_coil);
        const Setting setting(world);
        const ExerciseState state = operate(setting, "level-line");
        const Score result = score(setting, state);
        INFO(told(world, result));
        REQUIRE(state.finished_tick);
        CHECK_FALSE(state.all_readings.empty());
        reached += result.passed && result.depth_within && result.tilt.right && test::undone(result).empty() ? 1 : 0;
    }
    MESSAGE("twin-coil: " << reached << " of " << runs << " with everything right");
    CHECK(reached >= 0.95 * runs);
}

TEST_CASE("follows-peak finishes everywhere and reaches the widest band over level sondes") {
    const int runs = test::seeds(90, 9);
    for (int i = 0; i < runs; ++i) {
        for (const auto kind :
             {sim::ReceiverKind::tri_axis, sim::ReceiverKind::single_coil, sim::ReceiverKind::twin_coil}) {
            const World world = lawn_number(i, kind);
            const Setting setting(world);
            const ExerciseState state = operate(setting, "follows-peak");
            const Score result = score(setting, state);
            INFO(told(world, result));
            REQUIRE(state.finished_tick);
            if (kind == sim::ReceiverKind::tri_axis) {
                CHECK(result.horizontal_error_m.value_or(99.0) <= result.quarter_band_m);
            }
        }
    }
}

TEST_CASE("follows-peak is misled by tilt where level-line is not") {
    const Setting setting(drawn_lawn(5, 3.0, 10.0, 0.1));
    const Score naive = score(setting, operate(setting, "follows-peak"));
    const Score careful = score(setting, operate(setting, "level-line"));
    CHECK(naive.horizontal_error_m.value_or(99.0) > 0.5); // a quarter of the depth
    CHECK(careful.horizontal_error_m.value_or(99.0) < 0.2);
}

TEST_CASE("a wrong frequency on the sheet is found out at the truck") {
    for (const double true_hz : {640.0, 8192.0, 32768.0}) {
        World world = drawn_lawn(11, 1.5, 1.0, 0.1);
        world.sonde.frequency_hz = true_hz;
        const Setting setting(world);
        const ExerciseState state = operate(setting, "level-line");
        CHECK(state.truck_checks.front().frequency_hz == 512.0);
        CHECK_FALSE(state.truck_checks.front().heard);
        CHECK(state.truck_checks.back().heard);
        CHECK(state.frequency_hz == true_hz);
        CHECK(score(setting, state).passed);
    }
}

TEST_CASE("with nothing to hear they search, give up and finish") {
    World world = drawn_lawn(3, 1.5, 0.0, 0.1);
    world.sonde.frequency_hz = 4000.0; // none of the receiver's
    const Setting setting(world);
    for (const std::string_view name : model_operator_names()) {
        const ExerciseState state = operate(setting, name);
        CHECK(state.finished_tick);
        CHECK(find_last(state.notebook, MarkKind::locate) != nullptr);
        CHECK(state.notebook.dig);
    }
}

TEST_CASE("walls, beds and trunks by the sonde do not keep them from finishing") {
    World world = test::empty_yard(1.5, 90.0, 1.0);
    world.habits = {5.0, 120.0};
    world.yard.areas.push_back(
        {AreaKind::house, rectangle({17.5, 16.5}, 90.0, 3.0, 6.0), "house"}); // over one plumb point
    world.yard.areas.push_back({AreaKind::planting, rectangle({14.0, 13.4}, 90.0, 5.0, 1.2), "bed"});
    world.yard.areas.push_back({AreaKind::tree, rectangle({13.4, 15.2}, 0.0, 0.4, 0.4), ""});
    REQUIRE(faults(world).empty());
    for (const auto kind :
         {sim::ReceiverKind::tri_axis, sim::ReceiverKind::single_coil, sim::ReceiverKind::twin_coil}) {
        for (std::uint64_t seed = 1; seed <= 4; ++seed) {
            world.seed = seed;
            world.receiver.kind = kind;
            const Setting setting(world);
            for (const std::string_view name : model_operator_names()) {
                const ExerciseState state = operate(setting, name);
                const Score result = score(setting, state);
                INFO(name << " " << told(world, result));
                CHECK(state.finished_tick);
                if (kind == sim::ReceiverKind::tri_axis) {
                    CHECK(result.horizontal_error_m.value_or(99.0) <= result.quarter_band_m);
                }
            }
        }
    }
}

TEST_CASE("the dig goes to the fault: on along the run, away from the cleanout") {
    for (const double cleanout_x : {6.0, 24.0}) {
        World world = test::empty_yard(1.5, cleanout_x < 15.0 ? 90.0 : 270.0, 1.0);
        world.habits = {5.0, 120.0};
        world.sheet.cleanout_m = glm::dvec2{cleanout_x, 15.0};
        world.sheet.sonde_to_lens_m = 0.4;
        world.sheet.lens_to_fault_m = 1.0;
        const Setting setting(world);
        const ExerciseState state = operate(setting, "level-line");
        REQUIRE(state.notebook.dig);
        CHECK(state.notebook.dig->centre_m.x == doctest::Approx(cleanout_x < 15.0 ? 16.4 : 13.6).epsilon(0.01));
        CHECK(score(setting, state).dig_outcome == DigOutcome::on_the_pipe);
    }
}

TEST_CASE("by paint, or on a ticket that is not cleared, the dig is by vacuum; else by hand") {
    World world = drawn_lawn(8, 1.5, 0.0, 0.1);
    CHECK(operate(Setting(world), "level-line").notebook.dig->method == DigMethod::hand);
    World expired = world;
    expired.sheet.ticket.state = TicketState::expired;
    CHECK(operate(Setting(expired), "level-line").notebook.dig->method == DigMethod::vacuum);
    const glm::dvec2 sonde = plan(world.sonde.position_m);
    BuriedLine gas;
    gas.kind = LineKind::gas;
    gas.owner = "Vale Gas";
    gas.points_m = {{sonde.x + 0.9, 2.0, -0.6}, {sonde.x + 0.9, 28.0, -0.6}};
    gas.paint_m = {{sonde.x + 0.9, 2.0}, {sonde.x + 0.9, 28.0}};
    world.yard.lines.push_back(gas);
    CHECK(operate(Setting(world), "level-line").notebook.dig->method == DigMethod::vacuum);
}

TEST_CASE("the same operator, world and seed do the same, tick for tick, and their log replays to the same state") {
    const std::filesystem::path file = std::filesystem::temp_directory_path() / "sondeyard_model_operator_test.jsonl";
    for (const std::string_view name : model_operator_names()) {
        const Setting setting(drawn_lawn(21, 1.4, 8.0, 0.1));
        std::filesystem::remove(file);
        LogHeader header;
        header.seed = 21;
        header.scenario_sha256 = sha256_hex("");
        header.instrument = "tri-axis";
        LogWriter writer(file, header);
        const ExerciseState state =
            operate(setting, name, [&](const Action& action, const Observation& seen, const ExerciseState& now) {
                writer.record(action, seen, now);
            });
        writer.end(state);
        const WorkLog log = read_log(file);
        CHECK(log.fault.empty());
        const ReplayResult again = replay(setting, log);
        CHECK_FALSE(again.first_difference);
        CHECK(again.checkpoints > 20);
        CHECK(again.state.digest == state.digest);
        CHECK(again.state.tick == state.tick);
        CHECK(score(setting, again.state).points == score(setting, state).points);
        CHECK(operate(setting, name).digest == state.digest);
        CHECK(static_cast<double>(log.bytes) < 40e3 * static_cast<double>(state.tick) / 3600.0); // bytes a minute
    }
    std::filesystem::remove(file);
}
