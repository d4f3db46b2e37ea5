// The map of the true signal: worked out beside the window.
//
// | checked                    | against                                                                    |
// | ---                        | ---                                                                        |
// | values of a finished map   | a dipole's law in closed form (Jackson, Classical Electrodynamics, eq. 5.56, from memory);
// | | the scalar functions of sim                                                 |
// | dips                       | the major axis by the scalar functions of sim                              |
// | contour lines              | the scalar functions at their points; a dipole's law                       |
#include "plan_fixture.hpp"
#include "sim/units.hpp"
#include "ui/window/field_map.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <set>
#include <thread>

using namespace sondeyard;
using namespace sondeyard::ui;

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
