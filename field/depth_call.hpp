// What depth the readings offer for the call, and from which of them.
#pragma once

#include "field/exercise.hpp"

#include <optional>
#include <string>

namespace sondeyard::field {

struct DepthOffer {
    std::optional<double> depth_m; // of the ground over the sonde to its middle; none: no reading counts
    // "reading 2, at the peak"; without a depth why there is none: "no reading that counts: the mast leaned 8 deg".
    // Lengths in braces (in_units).
    std::string words;
    std::optional<double> off_peak_m; // of that reading from the peak mark; none: no peak is marked there
};
inline constexpr double at_the_peak_m = 0.25; // nearer than this it was read at the peak

// The reading that counts nearest to the peak mark, taken while the cable stood as it did there; without a peak mark the
// last that counts. Read as a facing pair it is the mean of both.
DepthOffer depth_offer(const Notebook& notebook);

} // namespace sondeyard::field
