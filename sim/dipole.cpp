#include "sim/dipole.hpp"

#include "sim/units.hpp"

#include <glm/geometric.hpp>
#include <glm/matrix.hpp>

#include <algorithm>
#include <utility>

namespace sondeyard::sim {

namespace {

glm::dvec3 held_outside(const glm::dvec3& r) {
    const double range = glm::length(r);
    if (range >= closest_range_m) {
        return r;
    }
    return range > 0.0 ? r * (closest_range_m / range) : glm::dvec3{0.0, 0.0, closest_range_m};
}

} // namespace

Phasor3 dipole_field_t(const Dipole& source, const glm::dvec3& place_m) {
    const glm::dvec3 r = held_outside(place_m - source.position_m);
    const double inverse_square = 1.0 / glm::dot(r, r);
    const double inverse_range = std::sqrt(inverse_square);

    double scale = mu0_over_4pi * inverse_square * inverse_range;
    double along = 3.0 * inverse_square;
    double moment_term = 1.0;
    if (mutated(Mutation::mu0_twice)) {
        scale *= 2.0;
    }
    if (mutated(Mutation::no_four_pi)) {
        scale *= 4.0 * std::numbers::pi;
    }
    if (mutated(Mutation::peak_for_rms)) {
        scale *= std::numbers::sqrt2;
    }
    if (mutated(Mutation::r5_becomes_r3)) {
        along = 3.0;
    }
    if (mutated(Mutation::r3_becomes_r2)) {
        scale = mu0_over_4pi * inverse_square;
    }
    if (mutated(Mutation::moment_term_sign)) {
        moment_term = -1.0;
    }

    const auto part = [&](const glm::dvec3& m) {
        glm::dvec3 b = scale * (along * glm::dot(m, r) * r - moment_term * m);
        if (mutated(Mutation::x_and_y_swapped)) {
            std::swap(b.x, b.y);
        }
        return b;
    };
    return {part(source.moment_am2.re), part(source.moment_am2.im)};
}

Phasor3 field_t(std::span<const Dipole> sources, const glm::dvec3& place_m) {
    Phasor3 sum{};
    for (const Dipole& source : sources) {
        sum += dipole_field_t(source, place_m);
    }
    return sum;
}

DipoleDerivatives dipole_derivatives(const glm::dvec3& position_m, const glm::dvec3& moment_am2,
                                     const glm::dvec3& place_m) {
    const glm::dvec3 r = held_outside(place_m - position_m);
    const double q = 1.0 / glm::dot(r, r);
    const double scale = mu0_over_4pi * q * std::sqrt(q);
    const double mr = glm::dot(moment_am2, r);
    const double five = mutated(Mutation::gradient_five_becomes_three) ? 3.0 : 5.0;
    const double whole = mutated(Mutation::gradient_moment_terms_halved) ? 0.5 : 1.0;
    const glm::dmat3 rr = glm::outerProduct(r, r);
    const glm::dmat3 mixed = whole * (glm::outerProduct(moment_am2, r) + glm::outerProduct(r, moment_am2));
    const glm::dmat3 one{1.0};
    const glm::dmat3 unit{mutated(Mutation::moment_derivative_unit_dropped) ? 0.0 : 1.0};
    return {scale * (3.0 * q * mr * r - moment_am2), 3.0 * scale * q * (mr * one + mixed - five * mr * q * rr),
            scale * (3.0 * q * rr - unit)};
}

glm::dvec3 axis_of(double heading_deg, double tilt_deg) {
    double h = radians(heading_deg);
    const double t = radians(tilt_deg);
    if (mutated(Mutation::heading_anticlockwise)) {
        h = -h;
    }
    if (mutated(Mutation::heading_from_east)) {
        h = std::numbers::pi / 2.0 - h;
    }
    const double down = mutated(Mutation::axis_z_sign) ? -1.0 : 1.0;
    return {std::sin(h) * std::cos(t), std::cos(h) * std::cos(t), -down * std::sin(t)};
}

HeadingTilt heading_tilt_of(const glm::dvec3& axis) {
    const double level = std::hypot(axis.x, axis.y);
    const double tilt_deg = degrees(std::atan2(-axis.z, level));
    // Straighter than this the level part is rounding, and a heading made of rounding would differ between machines.
    const bool on_end = level <= 1e-12 * std::abs(axis.z);
    return {on_end ? 0.0 : wrap_360(degrees(std::atan2(axis.x, axis.y))), tilt_deg};
}

Dipole make_sonde(const glm::dvec3& position_m, double heading_deg, double tilt_deg, double moment_am2,
                  double frequency_hz) {
    return {position_m, {moment_am2 * axis_of(heading_deg, tilt_deg), glm::dvec3{0.0}}, frequency_hz};
}

} // namespace sondeyard::sim
