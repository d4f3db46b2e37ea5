// Lessons in the window: taken by keys alone and with the pointer, from the list to the result.
#include "tests/ui/window_harness.hpp"
#include "ui/window/exercise_page.hpp"
#include "ui/window/people.hpp"

#include <algorithm>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;

namespace {

const LessonRun& run_of(const Desk& desk) {
    REQUIRE(desk.app->session() != nullptr);
    REQUIRE(desk.app->session()->lesson != nullptr);
    return *desk.app->session()->lesson;
}

std::unique_ptr<Desk> in_lesson(const Folder& home, const std::string& name) {
    AppOptions options = test::options_in(home.path(), std::nullopt);
    options.lesson = name;
    return std::make_unique<Desk>(options);
}

field::TruePlaces places(const Desk& desk) {
    const Session& s = *desk.app->session();
    return field::true_places(s.setting.world, field::sonde_now(s.setting, s.state));
}

std::vector<Result> attempts(const Folder& home) {
    People people(home.path() / "data");
    return people.attempts();
}

// The hand to a place by the arrow keys alone.
void keys_to(Desk& desk, const glm::dvec2& place) {
    for (int i = 0; i < 6000; ++i) {
        const glm::dvec2 off = place - desk.app->session()->seen.tip_m;
        if (std::abs(off.x) < 0.02 && std::abs(off.y) < 0.02) {
            break;
        }
        Input input;
        if (std::abs(off.x) >= 0.02) {
            input.held.push_back(off.x > 0 ? SDLK_RIGHT : SDLK_LEFT);
        }
        if (std::abs(off.y) >= 0.02) {
            input.held.push_back(off.y > 0 ? SDLK_UP : SDLK_DOWN);
        }
        input.shift = std::max(std::abs(off.x), std::abs(off.y)) < 0.3;
        if (input.shift) {
            input.held.push_back(SDLK_LSHIFT);
        }
        desk.frame(input);
    }
    desk.frames(60); // the display settles
}

void pointer_to(Desk& desk, const glm::dvec2& place) { desk.point_at(place, 600); }

using Go = void (*)(Desk&, const glm::dvec2&);

void lower(Desk& desk) {
    if (desk.app->session()->hand.height_m > 0.05) {
        desk.press(SDLK_SPACE);
        desk.frames(90);
    }
}

void wait_for_test(Desk& desk) {
    desk.frames(rest_before_test_ticks + 10);
    REQUIRE(run_of(desk).test);
}

void take_the_field(Desk& desk, Go go, bool test_part) {
    go(desk, places(desk).sonde_m);
    lower(desk);
    for (const glm::dvec2& at : places(desk).plumb_m) {
        go(desk, at);
        desk.press(SDLK_1);
    }
    go(desk, places(desk).level_m);
    desk.press(SDLK_2);
    desk.frames(5);
    if (test_part) {
        desk.press(SDLK_RETURN);
        desk.press(SDLK_RETURN);
        desk.frames(3);
    }
}

void take_sweeping(Desk& desk, Go go) {
    const field::TruePlaces p = places(desk);
    const glm::dvec2 aside(p.ahead.y, -p.ahead.x);
    go(desk, p.sonde_m);
    go(desk, p.sonde_m + 3.0 * p.ahead);
    for (const double side : {1.2, -1.2, 1.2, -1.2}) {
        go(desk, p.sonde_m + side * aside);
    }
    go(desk, p.sonde_m);
    lower(desk);
    desk.frames(60);
}

} // namespace

TEST_CASE("Two lessons are completed by keys alone") {
    const Folder home;
    {
        const auto desk = in_lesson(home, "the-field");
        CHECK(run_of(*desk).index == 0);
        CHECK_FALSE(run_of(*desk).test);
        CHECK(desk->app->left(desk->size) == LeftPanel::lesson);
        take_the_field(*desk, keys_to, false);
        CHECK(run_of(*desk).work.step == run_of(*desk).lesson().steps.size());
        wait_for_test(*desk);
        take_the_field(*desk, keys_to, true);
        REQUIRE(desk->app->page() == Page::lesson_result);
        CHECK(run_of(*desk).passed);
        desk->press(SDLK_RETURN); // on to the next lesson
        REQUIRE(desk->app->page() == Page::exercise);
        CHECK(run_of(*desk).lesson().name == "sweeping");
        take_sweeping(*desk, keys_to);
        CHECK(run_of(*desk).work.step == run_of(*desk).lesson().steps.size());
        wait_for_test(*desk);
        keys_to(*desk, places(*desk).sonde_m);
        lower(*desk);
        desk->press(SDLK_4);
        desk->press(SDLK_RETURN);
        desk->press(SDLK_RETURN);
        desk->frames(3);
        REQUIRE(desk->app->page() == Page::lesson_result);
        CHECK(run_of(*desk).passed);
        desk->press(SDLK_ESCAPE);
        CHECK(desk->app->page() == Page::start);
    }
    // The list begins at the next one to do, in this start and in the next.
    Desk again(home.path());
    REQUIRE(again.app->page() == Page::start);
    CHECK(again.app->context().lists_lessons);
    again.press(SDLK_RETURN);
    CHECK(run_of(again).lesson().name == "three-parts");
}

namespace {

// Where the trace said last that something to be clicked stands, and whether it does something.
struct Place {
    ImVec2 at{-1, -1};
    bool on = false;
};
Place place_of(Desk& desk, const std::string& id) {
    Place place;
    for (const std::string& line : desk.app->take_trace()) {
        const std::string head = "button " + id + " ";
        if (line.starts_with(head)) {
            char word[8] = "";
            place = {};
            place.on = std::sscanf(line.c_str() + head.size(), "%f %f %7s", &place.at.x, &place.at.y, word) == 3 &&
                       std::string_view(word) == "on";
        }
    }
    return place;
}

void mouse(Desk& desk, ImVec2 at, bool down, int frames) {
    ImGui::GetIO().MousePos = at;
    ImGui::GetIO().MouseDown[0] = down;
    desk.frames(frames);
}

} // namespace

TEST_CASE("The mast is straightened with the mouse: the button acts as long as it is held down") {
    const Folder home;
    const auto desk = in_lesson(home, "facing-pairs");
    pointer_to(*desk, places(*desk).sonde_m);
    lower(*desk);
    const Place straighten = place_of(*desk, "plumb_mast");
    REQUIRE(straighten.on);
    const auto lean_deg = [&] { return desk->app->session()->seen.lean_deg; };
    REQUIRE(lean_deg() > 1.5);
    mouse(*desk, straighten.at, false, 2);
    mouse(*desk, straighten.at, true, 1);
    const double before = lean_deg();
    mouse(*desk, straighten.at, true, 180);
    CHECK(lean_deg() < 1.0);
    CHECK(lean_deg() < before);
    mouse(*desk, straighten.at, false, 3);
    CHECK(desk->app->page() == Page::exercise);
}

TEST_CASE("The NEXT line has a button for its command while that would do something") {
    const Folder home;
    const auto desk = in_lesson(home, "three-parts"); // its first step: the ticket
    desk->frames(2);
    const Place read = place_of(*desk, "read_ticket");
    REQUIRE(read.on);
    mouse(*desk, read.at, false, 2);
    mouse(*desk, read.at, true, 2);
    mouse(*desk, read.at, false, 5);
    CHECK(desk->state().ticket_read_tick.has_value());
    CHECK(run_of(*desk).work.step == 1);
}

TEST_CASE("A command's button below works also while the NEXT line has one for the same command") {
    const Folder home;
    const Place below = [&] { // in a lesson whose NEXT has none
        const auto other = in_lesson(home, "sweeping");
        other->frames(2);
        return place_of(*other, "mark_peak");
    }();
    const auto desk = in_lesson(home, "facing-pairs"); // here it has
    desk->frames(2);
    const Place next = place_of(*desk, "mark_peak");
    REQUIRE(below.on);
    REQUIRE(next.on);
    REQUIRE(next.at.y < below.at.y);
    desk->hold(SDLK_w, 5);
    for (const Place& place : {below, next}) {
        const std::size_t before = desk->state().notebook.marks.size();
        mouse(*desk, place.at, false, 2);
        mouse(*desk, place.at, true, 2);
        mouse(*desk, place.at, false, 5);
        CHECK(desk->state().notebook.marks.size() == before + 1);
    }
}

TEST_CASE("Two lessons are completed with the pointer leading the hand") {
    for (const std::string_view name : {"the-field", "sweeping"}) {
        const Folder home;
        const auto desk = in_lesson(home, std::string(name));
        CAPTURE(name);
        if (name == "the-field") {
            take_the_field(*desk, pointer_to, false);
        } else {
            take_sweeping(*desk, pointer_to);
        }
        CHECK(run_of(*desk).work.step == run_of(*desk).lesson().steps.size());
        wait_for_test(*desk);
        if (name == "the-field") {
            take_the_field(*desk, pointer_to, true);
        } else {
            pointer_to(*desk, places(*desk).sonde_m);
            lower(*desk);
            desk->press(SDLK_4);
            desk->press(SDLK_RETURN);
            desk->press(SDLK_RETURN);
            desk->frames(3);
        }
        REQUIRE(desk->app->page() == Page::lesson_result);
        CHECK(run_of(*desk).passed);
    }
}

TEST_CASE("A test failed says what is missing, is kept as not passed, and is taken again in another yard") {
    const Folder home;
    const auto desk = in_lesson(home, "sweeping");
    take_sweeping(*desk, keys_to);
    wait_for_test(*desk);
    const std::uint64_t seed = run_of(*desk).seed;
    CHECK(seed == run_of(*desk).file->test_seed);
    desk->hold(SDLK_w, 5);
    desk->press(SDLK_RETURN);
    CHECK(field::missing(run_of(*desk).lesson().test, desk->state().notebook, run_of(*desk).test_work) ==
          std::vector<std::string>{"no locate marked"});
    desk->press(SDLK_RETURN);
    desk->frames(3);
    REQUIRE(desk->app->page() == Page::lesson_result);
    CHECK_FALSE(run_of(*desk).passed);
    CHECK_FALSE(enabled("next_lesson", desk->app->context()));
    const auto results = attempts(home);
    REQUIRE(results.size() == 1);
    CHECK(results[0].exercise == "lesson:sweeping");
    CHECK_FALSE(results[0].passed);
    CHECK(desk->app->session()->asked ==
          field::ScoreParts{.position = true, .depth = false, .tilt = false, .dig = false, .procedure = false});
    REQUIRE(results[0].findings); // nothing of the depth, tilt and dig box that this test does not ask for
    CHECK(*results[0].findings == std::vector<std::string>{"not_called"});
    desk->press(SDLK_d);
    CHECK(desk->app->page() == Page::debrief);
    const std::string debrief = test::text_of_frame(*desk);
    CHECK(debrief.find("WHAT THE SMALL TEST ASKED FOR") != std::string::npos);
    CHECK(debrief.find("asked for no dig") != std::string::npos);
    CHECK(debrief.find("for full points") == std::string::npos); // an exercise's limits are not the test's
    desk->press(SDLK_ESCAPE);
    CHECK(desk->app->page() == Page::lesson_result);
    desk->press(SDLK_RETURN);
    CHECK(desk->app->page() == Page::exercise);
    CHECK(run_of(*desk).test);
    CHECK(run_of(*desk).seed == seed + 1);
}

TEST_CASE("A guided part that is finished early is no result, and says how far it got") {
    const Folder home;
    const auto desk = in_lesson(home, "sweeping");
    desk->hold(SDLK_w, 5);
    desk->press(SDLK_RETURN);
    desk->press(SDLK_RETURN);
    desk->frames(3);
    REQUIRE(desk->app->page() == Page::lesson_result);
    REQUIRE(run_of(*desk).judgement.size() == 1);
    CHECK(run_of(*desk).judgement[0].found == "finished after 0");
    CHECK(attempts(home).empty());
    CHECK_FALSE(std::filesystem::exists(home.path() / "data" / "logs"));
    desk->press(SDLK_a);
    CHECK_FALSE(run_of(*desk).test);
}

TEST_CASE("What the next line and the steps say fades with the passes") {
    const Folder home;
    for (int pass = 0; pass < 3; ++pass) {
        const auto desk = in_lesson(home, "sweeping");
        const LessonRun& run = run_of(*desk);
        CHECK(run.passes == pass);
        const LessonNext next = next_of(run, field::Units::metric);
        CHECK(next.sentence.empty() == (pass == 2));
        People people(home.path() / "data");
        field::Attempt attempt;
        attempt.exercise = "lesson:sweeping";
        attempt.passed = true;
        attempt.date = "2026-03-01 09:00";
        CHECK(people.keep(attempt).empty());
    }
}

TEST_CASE("Steps stand at the left at every size that has room for them, and fold by their key") {
    const Folder home;
    const auto desk = in_lesson(home, "three-parts");
    for (const ImVec2 size : {ImVec2(1366, 768), ImVec2(1024, 700)}) {
        desk->size = size;
        desk->frames(3);
        CHECK(desk->app->left(size) == LeftPanel::lesson);
        desk->press(SDLK_F9);
        CHECK(desk->app->left(size) == LeftPanel::folded);
        desk->press(SDLK_F9);
        CHECK(desk->app->left(size) == LeftPanel::lesson);
        desk->press(SDLK_F2);
        CHECK(desk->app->left(size) == LeftPanel::sheet);
        desk->press(SDLK_F2);
        CHECK(desk->app->left(size) == LeftPanel::lesson);
    }
}

TEST_CASE("Left and Right change between lessons and exercises, each at its next one to do") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_ESCAPE);
    REQUIRE(desk.app->page() == Page::start);
    CHECK_FALSE(desk.app->context().lists_lessons); // where one came from
    desk.press(SDLK_LEFT);
    CHECK(desk.app->context().lists_lessons);
    desk.press(SDLK_DOWN);
    desk.press(SDLK_RETURN);
    REQUIRE(desk.app->page() == Page::exercise);
    CHECK(run_of(desk).lesson().name == "sweeping");
    desk.press(SDLK_ESCAPE);
    REQUIRE(desk.app->page() == Page::start);
    CHECK(desk.app->context().lists_lessons);
    desk.press(SDLK_RIGHT);
    CHECK_FALSE(desk.app->context().lists_lessons);
}

TEST_CASE("The commands of lessons are carried out") {
    const Folder home;
    const auto desk = in_lesson(home, "sweeping");
    CHECK(desk->app->execute("steps"));
    CHECK_FALSE(desk->app->execute("lesson_test")); // not while working
    desk->hold(SDLK_w, 5);
    desk->press(SDLK_RETURN);
    desk->press(SDLK_RETURN);
    desk->frames(3);
    REQUIRE(desk->app->page() == Page::lesson_result);
    CHECK_FALSE(desk->app->execute("next_lesson")); // not passed
    CHECK(desk->app->execute("lesson_debrief"));
    desk->frames(2);
    CHECK(desk->app->execute("start_page"));
    CHECK(desk->app->execute("lesson_again"));
    CHECK(desk->app->page() == Page::exercise);
    CHECK(desk->app->execute("start_page"));
    CHECK(desk->app->execute("show_exercises"));
    CHECK(desk->app->execute("show_lessons"));
}

TEST_CASE("The keys that lessons name are in the table of commands") {
    for (const std::string& name : scenarios::bundled_lesson_names()) {
        for (const field::CourseStep& step : scenarios::bundled_lesson(name).lesson.steps) {
            CAPTURE(name);
            CAPTURE(step.key);
            CHECK((step.key.empty() || find_command(step.key) != nullptr));
        }
    }
}

TEST_CASE("A lesson that is not there is refused without any window") {
    const Folder home;
    AppOptions options = test::options_in(home.path(), std::nullopt);
    options.lesson = "no-such-lesson";
    CHECK_THROWS_AS(App{options}, scenarios::ScenarioError);
}
