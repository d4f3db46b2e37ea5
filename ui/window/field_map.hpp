// The true signal over a yard, worked out beside the window: coarse first, then finer, in bands of rows from the south,
// so that there is something to see at once and no frame waits for it. Truth: for the debrief alone.
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
double map_height_m(const FieldMapTask& task, const glm::dvec2& place_m); // z of the antenna there

// Square cells on the longer side of the yard, pass after pass.
inline constexpr std::array<int, 3> field_map_passes = {64, 256, 1024};

// Whole rows of a pass. Cell (column, row) has its middle at (column + 0.5, row + 0.5) cells from the south-west corner;
// the last ones may reach beyond the yard.
struct FieldMapBand {
    int pass = 0;
    int columns = 0;
    int rows = 0; // of the whole pass
    double cell_m = 0.0;
    int first_row = 0;
    std::vector<float> dbpt; // row after row from west to east; -infinity where there is no field at all
};

class FieldMap {
public:
    // `wake` is called from the map's own thread, now and then and at the end, when there is something to take.
    FieldMap(FieldMapTask task, std::function<void()> wake);
    // Waits for the band that is being worked on, some milliseconds, and gives up the rest.
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

// Colours of rising signal, 0 to 1: cividis, which rises evenly in lightness and looks much alike to eyes with and without
// the common colour deficiencies (J. R. Nunez, C. R. Anderton, R. S. Renslow, Optimizing colormaps with consideration for
// color vision deficiency to enable accurate interpretation of scientific data, PLoS ONE 13(7) e0199239, 2018; public
// domain).
ImU32 cividis(double share);

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
