// Walking off from the peak: in how many directions the signal was seen to fall.
#include "field/score_parts.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace sondeyard::field {

namespace {

constexpr double walk_near_share = 0.8; // of the depth, from the peak
constexpr double walk_far_share = 1.5;
constexpr double walk_fall_db = 3.0;
constexpr double walk_apart_deg = 60.0;
constexpr std::size_t walk_directions = 4;

// The depth he can go by when he walks off: his call, else his last reading that counts; 0 when he has neither.
double working_depth_m(const ExerciseState& state) {
    if (state.notebook.depth_call_m && *state.notebook.depth_call_m > 0.0) {
        return *state.notebook.depth_call_m;
    }
    for (auto r = state.notebook.readings.rbegin(); r != state.notebook.readings.rend(); ++r) {
        if (r->counts && r->depth_m) {
            return *r->depth_m;
        }
    }
    return 0.0;
}

struct WalkSample {
    double bearing_deg = 0.0; // from the peak
    std::int64_t tick = 0;
    double fall_db = 0.0;
    double tip_height_m = 0.0;

    bool tip_low() const { return tip_height_m <= walk_low_tip_m; }
};

// The most samples, up to four, that are all at least 60 deg from each other. From each first one the nearest allowed
// next one is taken, which is the best that can be done with that start.
std::vector<WalkSample> spread_out(std::vector<WalkSample> samples) {
    std::ranges::sort(samples, {}, [](const WalkSample& s) { return std::pair{s.bearing_deg, s.tick}; });
    std::vector<WalkSample> best;
    for (std::size_t first = 0; first < samples.size() && best.size() < walk_directions; ++first) {
        std::vector<WalkSample> chosen = {samples[first]};
        const double last_allowed_deg = samples[first].bearing_deg + 360.0 - walk_apart_deg + edge;
        auto next = samples.begin() + static_cast<std::ptrdiff_t>(first);
        while (chosen.size() < walk_directions) {
            next = std::ranges::lower_bound(next, samples.end(), chosen.back().bearing_deg + walk_apart_deg - edge, {},
                                            &WalkSample::bearing_deg);
            if (next == samples.end() || next->bearing_deg > last_allowed_deg) {
                break;
            }
            chosen.push_back(*next);
        }
        if (chosen.size() > best.size()) {
            best = std::move(chosen);
        }
    }
    return best;
}

// All on the ring round the peak where the signal has fallen, however high the tip.
std::vector<WalkSample> ring_samples(const ExerciseState& state, const Mark& peak, double walk_depth_m) {
    std::vector<WalkSample> samples;
    const double lay_m = place_at(state.cable, peak.tick).sonde_m;
    for (const TrailPoint& point : state.trail) {
        if (!state.cable.moves.empty() && std::abs(place_at(state.cable, point.tick).sonde_m - lay_m) > lay_still_m) {
            continue; // another place of the sonde, another peak
        }
        const double distance_m = glm::distance(point.tip_m, peak.place_m);
        const double fall_db = peak.signal_dbpt - point.signal_dbpt;
        if (state.first_mark_tick && point.tick >= *state.first_mark_tick &&
            distance_m >= walk_near_share * walk_depth_m - edge && distance_m <= walk_far_share * walk_depth_m + edge &&
            fall_db >= walk_fall_db - edge && point.frequency_hz == peak.frequency_hz && point.coil == peak.coil) {
            samples.push_back({heading_of(point.tip_m - peak.place_m), point.tick, fall_db, point.tip_height_m});
        }
    }
    return samples;
}

std::vector<WalkSample> walk_samples(const ExerciseState& state, const Mark& peak, double walk_depth_m) {
    std::vector<WalkSample> samples = ring_samples(state, peak, walk_depth_m);
    std::erase_if(samples, [](const WalkSample& s) { return !s.tip_low(); });
    return samples;
}

// What made directions not count, when it was the tip: how high it was carried in most of what was walked.
std::string tip_up_words(const ExerciseState& state, const Mark& peak, double walk_depth_m, std::size_t counted) {
    std::vector<WalkSample> walked = ring_samples(state, peak, walk_depth_m);
    if (spread_out(walked).size() <= counted) {
        return {};
    }
    std::erase_if(walked, &WalkSample::tip_low);
    const auto middle = walked.begin() + static_cast<std::ptrdiff_t>(walked.size() / 2);
    std::ranges::nth_element(walked, middle, {}, &WalkSample::tip_height_m);
    return fmt::format(": walked with the tip {} up", either(middle->tip_height_m));
}

} // namespace

ProcedureItem walk_item(const Setting& setting, const ExerciseState& state) {
    ProcedureItem item = new_item(
        "walked_off", "walked off in four directions",
        "At the true peak the signal falls whichever way one walks; where it does not, something else is heard.");
    const Mark* peak = find_last(state.notebook, MarkKind::peak);
    if (peak == nullptr) {
        item.evidence = "no peak was marked to walk off from";
        return item;
    }
    const double true_depth_m = depth_m(setting.world, sonde_at(setting, state, peak->tick).position_m);
    const std::string ring =
        fmt::format("{} to {} from the peak, at least {:.0f} dB down", either(walk_near_share * true_depth_m),
                    either(walk_far_share * true_depth_m), walk_fall_db);
    std::vector<WalkSample> samples = walk_samples(state, *peak, true_depth_m);
    std::vector<WalkSample> chosen = spread_out(samples);
    item.done = chosen.size() >= walk_directions;
    item.evidence = fmt::format("in {} of {} directions ({})", chosen.size(), walk_directions, ring);
    if (!item.done) {
        item.evidence += tip_up_words(state, *peak, true_depth_m, chosen.size());
        return item;
    }
    // When the fourth direction was reached: the fewest samples, in time, that still hold four.
    std::size_t enough = samples.size();
    for (std::size_t low = 0; low < enough;) {
        const std::size_t middle = (low + enough) / 2;
        const auto begin = samples.begin();
        std::vector<WalkSample> part(begin, begin + static_cast<std::ptrdiff_t>(middle));
        const bool four = spread_out(std::move(part)).size() >= walk_directions;
        (four ? enough : low) = four ? middle : middle + 1;
    }
    samples.resize(enough);
    chosen = spread_out(samples);
    item.tick = std::ranges::max(chosen, {}, &WalkSample::tick).tick;
    item.evidence += fmt::format(", the least {:.1f} dB", std::ranges::min(chosen, {}, &WalkSample::fall_db).fall_db);
    return item;
}

WalkOff walked_off(const ExerciseState& state) {
    const Mark* peak = find_last(state.notebook, MarkKind::peak);
    const double radius_m = working_depth_m(state);
    if (peak == nullptr || radius_m <= 0.0) {
        return {};
    }
    return {radius_m, static_cast<int>(spread_out(walk_samples(state, *peak, radius_m)).size())};
}

} // namespace sondeyard::field
