#include "field/track.hpp"

#include "sim/phasor.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

double TrackSpots::along_m(const glm::dvec2& place_m) const { return glm::dot(place_m - sonde_m, ahead); }

double TrackSpots::across_m(const glm::dvec2& place_m) const {
    const glm::dvec2 off = place_m - sonde_m;
    return std::abs(off.x * ahead.y - off.y * ahead.x);
}

namespace {

struct Heard {
    double along = 0.0; // parts of the field's major axis, T
    double up = 0.0;
    double all = 0.0;
};

constexpr int reach_steps = 300; // to three depths on either side
constexpr double step_share = 0.01;

// The top of the parabola through a step and its neighbours, of which none is larger.
template <class Part>
double top_m(const std::vector<Heard>& track, int step, double step_m, Part part) {
    const auto at = [&](int i) { return part(track[static_cast<std::size_t>(i)]); };
    const double bend = at(step - 1) - 2.0 * at(step) + at(step + 1);
    const double off = bend < 0.0 ? 0.5 * (at(step - 1) - at(step + 1)) / bend : 0.0;
    return (step + std::clamp(off, -0.5, 0.5) - reach_steps) * step_m;
}

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
    return best == from || best == to ? std::nullopt : std::optional(top_m(track, best, step_m, part));
}

int step_of(double along_m, double step_m) { return static_cast<int>(std::lround(along_m / step_m)) + reach_steps; }

void find_crossings(const std::vector<Heard>& track, double step_m, TrackSpots& spots) {
    for (int i = 1; i <= 2 * reach_steps; ++i) {
        const Heard& a = track[static_cast<std::size_t>(i - 1)];
        const Heard& b = track[static_cast<std::size_t>(i)];
        if ((a.along * a.up < 0.0) == (b.along * b.up < 0.0)) {
            continue;
        }
        const bool level = std::abs(a.up) + std::abs(b.up) < std::abs(a.along) + std::abs(b.along);
        // The part that changes its sign; the axis may point either way, so both as seen along the other part.
        const double before = level ? a.up * (a.along < 0.0 ? -1.0 : 1.0) : a.along * (a.up < 0.0 ? -1.0 : 1.0);
        const double after = level ? b.up * (b.along < 0.0 ? -1.0 : 1.0) : b.along * (b.up < 0.0 ? -1.0 : 1.0);
        const double share = before == after ? 0.5 : before / (before - after);
        const double along_m = (i - 1 + share - reach_steps) * step_m;
        std::optional<double>& spot = level           ? spots.level_m
                                      : along_m > 0.0 ? spots.plumb_ahead_m
                                                      : spots.plumb_behind_m;
        if (!spot || std::abs(along_m) < std::abs(*spot)) {
            spot = along_m;
        }
    }
}

} // namespace

TrackSpots track_spots(const World& world, const SondeTruth& sonde, const sim::Emission& emission) {
    TrackSpots spots;
    spots.sonde_m = plan(sonde.position_m);
    spots.ahead = direction_of(sonde.heading_deg + (sonde.tilt_deg < 0.0 ? 0.0 : 180.0));
    const double up_m = world.receiver.tip_to_antenna_m;
    spots.scale_m = std::max(depth_m(world, sonde.position_m) + up_m, sim::closest_range_m);
    const double step_m = step_share * spots.scale_m;
    std::vector<Heard> track;
    track.reserve(2 * reach_steps + 1);
    for (int i = -reach_steps; i <= reach_steps; ++i) {
        const glm::dvec2 place = spots.at(i * step_m);
        const sim::Phasor3 field = sim::emission_field_t(emission, {place, height_m(world.yard.terrain, place) + up_m});
        const glm::dvec3 axis = sim::major_axis(field);
        const double all = sim::magnitude(field);
        track.push_back({all * glm::dot(plan(axis), spots.ahead), all * axis.z, all});
    }
    // The peak that one climbs to from over the sonde: a step of the ground can make another one farther out.
    const auto whole = [](const Heard& h) { return h.all; };
    const auto all = [&](int i) { return track[static_cast<std::size_t>(i)].all; };
    int best = reach_steps;
    const int uphill = all(best + 1) > all(best - 1) ? 1 : -1;
    while (std::abs(best + uphill - reach_steps) < reach_steps / 2 && all(best + uphill) > all(best)) {
        best += uphill;
    }
    spots.peak_m = top_m(track, best, step_m, whole);
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

sim::Emission in_free_space(const SondeTruth& sonde) {
    sim::Emission emission;
    emission.frequency_hz = sonde.frequency_hz;
    emission.dipoles.push_back({.dipole = sim::make_sonde(sonde.position_m, sonde.heading_deg, sonde.tilt_deg,
                                                          sonde.moment_am2, sonde.frequency_hz),
                                .surface_z_m = 0.0,
                                .ground = nullptr});
    return emission;
}

} // namespace sondeyard::field
