// The line beside the run.
//
// | checked                                | against                                                                 |
// | ---                                    | ---                                                                     |
// | flux, any line, any moment             | integral of A = 1e-7 m x r / R^3 along the line, by Simpson's rule      |
// | field of unit current                  | Biot and Savart's integral, by Simpson's rule; a long line against      |
// |                                        | mu0 / 2 pi r, and the centre of a square against 2 sqrt 2 mu0 / pi side |
// |                                        | (textbook values, Jackson ch. 5 and Griffiths ch. 5, from memory)       |
// | inductance                             | Rosa 1908 (from memory): 1.0 m of 1 mm radius, by hand; worked case     |
// | current, field, change of amplitude    | the worked case below at four frequencies, reckoned apart from this code|
// | lag, power taken                       | passivity of a coil with resistance                                     |
// | what couples and what does not         | symmetry                                                                |
#include "sim/line.hpp"
#include "tests/sim/support.hpp"

#include <array>
#include <limits>
#include <stdexcept>

using namespace sondeyard::sim;
using sondeyard::test::norm;
using sondeyard::test::off;
using sondeyard::test::pi;

namespace {

using Points = std::vector<glm::dvec3>;

glm::dvec3 cross(const glm::dvec3& a, const glm::dvec3& b) {
    return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
double dot(const glm::dvec3& a, const glm::dvec3& b) { return a.x * b.x + a.y * b.y + a.z * b.z; }

// Simpson's rule over every piece of a vector that depends on the place on the line and its direction.
template <typename Integrand>
glm::dvec3 along_line(const Points& points, const Integrand& f) {
    constexpr int steps = 20000;
    glm::dvec3 sum{0.0};
    for (std::size_t i = 1; i < points.size(); ++i) {
        const glm::dvec3 step = (points[i] - points[i - 1]) / double(steps);
        for (int j = 0; j <= steps; ++j) {
            const double weight = (j == 0 || j == steps ? 1.0 : (j % 2 == 1 ? 4.0 : 2.0)) / 3.0;
            sum += weight * f(points[i - 1] + double(j) * step, step);
        }
    }
    return sum;
}

glm::dvec3 biot_savart_t(const Points& points, const glm::dvec3& place) {
    return along_line(points, [&](const glm::dvec3& at, const glm::dvec3& step) {
        const glm::dvec3 r = place - at;
        return 1e-7 / std::pow(norm(r), 3.0) * cross(step, r);
    });
}

double flux_by_potential_wb(const Points& points, const glm::dvec3& sonde, const glm::dvec3& moment) {
    return along_line(points,
                      [&](const glm::dvec3& at, const glm::dvec3& step) {
                          const glm::dvec3 r = at - sonde;
                          const glm::dvec3 potential = 1e-7 / std::pow(norm(r), 3.0) * cross(moment, r);
                          return glm::dvec3{dot(potential, step), 0.0, 0.0};
                      })
        .x;
}

double degrees_between(std::complex<double> a, std::complex<double> b) { return std::arg(a / b) * 180.0 / pi; }

// 0.1 A m2 along y at depth 2, straight below a line along x at depth 0.6, 40 m long.
Dipole worked_sonde(double frequency_hz) { return {{0, 0, -2}, {{0, 0.1, 0}, glm::dvec3{0.0}}, frequency_hz}; }
Conductor worked_line() { return {{{-20, 0, -0.6}, {20, 0, -0.6}}, 0.0125, 10.0}; }

const Points crooked = {{-7.0, 2.0, -0.8}, {-1.0, 0.6, -0.9}, {0.5, -0.4, -0.7}, {6.0, -1.0, -1.1}, {6.2, -9.0, -0.4}};

} // namespace

TEST_CASE("Flux linked with a line is the integral of the vector potential along it") {
    const glm::dvec3 sonde{0.3, 0.9, -2.2};
    for (const glm::dvec3& m : {glm::dvec3{0.1, 0, 0}, {0, 0.1, 0}, {0, 0, 0.1}, {0.03, -0.07, 0.05}}) {
        const std::complex<double> flux = linked_flux_wb(crooked, {sonde, {m, -2.0 * m}, 512.0});
        const double truth = flux_by_potential_wb(crooked, sonde, m);
        CHECK(off(flux.real(), truth) <= 1e-11);
        CHECK(off(flux.imag(), -2.0 * truth) <= 1e-11);
    }
    // The other way along the same line.
    const Points back(crooked.rbegin(), crooked.rend());
    const Dipole source{sonde, {{0.03, -0.07, 0.05}, glm::dvec3{0.0}}, 512.0};
    CHECK(off(linked_flux_wb(back, source).real(), -linked_flux_wb(crooked, source).real()) <= 1e-13);
}

TEST_CASE("The field of unit current is that of Biot and Savart, piece by piece") {
    for (const glm::dvec3& place :
         {glm::dvec3{0, 0, 0.05}, {0.45, -0.3, 0.05}, {-9, 3, 1}, {6.1, -12, 0.4}, {3.0, -0.5, -0.7}, {40, 25, 2}}) {
        CHECK(off(unit_current_field_t(crooked, place), biot_savart_t(crooked, place)) <= 1e-11);
    }
    // By hand: abreast of the middle of 40 m at 0.65 m, 2e-7 / 0.65 x 20 / sqrt(20^2 + 0.65^2), current in +x: B in -y
    // above it.
    const glm::dvec3 above = unit_current_field_t(worked_line().points_m, {0, 0, 0.05});
    CHECK(off(above, {0, -2e-7 / 0.65 * 20.0 / std::sqrt(400.4225), 0}) <= 1e-13);
}

TEST_CASE("Textbook fields: a long straight wire and the centre of a square") {
    const Points wire = {{-1e4, 0, 0}, {1e4, 0, 0}};
    for (const double r : {0.1, 1.0, 7.0}) {
        CHECK(off(norm(unit_current_field_t(wire, {0, 0, r})), 2e-7 / r) <= 1e-6);
    }
    CHECK(norm(unit_current_field_t(wire, {0, 0, 1})) == doctest::Approx(2e-7).epsilon(1e-6)); // the old ampere
    const Points square = {{0, 0, 0}, {3, 0, 0}, {3, 3, 0}, {0, 3, 0}, {0, 0, 0}};
    const glm::dvec3 centre = unit_current_field_t(square, {1.5, 1.5, 0});
    CHECK(off(centre, {0, 0, 2.0 * std::numbers::sqrt2 * 4e-7 / 3.0}) <= 1e-13);
    // A pole on end carries current up: north of it the field points west.
    const Points pole = {{0, 0, -1e4}, {0, 0, 1e4}};
    CHECK(off(unit_current_field_t(pole, {0, 2, 0}), {-1e-7, 0, 0}) <= 1e-6);
}

TEST_CASE("From afar a small loop of line is a dipole of current times area") {
    const Points loop = {{-0.1, -0.1, 0}, {0.1, -0.1, 0}, {0.1, 0.1, 0}, {-0.1, 0.1, 0}, {-0.1, -0.1, 0}};
    for (const glm::dvec3& place : {glm::dvec3{30, 10, 20}, {-5, 40, -3}}) {
        const double r = norm(place);
        const glm::dvec3 m{0, 0, 0.04};
        const glm::dvec3 dipole = 1e-7 * (3.0 * dot(m, place) * place / std::pow(r, 5.0) - m / std::pow(r, 3.0));
        CHECK(off(unit_current_field_t(loop, place), dipole) <= 1e-3);
    }
}

TEST_CASE("Near the wire the field is held, finite and without a jump") {
    const Points wire = {{-5, 0, 0}, {0, 0, 0}, {5, 0, 0}};
    CHECK(norm(unit_current_field_t(wire, {1, 0, 0})) == 0.0);
    CHECK(norm(unit_current_field_t(wire, {0, 0, 0})) == 0.0);
    CHECK(norm(unit_current_field_t(wire, {5, 0, 0})) == 0.0);
    CHECK(norm(unit_current_field_t(wire, {5.5, 0, 0})) == 0.0);
    // As inside a bar of 0.05 m: half way out, half the field of its surface.
    const double surface = norm(unit_current_field_t(wire, {1, 0, 0.05}));
    CHECK(off(surface, 2e-7 / 0.05) <= 1e-3);
    CHECK(off(norm(unit_current_field_t(wire, {1, 0, 0.025})), 0.5 * surface) <= 1e-5); // the other piece is not held
    // Steps of a micrometre never change it by more than the slope of that bar allows, by 3 for the bend of the ends.
    for (const glm::dvec3& direction : {glm::dvec3{0, 0, 1}, {0, 0.6, 0.8}, {0.8, 0, 0.6}}) {
        for (const double x : {-5.0, -4.98, 0.0, 1.0, 5.0, 5.03}) {
            glm::dvec3 before = unit_current_field_t(wire, {x, 0, 0});
            for (int i = 1; i <= 60; ++i) {
                const glm::dvec3 place = glm::dvec3{x, 0, 0} + 0.001 * i * direction;
                const glm::dvec3 now = unit_current_field_t(wire, place);
                CHECK(norm(now - before) <= 3.0 * 0.001 * 2e-7 / (0.05 * 0.05));
                before = now;
            }
        }
    }
    // Nothing to carry a current.
    CHECK(norm(unit_current_field_t(Points{}, {0, 0, 0})) == 0.0);
    CHECK(norm(unit_current_field_t(Points{{1, 2, 3}}, {1, 2, 3})) == 0.0);
    CHECK(norm(unit_current_field_t(Points{{1, 2, 3}, {1, 2, 3}}, {1, 2, 3})) == 0.0);
    CHECK(norm(unit_current_field_t(Points{{1, 2, 3}, {1, 2, 3}}, {1, 2, 4})) == 0.0);
}

TEST_CASE("Inductance of a straight wire by Rosa's formula") {
    // 2e-7 x 1 x (ln 2000 - 1), by hand: ln 2000 = 7.600902.
    CHECK(off(self_inductance_h(1.0, 0.001), 1.3201805e-6) <= 1e-7);
    // 10 m of 2 mm wire, mu0 / 2 pi: 2e-6 (ln 20000 - 1), ln 20000 = 9.903488.
    CHECK(off(self_inductance_h(10.0, 0.001), 17.806975e-6) <= 1e-7);
    CHECK(off(self_inductance_h(40.0, 0.0125), 62.11e-6) <= 1e-4);
    CHECK(conductor_length_m(Points{{0, 0, 0}, {3, 4, 0}, {3, 4, 12}}) == 17.0);
    CHECK(conductor_length_m(Points{{1, 1, 1}}) == 0.0);
}

TEST_CASE("Worked line: 40 m straight above a sonde that lies across it") {
    const Conductor line = worked_line();
    CHECK(off(linked_flux_wb(line.points_m, worked_sonde(512)).real(), 1.42508e-8) <= 4e-6);
    struct Row {
        double frequency_hz;
        double current_a;
        double phase_deg;
        double line_t;
        double change_percent;
    };
    for (const Row& row :
         {Row{512, 4.584e-6, -91.1, 1.41e-12, -0.00}, Row{640, 5.729e-6, -91.4, 1.76e-12, std::nan("")},
          Row{8192, 69.87e-6, -107.7, 21.5e-12, -0.55}, Row{32768, 180.7e-6, -142.0, 55.6e-12, -3.7}}) {
        INFO(row.frequency_hz, " Hz");
        const Dipole sonde = worked_sonde(row.frequency_hz);
        const std::complex<double> current = induced_current_a(line, sonde);
        CHECK(off(std::abs(current), row.current_a) <= 3e-4);
        CHECK(std::abs(std::arg(current) * 180.0 / pi - row.phase_deg) <= 0.05);
        const glm::dvec3 place{0, 0, 0.05};
        const glm::dvec3 unit = unit_current_field_t(line.points_m, place);
        CHECK(off(std::abs(current) * norm(unit), row.line_t) <= 4e-3);
        const Phasor3 direct = dipole_field_t(sonde, place);
        CHECK(off(norm(direct), 1160.7e-12) <= 5e-5);
        const Phasor3 both{direct.re + current.real() * unit, direct.im + current.imag() * unit};
        if (!std::isnan(row.change_percent)) {
            CHECK(std::abs(100.0 * (norm(both) / norm(direct) - 1.0) - row.change_percent) <= 0.05);
        }
    }
    // Signs, in words: below 8 kHz and above, the induced current works against the flux that drives it.
    CHECK(induced_current_a(line, worked_sonde(32768)).real() < 0.0);
}

TEST_CASE("The induced current lags the flux by 90 to 180 degrees and takes power, never gives it") {
    const Dipole base{{0.3, 0.9, -2.2}, {{0.03, -0.07, 0.05}, {-0.02, 0.04, 0.01}}, 512.0};
    double before = -90.0;
    for (int step = 0; step < 23; ++step) {
        const double f = 10.0 * std::pow(1.5, step); // to 75 kHz
        for (const double resistance : {0.5, 10.0, 200.0}) {
            Dipole source = base;
            source.frequency_hz = f;
            const std::complex<double> flux = linked_flux_wb(crooked, source);
            // One real moment at a time: the phase of Phi is then 0 or 180.
            const std::complex<double> current = induced_current_a({crooked, 0.02, resistance}, source);
            source.moment_am2.im = glm::dvec3{0.0};
            const std::complex<double> real_flux = linked_flux_wb(crooked, source);
            const std::complex<double> real_current = induced_current_a({crooked, 0.02, resistance}, source);
            CHECK(degrees_between(real_current, real_flux) < -90.0);
            CHECK(degrees_between(real_current, real_flux) > -180.0);
            CHECK(degrees_between(current, flux) == doctest::Approx(degrees_between(real_current, real_flux)));
            const std::complex<double> emf = std::complex<double>{0.0, -2.0 * pi * f} * flux;
            // All of it becomes heat in R.
            CHECK(off((std::conj(current) * emf).real(), std::norm(current) * resistance) <= 1e-9);
            if (resistance == 10.0) {
                CHECK(degrees_between(current, flux) < before);
                before = degrees_between(current, flux);
            }
        }
    }
    // R = omega L: half way, -135 degrees.
    Dipole source = base;
    const double resistance = 2.0 * pi * 512.0 * self_inductance_h(conductor_length_m(crooked), 0.02);
    CHECK(degrees_between(induced_current_a({crooked, 0.02, resistance}, source), linked_flux_wb(crooked, source)) ==
          doctest::Approx(-135.0));
    source.frequency_hz = 0.0;
    CHECK(std::abs(induced_current_a({crooked, 0.02, 10.0}, source)) == 0.0);
}

TEST_CASE("A level sonde parallel to the line couples nothing and one across it couples most") {
    const Points line = {{-20, 1.2, -0.6}, {20, 1.2, -0.6}};
    const auto flux_at = [&](double heading_deg) {
        return std::abs(linked_flux_wb(line, make_sonde({3, 0, -2}, heading_deg, 0.0, 0.1, 512.0)));
    };
    const double across = flux_at(0.0);
    CHECK(flux_at(90.0) <= 1e-15 * across);
    for (int step = -17; step <= 17; ++step) {
        const double heading = 5.0 * step;
        CHECK(off(flux_at(heading), across * std::cos(sondeyard::test::rad(heading))) <= 1e-12);
    }
    // Right under the line one on end couples nothing either.
    const Points overhead = {{-20, 0, -0.6}, {20, 0, -0.6}};
    CHECK(std::abs(linked_flux_wb(overhead, make_sonde({0, 0, -2}, 0.0, 90.0, 0.1, 512.0))) <= 1e-15 * across);
}

TEST_CASE("An isolated line carries no current") {
    Conductor line = worked_line();
    line.resistance_ohm = std::numeric_limits<double>::infinity();
    CHECK(induced_current_a(line, worked_sonde(32768)) == std::complex<double>{0.0});
    // And tends there: twice the resistance, half the current.
    line.resistance_ohm = 1e6;
    const double at_1e6 = std::abs(induced_current_a(line, worked_sonde(512)));
    line.resistance_ohm = 2e6;
    CHECK(off(std::abs(induced_current_a(line, worked_sonde(512))), 0.5 * at_1e6) <= 1e-9);
}

TEST_CASE("A line that cannot be is refused with what is allowed") {
    const Dipole sonde = worked_sonde(512);
    const Points points = worked_line().points_m;
    CHECK_THROWS_AS(induced_current_a({points, 0.0125, 0.0}, sonde), std::invalid_argument);
    CHECK_THROWS_AS(induced_current_a({points, 0.0125, -1.0}, sonde), std::invalid_argument);
    CHECK_THROWS_AS(induced_current_a({points, 0.0125, std::nan("")}, sonde), std::invalid_argument);
    CHECK_THROWS_AS(induced_current_a({points, 0.0, 10.0}, sonde), std::invalid_argument);
    CHECK_THROWS_AS(induced_current_a({{{0, 0, 0}}, 0.0125, 10.0}, sonde), std::invalid_argument);
    CHECK_THROWS_AS(induced_current_a({points, 0.0125, 10.0}, worked_sonde(-512)), std::invalid_argument);
    CHECK_THROWS_AS(self_inductance_h(1.0, -0.01), std::invalid_argument);
    CHECK_THROWS_AS(self_inductance_h(0.05, 0.01), std::invalid_argument);
    CHECK_THROWS_AS(self_inductance_h(std::numeric_limits<double>::infinity(), 0.01), std::invalid_argument);
    try {
        static_cast<void>(induced_current_a({points, 0.0125, -1.0}, sonde));
        FAIL("a negative resistance was taken");
    } catch (const std::invalid_argument& error) {
        CHECK(std::string(error.what()).find("must be above 0") != std::string::npos);
    }
}
