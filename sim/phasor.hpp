// Complex three-vectors (RMS phasors, e^{+i omega t}) and what can be said of one without a phase reference.
#pragma once

#include <glm/mat3x3.hpp>
#include <glm/vec3.hpp>

#include <complex>

namespace sondeyard::sim {

// RMS phasor of a vector quantity: physical value = sqrt(2) Re[(re + i im) e^{i omega t}], in the frame and unit of
// its user.
struct Phasor3 {
    glm::dvec3 re{0.0};
    glm::dvec3 im{0.0};

    Phasor3& operator+=(const Phasor3& o) {
        re += o.re;
        im += o.im;
        return *this;
    }
};

inline Phasor3 operator+(Phasor3 a, const Phasor3& b) { return a += b; }
inline Phasor3 operator*(double s, const Phasor3& a) { return {s * a.re, s * a.im}; }
inline Phasor3 operator*(const glm::dmat3& m, const Phasor3& a) { return {m * a.re, m * a.im}; }
Phasor3 operator*(std::complex<double> c, const Phasor3& a);

// sqrt(sum |B_i|^2): RMS magnitude, what three crossed antennas measure together.
double magnitude(const Phasor3& b);

// The unit vector along the major axis of the ellipse that the tip of b draws; its sign is arbitrary (there is no phase
// reference, so a field and its opposite look the same). Rotating the phase by -arg(b.b)/2 makes the real part the
// major semi-axis. A zero b gives the zero vector.
glm::dvec3 major_axis(const Phasor3& b);

} // namespace sondeyard::sim
