// The exercise laid beside the truth, for the coach.
#include "field/coach_case.hpp"

#include "field/debrief_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field::coaching {

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

const Mark* last_peak(const Case& c) {
    const auto found =
        std::find_if(c.marks.rbegin(), c.marks.rend(), [](const Mark& m) { return m.kind == MarkKind::peak; });
    return found == c.marks.rend() ? nullptr : &*found;
}

Case make_case(const Setting& setting, const ExerciseState& state, const Score& score, Units units) {
    constexpr double lay_still_m = 0.02;
    const SondeTruth& sonde = score.located.then;
    Case c{setting, state, score, units, sonde, scene_of(setting.world, setting.ground, sonde), {}, nullptr, {}};
    c.spots = track_spots(setting.world, sonde, c.scene.emissions.front());
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
    constexpr double steady_m = 0.01;
    const auto after = std::ranges::lower_bound(state.trail, tick, {}, &TrailPoint::tick);
    if (after == state.trail.end() || after == state.trail.begin()) {
        return 0.0;
    }
    const auto before = std::prev(after);
    const bool held =
        before != state.trail.begin() && std::abs(before->tip_height_m - std::prev(before)->tip_height_m) < steady_m;
    return held ? before->tip_height_m : std::min(after->tip_height_m, before->tip_height_m);
}

CoachQuestion asked(std::string ask, std::vector<std::string> options, std::int64_t tick) {
    const std::size_t right = static_cast<std::size_t>(tick) % options.size();
    std::ranges::rotate(options,
                        options.begin() + static_cast<std::ptrdiff_t>((options.size() - right) % options.size()));
    return {std::move(ask), std::move(options), right};
}

} // namespace sondeyard::field::coaching
