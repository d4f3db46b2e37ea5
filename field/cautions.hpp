// What is said of safety beside a dig, the same in window, guide and debrief. Scores nothing.
#pragma once

#include "field/exercise.hpp"

#include <string>

namespace sondeyard::field {

// A ticket that is not cleared holds every digging back, by hand too. Empty when it is cleared.
std::string waiting_words(const Ticket& ticket);

// On a slope the uphill side is the one that comes down on somebody: the hole's depth there.
double deepest_side_m(const Terrain& terrain, const DigBox& box);
// As deep as a rule about cave-ins begins, which is from that depth on.
bool is_deep(double deepest_m, double protection_depth_m);
// What is said of such a hole, at its deepest side. Lengths in braces (in_units).
std::string deep_hole_words(double deepest_m, double protection_depth_m);
std::string deep_hole_line(double deepest_m, double protection_depth_m); // the same in one line, while it is laid out

} // namespace sondeyard::field
