// The commands as a person or a script meets them: tables, JSON, exit codes, help, mistakes in what was typed.
#include "command_line_support.hpp"
#include "scenarios/scenario.hpp"

using namespace sondeyard::test;

namespace {

// The words that make each command do its work, in a folder that has what they name.
std::vector<std::string> words_for(const std::string& command) {
    if (command == "list") {
        return {"list"};
    }
    if (command == "check") {
        return {"check", "level-lawn", "on-end", "--seeds", "2"};
    }
    if (command == "generate") {
        return {"generate", "level-lawn", "--seed", "5"};
    }
    if (command == "probe") {
        return {"probe", "level-lawn", "--points", "points.csv"};
    }
    if (command == "operate") {
        return {"operate", "level-lawn", "--operator", "follows-peak", "--seed", "2"};
    }
    if (command == "progress") {
        return {"progress"};
    }
    if (command == "bench") {
        return {"bench", "--quick"};
    }
    if (command == "tiltfix") {
        return {"tiltfix", "--spacing", "2.2 m", "--depth", "1.5", "--signal-a", "51.3", "--signal-b", "57.8"};
    }
    return {command, "work.jsonl"};
}

void furnish(const Folder& folder) {
    folder.write("points.csv", "x_m,y_m,z_m\n5,5,0\n");
    const Ran ran =
        run(folder, {"operate", "level-lawn", "--operator", "follows-peak", "--seed", "2", "--log", "work.jsonl"});
    REQUIRE_MESSAGE(ran.code == 0, ran.err);
}

// No window is looked for where there cannot be one.
const How no_display = {.environment = {"DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"}};

std::size_t longest_line(const std::string& text) {
    std::size_t longest = 0;
    for (const std::string& line : lines_of(text)) {
        longest = std::max(longest, line.size());
    }
    return longest;
}

} // namespace

TEST_CASE("every command prints a table for people that fits a terminal, and exits with 0") {
    const Folder folder;
    furnish(folder);
    const auto before = folder.names();
    for (const std::string& command : command_names()) {
        CAPTURE(command);
        const Ran ran = run(folder, words_for(command), no_display);
        CHECK(ran.code == 0);
        CHECK(ran.err.find("sondeyard:") == std::string::npos);
        CHECK(ran.out.size() > 20);
        CHECK(ran.out.ends_with("\n"));
        if (command != "generate") { // that is TOML, whose lines are as long as they are
            CHECK(longest_line(ran.out) <= 100);
        }
    }
    CHECK(folder.names() == before); // nothing was written that nobody asked for
}

TEST_CASE("every command prints one JSON document with the keys that programs count on") {
    const Folder folder;
    furnish(folder);
    const std::vector<std::pair<std::string, std::vector<std::string>>> keys = {
        {"list", {"/scenarios/0/name", "/scenarios/0/title", "/scenarios/7/news"}},
        {"check",
         {"/sound", "/scenarios/1/scenario", "/scenarios/1/title", "/scenarios/1/sound", "/scenarios/1/faults",
          "/scenarios/1/seeds_tried", "/scenarios/1/cannot_build"}},
        {"generate", {"/scenario", "/seed", "/out", "/sha256", "/toml"}},
        {"progress", {"/store", "/csv", "/people"}},
        {"probe", {"/scenario", "/seed", "/points/0/x_m", "/points/0/bx_re_T", "/points/0/bz_im_T"}},
        {"replay",
         {"/log", "/agrees", "/sound", "/ticks", "/seconds", "/checkpoints", "/finished", "/first_difference_tick",
          "/faults", "/digest"}},
        {"score", {"/log", "/log_sound", "/log_faults"}},
        {"operate", {"/scenario", "/seed", "/operator", "/seconds", "/log"}},
        {"bench",
         {"/field_scalar_per_s",
          "/field_scalar_memory_per_s",
          "/field_batch_per_s",
          "/field_batch_l1_per_s",
          "/field_limit_per_s",
          "/field_limit_divider_per_s",
          "/batch_to_scalar_memory",
          "/batch_to_scalar_l1",
          "/batch_l1_to_limit",
          "/ratios_asked_for/batch_l1_to_limit",
          "/field_medians/field_batch_per_s",
          "/field_batch_target",
          "/observation_us",
          "/tick_us",
          "/frame_ms",
          "/frame_rendered_ms",
          "/frame_empty_ms",
          "/first_frame_s",
          "/idle_percent",
          "/exercise_percent",
          "/peak_memory_mb",
          "/replay_10min_s",
          "/log_bytes_per_min",
          "/machine/cpu",
          "/machine/cores",
          "/machine/compiler",
          "/machine/build_type"}},
        {"tiltfix", {"/trusted", "/verdict", "/tilt_deg/value", "/raised_side", "/from_a_m/low", "/depth_m/high"}},
    };
    const std::vector<std::string> of_a_score = {"/horizontal_error_m",
                                                 "/depth_error_m",
                                                 "/depth_error_percent",
                                                 "/tilt_error_deg",
                                                 "/dig_outcome",
                                                 "/points",
                                                 "/passed",
                                                 "/procedure/ticket_checked",
                                                 "/procedure/frequency_checked",
                                                 "/procedure/approached",
                                                 "/procedure/plumb_points",
                                                 "/procedure/walked_off",
                                                 "/procedure/tip_down_and_plumb",
                                                 "/procedure/paired_reading",
                                                 "/procedure/lift_check"};
    CHECK(keys.size() == command_names().size());
    for (const auto& [command, pointers] : keys) {
        CAPTURE(command);
        auto words = words_for(command);
        words.emplace_back("--json");
        const Ran ran = run(folder, words, no_display);
        CHECK(ran.code == 0);
        const Json document = ran.json();
        for (const std::string& pointer : pointers) {
            CHECK_MESSAGE(document.contains(Json::json_pointer(pointer)), pointer);
        }
        for (const std::string& pointer : of_a_score) {
            if (command == "score" || command == "operate") {
                CHECK_MESSAGE(document.contains(Json::json_pointer(pointer)), pointer);
            }
        }
    }
}

TEST_CASE("bench gives its numbers, and without a display null for the window's with the reason") {
    const Folder folder;
    const Json document = run(folder, {"bench", "--quick", "--json"}, no_display).json();
    for (const char* const key :
         {"field_scalar_per_s", "observation_us", "tick_us", "replay_10min_s", "log_bytes_per_min"}) {
        CAPTURE(key);
        REQUIRE(document[key].is_number());
        CHECK(document[key].get<double>() > 0.0);
    }
    for (const char* const key : {"frame_ms", "frame_rendered_ms", "frame_empty_ms", "first_frame_s", "idle_percent",
                                  "exercise_percent", "peak_memory_mb"}) {
        CAPTURE(key);
        CHECK(document[key].is_null());
    }
    REQUIRE(document["window_not_measured_because"].is_string());
    CHECK(document["window_not_measured_because"].get<std::string>().size() > 10);
    CHECK(document["machine"]["cores"].get<int>() >= 1);
}

TEST_CASE("the bundled exercises are listed in course order") {
    const Folder folder;
    const Json document = run(folder, {"list", "--json"}).json();
    std::vector<std::string> names;
    for (const Json& row : document["scenarios"]) {
        names.push_back(row["name"].get<std::string>());
    }
    CHECK(names.size() >= 22);
    CHECK(names == sondeyard::scenarios::bundled_names());
}

TEST_CASE("help tells every command, its options with their defaults, the exit codes, and fits a terminal") {
    const Folder folder;
    const Ran all = run(folder, {"--help"});
    CHECK(all.code == 0);
    CHECK(all.err.empty());
    const Ran word = run(folder, {"help"});
    CHECK(word.code == 0);
    CHECK(word.out == all.out);
    CHECK(word.err.empty());
    CHECK(longest_line(all.out) <= 100);
    CHECK(all.out.find("Exit: 0 done, 1 the answer is no, 2 bad usage or bad input") != std::string::npos);
    CHECK(all.out.find("licenses nobody to dig") != std::string::npos);
    for (const std::string& command : command_names()) {
        CAPTURE(command);
        CHECK(all.out.find("\n  " + command + " ") != std::string::npos);
        const Ran one = run(folder, {command, "--help"});
        CHECK(one.code == 0);
        CHECK(longest_line(one.out) <= 100);
        CHECK(one.out.find("--json") != std::string::npos);
        CHECK(one.out.find("Example: sondeyard " + command) != std::string::npos);
    }
    CHECK(run(folder, {"operate", "--help"}).out.find("follows-peak, level-line") != std::string::npos);
    CHECK(run(folder, {"operate", "--help"}).out.find("(default 1)") != std::string::npos);
    CHECK(run(folder, {"check", "--help"}).out.find("(default 20)") != std::string::npos);
    CHECK(run(folder, {"--version"}).out.find('.') != std::string::npos);
}

TEST_CASE("a mistake in what was typed is answered with what was found and what is allowed, exit 2, nothing printed") {
    struct Mistake {
        std::vector<std::string> words;
        std::string_view said;
    };
    const std::vector<Mistake> mistakes = {
        {{"frobnicate"},
         "found \"frobnicate\", which is no command; allowed: list, check, generate, probe, operate, replay"},
        {{"level-lawn"}, "to open it in the window: sondeyard --scenario level-lawn"},
        {{"--frob"}, "found \"--frob\", which is no option"},
        {{"--seed", "abc"}, "--seed: found \"abc\"; allowed: a whole number from 0 to 18446744073709551615"},
        {{"--width", "12"}, "--width: found \"12\"; allowed: a whole number from 1024 to 16384"},
        {{"--seed", "3", "list"}, "options of a command stand after it: sondeyard list ... --seed"},
        {{"operate"}, "scenario is missing: A scenario file, or the name of a bundled exercise"},
        {{"operate", "level-lawn"}, "--operator is missing: Who works: follows-peak, level-line"},
        {{"operate", "level-lawn", "--operator", "x"}, "--operator: found \"x\"; allowed: follows-peak, level-line"},
        {{"operate", "nonesuch", "--operator", "level-line"},
         "found neither a file nor a bundled exercise \"nonesuch\""},
        {{"operate", "level-lawn", "--operator", "level-line", "--seed", "-1"},
         "--seed: found \"-1\"; allowed: a whole"},
        {{"generate"}, "--seed is missing"},
        {{"generate", "--seed", "18446744073709551616"},
         "found \"18446744073709551616\"; allowed: a whole number from 0"},
        {{"generate", "--seed", "1.5"}, "--seed: found \"1.5\""},
        {{"generate", "--seed", "0x10"}, "--seed: found \"0x10\""},
        {{"generate", "--seed", "1", "--out", ""}, "--out: found an empty name; a file name is wanted"},
        {{"check"}, "scenario is missing"},
        {{"check", "level-lawn", "--seeds", "0"}, "--seeds: found \"0\"; allowed: a whole number from 1 to 100000"},
        {{"probe", "level-lawn"}, "--points is missing: CSV file with columns x_m,y_m,z_m"},
        {{"probe", "level-lawn", "--points"}, "--points: 1 required FILE missing"},
        {{"replay"}, "log is missing"},
        {{"replay", "a", "b"}, "found \"b\", which 'replay' does not take"},
        {{"score", "--colour"}, "log is missing"},
        {{"bench", "now"}, "found \"now\", which 'bench' does not take"},
        {{"--scenario", "level-lawn"}, "no window can be opened here"},
    };
    const Folder folder;
    for (const Mistake& mistake : mistakes) {
        CAPTURE(mistake.said);
        const Ran ran = run(folder, mistake.words, no_display);
        CAPTURE(ran.err);
        CHECK(ran.code == 2);
        CHECK(ran.out.empty());
        CHECK(ran.says(mistake.said));
        CHECK(ran.err.starts_with("sondeyard: "));
        CHECK(folder.names().empty());
    }
}

TEST_CASE("without a display the program says so at once and how to go on") {
    const Folder folder;
    // Under `timeout`, since a window that nobody sees would stay open for ever.
    const Ran ran = run_program("timeout", folder, {"30", SONDEYARD_PROGRAM}, no_display);
    CHECK(ran.code == 2);
    CHECK(ran.out.empty());
    CHECK(ran.says("sondeyard: no window can be opened here"));
    CHECK(ran.says("sondeyard operate level-lawn --operator level-line"));
}

TEST_CASE("output that cannot be written is no success") {
    const Folder folder;
    furnish(folder);
    const How full = {.environment = no_display.environment, .standard_output = "/dev/full"};
    for (const std::string& command : command_names()) {
        CAPTURE(command);
        const Ran ran = run(folder, words_for(command), full);
        CHECK(ran.code == 2);
        CHECK(ran.says("sondeyard: standard output: cannot be written"));
    }
    CHECK(run(folder, {"--help"}, full).code == 2);
    CHECK(run(folder, {"check", "level-lawn", "--json"}, full).code == 2);
}
