// The field at many places at once.
//
// | checked                                     | against                                                          |
// | ---                                         | ---                                                              |
// | every instruction set this machine has      | sim::dipole_field_t, which is checked against outside sources in |
// |                                             | dipole_test.cpp; loop_reference.csv; a hand-worked place         |
// | any number of places, arrays that begin     | the same, place by place; what lies beyond the end is left alone |
// | anywhere                                    |                                                                  |
// | near the source, and at it                  | the same; no trap of the floating-point unit is set off          |
// | arrays of different length                  | refused                                                          |
#include "sim/batch.hpp"
#include "sim/dipole.hpp"
#include "tests/sim/batch_support.hpp"

#include <algorithm>
#include <array>
#include <cfenv>
#include <cstdlib>
#include <span>
#include <stdexcept>
#include <vector>

using namespace sondeyard::sim;
using sondeyard::test::Arrays;
using sondeyard::test::EachTarget;
using sondeyard::test::norm;
using sondeyard::test::off;

namespace {

// Places from a hand's breadth to a hundred metres off, on no grid.
Arrays scattered(std::size_t n) {
    Arrays all(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double t = static_cast<double>(i);
        const double range = 0.2 * std::pow(500.0, std::fmod(0.618034 * t, 1.0));
        all.x[i] = range * std::sin(1.1 * t);
        all.y[i] = range * std::cos(0.7 * t);
        all.z[i] = -1.4 + 0.5 * range * std::sin(2.3 * t);
    }
    return all;
}

constexpr glm::dvec3 position{0.3, -0.2, -1.4};
constexpr glm::dvec3 moment{0.05, 0.08, -0.03};
constexpr double untouched = -7.0;
using Kernel = void (*)(const glm::dvec3&, const glm::dvec3&, const PlacesSoA&, const FieldsSoA&);

Dipole dipole() { return {position, {moment, glm::dvec3{0.0}}, 512.0}; }

} // namespace

TEST_CASE("The batch kernel gives the scalar field on every instruction set to 1e-14") {
    const Arrays places = scattered(4099);
    EachTarget target;
    int targets = 0;
    while (target.next()) {
        ++targets;
        INFO("target " << batch_target());
        for (const Kernel kernel : {Kernel{dipole_fields_t}, Kernel{plain_dipole_fields_t}}) {
            Arrays out(4099);
            kernel(position, moment, places.places(0, 4099), out.fields(0, 4099));
            double worst = 0.0;
            for (std::size_t i = 0; i < 4099; ++i) {
                worst = std::max(worst, off(out.at(i), dipole_field_t(dipole(), places.at(i)).re));
            }
            CHECK(worst < 1e-14);
        }
    }
    CHECK(targets >= 2); // the plain one and at least one with vectors, on any machine that this is built for
}

TEST_CASE("The batch kernel gives the field of small coils, by elliptic integrals, within each row's deviation") {
    const auto rows = sondeyard::test::reference_rows("loop_reference.csv");
    REQUIRE(rows.size() >= 300);
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        for (const auto& row : rows) {
            const auto number = [&](std::size_t column) { return std::strtod(row.at(column).c_str(), nullptr); };
            const double h = sondeyard::test::rad(number(3));
            const double t = sondeyard::test::rad(number(4));
            const std::array<double, 3> at = {number(6), number(7), number(8)};
            Arrays out(1);
            dipole_fields_t({0.0, 0.0, -number(5)},
                            {std::sin(h) * std::cos(t), std::cos(h) * std::cos(t), -std::sin(t)},
                            {{&at[0], 1}, {&at[1], 1}, {&at[2], 1}}, out.fields(0, 1));
            CHECK(off(out.at(0), {number(10), number(11), number(12)}) <= 1.01 * number(13) + 1e-6);
        }
    }
}

TEST_CASE("The batch kernel gives places worked by hand") {
    // On the axis of a dipole B = 2e-7 m / r^3, beside it half of that and the other way: 0.1 A m2 at 1 and 2 m.
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        const std::vector<double> x = {0.0, 2.0, 0.0};
        const std::vector<double> y = {0.0, 0.0, 0.0};
        const std::vector<double> z = {1.0, 0.0, -2.0};
        Arrays out(3);
        dipole_fields_t({0.0, 0.0, 0.0}, {0.0, 0.0, 0.1}, {x, y, z}, out.fields(0, 3));
        CHECK(off(out.at(0), {0.0, 0.0, 2e-8}) < 1e-14);
        CHECK(off(out.at(1), {0.0, 0.0, -1.25e-9}) < 1e-14);
        CHECK(off(out.at(2), {0.0, 0.0, 2.5e-9}) < 1e-14);
    }
}

TEST_CASE("Any number of places at any offset, and nothing beyond them is written") {
    const Arrays places = scattered(80);
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        for (std::size_t n = 0; n <= 40; ++n) {
            const std::size_t from = 1 + n % 9;
            Arrays out(80, untouched);
            dipole_fields_t(position, moment, places.places(from, n), out.fields(from, n));
            for (std::size_t i = 0; i < 80; ++i) {
                const bool asked = i >= from && i < from + n;
                const glm::dvec3 due = asked ? dipole_field_t(dipole(), places.at(i)).re : glm::dvec3{untouched};
                CHECK_MESSAGE(off(out.at(i), due) < 1e-14, "place " << i << " of " << n << " from " << from);
            }
        }
    }
}

TEST_CASE("More fields than caches hold are those of smaller pieces, bit by bit, and nothing beyond them is written") {
    constexpr std::size_t n = 400'003;
    const Arrays places = scattered(n);
    struct alignas(64) Line {
        std::array<double, 8> value;
    };
    constexpr std::size_t lines = n / 8 + 1;
    std::array<std::vector<Line>, 3> columns;
    std::array<std::span<double>, 3> out;
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        for (std::size_t axis = 0; axis < 3; ++axis) {
            columns[axis].assign(
                lines, Line{{untouched, untouched, untouched, untouched, untouched, untouched, untouched, untouched}});
            out[axis] = {columns[axis].front().value.data(), n};
        }
        dipole_fields_t(position, moment, places.places(0, n), {out[0], out[1], out[2]});
        constexpr std::size_t piece = 1000;
        std::size_t different = 0;
        for (std::size_t from = 0; from < n; from += piece) {
            const std::size_t many = std::min(piece, n - from);
            Arrays small(many);
            dipole_fields_t(position, moment, places.places(from, many), small.fields(0, many));
            for (std::size_t i = 0; i < many; ++i) {
                const std::size_t k = from + i;
                different += glm::dvec3{out[0][k], out[1][k], out[2][k]} != small.at(i) ? 1 : 0;
            }
        }
        CHECK(different == 0);
        for (const std::vector<Line>& column : columns) {
            for (std::size_t k = n; k < 8 * lines; ++k) {
                CHECK(column[k / 8].value[k % 8] == untouched);
            }
        }
    }
}

TEST_CASE("Adding adds to what is there") {
    const Arrays places = scattered(21);
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        Arrays out(21);
        dipole_fields_t(position, moment, places.places(0, 21), out.fields(0, 21));
        add_dipole_fields_t({-1.0, 2.0, -0.8}, {0.02, -0.04, 0.05}, places.places(0, 21), out.fields(0, 21));
        const Dipole second{{-1.0, 2.0, -0.8}, {{0.02, -0.04, 0.05}, glm::dvec3{0.0}}, 512.0};
        for (std::size_t i = 0; i < 21; ++i) {
            const glm::dvec3 a = dipole_field_t(dipole(), places.at(i)).re;
            const glm::dvec3 b = dipole_field_t(second, places.at(i)).re;
            CHECK(norm(out.at(i) - (a + b)) < 1e-14 * (norm(a) + norm(b)));
        }
    }
}

TEST_CASE("Near the source the batch kernel holds the field as the scalar one does, without a trap") {
    // Places on both sides of the sphere in one vector, the dipole itself among them.
    const std::vector<double> away = {0.0, 1e-9, 0.05, 0.149999, 0.15, 0.150001, 0.3, 0.0, 1e-200, 5.0, 0.0};
    Arrays places(away.size());
    for (std::size_t i = 0; i < away.size(); ++i) {
        places.x[i] = position.x + 0.6 * away[i];
        places.y[i] = position.y - 0.64 * away[i];
        places.z[i] = position.z + 0.48 * away[i];
    }
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        for (const Kernel kernel : {Kernel{dipole_fields_t}, Kernel{plain_dipole_fields_t}}) {
            Arrays out(away.size());
            std::feclearexcept(FE_ALL_EXCEPT);
            kernel(position, moment, places.places(0, away.size()), out.fields(0, away.size()));
            CHECK(std::fetestexcept(FE_DIVBYZERO | FE_INVALID | FE_OVERFLOW) == 0);
            for (std::size_t i = 0; i < away.size(); ++i) {
                const glm::dvec3 due = dipole_field_t(dipole(), places.at(i)).re;
                CHECK_MESSAGE(off(out.at(i), due) < 1e-14, "at " << away[i] << " m");
            }
        }
    }
}

TEST_CASE("Arrays of different length are refused") {
    Arrays a(8);
    Arrays b(8);
    FieldsSoA out = b.fields(0, 8);
    out.z_t = out.z_t.first(7);
    CHECK_THROWS_AS(dipole_fields_t(position, moment, a.places(0, 8), out), std::invalid_argument);
    CHECK_THROWS_AS(add_dipole_fields_t(position, moment, a.places(0, 8), out), std::invalid_argument);
    CHECK_THROWS_AS(plain_dipole_fields_t(position, moment, a.places(0, 8), out), std::invalid_argument);
    PlacesSoA in = a.places(0, 8);
    in.y_m = in.y_m.first(1);
    CHECK_THROWS_AS(dipole_fields_t(position, moment, in, b.fields(0, 8)), std::invalid_argument);
}

TEST_CASE("The work behind the limit is done: at least as many places as asked, and a sum that shows it") {
    EachTarget target;
    while (target.next()) {
        INFO("target " << batch_target());
        for (const bool divider : {false, true}) {
            const LimitWork none = dipole_limit_work(0, divider);
            const LimitWork some = dipole_limit_work(1001, divider);
            CHECK(none.points == 0);
            CHECK(some.points >= 1001);
            CHECK(some.points < 1001 + 64);
            CHECK(std::isfinite(some.checksum));
            CHECK(some.checksum != none.checksum);
        }
    }
}
