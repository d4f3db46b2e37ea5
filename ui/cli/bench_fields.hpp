// The figures of `sondeyard bench` for the field at many places.
#pragma once

#include <string>
#include <vector>

namespace sondeyard::ui {

// Evaluations a second, one core: the fastest of many short runs, since other work on the machine can only slow one
// down, and the median of them, which says how much it did.
struct Rate {
    std::string name;
    double best_per_s = 0.0;
    double median_per_s = 0.0;
};

// Two rates of the same run, fastest by fastest, and the least that is asked for; 0 when nothing is.
struct Ratio {
    std::string name;
    double value = 0.0;
    double at_least = 0.0;
};

struct FieldFigures {
    std::string target; // the instruction set in use
    std::vector<Rate> rates;
    std::vector<Ratio> ratios;
};

FieldFigures measure_fields(bool quick);

// A map of everything over the yard, 1024 x 1024 places at the height of a receiver's lower antenna, of the bundled
// exercise whose map is most work: from the scene to the last row, by two threads. What an exercise works out at its
// start (GroundModel) is not in it.
struct MapFigures {
    std::string scenario;
    double best_ms = 0.0;
    double median_ms = 0.0;
    double most_ms = 0.0; // asked for, on two cores
};
MapFigures measure_map(bool quick);

// What a debrief draws of the field in that same exercise: a map of 512 cells a side as the window makes it, signal,
// dip and contour lines; the contour lines by themselves; plumb points, level line and peak; the field's lines in a
// section.
struct FieldPictureFigures {
    double map_best_ms = 0.0;
    double map_median_ms = 0.0;
    double map_most_ms = 0.0; // asked for, on two cores
    double lines_ms = 0.0;    // fastest, as those below
    double points_ms = 0.0;
    double section_ms = 0.0;
};
FieldPictureFigures measure_field_picture(bool quick);

} // namespace sondeyard::ui
