// The strength of a whole scene over a grid.
//
// | checked                                   | against                                                            |
// | ---                                       | ---                                                                |
// | everything at once, level and shaped      | whole_field_t, place by place: the scalar functions of the scene   |
// | ground                                    |                                                                    |
// | parts by themselves                       | 2e-7 m / r^3 over a sonde on end; mu0 I / 2 pi rho over a wire with |
// |                                           | its harmonics' powers added by hand; 3-4-5 for two frequencies     |
// | what a receiver hears of each             | a four-pole Butterworth filter times one pole, worked by hand;      |
// |                                           | the ninth harmonic of 60 Hz at 540 Hz alone: 9^-1.5                 |
// | rows by bands, in any order               | the same rows in one go, bit for bit                               |
// | bad grids                                 | refused                                                            |
#include "sim/ground.hpp"
#include "sim/map.hpp"
#include "sim/units.hpp"
#include "tests/sim/support.hpp"

#include <algorithm>
#include <memory>
#include <stdexcept>

using namespace sondeyard::sim;
using sondeyard::test::off;

namespace {

GroundedDipole in_ground(const glm::dvec3& position, const Phasor3& moment, double frequency_hz, double surface_z_m) {
    const double depth = surface_z_m - position.z;
    return {{position, moment, frequency_hz},
            surface_z_m,
            std::make_shared<const GroundTable>(GroundTables(frequency_hz, 50.0, depth, depth).at_depth(depth))};
}

// Two transmitters of different frequency, the mains, lines that bend.
Scene crowded() {
    const LineCurrent water{{{-2.0, 3.0, -0.8}, {6.0, 3.5, -0.7}, {12.0, 9.0, -0.9}}, {2e-5, -7e-5}};
    const LineCurrent cable{{{1.0, -1.0, -0.5}, {1.5, 13.0, -0.6}}, {-1e-5, 3e-5}};
    Emission sonde{512.0,
                   {in_ground({4.0, 5.0, -1.4}, {{0.05, 0.07, -0.02}, {0.01, 0.0, 0.02}}, 512.0, 0.1),
                    {{{7.0, 5.5, -1.1}, {{0.001, 0.002, 0.0}, glm::dvec3{0.0}}, 512.0}, 0.0, nullptr}},
                   {water}};
    Emission other{32768.0, {in_ground({9.0, 2.0, -0.9}, {{0.0, 0.0, 0.1}, glm::dvec3{0.0}}, 32768.0, 0.0)}, {cable}};
    Hum hum;
    hum.fundamental = {{{{0.0, 12.0, 6.0}, {12.0, 12.0, 6.5}}, {0.5, 0.2}}, {cable.points_m, {0.05, 0.0}}};
    return {{sonde, other}, {hum}};
}

double worst_off(const SceneMap& map, const Scene& scene, const MapShares& shares, std::span<const double> z_m) {
    const MapGrid& grid = map.grid();
    std::vector<double> all(static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows));
    map.rows_t(0, z_m, all);
    double worst = 0.0;
    std::size_t i = 0;
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column, ++i) {
            const glm::dvec3 place{grid.west_m + grid.step_m * column, grid.south_m + grid.step_m * row,
                                   z_m.size() == 1 ? z_m.front() : z_m[i]};
            worst = std::max(worst, off(all[i], whole_field_t(scene, shares, place)));
        }
    }
    return worst;
}

} // namespace

TEST_CASE("A map of everything agrees with the scalar scene, over level ground and over shaped") {
    const Scene scene = crowded();
    const MapShares shares{{1.0, 0.3}, 0.02};
    const MapGrid grid{-1.0, -0.5, 0.043, 301, 57}; // more than a stretch of the loop wide, with a rest
    const double level = 0.15;
    CHECK(worst_off(SceneMap(scene, grid, level, level, shares), scene, shares, {&level, 1}) < 1e-3);

    std::vector<double> z(301 * 57);
    for (std::size_t i = 0; i < z.size(); ++i) {
        z[i] = 0.6 + 0.45 * std::sin(0.001 * static_cast<double>(i));
    }
    CHECK(worst_off(SceneMap(scene, grid, 0.15, 1.05, shares), scene, shares, z) < 1e-3);
}

TEST_CASE("Without conducting ground a map agrees with the scalar scene to 1e-11") {
    Scene scene = crowded();
    for (Emission& emission : scene.emissions) {
        for (GroundedDipole& source : emission.dipoles) {
            source.ground = nullptr;
        }
    }
    const double level = 0.05;
    CHECK(worst_off(SceneMap(scene, {-1.0, 0.0, 0.09, 130, 100}, level, level), scene, {}, {&level, 1}) < 1e-11);
}

TEST_CASE("A map's dips are those of the first emission's axis, both parts of the field counted") {
    Scene scene = crowded();
    for (Emission& emission : scene.emissions) {
        for (GroundedDipole& source : emission.dipoles) {
            source.ground = nullptr;
            source.dipole.moment_am2.im = 0.6 * glm::dvec3(source.dipole.moment_am2.re.y, source.dipole.moment_am2.re.z,
                                                           source.dipole.moment_am2.re.x); // out of phase, another way
        }
    }
    const MapGrid grid{-1.0, 0.0, 0.29, 41, 31};
    const double z = 0.05;
    std::vector<double> field(41 * 31);
    std::vector<float> dips(field.size());
    SceneMap(scene, grid, z, z).rows_t(0, {&z, 1}, field, dips);
    double worst_deg = 0.0;
    for (std::size_t i = 0; i < dips.size(); ++i) {
        const glm::dvec3 place{grid.west_m + grid.step_m * static_cast<double>(i % 41),
                               grid.south_m + grid.step_m * static_cast<double>(i / 41), z};
        const glm::dvec3 axis = major_axis(emission_field_t(scene.emissions.front(), place));
        worst_deg = std::max(worst_deg, std::abs(static_cast<double>(dips[i]) - degrees(std::asin(std::abs(axis.z)))));
    }
    CHECK(worst_deg < 0.05);
}

TEST_CASE("A map of one sonde on end, of one wire's hum and of two frequencies has the figures worked by hand") {
    const auto at_origin = [](const Scene& scene, const MapShares& shares) {
        const double z = 0.0;
        double out = 0.0;
        SceneMap(scene, {0.0, 0.0, 1.0, 1, 1}, z, z, shares).rows_t(0, {&z, 1}, {&out, 1});
        return out;
    };
    const auto on_end = [](double moment) {
        return GroundedDipole{{{0.0, 0.0, -2.0}, {{0.0, 0.0, moment}, glm::dvec3{0.0}}, 512.0}, 0.0, nullptr};
    };
    // 0.1 A m2 on end at 2 m: 2.5 nT.
    CHECK(off(at_origin({{{512.0, {on_end(0.1)}, {}}}, {}}, {}), 2.5e-9) < 1e-12);
    // 0.3 and 0.4 A m2: 12.5 nT at two frequencies, 17.5 nT at one; with the second at half, sqrt(7.5^2 + 5^2).
    const Scene two{{{512.0, {on_end(0.3)}, {}}, {640.0, {on_end(0.4)}, {}}}, {}};
    CHECK(off(at_origin(two, {}), 12.5e-9) < 1e-12);
    CHECK(off(at_origin(two, {{1.0, 0.5}, 1.0}), std::sqrt(7.5 * 7.5 + 25.0) * 1e-9) < 1e-12);
    CHECK(off(at_origin({{{512.0, {on_end(0.3), on_end(0.4)}, {}}}, {}}, {}), 17.5e-9) < 1e-12);
    // A wire 2 m down with 1 A: 100 nT, and its 40 harmonics: 1 + 2^-3 0.15^2 + 3^-3 + 4^-3 0.15^2 ...
    double power = 0.0;
    for (int n = 1; n <= 40; ++n) {
        power += (n % 2 == 0 ? 0.0225 : 1.0) / (1.0 * n * n * n);
    }
    Hum hum;
    hum.fundamental = {{{{-3000.0, 0.0, -2.0}, {3000.0, 0.0, -2.0}}, {1.0, 0.0}}};
    CHECK(off(at_origin({{}, {hum}}, {}), 100e-9 * std::sqrt(power)) < 1e-6);
    CHECK(at_origin({{}, {hum}}, {{}, 0.0}) == 0.0);
}

TEST_CASE("A receiver hears its own frequency whole, others and the mains by its tuning") {
    const ReceiverSpec receiver; // 10 Hz either side, 0.15 s
    Scene scene{{{512.0, {}, {}}, {540.0, {}, {}}, {640.0, {}, {}}}, {}};
    const MapShares at_512 = shares_heard(scene, receiver, 512.0);
    CHECK(at_512.emissions[0] == 1.0);
    const double turns = 2.0 * 3.14159265358979 * 28.0 * 0.15;
    CHECK(off(at_512.emissions[1], 1.0 / std::sqrt((1.0 + std::pow(2.8, 8)) * (1.0 + turns * turns))) < 1e-9);
    CHECK(at_512.emissions[2] < 4e-7);
    CHECK(at_512.hum == 0.0);
    CHECK(shares_heard(scene, receiver, 540.0).emissions[1] == 1.0);

    scene.hums.emplace_back(); // 60 Hz: the ninth harmonic is heard at 540 Hz, and nothing else of it to speak of
    double power = 0.0;
    for (int n = 1; n <= 40; ++n) {
        power += (n % 2 == 0 ? 0.0225 : 1.0) / (1.0 * n * n * n);
    }
    CHECK(off(shares_heard(scene, receiver, 540.0).hum, std::pow(9.0, -1.5) / std::sqrt(power)) < 1e-6);
    CHECK(shares_heard(scene, receiver, 512.0).hum < 1e-3 * shares_heard(scene, receiver, 540.0).hum);
}

TEST_CASE("A map's rows are the same whatever bands they are worked out in") {
    const SceneMap map(crowded(), {0.0, 0.0, 0.05, 200, 30}, 0.1, 0.1);
    const double z = 0.1;
    std::vector<double> whole(200 * 30);
    std::vector<double> bands(200 * 30);
    map.rows_t(0, {&z, 1}, whole);
    for (const int first : {20, 0, 10}) {
        map.rows_t(first, {&z, 1}, std::span(bands).subspan(static_cast<std::size_t>(first) * 200, 200 * 10));
    }
    CHECK(whole == bands);
}

TEST_CASE("A map refuses a grid, heights or rows that make no sense") {
    const double z = 0.0;
    CHECK_THROWS_AS(SceneMap({}, {0.0, 0.0, 1.0, 0, 4}, z, z), std::invalid_argument);
    CHECK_THROWS_AS(SceneMap({}, {0.0, 0.0, 1.0, 4, -1}, z, z), std::invalid_argument);
    CHECK_THROWS_AS(SceneMap({}, {0.0, 0.0, 0.0, 4, 4}, z, z), std::invalid_argument);
    CHECK_THROWS_AS(SceneMap({}, {0.0, 0.0, 1.0, 4, 4}, 1.0, 0.0), std::invalid_argument);
    Scene above = crowded();
    above.emissions[0].dipoles[0].surface_z_m = -5.0;
    CHECK_THROWS_AS(SceneMap(above, {0.0, 0.0, 1.0, 4, 4}, z, z), std::invalid_argument);
    const SceneMap map({}, {0.0, 0.0, 1.0, 4, 4}, z, z);
    std::vector<double> out(16);
    CHECK_THROWS_AS(map.rows_t(1, {&z, 1}, out), std::invalid_argument);
    CHECK_THROWS_AS(map.rows_t(-1, {&z, 1}, std::span(out).first(4)), std::invalid_argument);
    CHECK_THROWS_AS(map.rows_t(0, {&z, 1}, std::span(out).first(3)), std::invalid_argument);
    CHECK_THROWS_AS(map.rows_t(0, std::span(out).first(5), out), std::invalid_argument);
    CHECK_NOTHROW(map.rows_t(3, {&z, 1}, std::span(out).first(4)));
    CHECK(out[0] == 0.0);
}
