// People and progress in the window: who practises, what is kept, what the pages do.
#include "ui/window/people.hpp"
#include "window_harness.hpp"

#include <sqlite3.h>

#include <array>
#include <fstream>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;
using test::text_of_frame;

namespace {

void write(const std::filesystem::path& file, std::string_view text) {
    std::filesystem::create_directories(file.parent_path());
    std::ofstream(file, std::ios::binary) << text;
}
std::string read(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

const std::string old_line =
    R"({"exercise":"level-lawn","seed":7,"points":62,"passed":true,"date":"2026-03-01 10:00","log":"a.jsonl"})"
    "\n";

// Another program that holds the store, so that it can be neither read nor written.
class Holder {
public:
    explicit Holder(const std::filesystem::path& store) {
        REQUIRE(sqlite3_open(store.c_str(), &handle_) == SQLITE_OK);
        sqlite3_busy_timeout(handle_, 1000);
        REQUIRE(sqlite3_exec(handle_, "BEGIN EXCLUSIVE", nullptr, nullptr, nullptr) == SQLITE_OK);
    }
    ~Holder() { sqlite3_close(handle_); } // and what was begun is taken back
    Holder(const Holder&) = delete;
    Holder& operator=(const Holder&) = delete;

private:
    sqlite3* handle_ = nullptr;
};

constexpr field::StoreLimits impatient{.busy_ms = 20};

field::Attempt attempt_at(std::string_view exercise) {
    field::Attempt a;
    a.exercise = exercise;
    a.date = "2026-03-01 10:00";
    return a;
}

std::string exercises_of(const std::vector<field::Attempt>& attempts) {
    std::string all;
    for (const field::Attempt& a : attempts) {
        all += a.exercise + " ";
    }
    return all;
}

bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

void finish_at_once(Desk& desk) {
    desk.hold(SDLK_w, 5);
    desk.press(SDLK_RETURN);
    desk.press(SDLK_RETURN);
    desk.frames(3);
    REQUIRE(desk.app->page() == Page::debrief);
}

} // namespace

TEST_CASE("Older results are taken over once, and their file stays as it is") {
    const Folder home;
    write(home / "results.jsonl", old_line + "not json\n");
    for (int start = 0; start < 2; ++start) {
        People people(home.path());
        CHECK(people.trouble().empty());
        CHECK(people.name() == field::unnamed_person);
        REQUIRE(people.attempts().size() == 1);
        CHECK(people.attempts()[0].exercise == "level-lawn");
        CHECK(people.attempts()[0].log == "a.jsonl");
    }
    CHECK(read(home / "results.jsonl") == old_line + "not json\n");
}

TEST_CASE("The first name takes over what was worked before it, the next ones begin anew") {
    const Folder home;
    write(home / "results.jsonl", old_line);
    People people(home.path());
    CHECK(people.add("  Ida ") == "");
    CHECK(people.all().size() == 1);
    CHECK(people.name() == "Ida");
    CHECK(people.attempts().size() == 1);
    CHECK(people.add("Jörg") == "");
    CHECK(people.attempts().empty());
    CHECK(people.add("Jörg").find("Not added: there is a \"Jörg\" already") == 0);
    field::Attempt a;
    a.exercise = "bank";
    CHECK(people.keep(a) == "");
    CHECK(People(home.path()).name() == "Jörg"); // the last one chosen practises on
    CHECK(People(home.path()).attempts().size() == 1);
    CHECK(people.choose(people.all()[0].id) == "");
    CHECK(people.attempts()[0].exercise == "level-lawn");
}

TEST_CASE("With a store that cannot be used the program goes on, and says what it does not keep") {
    const Folder home;
    write(home.path() / "data" / "progress.db", std::string(4096, 'x'));
    Desk desk(home.path(), "level-lawn");
    finish_at_once(desk);
    CHECK(desk.app->session()->debrief_ui.message.find("The result is not kept") == 0);
    desk.press(SDLK_ESCAPE);
    CHECK(desk.app->page() == Page::start);
    desk.press(SDLK_g);
    CHECK(desk.app->page() == Page::progress); // what was worked since the start is there
    desk.frames(2);
    CHECK(read(home.path() / "data" / "progress.db") == std::string(4096, 'x'));
}

TEST_CASE("A store held at the start: what was worked meanwhile is kept in order as soon as it is free") {
    const Folder home;
    CHECK(People(home.path()).add("Ida") == "");
    CHECK(People(home.path()).keep(attempt_at("first")) == "");
    auto holder = std::make_optional<Holder>(home / "progress.db");
    People people(home.path(), impatient);
    CHECK(has(people.trouble(), "another program is writing to it"));
    CHECK(people.keep(attempt_at("second")).starts_with("The result is not kept yet: "));
    const std::string told = people.keep(attempt_at("third"));
    CHECK(told.starts_with("The results of the last 2 attempts are not kept yet: "));
    CHECK(has(told, "another program is writing to it. It is tried again"));
    CHECK(exercises_of(people.attempts()) == "second third "); // what was there before cannot be read
    holder.reset();
    CHECK(exercises_of(People(home.path()).attempts()) == "first ");
    CHECK(people.keep(attempt_at("fourth")) == "");
    CHECK(people.trouble().empty());
    CHECK(people.waiting() == 0);
    CHECK(people.name() == "Ida");
    CHECK(exercises_of(people.attempts()) == "first second third fourth ");
    CHECK(exercises_of(People(home.path()).attempts()) == "first second third fourth ");
    CHECK(people.keep_at_last().empty());
}

TEST_CASE("A store held for a while: the attempts of then wait, each for its own person, and none is written twice") {
    const Folder home;
    People people(home.path(), impatient);
    CHECK(people.add("Ida") == "");
    CHECK(people.add("Jo") == "");
    const std::int64_t ida = people.all()[0].id;
    const std::int64_t jo = people.all()[1].id;
    CHECK(people.keep(attempt_at("jo-1")) == "");
    {
        const Holder holder(home / "progress.db");
        CHECK(people.keep(attempt_at("jo-2")).starts_with("The result is not kept yet"));
        CHECK(people.keep(attempt_at("jo-3")).starts_with("The results of the last 2 attempts are not kept yet"));
        CHECK(exercises_of(people.attempts()) == "jo-1 jo-2 jo-3 ");
        CHECK(people.choose(ida).starts_with("The attempts cannot be read"));
    }
    CHECK(people.choose(ida) == "");
    CHECK(people.attempts().empty());
    {
        const Holder holder(home / "progress.db");
        CHECK_FALSE(people.keep(attempt_at("ida-1")).empty());
    }
    CHECK(people.waiting() == 3);
    CHECK(people.choose(jo) == "");
    CHECK(exercises_of(people.attempts()) == "jo-1 jo-2 jo-3 ");
    CHECK(people.keep_at_last().empty());
    CHECK(people.waiting() == 0);
    CHECK(exercises_of(people.attempts_of(ida)) == "ida-1 ");
    CHECK(exercises_of(people.attempts_of(jo)) == "jo-1 jo-2 jo-3 ");
    CHECK(exercises_of(people.attempts()) == "jo-1 jo-2 jo-3 ");
}

TEST_CASE("Held before anybody is known, and for good: the end says what is not kept and where its work log lies") {
    const Folder home;
    write(home / "logs" / "a.jsonl", "{}\n");
    CHECK(field::open_progress(home / "progress.db", {})->people().empty()); // an empty store
    People people(home.path(), impatient);
    std::string last;
    {
        const Holder holder(home / "progress.db");
        field::Attempt logged = attempt_at("bank");
        logged.log = "a.jsonl";
        CHECK_FALSE(people.keep(logged).empty());
        CHECK_FALSE(people.keep(attempt_at("hum")).empty());
        last = people.keep_at_last();
    }
    CHECK(last.starts_with("Results are not kept: "));
    CHECK(has(last, "another program is writing to it"));
    CHECK(has(last, "bank, 0 points: " + (home / "logs" / "a.jsonl").string()));
    CHECK(has(last, "hum, 0 points: no work log"));
    CHECK(has(last, "sondeyard score FILE"));
    CHECK(people.add("Ida") == ""); // nobody else was known: the work is Ida's
    CHECK(exercises_of(people.attempts()) == "bank hum ");
    CHECK(people.keep_at_last().empty());
    CHECK(exercises_of(People(home.path()).attempts()) == "bank hum ");
    CHECK(People(home.path()).name() == "Ida");
}

TEST_CASE(
    "The debrief says that a result is not kept yet, and the end of the program names the work log that was written") {
    const Folder home;
    CHECK(People(home.path() / "data").add("Ida") == "");
    auto holder = std::make_optional<Holder>(home.path() / "data" / "progress.db");
    Desk desk(home.path(), "level-lawn");
    finish_at_once(desk);
    CHECK(desk.app->session()->debrief_ui.message.starts_with("The result is not kept yet: "));
    const std::string last = desk.app->keep_at_last();
    CHECK(has(last, "level-lawn"));
    CHECK(has(last, desk.app->session()->log_path.string()));
    holder.reset();
    CHECK(desk.app->keep_at_last().empty());
    CHECK(exercises_of(People(home.path() / "data").attempts()) == "level-lawn ");
}

TEST_CASE("Those that wait for the store are deleted with their person") {
    const Folder home;
    People people(home.path(), impatient);
    CHECK(people.add("Ida") == "");
    {
        const Holder holder(home / "progress.db");
        CHECK_FALSE(people.keep(attempt_at("bank")).empty());
        CHECK(people.remove(people.current(), false).starts_with("Nothing was deleted"));
        CHECK(people.waiting() == 1);
    }
    CHECK(people.remove(people.current(), false) == "");
    CHECK(people.waiting() == 0);
    CHECK(people.keep_at_last().empty());
    CHECK(people.all().empty());
}

TEST_CASE("A person is added with the keyboard, works, and has the attempt with its errors kept") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_ESCAPE);
    desk.press(SDLK_p);
    REQUIRE(desk.app->page() == Page::people);
    desk.press(SDLK_n);
    desk.type("Zoë");
    CHECK(People(home.path() / "data").name() == "Zoë");
    desk.press(SDLK_n);
    desk.type("Ida");
    desk.press(SDLK_UP);
    desk.press(SDLK_RETURN); // takes Zoë
    REQUIRE(desk.app->page() == Page::start);
    desk.press(SDLK_RETURN);
    REQUIRE(desk.app->page() == Page::exercise);
    desk.walk_over_the_sonde();
    desk.press(SDLK_SPACE);
    desk.press(SDLK_4);
    desk.frames(2);
    desk.press(SDLK_RETURN);
    desk.press(SDLK_RETURN);
    desk.frames(3);
    REQUIRE(desk.app->page() == Page::debrief);
    const People people(home.path() / "data");
    CHECK(people.name() == "Zoë");
    REQUIRE(people.attempts().size() == 1);
    const field::Attempt& a = people.attempts()[0];
    const field::Score& score = *desk.app->session()->score;
    REQUIRE(a.error_m.has_value());
    CHECK(*a.error_m == *score.horizontal_error_m);
    CHECK(*a.error_share == doctest::Approx(*a.error_m / score.true_depth_m));
    CHECK(a.parts->position == score.position_points);
    CHECK(*a.duration_s > 1.0);
    CHECK(std::ranges::find(a.missed, "truck_check") == a.missed.end());
    CHECK(std::ranges::find(a.missed, "ticket_checked") != a.missed.end());
    CHECK_FALSE(people.log_path(a).empty());
    const Session& s = *desk.app->session();
    std::vector<std::string> found;
    for (const field::Finding& finding : field::coach(s.setting, s.state, score)) {
        found.emplace_back(finding.key);
    }
    REQUIRE(a.findings.has_value());
    CHECK(*a.findings == found);
}

TEST_CASE("What comes back leads to the lesson that helps with it, from the progress page straight into it") {
    const Folder home;
    {
        People people(home.path() / "data");
        for (int i = 0; i < 3; ++i) {
            field::Attempt a;
            a.exercise = "level-lawn";
            a.date = "2026-03-01 09:00";
            a.findings = std::vector<std::string>{"too_fast"};
            CHECK(people.keep(a).empty());
        }
    }
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_ESCAPE);
    CHECK(desk.app->execute("progress"));
    desk.frames(2);
    REQUIRE(desk.app->page() == Page::progress);
    CHECK(desk.app->execute("practise"));
    desk.frames(2);
    REQUIRE(desk.app->page() == Page::exercise);
    REQUIRE(desk.app->session()->lesson != nullptr);
    CHECK(desk.app->session()->lesson->lesson().name == "sweeping");
}

TEST_CASE("Progress is exported, and deleted only after a question that Escape leaves") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    finish_at_once(desk);
    desk.press(SDLK_ESCAPE);
    desk.press(SDLK_g);
    REQUIRE(desk.app->page() == Page::progress);
    desk.press(SDLK_e);
    desk.frames(2);
    CHECK(read(home.path() / "data" / "progress-trainee.csv").starts_with("person,date,exercise,"));
    desk.press(SDLK_e);
    CHECK(std::filesystem::exists(home.path() / "data" / "progress-trainee-2.csv"));
    desk.press(SDLK_DELETE);
    CHECK(desk.app->context().delete_asked);
    desk.press(SDLK_ESCAPE);
    CHECK_FALSE(desk.app->context().delete_asked);
    CHECK(desk.app->page() == Page::progress);
    CHECK(People(home.path() / "data").attempts().size() == 1);
    const auto log = People(home.path() / "data").log_path(People(home.path() / "data").attempts()[0]);
    REQUIRE(std::filesystem::exists(log));
    desk.press(SDLK_DELETE);
    desk.press(SDLK_l);
    desk.press(SDLK_RETURN);
    CHECK(desk.app->page() == Page::people);
    CHECK(People(home.path() / "data").all().empty());
    CHECK_FALSE(std::filesystem::exists(log));
}

TEST_CASE("An attempt opens from its row on the progress page, in the replay of what was done then") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    std::vector<std::pair<int, field::ExerciseState>> worked;
    for (const int key : {SDLK_3, SDLK_2}) { // two attempts, told apart by their marks
        desk.hold(SDLK_w, 30);
        desk.press(key);
        finish_at_once(desk);
        worked.emplace_back(key, desk.state());
        desk.press(SDLK_a); // the same yard once more
        REQUIRE(desk.app->page() == Page::exercise);
    }
    desk.press(SDLK_ESCAPE);
    desk.press(SDLK_g);
    REQUIRE(desk.app->page() == Page::progress);
    desk.frames(2);
    desk.press(SDLK_DOWN); // the newest stands first
    desk.press(SDLK_RETURN);
    desk.frames(3);
    REQUIRE(desk.app->page() == Page::debrief);
    const Session& session = *desk.app->session();
    CHECK(session.debrief_ui.shown == DebriefView::replay);
    REQUIRE(session.debrief_ui.replay.model);
    CHECK(session.state.digest == worked[0].second.digest);
    REQUIRE(session.state.notebook.marks.size() == 1);
    CHECK(session.state.notebook.marks[0].kind == field::MarkKind::peak);
    CHECK(session.debrief_ui.replay.model->last_tick() == worked[0].second.tick);
    CHECK(session.debrief_ui.message.empty());
    CHECK(People(home.path() / "data").attempts().size() == 2); // looking at one adds none
}

TEST_CASE("A lesson's test that is opened again is held against what it asked for, with the verdict of then") {
    const Folder home;
    {
        Desk desk(home.path(), "level-lawn");
        desk.press(SDLK_4);
        finish_at_once(desk);
    }
    {
        const auto store = field::open_progress(home / "data" / "progress.db", {});
        const std::int64_t person = store->people().front().id;
        field::Attempt test = store->attempts(person).front();
        test.exercise = "lesson:sweeping"; // as if that work had been its small test
        test.passed = true;
        store->add_attempts(person, std::array{test});
    }
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_ESCAPE);
    desk.press(SDLK_g);
    desk.frames(2);
    desk.press(SDLK_RETURN);
    desk.frames(3);
    REQUIRE(desk.app->page() == Page::debrief);
    REQUIRE(desk.app->session()->lesson == nullptr);
    CHECK(desk.app->session()->asked != field::ScoreParts{});
    desk.press(SDLK_1);
    const std::string page = text_of_frame(desk);
    CHECK(page.find("small test") != std::string::npos);
    CHECK(page.find("not asked") != std::string::npos);
    CHECK(page.find("not passed") == std::string::npos); // the verdict of then, though the whole score is none
    CHECK(page.find(" of 100") == std::string::npos);
}

TEST_CASE("Both pages are drawn at every size, with nobody and with many attempts") {
    const Folder home;
    {
        People people(home.path() / "data");
        CHECK(people.add("Ida") == "");
        std::vector<field::Attempt> many; // in one transaction: a disk waits at the end of each
        many.reserve(80);
        for (int i = 0; i < 80; ++i) {
            field::Attempt a;
            a.exercise = i % 3 == 0 ? "bank" : "file:some-yard-with-a-long-name-that-goes-on";
            a.date = "2026-03-01 10:00";
            a.passed = i % 2 == 0;
            a.error_m = 0.5 / (1 + i);
            a.error_share = 0.3 / (1 + i);
            a.parts = field::PartPoints{20, 10, 5, 10, 8};
            many.push_back(a);
        }
        field::open_progress(home.path() / "data" / store_file)->add_attempts(people.current(), many);
    }
    for (const ImVec2 size : {ImVec2(1366, 768), ImVec2(1024, 700), ImVec2(1920, 1080)}) {
        Desk desk(home.path(), std::nullopt, size);
        desk.press(SDLK_ESCAPE);
        desk.press(SDLK_p);
        desk.frames(2);
        desk.press(SDLK_g);
        REQUIRE(desk.app->page() == Page::progress);
        desk.frames(2);
        desk.press(SDLK_DOWN);
        desk.press(SDLK_RETURN);
        desk.frames(2);
        desk.press(SDLK_DELETE);
        desk.frames(2);
        desk.press(SDLK_ESCAPE);
        desk.press(SDLK_x); // the first of what is to be practised
        CHECK(desk.app->page() == Page::exercise);
    }
    const Folder nobody;
    Desk desk(nobody.path(), "level-lawn");
    desk.press(SDLK_ESCAPE);
    desk.press(SDLK_g);
    desk.frames(2);
    CHECK(desk.app->page() == Page::progress);
    desk.press(SDLK_DELETE); // nobody to delete
    CHECK_FALSE(desk.app->context().delete_asked);
    desk.press(SDLK_ESCAPE);
    CHECK(desk.app->page() == Page::start);
}
