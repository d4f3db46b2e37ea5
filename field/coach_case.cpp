// The exercise laid beside the truth, for the coach.
#include "field/coach_case.hpp"

#include "field/debrief_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field::coaching {

double TrackSpots::along_m(const glm::dvec2& place_m) const { return glm::dot(place_m - sonde_m, ahead); }

double TrackSpots::across_m(const glm::dvec2& place_m) const {
    const glm::dvec2 off = place_m - sonde_m;
    return std::abs(off.x * ahead.y - off.y * ahead.x);
}

std::string Case::way(const glm::dvec2& from_m, const glm::dvec2& to_m) const {
    const glm::dvec2 off = to_m - from_m;
    return fmt::format("{} {}", length(glm::length(off)), compass_word(heading_of(off)));
}

double Case::item(std::string_view key) const {
    const auto applying = std::ranges::count_if(score.procedure, &ProcedureItem::applies);
    const auto found = std::ranges::find(score.procedure, key, &ProcedureItem::key);
    const bool lost = found != score.procedure.end() && found->applies && !found->done;
    return lost ? static_cast<double>(full_procedure_points) / static_cast<double>(applying) : 0.0;
}

Cost Case::position_or(std::string_view item_key) const {
    const double other = item(item_key);
    return position_lost > other ? misplaced() : Cost{.procedure = other};
}

namespace {

struct Heard {
    double along = 0.0; // parts of the field's major axis, T
    double up = 0.0;
    double all = 0.0;
};

constexpr int reach_steps = 300; // to three depths on either side
constexpr double step_share = 0.01;

// Biggest of `part` among steps [from, to], where it is larger than at both ends: a peak of its own.
template <class Part>
std::optional<double> inner_peak_m(const std::vector<Heard>& track, int from, int to, double step_m, Part part) {
    if (to - from < 2) {
        return std::nullopt;
    }
    int best = from;
    for (int i = from; i <= to; ++i) {
        if (part(track[static_cast<std::size_t>(i)]) > part(track[static_cast<std::size_t>(best)])) {
            best = i;
        }
    }
    return best == from || best == to ? std::nullopt : std::optional((best - reach_steps) * step_m);
}

int step_of(double along_m, double step_m) { return static_cast<int>(std::lround(along_m / step_m)) + reach_steps; }

void find_crossings(const std::vector<Heard>& track, double step_m, TrackSpots& spots) {
    for (int i = 1; i <= 2 * reach_steps; ++i) {
        const Heard& a = track[static_cast<std::size_t>(i - 1)];
        const Heard& b = track[static_cast<std::size_t>(i)];
        if ((a.along * a.up < 0.0) == (b.along * b.up < 0.0)) {
            continue;
        }
        const double along_m = (i - 0.5 - reach_steps) * step_m;
        const bool level = std::abs(a.up) + std::abs(b.up) < std::abs(a.along) + std::abs(b.along);
        std::optional<double>& spot = level           ? spots.level_m
                                      : along_m > 0.0 ? spots.plumb_ahead_m
                                                      : spots.plumb_behind_m;
        if (!spot || std::abs(along_m) < std::abs(*spot)) {
            spot = along_m;
        }
    }
}

TrackSpots track_spots(const Setting& setting, const SondeTruth& sonde, const sim::Emission& emission) {
    TrackSpots spots;
    spots.sonde_m = plan(sonde.position_m);
    spots.ahead = direction_of(sonde.heading_deg + (sonde.tilt_deg < 0.0 ? 0.0 : 180.0));
    const double up_m = setting.world.receiver.tip_to_antenna_m;
    spots.scale_m = std::max(depth_m(setting.world, sonde.position_m) + up_m, sim::closest_range_m);
    const double step_m = step_share * spots.scale_m;
    std::vector<Heard> track;
    track.reserve(2 * reach_steps + 1);
    for (int i = -reach_steps; i <= reach_steps; ++i) {
        const glm::dvec2 place = spots.at(i * step_m);
        const sim::Phasor3 field =
            sim::emission_field_t(emission, {place, height_m(setting.world.yard.terrain, place) + up_m});
        const glm::dvec3 axis = sim::major_axis(field);
        const double all = sim::magnitude(field);
        track.push_back({all * glm::dot(plan(axis), spots.ahead), all * axis.z, all});
    }
    // The peak that one climbs to from over the sonde: a step of the ground can make another one farther out.
    const auto all = [&](int i) { return track[static_cast<std::size_t>(i)].all; };
    int best = reach_steps;
    const int uphill = all(best + 1) > all(best - 1) ? 1 : -1;
    while (std::abs(best + uphill - reach_steps) < reach_steps / 2 && all(best + uphill) > all(best)) {
        best += uphill;
    }
    spots.peak_m = (best - reach_steps) * step_m;
    find_crossings(track, step_m, spots);
    const auto keep = [](std::vector<double>& to, const std::optional<double>& along_m) {
        if (along_m) {
            to.push_back(*along_m);
        }
    };
    const auto along = [](const Heard& h) { return std::abs(h.along); };
    const auto up = [](const Heard& h) { return std::abs(h.up); };
    if (spots.plumb_ahead_m) {
        keep(spots.ghosts_m,
             inner_peak_m(track, step_of(*spots.plumb_ahead_m, step_m), 2 * reach_steps, step_m, along));
    }
    if (spots.plumb_behind_m) {
        keep(spots.ghosts_m, inner_peak_m(track, 0, step_of(*spots.plumb_behind_m, step_m), step_m, along));
    }
    if (spots.level_m) {
        const int level = std::clamp(step_of(*spots.level_m, step_m), 0, 2 * reach_steps);
        keep(spots.side_peaks_m, inner_peak_m(track, level, 2 * reach_steps, step_m, up));
        keep(spots.side_peaks_m, inner_peak_m(track, 0, level, step_m, up));
    }
    return spots;
}

} // namespace

Case make_case(const Setting& setting, const ExerciseState& state, const Score& score, Units units) {
    constexpr double lay_still_m = 0.02;
    const SondeTruth& sonde = score.located.then;
    Case c{setting, state, score, units, sonde, scene_of(setting.world, setting.ground, sonde), {}, nullptr, {}};
    c.spots = track_spots(setting, sonde, c.scene.emissions.front());
    c.locate = find_last(state.notebook, MarkKind::locate);
    for (const Mark& mark : state.notebook.marks) {
        const glm::dvec3 lay_m = sonde_at(setting, state, mark.tick).position_m;
        if (mark.kind != MarkKind::locate && glm::distance(lay_m, sonde.position_m) < lay_still_m) {
            c.marks.push_back(mark);
        }
    }
    c.off_m = score.horizontal_error_m.value_or(0.0);
    c.locate_judged =
        c.locate != nullptr && glm::distance(score.located.sonde.position_m, sonde.position_m) < lay_still_m;
    c.position_lost = full_position_points - score.position_points;
    c.depth_lost = full_depth_points - score.depth_points;
    c.tilt_deg = std::abs(sonde.tilt_deg);
    if (c.locate_judged && score.dig_outcome == DigOutcome::beside) {
        DigBox box = *state.notebook.dig;
        box.centre_m += plan(sonde.position_m) - c.locate->place_m;
        const double gap_m = gap_to_box_m(box, plan(dig_target(setting.world).centre_m));
        c.dig_lost = gap_m > 0.0 ? 0.0 : full_dig_points - score.dig_points;
    }
    return c;
}

double tip_height_at_m(const ExerciseState& state, std::int64_t tick) {
    const auto after = std::ranges::lower_bound(state.trail, tick, {}, &TrailPoint::tick);
    if (after == state.trail.end() || after == state.trail.begin()) {
        return 0.0;
    }
    return std::min(after->tip_height_m, std::prev(after)->tip_height_m);
}

CoachQuestion asked(std::string ask, std::vector<std::string> options, std::int64_t tick) {
    const std::size_t right = static_cast<std::size_t>(tick) % options.size();
    std::ranges::rotate(options,
                        options.begin() + static_cast<std::ptrdiff_t>((options.size() - right) % options.size()));
    return {std::move(ask), std::move(options), right};
}

} // namespace sondeyard::field::coaching
