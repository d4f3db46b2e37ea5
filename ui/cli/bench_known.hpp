// The figures of `sondeyard bench` for "what could be known", on ten minutes of work.
#pragma once

#include "field/exercise.hpp"

namespace sondeyard::ui {

struct KnownFigures { // medians, ms
    double fit_10min_ms = 0.0;
    double bound_10min_ms = 0.0;  // the bound and how it shrank
    double debrief_open_ms = 0.0; // all that a debrief works out: score, words, bound, fit
    double soundings = 0.0;
};

// `work` says what is done in each tick.
KnownFigures measure_known(const field::Setting& setting,
                           field::Action (*work)(const field::Setting& setting, std::int64_t tick), bool quick);

} // namespace sondeyard::ui
