// Phasors, decibels and angles.
//
// | checked                        | against                                                                        |
// | ---                            | ---                                                                            |
// | magnitude                      | whole-number quadruples (3, 4, 12 -> 13)                                       |
// | major axis of the ellipse      | ellipses made from their two axes, and a walk round the ellipse in small steps |
// | dBpT, wrapping                 | values worked by hand                                                          |
#include "sim/phasor.hpp"
#include "sim/units.hpp"
#include "tests/sim/support.hpp"

#include <limits>

using namespace sondeyard::sim;
using sondeyard::test::norm;
using sondeyard::test::off;
using sondeyard::test::pi;

namespace {

// An ellipse with semi-axes a >= b along u and v, started at phase phi.
Phasor3 ellipse(const glm::dvec3& u, const glm::dvec3& v, double a, double b, double phi) {
    return {a * std::cos(phi) * u - b * std::sin(phi) * v, a * std::sin(phi) * u + b * std::cos(phi) * v};
}

} // namespace

TEST_CASE("Magnitude counts three axes, in phase and out of phase") {
    CHECK(off(magnitude({{3.0, 4.0, 12.0}, glm::dvec3{0.0}}), 13.0) <= 1e-15);
    CHECK(off(magnitude({glm::dvec3{0.0}, {2.0, 3.0, 6.0}}), 7.0) <= 1e-15);
    CHECK(off(magnitude({{1.0, 0.0, 5.0}, {3.0, 1.0, 0.0}}), 6.0) <= 1e-15);
    CHECK(off(magnitude({{0.0, 0.0, 2.0e-12}, glm::dvec3{0.0}}), 2.0e-12) <= 1e-15);
    CHECK(magnitude({}) == 0.0);
}

TEST_CASE("A complex factor turns the phase by its argument") {
    const Phasor3 turned = std::complex<double>{0.0, 2.0} * Phasor3{{1.0, 2.0, 3.0}, {4.0, 5.0, 6.0}};
    CHECK(turned.re == glm::dvec3{-8.0, -10.0, -12.0});
    CHECK(turned.im == glm::dvec3{2.0, 4.0, 6.0});
}

TEST_CASE("The major axis of an ellipse is found whatever the phase it started at") {
    const glm::dvec3 u{0.36, 0.48, -0.8};
    const glm::dvec3 v{0.8, -0.6, 0.0};
    for (const double minor : {0.0, 0.2, 0.7, 0.95}) {
        for (int i = 0; i < 24; ++i) {
            const glm::dvec3 axis = major_axis(ellipse(u, v, 3e-10, minor * 3e-10, pi * i / 12.0));
            CHECK(std::abs(norm(axis) - 1.0) <= 1e-14);
            CHECK(std::min(norm(axis - u), norm(axis + u)) <= 1e-13);
        }
    }
}

TEST_CASE("The major axis is where the tip of the field goes farthest in a cycle") {
    const Phasor3 b{{1.0, -0.4, 0.7}, {0.3, 0.9, -0.2}};
    const auto reach = [&](double phase) { return norm(std::cos(phase) * b.re - std::sin(phase) * b.im); };
    const double at = sondeyard::test::highest(reach, 0.0, pi);
    const glm::dvec3 farthest = (std::cos(at) * b.re - std::sin(at) * b.im) / reach(at);
    const glm::dvec3 axis = major_axis(b);
    CHECK(std::min(norm(axis - farthest), norm(axis + farthest)) <= 1e-6);
}

TEST_CASE("No field has no axis, and a circle has some axis of its plane") {
    CHECK(major_axis({}) == glm::dvec3{0.0});
    const glm::dvec3 axis = major_axis({{1.0, 0.0, 0.0}, {0.0, 1.0, 0.0}});
    CHECK(off(norm(axis), 1.0) <= 1e-14);
    CHECK(axis.z == 0.0);
}

TEST_CASE("Signal levels are decibels above a picotesla") {
    CHECK(std::abs(dbpt(1e-12)) <= 1e-12);
    CHECK(off(dbpt(1e-9), 60.0) <= 1e-12);
    CHECK(off(dbpt(1.25e-9), 61.93820026016113) <= 1e-12);
    CHECK(off(dbpt(0.5e-12), -6.020599913279624) <= 1e-12);
    // Twice the distance, an eighth of the field: 18 dB less.
    CHECK(off(dbpt(8e-12) - dbpt(1e-12), 18.06179973983887) <= 1e-12);
    CHECK(dbpt(0.0) == -std::numeric_limits<double>::infinity());
}

TEST_CASE("Degrees and radians") {
    CHECK(off(radians(180.0), pi) <= 1e-15);
    CHECK(off(radians(-30.0), -0.5235987755982989) <= 1e-15);
    CHECK(off(degrees(pi / 2.0), 90.0) <= 1e-15);
}

TEST_CASE("Angles are brought into one turn") {
    CHECK(wrap_360(0.0) == 0.0);
    CHECK(wrap_360(360.0) == 0.0);
    CHECK(wrap_360(-10.0) == 350.0);
    CHECK(wrap_360(725.0) == 5.0);
    // A hair below 0 rounds to a whole turn when 360 is added; it must not stay there.
    CHECK(wrap_360(-1e-17) >= 0.0);
    CHECK(wrap_360(-1e-17) < 360.0);
    CHECK(wrap_180(180.0 - 1e-14) < 180.0);
    CHECK(wrap_180(-180.0 - 2e-14) < 180.0);
    CHECK(wrap_180(190.0) == -170.0);
    CHECK(wrap_180(-190.0) == 170.0);
    CHECK(wrap_180(180.0) == -180.0);
    CHECK(wrap_180(179.0) == 179.0);
    // A heading of 350 is 20 degrees to the left of 10.
    CHECK(wrap_180(350.0 - 10.0) == -20.0);
}
