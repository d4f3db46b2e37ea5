// Files that the commands write and read back: resolved scenarios, work logs.
#include "command_line_support.hpp"

#include <numeric>
#include <regex>

using namespace sondeyard::test;

namespace {

std::string generated(const Folder& folder, const std::vector<std::string>& words) {
    std::vector<std::string> all = {"generate"};
    all.insert(all.end(), words.begin(), words.end());
    const Ran ran = run(folder, all);
    REQUIRE_MESSAGE(ran.code == 0, ran.err);
    return ran.out;
}

} // namespace

TEST_CASE("what generate writes reads back to the same bytes, whatever the seed then") {
    const Folder folder;
    for (const char* const name : {"level-lawn", "two-percent", "deep", "steep-branch", "on-end", "two-pipes",
                                   "wrong-frequency", "single-coil"}) {
        CAPTURE(name);
        const std::string first = generated(folder, {name, "--seed", "12"});
        folder.write("resolved.toml", first);
        CHECK(generated(folder, {"resolved.toml", "--seed", "12"}) == first);
        CHECK(generated(folder, {"resolved.toml", "--seed", "98765"}) == first);
        CHECK(run(folder, {"check", "resolved.toml"}).code == 0);
    }
}

TEST_CASE("same seed, same bytes; another seed, another yard") {
    const Folder folder;
    const std::string seven = generated(folder, {"two-pipes", "--seed", "7"});
    CHECK(seven == generated(folder, {"two-pipes", "--seed", "7"}));
    CHECK(seven != generated(folder, {"two-pipes", "--seed", "8"}));
    CHECK(generated(folder, {"--seed", "7"}) == generated(folder, {"--seed", "7"}));
    CHECK(generated(folder, {"--seed", "7"}) != generated(folder, {"--seed", "8"}));
    CHECK(generated(folder, {"--seed", "010"}) == generated(folder, {"--seed", "10"})); // not octal
    // The largest seed is no number of TOML's and still comes through.
    const std::string largest = generated(folder, {"level-lawn", "--seed", "18446744073709551615"});
    folder.write("largest.toml", largest);
    CHECK(generated(folder, {"largest.toml", "--seed", "1"}) == largest);
}

TEST_CASE("without a scenario a sound yard comes out for every seed") {
    const Folder folder;
    for (int seed = 1; seed <= 25; ++seed) {
        CAPTURE(seed);
        folder.write("yard.toml", generated(folder, {"--seed", std::to_string(seed)}));
        CHECK(run(folder, {"check", "yard.toml", "--seeds", "1"}).code == 0);
    }
}

TEST_CASE("generate writes a file whole, says so, and leaves one that exists alone") {
    const Folder folder;
    const Ran wrote = run(folder, {"generate", "level-lawn", "--seed", "4", "--out", "yard.toml"});
    CHECK(wrote.code == 0);
    CHECK(wrote.out == fmt::format("yard.toml: written, {} bytes\n", std::filesystem::file_size(folder / "yard.toml")));
    CHECK(bytes_of(folder / "yard.toml") == generated(folder, {"level-lawn", "--seed", "4"}));
    CHECK(folder.names() == std::vector<std::string>{"yard.toml"});

    folder.write("mine.toml", "mine\n");
    std::filesystem::create_directory(folder / "heap");
    std::filesystem::create_symlink("nowhere", folder / "link");
    for (const char* const name : {"mine.toml", "heap", "link", "/dev/full"}) {
        CAPTURE(name);
        const Ran ran = run(folder, {"generate", "level-lawn", "--seed", "4", "--out", name});
        CHECK(ran.code == 2);
        CHECK(ran.out.empty());
        CHECK(ran.says(fmt::format("sondeyard: {}: cannot be written: there is a file of this name already", name)));
    }
    CHECK(bytes_of(folder / "mine.toml") == "mine\n");
    CHECK(folder.names() == std::vector<std::string>{"heap", "link", "mine.toml", "yard.toml"});
}

TEST_CASE("where nothing can be written there is a message and nothing is left behind") {
    const Folder folder;
    std::string locked = "/proc/sondeyard-test.toml"; // root may write to a read-only folder, but not there
    if (geteuid() != 0) {
        std::filesystem::create_directory(folder / "locked");
        std::filesystem::permissions(folder / "locked",
                                     std::filesystem::perms::owner_read | std::filesystem::perms::owner_exec);
        locked = "locked/yard.toml";
    }
    for (const std::string& target : {locked, std::string("nowhere/yard.toml"), std::string("/dev/null/yard.toml")}) {
        CAPTURE(target);
        for (const std::vector<std::string>& words :
             {std::vector<std::string>{"generate", "level-lawn", "--seed", "4", "--out", target},
              {"operate", "level-lawn", "--operator", "follows-peak", "--log", target}}) {
            const Ran ran = run(folder, words);
            CHECK(ran.code == 2);
            CHECK(ran.out.empty());
            CHECK(ran.says(target + ": cannot be written: "));
        }
        CHECK_FALSE(std::filesystem::exists(target));
    }
    // A disk that fills up on the way, by the limit on a file's size (blocks of 512 bytes).
    const Folder small;
    const auto limited = [&](const std::string& rest) {
        return run_program("sh", small, {"-c", "ulimit -f 4; trap '' XFSZ; exec \"$0\" " + rest, SONDEYARD_PROGRAM});
    };
    const Ran cut = limited("generate level-lawn --seed 4 --out yard.toml");
    CHECK(cut.code == 2);
    CHECK(cut.says("yard.toml: cannot be written: File too large"));
    CHECK(small.names().empty());
    const Ran log = limited("operate level-lawn --operator follows-peak --log work.jsonl");
    CHECK(log.code == 2);
    CHECK(log.out.empty());
    CHECK(log.says("work.jsonl: the work log stops here: File too large"));
}

TEST_CASE("a log replays, and scores as the operator was told") {
    const Folder folder;
    for (const char* const name : {"level-lawn", "steep-branch", "single-coil"}) {
        CAPTURE(name);
        const std::string log = std::string(name) + ".jsonl";
        const Ran worked =
            run(folder, {"operate", name, "--operator", "level-line", "--seed", "3", "--log", log, "--json"});
        REQUIRE_MESSAGE(worked.code == 0, worked.err);
        const Ran again = run(folder, {"replay", log, "--json"});
        CHECK(again.code == 0);
        CHECK(again.err.empty());
        CHECK(again.json()["agrees"] == true);
        CHECK(again.json()["sound"] == true);
        CHECK(again.json()["finished"] == true);
        CHECK(again.json()["checkpoints"].get<int>() > 20);
        CHECK(again.json()["seconds"] == worked.json()["seconds"]);
        const Ran scored = run(folder, {"score", log, "--json"});
        CHECK(scored.code == 0);
        Json a = worked.json();
        Json b = scored.json();
        for (const char* const own : {"scenario", "seed", "operator", "seconds", "log"}) { // of operate
            a.erase(own);
        }
        for (const char* const own : {"log", "log_sound", "log_faults"}) { // of score
            b.erase(own);
        }
        CHECK(a == b);
        // The table too: all but the first line, which says who worked.
        const Ran table = run(folder, {"operate", name, "--operator", "level-line", "--seed", "3"});
        CHECK(table.out.substr(table.out.find('\n') + 1) == run(folder, {"score", log}).out);
    }
}

TEST_CASE("asked for feet, the tables of a worked exercise have no metres") {
    const Folder folder;
    const std::vector<std::string> work = {"operate", "level-lawn", "--operator", "follows-peak", "--seed", "3"};
    const auto with = [](std::vector<std::string> words, std::initializer_list<const char*> more) {
        words.insert(words.end(), more.begin(), more.end());
        return words;
    };
    const std::regex metres(R"(\d ?(m|cm|mm)\b)");
    CHECK(std::regex_search(run(folder, with(work, {"--log", "work.jsonl"})).out, metres));
    for (const auto& words : {with(work, {"--units", "feet"}),
                              {"score", "work.jsonl", "--units", "feet"},
                              {"replay", "work.jsonl", "--units", "feet"}}) {
        const Ran ran = run(folder, words);
        CHECK(ran.code == 0);
        std::smatch found;
        CHECK_MESSAGE(!std::regex_search(ran.out, found, metres), found.str());
    }
}

TEST_CASE("same exercise, operator and seed, same log to the byte; a log that exists is left alone") {
    const Folder folder;
    const auto work = [&](const char* seed, const char* log) {
        return run(folder, {"operate", "two-percent", "--operator", "follows-peak", "--seed", seed, "--log", log});
    };
    REQUIRE(work("5", "a.jsonl").code == 0);
    REQUIRE(work("5", "b.jsonl").code == 0);
    REQUIRE(work("6", "c.jsonl").code == 0);
    const std::string a = bytes_of(folder / "a.jsonl");
    CHECK(a == bytes_of(folder / "b.jsonl"));
    CHECK(a != bytes_of(folder / "c.jsonl"));
    const Ran refused = work("6", "a.jsonl");
    CHECK(refused.code == 2);
    CHECK(refused.out.empty());
    CHECK(refused.says("a.jsonl: there is a file of this name already; a work log is never written over"));
    CHECK(bytes_of(folder / "a.jsonl") == a);
}

TEST_CASE("check says for every scenario whether it is sound, and exits with the worst answer") {
    const Folder folder;
    folder.write("bad.toml", "format = 1\ntitle = \"t\"\n[sonde]\ndepth_m = 99\n");
    // Some of these draws lie outside the yard, some inside.
    folder.write("sometimes.toml", "format = 1\ntitle = \"t\"\n[yard]\nwidth_m = 30\nlength_m = "
                                   "30\n[sonde]\nposition_m = [{ choice = [15, 35] }, 15]\n");
    CHECK(run(folder, {"check", "level-lawn"}).out.starts_with("sound  level-lawn: "));
    const Ran both = run(folder, {"check", "level-lawn", "bad.toml", "--json"});
    CHECK(both.code == 2);
    CHECK(both.json()["sound"] == false);
    CHECK(both.json()["scenarios"][0]["sound"] == true);
    CHECK(both.json()["scenarios"][1]["sound"] == false);
    CHECK(both.json()["scenarios"][1]["faults"][0].get<std::string>().starts_with(
        "bad.toml:4:11: sonde.depth_m: found 99"));
    const Ran some = run(folder, {"check", "sometimes.toml"});
    CHECK(some.code == 1);
    CHECK(some.out.empty());
    CHECK(some.says("sometimes.toml:7:14: sonde.position_m: found (35, 15) drawn with seed"));
    CHECK(some.says("of 20 seeds cannot be built"));
    CHECK(run(folder, {"check", "sometimes.toml", "--json"}).json()["scenarios"][0]["cannot_build"].size() > 2);
}
