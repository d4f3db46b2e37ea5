// The tilt fix's worksheet, filled from a notebook: which marks and readings give its lines, and what of its answer can
// be called. Knows nothing but what the trainee has written down.
#pragma once

#include "field/exercise.hpp"
#include "field/tilt_fix.hpp"

namespace sondeyard::field {

struct TiltSheet {
    int a_id =
        0; // the plumb marks: B the last one, A the last before it that lies apart and belongs to the same place of
    int b_id = 0;                    // the sonde; 0: there is none
    double heading_deg = 0.0;        // from A to B
    std::optional<double> spacing_m; // on the level
    double rise_m = 0.0;             // of the ground from A to B
    std::optional<double> depth_m;   // what the readings offer (field/depth_call.hpp); else as called
    bool depth_is_call = false;
    std::optional<double> signal_a_db; // only where the receiver shows the whole field there
    std::optional<double> signal_b_db;
    std::optional<double> level_from_a_m;
    std::vector<std::string> remarks; // what is missing, and what makes a line doubtful; lengths in braces
};
TiltSheet tilt_sheet(const Brief& brief, const Notebook& notebook);
inline constexpr double least_apart_m = 0.3; // of two plumb marks; nearer, the second corrects the first

// The receiver's and the ground's part of the input. Spacing and depth are still 0.
TiltFixInput input_for(const Brief& brief, const TiltSheet& sheet);

// What is to be called when the fix is taken: depth to a centimetre, tilt to a degree, the raised end's heading. Empty
// when it cannot be trusted, or when it does not say which end is raised and that matters.
std::vector<Command> calls_of(const TiltSheet& sheet, const TiltFix& fix);

} // namespace sondeyard::field
