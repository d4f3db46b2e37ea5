// The map of the true signal: worked out beside the window, drawn in the debrief alone.
//
// | checked                    | against                                                                    |
// | ---                        | ---                                                                        |
// | values of a finished map   | a dipole's law in closed form (Jackson, Classical Electrodynamics, eq. 5.56, from memory);
// | | the scalar functions of sim                                                 |
// | rise of lightness          | CIE 1976 L* (CIE 015) of sRGB (IEC 61966-2-1), both from memory            |
// | first and last colour      | Nunez, Anderton, Renslow, PLoS ONE 13(7) e0199239, 2018: #00224e, #fee838  |
#include "plan_fixture.hpp"
#include "sim/units.hpp"
#include "ui/window/field_map.hpp"
#include "ui/window/map_picture.hpp"
#include "window_harness.hpp"

#include <glm/geometric.hpp>

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

bool ends_the_map(const FieldMapBand& band) {
    return band.pass + 1 == std::ssize(field_map_passes) &&
           band.first_row * band.columns + std::ssize(band.dbpt) == band.rows * band.columns;
}

std::vector<FieldMapBand> whole_map(const FieldMapTask& task) {
    FieldMap map(task, [] {});
    std::vector<FieldMapBand> all;
    while (all.empty() || !ends_the_map(all.back())) {
        std::ranges::move(map.take(), std::back_inserter(all));
        REQUIRE(map.trouble().empty());
        wait_a_little();
    }
    return all;
}

// What differs most between a place of the map and the other way to work it out, dB; places 61 cells apart.
double worst_db(const std::vector<FieldMapBand>& bands, const std::function<double(const glm::dvec2&)>& right_t) {
    double worst = 0.0;
    for (const FieldMapBand& band : bands) {
        for (std::size_t i = 0; i < band.dbpt.size(); i += 61) {
            const auto columns = static_cast<std::size_t>(band.columns);
            const std::size_t column = i % columns;
            const std::size_t row = i / columns;
            const glm::dvec2 place{band.cell_m * (static_cast<double>(column) + 0.5),
                                   band.cell_m * (band.first_row + static_cast<double>(row) + 0.5)};
            worst = std::max(worst, std::abs(static_cast<double>(band.dbpt[i]) - sim::dbpt(right_t(place))));
        }
    }
    return worst;
}

// Conducting ground that slopes, another crew's sonde on the same frequency and one beside it, hum of a line.
field::World hard_yard() {
    field::World world = test::yard_with_drain();
    world.yard.resistivity_ohm_m = 20.0;
    world.yard.terrain.slope_percent = 6.0;
    world.yard.terrain.slope_toward_deg = 180.0;
    world.yard.terrain.zero_m = field::plan(world.sonde.position_m);
    world.other_sondes = {{"", {512.0, 0.1, {24.0, 20.0, -1.5}, 40.0, 0.0}},
                          {"", {520.0, 0.1, {4.0, 30.0, -0.5}, 40.0, 10.0}}};
    world.yard.lines[1].connection = field::LineConnection::bonded;
    world.yard.lines[1].mains_current_a = 1.0;
    return world;
}

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

std::vector<ImTextureID> textures_drawn(const Paper& paper) {
    std::vector<ImTextureID> drawn;
    const ImDrawData* data = ImGui::GetDrawData();
    for (int k = 0; k < data->CmdListsCount; ++k) {
        for (const ImDrawCmd& command : data->CmdLists[k]->CmdBuffer) {
            if (command.ElemCount > 0 && paper.alive.contains(command.TextureId)) {
                drawn.push_back(command.TextureId);
            }
        }
    }
    return drawn;
}

void finish_an_exercise(Desk& desk) {
    desk.hold(SDLK_w, 20);
    desk.press(SDLK_4);
    desk.press(SDLK_RETURN);
    desk.press(SDLK_RETURN);
    desk.frames(3);
    REQUIRE(desk.app->page() == Page::debrief);
}

void wait_for_map(Desk& desk) {
    const DebriefState& ui = desk.app->session()->debrief_ui;
    REQUIRE(ui.map);
    while (!ui.map->finest()) {
        REQUIRE(ui.map->trouble().empty());
        desk.frame();
        wait_a_little();
    }
    desk.frame();
}

double lightness(ImU32 colour) {
    const auto linear = [colour](int shift) {
        const double c = static_cast<double>((colour >> shift) & 0xFF) / 255.0;
        return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
    };
    const double y =
        0.2126 * linear(IM_COL32_R_SHIFT) + 0.7152 * linear(IM_COL32_G_SHIFT) + 0.0722 * linear(IM_COL32_B_SHIFT);
    return y > 216.0 / 24389.0 ? 116.0 * std::cbrt(y) - 16.0 : y * 24389.0 / 27.0;
}

} // namespace

TEST_CASE("the map of a sonde alone is the law of a dipole at the antenna's height") {
    const field::Setting setting(test::yard_with_drain());
    const field::SondeTruth& sonde = setting.world.sonde;
    const FieldMapTask task = field_map_task(setting);
    CHECK(task.antenna_m == setting.world.receiver.tip_to_antenna_m);
    const double tilt = sim::radians(sonde.tilt_deg);
    const double heading = sim::radians(sonde.heading_deg);
    const glm::dvec3 axis{std::sin(heading) * std::cos(tilt), std::cos(heading) * std::cos(tilt), -std::sin(tilt)};
    const double worst = worst_db(whole_map(task), [&](const glm::dvec2& place) {
        const glm::dvec3 way = glm::dvec3{place, task.antenna_m} - sonde.position_m;
        const double r = glm::length(way);
        const double along = glm::dot(way, axis) / r;
        return 1e-7 * sonde.moment_am2 / (r * r * r) * std::sqrt(1.0 + 3.0 * along * along);
    });
    CHECK(worst < 0.05);
}

TEST_CASE("the map of a hard yard is what the scalar functions give of all that is heard on the sonde's frequency") {
    const field::Setting setting(hard_yard());
    const FieldMapTask task = field_map_task(setting);
    REQUIRE(task.scene.emissions.size() >= 3);
    REQUIRE_FALSE(task.scene.hums.empty());
    const std::vector<FieldMapBand> bands = whole_map(task);
    const auto all_t = [&](const glm::dvec2& place) {
        return sim::whole_field_t(task.scene, task.shares, {place, map_height_m(task, place)});
    };
    CHECK(worst_db(bands, all_t) < 0.05);
    const auto sonde_t = [&](const glm::dvec2& place) {
        return sim::magnitude(sim::emission_field_t(task.scene.emissions.front(), {place, map_height_m(task, place)}));
    };
    CHECK(worst_db(bands, sonde_t) > 3.0); // the others count
    FieldMapTask alone = task;
    alone.scene.emissions.resize(1);
    alone.scene.hums.clear();
    CHECK(worst_db(whole_map(alone), sonde_t) < 0.05);
    const double south = map_height_m(task, {13.0, 0.0});
    CHECK(map_height_m(task, {13.0, 36.0}) - south == doctest::Approx(36.0 * 0.06)); // up the slope
}

TEST_CASE("the coarse map is there before anything of a finer one, and every row comes once") {
    const field::Setting setting(test::yard_with_drain()); // 30 by 36 m
    const std::vector<FieldMapBand> bands = whole_map(field_map_task(setting));
    CHECK(bands.front().first_row == 0);
    CHECK(bands.front().rows == 64); // the yard's longer side
    CHECK(std::ssize(bands.front().dbpt) == bands.front().columns * bands.front().rows);
    int pass = 0;
    int row = 0;
    for (const FieldMapBand& band : bands) {
        if (band.pass != pass) {
            ++pass;
            row = 0;
        }
        CHECK(band.pass == pass);
        CHECK(band.first_row == row);
        CHECK(band.rows == field_map_passes.at(static_cast<std::size_t>(pass)));
        CHECK(band.columns * band.cell_m >= 30.0 - 1e-9);
        CHECK((band.columns - 1) * band.cell_m < 30.0);
        row += static_cast<int>(std::ssize(band.dbpt)) / band.columns;
    }
    CHECK(pass + 1 == std::ssize(field_map_passes));
    CHECK(row == field_map_passes.back());
}

TEST_CASE("a map that is given up ends with the band it is at, and calls nobody afterwards") {
    const FieldMapTask task = field_map_task(field::Setting(hard_yard()));
    for (int round = 0; round < 3; ++round) {
        std::atomic<int> wakes = 0;
        std::atomic<bool> going = false;
        {
            const FieldMap map(task, [&] {
                ++wakes;
                while (!going) {
                    wait_a_little();
                }
                std::this_thread::sleep_for(std::chrono::milliseconds(100)); // meanwhile it is told to stop
            });
            while (wakes == 0) {
                wait_a_little();
            }
            going = true;
        }
        CHECK(wakes == 1); // a whole one wakes once a pass at least
    }
    for (int round = 0; round < 20; ++round) {
        const FieldMap map(task, [] {}); // at once
    }
}

TEST_CASE("a map that cannot be made says why and ends nothing else") {
    FieldMapTask task = field_map_task(field::Setting(hard_yard()));
    task.scene.emissions.front().dipoles.front().dipole.position_m.z = 5.0; // in the air
    std::atomic<int> wakes = 0;
    const FieldMap map(task, [&] { ++wakes; });
    while (wakes == 0) {
        wait_a_little();
    }
    CHECK_FALSE(map.trouble().empty());
}

TEST_CASE("the colours rise evenly in lightness") {
    CHECK(cividis(0.0) == IM_COL32(0x00, 0x22, 0x4e, 255));
    CHECK(cividis(1.0) == IM_COL32(0xfe, 0xe8, 0x38, 255));
    CHECK(cividis(-3.0) == cividis(0.0));
    CHECK(cividis(7.0) == cividis(1.0));
    double before = lightness(cividis(0.0));
    for (int k = 1; k <= 64; ++k) {
        const double now = lightness(cividis(k / 64.0));
        CAPTURE(k);
        CHECK(now > before + 0.5); // 77 in all, so 1.2 each if they were all alike
        CHECK(now < before + 2.2);
        before = now;
    }
}

TEST_CASE("the range of colours is whole tens that hold the strongest signal, and at most 80 dB") {
    FieldMapTask task = field_map_task(field::Setting(test::yard_with_drain()));
    const FieldMapRange by_coarse = field_map_range(task, {12.0F, 31.0F});
    const double over = sim::dbpt(sim::whole_field_t(
        task.scene, task.shares, {field::plan(task.scene.emissions[0].dipoles[0].dipole.position_m), task.antenna_m}));
    CHECK(by_coarse.high_dbpt >= over);
    CHECK(by_coarse.high_dbpt < over + 10.0);
    CHECK(by_coarse.low_dbpt == 10.0);
    CHECK(by_coarse.share(by_coarse.low_dbpt) == 0.0);
    CHECK(by_coarse.share(by_coarse.high_dbpt + 5.0) == 1.0);
    CHECK(field_map_range(task, {-300.0F}).low_dbpt == by_coarse.high_dbpt - field_map_span_db);
    task.scene = {};
    const FieldMapRange nothing = field_map_range(task, {-std::numeric_limits<float>::infinity()});
    CHECK(nothing.low_dbpt < nothing.high_dbpt);
}

TEST_CASE("without the truth no map is drawn, whatever the content brings") {
    const field::Setting setting(test::yard_with_drain());
    Paper paper;
    MapPicture map(field_map_task(setting), &paper);
    while (!map.finest()) {
        map.take_in();
        wait_a_little();
    }
    const PlanView view = test::view_of(30.0, 36.0, {800, 600});
    const field::Notebook notebook;
    const auto drawn = [&](test::Frame& frame, const MapPicture* with, const field::Setting* truth) {
        PlanContent content;
        content.brief = &setting.brief;
        content.notebook = &notebook;
        content.truth = truth;
        content.map = with;
        frame.draw([&](ImDrawList& list) { draw_plan(list, frame.theme, view, content); });
        return textures_drawn(paper).size();
    };
    test::Frame plain;
    CHECK(drawn(plain, nullptr, nullptr) == 0);
    {
        test::Frame asked;
        CHECK(drawn(asked, &map, nullptr) == 0);
        CHECK(asked.same_as(plain));
    }
    test::Frame debrief;
    CHECK(drawn(debrief, &map, &setting) == 1); // the finest has all of it
    CHECK(debrief.all_finite());
}

TEST_CASE("the key for the signal map shows and hides it in the debrief, and is the hand's in the exercise") {
    const Folder home;
    Paper paper;
    Desk desk(home.path(), "level-lawn");
    desk.app->set_surface(&paper);
    desk.press(SDLK_s);
    desk.frames(5);
    CHECK_FALSE(desk.app->session()->debrief_ui.map_shown);
    CHECK_FALSE(desk.app->execute("signal_map"));
    finish_an_exercise(desk);
    const DebriefState& ui = desk.app->session()->debrief_ui;
    CHECK_FALSE(ui.map_shown); // until it is asked for
    CHECK(paper.sizes.empty());
    desk.press(SDLK_s);
    CHECK(ui.map_shown);
    wait_for_map(desk);
    CHECK(paper.sizes.size() == field_map_passes.size());
    CHECK(paper.next_row == ui.map->passes().back().rows);
    CHECK(paper.wakes >= static_cast<int>(field_map_passes.size()));
    CHECK(textures_drawn(paper).size() == 1);
    desk.press(SDLK_s);
    CHECK_FALSE(ui.map_shown);
    CHECK(textures_drawn(paper).empty());
    desk.press(SDLK_s);
    CHECK(textures_drawn(paper).size() == 1);
    CHECK(paper.sizes.size() == field_map_passes.size()); // not worked out again
    desk.press(SDLK_a);                                   // the same yard again
    REQUIRE(desk.app->page() == Page::exercise);
    CHECK(paper.alive.empty());
    CHECK(textures_drawn(paper).empty());
    desk.app->set_surface(nullptr);
}

TEST_CASE("a debrief left while its map is being worked out leaves nothing behind") {
    const Folder home;
    Paper paper;
    Desk desk(home.path(), "level-lawn");
    desk.app->set_surface(&paper);
    finish_an_exercise(desk);
    desk.press(SDLK_s);
    desk.press(SDLK_ESCAPE);
    CHECK(desk.app->page() == Page::start);
    CHECK(paper.alive.empty());
    const int wakes = paper.wakes;
    desk.frames(10);
    CHECK(paper.wakes == wakes);
    desk.app->set_surface(nullptr);
}

TEST_CASE("a window that goes takes the map with it") {
    const Folder home;
    Paper paper;
    Desk desk(home.path(), "level-lawn");
    desk.app->set_surface(&paper);
    finish_an_exercise(desk);
    desk.press(SDLK_s);
    desk.app->set_surface(nullptr);
    CHECK(paper.alive.empty());
    desk.press(SDLK_s); // still a key, with nothing to draw on
    wait_for_map(desk);
    CHECK(desk.app->session()->debrief_ui.map->finished() == field_map_passes.back());
}
