// Progress: what is kept, and what happens when it cannot be.
#include "field/progress.hpp"
#include "tests/temp_folder.hpp"

#include <doctest/doctest.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <fstream>
#include <iterator>
#include <thread>
#include <vector>

using namespace sondeyard::field;
using sondeyard::test::Folder;

namespace {

Attempt an_attempt(std::string exercise = "level-lawn", int points = 62) {
    Attempt a;
    a.exercise = std::move(exercise);
    a.seed = 18446744073709551615ULL;
    a.points = points;
    a.passed = points >= 60;
    a.date = "2026-03-01 14:05";
    a.log = "level-lawn-20260301-140501.jsonl";
    a.parts = PartPoints{20, 14, 10, 10, 8};
    a.error_m = 0.18;
    a.error_share = 0.12;
    a.depth_error_m = -0.09;
    a.tilt_right = false;
    a.duration_s = 251.5;
    a.missed = {"walked_off", "lift_check"};
    a.findings = std::vector<std::string>{"ghost_peak", "too_fast"};
    return a;
}

std::string bytes_of(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

// Another program's hand on the file.
void with_sqlite(const std::filesystem::path& file, const char* sql) {
    sqlite3* handle = nullptr;
    REQUIRE(sqlite3_open(file.c_str(), &handle) == SQLITE_OK);
    CHECK(sqlite3_exec(handle, sql, nullptr, nullptr, nullptr) == SQLITE_OK);
    sqlite3_close(handle);
}

std::string refusal_of(const std::filesystem::path& file) {
    try {
        open_progress(file);
    } catch (const ProgressError& e) {
        return e.what();
    }
    return {};
}

} // namespace

TEST_CASE("An attempt comes back as it was kept, of whoever made it") {
    const Folder home;
    const auto file = home.path() / "data" / "progress.db";
    std::int64_t anna = 0;
    {
        const auto store = open_progress(file);
        anna = store->add_person("Anna").id;
        const Person second = store->add_person("Zoë  Ñ, \"the\" third");
        const std::vector<Attempt> made = {an_attempt(), an_attempt("on-end", 40)};
        store->add_attempts(anna, made);
        Attempt bare;
        bare.exercise = "bank";
        bare.date = "2025-12-31 23:59";
        store->add_attempts(second.id, std::span(&bare, 1));
    }
    const auto store = open_progress(file);
    const std::vector<Person> people = store->people();
    REQUIRE(people.size() == 2);
    CHECK(people[1].name == "Zoë  Ñ, \"the\" third");
    std::vector<Attempt> kept = store->attempts(anna);
    REQUIRE(kept.size() == 2);
    CHECK(kept[0].id < kept[1].id);
    Attempt expected = an_attempt();
    expected.id = kept[0].id;
    CHECK(kept[0] == expected);
    const std::vector<Attempt> others = store->attempts(people[1].id);
    REQUIRE(others.size() == 1);
    CHECK(!others[0].parts.has_value());
    CHECK(!others[0].error_m.has_value());
    CHECK(!others[0].tilt_right.has_value());
    CHECK(others[0].missed.empty());
    CHECK(store->attempts(99).empty());
}

TEST_CASE("That a coach found nothing is another thing than that none looked") {
    const Folder home;
    const auto store = open_progress(home / "progress.db");
    const std::int64_t who = store->add_person("Anna").id;
    Attempt looked;
    looked.findings.emplace();
    const std::vector<Attempt> both = {looked, Attempt{}};
    store->add_attempts(who, both);
    CHECK(store->attempts(who)[0].findings.has_value());
    CHECK(store->attempts(who)[0].findings->empty());
    CHECK_FALSE(store->attempts(who)[1].findings.has_value());
}

TEST_CASE("A store of the first version is brought up to date with all that is in it") {
    const Folder home;
    const auto file = home / "progress.db";
    with_sqlite(
        file, "CREATE TABLE person (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);"
              "CREATE TABLE attempt (id INTEGER PRIMARY KEY,"
              " person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,"
              " exercise TEXT NOT NULL, seed TEXT NOT NULL, points INTEGER NOT NULL, passed INTEGER NOT NULL,"
              " date TEXT NOT NULL, log TEXT NOT NULL, position_points INTEGER, depth_points INTEGER,"
              " tilt_points INTEGER, dig_points INTEGER, procedure_points INTEGER, error_m REAL, error_share REAL,"
              " depth_error_m REAL, tilt_right INTEGER, duration_s REAL, missed TEXT NOT NULL, findings TEXT NOT NULL);"
              "CREATE INDEX attempt_of_person ON attempt (person, id);"
              "CREATE TABLE note (name TEXT PRIMARY KEY, value TEXT NOT NULL);"
              "INSERT INTO person VALUES (3, 'Anna'), (7, 'Bo');"
              "INSERT INTO note VALUES ('current person', '7');"
              "INSERT INTO attempt VALUES (11, 3, 'level-lawn', '18446744073709551615', 62, 1, '2026-03-01 14:05',"
              " 'level-lawn-20260301-140501.jsonl', 20, 14, 10, 10, 8, 0.18, 0.12, -0.09, 0, 251.5,"
              " 'walked_off lift_check', '');"
              "INSERT INTO attempt VALUES (12, 7, 'bank', '5', 0, 0, '2025-12-31 23:59', '', NULL, NULL, NULL, NULL,"
              " NULL, NULL, NULL, NULL, NULL, NULL, '', '');"
              "PRAGMA application_id = 1399740772; PRAGMA user_version = 1;");
    for (int opened = 0; opened < 2; ++opened) { // the second time it is of today
        const auto store = open_progress(file);
        CHECK(store->people() == std::vector<Person>{{3, "Anna"}, {7, "Bo"}});
        CHECK(store->note("current person") == "7");
        Attempt expected = an_attempt();
        expected.id = 11;
        expected.findings.reset();
        REQUIRE(store->attempts(3).size() == 1);
        CHECK(store->attempts(3)[0] == expected);
        REQUIRE(store->attempts(7).size() == 1 + static_cast<std::size_t>(opened));
        CHECK(store->attempts(7)[0].exercise == "bank");
        if (opened == 0) {
            const Attempt more = an_attempt();
            store->add_attempts(7, std::span(&more, 1));
        } else {
            CHECK(store->attempts(7)[1].findings == an_attempt().findings);
        }
    }
}

TEST_CASE("Names are anything in UTF-8, once each") {
    const Folder home;
    const auto store = open_progress(home / "progress.db");
    CHECK(store->add_person("  王小明 ").name == "王小明");
    CHECK(store->add_person("'); DROP TABLE person; --").name == "'); DROP TABLE person; --");
    CHECK_THROWS_WITH_AS(store->add_person("王小明"), doctest::Contains("already"), ProgressError);
    CHECK_THROWS_WITH_AS(store->add_person("   "), doctest::Contains("missing"), ProgressError);
    CHECK_THROWS_WITH_AS(store->add_person(std::string(81, 'x')), doctest::Contains("81 characters"), ProgressError);
    std::string eighty_wide;
    for (int i = 0; i < 80; ++i) {
        eighty_wide += "ü";
    }
    CHECK(store->add_person(eighty_wide).name == eighty_wide);
    for (const char* bad :
         {"a\nb", "a\x7f", "\xC3", "\xC0\xAF", "\xED\xA0\x80", "\xF5\x80\x80\x80", "\xC2\x85", "\xFF"}) {
        CHECK_THROWS_AS(store->add_person(bad), ProgressError);
    }
    CHECK(store->people().size() == 3);
    const Person first = store->people().front();
    store->rename_person(first.id, "Li");
    CHECK(store->people().front() == Person{first.id, "Li"});
    CHECK_THROWS_AS(store->rename_person(99, "Nobody"), ProgressError);
}

TEST_CASE("Deleting a person takes the attempts along and leaves nothing of them in the file") {
    const Folder home;
    const auto file = home / "progress.db";
    const auto store = open_progress(file);
    const Person gone = store->add_person("Quentin Quillfeather");
    const Person stays = store->add_person("Ida");
    const Attempt a = an_attempt("quite-a-peculiar-exercise");
    store->add_attempts(gone.id, std::span(&a, 1));
    const Attempt b = an_attempt();
    store->add_attempts(stays.id, std::span(&b, 1));
    CHECK(bytes_of(file).find("quite-a-peculiar-exercise") != std::string::npos);
    store->delete_person(gone.id);
    CHECK(store->people() == std::vector<Person>{stays});
    CHECK(store->attempts(gone.id).empty());
    CHECK(store->attempts(stays.id).size() == 1);
    CHECK(bytes_of(file).find("Quillfeather") == std::string::npos);
    CHECK(bytes_of(file).find("quite-a-peculiar-exercise") == std::string::npos);
    CHECK_THROWS_AS(store->delete_person(gone.id), ProgressError);
}

TEST_CASE("Notes are kept, and set together with attempts or not at all") {
    const Folder home;
    const auto store = open_progress(home / "progress.db");
    const Person p = store->add_person("Ida");
    CHECK(store->note("current").empty());
    store->set_note("current", "1");
    store->set_note("current", "2");
    CHECK(store->note("current") == "2");
    const Attempt a = an_attempt();
    CHECK_THROWS_AS(store->add_attempts(99, std::span(&a, 1), "taken over"), ProgressError); // there is nobody
    CHECK(store->note("taken over").empty());
    store->add_attempts(p.id, std::span(&a, 1), "taken over");
    CHECK(store->note("taken over") == "done");
}

TEST_CASE("A file that is no store of ours is refused and left as it is") {
    const Folder home;
    home.write("damaged.db",
               "SQLite format 3 is what this would like to be, but it is only a text file. " + std::string(2000, 'x'));
    const std::string before = bytes_of(home / "damaged.db");
    CHECK(refusal_of(home / "damaged.db").find("damaged") != std::string::npos);
    CHECK(bytes_of(home / "damaged.db") == before);

    with_sqlite(home / "other.db", "CREATE TABLE songs (id INTEGER)");
    CHECK(refusal_of(home / "other.db").find("another program") != std::string::npos);

    {
        open_progress(home / "newer.db")->add_person("Ida");
    }
    with_sqlite(home / "newer.db", "PRAGMA user_version = 7");
    CHECK(refusal_of(home / "newer.db").find("newer version") != std::string::npos);
    with_sqlite(home / "newer.db", "PRAGMA user_version = 1");
    CHECK(open_progress(home / "newer.db")->people().size() == 1); // nothing was lost

    std::filesystem::create_directory(home / "folder.db");
    CHECK(refusal_of(home / "folder.db").find("no ordinary file") != std::string::npos);
    home.write("file", "");
    CHECK(!refusal_of(home / "file/progress.db").empty()); // its folder cannot be made
}

TEST_CASE("Programs that start at once on a new store all get it") {
    const Folder home;
    for (int round = 0; round < 40; ++round) {
        const auto file = home / ("progress-" + std::to_string(round) + ".db");
        std::vector<std::string> said(6);
        std::vector<std::thread> all;
        all.reserve(said.size());
        for (std::string& mine : said) {
            all.emplace_back([&mine, &file] { mine = refusal_of(file); });
        }
        for (std::thread& one : all) {
            one.join();
        }
        for (const std::string& refusal : said) {
            CHECK(refusal.empty());
        }
    }
}

TEST_CASE("A store damaged in its middle says so when it is read") {
    const Folder home;
    const auto file = home / "progress.db";
    std::int64_t id = 0;
    {
        const auto store = open_progress(file);
        id = store->add_person("Ida").id;
        const std::vector<Attempt> many(200, an_attempt());
        store->add_attempts(id, many);
    }
    {
        std::fstream out(file, std::ios::binary | std::ios::in | std::ios::out);
        out.seekp(8192);
        out << std::string(24000, '\xEE');
    }
    std::string said;
    try {
        open_progress(file)->attempts(id);
    } catch (const ProgressError& e) {
        said = e.what();
    }
    CHECK(said.find("damaged") != std::string::npos);
}

TEST_CASE("A full store says so and keeps what it has") {
    const Folder home;
    const auto file = home / "progress.db";
    const auto store = open_progress(file, {.busy_ms = 10, .most_bytes = 64 * 1024});
    const Person p = store->add_person("Ida");
    const Attempt one = an_attempt();
    store->add_attempts(p.id, std::span(&one, 1));
    const std::vector<Attempt> many(2000, an_attempt());
    CHECK_THROWS_WITH_AS(store->add_attempts(p.id, many), doctest::Contains("full"), ProgressError);
    CHECK(store->attempts(p.id).size() == 1);
    store->add_attempts(p.id, std::span(&one, 1)); // and goes on
    CHECK(open_progress(file)->attempts(p.id).size() == 2);
}

TEST_CASE("Another program that is writing is waited for, not for ever") {
    const Folder home;
    const auto file = home / "progress.db";
    const auto store = open_progress(file, {.busy_ms = 20});
    sqlite3* other = nullptr;
    REQUIRE(sqlite3_open(file.c_str(), &other) == SQLITE_OK);
    REQUIRE(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr) == SQLITE_OK);
    CHECK_THROWS_WITH_AS(store->add_person("Ida"), doctest::Contains("another program"), ProgressError);
    CHECK(store->people().empty()); // reading goes on
    sqlite3_exec(other, "ROLLBACK", nullptr, nullptr, nullptr);
    sqlite3_close(other);
    CHECK(store->add_person("Ida").id > 0);
}

TEST_CASE("A file that began empty becomes a store") {
    const Folder home;
    home.write("progress.db", "");
    CHECK(open_progress(home / "progress.db")->people().empty());
    CHECK(open_progress(home / "progress.db")->add_person("Ida").name == "Ida");
}

// RFC 4180, sections 2.1 to 2.7.
TEST_CASE("CSV is quoted by RFC 4180, and no cell begins a formula") {
    Attempt a = an_attempt("file:=1+1");
    a.log = "@log, \"one\".jsonl";
    a.depth_error_m = -0.09;
    a.exercise = "=HYPERLINK(\"http://example.invalid\",\"x\")";
    const std::string csv = progress_csv("+Ida\r\nB", std::span(&a, 1));
    CHECK(csv.starts_with("person,date,exercise,seed,points,passed,"));
    CHECK(csv.ends_with("\r\n"));
    CHECK(csv.find("\"'+Ida\r\nB\",2026-03-01 14:05,\"'=HYPERLINK(\"\"http://example.invalid\"\",\"\"x\"\")\","
                   "18446744073709551615,62,yes,20,14,10,10,8,0.180,0.1200,-0.090,no,251.5,walked_off "
                   "lift_check,ghost_peak too_fast,\"'@log, \"\"one\"\".jsonl\"\r\n") != std::string::npos);
    Attempt bare;
    bare.exercise = "bank";
    const std::string empty = progress_csv("-", std::span(&bare, 1));
    const std::string row = empty.substr(empty.find("\r\n") + 2);
    CHECK(row == "'-,,bank,0,0,no,,,,,,,,,,,,,\r\n");
    CHECK(std::ranges::count(row, ',') == std::ranges::count(empty.substr(0, empty.find("\r\n")), ','));
}

TEST_CASE("Opening a store and reading a thousand attempts takes no time that anyone notices") {
    const Folder home;
    const auto file = home / "progress.db";
    {
        const auto store = open_progress(file);
        const std::vector<Attempt> many(1000, an_attempt());
        store->add_attempts(store->add_person("Ida").id, many);
    }
    const auto before = std::chrono::steady_clock::now();
    const auto store = open_progress(file);
    CHECK(store->attempts(store->people().front().id).size() == 1000);
    const double ms = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - before).count();
    MESSAGE("store opened and 1000 attempts read in " << ms << " ms");
}
