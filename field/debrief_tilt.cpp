#include "field/debrief_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double level_enough_deg = 0.5;    // peak and level line are less than a hand apart below this
constexpr double own_peak_per_deg = 0.0058; // of the antenna's height over the sonde, a degree of tilt, to 45 deg
constexpr double own_peak_to_deg = 45.0;

// Where the peak of the total field and the level line cross the track over a tilted sonde, from the sonde, towards its
// raised end. antenna_height_m is over the sonde. The level line is in closed form; the peak is found to a thousandth
// of the height on the side where it must be.
struct Spots {
    double peak_m = 0.0;
    double level_line_m = 0.0;
    std::array<double, 2> plumb_m{}; // the nearest one on either side, over a sonde that lies level
};
Spots expected_spots(double tilt_deg, double antenna_height_m) {
    const double c = std::cos(sim::radians(tilt_deg));
    const double s = std::sin(sim::radians(tilt_deg));
    double best = 0.0;
    double strongest = -1.0;
    for (int i = 0; i <= 400; ++i) {
        const double x = 0.001 * i;
        const double square = 1.0 + x * x;
        const double along = x * c + s;
        const double power = (3.0 * along * along / square + 1.0) / (square * square * square);
        if (power > strongest) {
            strongest = power;
            best = x;
        }
    }
    const double t = s / c;
    const double level = t < 1e-9 ? 0.0 : (3.0 - std::sqrt(9.0 + 8.0 * t * t)) / (2.0 * t);
    const double plumb_m = std::sqrt(0.5) * antenna_height_m;
    return {best * antenna_height_m, level * antenna_height_m, {plumb_m, -plumb_m}};
}

// The same where the ground rises or falls, walked over in steps of 2 mm: along the sonde, its field in the plane of
// axis and plumb, x towards the raised end and z up.
Spots spots_on(const World& world, const glm::dvec3& sonde_m, double raised_heading_deg, double tilt_deg) {
    const glm::dvec2 sonde = plan(sonde_m);
    const glm::dvec2 ahead = direction_of(raised_heading_deg);
    const double c = std::cos(sim::radians(tilt_deg));
    const double s = std::sin(sim::radians(tilt_deg));
    constexpr double step_m = 0.002;
    const int steps = static_cast<int>(2.0 * depth_m(world, sonde_m) / step_m);
    struct Seen {
        double flat, up;
    };
    const auto seen_at = [&](int i) {
        const double x = step_m * i;
        const double z = height_m(world.yard.terrain, sonde + x * ahead) + world.receiver.tip_to_antenna_m - sonde_m.z;
        const double square = x * x + z * z;
        const double along = 3.0 * (x * c + z * s) / square;
        const double fade = 1.0 / (square * std::sqrt(square));
        return Seen{(along * x - c) * fade, (along * z - s) * fade};
    };
    Spots spots;
    double strongest = -1.0;
    double level_off = 1e9;
    std::array<double, 2> plumb_off = {1e9, 1e9};
    Seen before = seen_at(-steps);
    for (int i = 1 - steps; i <= steps; ++i) {
        const Seen now = seen_at(i);
        const double x = step_m * (i - 0.5);
        if (const double power = now.flat * now.flat + now.up * now.up; power > strongest) {
            strongest = power;
            spots.peak_m = step_m * i;
        }
        if ((before.up < 0.0) != (now.up < 0.0) && std::abs(x) < level_off) {
            level_off = std::abs(x);
            spots.level_line_m = x;
        }
        const std::size_t side = x > 0.0 ? 0 : 1;
        if ((before.flat < 0.0) != (now.flat < 0.0) && std::abs(x) < plumb_off[side]) {
            plumb_off[side] = std::abs(x);
            spots.plumb_m[side] = x;
        }
        before = now;
    }
    return spots;
}

std::string place_along(double along_m, double heading_deg) { // "0.25 m west of it"
    return std::abs(along_m) < 0.005 ? std::string("over it")
                                     : fmt::format("{} {} of it", metres(std::abs(along_m)),
                                                   compass_word(along_m < 0.0 ? heading_deg + 180.0 : heading_deg));
}

// Where the ground over the sonde is not level: what that does to the marks. True: it was said of a level sonde.
bool add_slope_note(const World& world, const Score& score, double raised_heading_deg, Notes& notes) {
    const Spots spots = spots_on(world, score.located.sonde.position_m, raised_heading_deg, score.tilt.true_tilt_deg);
    const bool worth_it = score.tilt.true_tilt_deg < level_enough_deg && spots.plumb_m[0] != 0.0 &&
                          spots.plumb_m[1] != 0.0 && std::abs(spots.plumb_m[0] + spots.plumb_m[1]) > worth_telling_m;
    if (worth_it) {
        notes.push_back(fmt::format(
            "The ground is not level here: the plumb points are {} {} and {} {} of the sonde, the farther one uphill, and "
            "the peak is {}. It is not midway between the plumb points; the level line still runs over a level sonde.",
            metres(spots.plumb_m[0]), compass_word(raised_heading_deg), metres(-spots.plumb_m[1]),
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
    const Spots spots =
        uneven ? spots_on(world, score.located.sonde.position_m, tilt.true_raised_heading_deg, tilt.true_tilt_deg)
               : expected_spots(tilt.true_tilt_deg, antenna_m);
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
