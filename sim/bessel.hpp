// Modified Bessel functions of complex argument, orders 0 and 1, scaled so that neither overflows nor dies away:
//
//     i0 = e^-x I0(x)     i1 = e^-x I1(x)     k0 = e^x K0(x)     k1 = e^x K1(x)          (complex exponentials)
//
// For |x| up to 2 the power series (Abramowitz and Stegun 9.6.10 to 9.6.13); up to 30 Steed's continued fraction for K
// (Temme, Journal of Computational Physics 19, 1975), the continued fraction of I1 / I0, and the Wronskian
// I0 K1 + I1 K0 = 1 / x; beyond, Hankel's series (A. and S. 9.7.1, 9.7.2). All from memory.
//
// Valid for |arg x| up to 85 degrees and |x| from 1e-150 to 1e150. Relative error of each function below 1e-13 for |arg
// x| up to 45 degrees, which is all that a metal needs (x = sqrt(i) times a real number), and below 1e-12 to 85
// degrees.
#pragma once

#include <complex>

namespace sondeyard::sim {

struct ScaledBessel {
    std::complex<double> i0, i1, k0, k1;
};

// Throws std::invalid_argument for an argument outside the range above.
ScaledBessel scaled_bessel(std::complex<double> x);

} // namespace sondeyard::sim
