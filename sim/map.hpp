// The strength of everything in a scene over a rectangle of places, for drawing.
//
// Magnitudes add as powers: sqrt(sum of (share |B|)^2 over the emissions and the hum), tesla RMS, a share being what a
// receiver's filter passes. Two transmitters at one nominal frequency are never in step for long, so that is what a
// receiver shows of them on the average; in a tick they beat. Same physics as sim/scene.hpp, by the vector loops of
// sim/batch.hpp: agrees with whole_field_t to 1e-3 where there is conducting ground (see GroundSheet), to 1e-11
// without; the last digits differ from machine to machine, so nothing that a replay or a score uses may come from here.
#pragma once

#include "sim/batch.hpp"
#include "sim/isolines.hpp"
#include "sim/receiver.hpp"
#include "sim/scene.hpp"

#include <optional>
#include <span>
#include <utility>
#include <vector>

namespace sondeyard::sim {

// What of each part is heard; emissions in the scene's order, 1 for those beyond the list's end.
struct MapShares {
    std::vector<double> emissions;
    double hum = 1.0;
};

// What a receiver of this kind that is set to frequency_hz makes of it once it has settled: every emission and every
// harmonic of the mains by its tuning response. The mains are taken at their nominal frequency.
MapShares shares_heard(const Scene& scene, const ReceiverSpec& receiver, double frequency_hz);

// At one place, by the scalar functions.
double whole_field_t(const Scene& scene, const MapShares& shares, const glm::dvec3& place_m);

// Made once a map, some milliseconds for each dipole in conducting ground; then rows are worked out in any order, by as
// many threads as the caller likes, so that a window can draw what is ready and give up the rest.
class SceneMap {
public:
    // Heights between which all places will lie. Throws std::invalid_argument for a grid without places, a step not
    // above 0, heights out of order, and what GroundSheet refuses (a dipole above its surface).
    SceneMap(const Scene& scene, const MapGrid& grid, double lowest_z_m, double highest_z_m,
             const MapShares& shares = {});

    const MapGrid& grid() const { return grid_; }

    // Whole rows from first_row on, as many as out_t holds, row after row from west to east. z_m: the height of each of
    // these places, or one for all. Throws std::invalid_argument when the numbers do not fit the grid.
    // dip_deg: nothing, or as long as out_t: how steep the first emission's field stands there, 0 level to 90 plumb, by
    // its major axis; 0 where there is no field. Only for a scene whose first emission is heard at all.
    void rows_t(int first_row, std::span<const double> z_m, std::span<double> out_t,
                std::span<float> dip_deg = {}) const;

private:
    struct Buffers;
    void stretch_t(Buffers& at, std::span<double> out_t) const;
    static void dips_deg(const Buffers& at, std::span<float> out_deg); // of group 0

    // Fields that add as phasors: one emission's, or the hum's. `group` below counts them.
    struct Source {
        std::size_t group;
        Dipole dipole;
        glm::dvec3 surface_m;
        std::optional<GroundSheet> sheet;
    };
    // Lines of equal course are worked out once, whatever flows in them.
    struct Line {
        std::vector<glm::dvec3> points_m;
        std::vector<std::pair<std::size_t, std::complex<double>>> currents_a; // with their groups
    };
    void add_line(std::size_t group, const LineCurrent& line);

    MapGrid grid_;
    bool first_heard_ = false;   // then its group is 0
    std::vector<double> shares_; // of each group
    std::vector<Source> sources_;
    std::vector<Line> lines_;
};

} // namespace sondeyard::sim
