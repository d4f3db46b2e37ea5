// Broken scenarios, point files and work logs, through the command line: the message, exit 2 (1 for a log that was cut
// or altered after its header), and nothing written.
#include "command_line_support.hpp"
#include "field/work_log.hpp"

using namespace sondeyard;
using namespace sondeyard::test;

namespace {

constexpr std::string_view head = "format = 1\ntitle = \"t\"\n"; // so what follows starts at line 3

struct Broken {
    std::string_view name;
    std::string bytes;
    std::string_view said;    // part of the message: file, line, key, found
    std::string_view allowed; // another part: what is allowed
};

void expect_refused(const Folder& folder, const Ran& ran, const std::vector<std::string>& before,
                    const Broken& broken) {
    CAPTURE(broken.name);
    CAPTURE(ran.err);
    CHECK(ran.code == 2);
    CHECK(ran.out.empty());
    CHECK(ran.err.starts_with("sondeyard: "));
    CHECK_MESSAGE(ran.says(broken.said), broken.said);
    CHECK_MESSAGE(ran.says(broken.allowed), broken.allowed);
    CHECK(ran.err.find("something went wrong") == std::string::npos);
    CHECK(folder.names() == before); // no file, no part of one
}

std::string toml(std::string_view rest) { return std::string(head) + std::string(rest); }

std::vector<Broken> broken_scenarios() {
    return {
        {"empty file", "", "bad.toml:1:1: format: missing", "allowed: format = 1"},
        {"another format", "format = 2\n", "bad.toml:1:10: format: found 2", "allowed: 1"},
        {"binary",
         std::string("\x7f"
                     "ELF\x02\x01\x01\0\0\0\xff\xfe",
                     12),
         "bad.toml:1:10: syntax: found no valid TOML", "TOML 1.0 in UTF-8"},
        {"nothing but nought bytes", std::string(4096, '\0'), "bad.toml:1:1: syntax", "TOML 1.0"},
        {"UTF-16",
         std::string("\xff\xfe"
                     "f\0o\0r\0m\0",
                     10),
         "bad.toml:1:1: syntax", "TOML 1.0 in UTF-8"},
        {"cut off in a text", toml("news = \"half a sent"), "bad.toml:3:", "TOML 1.0"},
        {"cut off in a list", toml("[sonde]\nposition_m = [12.0, "), "bad.toml:4:", "TOML 1.0"},
        {"misspelt key", toml("[sonde]\ndepht_m = 1\n"), "bad.toml:4:1: sonde.depht_m: found the unknown key",
         "did you mean depth_m?"},
        {"text for a number", toml("[sonde]\ndepth_m = \"deep\"\n"),
         "bad.toml:4:11: sonde.depth_m: found the text \"deep\"", "a number above 0.15 and at most 10 m"},
        {"not a number", toml("[sonde]\ndepth_m = nan\n"), "bad.toml:4:11: sonde.depth_m: found nan", "above 0.15"},
        {"infinite", toml("[yard]\nwidth_m = inf\n"), "bad.toml:4:11: yard.width_m: found inf", "from 20 to 60 m"},
        {"too large for any machine", toml("[sonde]\ndepth_m = 1e400\n"), "bad.toml:4:", "TOML 1.0"},
        {"large", toml("[sonde]\ndepth_m = 1e300\n"), "bad.toml:4:11: sonde.depth_m: found 1e+300", "at most 10 m"},
        {"reversed range", toml("[sonde]\ndepth_m = { uniform = [2, 1] }\n"),
         "bad.toml:4:23: sonde.depth_m: found the range [2, 1]", "the smaller number first"},
        {"list for a table", toml("[[yard]]\nwidth_m = 30\n"), "bad.toml:3:1: yard: found a list of 1",
         "a table [yard]"},
        {"misspelt iron", toml("[run]\nmaterial = \"castiron\"\n"), "run.material: found \"castiron\"",
         "did you mean \"cast_iron\"?"},
        {"negative resistivity", toml("[ground]\nresistivity_ohm_m = -20\n"), "ground.resistivity_ohm_m: found -20",
         "allowed: a number from 1 to 100000 ohm m"},
        {"sonde off its run", toml("[sonde]\nposition_m = [7, 7.5]\n[run]\npoints_m = [[5, 5, -1], [9, 9, -1]]\n"),
         "bad.toml:4:14: sonde.position_m: found (7, 7.5), 0.354 m off the run",
         "at most the pipe's inside radius, 0.05 m"},
        {"sonde outside its yard", toml("[yard]\nwidth_m = 25\n[sonde]\nposition_m = [26, 5]\n"),
         "bad.toml:6:14: sonde.position_m: found (26, 5), outside the yard", "0 to 25 m east"},
        {"run that rises", toml("[run]\npoints_m = [[5, 5, -2], [9, 9, -1]]\n"),
         "bad.toml:4:12: run.points_m: found point 2 higher", "a drain never rises"},
        {"unknown receiver", toml("[receiver]\nkind = \"triaxis\"\n"), "bad.toml:4:8: receiver.kind: found \"triaxis\"",
         "did you mean \"tri-axis\"?"},
        {"resolved and incomplete", toml("resolved = true\n[sonde]\n"), "bad.toml:4:1: sonde.depth_m: missing",
         "above 0.15"},
        {"larger than any scenario", toml("# " + std::string(1'000'000, 'x') + "\n"), "found more than 1000000 bytes",
         "at most 1000000"},
    };
}

std::vector<Broken> broken_points() {
    const std::string h = "x_m,y_m,z_m\n";
    return {
        {"empty file", "", "bad.csv:1: found nothing", "allowed as the first line: x_m,y_m,z_m"},
        {"notes alone", "# nothing\n\n", "bad.csv:1: found nothing", "x_m,y_m,z_m"},
        {"no header", "1,2,3\n", "bad.csv:1: found \"1,2,3\"", "allowed as the first line: x_m,y_m,z_m"},
        {"columns in another order", "y_m,x_m,z_m\n1,2,3\n", "bad.csv:1: found \"y_m,x_m,z_m\"", "x_m,y_m,z_m"},
        {"semicolons", "x_m;y_m;z_m\n1;2;3\n", "bad.csv:1: found \"x_m;y_m;z_m\"", "x_m,y_m,z_m"},
        {"two numbers", h + "1,2\n", "bad.csv:2: found \"1,2\"", "three numbers x_m,y_m,z_m"},
        {"four numbers", h + "1,2,3\n1,2,3,4\n", "bad.csv:3: found \"1,2,3,4\"", "three numbers x_m,y_m,z_m"},
        {"decimal commas", h + "1,5,2,5,0,0\n", "bad.csv:2: found \"1,5,2,5,0,0\"", "three numbers"},
        {"text", h + "1,2,three\n", "bad.csv:2: z_m: found \"three\"", "a number of metres from -1e6 to 1e6"},
        {"a unit after the number", h + "1 m,2,3\n", "bad.csv:2: x_m: found \"1 m\"", "a number of metres"},
        {"an empty cell", h + "1,,3\n", "bad.csv:2: y_m: found \"\"", "a number of metres"},
        {"not a number", h + "nan,0,0\n", "bad.csv:2: x_m: found \"nan\"", "a number of metres"},
        {"infinite", h + "0,inf,0\n", "bad.csv:2: y_m: found \"inf\"", "a number of metres"},
        {"too large for any machine", h + "0,0,1e999\n", "bad.csv:2: z_m: found \"1e999\"", "from -1e6 to 1e6"},
        {"farther than any yard", h + "0,0,-2e6\n", "bad.csv:2: z_m: found \"-2e6\"", "from -1e6 to 1e6"},
        {"hexadecimal", h + "0x10,0,0\n", "bad.csv:2: x_m: found \"0x10\"", "a number of metres"},
        {"cut off", h + "1,2,3\n4,5", "bad.csv:3: found \"4,5\"", "three numbers"},
        {"binary", std::string("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16), "bad.csv:1: found \"?PNG\"", "x_m,y_m,z_m"},
        {"nought bytes in a number", h + std::string("1\0,2,3\n", 7), "bad.csv:2: x_m: found \"1?\"",
         "a number of metres"},
        {"UTF-16", std::string("\xff\xfex\0_\0m\0", 8), "bad.csv:1: found \"??x?_?m?\"", "x_m,y_m,z_m"},
    };
}

} // namespace

TEST_CASE("every broken scenario is refused by every command that reads one, with nothing written") {
    const Folder folder;
    folder.write("points.csv", "x_m,y_m,z_m\n1,2,3\n");
    for (const Broken& broken : broken_scenarios()) {
        folder.write("bad.toml", broken.bytes);
        const auto before = folder.names();
        for (const std::vector<std::string>& words :
             {std::vector<std::string>{"check", "bad.toml"},
              {"generate", "bad.toml", "--seed", "1"},
              {"generate", "bad.toml", "--seed", "1", "--out", "out.toml"},
              {"probe", "bad.toml", "--points", "points.csv", "--json"},
              {"operate", "bad.toml", "--operator", "follows-peak", "--log", "out.jsonl"}}) {
            CAPTURE(words[0]);
            expect_refused(folder, run(folder, words), before, broken);
        }
    }
}

TEST_CASE("every broken point file is refused with its line, its column and what is allowed") {
    const Folder folder;
    for (const Broken& broken : broken_points()) {
        folder.write("bad.csv", broken.bytes);
        expect_refused(folder, run(folder, {"probe", "level-lawn", "--points", "bad.csv"}), {"bad.csv"}, broken);
        expect_refused(folder, run(folder, {"probe", "level-lawn", "--points", "bad.csv", "--json"}), {"bad.csv"},
                       broken);
    }
}

TEST_CASE("what is no file is refused wherever a file is wanted") {
    const Folder folder;
    std::filesystem::create_directory(folder / "heap");
    struct Case {
        std::vector<std::string> words;
        Broken expected;
    };
    const std::vector<Case> cases = {
        {{"check", "heap"}, {"folder as scenario", {}, "heap:1:1: file: found a folder", "allowed: a scenario file"}},
        {{"check", "none.toml"},
         {"no such scenario",
          {},
          "none.toml:1:1: scenario: found neither a file nor a bundled",
          "level-lawn, two-percent"}},
        {{"check", "/dev/zero"}, {"device as scenario", {}, "found a device or pipe", "allowed: an ordinary file"}},
        {{"probe", "level-lawn", "--points", "heap"},
         {"folder as points", {}, "heap: this is a folder", "a CSV file of places is wanted"}},
        {{"probe", "level-lawn", "--points", "none.csv"},
         {"no such points", {}, "none.csv: cannot be read", "No such file"}},
        {{"probe", "level-lawn", "--points", "/dev/zero"},
         {"device as points", {}, "/dev/zero: this is a device", "a CSV file of places is wanted"}},
        {{"replay", "heap"}, {"folder as log", {}, "heap: this is a folder", "a work log is wanted"}},
        {{"replay", "none.jsonl"}, {"no such log", {}, "none.jsonl: cannot be read", "No such file"}},
        {{"score", "/dev/zero"}, {"device as log", {}, "/dev/zero: this is a device", "a work log is wanted"}},
    };
    for (const Case& c : cases) {
        expect_refused(folder, run(folder, c.words), {"heap"}, c.expected);
    }
}

TEST_CASE("scenarios from other systems are read alike") {
    const Folder folder;
    const std::string text = "format = 1\ntitle = \"t\"\n[sonde]\nposition_m = [12, 11]\ndepth_m = 1.5\n";
    const auto read = [&](const std::string& bytes) {
        folder.write("s.toml", bytes);
        const Ran ran = run(folder, {"generate", "s.toml", "--seed", "1"});
        CHECK_MESSAGE(ran.code == 0, ran.err);
        return ran.out;
    };
    std::string crlf;
    for (const std::string& line : lines_of(text)) {
        crlf += line + "\r\n";
    }
    const std::string plain = read(text);
    CHECK(plain.size() > 500);
    CHECK(read(crlf) == plain);
    CHECK(read(text.substr(0, text.size() - 1)) == plain); // no last line end
    CHECK(read("\xEF\xBB\xBF" + text) == plain);           // byte order mark
}

// ---- Work logs ----

namespace {

using Lines = std::vector<std::string>;

Lines worked(const Folder& folder, const char* scenario, const char* seed) {
    const std::string name = fmt::format("{}-{}.jsonl", scenario, seed);
    const Ran ran = run(folder, {"operate", scenario, "--operator", "follows-peak", "--seed", seed, "--log", name});
    REQUIRE_MESSAGE(ran.code == 0, ran.err);
    return lines_of(bytes_of(folder / name));
}

void swap_text(std::string& line, std::string_view from, std::string_view to) {
    const auto at = line.find(from);
    REQUIRE_MESSAGE(at != std::string::npos, from);
    line.replace(at, from.size(), to);
}

// As a forger would: the running hash made to fit again (field/work_log.hpp says how it runs).
std::string rehashed(const Lines& lines) {
    std::string hash = field::sha256_hex("sondeyard-work-log-1\n");
    std::string text;
    for (const std::string& line : lines) {
        const std::string bare = line.substr(0, line.rfind(",\"hash\":\"")) + "}";
        hash = field::sha256_hex(fmt::format("{}\n{}\n", hash, bare));
        text += fmt::format("{},\"hash\":\"{}\"}}\n", bare.substr(0, bare.size() - 1), hash);
    }
    return text;
}

// A header whose scenario text was changed, with its SHA-256 made to fit.
std::string with_scenario(const std::string& header, std::string_view from, std::string_view to) {
    Json document = Json::parse(header);
    std::string text = document["scenario"].get<std::string>();
    swap_text(text, from, to);
    document["scenario"] = text;
    document["scenario_sha256"] = field::sha256_hex(text);
    return document.dump();
}

} // namespace

TEST_CASE("a log without a usable header is refused, exit 2") {
    const Folder folder;
    const Lines good = worked(folder, "level-lawn", "2");
    const auto header = [&](std::string_view from, std::string_view to) {
        Lines lines = good;
        swap_text(lines[0], from, to);
        return joined(lines);
    };
    const auto forged = [&](std::string_view from, std::string_view to) {
        Lines lines = good;
        lines[0] = with_scenario(lines[0], from, to);
        return rehashed(lines);
    };
    const std::vector<Broken> all = {
        {"empty file", "", "bad.jsonl:1: the file is empty", "a work log begins with a header line"},
        {"an empty line", "\n", "bad.jsonl:1: this is not a work log", "\"sondeyard_log\""},
        {"a scenario for a log", toml("news = \"x\"\n"), "bad.jsonl:1: this is not a work log", "\"sondeyard_log\""},
        {"binary", std::string("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16), "bad.jsonl:1: this is not a work log",
         "\"sondeyard_log\""},
        {"no header", joined({good.begin() + 1, good.end()}), "bad.jsonl:1: this is not a work log",
         "\"sondeyard_log\""},
        {"a list for a header", "[1,2,3]\n", "bad.jsonl:1: this is not a work log", "\"sondeyard_log\""},
        {"cut off in the header", good[0].substr(0, 500), "bad.jsonl:1: this is not a work log", "\"sondeyard_log\""},
        {"another format", header("\"sondeyard_log\":1", "\"sondeyard_log\":2"), "bad.jsonl:1: work log format 2",
         "this program reads format 1"},
        {"no seed", header("\"seed\":", "\"sead\":"), "bad.jsonl:1: the header is incomplete", "seed"},
        {"a text for a seed", header("\"seed\":2", "\"seed\":\"two\""), "bad.jsonl:1: the header is incomplete",
         "number"},
        {"scenario altered", header("depth_m = 1", "depth_m = 2"),
         "bad.jsonl:1: the scenario's text does not fit its SHA-256", "it was altered"},
        {"forged with a scenario that is none", forged("format = 1", "format : 1"), "syntax: found no valid TOML",
         "TOML 1.0"},
        {"forged with a depth that none may have", forged("depth_m = 1", "depth_m = 91"), "sonde.depth_m: found 91",
         "at most 10 m"},
    };
    for (const Broken& broken : all) {
        folder.write("bad.jsonl", broken.bytes);
        for (const std::vector<std::string>& words : {std::vector<std::string>{"replay", "bad.jsonl"},
                                                      {"score", "bad.jsonl"},
                                                      {"replay", "bad.jsonl", "--json"}}) {
            expect_refused(folder, run(folder, words), {"bad.jsonl", "level-lawn-2.jsonl"}, broken);
        }
    }
}

namespace {

struct Cut {
    std::string_view name;
    std::string bytes;
    std::string said;
};

std::vector<Cut> cut_logs(const Lines& good, const Lines& other) {
    const auto changed = [&](std::size_t line, const auto& change) {
        Lines lines = good;
        change(lines[line - 1]);
        return lines;
    };
    const auto number = [](std::string_view key, std::string_view value) {
        return [=](std::string& line) {
            const auto at = line.find(key);
            REQUIRE(at != std::string::npos);
            const auto end = line.find_first_of(",}]", at + key.size());
            line.replace(at + key.size(), end - at - key.size(), value);
        };
    };
    Lines without = good;
    without.erase(without.begin() + 29);
    Lines swapped = good;
    std::swap(swapped[19], swapped[20]);
    Lines others_header = good;
    others_header[0] = other[0];
    std::string crlf;
    for (const std::string& line : good) {
        crlf += line + "\r\n";
    }
    return {
        {"cut in a line", joined({good.begin(), good.begin() + 40}) + good[40].substr(0, 55),
         "bad.jsonl:41: the line is incomplete: the log was cut off here"},
        {"cut at a line's end", joined({good.begin(), good.begin() + 40}), "bad.jsonl:41: the log has no end line"},
        {"last line end gone", joined(good).substr(0, joined(good).size() - 1),
         fmt::format("bad.jsonl:{}: the line is incomplete", good.size())},
        {"header alone", good[0] + "\n", "bad.jsonl:2: the log has no end line"},
        {"a number altered", joined(changed(25, number("\"dbpt\":", "99.000"))),
         "bad.jsonl:25: the running hash does not fit"},
        {"a line taken out", joined(without), "bad.jsonl:30: the running hash does not fit"},
        {"lines swapped", joined(swapped), "bad.jsonl:20: the running hash does not fit"},
        {"another log's header", joined(others_header), "bad.jsonl:2: the running hash does not fit"},
        {"binary in the middle", joined({good.begin(), good.begin() + 10}) + std::string(100, '\0') + "\n",
         "bad.jsonl:11: the line is incomplete"},
        {"more after the end", rehashed([&] {
             Lines l = good;
             l.push_back(good.back());
             return l;
         }()),
         fmt::format("bad.jsonl:{}: there is more after the end line", good.size() + 1)},
        {"Windows line ends", crlf, "bad.jsonl:1: "},
        // Forged: the hashes fit.
        {"forged, a tick that does not follow", rehashed(changed(25, number("\"tick\":", "9000000000000000000"))),
         "bad.jsonl:25: ticks "},
        {"forged, an unknown command", rehashed([&] {
             Lines l = good;
             const auto at = std::ranges::find_if(
                 l, [](const std::string& s) { return s.find("\"read depth\"") != std::string::npos; });
             REQUIRE(at != l.end());
             swap_text(*at, "\"read depth\"", "\"dig for gold\"");
             return l;
         }()),
         "\"dig for gold\" is not a command"},
        {"forged, another signal", rehashed(changed(25, number("\"digest\":", "\"0123456789abcdef\""))),
         "the replay differs from the log"},
        {"forged, another world", rehashed(others_header), "the replay differs from the log"},
        {"forged, a hand beyond all reach",
         rehashed(changed(5,
                          [](std::string& line) {
                              const auto at = line.find("\"moves\":[");
                              REQUIRE(at != std::string::npos);
                              line.replace(at, line.find("]]", at) + 2 - at,
                                           "\"moves\":[[1,9000000000000000,-9000000000000000]]");
                          })),
         "the replay differs from the log"},
    };
}

} // namespace

TEST_CASE("a log that was cut or altered after its header is read up to there, with the line and exit 1") {
    const Folder folder;
    const Lines good = worked(folder, "level-lawn", "2");
    const Lines other = worked(folder, "level-lawn", "3");
    REQUIRE(good.size() > 60);
    for (const Cut& cut : cut_logs(good, other)) {
        CAPTURE(cut.name);
        folder.write("bad.jsonl", cut.bytes);
        for (const char* const command : {"replay", "score"}) {
            CAPTURE(command);
            const Ran ran = run(folder, {command, "bad.jsonl"});
            CAPTURE(ran.err);
            CHECK(ran.code == 1);
            CHECK_MESSAGE(ran.says("sondeyard: "), cut.said);
            CHECK_MESSAGE(ran.says(cut.said), cut.said);
            const Ran json = run(folder, {command, "bad.jsonl", "--json"});
            CHECK(json.code == 1);
            const Json document = json.json();
            const Json& faults = document[std::string_view(command) == "replay" ? "faults" : "log_faults"];
            REQUIRE(faults.size() >= 1);
            CHECK(faults.dump().find(Json(cut.said).dump().substr(1, 12)) != std::string::npos);
        }
    }
    CHECK(folder.names() == std::vector<std::string>{"bad.jsonl", "level-lawn-2.jsonl", "level-lawn-3.jsonl"});
}

TEST_CASE("where the replay of another version's log differs, the version that wrote it is named") {
    const Folder folder;
    Lines lines = worked(folder, "level-lawn", "2");
    const auto digest = lines[24].find("\"digest\":\"");
    REQUIRE(digest != std::string::npos);
    lines[24].replace(digest, 12, "\"digest\":\"0f");
    folder.write("ours.jsonl", rehashed(lines));
    const Ran ours = run(folder, {"replay", "ours.jsonl"});
    CHECK(ours.code == 1);
    CHECK(ours.says("the replay differs from the log"));
    CHECK_FALSE(ours.says("version"));
    const auto program = lines[0].find("\"program\":\"");
    REQUIRE(program != std::string::npos);
    const auto from = program + std::string("\"program\":\"").size();
    lines[0].replace(from, lines[0].find('"', from) - from, "0.0.7");
    folder.write("theirs.jsonl", rehashed(lines));
    const Ran theirs = run(folder, {"replay", "theirs.jsonl"});
    CHECK(theirs.code == 1);
    CHECK(theirs.says("the replay differs from the log"));
    CHECK_MESSAGE(theirs.says("(the log was written by version 0.0.7, this is "), theirs.err);
}

TEST_CASE("a cut log still replays and scores what it holds") {
    const Folder folder;
    const Lines good = worked(folder, "level-lawn", "2");
    folder.write("cut.jsonl", joined({good.begin(), good.begin() + 40}));
    const Json document = run(folder, {"replay", "cut.jsonl", "--json"}).json();
    CHECK(document["agrees"] == true);
    CHECK(document["sound"] == false);
    CHECK(document["finished"] == false);
    CHECK(document["checkpoints"] == 39);
    const Json scored = run(folder, {"score", "cut.jsonl", "--json"}).json();
    CHECK(scored["log_sound"] == false);
    CHECK(scored["passed"] == false);
    CHECK(scored["finished"] == false);
}
