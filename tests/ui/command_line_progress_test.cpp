// sondeyard progress, on a data folder of the test's own.
#include "command_line_support.hpp"
#include "field/progress.hpp"

using namespace sondeyard;
using namespace sondeyard::test;

namespace {

How at(const Folder& home) { return {.environment = {"XDG_DATA_HOME=" + home.path().string()}}; }

field::Attempt attempt(double share, bool passed) {
    field::Attempt a;
    a.exercise = "level-lawn";
    a.seed = 3;
    a.points = passed ? 80 : 40;
    a.passed = passed;
    a.date = "2026-03-01 10:00";
    a.error_m = 1.524 * share;
    a.error_share = share;
    a.log = passed ? "kept.jsonl" : "";
    return a;
}

void furnish(const Folder& home) {
    const auto store = field::open_progress(home.path() / "sondeyard" / "progress.db");
    const std::vector<field::Attempt> idas = {attempt(0.3, false), attempt(0.2, true), attempt(0.1, true)};
    store->add_attempts(store->add_person("Ida").id, idas);
    const field::Attempt one = attempt(0.25, true);
    store->add_attempts(store->add_person("Jörg =1+1").id, std::span(&one, 1));
    std::filesystem::create_directory(home.path() / "sondeyard" / "logs");
    std::ofstream(home.path() / "sondeyard" / "logs" / "kept.jsonl") << "a log\n";
}

} // namespace

TEST_CASE("progress lists people, and one of them attempt by attempt in either system of units") {
    const Folder home;
    CHECK(run(home, {"progress"}, at(home)).out == "Nobody has practised on this machine yet.\n");
    CHECK(std::filesystem::is_empty(home.path()));
    furnish(home);
    const Ran all = run(home, {"progress"}, at(home));
    CHECK(all.code == 0);
    CHECK(lines_of(all.out)[1] == "Ida               3       2        20 %  too few        2026-03-01 10:00");
    const Ran one = run(home, {"progress", "--person", "Ida"}, at(home));
    CHECK(one.code == 0);
    CHECK(one.out.find("46 cm") != std::string::npos);
    CHECK(one.out.find("A trend can be told from 6 attempts on; there are 3.") != std::string::npos);
    CHECK(one.out.find("Next to practise:\n") != std::string::npos);
    const Ran feet = run(home, {"progress", "--person", "Ida", "--units", "feet"}, at(home));
    CHECK(feet.out.find("1 ft 6 in") != std::string::npos); // 0.3 of 5 ft
    CHECK(feet.out.find(" cm") == std::string::npos);
    const Json json = run(home, {"progress", "--json"}, at(home)).json();
    CHECK(json["people"].size() == 2);
    CHECK(json["people"][0]["attempts"][2]["error_m"] == doctest::Approx(0.1524));
    CHECK(json["people"][0]["trend"] == "too few");
}

TEST_CASE("progress writes CSV once and never over a file") {
    const Folder home;
    furnish(home);
    CHECK(run(home, {"progress", "--csv", "all.csv"}, at(home)).code == 0);
    const std::string csv = bytes_of(home / "all.csv");
    CHECK(std::ranges::count(csv, '\n') == 5);
    CHECK(csv.find("Jörg =1+1,2026-03-01 10:00,level-lawn,3,80,yes,") != std::string::npos);
    const Ran again = run(home, {"progress", "--csv", "all.csv"}, at(home));
    CHECK(again.code == 2);
    CHECK(bytes_of(home / "all.csv") == csv);
}

TEST_CASE("progress deletes only with --yes, and logs only when asked") {
    const Folder home;
    furnish(home);
    const auto log = home.path() / "sondeyard" / "logs" / "kept.jsonl";
    const Ran asked = run(home, {"progress", "--delete", "Ida"}, at(home));
    CHECK(asked.code == 1);
    CHECK(asked.out.find("\"Ida\" and 3 attempts") != std::string::npos);
    CHECK(run(home, {"progress", "--json"}, at(home)).json()["people"].size() == 2);
    CHECK(run(home, {"progress", "--delete", "Nobody", "--yes"}, at(home)).code == 2);
    CHECK(run(home, {"progress", "--yes"}, at(home)).code == 2);
    CHECK(run(home, {"progress", "--delete", "Ida", "--yes"}, at(home)).code == 0);
    CHECK(std::filesystem::exists(log));
    CHECK(run(home, {"progress", "--delete", "Jörg =1+1", "--yes", "--logs"}, at(home)).code == 0);
    CHECK_FALSE(std::filesystem::exists(log));
    CHECK(run(home, {"progress"}, at(home)).out == "Nobody has practised on this machine yet.\n");
}

TEST_CASE("progress says what is wrong with a damaged store and leaves it alone") {
    const Folder home;
    std::filesystem::create_directory(home.path() / "sondeyard");
    std::ofstream(home.path() / "sondeyard" / "progress.db") << std::string(4096, 'x');
    const Ran ran = run(home, {"progress"}, at(home));
    CHECK(ran.code == 2);
    CHECK(ran.says("is damaged, and left as it is"));
    CHECK(bytes_of(home.path() / "sondeyard" / "progress.db") == std::string(4096, 'x'));
    CHECK(run(home, {"progress", "--units", "cubits"}, at(home)).says("allowed: \"metric\" or \"feet\""));
}
