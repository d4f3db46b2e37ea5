// The figures of `sondeyard bench` for the time machine.
#pragma once

#include "field/exercise.hpp"

namespace sondeyard::ui {

// What a frame of the replay view costs its caller in a log of ten minutes, microseconds of its thread: update and everything drawn
// (state and display of that moment, graph, lists, plan with its coloured trail), down to the draw lists; not what a graphics
// driver makes of them. 60 frames a second leave 16,667 us.
struct ScrubFigures {
    double jump_us = 0.0;       // median over jumps to anywhere
    double jump_worst_us = 0.0; // of them
    double drag_us = 0.0;       // median while the graph is dragged through from end to end
    double drag_worst_us = 0.0;
    double prepare_ms = 0.0; // once, when the view is first shown: playing it through, in slices of frames
};
ScrubFigures measure_scrubbing(bool quick);

} // namespace sondeyard::ui
