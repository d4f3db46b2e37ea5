#include "field/debrief_parts.hpp"
#include "field/tilt_fix.hpp"
#include "field/track.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double level_enough_deg = 0.5;    // peak and level line are less than a hand apart below this
constexpr double own_peak_per_deg = 0.0058; // of the antenna's height over the sonde, a degree of tilt, to 45 deg
constexpr double own_peak_to_deg = 45.0;

// Where the peak of the total field and the level line cross the track, from the sonde, towards its raised end.
struct Spots {
    double peak_m = 0.0;
    double level_line_m = 0.0;
};

TrackSpots spots_on(const World& world, const SondeTruth& sonde) {
    return track_spots(world, sonde, in_free_space(sonde));
}

std::string place_along(double along_m, double heading_deg) { // "0.25 m west of it"
    return std::abs(along_m) < 0.005 ? std::string("over it")
                                     : fmt::format("{} {} of it", metres(std::abs(along_m)),
                                                   compass_word(along_m < 0.0 ? heading_deg + 180.0 : heading_deg));
}

// Where the ground over the sonde is not level: what that does to the marks. True: it was said of a level sonde.
bool add_slope_note(const World& world, const Score& score, double raised_heading_deg, Notes& notes) {
    const TrackSpots spots = spots_on(world, score.located.sonde);
    const bool worth_it = score.tilt.true_tilt_deg < level_enough_deg && spots.plumb_ahead_m && spots.plumb_behind_m &&
                          std::abs(*spots.plumb_ahead_m + *spots.plumb_behind_m) > worth_telling_m;
    if (worth_it) {
        notes.push_back(fmt::format(
            "The ground is not level here: the plumb points are {} {} and {} {} of the sonde, the farther one uphill, and "
            "the peak is {}. It is not midway between the plumb points; the level line still runs over a level sonde.",
            metres(*spots.plumb_ahead_m), compass_word(raised_heading_deg), metres(-*spots.plumb_behind_m),
            compass_word(raised_heading_deg + 180.0), place_along(spots.peak_m, raised_heading_deg)));
    }
    if (score.depth_call_m && std::abs(score.depth_at_mark_m - score.true_depth_m) > worth_telling_m) {
        notes.push_back(fmt::format("Depth counts from the surface at the mark: {} there, {} over the sonde.",
                                    metres(score.depth_at_mark_m), metres(score.true_depth_m)));
    }
    return worth_it;
}

} // namespace

void add_tilt_notes(const Setting& setting, const Score& score, const Mark* locate, Notes& notes) {
    const World& world = setting.world;
    const TiltScore& tilt = score.tilt;
    const bool coil = !sim::shows_dial(world.receiver.kind);
    if (tilt.true_tilt_deg > on_end_above_deg) {
        notes.push_back(
            fmt::format("The sonde stood on end or nearly so ({} deg): peak and plumb point stand together, within a "
                        "tenth of its depth of it, and that is the mark; there is no second plumb point near.",
                        fixed(tilt.true_tilt_deg, 0)));
        return;
    }
    const bool uneven = !is_flat(world.yard.terrain);
    if (uneven && add_slope_note(world, score, tilt.true_raised_heading_deg, notes)) {
        return;
    }
    if (tilt.true_tilt_deg < level_enough_deg) {
        notes.push_back(fmt::format("The sonde lay level: its plumb points are {} fore and aft of it, and it is midway "
                                    "between them.",
                                    metres(std::sqrt(0.5) * (score.true_depth_m + world.receiver.tip_to_antenna_m))));
        return;
    }
    const double antenna_m = score.true_depth_m + world.receiver.tip_to_antenna_m;
    Spots spots{total_peak_on_track(tilt.true_tilt_deg) * antenna_m,
                places_on_track(tilt.true_tilt_deg).level_line * antenna_m};
    if (uneven) {
        const TrackSpots walked = spots_on(world, score.located.sonde);
        spots = {walked.peak_m, walked.level_m.value_or(0.0)};
    }
    const std::string_view raised = compass_word(tilt.true_raised_heading_deg);
    if (coil) {
        notes.push_back(fmt::format("The sonde was tilted {} deg, its {} end raised: its plumb points are not the same "
                                    "distance from it, the near one on the raised side.",
                                    fixed(tilt.true_tilt_deg, 1), raised));
        if (sim::reads_depth(world.receiver.kind) && !uneven && tilt.true_tilt_deg <= own_peak_to_deg) {
            notes.push_back(fmt::format(
                "Turned along it, level coils are loudest {} from it towards the lowered end; the middle of their nulls "
                "lies {} off the same way.",
                at_least_a_cm(own_peak_per_deg * tilt.true_tilt_deg * antenna_m),
                at_least_a_cm(0.75 * std::tan(sim::radians(tilt.true_tilt_deg)) * antenna_m)));
        }
        return;
    }
    if (uneven) {
        notes.push_back(fmt::format(
            "The sonde was tilted {} deg, its {} end raised. With this ground over it the peak is {} and the level line {}.",
            fixed(tilt.true_tilt_deg, 1), raised, place_along(spots.peak_m, tilt.true_raised_heading_deg),
            place_along(spots.level_line_m, tilt.true_raised_heading_deg)));
    } else {
        notes.push_back(
            fmt::format("The sonde was tilted {} deg, its {} end raised. Over such a sonde the peak is {} towards "
                        "the raised end and the level line {} the other way: the sonde lies between them.",
                        fixed(tilt.true_tilt_deg, 1), raised, metres(spots.peak_m), metres(-spots.level_line_m)));
    }
    if (locate == nullptr || *score.horizontal_error_m <= score.full_band_m) {
        return;
    }
    const glm::dvec2 sonde = plan(score.located.sonde.position_m);
    const glm::dvec2 to_raised = direction_of(tilt.true_raised_heading_deg);
    const double from_peak_m = glm::distance(locate->place_m, sonde + spots.peak_m * to_raised);
    const double from_level_m = glm::distance(locate->place_m, sonde + spots.level_line_m * to_raised);
    const double near_m = spot_share * score.true_depth_m;
    if (std::min(from_peak_m, from_level_m) <= near_m) {
        const bool peak = from_peak_m <= from_level_m;
        notes.push_back(fmt::format("The locate stands {} from where this sonde's {} is, and {} from the sonde: with "
                                    "tilt, the {} alone is not the mark.",
                                    metres(std::min(from_peak_m, from_level_m)), peak ? "peak" : "level line",
                                    metres(*score.horizontal_error_m), peak ? "peak" : "level line"));
    }
}

} // namespace sondeyard::field
