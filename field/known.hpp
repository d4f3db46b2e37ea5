// "What could be known": bound and best fit of one exercise, beside what was marked and called. For the debrief, which
// may look at the truth.
#pragma once

#include "field/fit.hpp"
#include "field/lengths.hpp"
#include "field/score.hpp"

#include <string>

namespace sondeyard::field {

// Something that a plain dipole does not have, and that was in the soundings.
struct Disturbance {
    std::string what;   // "currents in metal lines beside the sonde"
    double share = 0.0; // of the sonde's own field, at the places sounded that count most
};

struct SondeErrors { // of a mark and calls, or of a fit, against the sonde that counts
    std::optional<double> position_m;
    std::optional<double> depth_m; // signed, reported minus true
    std::optional<double> tilt_deg;
};

struct WhatCouldBeKnown {
    bool any = false;                // false: no sounding of this sonde was strong enough to say anything
    std::vector<Sounding> soundings; // of the sonde where it counts, on its frequency
    PlainDipole truth;               // as it is seen from outside its pipe
    Knowable bound;                  // nothing but noise
    Knowable bound_as_mounted;       // besides, antennas mounted no better than the receiver's maker allows
    std::vector<KnowableThen> shrank;
    BestFit fit;
    SondeErrors fit_errors;
    SondeErrors trainee;
    std::vector<Disturbance> disturbances; // the largest first; only those that stand out of the noise
    std::vector<std::string> sentences;    // what it means, plain
};

// Bound and fit are for the sonde against which the score was made; soundings of other places of it are left out.
inline constexpr int shrink_points = 120;
WhatCouldBeKnown what_could_be_known(const Setting& setting, const ExerciseState& state, const Score& score,
                                     Units units = Units::metric);

} // namespace sondeyard::field
