#include "sim/phasor.hpp"

#include "sim/mutation.hpp"

#include <glm/geometric.hpp>

#include <cmath>

namespace sondeyard::sim {

Phasor3 operator*(std::complex<double> c, const Phasor3& a) {
    return {c.real() * a.re - c.imag() * a.im, c.real() * a.im + c.imag() * a.re};
}

double magnitude(const Phasor3& b) {
    if (mutated(Mutation::two_axes_of_three)) {
        return std::sqrt(b.re.x * b.re.x + b.im.x * b.im.x + b.re.y * b.re.y + b.im.y * b.im.y);
    }
    return std::sqrt(glm::dot(b.re, b.re) + glm::dot(b.im, b.im));
}

glm::dvec3 major_axis(const Phasor3& b) {
    const std::complex<double> square{glm::dot(b.re, b.re) - glm::dot(b.im, b.im), 2.0 * glm::dot(b.re, b.im)};
    const double turn = -0.5 * std::arg(square);
    const glm::dvec3 axis = std::cos(turn) * b.re - std::sin(turn) * b.im;
    const double length = glm::length(axis);
    return length > 0.0 ? axis / length : glm::dvec3{0.0};
}

} // namespace sondeyard::sim
