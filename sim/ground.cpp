#include "sim/ground.hpp"

#include "sim/units.hpp"

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/bessel.hpp>

#include <algorithm>
#include <complex>
#include <sstream>
#include <stdexcept>
#include <string>

namespace sondeyard::sim {

namespace {

using Complex = std::complex<double>;

constexpr double two_mu0_over_4pi = 2.0 * mu0_over_4pi; // mu0 / 2 pi
constexpr double least_proof_depth_m = 0.01;            // of the direct quadrature: what limits its time

// Boost would go to long double for half a digit more.
using InDouble = boost::math::policies::policy<boost::math::policies::promote_double<false>>;
double bessel_j0(double x) { return boost::math::cyl_bessel_j(0, x, InDouble{}); }
double bessel_j1(double x) { return boost::math::cyl_bessel_j(1, x, InDouble{}); }

void require_between(const char* what, double value, double low, double high, const char* unit) {
    if (!(value >= low && value <= high)) {
        std::ostringstream text;
        text << what << " " << value << " " << unit << ": allowed is " << low << " to " << high << " " << unit;
        throw std::invalid_argument(text.str());
    }
}

// omega mu0 / rho, 1/m2.
double wave_number_squared(double frequency_hz, double resistivity_ohm_m) {
    if (!(frequency_hz > 0.0 && frequency_hz <= ground_most_frequency_hz)) {
        std::ostringstream text;
        text << "frequency " << frequency_hz << " Hz in the ground: allowed is above 0 to " << ground_most_frequency_hz
             << " Hz";
        throw std::invalid_argument(text.str());
    }
    require_between("ground resistivity", resistivity_ohm_m, ground_least_resistivity_ohm_m,
                    ground_most_resistivity_ohm_m, "ohm m");
    const double mu0 = 4.0 * std::numbers::pi * mu0_over_4pi;
    return 2.0 * std::numbers::pi * frequency_hz * mu0 / resistivity_ohm_m;
}

// e^x - 1 without cancellation for small x.
Complex expm1(Complex x) {
    const double half_sine = std::sin(0.5 * x.imag());
    return {std::expm1(x.real()) * std::cos(x.imag()) - 2.0 * half_sine * half_sine,
            std::exp(x.real()) * std::sin(x.imag())};
}

// The secondary kernels over the static one, at a radial wave number.
struct Kernels {
    Complex upright;
    Complex level;
};

Kernels kernels(double wave_number, double k_squared, double depth_m, double height_m) {
    // u = sqrt(L^2 + i k^2) and D = u - L = i k^2 / (u + L), in real arithmetic: complex roots and divisions cost more
    // than all the rest.
    const double square = wave_number * wave_number;
    const double u_re = std::sqrt(0.5 * (std::sqrt(square * square + k_squared * k_squared) + square));
    const double u_im = 0.5 * k_squared / u_re;
    const double a = u_re + wave_number;
    const double scale = k_squared / (a * a + u_im * u_im);
    const Complex d{scale * u_im, scale * a};

    const double decay_m = mutated(Mutation::ground_depth_and_height_swapped) ? height_m : depth_m;
    const Complex e = expm1(-decay_m * d);
    const double b = 2.0 * wave_number + d.real();
    const Complex inverse = Complex{b, -d.imag()} / (b * b + d.imag() * d.imag());
    const Complex one{e.real() + 1.0, e.imag()};
    const Complex le = 2.0 * wave_number * e;
    Kernels k{};
    k.upright = {le.real() - d.real(), le.imag() - d.imag()};
    k.level = {le.real() + 2.0 * (d.real() * e.real() - d.imag() * e.imag()) + d.real(),
               le.imag() + 2.0 * (d.real() * e.imag() + d.imag() * e.real()) + d.imag()};
    (void)one;
    const auto times = [](Complex p, Complex q) {
        return Complex{p.real() * q.real() - p.imag() * q.imag(), p.real() * q.imag() + p.imag() * q.real()};
    };
    k.upright = times(k.upright, inverse);
    k.level = times(k.level, inverse);
    if (mutated(Mutation::ground_u_and_l_swapped)) {
        k.level = k.upright;
    }
    if (mutated(Mutation::ground_time_sign)) {
        k.upright = std::conj(k.upright);
        k.level = std::conj(k.level);
    }
    return k;
}

// The five sums that all fields are made of, times s^3, s = d + z: functions of r/s.
struct Sums {
    Complex upright_z; // Int Kv L J0
    Complex upright_r; // Int Kv L J1
    Complex level_p;   // Int Kh J1/r
    Complex level_0;   // Int Kh L J0: Int Kh L J2 = 2 level_p - level_0
    Complex level_z;   // Int Kh L J1
};

Phasor3 field_of(const Sums& sums, double scale, const Phasor3& m, double cosine, double sine) {
    const Complex q = 2.0 * sums.level_p - sums.level_0;
    const auto part = [&](const glm::dvec3& re, const glm::dvec3& im, auto side) {
        // (a + i b)(c + i d): `side` picks the real or the imaginary part.
        const double m_r_re = re.x * cosine + re.y * sine;
        const double m_r_im = im.x * cosine + im.y * sine;
        const double outward = side(q, m_r_re, m_r_im) + side(sums.upright_r, re.z, im.z);
        return scale * glm::dvec3{cosine * outward - side(sums.level_p, re.x, im.x),
                                  sine * outward - side(sums.level_p, re.y, im.y),
                                  side(sums.upright_z, re.z, im.z) + side(sums.level_z, m_r_re, m_r_im)};
    };
    return {part(m.re, m.im, [](Complex c, double x, double y) { return c.real() * x - c.imag() * y; }),
            part(m.re, m.im, [](Complex c, double x, double y) { return c.real() * y + c.imag() * x; })};
}

constexpr double longest_exponent = 36.0; // e^-36 is 2e-16

// The sums at r/s = ratio by composite Gauss-Legendre in q = L s: panels that grow geometrically from 0, where the
// kernel may bend sharply, and are never longer than 8 radians of the Bessel functions.
Sums direct_sums(double ratio, double s, double k_squared, double depth_m) {
    using Rule = boost::math::quadrature::gauss<double, 16>;
    const double longest = std::min(1.0, 8.0 / std::max(ratio, 1e-300));
    Sums sums{};
    double from = 0.0;
    for (double to = 1e-3 * longest; from < longest_exponent;
         from = to, to = std::min({1.6 * to, to + longest, longest_exponent})) {
        for (std::size_t i = 0; i < 16; ++i) {
            const double x = i % 2 == 0 ? Rule::abscissa()[i / 2] : -Rule::abscissa()[i / 2];
            const double q = 0.5 * (from + to) + 0.5 * (to - from) * x;
            const double weight = 0.5 * (to - from) * Rule::weights()[i / 2] * 0.5 * q * std::exp(-q);
            const Kernels k = kernels(q / s, k_squared, depth_m, s - depth_m);
            const double j0 = bessel_j0(q * ratio);
            const double j1 = bessel_j1(q * ratio);
            const double j1_over_ratio = q * ratio < 1e-8 ? 0.5 * q : j1 / ratio;
            sums.upright_z += weight * q * j0 * k.upright;
            sums.upright_r += weight * q * j1 * k.upright;
            sums.level_p += weight * j1_over_ratio * k.level;
            sums.level_0 += weight * q * j0 * k.level;
            sums.level_z += weight * q * j1 * k.level;
        }
    }
    return sums;
}

// Unit vector outward; any will do straight above.
struct Outward {
    double distance;
    double cosine;
    double sine;
};
Outward outward(const glm::dvec3& p) {
    const double r = std::sqrt(p.x * p.x + p.y * p.y);
    return r > 0.0 ? Outward{r, p.x / r, p.y / r} : Outward{0.0, 1.0, 0.0};
}

} // namespace

Phasor3 ground_secondary_t(const Phasor3& moment_am2, double frequency_hz, double resistivity_ohm_m, double depth_m,
                           const glm::dvec3& from_surface_m) {
    const double k_squared = wave_number_squared(frequency_hz, resistivity_ohm_m);
    require_between("depth in the ground", depth_m, least_proof_depth_m, ground_most_depth_m, "m");
    const double s = depth_m + std::max(from_surface_m.z, 0.0);
    const Outward out = outward(from_surface_m);
    const double twice = mutated(Mutation::ground_added_twice) ? 2.0 : 1.0;
    return field_of(direct_sums(out.distance / s, s, k_squared, depth_m), twice * two_mu0_over_4pi / (s * s * s),
                    moment_am2, out.cosine, out.sine);
}

Phasor3 GroundTable::secondary_t(const Phasor3& moment_am2, const glm::dvec3& from_surface_m) const {
    glm::dvec3 held = from_surface_m;
    held.z = std::clamp(held.z, 0.0, ground_most_height_m);
    return ground_secondary_t(moment_am2, frequency_hz_, resistivity_ohm_m_, depth_m_, held);
}

GroundTables::GroundTables(double frequency_hz, double resistivity_ohm_m, double least_depth_m, double most_depth_m)
    : frequency_hz_(frequency_hz), resistivity_ohm_m_(resistivity_ohm_m), least_depth_m_(least_depth_m),
      most_depth_m_(most_depth_m) {
    (void)wave_number_squared(frequency_hz, resistivity_ohm_m);
    require_between("least depth in the ground", least_depth_m, ground_least_depth_m, ground_most_depth_m, "m");
    require_between("most depth in the ground", most_depth_m, least_depth_m, ground_most_depth_m, "m");
}

GroundTable GroundTables::at_depth(double depth_m) const {
    require_between("depth in the ground tables", depth_m, least_depth_m_, most_depth_m_, "m");
    GroundTable table;
    table.frequency_hz_ = frequency_hz_;
    table.resistivity_ohm_m_ = resistivity_ohm_m_;
    table.depth_m_ = depth_m;
    return table;
}

} // namespace sondeyard::sim
