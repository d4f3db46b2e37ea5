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
    Knowable bound;                  // if nothing but noise were wrong
    Knowable bound_as_mounted;       // besides, antennas mounted no better than the receiver's maker allows: the honest
                                     // figure, since nobody knows his receiver better
    std::vector<KnowableThen> shrank;
    BestFit fit;
    SondeErrors fit_errors;
    SondeErrors trainee;
    std::vector<Disturbance> disturbances; // the largest first; only those over a thousandth
};

// Bound and fit are for the sonde against which the score was made; soundings of other places of it are left out.
inline constexpr int shrink_points = 120;
WhatCouldBeKnown what_could_be_known(const Setting& setting, const ExerciseState& state, const Score& score);

// What it means, plain; every sentence is true of it.
std::vector<std::string> known_sentences(const WhatCouldBeKnown& known, Units units = Units::metric);

// A length that may be far below a centimetre: "0.3 mm", "4 mm", "2 cm"; "0.04 in", "0.3 in", "1 1/2 in".
std::string fine_text(double length_m, Units units);

// For programs: {"knowable": {...}, "as_mounted": {...}, "best_fit": {...}, "disturbances": [...], "sentences": [...]},
// all in m and deg, null where nothing can be said. UTF-8, one object, no trailing newline.
std::string known_json(const WhatCouldBeKnown& known);

} // namespace sondeyard::field
