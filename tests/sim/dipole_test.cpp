// The sonde's field.
//
// | checked                                   | against                                                              |
// | ---                                       | ---                                                                  |
// | magnitude and attitude, 320 places        | loop_reference.csv: rings by elliptic integrals, no dipole formula   |
// | four places, hand-worked                  | closed form by hand, to 1e-12                                        |
// | whole vector over the globe               | degree-1 spherical harmonics in the Schmidt convention of            |
// |                                           | geomagnetism (-grad V), IGRF-13 coefficients for 2020 from memory    |
// | equatorial field, moment, inclination     | 29805.9 nT, 7.7084e22 A m2, tan I = 2 tan latitude (from memory)     |
// | sources add, turn, exchange, mirror       | symmetry alone                                                       |
// | divergence and curl                       | zero, by differences of the field                                    |
// | derivatives by place and by moment        | differences of the field, central                                    |
// | heading, tilt                             | the definition, at places where the answer can be said in words      |
#include "sim/dipole.hpp"
#include "tests/sim/support.hpp"

#include <array>
#include <complex>
#include <cstdlib>

using namespace sondeyard::sim;
using sondeyard::test::norm;
using sondeyard::test::off;
using sondeyard::test::pi;
using sondeyard::test::rad;
using sondeyard::test::turned;

namespace {

Dipole with_moment(const glm::dvec3& position, const glm::dvec3& re, const glm::dvec3& im = glm::dvec3{0.0}) {
    return {position, {re, im}, 512.0};
}

// A handful of sources with nothing round or symmetric about them.
std::array<Dipole, 3> crooked_sources() {
    return {with_moment({0.4, -1.3, -1.7}, {0.03, -0.08, 0.02}, {0.01, 0.04, -0.06}),
            with_moment({-2.1, 0.6, -0.9}, {-0.05, 0.01, 0.09}, {0.07, -0.02, 0.03}),
            with_moment({1.9, 2.2, -2.6}, {0.11, 0.02, -0.04}, {-0.03, 0.08, 0.05})};
}

constexpr std::array<std::array<double, 3>, 4> crooked_places = {
    {{0.3, 0.8, 0.05}, {-1.1, 0.2, 0.45}, {2.7, -1.9, 0.0}, {-4.0, -3.1, 1.2}}};

glm::dvec3 vec(const std::array<double, 3>& a) { return {a[0], a[1], a[2]}; }

// IGRF-13, epoch 2020, nT, and the radius it refers to, m. From memory.
constexpr double g10 = -29404.8;
constexpr double g11 = -1450.9;
constexpr double h11 = 4652.5;
constexpr double earth_radius_m = 6371.2e3;

// The degree-1 field of the Earth by Gauss' expansion, T, in Earth-centred axes.
glm::dvec3 gauss_field_t(double colatitude, double longitude, double radius_m) {
    const double st = std::sin(colatitude);
    const double ct = std::cos(colatitude);
    const double sp = std::sin(longitude);
    const double cp = std::cos(longitude);
    const double cube = std::pow(earth_radius_m / radius_m, 3.0) * 1e-9;
    const double outward = 2.0 * cube * (g10 * ct + (g11 * cp + h11 * sp) * st);
    const double southward = cube * (g10 * st - (g11 * cp + h11 * sp) * ct);
    const double eastward = cube * (g11 * sp - h11 * cp);
    return outward * glm::dvec3{st * cp, st * sp, ct} + southward * glm::dvec3{ct * cp, ct * sp, -st} +
           eastward * glm::dvec3{-sp, cp, 0.0};
}

} // namespace

TEST_CASE("The field is that of small coils, by elliptic integrals, within each row's deviation") {
    const auto rows = sondeyard::test::reference_rows("loop_reference.csv");
    REQUIRE(rows.size() >= 300);
    for (const auto& row : rows) {
        const auto number = [&](std::size_t column) { return std::strtod(row.at(column).c_str(), nullptr); };
        const Dipole sonde = make_sonde({0.0, 0.0, -number(5)}, number(3), number(4), 1.0, 512.0);
        const Phasor3 b = dipole_field_t(sonde, {number(6), number(7), number(8)});
        const glm::dvec3 truth{number(10), number(11), number(12)};
        INFO("heading ", row[3], ", tilt ", row[4], ", depth ", row[5], ", at ", row[6], " ", row[7], " ", row[8]);
        CHECK(off(b.re, truth) <= 1.01 * number(13) + 1e-6);
        CHECK(b.im == glm::dvec3{0.0});
    }
}

TEST_CASE("Worked examples: 0.1 A m2 at 2 m") {
    const auto field = [](double heading_deg, double tilt_deg, const glm::dvec3& place) {
        return dipole_field_t(make_sonde({0.0, 0.0, -2.0}, heading_deg, tilt_deg, 0.1, 512.0), place).re;
    };
    // Above a level sonde: -m / R^3, 1.25 nT against the moment.
    CHECK(off(field(90, 0, {0, 0, 0}), {-1.25e-9, 0.0, 0.0}) <= 1e-12);
    // R^2 = 5: bx = 1e-8 (3/5 - 1) / 5^1.5, bz = 1e-8 (3 x 2 / 5) / 5^1.5.
    CHECK(off(field(90, 0, {1, 0, 0}), {-3.577708763999664e-10, 0.0, 1.073312629199899e-9}) <= 1e-12);
    // North end 30 deg down: the level part cos 30 broadside, the upright part half a moment down, axial.
    CHECK(off(field(0, 30, {0, 0, 0}), {0.0, -1.082531754730548e-9, -1.25e-9}) <= 1e-12);
    // On end, moment down: 2 m / R^3.
    CHECK(off(field(0, 90, {0, 0, 0}), {0.0, 0.0, -2.5e-9}) <= 1e-12);
}

TEST_CASE("0.1 A m2 at 3 m gives 370 pT broadside and 741 pT on its axis") {
    CHECK(off(norm(dipole_field_t(make_sonde({0, 0, -3}, 17, 0, 0.1, 512), {0, 0, 0})), 1e-8 / 27.0) <= 1e-12);
    CHECK(off(norm(dipole_field_t(make_sonde({0, 0, -3}, 17, 90, 0.1, 512), {0, 0, 0})), 2e-8 / 27.0) <= 1e-12);
    // The numbers as they are quoted.
    CHECK(off(norm(dipole_field_t(make_sonde({0, 0, -3}, 17, 0, 0.1, 512), {0, 0, 0})), 370.37e-12) <= 2e-6);
    CHECK(off(norm(dipole_field_t(make_sonde({0, 0, -3}, 17, 90, 0.1, 512), {0, 0, 0})), 740.741e-12) <= 2e-6);
}

TEST_CASE("The Earth's dipole: field on the equator, at the pole, and moment") {
    const double b0_nt = std::sqrt(g10 * g10 + g11 * g11 + h11 * h11);
    CHECK(off(b0_nt, 29805.9) <= 2e-6);
    // The published moment puts the published field on the equator; the moment points south.
    const Dipole earth = with_moment(glm::dvec3{0.0}, {0.0, 0.0, -7.7084e22});
    const glm::dvec3 equator = dipole_field_t(earth, {earth_radius_m, 0.0, 0.0}).re;
    CHECK(off(equator, {0.0, 0.0, 29805.9e-9}) <= 2e-5);
    const glm::dvec3 pole = dipole_field_t(earth, {0.0, 0.0, earth_radius_m}).re;
    CHECK(off(pole, {0.0, 0.0, -2.0 * 29805.9e-9}) <= 2e-5);
    CHECK(std::acos(-g10 / b0_nt) * 180.0 / pi == doctest::Approx(9.4105).epsilon(1e-5));
}

TEST_CASE("The whole vector agrees with the degree-1 expansion of the Earth's field") {
    const double unit = earth_radius_m * earth_radius_m * earth_radius_m * 1e7 * 1e-9; // 4 pi a^3 / mu0, from nT
    const Dipole earth = with_moment(glm::dvec3{0.0}, {unit * g11, unit * h11, unit * g10});
    for (int i = 1; i < 12; ++i) {
        for (int j = 0; j < 12; ++j) {
            const double colatitude = rad(15.0 * i);
            const double longitude = rad(30.0 * j + 7.0);
            const double radius = earth_radius_m * (1.0 + 0.3 * j);
            const glm::dvec3 place =
                radius * glm::dvec3{std::sin(colatitude) * std::cos(longitude),
                                    std::sin(colatitude) * std::sin(longitude), std::cos(colatitude)};
            CHECK(off(dipole_field_t(earth, place).re, gauss_field_t(colatitude, longitude, radius)) <= 1e-12);
        }
    }
}

TEST_CASE("tan I = 2 tan latitude round a dipole on end") {
    const Dipole on_end =
        make_sonde(glm::dvec3{0.0}, 0.0, 90.0, 1.0, 512.0); // moment down, as the Earth's points south
    for (const double latitude_deg : {-75.0, -45.0, -20.0, 5.0, 10.0, 30.0, 45.0, 60.0, 80.0}) {
        const double latitude = rad(latitude_deg);
        const glm::dvec3 outward{std::cos(latitude) * std::sin(0.7), std::cos(latitude) * std::cos(0.7),
                                 std::sin(latitude)};
        const glm::dvec3 northward{-std::sin(latitude) * std::sin(0.7), -std::sin(latitude) * std::cos(0.7),
                                   std::cos(latitude)};
        const glm::dvec3 b = dipole_field_t(on_end, 3.0 * outward).re;
        const double down = -(b.x * outward.x + b.y * outward.y + b.z * outward.z);
        const double north = b.x * northward.x + b.y * northward.y + b.z * northward.z;
        CHECK(north > 0.0);
        CHECK(off(down / north, 2.0 * std::tan(latitude)) <= 1e-12);
        if (latitude_deg == 45.0) {
            CHECK(off(std::atan2(down, north) * 180.0 / pi, 63.4349488) <= 1e-9);
        }
    }
}

TEST_CASE("Twice the distance is an eighth of the field, in every direction") {
    const Dipole sonde = with_moment({0.2, -0.4, -1.0}, {0.03, 0.07, -0.05}, {0.02, -0.01, 0.04});
    for (const auto& p : crooked_places) {
        const glm::dvec3 near = sonde.position_m + vec(p);
        const glm::dvec3 far = sonde.position_m + 2.0 * vec(p);
        CHECK(off(8.0 * dipole_field_t(sonde, far), dipole_field_t(sonde, near)) <= 1e-12);
    }
}

TEST_CASE("Sources add, and the field is linear in each moment") {
    const auto sources = crooked_sources();
    for (const auto& p : crooked_places) {
        Phasor3 sum{};
        for (const Dipole& s : sources) {
            sum += dipole_field_t(s, vec(p));
        }
        CHECK(off(field_t(sources, vec(p)), sum) <= 1e-15);

        Dipole both = sources[0];
        both.moment_am2 = 2.5 * sources[0].moment_am2 + sources[1].moment_am2;
        Dipole second = sources[0];
        second.moment_am2 = sources[1].moment_am2;
        CHECK(off(dipole_field_t(both, vec(p)),
                  2.5 * dipole_field_t(sources[0], vec(p)) + dipole_field_t(second, vec(p))) <= 1e-12);
    }
    CHECK(norm(field_t({}, {1.0, 2.0, 3.0})) == 0.0);
}

TEST_CASE("Multiplying every moment by a complex number multiplies the field by it") {
    const std::complex<double> factor = std::polar(1.7, 2.3);
    for (Dipole source : crooked_sources()) {
        const Phasor3 before = dipole_field_t(source, {0.3, 0.8, 0.05});
        source.moment_am2 = {factor.real() * source.moment_am2.re - factor.imag() * source.moment_am2.im,
                             factor.real() * source.moment_am2.im + factor.imag() * source.moment_am2.re};
        const Phasor3 after = dipole_field_t(source, {0.3, 0.8, 0.05});
        const Phasor3 expected{factor.real() * before.re - factor.imag() * before.im,
                               factor.real() * before.im + factor.imag() * before.re};
        CHECK(off(after, expected) <= 1e-12);
    }
}

TEST_CASE("Turning the whole yard turns the field with it") {
    for (const double by_deg : {17.0, 90.0, 133.0, 270.0}) {
        const glm::dvec3 position{0.7, -0.2, -1.4};
        const Dipole sonde = make_sonde(position, 35.0, 22.0, 0.08, 512.0);
        const Dipole turned_sonde = make_sonde(turned(position, by_deg), 35.0 + by_deg, 22.0, 0.08, 512.0);
        for (const auto& p : crooked_places) {
            const glm::dvec3 expected = turned(dipole_field_t(sonde, vec(p)).re, by_deg);
            CHECK(off(dipole_field_t(turned_sonde, turned(vec(p), by_deg)).re, expected) <= 1e-12);
        }
    }
}

TEST_CASE("Reciprocity: a's field in b's moment equals b's field in a's") {
    const auto dot = [](const glm::dvec3& a, const glm::dvec3& b) { return a.x * b.x + a.y * b.y + a.z * b.z; };
    for (const auto& p : crooked_places) {
        const Dipole a = with_moment({0.4, -1.3, -1.7}, {0.03, -0.08, 0.02});
        const Dipole b = with_moment(vec(p), {-0.05, 0.01, 0.09});
        const double a_in_b = dot(b.moment_am2.re, dipole_field_t(a, b.position_m).re);
        const double b_in_a = dot(a.moment_am2.re, dipole_field_t(b, a.position_m).re);
        CHECK(off(a_in_b, b_in_a) <= 1e-12);
    }
}

TEST_CASE("Mirror symmetry: moment and field are axial vectors") {
    const auto mirrored_place = [](const glm::dvec3& v) { return glm::dvec3{v.x, -v.y, v.z}; };
    const auto mirrored_axial = [](const glm::dvec3& v) { return glm::dvec3{-v.x, v.y, -v.z}; };
    const glm::dvec3 position{0.4, -1.3, -1.7};
    const glm::dvec3 moment{0.03, -0.08, 0.02};
    for (const auto& p : crooked_places) {
        const glm::dvec3 b = dipole_field_t(with_moment(position, moment), vec(p)).re;
        const Dipole mirrored = with_moment(mirrored_place(position), mirrored_axial(moment));
        CHECK(off(dipole_field_t(mirrored, mirrored_place(vec(p))).re, mirrored_axial(b)) <= 1e-12);
        // Opposite sides of the dipole: the same field.
        CHECK(off(dipole_field_t(with_moment(position, moment), 2.0 * position - vec(p)).re, b) <= 1e-12);
    }
}

TEST_CASE("In air the field has neither divergence nor curl") {
    const Dipole sonde = make_sonde({0.2, 0.1, -1.2}, 40.0, 25.0, 0.1, 512.0);
    const double h = 1e-4;
    for (const auto& p : crooked_places) {
        const auto slope = [&](int axis) { // dB / d(axis)
            glm::dvec3 step{0.0};
            step[axis] = h;
            return (dipole_field_t(sonde, vec(p) + step).re - dipole_field_t(sonde, vec(p) - step).re) / (2.0 * h);
        };
        const glm::dvec3 dx = slope(0);
        const glm::dvec3 dy = slope(1);
        const glm::dvec3 dz = slope(2);
        const double scale = norm(dx) + norm(dy) + norm(dz);
        CHECK(std::abs(dx.x + dy.y + dz.z) <= 1e-6 * scale);
        CHECK(norm(glm::dvec3{dy.z - dz.y, dz.x - dx.z, dx.y - dy.x}) <= 1e-6 * scale);
    }
}

TEST_CASE("Derivatives of the field by place and by moment are its differences") {
    const glm::dvec3 position{0.2, 0.1, -1.2};
    const glm::dvec3 moment{0.06, -0.03, 0.05};
    const double h = 1e-4;
    const double dm = 1e-3;
    for (const auto& p : crooked_places) {
        const DipoleDerivatives d = dipole_derivatives(position, moment, vec(p));
        const double gradient = norm(d.by_place[0]) + norm(d.by_place[1]) + norm(d.by_place[2]);
        CHECK(off(d.field_t, dipole_field_t(with_moment(position, moment), vec(p)).re) <= 1e-12);
        for (int axis = 0; axis < 3; ++axis) {
            glm::dvec3 step{0.0};
            step[axis] = h;
            const auto at = [&](const glm::dvec3& place) {
                return dipole_field_t(with_moment(position, moment), place).re;
            };
            const glm::dvec3 slope = (at(vec(p) + step) - at(vec(p) - step)) / (2.0 * h);
            CHECK(norm(d.by_place[axis] - slope) <= 1e-6 * gradient);
            step[axis] = dm;
            const glm::dvec3 per_moment = (dipole_field_t(with_moment(position, moment + step), vec(p)).re -
                                           dipole_field_t(with_moment(position, moment - step), vec(p)).re) /
                                          (2.0 * dm);
            CHECK(off(d.by_moment[axis], per_moment) <= 1e-9);
        }
    }
}

TEST_CASE("Inside the closest range the field is held, finite and without a jump") {
    const glm::dvec3 position{1.0, 2.0, -0.1};
    const Dipole sonde = make_sonde(position, 90.0, 0.0, 0.1, 512.0);
    // At the dipole itself: as straight above it, 1e-8 / 0.15^3.
    CHECK(off(dipole_field_t(sonde, position).re, {-2.962962962962963e-6, 0.0, 0.0}) <= 1e-12);
    const glm::dvec3 direction{0.48, -0.6, 0.64};
    const Phasor3 held = dipole_field_t(sonde, position + 0.15 * direction);
    for (const double range : {1e-9, 0.01, 0.1, 0.1499999}) {
        CHECK(off(dipole_field_t(sonde, position + range * direction), held) <= 1e-6);
    }
    CHECK(off(dipole_field_t(sonde, position + 0.1500001 * direction), held) <= 1e-5);
    CHECK(norm(dipole_field_t(sonde, position + 0.16 * direction)) < norm(held));
}

TEST_CASE("Headings run clockwise from north and a positive tilt points that end down") {
    const double half_root3 = 0.8660254037844386;
    CHECK(norm(axis_of(0, 0) - glm::dvec3{0, 1, 0}) <= 1e-15);
    CHECK(norm(axis_of(90, 0) - glm::dvec3{1, 0, 0}) <= 1e-15);
    CHECK(norm(axis_of(180, 0) - glm::dvec3{0, -1, 0}) <= 1e-15);
    CHECK(norm(axis_of(270, 0) - glm::dvec3{-1, 0, 0}) <= 1e-15);
    CHECK(norm(axis_of(30, 0) - glm::dvec3{0.5, half_root3, 0}) <= 1e-15);
    CHECK(norm(axis_of(0, 30) - glm::dvec3{0, half_root3, -0.5}) <= 1e-15);
    CHECK(norm(axis_of(0, -30) - glm::dvec3{0, half_root3, 0.5}) <= 1e-15);
    CHECK(norm(axis_of(123, 90) - glm::dvec3{0, 0, -1}) <= 1e-15);
}

TEST_CASE("Heading and tilt come back from the axis they made") {
    for (int heading = 0; heading < 360; heading += 15) {
        for (int tilt = -85; tilt <= 85; tilt += 10) {
            const HeadingTilt back = heading_tilt_of(3.7 * axis_of(heading, tilt));
            double turn = std::abs(back.heading_deg - heading);
            turn = std::min(turn, 360.0 - turn);
            CHECK(turn <= 1e-11);
            CHECK(std::abs(back.tilt_deg - tilt) <= 1e-11);
            CHECK(back.heading_deg >= 0.0);
            CHECK(back.heading_deg < 360.0);
        }
    }
    CHECK(heading_tilt_of({0.0, -2.0, 0.0}).heading_deg == 180.0);
    CHECK(heading_tilt_of({-1e-17, 1.0, 0.0}).heading_deg < 360.0); // a hair west of north
    CHECK(heading_tilt_of({-1.0, 0.0, -1.0}).heading_deg == 270.0);
    CHECK(off(heading_tilt_of({-1.0, 0.0, -1.0}).tilt_deg, 45.0) <= 1e-14);
}

TEST_CASE("On end there is no heading, and none is made of rounding") {
    for (const double heading : {0.0, 77.0, 200.0, 359.0}) {
        CHECK(heading_tilt_of(axis_of(heading, 90.0)).heading_deg == 0.0);
        CHECK(off(heading_tilt_of(axis_of(heading, 90.0)).tilt_deg, 90.0) <= 1e-12);
        CHECK(heading_tilt_of(axis_of(heading, -90.0)).heading_deg == 0.0);
        CHECK(off(heading_tilt_of(axis_of(heading, -90.0)).tilt_deg, -90.0) <= 1e-12);
    }
}

TEST_CASE("A sonde is its moment along its axis, in phase, at its frequency") {
    const Dipole sonde = make_sonde({1.0, 2.0, -3.0}, 90.0, 30.0, 0.2, 32768.0);
    CHECK(sonde.position_m == glm::dvec3{1.0, 2.0, -3.0});
    CHECK(off(sonde.moment_am2.re, {0.1732050807568877, 0.0, -0.1}) <= 1e-12);
    CHECK(sonde.moment_am2.im == glm::dvec3{0.0});
    CHECK(sonde.frequency_hz == 32768.0);
}
