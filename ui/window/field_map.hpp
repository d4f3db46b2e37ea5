// The true field over a yard, signal and dip with their contour lines, worked out beside the window by two threads:
// coarse first, then finer, in bands of rows from the south, so that there is something to see at once and no frame
// waits for it. Truth: for the debrief, and for a lesson that allows it.
#pragma once

#include "field/exercise.hpp"
#include "sim/map.hpp"

#include <imgui.h>

#include <array>
#include <cstdint>
#include <functional>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

namespace sondeyard::ui {

// All that a receiver hears on the sonde's frequency, its tip held on the ground.
struct FieldMapTask {
    sim::Scene scene;
    sim::MapShares shares;
    field::Terrain terrain;
    double width_m = 0.0; // of the yard, east
    double length_m = 0.0;
    double antenna_m = 0.05; // over the ground
};
FieldMapTask field_map_task(const field::Setting& setting); // the sonde as it lay when the fault was on the screen
FieldMapTask field_map_task(const field::Setting& setting, const field::SondeTruth& sonde);
double map_height_m(const FieldMapTask& task, const glm::dvec2& place_m); // z of the antenna there

// Contour lines of a map: of the signal at whole multiples of signal_line_db, in dBpT; of the dip at dip_lines_deg.
// Where the dip is 0 is the level line, which field/true_points.hpp has more exactly.
struct FieldMapLines {
    std::vector<sim::Isoline> signal;
    std::vector<sim::Isoline> dip;
};
inline constexpr double signal_line_db = 6.0;
inline constexpr std::array<double, 6> dip_lines_deg = {15.0, 30.0, 45.0, 60.0, 75.0, 85.0};

// One map whole, `cells` square cells on the yard's longer side. Cell (column, row) has its middle at the grid's place
// (column, row); the last ones may reach beyond the yard. dbpt is -infinity where there is no field at all.
struct FieldMapSheet {
    sim::MapGrid grid;
    std::vector<float> dbpt;    // of all that the receiver hears
    std::vector<float> dip_deg; // of the sonde's own field, 0 level to 90 plumb
    FieldMapLines lines;
};
// By two threads where the machine has them. `rows_ready` is called in between by the calling thread, with rows that
// are done from the south; when it says no, the rest is given up and the sheet stays unfinished, without lines.
FieldMapSheet field_map_sheet(const FieldMapTask& task, int cells,
                              const std::function<bool(const FieldMapSheet&, int)>& rows_ready = {});
FieldMapLines field_map_lines(const FieldMapSheet& sheet); // its two parts side by side in time as well

// Square cells on the longer side of the yard, pass after pass.
inline constexpr std::array<int, 3> field_map_passes = {64, 256, 1024};

// Whole rows of a pass, as a sheet has them. The last band of a pass brings its lines.
struct FieldMapBand {
    int pass = 0;
    int columns = 0;
    int rows = 0; // of the whole pass
    double cell_m = 0.0;
    int first_row = 0;
    std::vector<float> dbpt; // row after row from west to east
    std::vector<float> dip_deg;
    FieldMapLines lines;
};

class FieldMap {
public:
    // `wake` is called from the map's own thread, now and then and at the end, when there is something to take.
    FieldMap(FieldMapTask task, std::function<void()> wake);
    // Waits for the band or the lines that are being worked on, some tens of milliseconds at most, and gives up the
    // rest.
    ~FieldMap() = default;
    FieldMap(const FieldMap&) = delete;
    FieldMap& operator=(const FieldMap&) = delete;

    std::vector<FieldMapBand> take(); // what is new since the last call, in order
    std::string trouble() const;      // why there will be no more; empty when all is well

private:
    void work(const std::stop_token& stop);
    bool work_pass(const std::stop_token& stop, int number); // false: given up
    void hand_over(FieldMapBand band);

    const FieldMapTask task_;
    const std::function<void()> wake_;
    mutable std::mutex mutex_; // of the two below
    std::vector<FieldMapBand> ready_;
    std::string trouble_;
    std::jthread thread_; // last: it uses all of the above
};

// Colours of rising signal, 0 to 1: cividis, which rises evenly in lightness and looks much alike to eyes with and
// without the common colour deficiencies (J. R. Nunez, C. R. Anderton, R. S. Renslow, Optimizing colormaps with
// consideration for color vision deficiency to enable accurate interpretation of scientific data, PLoS ONE 13(7)
// e0199239, 2018; public domain).
ImU32 cividis(double share);

// Colours of rising dip, 0 level to 1 plumb: viridis (S. van der Walt and N. Smith, 2015, matplotlib's map; public
// domain, CC0), which rises evenly in lightness too, and whose hues keep it apart from the signal's map.
ImU32 viridis(double share);

// From colour to colour of a whole map: whole tens of dBpT.
struct FieldMapRange {
    double low_dbpt = 0.0;
    double high_dbpt = 80.0;
    double share(double dbpt) const; // 0 to 1, clamped
};
inline constexpr double field_map_span_db = 80.0; // more would leave too little colour for what lies near the sonde
// Of the first, coarse pass, and what it may have missed: right over the transmitters.
FieldMapRange field_map_range(const FieldMapTask& task, const std::vector<float>& coarse_dbpt);

} // namespace sondeyard::ui
