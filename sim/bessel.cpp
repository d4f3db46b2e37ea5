#include "sim/bessel.hpp"

#include "sim/mutation.hpp"

#include <array>
#include <limits>
#include <numbers>
#include <stdexcept>
#include <string>

namespace sondeyard::sim {

namespace {

using Complex = std::complex<double>;

constexpr double series_up_to = 2.0;
constexpr double hankel_from = 30.0;
constexpr double epsilon = std::numeric_limits<double>::epsilon();
constexpr int most_steps = 2000; // the slowest, a continued fraction near 85 degrees, takes about 150

ScaledBessel by_power_series(Complex x) {
    const Complex quarter = 0.25 * x * x;
    Complex term = 1.0; // (x^2/4)^k / k!^2
    double harmonic = 0.0;
    Complex i0 = 1.0;
    Complex i1 = 1.0; // of I1 / (x/2)
    Complex k0 = 0.0; // of K0 without its logarithm
    Complex k1 = 0.5; // of the sum (psi(k+1) + psi(k+2)) / 2 + gamma in K1
    for (int k = 1; std::abs(term) > epsilon * 1e-3 && k < 60; ++k) {
        term *= quarter / double(k * k);
        harmonic += 1.0 / k;
        i0 += term;
        k0 += term * harmonic;
        const Complex next = term / double(k + 1);
        i1 += next;
        k1 += next * (harmonic + 0.5 / double(k + 1));
    }
    const Complex half = 0.5 * x;
    const Complex log_term = mutated(Mutation::bessel_logarithm_dropped) ? 0.0 : std::log(half) + std::numbers::egamma;
    const Complex grow = std::exp(x);
    const Complex i1_full = half * i1;
    return {i0 / grow, i1_full / grow, grow * (k0 - log_term * i0), grow * (1.0 / x + log_term * i1_full - half * k1)};
}

// e^x K0 and e^x K1: Steed's sum with order 0.
std::array<Complex, 2> k_by_steed(Complex x) {
    Complex b = 2.0 * (1.0 + x);
    Complex d = 1.0 / b;
    Complex h = d;
    Complex step = d;
    Complex q_before = 0.0;
    Complex q_now = 1.0;
    double c = 0.25;
    Complex q = c;
    double a = -0.25;
    Complex sum = 1.0 + q * step;
    for (int i = 2; i < most_steps; ++i) {
        a -= 2.0 * (i - 1);
        c = -a * c / i;
        const Complex q_next = (q_before - b * q_now) / a;
        q_before = q_now;
        q_now = q_next;
        q += c * q_next;
        b += 2.0;
        d = 1.0 / (b + a * d);
        step = (b * d - 1.0) * step;
        h += step;
        const Complex change = q * step;
        sum += change;
        if (std::abs(change) < 0.1 * epsilon * std::abs(sum)) {
            break;
        }
    }
    const Complex k0 = std::sqrt(std::numbers::pi / (2.0 * x)) / sum;
    return {k0, k0 * (x + 0.5 - 0.25 * h) / x};
}

// I1 / I0 = 1 / (2/x + 1 / (4/x + 1 / (6/x + ...))), by Lentz's method.
Complex i_ratio(Complex x) {
    const Complex twice_inverse = 2.0 / x;
    Complex b = twice_inverse;
    Complex fraction = b;
    Complex c = b;
    Complex d = 0.0;
    for (int i = 2; i < most_steps; ++i) {
        b += twice_inverse;
        d = 1.0 / (b + d);
        c = b + 1.0 / c;
        const Complex factor = c * d;
        fraction *= factor;
        if (std::abs(factor - 1.0) < epsilon) {
            break;
        }
    }
    return 1.0 / fraction;
}

ScaledBessel by_fractions(Complex x) {
    const auto [k0, k1] = k_by_steed(x);
    const Complex ratio = i_ratio(x);
    const Complex i0 = 1.0 / (x * (k1 + k0 * ratio));
    return {i0, i0 * ratio, k0, k1};
}

// Hankel's sum for order nu, with the sign that the function asks for: sum of (sign)^k a_k(nu) / x^k.
Complex hankel_sum(double order, Complex x, double sign) {
    const double mu = 4.0 * order * order;
    Complex term = 1.0;
    Complex sum = 1.0;
    for (int k = 1; k < 40 && std::abs(term) > 0.1 * epsilon; ++k) {
        const double odd = 2.0 * k - 1.0;
        term *= sign * (mu - odd * odd) / (8.0 * k) / x;
        sum += term;
    }
    return sum;
}

ScaledBessel by_hankel(Complex x) {
    const Complex front_i = 1.0 / std::sqrt(2.0 * std::numbers::pi * x);
    const Complex front_k = std::sqrt(std::numbers::pi / (2.0 * x));
    const Complex k0 = hankel_sum(0.0, x, 1.0);
    const Complex k1 = hankel_sum(1.0, x, 1.0);
    // The part of I that dies away: it counts where x is nearly imaginary.
    const Complex side = Complex{0.0, x.imag() < 0.0 ? -1.0 : 1.0} * std::exp(-2.0 * x);
    return {front_i * (hankel_sum(0.0, x, -1.0) + side * k0), front_i * (hankel_sum(1.0, x, -1.0) - side * k1),
            front_k * k0, front_k * k1};
}

} // namespace

ScaledBessel scaled_bessel(std::complex<double> x) {
    const double size = std::abs(x);
    constexpr double least_cosine = 0.087; // of 85 degrees
    if (!(size >= 1e-150 && size <= 1e150) || x.real() < least_cosine * size) {
        throw std::invalid_argument("Bessel function of " + std::to_string(x.real()) + " + " +
                                    std::to_string(x.imag()) +
                                    " i: the argument must lie within 85 degrees of the positive real axis, its size "
                                    "from 1e-150 to 1e150");
    }
    if (size <= series_up_to) {
        return by_power_series(x);
    }
    return size < hankel_from ? by_fractions(x) : by_hankel(x);
}

} // namespace sondeyard::sim
