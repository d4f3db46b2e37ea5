// The map of the true field as it is drawn, signal or dip: the rows that have come so far, one texture a pass, and the
// contour lines of the finest whole one. Truth: the debrief has one, and a lesson that allows it.
#pragma once

#include "ui/window/field_map.hpp"
#include "ui/window/surface.hpp"

#include <string_view>
#include <vector>

namespace sondeyard::ui {

enum class MapLayer { none, signal, dip };
std::string_view name_of(MapLayer layer);
MapLayer after(MapLayer layer);             // what the key shows next: signal, dip, none
std::string_view map_label(MapLayer layer); // of the button that does it

class MapPicture {
public:
    // Without a surface the values come in all the same and nothing is drawn. The surface must outlive the picture.
    MapPicture(FieldMapTask task, Surface* surface);
    ~MapPicture();
    MapPicture(const MapPicture&) = delete;
    MapPicture& operator=(const MapPicture&) = delete;

    // Takes in what is new; once a frame, before drawing. Asks nothing of the map's thread but a moment's lock.
    void take_in();

    // Signal or dip; what is there already is coloured anew. `none` leaves it as it is: whoever draws leaves it out.
    void show(MapLayer layer);
    MapLayer layer() const { return layer_; }
    const std::vector<sim::Isoline>& lines() const; // of the layer shown

    struct Pass {
        int columns = 0;
        int rows = 0;
        int ready = 0; // rows from the south
        double cell_m = 0.0;
        std::vector<float> dbpt; // of all rows
        std::vector<float> dip_deg;
        FieldMapLines lines; // when it is whole
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
    void take_band(FieldMapBand& band);
    void colour_rows(const Pass& pass, int first_row, int end_row);

    FieldMapTask task_;
    Surface* surface_;
    FieldMapRange range_;
    MapLayer layer_ = MapLayer::signal;
    std::array<Pass, field_map_passes.size()> passes_;
    FieldMap map_; // last: it ends first
};

} // namespace sondeyard::ui
