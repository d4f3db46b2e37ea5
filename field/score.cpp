#include "field/score_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

std::string_view name_of(DigOutcome outcome) {
    static constexpr std::array<std::string_view, 8> names = {
        "none", "on the pipe", "short", "beside", "into the pipe", "too large", "too small", "through a line"};
    return names[static_cast<std::size_t>(outcome)];
}

std::string clock_text(std::int64_t ticks) {
    const std::int64_t tenths = ticks / trail_every_ticks; // six ticks of 1/60 s are a tenth of a second
    return fmt::format("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10);
}

// ---- Position, depth, tilt ----

namespace {

LocatedSonde located_sonde(const Setting& setting, const ExerciseState& state) {
    const Mark* locate = find_last(state.notebook, MarkKind::locate);
    LocatedSonde located;
    located.asked = !state.cable.moves.empty();
    located.slack_m = setting.cable.slack_m;
    located.cable = locate != nullptr ? place_at(state.cable, locate->tick) : state.cable.now;
    located.then = sonde_lying(setting.world, setting.cable, located.cable.sonde_m);
    located.sonde = setting.world.sonde;
    if (locate != nullptr) {
        const auto off_m = [&](const SondeTruth& s) { return glm::distance(locate->place_m, plan(s.position_m)); };
        located.at_stop = off_m(setting.world.sonde) <= off_m(located.then);
        located.sonde = located.at_stop ? setting.world.sonde : located.then;
    }
    return located;
}

void score_position(const World& world, const Notebook& notebook, Score& out) {
    const SondeTruth& sonde = out.located.sonde;
    out.true_depth_m = depth_m(world, sonde.position_m);
    out.depth_at_mark_m = out.true_depth_m;
    out.full_band_m = world.rubric.full.width_m(out.true_depth_m);
    out.half_band_m = world.rubric.half.width_m(out.true_depth_m);
    out.quarter_band_m = world.rubric.quarter.width_m(out.true_depth_m);
    const Mark* locate = find_last(notebook, MarkKind::locate);
    if (locate == nullptr) {
        return;
    }
    // A depth is called at the mark, so it counts from the surface there; a mark lower than the sonde says nothing of
    // it.
    const double at_mark_m = height_m(world.yard.terrain, locate->place_m) - sonde.position_m.z;
    out.depth_at_mark_m = at_mark_m >= sim::closest_range_m ? at_mark_m : out.true_depth_m;
    const double error_m = glm::distance(locate->place_m, plan(sonde.position_m));
    out.horizontal_error_m = error_m;
    if (error_m <= out.full_band_m + edge) {
        out.position_points = full_position_points;
    } else if (error_m <= out.half_band_m + edge) {
        out.position_points = full_position_points / 2;
    } else if (error_m <= out.quarter_band_m + edge) {
        out.position_points = full_position_points / 4;
    }
}

void score_depth(const World& world, const Notebook& notebook, Score& out) {
    out.depth_band_m = world.rubric.depth_share * out.depth_at_mark_m;
    out.depth_call_m = notebook.depth_call_m;
    if (!notebook.depth_call_m) {
        return;
    }
    out.depth_error_m = *notebook.depth_call_m - out.depth_at_mark_m;
    out.depth_error_percent = 100.0 * *out.depth_error_m / out.depth_at_mark_m;
    out.depth_within = std::abs(*out.depth_error_m) <= out.depth_band_m + edge;
    out.depth_points = out.depth_within ? full_depth_points : 0;
}

// The category may be this far outside its limits; `tilted` also has to name the raised end within a quarter turn.
bool tilt_call_fits(const Notebook& notebook, double true_tilt_deg, double true_raised_heading_deg) {
    switch (notebook.tilt_call) {
    case TiltCall::level:
        return true_tilt_deg <= level_below_deg + tilt_slack_deg + edge;
    case TiltCall::tilted:
        return true_tilt_deg >= std::max(level_below_deg - tilt_slack_deg, least_raised_deg) - edge &&
               true_tilt_deg <= on_end_above_deg + tilt_slack_deg + edge &&
               std::abs(sim::wrap_180(notebook.raised_heading_deg - true_raised_heading_deg)) <= 90.0 + edge;
    case TiltCall::on_end:
        return true_tilt_deg >= on_end_above_deg - tilt_slack_deg - edge;
    case TiltCall::none:
        break;
    }
    return false;
}

TiltScore tilt_of(const SondeTruth& sonde, const Notebook& notebook) {
    TiltScore tilt;
    tilt.true_tilt_deg = std::abs(sonde.tilt_deg);
    // The heading is that of the end which points down for tilt > 0; for tilt < 0 it is the raised one itself.
    tilt.true_raised_heading_deg = sim::wrap_360(sonde.heading_deg + (sonde.tilt_deg < 0.0 ? 0.0 : 180.0));
    tilt.called = notebook.tilt_call != TiltCall::none;
    tilt.right = tilt_call_fits(notebook, tilt.true_tilt_deg, tilt.true_raised_heading_deg);
    return tilt;
}

// He says how the sonde lay where the locate counts, or where it lay when he marked it: what he carries on to the stop
// is a place, and how the sonde lay there he may never have seen.
void score_tilt(const Notebook& notebook, Score& out) {
    TiltScore& tilt = out.tilt;
    tilt = tilt_of(out.located.sonde, notebook);
    if (const TiltScore then = tilt_of(out.located.then, notebook); !tilt.right && then.right) {
        tilt = then;
    }
    if (tilt.called && notebook.tilt_angle_call_deg) {
        tilt.tilt_error_deg = *notebook.tilt_angle_call_deg - tilt.true_tilt_deg;
    }
    out.tilt_points = tilt.right ? full_tilt_points : 0;
}

// The parts put their lengths down in both forms.
void say_in(Units units, Score& out) {
    const auto say = [units](std::string& text) { text = in_units(text, units); };
    for (ProcedureItem& item : out.procedure) {
        say(item.evidence);
    }
    for (SafetyItem& item : out.safety) {
        say(item.evidence);
    }
    std::ranges::for_each(out.lines_in_box, say);
    say(out.line_hit);
}

} // namespace

int points_lost(const Score& score, const ScoreParts& asked) {
    return (asked.position ? full_position_points - score.position_points : 0) +
           (asked.depth ? full_depth_points - score.depth_points : 0) +
           (asked.tilt ? full_tilt_points - score.tilt_points : 0) +
           (asked.dig ? full_dig_points - score.dig_points : 0) +
           (asked.procedure ? full_procedure_points - score.procedure_points : 0);
}

Score score(const Setting& setting, const ExerciseState& state, Units units) {
    Score out;
    out.finished = state.finished_tick.has_value();
    out.located = located_sonde(setting, state);
    score_position(setting.world, state.notebook, out);
    score_depth(setting.world, state.notebook, out);
    score_tilt(state.notebook, out);
    score_dig(setting.world, state.notebook, out);
    score_procedure(setting, state, out);
    out.points = out.position_points + out.depth_points + out.tilt_points + out.dig_points + out.procedure_points;
    const bool near_enough = out.horizontal_error_m && *out.horizontal_error_m <= out.half_band_m + edge;
    const bool safe = std::ranges::none_of(out.safety, &SafetyItem::failed);
    out.passed = out.finished && near_enough && out.depth_within && out.dig_outcome == DigOutcome::on_the_pipe && safe;
    say_in(units, out);
    return out;
}

} // namespace sondeyard::field
