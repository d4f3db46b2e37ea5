// What a depth reading would have been, held otherwise or somewhere else: so that its error is laid to what made it.
// Private to coach*.cpp.
#pragma once

#include "field/coach_case.hpp"

namespace sondeyard::field::coaching {

// The receiver as it is, with its own errors of mounting, over the sonde and the ground as they are; no noise, no hum, no
// other transmitter. From the tip, at the height that it had. Empty where the receiver would have shown no depth.
struct ReadOtherwise {
    double true_m = 0.0;             // from the tip straight down to the level of the sonde
    std::optional<double> plumb_m;   // there, the mast plumb
    std::optional<double> turned_m;  // there, leaning as it did, and turned half round on the spot
    std::optional<double> as_held_m; // there, leaning as it did
    std::optional<double> along_m;   // there, the mast plumb and the coils turned along the sonde

    std::optional<double> place_makes_m() const; // what reading there makes, deeper positive
    std::optional<double> lean_makes_m() const;  // what the lean makes there
};
ReadOtherwise read_otherwise(const Case& c, const Reading& r);

} // namespace sondeyard::field::coaching
