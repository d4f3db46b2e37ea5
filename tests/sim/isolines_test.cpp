// Lines of equal value by marching squares.
//
// | checked                     | against                                                                      |
// | ---                         | ---                                                                          |
// | points and length of lines  | circles and straight lines, of which they are known in closed form           |
// | where undirected axes level | the level line of a dipole, a circle (worked out from its field, section 3 of the notes on locating), and |
// |                             | axes turned over at random, which must change nothing                        |
#include "sim/dipole.hpp"
#include "sim/isolines.hpp"
#include "sim/phasor.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>
#include <vector>

using namespace sondeyard::sim;

namespace {

template <typename Value, typename Of>
std::vector<Value> over(const MapGrid& grid, const Of& of) {
    std::vector<Value> values;
    values.reserve(static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows));
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            values.push_back(static_cast<Value>(
                of(glm::dvec2{grid.west_m + grid.step_m * column, grid.south_m + grid.step_m * row})));
        }
    }
    return values;
}

double length_of(const Isoline& line) {
    double sum = 0.0;
    for (std::size_t i = 1; i < line.points_m.size(); ++i) {
        sum += glm::length(line.points_m[i] - line.points_m[i - 1]);
    }
    return sum;
}

} // namespace

TEST_CASE("isolines of the distance from a point are circles, whole inside the grid and in arcs at its edge") {
    const MapGrid grid{-1.0, -2.0, 0.05, 81, 101}; // to x = 3, y = 3
    const glm::dvec2 centre{0.7, 0.3};
    const auto values = over<float>(grid, [&](const glm::dvec2& p) { return glm::length(p - centre); });
    const std::vector<double> levels = {0.5, 1.0, 1.6, 2.5};
    const std::vector<Isoline> lines = isolines(grid, values, levels);
    for (const Isoline& line : lines) {
        CAPTURE(line.level);
        for (const glm::dvec2& p : line.points_m) {
            CHECK(glm::length(p - centre) == doctest::Approx(line.level).epsilon(2e-3));
        }
        CHECK(line.closed == (line.level < 1.7));
        CHECK((line.points_m.front() == line.points_m.back()) == line.closed);
        if (line.closed) {
            CHECK(length_of(line) == doctest::Approx(2.0 * std::numbers::pi * line.level).epsilon(2e-3));
        }
    }
    CHECK(std::ranges::count(lines, 0.5, &Isoline::level) == 1);
    CHECK(std::ranges::count(lines, 1.6, &Isoline::level) == 1);
    CHECK(std::ranges::count(lines, 2.5, &Isoline::level) == 3); // over the top from side to side, and two corners
}

TEST_CASE("a level that runs exactly through places of the grid is one line, and a plane gives straight ones") {
    const MapGrid grid{0.0, 0.0, 1.0, 11, 6};
    const auto values = over<float>(grid, [](const glm::dvec2& p) { return p.x; });
    const std::vector<double> levels = whole_levels(values, 2.0);
    CHECK(levels == std::vector<double>{0.0, 2.0, 4.0, 6.0, 8.0, 10.0});
    for (const Isoline& line : isolines(grid, values, levels)) {
        CHECK(line.level > 0.0); // every value reaches 0: no line between
        CHECK(length_of(line) == doctest::Approx(5.0));
        CHECK(line.points_m.size() == 6);
        for (const glm::dvec2& p : line.points_m) {
            CHECK(p.x == doctest::Approx(line.level));
        }
    }
    CHECK(isolines(grid, values, levels).size() == 5);
}

TEST_CASE("isolines: saddles keep their lines apart, values that are no numbers break nothing, bad input says so") {
    const MapGrid grid{0.0, 0.0, 1.0, 2, 2};
    const std::vector<double> zero = {0.0};
    CHECK(isolines(grid, std::vector<float>{1, -1, -1, 1}, zero).size() == 2);
    CHECK(isolines(grid, std::vector<float>{5, -1, -1, 5}, zero).size() == 2);
    // What the middle belongs to hangs together: the south side's line then goes round the corner that does not.
    for (const auto& [values, east] :
         {std::pair{std::vector<float>{5, -1, -1, 5}, true}, std::pair{std::vector<float>{1, -5, -5, 1}, false}}) {
        int from_south = 0;
        for (const Isoline& line : isolines(grid, values, zero)) {
            const bool begins = line.points_m.front().y == 0.0;
            if (begins || line.points_m.back().y == 0.0) {
                ++from_south;
                CHECK((begins ? line.points_m.back() : line.points_m.front()).x == (east ? 1.0 : 0.0));
            }
        }
        CHECK(from_south == 1);
    }
    CHECK(isolines(grid, std::vector<float>{1, 1, 1, 1}, zero).empty());
    constexpr float none = -std::numeric_limits<float>::infinity();
    const auto with_none = isolines(grid, std::vector<float>{none, 1, none, 1}, zero);
    REQUIRE(with_none.size() == 1);
    CHECK(with_none.front().points_m.front().x == 0.5);
    CHECK(whole_levels(std::vector<float>{none, none}, 6.0).empty());
    CHECK(whole_levels(std::vector<float>{-1000.0F, none, 13.0F}, 6.0, 3) == std::vector<double>{0.0, 6.0, 12.0});
    CHECK_THROWS_AS((void)isolines(grid, std::vector<float>{1, 2, 3}, zero), std::invalid_argument);
    CHECK_THROWS_AS((void)isolines(grid, std::vector<float>{1, 2, 3, 4}, std::vector<double>{1.0, 1.0}),
                    std::invalid_argument);
    CHECK_THROWS_AS((void)level_lines(grid, std::vector<glm::dvec3>(3)), std::invalid_argument);
}

TEST_CASE("undirected axes: the level line of a tilted dipole is its circle, whichever way each axis is written") {
    constexpr double depth = 1.0;
    const double tilt = 50.0;
    // Heading 270 goes down, so east is raised: the circle's centre is 1.5 d / tan t east of it.
    const Dipole sonde = make_sonde({0.0, 0.0, -depth}, 270.0, tilt, 0.1, 512.0);
    const double slope = std::tan(tilt * std::numbers::pi / 180.0);
    const glm::dvec2 centre{1.5 * depth / slope, 0.0};
    const double radius = depth * std::sqrt(2.25 / (slope * slope) + 2.0);
    const auto axis = [&](const glm::dvec2& p) { return major_axis(dipole_field_t(sonde, {p, 0.0})); };
    const MapGrid grid{-4.03, -4.02, 0.1, 90, 85};
    int n = 0;
    const auto axes =
        over<glm::dvec3>(grid, [&](const glm::dvec2& p) { return (++n * 7919) % 3 == 0 ? -axis(p) : axis(p); });
    const std::vector<Isoline> lines = level_lines(grid, axes, axis);
    REQUIRE(lines.size() == 1);
    CHECK(lines.front().closed);
    CHECK(length_of(lines.front()) == doctest::Approx(2.0 * std::numbers::pi * radius).epsilon(1e-3));
    double worst = 0.0;
    for (const glm::dvec2& p : lines.front().points_m) {
        worst = std::max(worst, std::abs(glm::length(p - centre) - radius));
    }
    CHECK(worst < 1e-5);
    for (const Isoline& line : level_lines(grid, axes)) { // straight between the places
        for (const glm::dvec2& p : line.points_m) {
            CHECK(std::abs(glm::length(p - centre) - radius) < 5e-3);
        }
    }
    const std::vector<glm::dvec3> nothing(axes.size(), glm::dvec3{0.0});
    CHECK(level_lines(grid, nothing).empty());
}
