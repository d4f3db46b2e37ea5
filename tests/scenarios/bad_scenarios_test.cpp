// Broken scenarios: each must be refused with its place (file, line, column), its key, what was found and what is
// allowed.
#include "scenarios/schema.hpp"
#include "sim/random.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

constexpr std::string_view head = "format = 1\ntitle = \"t\"\n"; // so what follows starts at line 3

std::vector<std::string> messages_of(std::string_view text) {
    try {
        const Scenario scenario = parse_scenario(text, "bad.toml");
        resolve(scenario, 1);
    } catch (const ScenarioError& e) {
        return e.messages;
    }
    return {};
}

struct Broken {
    std::string_view name;
    std::string_view text;
    std::string_view place; // how the message begins
    std::string_view allowed;
};

void expect_refused(const Broken& broken, std::string_view whole_text) {
    CAPTURE(broken.name);
    const auto messages = messages_of(whole_text);
    std::string all;
    bool found = false;
    for (const std::string& message : messages) {
        all += message;
        all += '\n';
        found = found || (message.starts_with(broken.place) && message.find(broken.allowed) != std::string::npos);
    }
    CAPTURE(all);
    CHECK_MESSAGE(found, "expected: ", broken.place, " ... ", broken.allowed);
}

const Broken after_head[] = {
    {"unknown key at the top", "colour = 1\n", "bad.toml:3:1: colour: found the unknown key \"colour\"",
     "allowed here: format, title"},
    {"misspelt key", "[sonde]\ndepht_m = 1\n", "bad.toml:4:1: sonde.depht_m: found the unknown key",
     "did you mean depth_m?"},
    {"misspelt table", "[sond]\ndepth_m = 1\n", "bad.toml:3:2: sond: found the unknown key", "did you mean sonde?"},
    {"key in the wrong table", "depth_m = 1\n", "bad.toml:3:1: depth_m: found the unknown key", "belongs in [sonde]"},
    {"top key in a table", "[yard]\nnews = \"x\"\n", "bad.toml:4:1: yard.news: found the unknown key", "at the top"},
    {"number where a table belongs", "sonde = 3\n", "bad.toml:3:9: sonde: found 3", "a table [sonde]"},
    {"list where a table belongs", "[[yard]]\nwidth_m = 30\n", "bad.toml:3:1: yard: found a list of 1",
     "a table [yard]"},
    {"text where a number belongs", "[sonde]\ndepth_m = \"deep\"\n",
     "bad.toml:4:11: sonde.depth_m: found the text \"deep\"", "a number above 0.15 and at most 10 m"},
    {"truth value where a number belongs", "[sonde]\ndepth_m = true\n", "bad.toml:4:11: sonde.depth_m: found true",
     "a number above 0.15"},
    {"date where a number belongs", "[sonde]\ndepth_m = 2020-01-01\n",
     "bad.toml:4:11: sonde.depth_m: found a date or time", "a number above 0.15"},
    {"not a number", "[sonde]\ndepth_m = nan\n", "bad.toml:4:11: sonde.depth_m: found nan", "a number above 0.15"},
    {"infinite", "[yard]\nwidth_m = inf\n", "bad.toml:4:11: yard.width_m: found inf", "a number from 20 to 60 m"},
    {"frequency nought", "[sonde]\nfrequency_hz = 0\n", "bad.toml:4:16: sonde.frequency_hz: found 0",
     "a number from 50 to 100000 Hz"},
    {"negative moment", "[sonde]\nmoment_A_m2 = -0.1\n", "bad.toml:4:15: sonde.moment_A_m2: found -0.1",
     "from 0.0001 to 10 A m2"},
    {"shallower than the field is true", "[sonde]\ndepth_m = 0.15\n", "bad.toml:4:11: sonde.depth_m: found 0.15",
     "above 0.15"},
    {"too deep", "[sonde]\ndepth_m = 10.5\n", "bad.toml:4:11: sonde.depth_m: found 10.5", "at most 10 m"},
    {"tilt beyond upright", "[sonde]\ntilt_deg = 91\n", "bad.toml:4:12: sonde.tilt_deg: found 91",
     "from -90 to 90 deg"},
    {"yard too small", "[yard]\nlength_m = 5\n", "bad.toml:4:12: yard.length_m: found 5", "from 20 to 60 m"},
    {"reversed range", "[sonde]\ndepth_m = { uniform = [2, 1] }\n",
     "bad.toml:4:23: sonde.depth_m: found the range [2, 1]", "the smaller number first"},
    {"range of three", "[sonde]\ndepth_m = { uniform = [1, 2, 3] }\n",
     "bad.toml:4:23: sonde.depth_m: found a list of 3", "two numbers, [low, high]"},
    {"range that leaves what is allowed", "[sonde]\ndepth_m = { uniform = [1, 20] }\n",
     "bad.toml:4:23: sonde.depth_m: found 20", "at most 10 m"},
    {"range of texts", "[sonde]\ndepth_m = { uniform = [\"a\", 2] }\n",
     "bad.toml:4:24: sonde.depth_m: found the text \"a\" in the list", "{ uniform = [low, high] }"},
    {"range that is no list", "[sonde]\ndepth_m = { uniform = 2 }\n", "bad.toml:4:23: sonde.depth_m: found 2",
     "{ uniform = [low, high] }"},
    {"negative deviation", "[sonde]\ndepth_m = { normal = [2, -0.1] }\n",
     "bad.toml:4:22: sonde.depth_m: found the standard deviation -0.1", "0 or more"},
    {"mean out of range", "[sonde]\ndepth_m = { normal = [20, 1] }\n",
     "bad.toml:4:22: sonde.depth_m: found the mean 20", "at most 10 m"},
    {"deviation that is not a number", "[sonde]\ndepth_m = { normal = [2, nan] }\n",
     "bad.toml:4:22: sonde.depth_m: found the standard deviation nan", "0 or more"},
    {"empty choice", "[sonde]\nfrequency_hz = { choice = [] }\n",
     "bad.toml:4:27: sonde.frequency_hz: found a choice of 0", "1 to 100 numbers"},
    {"choice with a bad one", "[sonde]\nfrequency_hz = { choice = [512, 0] }\n",
     "bad.toml:4:27: sonde.frequency_hz: found 0", "from 50 to 100000 Hz"},
    {"unknown distribution", "[sonde]\ndepth_m = { even = [1, 2] }\n", "bad.toml:4:13: sonde.depth_m: found \"even\"",
     "{ choice = [..] }"},
    {"two distributions at once", "[sonde]\ndepth_m = { uniform = [1, 2], normal = [1, 2] }\n",
     "bad.toml:4:11: sonde.depth_m: found a table with 2 keys", "one of { uniform"},
    {"empty distribution", "[sonde]\ndepth_m = {}\n", "bad.toml:4:11: sonde.depth_m: found a table with 0 keys",
     "one of { uniform"},
    {"place with one number", "[sonde]\nposition_m = [1]\n", "bad.toml:4:14: sonde.position_m: found a list of 1",
     "[x, y]"},
    {"place that is a number", "[sonde]\nposition_m = 5\n", "bad.toml:4:14: sonde.position_m: found 5", "[x, y]"},
    {"place below nought", "[sonde]\nposition_m = [-1, 5]\n", "bad.toml:4:15: sonde.position_m: found -1",
     "[x, y], each from 0 to 60 m"},
    {"sonde outside the yard", "[yard]\nwidth_m = 25\n[sonde]\nposition_m = [26, 5]\n",
     "bad.toml:6:14: sonde.position_m: found (26, 5), outside the yard", "0 to 25 m east"},
    {"drawn place outside the yard", "[yard]\nwidth_m = 25\n[sonde]\nposition_m = [{ uniform = [26, 27] }, 5]\n",
     "bad.toml:6:14: sonde.position_m: found (26.", "drawn with seed 1, outside the yard; allowed: 0 to 25 m east"},
    {"unknown shape", "[run]\nshape = \"fal\"\n", "bad.toml:4:9: run.shape: found \"fal\"", "did you mean \"fall\"?"},
    {"misspelt iron", "[run]\nmaterial = \"castiron\"\n", "bad.toml:4:12: run.material: found \"castiron\"",
     "did you mean \"cast_iron\"?"},
    {"negative resistivity", "[ground]\nresistivity_ohm_m = -20\n",
     "bad.toml:4:21: ground.resistivity_ohm_m: found -20", "a number from 1 to 100000 ohm m"},
    {"sonde at 0 Hz", "[sonde]\nfrequency_hz = 0\n", "bad.toml:4:16: sonde.frequency_hz: found 0",
     "a number from 50 to 100000 Hz"},
    {"sonde above the ground", "[sonde]\ndepth_m = -0.2\n", "bad.toml:4:11: sonde.depth_m: found -0.2",
     "a number above 0.15"},
    {"iron that repels", "[run]\nmaterial = \"cast_iron\"\nrelative_permeability = 0.5\n",
     "bad.toml:5:25: run.relative_permeability: found 0.5", "from 1 to 5000"},
    {"neighbour of no kind", "[neighbour]\noffset_m = 1\n", "bad.toml:3:1: neighbour.kind: missing",
     "so that no line can be laid; allowed: \"electric\""},
    {"other crew nowhere", "[other_sonde]\nmoment_A_m2 = 0.1\n", "bad.toml:3:1: other_sonde.distance_m: missing",
     "a number from 1 to 40 m"},
    {"supply without current", "[hum]\nsupply = \"overhead\"\n", "bad.toml:4:10: hum.supply: found without",
     "with a current"},
    {"permeable plastic", "[run]\nrelative_permeability = 100\n",
     "bad.toml:4:25: run.relative_permeability: found beside a pipe of pvc", "with a metal"},
    {"clamp on plastic", "[neighbour]\nkind = \"gas\"\nconnection = \"none\"\nclamp_current_mA = 20\n",
     "bad.toml:6:20: neighbour.clamp_current_mA: found on a line", "\"bonded\""},
    {"mains at 400 Hz", "[hum]\nmains_hz = 400\n", "bad.toml:4:12: hum.mains_hz: found 400", "from 45 to 65 Hz"},
    {"unknown connection", "[neighbour]\nconnection = \"earthed\"\n",
     "bad.toml:4:14: neighbour.connection: found \"earthed\"", "\"bonded\""},
    {"unknown material", "[run]\nmaterial = 7\n", "bad.toml:4:12: run.material: found 7", "\"pvc\", \"clay\""},
    {"fall without a run", "[sonde]\nposition_m = [9, 9]\n[run]\nfall_percent = 2\n",
     "bad.toml:6:16: run.fall_percent: found where no run is drawn", "run.shape \"fall\""},
    {"branch tilt without a branch", "[run]\nshape = \"fall\"\nbranch_tilt_deg = 30\n",
     "bad.toml:5:19: run.branch_tilt_deg: found without a steep branch", "\"steep_branch\""},
    {"branch tilt too small", "[run]\nshape = \"steep_branch\"\nbranch_tilt_deg = 10\n",
     "bad.toml:5:19: run.branch_tilt_deg: found 10", "from 20 to 40 deg"},
    {"no run and no place", "[run]\nshape = \"none\"\n", "bad.toml:4:9: run.shape: found \"none\" without a place",
     "with sonde.position_m"},
    {"shape beside points", "[run]\nshape = \"fall\"\npoints_m = [[5, 5, -1], [9, 9, -1.1]]\n",
     "bad.toml:4:9: run.shape: found beside run.points_m", "one of the two"},
    {"run of one point", "[run]\npoints_m = [[5, 5, -1]]\n", "bad.toml:4:12: run.points_m: found a list of 1",
     "a list of 2 or more [x, y, z]"},
    {"run point with two numbers", "[run]\npoints_m = [[5, 5, -1], [9, 9]]\n",
     "bad.toml:4:25: run.points_m: found a list of 2", "3 numbers"},
    {"run point that is no number", "[run]\npoints_m = [[5, 5, -1], [9, 9, \"x\"]]\n",
     "bad.toml:4:32: run.points_m: found the text \"x\"", "a number from -1000 to 1000 m"},
    {"run that rises", "[run]\npoints_m = [[5, 5, -2], [9, 9, -1]]\n",
     "bad.toml:4:12: run.points_m: found point 2 higher", "a drain never rises"},
    {"run in the air", "[run]\npoints_m = [[5, 5, 2], [9, 9, -1]]\n",
     "bad.toml:4:12: run.points_m: found point 1 at z = 2", "below the ground"},
    {"run outside the yard", "[yard]\nwidth_m = 20\n[run]\npoints_m = [[5, 5, -1], [22, 9, -1]]\n",
     "bad.toml:6:12: run.points_m: found point 2 outside the yard", "0 to 20 m east"},
    {"run of one place twice", "[run]\npoints_m = [[5, 5, -1], [5, 5, -1]]\n",
     "bad.toml:4:12: run.points_m: found point 2 on top", "1 mm apart"},
    {"sonde off its run", "[sonde]\nposition_m = [7, 7.5]\n[run]\npoints_m = [[5, 5, -1], [9, 9, -1]]\n",
     "bad.toml:4:14: sonde.position_m: found (7, 7.5), 0.354 m off the run in plan",
     "at most the pipe's inside radius, 0.05 m"},
    {"sonde above its run", "[sonde]\nposition_m = [7, 7]\ndepth_m = 0.9\n[run]\npoints_m = [[5, 5, -1], [9, 9, -1]]\n",
     "bad.toml:4:14: sonde.position_m: found (7, 7) at depth 0.9, 0.100 m off the run",
     "at most the pipe's inside radius, 0.05 m"},
    {"depth without a place in a given run", "[sonde]\ndepth_m = 1\n[run]\npoints_m = [[5, 5, -1], [9, 9, -1]]\n",
     "bad.toml:4:11: sonde.depth_m: found beside run.points_m without sonde.position_m", "with a place"},
    {"sonde higher than its pipe", "[sonde]\nabove_invert_m = 0.12\n",
     "bad.toml:4:18: sonde.above_invert_m: found 0.12 in a pipe of 0.1 m", "less than its inside diameter"},
    {"unknown receiver", "[receiver]\nkind = \"triaxis\"\n", "bad.toml:4:8: receiver.kind: found \"triaxis\"",
     "\"tri-axis\", \"single-coil\", \"twin-coil\"; did you mean \"tri-axis\"?"},
    {"coil without turns", "[receiver]\ncoil_mu_eff = 50\n", "bad.toml:4:15: receiver.coil_mu_eff: found without",
     "receiver.coil_turns"},
    {"coil of no turns", "[receiver]\ncoil_turns = 0\n", "bad.toml:4:14: receiver.coil_turns: found 0", "from 1 to"},
    {"wide values without wide", "[receiver]\nwide_settling_tau_s = 0.1\n",
     "bad.toml:4:23: receiver.wide_settling_tau_s: found without", "receiver.has_wide"},
    {"gain step without gains", "[receiver]\ngain_step_db = 10\n",
     "bad.toml:4:16: receiver.gain_step_db: found without", "receiver.gain_steps"},
    {"half a bit", "[receiver]\nconverter_bits = 12.5\n", "bad.toml:4:18: receiver.converter_bits: found 12.5",
     "a whole number from 0 to 32"},
    {"negative mismatch", "[receiver]\ngain_error_sd_percent = -1\n",
     "bad.toml:4:25: receiver.gain_error_sd_percent: found -1", "from 0 to 20 %"},
    {"antenna spacing nought", "[receiver]\nantenna_spacing_m = 0\n",
     "bad.toml:4:21: receiver.antenna_spacing_m: found 0", "from 0.05 to 1.5 m"},
    {"unknown ticket state", "[sheet]\nticket_state = \"granted\"\n",
     "bad.toml:4:16: sheet.ticket_state: found \"granted\"", "\"requested\", \"all positive responses\", \"expired\""},
    {"bands out of order", "[rubric]\nhalf_m = 0.1\n",
     "bad.toml:4:10: rubric.half_m: found 0.1, narrower than the full band's 0.15", "full <= half <= quarter"},
    {"whole number wanted", "[yard]\nline_count = 2.5\n", "bad.toml:4:14: yard.line_count: found 2.5",
     "a whole number from 0 to 8"},
    {"truth value wanted", "[run]\nsecond_drain = \"yes\"\n", "bad.toml:4:16: run.second_drain: found the text \"yes\"",
     "true or false"},
    {"resolved is no truth value", "resolved = 1\n", "bad.toml:3:12: resolved: found 1", "true or false"},
    {"seed without resolved", "seed = 5\n", "bad.toml:3:1: seed: found in a scenario that is not resolved",
     "resolved = true"},
    {"area without resolved", "[[area]]\nkind = \"house\"\n", "bad.toml:3:1: area: found [[area]]", "resolved = true"},
    {"shape in a resolved scenario", "resolved = true\n[run]\nshape = \"fall\"\n",
     "bad.toml:5:1: run.shape: found in a resolved scenario", "still to be drawn"},
    {"distribution in a resolved scenario", "resolved = true\n[sonde]\ndepth_m = { uniform = [1, 2] }\n",
     "bad.toml:5:11: sonde.depth_m: found a distribution", "a number above 0.15"},
    {"resolved and incomplete", "resolved = true\n[sonde]\n", "bad.toml:4:1: sonde.depth_m: missing",
     "a number above 0.15"},
    {"resolved without a seed", "resolved = true\n", "bad.toml:1:1: seed: missing", "a whole number from 0"},
    {"negative seed", "resolved = true\nseed = -1\n", "bad.toml:4:8: seed: found -1", "a whole number from 0"},
    {"seed beyond 64 bits", "resolved = true\nseed = \"18446744073709551616\"\n", "bad.toml:4:8: seed: found the text",
     "\"18446744073709551615\""},
    {"area without an outline", "resolved = true\n[[area]]\nkind = \"house\"\n",
     "bad.toml:4:1: area.outline_m: missing", "a list of 3 or more [x, y]"},
    {"area of two corners", "resolved = true\n[[area]]\nkind = \"house\"\noutline_m = [[1, 1], [2, 2]]\n",
     "bad.toml:6:13: area.outline_m: found a list of 2", "a list of 3 or more [x, y]"},
    {"area that is no table", "resolved = true\narea = [1, 2]\n", "bad.toml:4:8: area: found a list of 2", "[[area]]"},
    {"unknown key in an area", "resolved = true\n[[area]]\nkinds = \"house\"\n",
     "bad.toml:5:1: area.kinds: found the unknown key", "did you mean kind?"},
    {"sonde under the house",
     "resolved = true\n[sonde]\nposition_m = [5, 5]\n[[area]]\nkind = \"house\"\noutline_m = [[1, 1], [9, 1], [9, 9], "
     "[1, 9]]\n",
     "bad.toml:5:14: sonde.position_m: found (5, 5), inside a house", "where a receiver can stand"},
    {"duplicate key", "news = \"a\"\nnews = \"b\"\n",
     "bad.toml:4:8: syntax: found no valid TOML: Error while parsing key-value pair: cannot redefine", "TOML 1.0"},
    {"duplicate table", "[sonde]\ndepth_m = 1\n[sonde]\ntilt_deg = 0\n", "bad.toml:5:1: syntax: found no valid TOML",
     "TOML 1.0"},
    {"open quote", "news = \"a\n", "bad.toml:3:10: syntax: found no valid TOML", "TOML 1.0"},
    {"not UTF-8", "news = \"a\xff\"\n", "bad.toml:3:", "TOML 1.0 in UTF-8"},
    {"number too large for any machine", "[sonde]\ndepth_m = 1e400\n", "bad.toml:4:", "TOML 1.0"},
    {"control character in a text", "news = \"a\\u0007b\"\n", "bad.toml:3:8: news: found a control character",
     "at most 200 characters"},
};

} // namespace

TEST_CASE("every broken scenario is refused with its place, its key and what is allowed") {
    for (const Broken& broken : after_head) {
        expect_refused(broken, std::string(head) + std::string(broken.text));
    }
    expect_refused({"empty title", "", "bad.toml:2:9: title: found an empty text", "1 to 80 characters"},
                   "format = 1\ntitle = \"\"\n");
}

TEST_CASE("a scenario of no or of another format is refused before anything else is judged") {
    CHECK(messages_of("") == std::vector<std::string>{"bad.toml:1:1: format: missing; allowed: format = 1"});
    CHECK(messages_of("title = \"t\"\ncolour = 1\n") ==
          std::vector<std::string>{"bad.toml:1:1: format: missing; allowed: format = 1"});
    CHECK(messages_of("title = \"t\"\nformat = 2\ncolour = 1\n") ==
          std::vector<std::string>{"bad.toml:2:10: format: found 2; allowed: 1"});
    CHECK(messages_of("format = \"1\"\n") ==
          std::vector<std::string>{"bad.toml:1:10: format: found the text \"1\"; allowed: 1"});
    CHECK(messages_of("format = 1.0\n").size() == 1);
    CHECK(messages_of("format = 1\n") ==
          std::vector<std::string>{"bad.toml:1:1: title: missing; allowed: a text of at most 80 characters"});
}

TEST_CASE("all faults of a file come at once and in the order of the file") {
    const auto messages = messages_of(
        "format = 1\ntitle = \"t\"\n[yard]\nwidth_m = 5\n[sonde]\ndepth_m = 0\ntilt_deg = \"x\"\nwhat = 1\n");
    REQUIRE(messages.size() == 4);
    CHECK(messages[0].starts_with("bad.toml:4:11: yard.width_m: found 5"));
    CHECK(messages[1].starts_with("bad.toml:6:11: sonde.depth_m: found 0"));
    CHECK(messages[2].starts_with("bad.toml:7:12: sonde.tilt_deg: found the text \"x\""));
    CHECK(messages[3].starts_with("bad.toml:8:1: sonde.what: found the unknown key \"what\""));
    try {
        parse_scenario("format = 1\n", "bad.toml");
        FAIL("no title, and nothing said");
    } catch (const ScenarioError& e) {
        CHECK(std::string(e.what()) == e.messages.front());
    }
}

TEST_CASE("a normal distribution that hardly ever meets its range is refused with the key and the value drawn") {
    // A mean on the edge with a huge deviation: about 1 draw in 10,000 is allowed.
    const auto messages = messages_of(std::string(head) + "[sonde]\ndepth_m = { normal = [10, 100000] }\n");
    REQUIRE(messages.size() == 1);
    CHECK(messages[0].starts_with("bad.toml:4:11: sonde.depth_m: found "));
    CHECK(messages[0].find("drawn from the distribution with seed 1") != std::string::npos);
    CHECK(messages[0].find("at most 10 m") != std::string::npos);
}

TEST_CASE("a yard that cannot be built is refused by naming the file and the seed") {
    // The resolved form can say anything: here the operator would start inside a shed.
    std::string text = to_toml(resolve(parse_scenario(head, "ok.toml"), 3));
    const auto at = text.find("[start]\nposition_m = ");
    const auto end = text.find('\n', at + 8);
    REQUIRE(at != std::string::npos);
    const std::string start = text.substr(at + 21, end - at - 21);
    const auto comma = start.find(',');
    const double x = std::stod(start.substr(1));
    const double y = std::stod(start.substr(comma + 1));
    text += fmt::format("\n[[area]]\nkind = \"shed\"\noutline_m = [[{0}, {1}], [{2}, {1}], [{2}, {3}], [{0}, {3}]]\n",
                        x - 0.3, y - 0.3, x + 0.3, y + 0.3);
    const auto messages = messages_of(text);
    REQUIRE(messages.size() == 1);
    CHECK(messages[0].starts_with("bad.toml:1:1: yard: found with seed 3: nobody can stand at the start"));
}

TEST_CASE("a file that is missing, a folder, too large or no text is refused") {
    const auto folder = std::filesystem::temp_directory_path() / "sondeyard-bad-scenarios";
    std::filesystem::create_directories(folder);
    const auto refused = [](const std::filesystem::path& file) {
        try {
            load_scenario(file);
        } catch (const ScenarioError& e) {
            return std::string(e.what());
        }
        return std::string("nothing said");
    };
    CHECK(refused(folder / "none.toml") ==
          (folder / "none.toml").string() + ":1:1: file: found no such file; allowed: a scenario file (TOML)");
    CHECK(refused(folder).find("found a folder; allowed: a scenario file") != std::string::npos);
    CHECK(refused("/dev/null").find("found a device or pipe; allowed: an ordinary file") != std::string::npos);
    {
        std::ofstream out(folder / "huge.toml", std::ios::binary);
        out << head << "# " << std::string(largest_file_bytes, 'x') << "\n";
    }
    CHECK(refused(folder / "huge.toml").find("found more than 1000000 bytes; allowed: at most 1000000") !=
          std::string::npos);
    {
        std::ofstream out(folder / "empty.toml", std::ios::binary);
    }
    CHECK(refused(folder / "empty.toml").find("empty.toml:1:1: format: missing") != std::string::npos);
    {
        std::ofstream out(folder / "nul.toml", std::ios::binary);
        out << head << std::string(3, '\0');
    }
    CHECK(refused(folder / "nul.toml").find("nul.toml:3:1: syntax: found no valid TOML") != std::string::npos);
    std::filesystem::remove_all(folder);
}

TEST_CASE("a name that is neither a file nor bundled is refused with the names there are") {
    try {
        find_scenario("leveI-lawn");
        FAIL("found it");
    } catch (const ScenarioError& e) {
        const std::string text = e.what();
        CHECK(text.find("found neither a file nor a bundled exercise \"leveI-lawn\"") != std::string::npos);
        CHECK(
            text.find("level-lawn, two-percent, deep, steep-branch, on-end, two-pipes, wrong-frequency, single-coil") !=
            std::string::npos);
    }
    CHECK_THROWS_AS(bundled("nothing"), std::out_of_range);
    CHECK(find_scenario("deep").name() == "deep");
}

TEST_CASE("a damaged scenario is read or refused, and nothing else happens") {
    // Cut short, one character replaced, or one line lost: whatever comes out is a world without faults or a
    // ScenarioError.
    std::vector<std::string> texts = {to_toml(resolve(bundled("two-pipes"), 4))};
    for (const std::string& name : bundled_names()) {
        texts.push_back(bundled(name).text());
    }
    sim::Draws draws(2024, "damage");
    int refused = 0;
    for (int i = 0; i < 1200; ++i) {
        std::string text = texts[static_cast<std::size_t>(i) % texts.size()];
        const auto at = static_cast<std::size_t>(draws.integer(0, static_cast<int>(text.size()) - 1));
        switch (draws.integer(0, 2)) {
        case 0:
            text.resize(at);
            break;
        case 1:
            text[at] = static_cast<char>(draws.integer(1, 255));
            break;
        default:
            text.erase(at, text.find('\n', at) - at);
            break;
        }
        CAPTURE(i);
        try {
            const Scenario scenario = parse_scenario(text, "damaged.toml");
            if (i % 8 == 0) { // drawing a yard takes a hundred times as long as reading
                const field::World world = resolve(scenario, 1);
                CHECK(field::faults(world).empty());
            }
        } catch (const ScenarioError& e) {
            ++refused;
            REQUIRE_FALSE(e.messages.empty());
            CHECK(e.messages.front().starts_with("damaged.toml:"));
        }
    }
    CHECK(refused > 400);
}
