#include "field/exercise.hpp"

#include "field/exercise_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace sondeyard::field {

std::string_view name_of(MarkKind kind) {
    static constexpr std::array<std::string_view, 4> names = {"plumb", "level", "peak", "locate"};
    return names[static_cast<std::size_t>(kind)];
}

std::string_view name_of(TiltCall call) {
    static constexpr std::array<std::string_view, 4> names = {"none", "level", "tilted", "on end"};
    return names[static_cast<std::size_t>(call)];
}

std::string_view name_of(DigMethod method) {
    static constexpr std::array<std::string_view, 4> names = {"none", "machine", "hand", "vacuum"};
    return names[static_cast<std::size_t>(method)];
}

std::string frequency_text(double frequency_hz) {
    return frequency_hz < 1000.0 ? fmt::format("{:g} Hz", frequency_hz)
                                 : fmt::format("{:g} kHz", frequency_hz / 1000.0);
}

// ---- The grid ----

namespace {

double gridded(double value, double steps_per_unit, double low, double high) {
    if (!std::isfinite(value)) {
        return std::clamp(0.0, low, high);
    }
    return std::nearbyint(std::clamp(value, low, high) * steps_per_unit) / steps_per_unit;
}

constexpr double farthest_m = 1000.0;
double metres(double value) { return gridded(value, 1000.0, -farthest_m, farthest_m); }
double rate(double value) { return gridded(value, 100.0, -1.0, 1.0); }
double angle(double value) { return gridded(value, 10.0, -720.0, 720.0); }

Command on_grid(Command command) {
    if (auto* c = std::get_if<SetFrequency>(&command)) {
        c->frequency_hz = gridded(c->frequency_hz, 10.0, 0.0, 1e6);
    } else if (auto* call = std::get_if<CallDepth>(&command)) {
        call->depth_m = gridded(call->depth_m, 1000.0, 0.0, 20.0);
    } else if (auto* tilt = std::get_if<CallTilt>(&command)) {
        tilt->raised_heading_deg =
            angle(sim::wrap_360(std::isfinite(tilt->raised_heading_deg) ? tilt->raised_heading_deg : 0.0));
        if (tilt->tilt_deg) {
            tilt->tilt_deg = gridded(*tilt->tilt_deg, 10.0, 0.0, 90.0);
        }
    } else if (auto* dig = std::get_if<ProposeDig>(&command)) {
        DigBox& box = dig->box;
        box.centre_m = {metres(box.centre_m.x), metres(box.centre_m.y)};
        box.heading_deg = angle(sim::wrap_360(std::isfinite(box.heading_deg) ? box.heading_deg : 0.0));
        box.length_m = gridded(box.length_m, 1000.0, 0.1, 20.0);
        box.width_m = gridded(box.width_m, 1000.0, 0.1, 20.0);
        box.depth_m = gridded(box.depth_m, 1000.0, 0.0, 20.0);
    } else if (auto* turn = std::get_if<TurnBy>(&command)) {
        turn->angle_deg = gridded(turn->angle_deg, 10.0, -360.0, 360.0);
    } else if (auto* cable = std::get_if<AskCable>(&command)) {
        cable->by_m = gridded(cable->by_m, 100.0, -farthest_m, farthest_m);
    }
    return command;
}

} // namespace

Action on_log_grid(const Action& action) {
    Action a = action;
    a.move.hand_m = {metres(a.move.hand_m.x), metres(a.move.hand_m.y)};
    a.move.hand_height_m = gridded(a.move.hand_height_m, 1000.0, 0.0, highest_tip_m);
    a.move.turn = rate(a.move.turn);
    a.move.lean_forward = rate(a.move.lean_forward);
    a.move.lean_right = rate(a.move.lean_right);
    if (a.command) {
        a.command = on_grid(*a.command);
    }
    return a;
}

// ---- The notebook ----

const Mark* find_last(const Notebook& notebook, MarkKind kind) {
    const auto found =
        std::find_if(notebook.marks.rbegin(), notebook.marks.rend(), [&](const Mark& m) { return m.kind == kind; });
    return found == notebook.marks.rend() ? nullptr : &*found;
}

const Reading* find_reading(const Notebook& notebook, int id) {
    const auto found = std::ranges::find(notebook.readings, id, &Reading::id);
    return found == notebook.readings.end() ? nullptr : &*found;
}

bool same_counter(std::optional<double> a_m, std::optional<double> b_m) {
    constexpr double half_a_figure_m = 0.005;
    return !a_m || !b_m || std::abs(*a_m - *b_m) < half_a_figure_m;
}

std::optional<LiftCheck> find_lift_check(const Notebook& notebook) {
    std::optional<LiftCheck> best;
    for (const Reading& low : notebook.readings) {
        for (const Reading& high : notebook.readings) {
            const double raised_m = high.tip_height_m - low.tip_height_m;
            if (!low.counts || !high.depth_m || high.lean_deg >= plumb_lean_deg || std::abs(raised_m - lift_m) > 0.1 ||
                glm::distance(low.place_m, high.place_m) > pair_distance_m ||
                !same_counter(low.counter_m, high.counter_m)) {
                continue;
            }
            const double grew_m = *high.depth_m - *low.depth_m;
            const bool holds = std::abs(grew_m - raised_m) <= std::max(0.10, 0.20 * raised_m);
            if (!best || (holds && !best->holds)) {
                best = LiftCheck{low.id, high.id, raised_m, grew_m, holds};
            }
        }
    }
    return best;
}

// ---- Set-up ----

Setting::Setting(World w)
    : world(std::move(w)), instrument(sim::make_instrument(world.receiver, world.seed)),
      wide_instrument(sim::make_instrument(sim::in_bandwidth(world.receiver, sim::Bandwidth::wide), world.seed)),
      ground(ground_model_of(world)), cable(cable_limits_of(world)), brief(brief_of(world)) {}

SondeTruth sonde_now(const Setting& setting, const ExerciseState& state) {
    return sonde_lying(setting.world, setting.cable, state.cable.now.sonde_m);
}

SondeTruth sonde_at(const Setting& setting, const ExerciseState& state, std::int64_t tick) {
    return sonde_lying(setting.world, setting.cable, place_at(state.cable, tick).sonde_m);
}

double to_step(double value, double step) { return std::nearbyint(value / step) * step; }

const sim::Instrument& instrument_in_use(const Setting& setting, const ExerciseState& state) {
    return state.bandwidth == sim::Bandwidth::wide ? setting.wide_instrument : setting.instrument;
}

sim::Measurement measured(const Setting& setting, const ExerciseState& state, double lean_deg) {
    return sim::measure(instrument_in_use(setting, state), state.detector, state.frequency_hz, lean_deg, state.coil);
}

namespace {

void sense(const Setting& setting, ExerciseState& state) {
    const auto tick = static_cast<std::uint64_t>(state.tick);
    const sim::Pose pose = pose_of(state.body, setting.world, tick);
    const sim::AntennaSignals signals =
        sim::antenna_signals_t(instrument_in_use(setting, state), pose, *state.scene, state.frequency_hz, state.tick,
                               tick_s, !state.detector.primed);
    const sim::Detector before = state.detector;
    sim::detect(state.detector, instrument_in_use(setting, state), signals, state.frequency_hz, tick_s,
                setting.world.seed, tick);
    listen(state.sounder, state.soundings,
           {.tick = state.tick,
            .instrument = &instrument_in_use(setting, state),
            .before = &before,
            .after = &state.detector,
            .pose = pose,
            .frequency_hz = state.frequency_hz,
            .coil = state.coil,
            .bandwidth = state.bandwidth,
            .sonde_along_m = state.cable.now.sonde_m,
            .cable_moving = state.cable.to_go_m != 0.0});
}

// Fixed-point of what was seen, for the digest: 1e-6 m, 1e-3 dB, 1e-3 deg.
std::uint64_t mixed(std::uint64_t digest, double value, double steps_per_unit) {
    const auto word = static_cast<std::uint64_t>(std::llround(value * steps_per_unit));
    digest = (digest ^ word) * 0x9E3779B97F4A7C15ULL;
    return digest ^ (digest >> 29U);
}

// 1e-15 T is -60 dBpT; a single coil has no upper antenna, and zero has no logarithm.
constexpr double weakest_t = 1e-15;

// The upper antenna is in it too: a reading hangs on it, though no display shows it.
std::uint64_t digest_with(std::uint64_t digest, const Observation& seen, double upper_t, bool asked_cable) {
    for (const double length : {seen.feet_m.x, seen.feet_m.y, seen.tip_m.x, seen.tip_m.y, seen.tip_height_m}) {
        digest = mixed(digest, length, 1e6);
    }
    for (const double value : {seen.facing_deg, seen.lean_forward_deg, seen.lean_right_deg, seen.signal_dbpt,
                               seen.has_axis ? seen.dip_deg : 999.0, seen.has_axis ? seen.needle_deg : 999.0}) {
        digest = mixed(digest, value, 1e3);
    }
    digest = mixed(digest, sim::dbpt(std::max(upper_t, weakest_t)), 1e3);
    digest = mixed(digest, seen.frequency_hz, 10.0);
    if (seen.overload || seen.bandwidth != sim::Bandwidth::narrow) {
        digest = mixed(digest, (seen.bandwidth == sim::Bandwidth::wide ? 2.0 : 0.0) + (seen.overload ? 1.0 : 0.0), 1.0);
    }
    if (seen.hum_dbpt > no_hum_dbpt) {
        digest = mixed(digest, seen.hum_dbpt, 10.0);
    }
    if (asked_cable && seen.counter_m) {
        digest = mixed(digest, *seen.counter_m, 100.0);
    }
    return mixed(digest, (seen.coil == sim::CoilAttitude::upright ? 2.0 : 0.0) + (seen.refused ? 1.0 : 0.0), 1.0);
}

} // namespace

Observation observe(const Setting& setting, const ExerciseState& state) {
    constexpr double angle_step_deg = 1e-3;
    const sim::Pose pose = pose_of(state.body, setting.world, static_cast<std::uint64_t>(state.tick));
    const double lean = sim::lean_deg(pose);
    const sim::Measurement m = measured(setting, state, lean);
    Observation seen;
    seen.tick = state.tick;
    seen.feet_m = state.body.feet_m;
    seen.facing_deg = state.body.facing_deg;
    seen.tip_m = state.body.tip_m;
    seen.tip_height_m = state.body.tip_height_m;
    seen.lean_forward_deg = to_step(pose.lean_forward_deg, angle_step_deg);
    seen.lean_right_deg = to_step(pose.lean_right_deg, angle_step_deg);
    seen.lean_deg = to_step(lean, angle_step_deg);
    seen.signal_dbpt = to_step(std::max(sim::dbpt(m.signal_t), -60.0), setting.world.receiver.signal_resolution_db);
    seen.has_axis = m.dip_deg.has_value();
    seen.dip_deg = to_step(m.dip_deg.value_or(0.0), angle_step_deg);
    seen.needle_deg = to_step(m.needle_deg.value_or(0.0), angle_step_deg);
    const glm::dvec3 antenna =
        pose.tip_m + sim::mast_frame(pose) * glm::dvec3{0.0, 0.0, setting.world.receiver.tip_to_antenna_m};
    seen.hum_dbpt = to_step(sim::dbpt(std::max(sim::hum_t(*state.scene, antenna), weakest_t)), 0.1);
    seen.frequency_hz = state.frequency_hz;
    seen.coil = state.coil;
    seen.bandwidth = state.bandwidth;
    seen.overload = m.overload;
    seen.blocked = state.body.blocked;
    seen.walking = state.body.walking;
    seen.turning = state.body.turn_left_deg != 0.0;
    seen.finished = state.finished_tick.has_value();
    if (setting.world.sheet.counter_m) {
        seen.counter_m = to_step(*setting.world.sheet.counter_m + state.cable.now.out_m, 0.01);
    }
    seen.cable_moving = state.cable.to_go_m != 0.0;
    return seen;
}

ExerciseState start(const Setting& setting) {
    ExerciseState state;
    state.body = body_at_start(setting.world);
    state.frequency_hz = receiver_frequencies_hz.front();
    state.scene = std::make_shared<sim::Scene>(scene_of(setting.world, setting.ground, sonde_now(setting, state)));
    sense(setting, state);
    return state;
}

// ---- The tick ----

Observation step(const Setting& setting, ExerciseState& state, const Action& action) {
    if (state.finished_tick) {
        return observe(setting, state);
    }
    const Action gridded_action = on_log_grid(action);
    ++state.tick;
    advance(state.body, setting.world, gridded_action.move);
    const double lay_m = state.cable.now.sonde_m;
    if (advance_cable(state.cable, setting.cable, state.tick, tick_s) && state.cable.now.sonde_m != lay_m) {
        state.scene = std::make_shared<sim::Scene>(scene_of(setting.world, setting.ground, sonde_now(setting, state)));
    }
    sense(setting, state);
    Observation seen = observe(setting, state);
    if (gridded_action.command) {
        const Outcome outcome = carry_out(setting, state, seen, *gridded_action.command);
        seen = observe(setting, state);
        seen.refused = outcome.refused;
        seen.note = outcome.note;
    }
    if (state.tick % trail_every_ticks == 0) {
        state.trail.push_back(
            {state.tick, seen.tip_m, seen.tip_height_m, seen.signal_dbpt, seen.frequency_hz, seen.coil});
    }
    state.digest =
        digest_with(state.digest, seen, measured(setting, state, seen.lean_deg).upper_t, !state.cable.moves.empty());
    return seen;
}

} // namespace sondeyard::field
