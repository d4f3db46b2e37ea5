// Model operators with a fault built in, for the coach: each works an exercise as level-line does but for the one thing
// (or two) that it does wrong, and says which findings that ought to bring. What they know beyond the Brief is used for
// that only: to find a ghost peak or a neighbour's sonde at once, and to say whether the fault came to anything. Whether
// it did is worked out here from the truth and from what was shown to them, not taken from the score.
#pragma once

#include "field/coach.hpp"
#include "field/exercise.hpp"

#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::test {

enum class Fault {
    locate_at_peak,       // marks the locate on the peak mark
    locate_at_level_line, // on the level line's mark
    locate_at_midpoint,   // midway between the two plumb marks
    locate_adrift,        // more than half a depth from the peak mark, where nothing is
    locate_aside,         // beside the peak mark, off but not adrift
    peak_at_plumb_point,  // marks a plumb point as the peak, and locates there
    plumb_at_peak,        // marks the peak as a plumb point
    drops_plumb_point,    // found the second plumb point and keeps no mark of it
    marks_in_passing,     // marks as the tip arrives, before the display has settled
    reads_tip_up,
    marks_tip_up,
    reads_leaning,
    reads_once,
    ignores_pair,     // reads a pair aside with a leaning mast, goes on when it disagrees
    reads_beside,     // a good pair, far beside the track
    calls_level,      // whatever the plumb points say
    machine_at_paint, // lays the box over the nearest paint, by machine
    machine_at_once,  // by machine, whatever the ticket says
    mistuned          // touches the frequency before marking
};

struct Faulty {
    std::string what; // "steep-branch, seed 101: locate_at_peak"
    field::ExerciseState state;
    std::set<std::string_view> built_in;      // keys of findings that are due
    std::set<std::string_view> innocent = {}; // of findings that it comes near to without any being due
};

// All endings of one exercise: worked once up to the marks by level-line, then ended rightly and with each fault that
// can be built in here. The right one first.
std::vector<Faulty> worked_with_faults(const field::Setting& setting, const std::string& what);

// Whole exercises of their own: faulty_exercises.cpp.
// `beside`: marks short of being there, just beyond what can be called that place.
Faulty stops_at_ghost(const field::Setting& setting, const std::string& what, bool coil_upright, bool beside = false);
// Another sonde, or a line that sends.
Faulty marks_neighbour(const field::Setting& setting, const std::string& what, bool beside = false);
Faulty never_checks(const field::Setting& setting, const std::string& what); // goes by the sheet's frequency
Faulty sweeps_fast(const field::Setting& setting, const std::string& what);  // never stands still before the peak
// Marks the locate where the truck stands, and calls all the rest.
Faulty marks_at_once(const field::Setting& setting, const std::string& what);

} // namespace sondeyard::test
