// Lines and conducting ground at many places at once.
//
// | checked                                  | against                                                             |
// | ---                                      | ---                                                                 |
// | lines, every instruction set             | sim::unit_current_field_t (line_test.cpp has its outside sources);  |
// |                                          | mu0 I / 2 pi rho beside a long straight wire, by hand               |
// | ground's part, one height and several    | sim::GroundTable::secondary_t; halfspace_reference.csv, whole field |
// | complex moments                          | sim::dipole_field_t                                                 |
#include "sim/batch.hpp"
#include "tests/sim/batch_support.hpp"

#include <array>
#include <cfenv>
#include <complex>
#include <cstdlib>
#include <limits>
#include <stdexcept>

using namespace sondeyard::sim;
using sondeyard::test::Arrays;
using sondeyard::test::EachTarget;
using sondeyard::test::norm;
using sondeyard::test::off;

namespace {

struct Phasors {
    Arrays re;
    Arrays im;

    explicit Phasors(std::size_t n) : re(n), im(n) {}
    PhasorsSoA all() { return {re.fields(0, re.x.size()), im.fields(0, im.x.size())}; }
    Phasor3 at(std::size_t i) const { return {re.at(i), im.at(i)}; }
};

// Over a yard, from low to high.
Arrays over_a_yard(std::size_t n, double low_m, double high_m, double radius_m) {
    Arrays all(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double t = static_cast<double>(i);
        const double share = std::fmod(0.618034 * t, 1.0);
        const double radius = radius_m * share * share;
        all.x[i] = radius * std::sin(2.4 * t);
        all.y[i] = radius * std::cos(2.4 * t);
        all.z[i] = low_m + (high_m - low_m) * std::fmod(0.7548777 * t, 1.0);
    }
    return all;
}

void add_line_fields_t(std::span<const glm::dvec3> points_m, std::complex<double> current_a, const PlacesSoA& places,
                       const PhasorsSoA& out) {
    Arrays unit(places.x_m.size(), 5.0);
    line_unit_fields_t(points_m, places, unit.fields(0, unit.x.size()));
    add_times_t(unit.fields(0, unit.x.size()), current_a, out);
}

const std::vector<glm::dvec3> bent = {{-12.0, 1.0, -0.6}, {-3.0, 1.5, -0.7}, {-3.0, 1.5, -0.7},
                                      {4.0, 3.0, -0.5},   {4.0, 3.0, 0.4},   {15.0, -2.0, 0.4}};
constexpr Phasor3 moment{{0.03, -0.05, 0.07}, {0.01, 0.02, -0.03}};
constexpr std::size_t count = 1003;

} // namespace

TEST_CASE("The batch kernel gives the scalar field of a line on every instruction set to 1e-12") {
    Arrays places = over_a_yard(count, 0.0, 1.5, 20.0);
    // On the line, inside its bar, at its ends, on a piece's extension, at the same place twice, abreast of its middle.
    const std::vector<glm::dvec3> odd = {bent[1],           {-3.0, 1.52, -0.7}, {4.0, 3.0, 0.0},   {4.0, 3.0, 2.0},
                                         {4.0, 3.03, 0.45}, {4.0, 3.0, 0.4},    {0.5, 2.25, -0.6}, {0.5, 2.25, 0.0}};
    for (std::size_t i = 0; i < odd.size(); ++i) {
        places.x[5 * i] = odd[i].x;
        places.y[5 * i] = odd[i].y;
        places.z[5 * i] = odd[i].z;
    }
    const std::complex<double> current{0.3, -0.8};
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        Phasors out(count);
        std::feclearexcept(FE_ALL_EXCEPT);
        add_line_fields_t(bent, current, places.places(0, count), out.all());
        CHECK(std::fetestexcept(FE_DIVBYZERO | FE_INVALID | FE_OVERFLOW) == 0);
        for (std::size_t i = 0; i < count; ++i) {
            const glm::dvec3 unit = unit_current_field_t(bent, places.at(i));
            const Phasor3 due{current.real() * unit, current.imag() * unit};
            CHECK_MESSAGE(norm(out.at(i) + (-1.0) * due) <= 1e-12 * norm(due), "place " << i);
        }
    }
}

TEST_CASE("Beside a long straight wire the batch kernel gives mu0 I over 2 pi rho") {
    // 2 km along y; 0.5, 1 and 2 m off: 400, 200 and 100 nT per ampere, less 1 part in 1e6 for the ends.
    const std::vector<glm::dvec3> wire = {{0.0, -1000.0, 0.0}, {0.0, 1000.0, 0.0}};
    const std::vector<double> x = {0.5, -1.0, 0.0};
    const std::vector<double> y = {0.0, 3.0, -2.0};
    const std::vector<double> z = {0.0, 0.0, 2.0};
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        Phasors out(3);
        add_line_fields_t(wire, {1.0, 0.5}, {x, y, z}, out.all());
        CHECK(off(out.re.at(0), {0.0, 0.0, -400e-9}) < 3e-6);
        CHECK(off(out.re.at(1), {0.0, 0.0, 200e-9}) < 3e-6);
        CHECK(off(out.re.at(2), {100e-9, 0.0, 0.0}) < 3e-6);
        CHECK(off(out.im.at(2), {50e-9, 0.0, 0.0}) < 3e-6);
    }
}

TEST_CASE("A line of no length, of one point or of none adds nothing") {
    const Arrays places = over_a_yard(9, 0.0, 1.0, 5.0);
    const std::vector<glm::dvec3> same = {{1.0, 2.0, -1.0}, {1.0, 2.0, -1.0}};
    Phasors out(9);
    add_line_fields_t(same, 1.0, places.places(0, 9), out.all());
    add_line_fields_t(std::span(same).first(1), 1.0, places.places(0, 9), out.all());
    add_line_fields_t({}, 1.0, places.places(0, 9), out.all());
    for (std::size_t i = 0; i < 9; ++i) {
        CHECK(norm(out.at(i)) == 0.0);
    }
}

TEST_CASE("A moment with both parts gives the scalar phasor") {
    const Arrays places = over_a_yard(count, 0.0, 1.5, 20.0);
    const Dipole source{{0.5, 0.25, -1.25}, moment, 512.0};
    Phasors out(count);
    add_dipole_fields_t(source, places.places(0, count), out.all());
    for (std::size_t i = 0; i < count; ++i) {
        CHECK(off(out.at(i), dipole_field_t(source, places.at(i))) < 1e-14);
    }
}

TEST_CASE("A sheet of ground gives what its table gives, at one height and at several") {
    struct Case {
        double frequency_hz, resistivity_ohm_m, depth_m, low_m, high_m, most_off;
    };
    // At one height and at several; strong ground, weak ground, none to speak of; a shallow source asks for most.
    const std::vector<Case> cases = {
        {512.0, 100.0, 1.5, 0.05, 0.05, 1e-4},  {32768.0, 100.0, 1.5, 0.05, 0.05, 1e-4},
        {83000.0, 10.0, 1.0, 0.0, 1.0, 1e-4},   {8192.0, 10.0, 6.0, 0.0, 3.0, 1e-4},
        {8192.0, 10000.0, 2.0, 0.5, 1.5, 1e-4}, {83000.0, 10.0, 0.3, 0.0, 3.0, 1e-3},
    };
    const glm::dvec3 surface{3.0, -2.0, 0.7};
    for (const Case& c : cases) {
        const GroundTable table =
            GroundTables(c.frequency_hz, c.resistivity_ohm_m, c.depth_m, c.depth_m).at_depth(c.depth_m);
        const GroundSheet sheet(table, c.depth_m, c.low_m, c.high_m, 50.0);
        Arrays places = over_a_yard(count, c.low_m, c.high_m, 50.0);
        for (std::size_t i = 0; i < count; ++i) {
            places.x[i] += surface.x;
            places.y[i] += surface.y;
            places.z[i] += surface.z;
        }
        const Dipole source{surface - glm::dvec3{0.0, 0.0, c.depth_m}, moment, c.frequency_hz};
        EachTarget target;
        while (target.next()) {
            INFO("target " << batch_target() << ", " << c.frequency_hz << " Hz, depth " << c.depth_m);
            Phasors out(count);
            add_ground_fields_t(sheet, surface, moment, places.places(0, count), out.all());
            double worst = 0.0;
            for (std::size_t i = 0; i < count; ++i) {
                const Phasor3 due = table.secondary_t(moment, places.at(i) - surface);
                const Phasor3 whole = due + dipole_field_t(source, places.at(i));
                worst = std::max(worst, norm(out.at(i) + (-1.0) * due) / norm(whole));
            }
            CHECK(worst < c.most_off);
        }
    }
}

TEST_CASE("With its sheet of ground a dipole has the half-space's field, by the reference table") {
    const auto rows = sondeyard::test::reference_rows("halfspace_reference.csv");
    REQUIRE(rows.size() > 100);
    int seen = 0;
    for (std::size_t i = 0; i < rows.size(); i += 47) {
        const auto number = [&](std::size_t column) { return std::strtod(rows[i].at(column).c_str(), nullptr); };
        const double h = sondeyard::test::rad(number(3));
        const double t = sondeyard::test::rad(number(4));
        const Phasor3 axis{{std::sin(h) * std::cos(t), std::cos(h) * std::cos(t), -std::sin(t)}, glm::dvec3{0.0}};
        const double depth = number(2);
        const GroundSheet sheet(GroundTables(number(0), number(1), depth, depth).at_depth(depth), depth, number(7),
                                number(7), 20.0);
        const std::array<double, 3> at = {number(5), number(6), number(7)};
        const PlacesSoA place{{&at[0], 1}, {&at[1], 1}, {&at[2], 1}};
        Phasors out(1);
        add_dipole_fields_t({{0.0, 0.0, -depth}, axis, number(0)}, place, out.all());
        add_ground_fields_t(sheet, glm::dvec3{0.0}, axis, place, out.all());
        const Phasor3 truth{{number(8), number(10), number(12)}, {number(9), number(11), number(13)}};
        CHECK(norm(out.re.at(0) - truth.re) < 1e-3 * norm(truth));
        CHECK(norm(out.im.at(0) - truth.im) < 1e-3 * norm(truth));
        ++seen;
    }
    CHECK(seen >= 40);
}

TEST_CASE("A sheet of ground refuses what makes no sense") {
    const GroundTable none;
    CHECK_THROWS_AS(GroundSheet(none, 0.0, 0.0, 1.0, 10.0), std::invalid_argument);
    CHECK_THROWS_AS(GroundSheet(none, 1.0, 1.0, 0.5, 10.0), std::invalid_argument);
    CHECK_THROWS_AS(GroundSheet(none, 1.0, 0.0, 1.0, 0.0), std::invalid_argument);
    CHECK_THROWS_AS(GroundSheet(none, std::numeric_limits<double>::quiet_NaN(), 0.0, 1.0, 9.0), std::invalid_argument);
}
