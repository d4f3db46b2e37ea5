// The map of the true signal as it is drawn: the rows that have come so far, one texture a pass. Truth: only the debrief has
// one.
#pragma once

#include "ui/window/field_map.hpp"
#include "ui/window/surface.hpp"

#include <optional>

namespace sondeyard::ui {

class MapPicture {
public:
    // Without a surface the values come in all the same and nothing is drawn. The surface must outlive the picture.
    MapPicture(FieldMapTask task, Surface* surface);
    ~MapPicture();
    MapPicture(const MapPicture&) = delete;
    MapPicture& operator=(const MapPicture&) = delete;

    // Takes in what is new; once a frame, before drawing. Asks nothing of the map's thread but a moment's lock.
    void take_in();

    struct Pass {
        int columns = 0;
        int rows = 0;
        int ready = 0; // rows from the south
        double cell_m = 0.0;
        std::vector<float> dbpt; // of all rows
        ImTextureID texture = nullptr;
        bool whole() const { return columns > 0 && ready == rows; }
    };
    const std::array<Pass, field_map_passes.size()>& passes() const { return passes_; } // coarse to fine
    int finished() const; // cells on the longer side of the finest whole pass, 0 before the first
    bool finest() const { return passes_.back().whole(); }
    const FieldMapRange& range() const { return range_; }
    double width_m() const { return task_.width_m; }
    double length_m() const { return task_.length_m; }
    std::string trouble() const { return map_.trouble(); }

private:
    void take_band(const FieldMapBand& band);

    FieldMapTask task_;
    Surface* surface_;
    FieldMapRange range_;
    std::array<Pass, field_map_passes.size()> passes_;
    FieldMap map_; // last: it ends first
};

} // namespace sondeyard::ui
