#include "sim/pipe_wall.hpp"

#include "sim/bessel.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <stdexcept>
#include <string>
#include <utility>

namespace sondeyard::sim {

namespace {

using Complex = std::complex<double>;

void check(const PipeWall& wall, double frequency_hz) {
    const auto refuse = [](const std::string& what, double value, const std::string& allowed) {
        throw std::invalid_argument("pipe wall: " + what + " " + std::to_string(value) + " must be " + allowed);
    };
    if (!(wall.outside_diameter_m > 0.0) || !std::isfinite(wall.outside_diameter_m)) {
        refuse("outside diameter (m)", wall.outside_diameter_m, "above 0");
    }
    if (!(wall.wall_m > 0.0) || !(wall.wall_m < 0.5 * wall.outside_diameter_m)) {
        refuse("thickness (m)", wall.wall_m,
               "above 0 and less than half the outside diameter of " + std::to_string(wall.outside_diameter_m));
    }
    if (!(wall.conductivity_s_per_m >= 0.0) || !std::isfinite(wall.conductivity_s_per_m)) {
        refuse("conductivity (S/m)", wall.conductivity_s_per_m, "0 or above");
    }
    if (!(wall.relative_permeability >= 1.0) || !std::isfinite(wall.relative_permeability)) {
        refuse("relative permeability", wall.relative_permeability, "1 or above");
    }
    if (!(frequency_hz >= 0.0) || !std::isfinite(frequency_hz)) {
        refuse("frequency (Hz)", frequency_hz, "0 or above");
    }
}

WallFactors static_factors(double inner_m, double outer_m, double mu_r) {
    const double ratio = inner_m / outer_m;
    const double more = mu_r + 1.0;
    const double less = mu_r - 1.0;
    return {1.0, 4.0 * mu_r / (more * more - less * less * ratio * ratio)};
}

// Both factors with their common e^{-k (b - a)} drawn out: what is left neither overflows nor vanishes.
WallFactors factors_of(Complex k, double inner_m, double outer_m, double mu_r) {
    const Complex x = k * inner_m;
    const Complex y = k * outer_m;
    const ScaledBessel in = scaled_bessel(x);
    const ScaledBessel out = scaled_bessel(y);
    const Complex once = std::exp(-(y - x)); // through the wall
    const Complex twice = once * once;       // there and back

    const Complex g = mutated(Mutation::wall_permeability_dropped) ? 0.5 * x : x / (2.0 * mu_r);
    const Complex axial = x * (out.i0 * (in.k1 + g * in.k0) + twice * out.k0 * (in.i1 - g * in.i0));

    // p and q over a, f(b) + b f'(b) / mu_r over a, halved and over b.
    const Complex p = x * in.k0 + (1.0 + mu_r) * in.k1;
    const Complex q = x * in.i0 - (1.0 + mu_r) * in.i1;
    const double less = 1.0 - 1.0 / mu_r;
    const Complex transverse =
        0.5 * (inner_m / outer_m) *
        (p * (less * out.i1 + y / mu_r * out.i0) + twice * q * (less * out.k1 - y / mu_r * out.k0));
    return {once / axial, once / transverse};
}

Complex bounded(Complex factor) {
    const double most_db = mutated(Mutation::wall_guard_at_70_db) ? 70.0 : most_wall_loss_db;
    const double least = std::pow(10.0, -most_db / 20.0);
    const double size = std::abs(factor);
    // By its angle, since 1 / size of a factor that is all but nothing would overflow.
    return size >= least && size <= 1.0 ? factor : std::polar(std::clamp(size, least, 1.0), std::arg(factor));
}

} // namespace

WallFactors shell_factors(const PipeWall& wall, double frequency_hz) {
    check(wall, frequency_hz);
    const double outer_m =
        mutated(Mutation::wall_diameter_for_radius) ? wall.outside_diameter_m : 0.5 * wall.outside_diameter_m;
    const double inner_m = outer_m - wall.wall_m;
    const double mu_r = wall.relative_permeability;
    double omega = 2.0 * std::numbers::pi * frequency_hz;
    if (mutated(Mutation::wall_hertz_for_radians)) {
        omega = frequency_hz;
    }
    const double mu0 = 4.0 * std::numbers::pi * mu0_over_4pi;
    const double k_squared =
        omega * mu0 * wall.conductivity_s_per_m * (mutated(Mutation::wall_permeability_not_in_k) ? 1.0 : mu_r);
    // So slow or so poor a conductor that nothing is induced; the Bessel functions would have nothing to say.
    constexpr double least_argument = 1e-9;
    if (!(std::sqrt(k_squared) * outer_m > least_argument)) {
        return static_factors(inner_m, outer_m, mu_r);
    }
    const double turn = mutated(Mutation::wall_time_sign) ? -1.0 : 1.0;
    const Complex k = std::sqrt(0.5 * k_squared) * Complex{1.0, turn}; // sqrt(i) = (1 + i) / sqrt 2
    WallFactors factors = factors_of(k, inner_m, outer_m, mu_r);
    if (mutated(Mutation::wall_axes_swapped)) {
        std::swap(factors.axial, factors.transverse);
    }
    if (mutated(Mutation::wall_gain_for_loss)) {
        factors = {1.0 / factors.axial, 1.0 / factors.transverse};
    }
    return factors;
}

WallFactors wall_factors(const PipeWall& wall, double frequency_hz) {
    const WallFactors factors = shell_factors(wall, frequency_hz);
    return {bounded(factors.axial), bounded(factors.transverse)};
}

Phasor3 moment_seen(const Phasor3& moment_am2, const glm::dvec3& pipe_direction, const WallFactors& factors) {
    const double length = glm::length(pipe_direction);
    if (!(length > 0.0) || !std::isfinite(length)) {
        throw std::invalid_argument("pipe wall: the pipe's direction must be a finite vector that is not zero");
    }
    const glm::dvec3 along = pipe_direction / length;
    const Phasor3 axial{glm::dot(moment_am2.re, along) * along, glm::dot(moment_am2.im, along) * along};
    const Phasor3 across{moment_am2.re - axial.re, moment_am2.im - axial.im};
    if (mutated(Mutation::wall_moment_not_split)) {
        return factors.axial * moment_am2;
    }
    return factors.axial * axial + factors.transverse * across;
}

} // namespace sondeyard::sim
