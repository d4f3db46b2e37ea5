// Field lines in an upright plane.
//
// | checked                                  | against                                                                  |
// | ---                                      | ---                                                                      |
// | lines of a dipole                        | r = L cos^2(latitude), any textbook of geomagnetism (here from memory:   |
// |                                          | Chapman and Bartels, Geomagnetism, 1940)                                 |
// | lines of a current                       | circles about the wire (Biot and Savart)                                 |
// | spacing, ends, leaving the plane         | the same in closed form                                                  |
#include "sim/field_lines.hpp"
#include "sim/units.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace sondeyard::sim;

namespace {

Scene scene_with(const Dipole& sonde) {
    Scene scene;
    scene.emissions.push_back({sonde.frequency_hz, {{sonde, 0.0, nullptr}}, {}});
    return scene;
}

// L of a place in the plane, by r / cos^2(latitude).
double shell_m(const glm::dvec2& from_sonde, const glm::dvec2& pole) {
    const double r = glm::length(from_sonde);
    const double sine = glm::dot(from_sonde, pole) / r;
    return r / (1.0 - sine * sine);
}

} // namespace

TEST_CASE("field lines of a tilted dipole keep r / cos^2 of latitude, and their spacing is what was asked for") {
    const double tilt = 25.0;
    const double heading = 140.0;
    const Dipole sonde = make_sonde({3.0, 4.0, -1.3}, heading, tilt, 0.1, 512.0);
    const SectionPlane plane{{3.0, 4.0, 0.0}, {std::sin(radians(heading)), std::cos(radians(heading))}};
    const glm::dvec2 pole{std::cos(radians(tilt)), -std::sin(radians(tilt))};
    const glm::dvec2 centre{0.0, -1.3};
    const PlaneBox box{{-3.0, -3.0}, {3.0, 1.2}};
    const std::vector<FieldLine> lines = section_field_lines(scene_with(sonde), plane, box, 0.4, 1.6);
    std::vector<double> back;
    int open = 0;
    for (const FieldLine& line : lines) {
        REQUIRE(line.points_m.size() >= 2);
        CHECK(line.most_out_deg < 1e-5);
        CHECK(glm::length(line.points_m.front() - centre) == doctest::Approx(1.02 * closest_range_m));
        const double shell = shell_m(line.points_m.front() - centre, pole);
        if (!(shell < 1e3)) { // along the axis
            continue;
        }
        double worst = 0.0;
        for (const glm::dvec2& p : line.points_m) {
            worst = glm::length(p - centre) > closest_range_m
                        ? std::max(worst, std::abs(shell_m(p - centre, pole) / shell - 1.0))
                        : worst;
        }
        CAPTURE(shell);
        CHECK(worst < 1e-3 * std::max(1.0, shell));
        if (line.comes_back) {
            back.push_back(shell);
        } else {
            ++open;
            CHECK_FALSE(box.holds(line.points_m.back()));
        }
    }
    CHECK(open > 8);
    for (const double spaced : {0.4, 0.8, 1.2, 1.6}) { // the sonde lies 1.3 m deep in a box that goes 1.7 m below it
        CHECK(std::ranges::any_of(back, [&](double shell) { return std::abs(shell - spaced) < 1e-6; }));
    }
}

TEST_CASE("a line's error falls with the step as the cubic bows between its steps do") {
    const Dipole sonde = make_sonde({0.0, 0.0, 0.0}, 90.0, 0.0, 0.1, 512.0);
    const PlaneAxis axis_at = [&](const glm::dvec2& p) {
        const Phasor3 b = dipole_field_t(sonde, {p.x, 0.0, p.y});
        return glm::dvec2{b.re.x, b.re.z};
    };
    const auto end_error = [&](double step_m, double tolerance_m = 1e9) { // fixed steps: any error is taken
        const TraceLimits limits{{{-9.0, 0.001}, {9.0, 9.0}}, step_m, tolerance_m, 4000};
        const auto points = trace_field_line(axis_at, {0.0, 1.0}, {1.0, 0.0}, limits);
        double worst = 0.0;
        for (const glm::dvec2& p : points) {
            worst = glm::length(p) > 0.5 ? std::max(worst, std::abs(shell_m(p, {1.0, 0.0}) - 1.0)) : worst;
        }
        return worst;
    };
    const double coarse = end_error(0.08);
    const double fine = end_error(0.04);
    CHECK(coarse > 1e-9);
    CHECK(coarse / fine > 11.3); // 16 for order four, the bows'; 32 for the steps' own five
    CHECK(coarse / fine < 100.0);
    CHECK(end_error(2.0) > 1e-3);
    CHECK(end_error(2.0, 1e-7) < 1e-4); // asked for less error it takes shorter steps, from the first one on
}

TEST_CASE("lines round a long wire across the plane are circles; one along the plane takes the field out of it") {
    const auto with_wire = [](const glm::dvec3& way) {
        Scene scene = scene_with(make_sonde({0.0, 0.0, -1.0}, 90.0, 0.0, 1e-9, 512.0)); // next to nothing
        scene.emissions.front().currents.push_back(
            {{-500.0 * way + glm::dvec3{0.0, 0.0, 2.0}, 500.0 * way + glm::dvec3{0.0, 0.0, 2.0}}, {1.0, 0.0}});
        return scene;
    };
    const SectionPlane plane{{0.0, 0.0, 0.0}, {1.0, 0.0}};
    const Scene across = with_wire({0.0, 1.0, 0.0});
    const PlaneAxis axis_at = [&](const glm::dvec2& p) {
        return plane.of(major_axis(emission_field_t(across.emissions.front(), plane.place(p))));
    };
    const TraceLimits limits{{{-5.0, -5.0}, {5.0, 5.0}}, 0.1, 1e-6, 400};
    const auto points = trace_field_line(axis_at, {1.0, 2.0}, {0.0, 1.0}, limits, {1.0, 2.0}, 0.05);
    double turned = 0.0;
    for (const glm::dvec2& p : points) {
        CHECK(glm::length(p - glm::dvec2{0.0, 2.0}) == doctest::Approx(1.0).epsilon(1e-4));
        turned = std::max(turned, p.x < -0.99 ? 1.0 : 0.0);
    }
    CHECK(turned == 1.0); // it went round, and ended where it began
    CHECK(glm::length(points.back() - points.front()) < 0.1);
    double out = 0.0;
    for (const FieldLine& line : section_field_lines(with_wire({1.0, 0.0, 0.0}), plane, limits.box, 0.5, 1.5)) {
        out = std::max(out, line.most_out_deg);
    }
    CHECK(out > 80.0);
    Scene square = scene_with(make_sonde({0.0, 0.0, -1.0}, 0.0, 0.0, 0.1, 512.0)); // heads out of the plane
    CHECK(section_field_lines(square, plane, limits.box, 0.5, 1.5).empty());
    CHECK(section_field_lines(Scene{}, plane, limits.box, 0.5, 1.5).empty());
}
