// What the tests of sim share: reference tables, relative differences, and searches that use nothing but evaluations.
//
// Nothing here calls sim's own arithmetic: a wrong radians() or magnitude() must not correct itself in the expectation.
#pragma once

#include "sim/phasor.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <functional>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

namespace sondeyard::test {

inline constexpr double pi = std::numbers::pi;
inline double rad(double deg) { return deg * pi / 180.0; }

// |a - b| / |b|. doctest's Approx adds an absolute 1 to its scale: any two fields in tesla would be equal to it.
inline double off(double a, double b) { return std::abs(a - b) / std::abs(b); }

inline double norm(const glm::dvec3& v) { return std::sqrt(v.x * v.x + v.y * v.y + v.z * v.z); }
inline double off(const glm::dvec3& a, const glm::dvec3& b) { return norm(a - b) / norm(b); }

inline double norm(const sim::Phasor3& b) { return std::hypot(norm(b.re), norm(b.im)); }
inline double off(const sim::Phasor3& a, const sim::Phasor3& b) {
    return std::hypot(norm(a.re - b.re), norm(a.im - b.im)) / norm(b);
}

// The yard turned clockwise (seen from above) by an angle about the vertical through the origin.
inline glm::dvec3 turned(const glm::dvec3& v, double clockwise_deg) {
    const double c = std::cos(rad(clockwise_deg));
    const double s = std::sin(rad(clockwise_deg));
    return {v.x * c + v.y * s, -v.x * s + v.y * c, v.z};
}

// Data rows of a table in tests/reference; lines beginning with # and the line of column names are left out.
inline std::vector<std::vector<std::string>> reference_rows(const std::string& name) {
    std::ifstream in(std::string(SONDEYARD_TEST_DATA) + "/reference/" + name);
    REQUIRE_MESSAGE(in.good(), "tests/reference/" << name << " cannot be read");
    std::vector<std::vector<std::string>> rows;
    bool names_seen = false;
    for (std::string line; std::getline(in, line);) {
        if (line.empty() || line[0] == '#') {
            continue;
        }
        if (!names_seen) {
            names_seen = true;
            continue;
        }
        std::vector<std::string> cells;
        std::istringstream cut(line);
        for (std::string cell; std::getline(cut, cell, ',');) {
            cells.push_back(cell);
        }
        rows.push_back(cells);
    }
    return rows;
}

using Curve = std::function<double(double)>;

// A root between low and high, where f has opposite signs; NaN when it has not.
inline double root_between(const Curve& f, double low, double high) {
    double at_low = f(low);
    if (at_low == 0.0) {
        return low;
    }
    if (!(at_low * f(high) <= 0.0)) {
        return std::nan("");
    }
    for (int i = 0; i < 100; ++i) {
        const double middle = 0.5 * (low + high);
        const double at_middle = f(middle);
        if ((at_middle < 0.0) == (at_low < 0.0)) {
            low = middle;
            at_low = at_middle;
        } else {
            high = middle;
        }
    }
    return 0.5 * (low + high);
}

// Every change of sign that steps of this size show, refined.
inline std::vector<double> roots(const Curve& f, double low, double high, int steps) {
    std::vector<double> found;
    const double step = (high - low) / steps;
    double before = f(low);
    for (int i = 1; i <= steps; ++i) {
        const double x = low + i * step;
        const double now = f(x);
        if ((before < 0.0) != (now < 0.0)) {
            found.push_back(root_between(f, x - step, x));
        }
        before = now;
    }
    return found;
}

// Where f is largest: the best of a row of samples, then golden sections about it.
inline double highest(const Curve& f, double low, double high, int steps = 200) {
    double best = low;
    for (int i = 0; i <= steps; ++i) {
        const double x = low + (high - low) * i / steps;
        if (f(x) > f(best)) {
            best = x;
        }
    }
    double a = std::max(low, best - (high - low) / steps);
    double b = std::min(high, best + (high - low) / steps);
    const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
    for (int i = 0; i < 80; ++i) {
        const double left = b - golden * (b - a);
        const double right = a + golden * (b - a);
        if (f(left) > f(right)) {
            b = right;
        } else {
            a = left;
        }
    }
    return 0.5 * (a + b);
}

} // namespace sondeyard::test
