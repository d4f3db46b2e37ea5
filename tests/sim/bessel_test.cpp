// Modified Bessel functions of complex argument.
//
// | checked                         | against                                                                       |
// | ---                             | ---                                                                           |
// | i0, i1, k0, k1, 83 arguments    | bessel_reference.csv: mpmath, 40 digits                                       |
// | Kelvin functions ber bei ker kei| Abramowitz and Stegun, table 9.12 (from memory)                               |
// | real argument                   | Abramowitz and Stegun, table 9.8 (from memory)                                |
// | any argument                    | Wronskian, conjugate symmetry, one value either side of a change of method    |
#include "sim/bessel.hpp"
#include "sim/random.hpp"
#include "tests/sim/support.hpp"

#include <cstdlib>
#include <stdexcept>

using namespace sondeyard::sim;
using sondeyard::test::pi;

namespace {

using Complex = std::complex<double>;

double off(Complex a, Complex b) { return std::abs(a - b) / std::abs(b); }

} // namespace

TEST_CASE("Bessel functions agree with forty-digit values over all ranges and directions") {
    const auto rows = sondeyard::test::reference_rows("bessel_reference.csv");
    REQUIRE(rows.size() >= 80);
    for (const auto& row : rows) {
        const auto number = [&](std::size_t column) { return std::strtod(row.at(column).c_str(), nullptr); };
        const auto value = [&](std::size_t column) { return Complex{number(column), number(column + 1)}; };
        const Complex x = value(0);
        const ScaledBessel b = scaled_bessel(x);
        INFO("|x| ", std::abs(x), ", arg ", std::arg(x) * 180.0 / pi);
        const double allowed = std::abs(std::arg(x)) <= pi / 4.0 + 1e-9 ? 1e-13 : 1e-12;
        CHECK(off(b.i0, value(2)) <= allowed);
        CHECK(off(b.i1, value(4)) <= allowed);
        CHECK(off(b.k0, value(6)) <= allowed);
        CHECK(off(b.k1, value(8)) <= allowed);
    }
}

TEST_CASE("Kelvin functions are those of the tables") {
    struct Row {
        double x, ber, bei, ker, kei;
    };
    // ber x + i bei x = I0(x sqrt i), ker x + i kei x = K0(x sqrt i).
    for (const Row& row : {Row{1, 0.9843817812, 0.2495660400, 0.2867062087, -0.4949946365},
                           Row{2, 0.7517341827, 0.9722916273, -0.0416645140, -0.2024000678},
                           Row{5, -6.2300824787, 0.1160343816, -0.0115117272, 0.0111875865}}) {
        const Complex x = std::polar(row.x, pi / 4.0);
        const ScaledBessel b = scaled_bessel(x);
        CHECK(off(b.i0 * std::exp(x), {row.ber, row.bei}) <= 1e-9);
        CHECK(off(b.k0 * std::exp(-x), {row.ker, row.kei}) <= 1e-8);
    }
    const ScaledBessel one = scaled_bessel(1.0);
    CHECK(off(one.i0 * std::exp(1.0), 1.266065877752) <= 1e-12);
    CHECK(off(one.i1 * std::exp(1.0), 0.565159103992) <= 1e-12);
    CHECK(off(one.k0 * std::exp(-1.0), 0.421024438241) <= 1e-11);
    CHECK(off(one.k1 * std::exp(-1.0), 0.601907230197) <= 1e-12);
}

TEST_CASE("The Wronskian is 1 / x and the conjugate argument gives the conjugate value") {
    Draws draws(5, "bessel");
    for (int i = 0; i < 2000; ++i) {
        const Complex x = std::polar(std::pow(10.0, draws.uniform(-6.0, 4.0)), draws.uniform(-1.48, 1.48));
        const ScaledBessel b = scaled_bessel(x);
        INFO("|x| ", std::abs(x), ", arg ", std::arg(x) * 180.0 / pi);
        CHECK(std::abs((b.i0 * b.k1 + b.i1 * b.k0) * x - 1.0) <= 1e-12);
        const ScaledBessel c = scaled_bessel(std::conj(x));
        CHECK(off(c.i0, std::conj(b.i0)) <= 1e-14);
        CHECK(off(c.i1, std::conj(b.i1)) <= 1e-14);
        CHECK(off(c.k0, std::conj(b.k0)) <= 1e-14);
        CHECK(off(c.k1, std::conj(b.k1)) <= 1e-14);
    }
}

TEST_CASE("No step where one way of reckoning hands over to the next") {
    for (const double size : {2.0, 30.0}) {
        for (const double angle : {-1.4, 0.0, pi / 4.0, 1.2}) {
            const ScaledBessel below = scaled_bessel(std::polar(size * (1.0 - 1e-14), angle));
            const ScaledBessel above = scaled_bessel(std::polar(size * (1.0 + 1e-14), angle));
            CHECK(off(below.i0, above.i0) <= 2e-12);
            CHECK(off(below.i1, above.i1) <= 2e-12);
            CHECK(off(below.k0, above.k0) <= 2e-12);
            CHECK(off(below.k1, above.k1) <= 2e-12);
        }
    }
}

TEST_CASE("The ends of the range and what lies beyond") {
    const ScaledBessel tiny = scaled_bessel(std::polar(1e-150, pi / 4.0));
    CHECK(off(tiny.k1 * std::polar(1e-150, pi / 4.0), 1.0) <= 1e-13);
    CHECK(off(tiny.i0, 1.0) <= 1e-13);
    const ScaledBessel huge = scaled_bessel(1e150);
    CHECK(off(huge.k0, std::sqrt(pi / 2e150)) <= 1e-13);
    CHECK(off(huge.i1, 1.0 / std::sqrt(2e150 * pi)) <= 1e-13);
    for (const Complex x : {Complex{0.0}, Complex{-1.0}, Complex{0.0, 1.0}, Complex{1e-160}, Complex{1e160},
                            Complex{std::nan(""), 1.0}, Complex{0.05, 1.0}}) {
        CHECK_THROWS_AS(scaled_bessel(x), std::invalid_argument);
    }
}
