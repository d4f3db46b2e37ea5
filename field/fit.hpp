// The best fit: weighted least squares of a plain dipole, its place and its moment, to soundings.
//
// The residuals are those of the bound in knowable.hpp, each sounding turned to the phase that suits it best, so at
// small noise the fit scatters as the bound says. It knows nothing of where the sonde lies: it starts from places round
// the strongest sounding at several depths, keeps the best few, and says so when another place fits as well (left and
// right of a straight track can).
//
// It fits a plain dipole. Conducting ground, currents in lines, another crew's sonde or hum are not in that model: then
// it is biased, its residuals are larger than the noise, and dipole_explains is false.
#pragma once

#include "field/knowable.hpp"

namespace sondeyard::field {

struct BestFit {
    bool found = false; // false: too few soundings, or nothing converged
    PlainDipole dipole;
    Attitude attitude;
    Knowable spread;         // of the fit by its own residuals' weights, at its own place
    double chi_square = 0.0; // both parts of all channels
    long degrees_of_freedom = 0;
    double misfit = 0.0;              // sqrt(chi_square / degrees_of_freedom): 1 when noise alone is left
    bool dipole_explains = false;     // misfit no larger than chance allows (five deviations, and 5 % for rounding)
    std::optional<PlainDipole> other; // another place that fits as well (chi-square within 12 of it), if there is one
    int starts = 0;                   // tried
};

inline constexpr int fewest_soundings_to_fit = 7; // strong ones

// Soundings of one place of the sonde and one frequency. Deterministic.
BestFit best_fit(std::span<const Sounding> soundings, const sim::Instrument& instrument);

} // namespace sondeyard::field
