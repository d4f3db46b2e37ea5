// The map of the true signal: worked out beside the window, drawn in the debrief alone.
//
// | checked                    | against                                                                    |
// | ---                        | ---                                                                        |
// | values of a finished map   | a dipole's law in closed form (Jackson, Classical Electrodynamics, eq. 5.56, from memory);
// | | the scalar functions of sim                                                 |
// | rise of lightness          | CIE 1976 L* (CIE 015) of sRGB (IEC 61966-2-1), both from memory            |
// | colours of both maps       | cividis: Nunez, Anderton, Renslow, PLoS ONE 13(7) e0199239, 2018; viridis: van der Walt and Smith, 2015; |
// |                            | both as matplotlib 3.6.3 has them (_cm_listed.py)                          |
// | colours to colour-blind    | Machado, Oliveira, Fernandes, A physiologically-based model for simulation of color vision deficiency, |
// | eyes                       | IEEE TVCG 15(6), 2009, severity 1.0 (matrices from memory), and CIE 1976 colour difference |
// | dips                       | the major axis by the scalar functions of sim                              |
// | contour lines              | the scalar functions at their points; a dipole's law                       |
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

glm::dvec3 linear_rgb(ImU32 colour) {
    const auto linear = [colour](int shift) {
        const double c = static_cast<double>((colour >> shift) & 0xFF) / 255.0;
        return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
    };
    return {linear(IM_COL32_R_SHIFT), linear(IM_COL32_G_SHIFT), linear(IM_COL32_B_SHIFT)};
}

// CIE 1976 L*, a*, b* of linear sRGB, white D65.
glm::dvec3 lab(const glm::dvec3& rgb) {
    const auto f = [](double t) { return t > 216.0 / 24389.0 ? std::cbrt(t) : (t * 24389.0 / 27.0 + 16.0) / 116.0; };
    const double x = f((0.4124 * rgb.x + 0.3576 * rgb.y + 0.1805 * rgb.z) / 0.9505);
    const double y = f(0.2126 * rgb.x + 0.7152 * rgb.y + 0.0722 * rgb.z);
    const double z = f((0.0193 * rgb.x + 0.1192 * rgb.y + 0.9505 * rgb.z) / 1.089);
    return {116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)};
}

double lightness(ImU32 colour) { return lab(linear_rgb(colour)).x; }

using Matrix = std::array<glm::dvec3, 3>; // rows
glm::dvec3 seen_by(const Matrix& eyes, const glm::dvec3& rgb) {
    glm::dvec3 seen;
    for (int k = 0; k < 3; ++k) {
        seen[k] = std::clamp(glm::dot(eyes[static_cast<std::size_t>(k)], rgb), 0.0, 1.0);
    }
    return seen;
}
constexpr Matrix usual = {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
constexpr Matrix protan = {
    {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}};
constexpr Matrix deutan = {
    {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}};
constexpr Matrix tritan = {
    {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}};

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

TEST_CASE("the dip's colours are the published ones and rise in lightness") {
    CHECK(viridis(0.0) == IM_COL32(0x44, 0x01, 0x54, 255));
    CHECK(viridis(0.4) == IM_COL32(0x2a, 0x78, 0x8e, 255));
    CHECK(viridis(0.6) == IM_COL32(0x22, 0xa8, 0x84, 255));
    CHECK(viridis(1.0) == IM_COL32(0xfd, 0xe7, 0x25, 255));
    CHECK(cividis(4.0 / 16.0) == IM_COL32(0x43, 0x4e, 0x6c, 255));
    CHECK(cividis(12.0 / 16.0) == IM_COL32(0xbb, 0xad, 0x6c, 255));
    double before = lightness(viridis(0.0));
    for (int k = 1; k <= 64; ++k) {
        const double now = lightness(viridis(k / 64.0));
        CAPTURE(k);
        CHECK(now > before + 0.5);
        CHECK(now < before + 2.2);
        before = now;
    }
}

TEST_CASE("both maps rise in lightness and keep neighbours apart for every kind of eyes") {
    for (ImU32 (*map)(double) : {cividis, viridis}) {
        for (const Matrix* eyes : {&usual, &protan, &deutan, &tritan}) {
            const auto colour = [&](int k) { return lab(seen_by(*eyes, linear_rgb(map(k / 16.0)))); };
            for (int k = 1; k <= 16; ++k) {
                CAPTURE(k);
                CHECK(colour(k).x > colour(k - 1).x + 1.5);
                CHECK(glm::length(colour(k) - colour(k - 1)) > 3.0); // 2.3 is just noticed
            }
        }
    }
}

TEST_CASE("a map's dip is that of the sonde's own field, and its lines lie where signal and dip are what they say") {
    const FieldMapTask task = field_map_task(field::Setting(hard_yard()));
    const FieldMapSheet sheet = field_map_sheet(task, 256);
    const sim::MapGrid& grid = sheet.grid;
    const auto dip_at = [&](const glm::dvec2& p) {
        const glm::dvec3 place{p, map_height_m(task, p)};
        return sim::degrees(std::asin(
            std::min(1.0, std::abs(sim::major_axis(sim::emission_field_t(task.scene.emissions[0], place)).z))));
    };
    double worst = 0.0;
    for (std::size_t i = 0; i < sheet.dip_deg.size(); i += 37) {
        const auto columns = static_cast<std::size_t>(grid.columns);
        const std::size_t row = i / columns;
        const glm::dvec2 p{grid.west_m + grid.step_m * static_cast<double>(i % columns),
                           grid.south_m + grid.step_m * static_cast<double>(row)};
        worst = std::max(worst, std::abs(static_cast<double>(sheet.dip_deg[i]) - dip_at(p)));
    }
    CHECK(worst < 0.2); // the ground is tabulated to 1e-3 of the field
    std::set<double> levels;
    double off_db = 0.0;
    for (const sim::Isoline& line : sheet.lines.signal) {
        levels.insert(line.level);
        for (const glm::dvec2& p : line.points_m) {
            const double b = sim::whole_field_t(task.scene, task.shares, {p, map_height_m(task, p)});
            off_db = std::max(off_db, std::abs(sim::dbpt(b) - line.level));
        }
    }
    CHECK(off_db < 0.5); // straight between cells of 14 cm, right over a sonde that lies half a metre deep
    CHECK(levels.size() > 6);
    for (const double level : levels) {
        CHECK(std::fmod(level, 6.0) == 0.0);
    }
    std::set<double> dips;
    std::vector<double> off_deg;
    for (const sim::Isoline& line : sheet.lines.dip) {
        dips.insert(line.level);
        for (const glm::dvec2& p : line.points_m) {
            off_deg.push_back(std::abs(dip_at(p) - line.level));
        }
    }
    CHECK(dips.size() == dip_lines_deg.size());
    std::ranges::sort(off_deg);
    CHECK(off_deg[off_deg.size() * 9 / 10] < 1.0);
    const FieldMapSheet again = field_map_sheet(task, 256); // whichever thread took which rows
    CHECK(again.dbpt == sheet.dbpt);
    CHECK(again.dip_deg == sheet.dip_deg);
    CHECK(again.lines.signal.size() == sheet.lines.signal.size());
    bool asked = false;
    const FieldMapSheet given_up = field_map_sheet(task, 512, [&](const FieldMapSheet&, int) {
        asked = true;
        return false;
    });
    CHECK(asked);
    CHECK(given_up.lines.signal.empty());
}

TEST_CASE("contour lines of a sonde on end are rings at the radii of a dipole's law") {
    field::World world = test::yard_with_drain();
    world.sonde.tilt_deg = 90.0;
    const FieldMapTask task = field_map_task(field::Setting(world));
    const FieldMapSheet sheet = field_map_sheet(task, 512);
    const double h = task.antenna_m - world.sonde.position_m.z;
    int rings = 0;
    for (const sim::Isoline& line : sheet.lines.signal) {
        for (const glm::dvec2& p : line.points_m) {
            const double r = std::hypot(glm::length(p - field::plan(world.sonde.position_m)), h);
            const double along = h / r;
            const double b = 1e-7 * world.sonde.moment_am2 / (r * r * r) * std::sqrt(1.0 + 3.0 * along * along);
            CHECK(sim::dbpt(b) == doctest::Approx(line.level).epsilon(1e-3));
        }
        rings += line.closed ? 1 : 0;
    }
    CHECK(rings >= 6);
    for (const sim::Isoline& line : sheet.lines.dip) { // tan(dip) = (2 h^2 - r^2) / (3 h r), r in plan
        const glm::dvec2 p = line.points_m.front();
        const double r = glm::length(p - field::plan(world.sonde.position_m));
        const double dip = sim::degrees(std::atan2(std::abs(2.0 * h * h - r * r), 3.0 * h * r));
        CHECK(dip == doctest::Approx(line.level).epsilon(0.01));
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
    const field::TruePoints points = field::true_points(
        setting.world, field::scene_of(setting.world, setting.ground, setting.world.sonde), setting.world.sonde);
    const auto vertices = [&](bool allowed, bool with_map, bool with_points) {
        test::Frame frame;
        PlanContent content;
        content.brief = &setting.brief;
        content.notebook = &notebook;
        content.map = with_map ? &map : nullptr;
        content.points = with_points ? &points : nullptr;
        content.field_allowed = allowed;
        frame.draw([&](ImDrawList& list) { draw_plan(list, frame.theme, view, content); });
        CHECK(frame.all_finite());
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

TEST_CASE("the key for the map goes from signal to dip to none in the debrief, and is the hand's in the exercise") {
    const Folder home;
    Paper paper;
    Desk desk(home.path(), "level-lawn");
    desk.app->set_surface(&paper);
    desk.press(SDLK_s);
    desk.frames(5);
    CHECK(desk.app->session()->debrief_ui.layer == MapLayer::none);
    CHECK_FALSE(desk.app->execute("signal_map"));
    finish_an_exercise(desk);
    const DebriefState& ui = desk.app->session()->debrief_ui;
    CHECK(ui.layer == MapLayer::none); // until it is asked for
    CHECK(paper.sizes.empty());
    desk.press(SDLK_s);
    CHECK(ui.layer == MapLayer::signal);
    wait_for_map(desk);
    CHECK(paper.sizes.size() == field_map_passes.size());
    CHECK(paper.next_row == ui.map->passes().back().rows);
    CHECK(paper.wakes >= static_cast<int>(field_map_passes.size()));
    CHECK(textures_drawn(paper).size() == 1);
    desk.press(SDLK_s);
    CHECK(ui.layer == MapLayer::dip);
    CHECK(ui.map->layer() == MapLayer::dip);
    CHECK(textures_drawn(paper).size() == 1);
    desk.press(SDLK_s);
    CHECK(ui.layer == MapLayer::none);
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

TEST_CASE("a lesson that shows the field has its map while one works, and no other exercise has") {
    const Folder home;
    Paper paper;
    Desk desk(home.path(), "level-lawn");
    desk.app->set_surface(&paper);
    desk.press(SDLK_s, true);
    CHECK(desk.app->session()->ui.layer == MapLayer::none);
    CHECK_FALSE(desk.app->execute("lesson_map"));
    desk.app->allow_field(true);
    const ExerciseUi& ui = desk.app->session()->ui;
    desk.press(SDLK_s, true);
    CHECK(ui.layer == MapLayer::signal);
    REQUIRE(ui.map);
    REQUIRE(ui.points);
    CHECK(ui.points->peak);
    while (!ui.map->finest()) {
        REQUIRE(ui.map->trouble().empty());
        desk.frame();
        wait_a_little();
    }
    desk.frame();
    CHECK(textures_drawn(paper).size() == 1);
    desk.press(SDLK_s, true);
    CHECK(ui.layer == MapLayer::dip);
    desk.press(SDLK_s, true);
    CHECK(ui.layer == MapLayer::none);
    CHECK(textures_drawn(paper).empty());
    desk.app->set_surface(nullptr);
    CHECK(paper.alive.empty());
}

TEST_CASE("the field's lines are shown in the section when they are asked for, with the receiver at the locate") {
    const Folder home;
    Desk desk(home.path(), "level-lawn");
    finish_an_exercise(desk);
    const DebriefState& ui = desk.app->session()->debrief_ui;
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
