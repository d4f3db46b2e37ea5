// Work log and replay: the same log gives the same observations; a log cut off or altered says where.
//
// Outside sources: SHA-256 of "abc" and of the empty text, FIPS 180-4 (from memory; coreutils' sha256sum agrees).
#include "field/replay.hpp"
#include "sim/random.hpp"
#include "tests/field/empty_yard.hpp"
#include "tests/temp_folder.hpp"

#include <doctest/doctest.h>
#include <sys/resource.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

namespace fs = std::filesystem;

LogHeader header_for(const Setting& setting) {
    return {1, "test", "scenario text\n", sha256_hex("scenario text\n"), setting.world.seed, "tri-axis"};
}

// A restless minute: the hand wanders, he turns, leans, marks, reads, changes his mind.
Action restless(std::int64_t tick) {
    const auto u = sim::uniform_pair(11, sim::stream_of("restless"), static_cast<std::uint64_t>(tick / 20));
    Action action;
    action.move.hand_m = {10.0 + 10.0 * u[0], 10.0 + 10.0 * u[1]};
    action.move.hand_height_m = (tick / 400) % 2 == 0 ? 0.0 : 0.5;
    action.move.turn = tick % 90 < 30 ? u[0] - 0.5 : 0.0;
    action.move.lean_right = tick % 130 < 20 ? u[1] - 0.5 : 0.0;
    action.move.slow = tick % 240 > 200;
    switch (tick % 211) {
    case 10:
        action.command = PlaceMark{MarkKind::plumb};
        break;
    case 50:
        action.command = ReadDepth{};
        break;
    case 51:
        action.command = TurnBy{180.0};
        break;
    case 90:
        action.command = CallTilt{TiltCall::tilted, 123.4, 17.5};
        break;
    case 120:
        action.command = ProposeDig{{{15.0, 15.1}, 33.3, 1.2, 0.8, 1.1, DigMethod::vacuum}};
        break;
    case 150:
        action.command = Undo{};
        break;
    case 180:
        action.command = SetFrequency{tick % 2 == 0 ? 640.0 : 512.0};
        break;
    default:
        break;
    }
    return action;
}

ExerciseState work(const Setting& setting, std::int64_t ticks, const fs::path& file) {
    ExerciseState state = start(setting);
    LogWriter writer(file, header_for(setting));
    for (std::int64_t tick = 1; tick <= ticks; ++tick) {
        const Action action = restless(tick);
        const Observation seen = step(setting, state, action);
        writer.record(action, seen, state);
    }
    writer.end(state);
    return state;
}

std::string text_of(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

} // namespace

TEST_CASE("SHA-256 gives the published digests") {
    CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_CASE("a log replays to the same state, bit for bit, and every checkpoint agrees") {
    const test::Folder temp;
    World world = test::empty_yard(1.4, 30.0, 10.0);
    world.habits = {5.0, 200.0};
    const Setting setting(world);
    const ExerciseState then = work(setting, 3600, temp / "a.jsonl");
    const WorkLog log = read_log(temp / "a.jsonl");
    CHECK(log.fault.empty());
    CHECK(log.ended);
    CHECK(log.header == header_for(setting));
    const ReplayResult now = replay(setting, log);
    CHECK_FALSE(now.first_difference);
    CHECK(now.checkpoints >= 60);
    CHECK(now.ticks == 3600);
    CHECK(now.state.digest == then.digest);
    CHECK(now.state.notebook.readings.size() == then.notebook.readings.size());
    CHECK(now.state.notebook.dig.has_value() == then.notebook.dig.has_value());
    CHECK(now.state.notebook.tilt_angle_call_deg == then.notebook.tilt_angle_call_deg);
    CHECK(now.state.undo.size() == then.undo.size());
    // ten to a few hundred kB for an hour's work would be fine; a minute of restless work stays small
    CHECK(log.bytes < 120'000);
}

TEST_CASE("a change of bandwidth is in the log and replays") {
    const test::Folder temp;
    World world = test::empty_yard(1.4, 30.0, 10.0);
    world.receiver.has_wide = true;
    world.receiver.front_end = {90.0, 10.0, 4, 14};
    const Setting setting(world);
    ExerciseState state = start(setting);
    LogWriter writer(temp / "a.jsonl", header_for(setting));
    for (std::int64_t tick = 1; tick <= 600; ++tick) {
        Action action = test::hand_at({15.0, 9.0 + 0.01 * static_cast<double>(tick)});
        if (tick % 200 == 100) {
            action.command = SetBandwidth{tick == 100 ? sim::Bandwidth::wide : sim::Bandwidth::narrow};
        }
        writer.record(action, step(setting, state, action), state);
    }
    writer.end(state);
    CHECK(text_of(temp / "a.jsonl").find(R"("bandwidth","setting":"wide")") != std::string::npos);
    const ReplayResult now = replay(setting, read_log(temp / "a.jsonl"));
    CHECK_FALSE(now.first_difference);
    CHECK(now.state.digest == state.digest);
    CHECK(now.state.bandwidth == sim::Bandwidth::narrow);
}

TEST_CASE("seeking to any tick equals playing straight to it") {
    const test::Folder temp;
    const Setting setting(test::empty_yard());
    work(setting, 1500, temp / "a.jsonl");
    const WorkLog log = read_log(temp / "a.jsonl");
    std::vector<std::uint64_t> straight = {0};
    ExerciseState state = start(setting);
    for (const Action& action : log.actions) {
        step(setting, state, action);
        straight.push_back(state.digest);
    }
    Player player(setting, log);
    for (std::int64_t i = 0; i <= 1500; ++i) {
        const std::int64_t tick = (i * 7919) % 1501; // every tick once, in a jumping order
        REQUIRE(player.seek(tick).digest == straight[static_cast<std::size_t>(tick)]);
    }
    CHECK(player.seek(-5).tick == 0);
    CHECK(player.seek(99999).tick == 1500);
}

TEST_CASE("two exercises driven alike agree after every tick") {
    const Setting setting(test::empty_yard());
    ExerciseState a = start(setting);
    ExerciseState b = start(setting);
    for (std::int64_t tick = 1; tick <= 1200; ++tick) {
        step(setting, a, restless(tick));
        step(setting, b, restless(tick));
        REQUIRE(a.digest == b.digest);
    }
}

TEST_CASE("a replay in another world differs, and says where and by how much") {
    const test::Folder temp;
    const Setting setting(test::empty_yard());
    work(setting, 600, temp / "a.jsonl");
    World deeper = test::empty_yard();
    deeper.sonde.position_m.z -= 0.01;
    const ReplayResult result = replay(Setting(deeper), read_log(temp / "a.jsonl"));
    REQUIRE(result.first_difference);
    CHECK(result.first_difference->tick <= 60);
    CHECK(result.first_difference->what.find("dB") != std::string::npos);
}

TEST_CASE("a log is never written over") {
    const test::Folder temp;
    const Setting setting(test::empty_yard());
    work(setting, 10, temp / "a.jsonl");
    const std::string before = text_of(temp / "a.jsonl");
    CHECK_THROWS_WITH_AS(LogWriter(temp / "a.jsonl", header_for(setting)), doctest::Contains("never written over"),
                         LogError);
    CHECK(text_of(temp / "a.jsonl") == before);
    CHECK_THROWS_AS(LogWriter(temp / "no" / "such" / "a.jsonl", header_for(setting)), LogError);
}

TEST_CASE("a full disk breaks the log, not the exercise") {
    // A file size limit stands in for the full disk: writing beyond it fails in the same call.
    const test::Folder temp;
    const Setting setting(test::empty_yard());
    ExerciseState state = start(setting);
    LogWriter writer(temp / "a.jsonl", header_for(setting));
    rlimit before{};
    getrlimit(RLIMIT_FSIZE, &before);
    const auto handler = std::signal(SIGXFSZ, SIG_IGN);
    rlimit small = before;
    small.rlim_cur = 4096;
    setrlimit(RLIMIT_FSIZE, &small);
    for (std::int64_t tick = 1; tick <= 3000; ++tick) {
        const Action action = restless(tick);
        const Observation seen = step(setting, state, action);
        writer.record(action, seen, state);
    }
    setrlimit(RLIMIT_FSIZE, &before);
    std::signal(SIGXFSZ, handler);
    CHECK(writer.broken().find("the work log stops here") == 0);
    CHECK(state.tick == 3000);
    const WorkLog kept = read_log(temp / "a.jsonl");
    CHECK_FALSE(kept.fault.empty());
    CHECK(kept.actions.size() > 300);
    CHECK_FALSE(replay(setting, kept).first_difference);
}

TEST_CASE("cut off at any byte, a log is read up to the cut and says where") {
    const test::Folder temp;
    const Setting setting(test::empty_yard());
    work(setting, 400, temp / "a.jsonl");
    const std::string whole = text_of(temp / "a.jsonl");
    const std::size_t first_line = whole.find('\n') + 1;
    for (std::size_t cut = first_line; cut < whole.size(); cut += 37) {
        const WorkLog log = parse_log(std::string_view(whole).substr(0, cut), "cut.jsonl");
        REQUIRE_FALSE(log.fault.empty());
        REQUIRE(log.fault.find("cut.jsonl:") == 0);
        REQUIRE(log.actions.size() <= 400);
        REQUIRE_FALSE(replay(setting, log).first_difference);
    }
}

TEST_CASE("one altered byte anywhere is found, with its line") {
    const test::Folder temp;
    const Setting setting(test::empty_yard());
    work(setting, 300, temp / "a.jsonl");
    const std::string whole = text_of(temp / "a.jsonl");
    const std::size_t first_line = whole.find('\n') + 1;
    for (std::size_t at = first_line; at + 1 < whole.size(); at += 11) {
        std::string altered = whole;
        altered[at] = altered[at] == '5' ? '6' : '5';
        if (altered != whole) {
            const WorkLog log = parse_log(altered, "altered.jsonl");
            REQUIRE_FALSE(log.fault.empty());
        }
    }
    // Lines swapped, and one left out.
    const std::size_t second = whole.find('\n', first_line) + 1;
    const std::string without = whole.substr(0, first_line) + whole.substr(second);
    CHECK(parse_log(without, "x").fault.find("x:2:") == 0);
}

TEST_CASE("what is not a work log is refused with its name, line and reason") {
    const auto why = [](std::string_view text) {
        try {
            parse_log(text, "bad.jsonl");
        } catch (const LogError& e) {
            return std::string(e.what());
        }
        return std::string("accepted");
    };
    CHECK(why("").find("bad.jsonl:1: the file is empty") == 0);
    CHECK(why("hello\n").find("not a work log") != std::string::npos);
    CHECK(why("[1,2]\n").find("not a work log") != std::string::npos);
    CHECK(why(R"({"sondeyard_log":2})"
              "\n")
              .find("format 2; this program reads format 1") != std::string::npos);
    CHECK(why(R"({"sondeyard_log":1,"program":"x"})"
              "\n")
              .find("header is incomplete") != std::string::npos);
    CHECK(
        why(R"({"sondeyard_log":1,"program":"x","seed":1,"instrument":"tri-axis","scenario":"a","scenario_sha256":"b"})"
            "\n")
            .find("does not fit its SHA-256") != std::string::npos);
    CHECK_THROWS_AS(read_log("/no/such/file"), LogError);
    CHECK_THROWS_AS(read_log("/tmp"), LogError);
}

TEST_CASE("the golden scene: one digest on every build") {
    // Worlds and observations are quantised before they are hashed, so this holds on every build: the test runs as
    // built (field_tests), at -O0 (golden_tests), with the C library's FMA variants switched off, and with Clang, which
    // builds what is run under sanitizers. When the model is changed on purpose, put the printed value here and say so
    // in the commit.
    World world = test::empty_yard(1.4, 30.0, 10.0);
    world.habits = {5.0, 200.0};
    world.yard.areas.push_back({AreaKind::house, rectangle({15.0, 18.0}, 20.0, 3.0, 5.0), "house"});
    const Setting setting(world);
    ExerciseState state = start(setting);
    for (std::int64_t tick = 1; tick <= 3600; ++tick) {
        step(setting, state, restless(tick));
    }
    INFO("digest found: ", state.digest);
    CHECK(state.digest == 6373438073967281482ULL);
}

TEST_CASE("the golden ground: heights of a slope with a bank, a wall and a slab are one on every build") {
    Terrain terrain;
    terrain.slope_percent = 7.3;
    terrain.slope_toward_deg = 217.0;
    terrain.zero_m = {14.2, 9.7};
    terrain.steps = {{{15.0, 20.0}, 33.0, 1.1, 3.0}, {{8.0, 12.0}, 181.0, 0.8, 0.0}};
    terrain.pads = {{rectangle({20.0, 20.0}, 15.0, 3.0, 4.0), 0.15}};
    std::uint64_t digest = 0;
    for (int i = 0; i < 1000; ++i) {
        const double z = height_m(terrain, {0.03 * i, 30.0 - 0.0297 * i});
        digest = digest * 31 + static_cast<std::uint64_t>(std::llround(z * 1e9));
    }
    INFO("digest found: ", digest);
    CHECK(digest == 5931219175744740006ULL);
}
