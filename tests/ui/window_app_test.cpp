#include "field/replay.hpp"
#include "ui/window/debrief_views.hpp"
#include "window_harness.hpp"

#include <fstream>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;
using test::text_of_frame;

namespace {

std::vector<std::filesystem::path> files_in(const std::filesystem::path& folder) {
    std::vector<std::filesystem::path> files;
    if (std::filesystem::exists(folder)) {
        for (const auto& entry : std::filesystem::directory_iterator(folder)) {
            files.push_back(entry.path());
        }
    }
    return files;
}

} // namespace

TEST_CASE("The very first start lands at the lessons and says where to begin; a later one just shows the list") {
    const Folder home;
    constexpr const char* hint = "New here? Begin with lesson 1: Enter.";
    {
        Desk desk(home.path());
        CHECK(desk.app->page() == Page::start);
        CHECK(desk.app->context().lists_lessons);
        CHECK(text_of_frame(desk).find(hint) != std::string::npos);
        desk.press(SDLK_F3); // changes a setting, which is remembered
        desk.press(SDLK_RIGHT);
        CHECK(text_of_frame(desk).find(hint) == std::string::npos); // no lesson among the exercises
        desk.press(SDLK_LEFT);
        desk.press(SDLK_LEFT); // at the lessons already
        desk.press(SDLK_RETURN);
        REQUIRE(desk.app->page() == Page::exercise);
        REQUIRE(desk.app->session()->lesson != nullptr);
        CHECK(desk.app->session()->lesson->index == 0);
        desk.press(SDLK_ESCAPE);
        CHECK(desk.app->page() == Page::start);
        CHECK(text_of_frame(desk).find(hint) == std::string::npos);
    }
    Desk desk(home.path());
    CHECK(desk.app->page() == Page::start);
    CHECK(desk.app->settings().night);
    CHECK(text_of_frame(desk).find(hint) == std::string::npos);
    desk.press(SDLK_RETURN);
    CHECK(desk.app->page() == Page::exercise);
}

TEST_CASE("The clock of an exercise stands until the hand is moved, and no log is begun before") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.frames(50);
    CHECK(desk.state().tick == 0);
    CHECK_FALSE(desk.app->moving());
    CHECK(files_in(home.path() / "data" / "logs").empty());
    desk.hold(SDLK_w, 30);
    CHECK(desk.app->moving());
    CHECK(desk.state().tick >= 30);
    CHECK(files_in(home.path() / "data" / "logs").size() == 1);
}

TEST_CASE("Drawing never steps: a frame without time leaves the exercise as it was") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.hold(SDLK_w, 10);
    const auto tick = desk.state().tick;
    const auto digest = desk.state().digest;
    for (int i = 0; i < 20; ++i) {
        desk.frame({}, 0.0);
    }
    CHECK(desk.state().tick == tick);
    CHECK(desk.state().digest == digest);
}

TEST_CASE("The operator walks to where the pointer is") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    const glm::dvec2 goal = desk.app->session()->seen.tip_m + glm::dvec2(2.0, -1.0);
    desk.point_at(goal, 240);
    const glm::dvec2 tip = desk.app->session()->seen.tip_m;
    CHECK(std::hypot(tip.x - goal.x, tip.y - goal.y) < 0.01);
}

TEST_CASE("Marks are set, moved, taken back and undone by keys alone") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_SPACE);
    desk.frames(60);
    for (const int key : {SDLK_1, SDLK_2, SDLK_3, SDLK_4}) {
        desk.press(key);
    }
    const auto& marks = desk.state().notebook.marks;
    REQUIRE(marks.size() == 4);
    const glm::dvec2 placed = marks[2].place_m;
    desk.press(SDLK_n); // the last one
    desk.press(SDLK_n); // the one before: the peak
    desk.hold(SDLK_d, 30);
    desk.press(SDLK_b);
    CHECK(marks[2].place_m.x > placed.x + 0.3);
    CHECK(marks[3].place_m == placed);
    desk.press(SDLK_BACKSPACE);
    REQUIRE(marks.size() == 3);
    desk.press(SDLK_1, true); // Ctrl 1: the last plumb point
    CHECK(marks.size() == 2);
    CHECK(field::find_last(desk.state().notebook, field::MarkKind::plumb) == nullptr);
    desk.press(SDLK_z, true);
    desk.press(SDLK_z, true);
    desk.press(SDLK_z, true);
    CHECK(marks.size() == 4);
    CHECK(marks[2].place_m == placed);
}

TEST_CASE("Reading, calls and dig box go by keys alone") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.walk_over_the_sonde();
    desk.press(SDLK_SPACE);
    desk.frames(90);
    desk.hold(SDLK_x, 120); // straighten the mast
    desk.press(SDLK_r);
    const field::Notebook& n = desk.state().notebook;
    REQUIRE(n.readings.size() == 1);
    REQUIRE(n.readings[0].depth_m.has_value());
    CHECK(n.readings[0].counts);
    CHECK(n.readings[0].lean_deg < 1.5);
    desk.press(SDLK_6);
    CHECK(n.depth_call_m == n.readings[0].depth_m);
    desk.enter();
    desk.press(SDLK_7);
    CHECK(n.tilt_call == field::TiltCall::level);
    desk.press(SDLK_7);
    CHECK(n.tilt_call == field::TiltCall::on_end);
    desk.press(SDLK_7);
    CHECK(n.tilt_call == field::TiltCall::tilted);
    desk.enter();
    CHECK(n.raised_heading_deg == doctest::Approx(desk.app->session()->seen.facing_deg).epsilon(0.01));
    desk.press(SDLK_5);
    REQUIRE(n.dig.has_value());
    desk.press(SDLK_y);
    CHECK(n.dig->depth_m ==
          doctest::Approx(field::pipe_top_depth_m(*n.depth_call_m, desk.app->session()->setting.brief.sheet))
              .epsilon(0.001));
    desk.enter();
    for (const field::DigMethod method :
         {field::DigMethod::hand, field::DigMethod::vacuum, field::DigMethod::machine, field::DigMethod::hand}) {
        desk.press(SDLK_9);
        CHECK(n.dig->method == method);
    }
    desk.press(SDLK_DELETE);
    CHECK(n.readings.empty());
    desk.press(SDLK_5, true);
    CHECK_FALSE(n.dig.has_value());
}

TEST_CASE("A depth that was worked out is typed into the strip") {
    const Folder home;
    Desk desk(home.path(), "single-coil");
    desk.press(SDLK_0);
    desk.type("1.55");
    CHECK(desk.state().notebook.depth_call_m == 1.55);
    desk.press(SDLK_ESCAPE); // folds the form
    CHECK_FALSE(desk.app->session()->ui.form.open);
    desk.press(SDLK_0);
    desk.type("nonsense");
    CHECK(desk.state().notebook.depth_call_m == 1.55);
}

TEST_CASE("Finish asks once, lists what is missing, and can go back") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.hold(SDLK_w, 5);
    desk.press(SDLK_RETURN);
    CHECK(desk.app->session()->finish_asked);
    const auto missing = missing_items(desk.state().notebook, false);
    CHECK(missing == std::vector<std::string>{"no locate marked", "no depth called", "no tilt called", "no dig box",
                                              "the ticket is unread"});
    desk.press(SDLK_ESCAPE);
    CHECK_FALSE(desk.app->session()->finish_asked);
    CHECK(desk.app->page() == Page::exercise);
    desk.finish();
    REQUIRE(desk.app->session()->score.has_value());
    CHECK_FALSE(desk.app->session()->score->passed);
}

TEST_CASE("An exercise worked in the window replays from its log to the same state") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_o);
    desk.press(SDLK_c);
    desk.hold(SDLK_s, 100);
    desk.press(SDLK_SPACE);
    desk.hold(SDLK_e, 40, true);
    desk.press(SDLK_3);
    desk.press(SDLK_r);
    desk.press(SDLK_h);
    desk.frames(120);
    desk.press(SDLK_r);
    desk.finish();
    const auto logs = files_in(home.path() / "data" / "logs");
    REQUIRE(logs.size() == 1);
    const field::WorkLog log = field::read_log(logs[0]);
    CHECK(log.fault == "");
    CHECK(log.ended);
    const scenarios::Scenario again = scenarios::parse_scenario(log.header.scenario_toml, "log");
    const field::Setting setting(scenarios::resolve(again, log.header.seed));
    const field::ReplayResult replayed = field::replay(setting, log);
    CHECK_FALSE(replayed.first_difference.has_value());
    CHECK(replayed.state.digest == desk.state().digest);
    CHECK(replayed.state.tick == desk.state().tick);
    const field::WorkLog& record = desk.app->session()->record; // in memory: the same, without the file
    CHECK(record.ended);
    CHECK(record.header == log.header);
    CHECK(record.actions.size() == log.actions.size());
    REQUIRE(record.checkpoints.size() == log.checkpoints.size());
    for (std::size_t i = 0; i < log.checkpoints.size(); ++i) {
        CHECK(record.checkpoints[i].tick == log.checkpoints[i].tick);
        CHECK(record.checkpoints[i].digest == log.checkpoints[i].digest);
    }
    const field::ReplayResult remembered = field::replay(desk.app->session()->setting, record);
    CHECK_FALSE(remembered.first_difference.has_value());
    CHECK(remembered.state.digest == desk.state().digest);
    const auto results = People(home.path() / "data").attempts();
    REQUIRE(results.size() == 1);
    CHECK(results[0].exercise == "level-lawn");
    CHECK(results[0].log == logs[0].filename());
}

TEST_CASE("The frame rate does not change what was done") {
    std::vector<std::uint64_t> digests;
    for (const int ticks_a_frame : {1, 2, 4}) {
        const Folder home;
        Desk desk(home.path(), "level-lawn");
        Input input;
        input.held = {SDLK_d};
        for (int tick = 0; tick < 120; tick += ticks_a_frame) {
            desk.frame(input, ticks_a_frame / 60.0);
        }
        CHECK(desk.state().tick == 120);
        digests.push_back(desk.state().digest);
    }
    CHECK(digests[0] == digests[1]);
    CHECK(digests[0] == digests[2]);
}

TEST_CASE("Where no log can be written it says so in one line and the exercise goes on") {
    const Folder home;
    std::filesystem::create_directories(home.path() / "data");
    std::ofstream(home.path() / "data" / "logs") << "a file where the folder should be";
    Desk desk(home.path(), "level-lawn");
    desk.hold(SDLK_w, 30);
    CHECK(desk.state().tick >= 30);
    CHECK(desk.app->session()->log_trouble.find("No work log is written") == 0);
    CHECK(std::ssize(desk.app->session()->record.actions) == desk.state().tick);
}

TEST_CASE("Leaving an unfinished exercise is asked for, an untouched one is left at once") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_ESCAPE);
    CHECK(desk.app->page() == Page::start);
    desk.press(SDLK_RETURN);
    desk.hold(SDLK_w, 5);
    desk.press(SDLK_ESCAPE);
    CHECK(desk.app->page() == Page::exercise);
    CHECK(desk.app->session()->leave_asked);
    desk.press(SDLK_RETURN);
    CHECK(desk.app->page() == Page::start);
    CHECK(People(home.path() / "data").attempts().empty());
}

TEST_CASE("A pause stops the exercise and owes nothing afterwards") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.hold(SDLK_w, 5);
    desk.press(SDLK_p);
    const auto tick = desk.state().tick;
    CHECK_FALSE(desk.app->moving());
    desk.frame({}, 60.0);
    CHECK(desk.state().tick == tick);
    desk.press(SDLK_p);
    CHECK(desk.state().tick <= tick + 3);
    CHECK(desk.app->moving());
}

TEST_CASE("The debrief opens with the result, and only views that are there have a key") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    desk.press(SDLK_1); // marks a plumb point here
    CHECK(desk.state().notebook.marks.size() == 1);
    desk.finish();
    const DebriefState& ui = desk.app->session()->debrief_ui;
    CHECK(ui.shown == DebriefView::result);
    int key = SDLK_1;
    for (const DebriefViewInfo& info : debrief_views()) {
        CAPTURE(info.command);
        desk.press(key++);
        CHECK(ui.shown == info.view);
        CHECK(desk.app->context().view == ui.shown);
        CHECK(enabled(info.command, desk.app->context()));
        CHECK(enabled("reasons", desk.app->context()) == (ui.shown == DebriefView::result));
        desk.press(SDLK_1);
    }
}

TEST_CASE("Every key of the help sheet can be pressed on every page, at every size, day and night") {
    for (const ImVec2 size : {ImVec2(1366, 768), ImVec2(1024, 700)}) {
        const Folder home;
        Desk desk(home.path(), "level-lawn", size);
        for (const Page page : {Page::exercise, Page::debrief, Page::start}) {
            for (const CommandInfo& info : command_table()) {
                static constexpr std::array<std::string_view, 14> leaves = {
                    "people",     "progress",  "quit",          "confirm_finish", "confirm_leave",
                    "again_same", "again_new", "next_exercise", "start_page",     "open_row",
                    "finish",     "hold_hand", "pause",         "save_picture"};
                if (std::ranges::find(leaves, info.id) != leaves.end()) {
                    continue;
                }
                if (command_of(info.chords[0], desk.app->context()) != &info) {
                    continue; // the key means something else here, which has its own turn
                }
                CAPTURE(info.id);
                if (info.held) {
                    Input input;
                    input.held = {info.chords[0].key};
                    input.ctrl = info.chords[0].ctrl;
                    desk.frame(input);
                    desk.frame();
                } else {
                    desk.press(info.chords[0].key, info.chords[0].ctrl);
                }
                CHECK(desk.app->page() == page);
            }
            if (page == Page::exercise) {
                if (desk.app->context().form_open) {
                    desk.press(SDLK_ESCAPE);
                }
                desk.finish();
            } else if (page == Page::debrief) {
                desk.press(SDLK_ESCAPE);
            }
        }
    }
}

TEST_CASE("Every command that is not held is carried out somewhere") {
    const Folder home;
    // In window_lessons_test.cpp and window_worksheet_test.cpp: they need more than is brought about here.
    static constexpr std::array<std::string_view, 7> elsewhere = {
        "steps", "next_lesson", "lesson_test", "lesson_again", "lesson_debrief", "show_exercises", "worksheet_take"};
    for (const CommandInfo& info : command_table()) {
        if (info.held || std::ranges::find(elsewhere, info.id) != elsewhere.end()) {
            continue;
        }
        CAPTURE(info.id);
        const std::string wide = (home.path() / "wide.toml").string();
        std::ofstream(wide) << "format = 1\ntitle = \"Wide\"\n[receiver]\nhas_wide = true\n";
        const std::string scenario = info.id == "coil"        ? "single-coil"
                                     : info.id == "bandwidth" ? wide
                                     : info.id == "lesson"    ? "hum-overhead"
                                                              : "level-lawn";
        Desk desk(home.path(), scenario);
        desk.app->allow_field(info.id == "lesson_map");
        // Bring about what the command needs: a notebook with something in it, a question, a page.
        if (!enabled(info.id, desk.app->context())) {
            desk.walk_over_the_sonde();
            desk.press(SDLK_SPACE);
            desk.frames(60);
            desk.hold(SDLK_x, 60);
            for (const int key : {SDLK_1, SDLK_2, SDLK_3, SDLK_4, SDLK_r, SDLK_5, SDLK_n}) {
                desk.press(key);
            }
            desk.press(SDLK_ESCAPE);
        }
        if (info.id == "confirm_finish" || info.id == "go_back") {
            desk.press(SDLK_RETURN);
        } else if (info.id == "confirm_leave") {
            desk.press(SDLK_ESCAPE);
        } else if (!enabled(info.id, desk.app->context())) {
            desk.press(SDLK_RETURN);
            desk.press(SDLK_RETURN);
            desk.frames(3);
            if (info.id.starts_with("coach_")) {
                desk.press(SDLK_2);
            } else if (info.id.starts_with("replay_")) {
                desk.press(SDLK_4);
            }
            if (info.id == "coach_moment") {
                desk.press(SDLK_k); // past the questions
            } else if (!enabled(info.id, desk.app->context())) {
                desk.press(SDLK_ESCAPE);
            }
            for (const int key : {SDLK_p, SDLK_g, SDLK_DELETE}) { // people, progress, its question
                if (!enabled(info.id, desk.app->context())) {
                    desk.press(key);
                }
            }
        }
        REQUIRE(enabled(info.id, desk.app->context()));
        CHECK(desk.app->execute(info.id));
        desk.frames(2);
    }
}

TEST_CASE("The scale changes the fonts and the settings, and a low window keeps the receiver panel whole") {
    const Folder home;
    Desk desk(home.path(), "level-lawn", ImVec2(1024, 700));
    CHECK(desk.app->theme().h == 16.0F);
    for (int i = 0; i < 3; ++i) {
        desk.press(SDLK_PLUS, true);
    }
    CHECK(desk.app->theme().h == 24.0F);
    CHECK(desk.app->settings().scale == doctest::Approx(1.5));
    CHECK(desk.app->left(desk.size) == LeftPanel::folded); // the job sheet has become a tab
    const Layout layout = lay_out(desk.app->theme(), desk.size, LeftPanel::folded, desk.app->context());
    CHECK(layout.receiver.size.y > 18.0F * 24.0F);
    CHECK(layout.plan.size.x > 500.0F);
}

TEST_CASE("A broken settings file is said on the list and the program starts all the same") {
    const Folder home;
    std::filesystem::create_directories(home.path() / "config");
    std::ofstream(home.path() / "config" / "settings.toml") << "volume = loud\n";
    Desk desk(home.path());
    CHECK(desk.app->page() == Page::start);
    CHECK(desk.app->settings() == Settings{});
    desk.press(SDLK_PLUS);
    CHECK(std::filesystem::exists(home.path() / "config" / "settings.toml.bad"));
    CHECK(load_settings(home.path() / "config" / "settings.toml").settings.volume == doctest::Approx(0.6));
}

TEST_CASE("The signal's figure changes at most eight times a second and the trace holds twenty seconds") {
    SignalHistory history;
    int changes = 0;
    double shown = -1000.0;
    for (int tick = 0; tick < 3600; ++tick) {
        history.push(tick, tick);
        changes += history.figure() != shown ? 1 : 0;
        shown = history.figure();
    }
    CHECK(changes <= 8 * 60);
    CHECK(changes >= 7 * 60);
    const std::vector<float> kept = history.in_order();
    REQUIRE(kept.size() == SignalHistory::length);
    CHECK(kept.back() == 3597.0F);
    CHECK(kept.back() - kept.front() == doctest::Approx(20 * 60 - 3)); // twenty seconds of ticks
    CHECK(history.largest() == 3597.0);
    CHECK(history.smallest() == static_cast<double>(kept.front()));
}

TEST_CASE("A scenario that is not there is refused without any window") {
    const Folder home;
    AppOptions options;
    options.config = home.path() / "config";
    options.data = home.path() / "data";
    options.scenario = "no-such-exercise";
    CHECK_THROWS_AS(App{options}, scenarios::ScenarioError);
}
