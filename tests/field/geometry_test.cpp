// Plane geometry and the pipe, against figures worked by hand.
#include "field/geometry.hpp"
#include "field/pipe.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>

#include <array>
#include <limits>

using namespace sondeyard;
using namespace sondeyard::field;

TEST_CASE("headings run clockwise from north") {
    CHECK(direction_of(90.0).x == doctest::Approx(1.0));
    CHECK(direction_of(180.0).y == doctest::Approx(-1.0));
    CHECK(heading_of({-1.0, 0.0}) == doctest::Approx(270.0));
    for (int i = 0; i < 48; ++i) {
        const double h = 7.5 * i;
        CHECK(heading_of(direction_of(h)) == doctest::Approx(h).epsilon(1e-12));
    }
}

TEST_CASE("an L-shaped outline holds its arms and not its notch") {
    const Polygon house = {{0, 0}, {10, 0}, {10, 4}, {4, 4}, {4, 10}, {0, 10}};
    CHECK(area_m2(house) == doctest::Approx(64.0)); // 10 x 4 + 4 x 6
    CHECK(contains(house, {9.0, 1.0}));
    CHECK(contains(house, {1.0, 9.0}));
    CHECK_FALSE(contains(house, {6.0, 6.0}));
    CHECK(distance_to_edge_m(house, {6.0, 6.0}) == doctest::Approx(2.0));
    CHECK(segment_crosses(house, {6.0, 6.0}, {6.0, 3.0}));
    CHECK_FALSE(segment_crosses(house, {6.0, 6.0}, {12.0, 6.0}));
}

TEST_CASE("a rectangle lies along its heading") {
    const Polygon box = rectangle({5.0, 5.0}, 90.0, 4.0, 2.0);
    CHECK(area_m2(box) == doctest::Approx(8.0));
    CHECK(contains(box, {6.9, 5.9}));
    CHECK_FALSE(contains(box, {5.0, 6.1}));
}

TEST_CASE("distances: 3-4-5, to a bent line, and infinite to none") {
    CHECK(distance_to_segment_m({3.0, 4.0}, {0.0, 0.0}, {0.0, 0.0}) == doctest::Approx(5.0));
    const std::array<glm::dvec2, 3> bent = {{{0, 0}, {10, 0}, {10, 10}}};
    CHECK(distance_to_line_m({12.0, 5.0}, bent) == doctest::Approx(2.0));
    CHECK(distance_to_line_m({0.0, 0.0}, {}) == std::numeric_limits<double>::infinity());
    CHECK(distance_to_polyline_m(rectangle({5.0, 2.0}, 0.0, 2.0, 2.0), bent) == doctest::Approx(1.0));
    CHECK(distance_to_polyline_m(rectangle({5.0, 0.0}, 0.0, 2.0, 2.0), bent) == 0.0);
}

TEST_CASE("developed length is measured along the slope: a 3-4-5 fall") {
    Run run;
    run.centreline_m = {{0, 0, -1}, {4, 0, -4}, {4, 6, -4}}; // 5 m falling, 6 m level
    CHECK(length_m(run) == doctest::Approx(11.0));
    const RunPoint at = at_length(run, 8.0);
    CHECK(at.centre_m.y == doctest::Approx(3.0));
    CHECK(at.direction.y == doctest::Approx(1.0));
    const RunProjection off = project(run, {4.5, 3.0, -4.0});
    CHECK(off.along_m == doctest::Approx(8.0));
    CHECK(off.distance_m == doctest::Approx(0.5));
    const RunAttitude falling = attitude_at(run, 1.0);
    CHECK(falling.heading_deg == doctest::Approx(90.0));
    CHECK(falling.tilt_deg == doctest::Approx(36.8699).epsilon(1e-5)); // asin 3/5
}

TEST_CASE("the sonde rides over the invert, and stands in the middle of a drop") {
    Run run;
    run.inside_diameter_m = 0.10;
    run.centreline_m = {{0, 0, -1}, {10, 0, -1}, {10, 0, -3}};
    CHECK(sonde_centre_m(run, 5.0, 0.025).z == doctest::Approx(-1.025));
    const glm::dvec3 standing = sonde_centre_m(run, 11.0, 0.025);
    CHECK(standing.x == doctest::Approx(10.0));
    CHECK(standing.z == doctest::Approx(-2.0));
    CHECK(attitude_at(run, 11.0).tilt_deg == doctest::Approx(90.0));
}

TEST_CASE("depth to the pipe's top, worked by hand") {
    JobSheet sheet;
    sheet.inside_diameter_m = 0.150;
    sheet.wall_m = 0.015;
    sheet.sonde_above_invert_m = 0.025;
    // 1.500 - (0.150 - 0.025) - 0.015
    CHECK(pipe_top_depth_m(1.5, sheet) == doctest::Approx(1.360));
    World world = test::empty_yard(1.5);
    world.sheet = sheet;
    CHECK(dig_target(world).pipe_top_depth_m == doctest::Approx(1.360));
    CHECK(dig_target(world).springline_depth_m == doctest::Approx(1.450)); // top + wall + radius
}

TEST_CASE("the fault lies ahead of the sonde along the run, round a bend too") {
    World world = test::empty_yard(1.0);
    world.run = Run{{{10, 15, -0.975}, {15.5, 15, -0.975}, {15.5, 20, -0.975}}, PipeMaterial::pvc, 0.10, 0.003};
    world.sonde.position_m = {15.0, 15.0, -1.0};
    world.sheet.sonde_to_lens_m = 0.3;
    world.sheet.lens_to_fault_m = 0.7;
    const DigTarget target = dig_target(world); // 0.5 m to the bend, 0.5 m on
    CHECK(target.centre_m.x == doctest::Approx(15.5));
    CHECK(target.centre_m.y == doctest::Approx(15.5));
    CHECK(faults(world).empty());
}

TEST_CASE("a world says what is wrong with it") {
    World world = test::empty_yard();
    CHECK(faults(world).empty());
    SUBCASE("rising run") {
        world.run = Run{{{10, 15, -1.2}, {20, 15, -1.1}}, PipeMaterial::pvc, 0.10, 0.003};
        CHECK(faults(world).at(0).find("rises from point 1 to point 2") != std::string::npos);
    }
    SUBCASE("sonde off its pipe") {
        world.run = Run{{{10, 16, -1.175}, {20, 16, -1.175}}, PipeMaterial::pvc, 0.10, 0.003};
        CHECK(faults(world).at(0).find("off the run's centre line") != std::string::npos);
    }
    SUBCASE("NaN depth") {
        world.sonde.position_m.z = std::numeric_limits<double>::quiet_NaN();
        CHECK_FALSE(faults(world).empty());
    }
    SUBCASE("start in the house") {
        world.yard.areas.push_back({AreaKind::house, rectangle(world.start_m, 0.0, 4.0, 4.0), "house"});
        CHECK(faults(world).at(0).find("nobody can stand at the start") != std::string::npos);
    }
}
