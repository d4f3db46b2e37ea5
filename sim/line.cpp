#include "sim/line.hpp"

#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <stdexcept>
#include <string>

namespace sondeyard::sim {

namespace {

// One piece seen from a place: from there to its first end and to its second, the chord between them, and a x b.
struct Piece {
    glm::dvec3 a;
    glm::dvec3 b;
    glm::dvec3 along;
    glm::dvec3 normal; // a x b, made of the chord, which has less to cancel beside a long piece
    double length_squared;
    double normal_squared;
};

Piece piece_between(const glm::dvec3& a, const glm::dvec3& b) {
    const glm::dvec3 along = b - a;
    const glm::dvec3 normal = glm::cross(a, along);
    return {a, b, along, normal, glm::dot(along, along), glm::dot(normal, normal)};
}

//     B = 1e-7 (a x b) (|a| + |b|) / (|a| |b| (|a||b| + a.b))
glm::dvec3 piece_field_t(const Piece& piece, double a_length, double b_length) {
    if (mutated(Mutation::line_ends_ignored)) {
        return mu0_over_4pi * 2.0 * std::sqrt(piece.length_squared) / piece.normal_squared * piece.normal;
    }
    const double product = a_length * b_length;
    const double cosine = glm::dot(piece.a, piece.b);
    // |a||b| + a.b cancels abreast of a long piece; there (|a||b| + a.b) (|a||b| - a.b) = |a x b|^2 serves.
    const bool abreast = cosine < 0.0;
    const double above = (a_length + b_length) * (abreast ? product - cosine : 1.0);
    const double below = product * (abreast ? piece.normal_squared : product + cosine);
    const double share = mutated(Mutation::line_field_halved) ? 0.5 : 1.0;
    return share * mu0_over_4pi * (above / below) * piece.normal;
}

// For a place within closest_to_line_m of the straight line through the piece, perhaps beyond its ends.
glm::dvec3 near_field_t(const Piece& piece) {
    if (piece.length_squared <= 0.0) {
        return glm::dvec3{0.0};
    }
    const double share = std::clamp(-glm::dot(piece.a, piece.along) / piece.length_squared, 0.0, 1.0);
    const glm::dvec3 to_piece = piece.a + share * piece.along;
    const double distance = glm::length(to_piece);
    if (distance >= closest_to_line_m) {
        return piece_field_t(piece, glm::length(piece.a), glm::length(piece.b));
    }
    if (distance <= 0.0) {
        return glm::dvec3{0.0};
    }
    const glm::dvec3 outward = to_piece * (closest_to_line_m / distance - 1.0);
    const Piece held = piece_between(piece.a + outward, piece.b + outward);
    return (distance / closest_to_line_m) * piece_field_t(held, glm::length(held.a), glm::length(held.b));
}

} // namespace

double conductor_length_m(std::span<const glm::dvec3> points_m) {
    double length = 0.0;
    for (std::size_t i = 1; i < points_m.size(); ++i) {
        length += glm::length(points_m[i] - points_m[i - 1]);
    }
    return length;
}

double self_inductance_h(double length_m, double radius_m) {
    if (!(radius_m > 0.0) || !std::isfinite(length_m) || !(length_m >= least_length_by_radius * radius_m)) {
        throw std::invalid_argument("line of radius " + std::to_string(radius_m) + " m, length " +
                                    std::to_string(length_m) +
                                    " m: the radius must be above 0 and the length at least 10 times the radius");
    }
    const double radius = mutated(Mutation::line_diameter_for_radius) ? 2.0 * radius_m : radius_m;
    const double end_term = mutated(Mutation::line_end_term_dropped) ? 0.0 : 1.0;
    return 2.0 * mu0_over_4pi * length_m * (std::log(2.0 * length_m / radius) - end_term);
}

std::complex<double> linked_flux_wb(std::span<const glm::dvec3> points_m, const Dipole& source) {
    const glm::dvec3 b = unit_current_field_t(points_m, source.position_m);
    return {glm::dot(source.moment_am2.re, b), glm::dot(source.moment_am2.im, b)};
}

std::complex<double> induced_current_a(const Conductor& conductor, const Dipole& source) {
    if (!(conductor.resistance_ohm > 0.0)) {
        throw std::invalid_argument("line of resistance " + std::to_string(conductor.resistance_ohm) +
                                    " ohm: must be above 0 (infinite for a line that is isolated)");
    }
    if (!(source.frequency_hz >= 0.0) || !std::isfinite(source.frequency_hz)) {
        throw std::invalid_argument("source of " + std::to_string(source.frequency_hz) +
                                    " Hz beside a line: must be 0 or above, and finite");
    }
    double inductance = self_inductance_h(conductor_length_m(conductor.points_m), conductor.radius_m);
    if (std::isinf(conductor.resistance_ohm)) {
        return 0.0;
    }
    double omega = 2.0 * std::numbers::pi * source.frequency_hz;
    double sign = -1.0;
    if (mutated(Mutation::line_inductance_dropped)) {
        inductance = 0.0;
    }
    if (mutated(Mutation::line_hertz_for_radians)) {
        omega = source.frequency_hz;
    }
    if (mutated(Mutation::line_current_sign)) {
        sign = 1.0;
    }
    const std::complex<double> emf =
        sign * std::complex<double>{0.0, omega} * linked_flux_wb(conductor.points_m, source);
    return emf / std::complex<double>{conductor.resistance_ohm, omega * inductance};
}

glm::dvec3 unit_current_field_t(std::span<const glm::dvec3> points_m, const glm::dvec3& place_m) {
    glm::dvec3 sum{0.0};
    if (points_m.size() < 2) {
        return sum;
    }
    constexpr double hold_squared = closest_to_line_m * closest_to_line_m;
    glm::dvec3 a = points_m[0] - place_m;
    double a_length = glm::length(a);
    for (std::size_t i = 1; i < points_m.size(); ++i) {
        const glm::dvec3 b = points_m[i] - place_m;
        const double b_length = glm::length(b);
        const Piece piece = piece_between(a, b);
        const bool near = piece.normal_squared <= hold_squared * piece.length_squared;
        sum += near ? near_field_t(piece) : piece_field_t(piece, a_length, b_length);
        a = b;
        a_length = b_length;
    }
    return sum;
}

} // namespace sondeyard::sim
