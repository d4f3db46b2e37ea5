// The debrief's time machine in the window's program: keys, mouse, time, sound, and logs opened again.
#include "ui/window/debrief_page.hpp"
#include "window_harness.hpp"

#include <fstream>
#include <iterator>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;

namespace {

// A short exercise with something in it, finished, with the replay on the screen and ready.
void work_and_replay(Desk& desk) {
    desk.press(SDLK_o);
    desk.walk_over_the_sonde();
    desk.press(SDLK_SPACE);
    desk.frames(90);
    desk.hold(SDLK_x, 60);
    desk.press(SDLK_1);
    desk.frames(40);
    desk.press(SDLK_r);
    desk.frames(40);
    desk.press(SDLK_4);
    desk.finish();
    desk.press(SDLK_4);
    for (int i = 0; i < 2000 && desk.app->work_left(); ++i) {
        desk.frame();
    }
    REQUIRE(desk.app->session()->debrief_ui.replay.model);
    REQUIRE(desk.app->session()->debrief_ui.replay.model->ready());
}

const ReplayUi& replay_of(const Desk& desk) { return desk.app->session()->debrief_ui.replay; }
std::int64_t tick_of(const Desk& desk) { return replay_of(desk).model->tick(); }

void mouse(Desk& desk, ImVec2 at, bool down) {
    ImGui::GetIO().MousePos = at;
    ImGui::GetIO().MouseDown[0] = down;
    desk.frames(2);
}

std::filesystem::path only_log(const Folder& home) {
    for (const auto& entry : std::filesystem::directory_iterator(home.path() / "data" / "logs")) {
        return entry.path();
    }
    return {};
}

std::string text_of(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

} // namespace

TEST_CASE("The replay goes by keys: seconds, half minutes, ends, marks, and what it shows is what was seen then") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    work_and_replay(desk);
    const Session& s = *desk.app->session();
    const auto last = static_cast<std::int64_t>(s.record.actions.size());
    CHECK(tick_of(desk) == 0);
    desk.press(SDLK_RIGHT);
    CHECK(tick_of(desk) == 60);
    desk.press(SDLK_RIGHT);
    desk.press(SDLK_LEFT);
    CHECK(tick_of(desk) == 60);
    desk.press(SDLK_END);
    CHECK(tick_of(desk) == last);
    CHECK(replay_of(desk).model->state().digest == s.state.digest);
    CHECK(replay_of(desk).model->seen().signal_dbpt == s.seen.signal_dbpt);
    CHECK(replay_of(desk).model->state().notebook.marks.size() == 2);
    desk.press(SDLK_DOWN);
    CHECK(tick_of(desk) == std::max<std::int64_t>(0, last - 1800));
    desk.press(SDLK_HOME);
    CHECK(tick_of(desk) == 0);
    std::vector<std::int64_t> stops;
    for (int i = 0; i < 8; ++i) {
        desk.press(i % 2 == 0 ? SDLK_RIGHTBRACKET : SDLK_k);
        if (stops.empty() || tick_of(desk) != stops.back()) {
            stops.push_back(tick_of(desk));
        }
    }
    const auto& events = replay_of(desk).model->timeline().events;
    REQUIRE(events.size() == 5); // ticket, plumb, reading, locate, finish
    REQUIRE(stops.size() == 5);
    for (std::size_t k = 0; k < stops.size(); ++k) {
        CHECK(stops[k] == events[k].tick);
    }
    desk.press(SDLK_LEFTBRACKET);
    desk.press(SDLK_j);
    CHECK(tick_of(desk) == events[2].tick);
    CHECK(replay_of(desk).model->state().notebook.readings.size() == 1);
    CHECK(replay_of(desk).model->state().notebook.marks.size() == 1);
    desk.press(SDLK_HOME);
    desk.hold(SDLK_RIGHT, 90); // a key that stays down goes on
    CHECK(tick_of(desk) > 120);
}

TEST_CASE("The replay plays at its speed, sounds as it did, and stops at the end") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    work_and_replay(desk);
    CHECK_FALSE(desk.app->moving());
    CHECK_FALSE(desk.app->sound().running);
    desk.press(SDLK_SPACE);
    CHECK(desk.app->moving());
    CHECK(desk.app->sound().running);
    desk.frames(60);
    const auto after_1 = tick_of(desk);
    CHECK(after_1 >= 60);
    CHECK(after_1 <= 64);
    CHECK(desk.app->sound().signal_dbpt == replay_of(desk).model->seen().signal_dbpt);
    desk.press(SDLK_e);
    desk.press(SDLK_e);
    const auto before_4 = tick_of(desk);
    desk.frames(60);
    CHECK(tick_of(desk) - before_4 == 240);
    CHECK(desk.app->sound().running); // at any speed
    for (int i = 0; i < 5; ++i) {
        desk.press(SDLK_q);
    }
    CHECK(replay_speeds[replay_of(desk).speed] == 0.5);
    const auto before_half = tick_of(desk);
    desk.frames(60);
    CHECK(tick_of(desk) - before_half == 30);
    desk.press(SDLK_SPACE);
    const auto still = tick_of(desk);
    desk.frames(30);
    CHECK(tick_of(desk) == still);
    CHECK_FALSE(desk.app->sound().running);
    desk.press(SDLK_m);
    CHECK(desk.app->sound().muted);
    desk.press(SDLK_END);
    desk.press(SDLK_SPACE); // at the end: once more from the start
    desk.frames(5);
    CHECK(tick_of(desk) > 0);
    CHECK(tick_of(desk) < 20);
    for (int i = 0; i < 5; ++i) {
        desk.press(SDLK_e);
    }
    desk.frames(static_cast<int>(replay_of(desk).model->last_tick() / 8) + 10);
    CHECK(tick_of(desk) == replay_of(desk).model->last_tick());
    CHECK_FALSE(desk.app->moving());
    desk.press(SDLK_SPACE);
    desk.press(SDLK_1); // another view: it does not play on unseen
    desk.press(SDLK_4);
    CHECK_FALSE(replay_of(desk).playing);
}

TEST_CASE("The replay's graph is scrubbed with the mouse, and a click in the list goes to what was done") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    work_and_replay(desk);
    const ReplayUi& ui = replay_of(desk);
    const ImVec2 middle((ui.graph_low.x + ui.graph_high.x) / 2, (ui.graph_low.y + ui.graph_high.y) / 2);
    const auto last = ui.model->last_tick();
    mouse(desk, middle, false);
    mouse(desk, middle, true);
    CHECK(std::abs(tick_of(desk) - last / 2) < last / 50 + 2);
    mouse(desk, ImVec2(ui.graph_high.x + 500.0F, middle.y - 300.0F), true); // dragged beyond
    CHECK(tick_of(desk) == last);
    mouse(desk, ImVec2(ui.graph_low.x + 0.25F * (ui.graph_high.x - ui.graph_low.x), middle.y), true);
    CHECK(std::abs(tick_of(desk) - last / 4) < last / 50 + 2);
    mouse(desk, middle, false);
    CHECK(std::abs(tick_of(desk) - last / 4) < last / 50 + 2); // let go: it stays
    const ImVec2 row(ui.list_low.x + 30.0F, ui.list_low.y + 0.5F * desk.app->theme().h);
    mouse(desk, row, false);
    mouse(desk, row, true);
    mouse(desk, row, false);
    CHECK(tick_of(desk) == ui.model->timeline().events.front().tick);
}

TEST_CASE(
    "In the replay the truth, the map and the trail's colours are shown when asked for, at every size and scale") {
    for (const ImVec2 size : {ImVec2(1366, 768), ImVec2(1024, 700)}) {
        const Folder home;
        Desk desk(home.path(), "level-lawn", size);
        work_and_replay(desk);
        CHECK_FALSE(replay_of(desk).truth);
        for (int larger = 0; larger < 3; ++larger) {
            for (const int key : {SDLK_t, SDLK_c, SDLK_c, SDLK_c, SDLK_f, SDLK_f, SDLK_y, SDLK_PAGEUP, SDLK_END}) {
                desk.press(key);
            }
            const ReplayUi& ui = replay_of(desk);
            CHECK(ui.graph_high.y <= size.y);
            CHECK(ui.graph_high.x <= size.x);
            CHECK(ui.view.size.x > 10.0F * desk.app->theme().h);
            CHECK(ui.view.size.y > 5.0F * desk.app->theme().h);
            desk.press(SDLK_PLUS, true);
        }
        CHECK(replay_of(desk).truth); // three times
        desk.press(SDLK_t);
        CHECK_FALSE(replay_of(desk).truth);
        desk.press(SDLK_s); // the map is of the truth
        CHECK(replay_of(desk).truth);
        CHECK(desk.app->session()->debrief_ui.layer != MapLayer::none);
    }
}

TEST_CASE("The signal's history at any tick is what pushing tick by tick leads to") {
    std::vector<double> signal;
    SignalHistory pushed;
    for (std::int64_t tick = 0; tick < 3000; ++tick) {
        signal.push_back(40.0 + 30.0 * std::sin(0.01 * static_cast<double>(tick)));
        pushed.push(tick, signal.back());
        if (tick % 97 == 0 || tick < 20 || tick > 2990) {
            SignalHistory rebuilt;
            rebuilt.rebuild(signal, tick);
            CHECK(rebuilt.in_order() == pushed.in_order());
            CHECK(rebuilt.figure() == pushed.figure());
            CHECK(rebuilt.largest() == pushed.largest());
            CHECK(rebuilt.smallest() == pushed.smallest());
            rebuilt.push(tick + 1, 50.0); // and it goes on from there
            SignalHistory on = pushed;
            on.push(tick + 1, 50.0);
            CHECK(rebuilt.in_order() == on.in_order());
        }
    }
}

TEST_CASE("A stored log opens at its time machine, with the yard it was worked in") {
    const Folder home;
    std::uint64_t digest = 0;
    int points = 0;
    {
        Desk desk(home.path(), "level-lawn");
        work_and_replay(desk);
        digest = desk.state().digest;
        points = desk.app->session()->score->points;
    }
    AppOptions options = test::options_in(home.path(), std::nullopt);
    options.replay = only_log(home);
    Desk desk(options);
    REQUIRE(desk.app->page() == Page::debrief);
    const Session& s = *desk.app->session();
    CHECK(s.debrief_ui.shown == DebriefView::replay);
    CHECK(s.debrief_ui.message.empty());
    CHECK(s.state.digest == digest);
    CHECK(s.score->points == points);
    CHECK(s.course_index == 0); // it knows that yard: the first of the course
    for (int i = 0; i < 2000 && desk.app->work_left(); ++i) {
        desk.frame();
    }
    desk.press(SDLK_END);
    CHECK(replay_of(desk).model->state().digest == digest);
    desk.press(SDLK_1);
    CHECK(s.debrief_ui.shown == DebriefView::result);
    desk.press(SDLK_a);
    CHECK(desk.app->page() == Page::exercise);
}

TEST_CASE("A log that was cut off or altered is played up to there, saying so; what is no log is refused") {
    const Folder home;
    {
        Desk desk(home.path(), "level-lawn");
        work_and_replay(desk);
    }
    const std::string whole = text_of(only_log(home));
    const auto file = [&](const char* name, const std::string& text) {
        std::ofstream(home.path() / name, std::ios::binary) << text;
        return home.path() / name;
    };
    Desk desk(home.path());
    desk.app->open_log(file("cut.jsonl", whole.substr(0, whole.size() * 2 / 3)));
    CHECK(desk.app->page() == Page::debrief);
    {
        const Session& s = *desk.app->session();
        CHECK(s.debrief_ui.message.find("cut off here. Played up to there.") != std::string::npos);
        CHECK(s.debrief_ui.message.find("cut.jsonl:") != std::string::npos);
        CHECK(s.state.tick == std::ssize(s.record.actions));
        CHECK(s.state.tick > 60);
        desk.frames(3);
    }
    std::string altered = whole;
    const std::size_t at = altered.find("\"moves\":[", altered.size() / 2) + 30;
    altered[at] = altered[at] == '5' ? '6' : '5';
    desk.app->open_log(file("altered.jsonl", altered));
    CHECK(desk.app->session()->debrief_ui.message.find("altered. Played up to there.") != std::string::npos);
    desk.frames(3);
    desk.app->open_log(file("left.jsonl", whole.substr(0, whole.rfind("{\"tick\":"))));
    CHECK(desk.app->session()->debrief_ui.message.find("has no end line") != std::string::npos);
    const Session* open = desk.app->session();
    CHECK_THROWS_WITH_AS(desk.app->open_log(file("none.jsonl", "hello\n")), doctest::Contains("not a work log"),
                         field::LogError);
    CHECK_THROWS_WITH_AS(desk.app->open_log(file("head.jsonl", whole.substr(0, whole.find('\n') + 1))),
                         doctest::Contains("can be played"), field::LogError);
    CHECK_THROWS_AS(desk.app->open_log(home.path() / "no-such.jsonl"), field::LogError);
    CHECK(desk.app->session() == open); // what was open stays
    CHECK_FALSE(desk.app->try_to_open_log(home.path() / "no-such.jsonl"));
    CHECK(desk.app->page() == Page::start);
    desk.frames(2);
}
