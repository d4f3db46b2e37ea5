// Plumb points, level line and peak as they really are.
//
// | checked                                                | against                                                      |
// | ---                                                    | ---                                                          |
// | plumb points, level line, circle, peak, ghosts         | locate_facts.csv: root finding and maximisation in another   |
// |                                                        | program, closed forms where there are any                    |
// | a yard with everything in it                           | the dip that the field itself has at the points found        |
#include "empty_yard.hpp"
#include "field/true_points.hpp"
#include "scenarios/scenario.hpp"
#include "sim/units.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <fstream>
#include <map>
#include <sstream>

using namespace sondeyard;
using field::TruePoint;
using field::TruePoints;

namespace {

// fact -> tilt -> value, in depths
std::map<std::string, std::map<double, double>> facts() {
    std::ifstream file(SONDEYARD_TEST_DATA "/reference/locate_facts.csv");
    REQUIRE(file);
    std::map<std::string, std::map<double, double>> all;
    for (std::string line; std::getline(file, line);) {
        std::istringstream words(line);
        std::string fact;
        std::string tilt;
        std::string value;
        if (line.starts_with('#') || !std::getline(words, fact, ',') || !std::getline(words, tilt, ',') ||
            !std::getline(words, value, ',') || fact == "fact") {
            continue;
        }
        try {
            all[fact][std::stod(tilt)] = std::stod(value);
        } catch (const std::invalid_argument&) {
            continue; // facts of no single tilt
        }
    }
    return all;
}

struct Lie { // of a sonde; places on its track in depths, towards the raised end
    double depth_m = 1.0;
    double raised_deg = 90.0;
    double tilt_deg = 0.0;

    field::World world() const {
        field::World w = test::empty_yard(depth_m, raised_deg + 180.0, tilt_deg);
        w.yard.width_m = w.yard.length_m = 40.0;
        w.sonde.position_m = {19.3, 21.1, -depth_m};
        w.receiver.tip_to_antenna_m = 0.0; // the table's places are those of the antenna
        return w;
    }
    glm::dvec2 place(double x, double y = 0.0) const {
        const glm::dvec2 along = field::direction_of(raised_deg);
        return glm::dvec2{19.3, 21.1} + depth_m * (x * along + y * glm::dvec2{-along.y, along.x});
    }
    double off(const glm::dvec2& p, double x) const { return glm::length(p - place(x)) / depth_m; } // in depths
};

TruePoints points_of(const field::World& world) {
    const field::GroundModel ground = field::ground_model_of(world);
    return field::true_points(world, field::scene_of(world, ground, world.sonde), world.sonde);
}

double dip_deg(const field::World& world, const glm::dvec2& place_m) {
    const sim::Scene scene = field::scene_of(world, field::ground_model_of(world), world.sonde);
    const glm::dvec3 axis = sim::major_axis(field::field_at_tip_t(world, scene, place_m));
    return sim::degrees(std::asin(std::min(1.0, std::abs(axis.z))));
}

// How near a line comes to a place, m.
double nearest_m(const std::vector<std::vector<glm::dvec2>>& lines, const glm::dvec2& place) {
    double nearest = 1e9;
    for (const auto& line : lines) {
        nearest = std::min(nearest, field::distance_to_line_m(place, line));
    }
    return nearest;
}

} // namespace

TEST_CASE("plumb points, level line and peak are where the table has them, at every tilt") {
    const auto table = facts();
    const auto& tilts = table.at("plumb_point_low");
    CHECK(tilts.size() >= 12);
    for (const auto& [tilt, low] : tilts) {
        for (const Lie& lie : {Lie{1.0, 90.0, tilt}, Lie{2.3, 217.0, tilt}}) {
            CAPTURE(tilt);
            CAPTURE(lie.depth_m);
            const field::World world = lie.world();
            const TruePoints found = points_of(world);
            const double high = table.at("plumb_point_high").at(tilt);
            REQUIRE(found.plumb.size() >= 1);
            const bool weak_in_yard = std::abs(low) * lie.depth_m < 15.0;
            CHECK(found.plumb.size() == (weak_in_yard ? 2U : 1U));
            if (tilt > 0.0) { // the strong one is on the raised side
                CHECK(lie.off(found.plumb[0].place_m, high) < 1e-3);
                CHECK((!weak_in_yard || lie.off(found.plumb[1].place_m, low) < 1e-3));
            } else {
                const bool first_high = lie.off(found.plumb[0].place_m, high) < 0.1;
                CHECK(lie.off(found.plumb[0].place_m, first_high ? high : low) < 1e-3);
                CHECK(lie.off(found.plumb[1].place_m, first_high ? low : high) < 1e-3);
            }
            REQUIRE(found.peak);
            CHECK(lie.off(found.peak->place_m, table.at("total_peak_on_track").at(tilt)) < 2e-3);
            CHECK(nearest_m(found.level_line, lie.place(table.at("level_line_on_track").at(tilt))) <
                  2e-3 * lie.depth_m);
            const auto& centres = table.at("level_line_circle_centre");
            if (const auto centre = centres.find(tilt); centre != centres.end() && centre->second < 1e3) {
                const double radius = table.at("level_line_circle_radius").at(tilt);
                double worst = 0.0;
                for (const auto& line : found.level_line) {
                    for (const glm::dvec2& p : line) {
                        worst = std::max(worst, std::abs(lie.off(p, centre->second) - radius));
                    }
                }
                CHECK(worst < 1e-3);
            }
        }
    }
}

TEST_CASE("a level sonde's level coil has two ghosts at a fifth of the main peak") {
    const auto table = facts();
    const Lie lie{1.4, 33.0, 0.0};
    const TruePoints found = points_of(lie.world());
    REQUIRE(found.coil_peaks.size() == 3);
    CHECK(lie.off(found.coil_peaks[0].place_m, 0.0) < 2e-3);
    for (const std::size_t k : {1U, 2U}) {
        const double side = lie.off(found.coil_peaks[k].place_m, 1.0) < 1.0 ? 1.0 : -1.0;
        CHECK(lie.off(found.coil_peaks[k].place_m, side * std::sqrt(1.5)) < 5e-3);
        CHECK(found.coil_peaks[k].dbpt - found.coil_peaks[0].dbpt ==
              doctest::Approx(20.0 * std::log10(0.2024)).epsilon(2e-3));
    }
    CHECK(found.lesser_peaks.empty()); // three antennas have no ghosts
}

TEST_CASE("on end the plumb point is the peak is the sonde, and the level line a ring") {
    const Lie lie{1.3, 0.0, 90.0};
    const TruePoints found = points_of(lie.world());
    REQUIRE(found.plumb.size() == 1);
    CHECK(lie.off(found.plumb[0].place_m, 0.0) < 1e-4);
    REQUIRE(found.peak);
    CHECK(lie.off(found.peak->place_m, 0.0) < 1e-3);
    REQUIRE(found.level_line.size() == 1);
    CHECK(found.level_line[0].front() == found.level_line[0].back());
    for (const glm::dvec2& p : found.level_line[0]) {
        CHECK(lie.off(p, 0.0) == doctest::Approx(std::sqrt(2.0)).epsilon(1e-4));
    }
    CHECK(found.coil_peaks.empty());
}

TEST_CASE("nothing is claimed where the receiver would show no dip, nor outside the yard") {
    Lie lie{1.2, 70.0, 60.0};
    field::World world = lie.world();
    const TruePoints loud = points_of(world);
    REQUIRE(loud.plumb.size() == 2);
    const double between_dbpt = 0.5 * (loud.plumb[0].dbpt + loud.plumb[1].dbpt); // the farther point drowns in noise
    world.sonde.moment_am2 *= std::pow(10.0, (field::audible_dbpt(world, world.sonde) - between_dbpt) / 20.0);
    const TruePoints quiet = points_of(world);
    CHECK(quiet.plumb.size() == 1);
    for (const TruePoint& p : quiet.plumb) {
        CHECK(p.dbpt >= field::audible_dbpt(world, world.sonde));
    }
    world.sonde.moment_am2 = 1e-12;
    const TruePoints silent = points_of(world);
    CHECK(silent.plumb.empty());
    CHECK(silent.level_line.empty());
    CHECK_FALSE(silent.peak);
    world = lie.world();
    world.yard.width_m = lie.place(-1.0).x; // the farther one lies to the west of it, the nearer beyond its east side
    for (const TruePoint& p : points_of(world).plumb) {
        CHECK(p.place_m.x <= world.yard.width_m);
    }
}

TEST_CASE("in yards with ground, iron, wires and slopes the points have the dip that is claimed of them") {
    for (const char* name : {"level-lawn", "steep-branch", "on-end", "line-across", "slope-slab-wires"}) {
        CAPTURE(name);
        const field::World world = scenarios::resolve(scenarios::bundled(name), 3);
        const TruePoints found = points_of(world);
        CHECK(found.plumb.size() >= 1);
        CHECK(found.peak);
        CHECK_FALSE(found.level_line.empty());
        for (const TruePoint& p : found.plumb) {
            CHECK(dip_deg(world, p.place_m) > 89.4);
            CHECK(field::distance_to_edge_m({{0, 0},
                                             {world.yard.width_m, 0},
                                             {world.yard.width_m, world.yard.length_m},
                                             {0, world.yard.length_m}},
                                            p.place_m) >= 0.0);
        }
        std::vector<double> dips;
        for (const auto& line : found.level_line) {
            for (const glm::dvec2& p : line) {
                dips.push_back(dip_deg(world, p));
            }
        }
        std::ranges::sort(dips);
        CHECK(dips[dips.size() * 98 / 100] < 0.1); // a raised pad's edge has no place where the dip is 0
    }
}
