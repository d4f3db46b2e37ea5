// The true field as it is shown: the map under the plan, its lines in the section; in the debrief, and in a lesson that
// shows the field.
#include "plan_fixture.hpp"
#include "ui/window/map_picture.hpp"
#include "window_harness.hpp"

#include <algorithm>
#include <atomic>
#include <bit>
#include <chrono>
#include <set>
#include <thread>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;

namespace {

void wait_a_little() { std::this_thread::sleep_for(std::chrono::milliseconds(1)); }

class Paper : public Surface { // textures that are only counted
public:
    ImTextureID make_texture(int columns, int rows) override {
        sizes.emplace_back(columns, rows);
        const auto texture = std::bit_cast<ImTextureID>(std::uintptr_t{1000} + sizes.size());
        alive.insert(texture);
        return texture;
    }
    void fill_rows(ImTextureID texture, int columns, int first_row, std::span<const std::uint32_t> pixels) override {
        CHECK(alive.contains(texture));
        CHECK(std::ssize(pixels) % columns == 0);
        next_row = first_row + static_cast<int>(std::ssize(pixels)) / columns;
    }
    void drop_texture(ImTextureID texture) override { CHECK(alive.erase(texture) == 1); }
    void wake() override { ++wakes; }

    std::set<ImTextureID> alive;
    std::vector<std::pair<int, int>> sizes;
    int next_row = 0;
    std::atomic<int> wakes = 0;
};

std::size_t textures_drawn(const Paper& paper) {
    std::size_t drawn = 0;
    const ImDrawData* data = ImGui::GetDrawData();
    for (int k = 0; k < data->CmdListsCount; ++k) {
        for (const ImDrawCmd& command : data->CmdLists[k]->CmdBuffer) {
            drawn += command.ElemCount > 0 && paper.alive.contains(command.TextureId) ? 1 : 0;
        }
    }
    return drawn;
}

// A trainee at the machine, and what his maps are drawn on.
class MapDesk {
public:
    MapDesk() { desk.app->set_surface(&paper); }

    void finish_the_exercise() {
        desk.hold(SDLK_w, 20);
        desk.press(SDLK_4);
        desk.finish();
    }
    void wait_for(const std::unique_ptr<MapPicture>& map) {
        REQUIRE(map);
        while (!map->finest()) {
            REQUIRE(map->trouble().empty());
            desk.frame();
            wait_a_little();
        }
        desk.frame();
    }
    std::size_t maps_drawn() const { return textures_drawn(paper); }
    const DebriefState& debrief() const { return desk.app->session()->debrief_ui; }

    Folder home;
    Paper paper; // outlives the program that draws on it
    Desk desk{home.path(), "level-lawn"};
};

} // namespace

TEST_CASE("without the truth no map is drawn, whatever the content brings, unless a lesson shows the field") {
    const field::Setting setting(test::yard_with_drain());
    Paper paper;
    MapPicture map(field_map_task(setting), &paper);
    while (!map.finest()) {
        map.take_in();
        wait_a_little();
    }
    const PlanView view = test::view_of(30.0, 36.0, {800, 600});
    const field::Notebook notebook;
    const auto draw = [&](test::Frame& frame, PlanContent content) {
        content.brief = &setting.brief;
        content.notebook = &notebook;
        frame.draw([&](ImDrawList& list) { draw_plan(list, frame.theme, view, content); });
        CHECK(frame.all_finite());
    };
    const auto maps = [&](test::Frame& frame, const MapPicture* with, const field::Setting* truth) {
        draw(frame, {.truth = truth, .map = with});
        return textures_drawn(paper);
    };
    test::Frame plain;
    CHECK(maps(plain, nullptr, nullptr) == 0);
    {
        test::Frame asked;
        CHECK(maps(asked, &map, nullptr) == 0);
        CHECK(asked.same_as(plain));
    }
    test::Frame debrief;
    CHECK(maps(debrief, &map, &setting) == 1); // the finest has all of it
    const field::TruePoints points = field::true_points(
        setting.world, field::scene_of(setting.world, setting.ground, setting.world.sonde), setting.world.sonde);
    const auto vertices = [&](bool allowed, bool with_map, bool with_points) {
        test::Frame frame;
        draw(frame,
             {.map = with_map ? &map : nullptr, .points = with_points ? &points : nullptr, .field_allowed = allowed});
        return frame.vertices.size();
    };
    const std::size_t nothing = vertices(false, false, false);
    CHECK(vertices(false, true, true) == nothing);
    CHECK(vertices(true, false, true) > nothing + 50);
    const std::size_t signal = vertices(true, true, false);
    CHECK(signal > nothing + 1000); // contour lines and figures
    map.show(MapLayer::dip);
    CHECK(vertices(true, true, false) != signal);
    CHECK(map.lines().front().level == dip_lines_deg.front());
    map.show(MapLayer::none); // stays as it was: who draws leaves it out
    CHECK(map.layer() == MapLayer::dip);
}

TEST_CASE_FIXTURE(
    MapDesk, "the key for the map goes from signal to dip to none in the debrief, and is the hand's in the exercise") {
    desk.press(SDLK_s);
    desk.frames(5);
    CHECK(debrief().layer == MapLayer::none);
    CHECK_FALSE(desk.app->execute("signal_map"));
    finish_the_exercise();
    const DebriefState& ui = debrief();
    CHECK(ui.layer == MapLayer::none); // until it is asked for
    CHECK(paper.sizes.empty());
    desk.press(SDLK_s);
    CHECK(ui.layer == MapLayer::signal);
    wait_for(debrief().map);
    CHECK(paper.sizes.size() == field_map_passes.size());
    CHECK(paper.next_row == ui.map->passes().back().rows);
    CHECK(paper.wakes >= static_cast<int>(field_map_passes.size()));
    CHECK(maps_drawn() == 1);
    desk.press(SDLK_s);
    CHECK(ui.layer == MapLayer::dip);
    CHECK(ui.map->layer() == MapLayer::dip);
    CHECK(maps_drawn() == 1);
    desk.press(SDLK_s);
    CHECK(ui.layer == MapLayer::none);
    CHECK(maps_drawn() == 0);
    desk.press(SDLK_s);
    CHECK(maps_drawn() == 1);
    CHECK(paper.sizes.size() == field_map_passes.size()); // not worked out again
    desk.press(SDLK_a);                                   // the same yard again
    REQUIRE(desk.app->page() == Page::exercise);
    CHECK(paper.alive.empty());
    CHECK(maps_drawn() == 0);
}

TEST_CASE_FIXTURE(MapDesk, "a lesson that shows the field has its map while one works, and no other exercise has") {
    desk.press(SDLK_s, true);
    CHECK(desk.app->session()->ui.layer == MapLayer::none);
    CHECK_FALSE(desk.app->execute("lesson_map"));
    desk.app->allow_field(true);
    const ExerciseUi& ui = desk.app->session()->ui;
    desk.press(SDLK_s, true);
    CHECK(ui.layer == MapLayer::signal);
    REQUIRE(ui.points);
    CHECK(ui.points->peak);
    wait_for(ui.map);
    CHECK(maps_drawn() == 1);
    desk.press(SDLK_s, true);
    CHECK(ui.layer == MapLayer::dip);
    desk.press(SDLK_s, true);
    CHECK(ui.layer == MapLayer::none);
    CHECK(maps_drawn() == 0);
    desk.app->set_surface(nullptr);
    CHECK(paper.alive.empty());
}

TEST_CASE_FIXTURE(
    MapDesk, "the field's lines are shown in the section when they are asked for, with the receiver at the locate") {
    finish_the_exercise();
    const DebriefState& ui = debrief();
    REQUIRE(ui.points);
    CHECK(ui.points->plumb.size() >= 2);
    CHECK_FALSE(ui.field_lines);
    desk.press(SDLK_f);
    CHECK(ui.lines_shown);
    REQUIRE(ui.field_lines);
    CHECK(ui.field_lines->lines.size() > 20);
    CHECK(ui.field_lines->at_locate);
    CHECK(ui.field_lines->most_out_deg < 5.0); // the sonde lies along its pipe, and alone
    CHECK(ui.field_lines->antenna_spacing_m == desk.app->session()->setting.world.receiver.antenna_spacing_m);
    desk.press(SDLK_f);
    CHECK_FALSE(ui.lines_shown);
}

TEST_CASE_FIXTURE(MapDesk, "a debrief left while its map is being worked out leaves nothing behind") {
    finish_the_exercise();
    desk.press(SDLK_s);
    desk.press(SDLK_ESCAPE);
    CHECK(desk.app->page() == Page::start);
    CHECK(paper.alive.empty());
    const int wakes = paper.wakes;
    desk.frames(10);
    CHECK(paper.wakes == wakes);
}

TEST_CASE_FIXTURE(MapDesk, "a window that goes takes the map with it") {
    finish_the_exercise();
    desk.press(SDLK_s);
    desk.app->set_surface(nullptr);
    CHECK(paper.alive.empty());
    desk.press(SDLK_s); // still a key, with nothing to draw on
    wait_for(debrief().map);
    CHECK(debrief().map->finished() == field_map_passes.back());
}
