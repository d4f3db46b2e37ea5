#include "field/guide.hpp"

#include "field/score.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <span>

namespace sondeyard::field {

namespace {

constexpr double lowered_below_m = 0.10;
constexpr double plumb_dip_deg = 80.0;
constexpr double nearly_plumb_dip_deg = 65.0;
constexpr double level_dip_deg = 5.0;
constexpr double false_peak_db = 1.0; // a peak this far under the strongest heard is not it
constexpr double apart_share = 0.2;   // of the depth: peak and level line this far apart are not one
constexpr double passed_the_peak_db = 3.0;
constexpr double wobble_db = 1.0; // coming back to the same place may show this much more
constexpr double rises_enough_db = 6.0;
constexpr std::int64_t quiet_for_ticks = 30 * 60;  // half a minute without a signal
constexpr double null_db = 12.0;                   // below the strongest: a single coil's null
constexpr std::int64_t remind_for_ticks = 10 * 60; // after the cable came to rest
constexpr double no_way_m = 0.005;                 // the counter shows none

// What was noted down while the cable stood where it stands now: the rest belongs to another place of the sonde.
Notebook noted_here(const ExerciseState& state, const Observation& seen) {
    Notebook here = state.notebook;
    if (!state.cable.moves.empty()) {
        std::erase_if(here.marks, [&](const Mark& m) { return !same_counter(m.counter_m, seen.counter_m); });
        std::erase_if(here.readings, [&](const Reading& r) { return !same_counter(r.counter_m, seen.counter_m); });
    }
    return here;
}

// What the guide looks at, so that each step below reads as one question and one answer.
struct View {
    const Brief& brief;
    const ExerciseState& state;
    const Observation& seen;
    Notebook here; // noted_here

    const Notebook& notebook() const { return here; }
    std::int64_t cable_rests_since() const { return state.cable.moves.empty() ? -1 : state.cable.moves.back().tick; }
    // From where the sonde lies now onward to the fault, by counter and sheet.
    double on_to_fault_m() const {
        return brief.sheet.sonde_to_lens_m + brief.sheet.lens_to_fault_m - state.cable.now.out_m;
    }
    bool has_dial() const { return sim::shows_dial(brief.receiver_kind); }
    bool reads_depth() const { return sim::reads_depth(brief.receiver_kind); }
    bool lowered() const { return seen.tip_height_m < lowered_below_m; }
    bool at_truck() const { return glm::distance(seen.feet_m, brief.start_m) <= truck_reach_m; }
    bool plumb_here() const { return seen.has_axis && std::abs(seen.dip_deg) > plumb_dip_deg; }
    bool level_here() const { return seen.has_axis && std::abs(seen.dip_deg) < level_dip_deg; }
    // Went up well over what was heard at first, and has since been down again by more than a wobble.
    bool passed_the_strongest_place() const {
        double strongest = -1000.0;
        bool fell = false;
        for (const TrailPoint& p : trail_here()) {
            fell =
                p.signal_dbpt > strongest + wobble_db ? false : fell || p.signal_dbpt < strongest - passed_the_peak_db;
            strongest = std::max(strongest, p.signal_dbpt);
        }
        return fell && !state.trail.empty() && strongest > state.trail.front().signal_dbpt + rises_enough_db;
    }
    bool heard_at_truck() const { return std::ranges::any_of(state.truck_checks, &TruckCheckResult::heard); }
    double dip() const { return std::abs(seen.dip_deg); }
    std::int64_t count(MarkKind kind) const { return std::ranges::count(notebook().marks, kind, &Mark::kind); }
    double strongest_dbpt(bool of_lowered) const {
        double best = -1000.0;
        for (const TrailPoint& p : trail_here()) {
            if (!of_lowered || p.tip_height_m < lowered_below_m) {
                best = std::max(best, p.signal_dbpt);
            }
        }
        return best;
    }
    // How high the tip was then, to a tenth of a second.
    double tip_height_at(std::int64_t tick) const {
        const auto after = std::ranges::lower_bound(state.trail, tick, {}, &TrailPoint::tick);
        return after == state.trail.end() ? seen.tip_height_m : after->tip_height_m;
    }
    // The way of the tip since the cable came to rest.
    std::span<const TrailPoint> trail_here() const {
        const auto first = std::ranges::lower_bound(state.trail, cable_rests_since(), {}, &TrailPoint::tick);
        return {first, state.trail.end()};
    }
};

using MaybeHint = std::optional<Hint>;

MaybeHint paper(const View& v) {
    if (!v.state.ticket_read_tick) {
        return Hint{"Read the one-call ticket on the job sheet.", "read_ticket"};
    }
    const auto& checks = v.state.truck_checks;
    if (v.heard_at_truck() || !v.at_truck()) {
        return std::nullopt;
    }
    if (checks.empty() || checks.back().frequency_hz != v.seen.frequency_hz) {
        return Hint{v.reads_depth()
                        ? "Check the receiver at the truck: with the sonde {2.0 m} from the tip it should read {2.0 m}."
                        : "Check the receiver at the truck: {2.0 m} from the sonde it should show the sheet's signal.",
                    "truck_check"};
    }
    return Hint{"The sonde was not heard at the truck. Set another frequency and check again.", "frequency_next"};
}

std::string_view way_along(double by_m) { return by_m < 0.0 ? "back along the pipe" : "farther on along the pipe"; }

// After the cable hand was asked: what locate, depth and fault are now.
MaybeHint cable(const View& v) {
    if (v.seen.cable_moving) {
        return Hint{v.seen.counter_m ? fmt::format("The cable moves, {} out: wait until the counter stands.",
                                                   either(*v.seen.counter_m))
                                     : "The cable moves: wait until it stands.",
                    ""};
    }
    if (v.cable_rests_since() < 0 || std::abs(v.state.cable.now.out_m) < no_way_m ||
        v.seen.tick > v.cable_rests_since() + remind_for_ticks || !v.here.marks.empty()) {
        return std::nullopt;
    }
    return Hint{fmt::format("Locate and depth now belong to where the sonde lies now. By the counter it had stopped {} "
                            "{}; the fault is {} {}.",
                            either(std::abs(v.state.cable.now.out_m)), way_along(-v.state.cable.now.out_m),
                            either(std::abs(v.on_to_fault_m())), way_along(v.on_to_fault_m())),
                ""};
}

MaybeHint approach(const View& v) {
    if (!v.notebook().marks.empty() || v.lowered()) {
        return std::nullopt;
    }
    const double strongest = v.strongest_dbpt(false);
    if (strongest < v.brief.noise_floor_dbpt_at_512 + rises_enough_db) {
        if (!v.heard_at_truck() && v.seen.tick > quiet_for_ticks) {
            return Hint{"Nothing to hear. Go back to the truck and check the receiver against the sonde.",
                        "truck_check"};
        }
        return Hint{"Hold the receiver out and walk the yard until the signal rises.", ""};
    }
    const bool falling = v.seen.signal_dbpt < strongest - passed_the_peak_db;
    if (!v.passed_the_strongest_place()) {
        return falling ? Hint{"The signal falls this way: turn round and walk where it grows.", ""}
                       : Hint{"Sweep the receiver in an arc and walk toward the strongest signal.", ""};
    }
    return falling
               ? Hint{fmt::format("You have passed it: go back to where it was strongest, {:.1f} dBpT.", strongest), ""}
               : Hint{"About here it was strongest: lower the receiver to the ground.", "toggle_height"};
}

MaybeHint lower_it(const View& v) {
    if (v.lowered()) {
        return std::nullopt;
    }
    return Hint{"Lower the receiver to the ground.", "toggle_height"};
}

// A mark of what it is not: better said now than in the debrief.
MaybeHint doubtful_mark(const View& v) {
    const Mark* plumb = find_last(v.notebook(), MarkKind::plumb);
    if (plumb != nullptr && plumb->dip_deg && *plumb->dip_deg < plumb_dip_deg) {
        return Hint{
            fmt::format(
                "The field stood at only {:.0f} deg at your last plumb mark. Take it back and go on to 80 or more.",
                *plumb->dip_deg),
            "take_back_plumb"};
    }
    const Mark* level = find_last(v.notebook(), MarkKind::level);
    if (level != nullptr && level->dip_deg && *level->dip_deg > 2.0 * level_dip_deg) {
        return Hint{fmt::format("The dip was {:.0f} deg at your level mark. Take it back and go to where it is 0.",
                                *level->dip_deg),
                    "take_back_level"};
    }
    const Mark* peak = find_last(v.notebook(), MarkKind::peak);
    if (peak != nullptr && v.strongest_dbpt(true) > peak->signal_dbpt + false_peak_db) {
        return Hint{
            fmt::format(
                "The peak was marked at {:.1f} dBpT, but {:.1f} was heard on the ground: take it back, find that.",
                peak->signal_dbpt, v.strongest_dbpt(true)),
            "take_back_peak"};
    }
    return std::nullopt;
}

MaybeHint plumb_points(const View& v) {
    const auto plumb = v.count(MarkKind::plumb);
    if (plumb >= 2 || (plumb == 1 && v.count(MarkKind::peak) > 0)) {
        return std::nullopt;
    }
    const Mark* first = find_last(v.notebook(), MarkKind::plumb);
    const bool elsewhere = first == nullptr || glm::distance(first->place_m, v.seen.tip_m) > 0.3;
    if (v.plumb_here() && elsewhere) {
        return Hint{fmt::format("Dip {:.0f} deg. Where it is greatest the field stands plumb: mark a plumb point.{}",
                                v.dip(), first == nullptr ? " (A click keeps the hand still.)" : ""),
                    "mark_plumb"};
    }
    if (v.seen.has_axis && v.dip() > nearly_plumb_dip_deg && elsewhere) {
        return Hint{fmt::format("Dip {:.0f} deg, nearly plumb: creep on to where it is greatest.", v.dip()), "slow"};
    }
    if (first == nullptr) {
        return Hint{
            fmt::format(
                "Walk along the needle, either way, until the field stands plumb. Dip {:.0f} deg now; the wheel zooms in.",
                v.dip()),
            ""};
    }
    return Hint{
        "Go back along the needle, past the strongest place, to the other plumb point. (None there? Mark the peak.)",
        ""};
}

MaybeHint null_points(const View& v) {
    if (v.count(MarkKind::plumb) >= 2) {
        return std::nullopt;
    }
    if (v.seen.coil == sim::CoilAttitude::upright) {
        return Hint{"Turn the coil level: its nulls are the plumb points.", "coil"};
    }
    if (v.count(MarkKind::peak) == 0) {
        return Hint{v.reads_depth()
                        ? "Turn (Q, E) and move for the strongest signal: you face along the sonde. Mark the peak."
                        : "Turn (Q, E) and move for the strongest signal with the coil level, and mark the peak.",
                    "mark_peak"};
    }
    const Mark* peak = find_last(v.notebook(), MarkKind::peak);
    if (v.seen.signal_dbpt < peak->signal_dbpt - null_db) {
        return Hint{"Creep to where the signal is least and mark a plumb point.", "mark_plumb"};
    }
    return Hint{"From the peak walk the way you face, then the other way, each to where the signal vanishes.", ""};
}

MaybeHint level_line(const View& v) {
    if (v.count(MarkKind::level) > 0 || v.count(MarkKind::plumb) < 2) {
        return std::nullopt;
    }
    if (v.level_here()) {
        return Hint{fmt::format("Dip {:.0f} deg. Where it is 0 the field lies level: mark the level line.", v.dip()),
                    "mark_level"};
    }
    return Hint{"Between the plumb points find where the dip is 0.", ""};
}

MaybeHint peak(const View& v) {
    if (v.count(MarkKind::peak) > 0) {
        return std::nullopt;
    }
    if (v.seen.signal_dbpt >= v.strongest_dbpt(true) - 0.15) {
        return Hint{"Strongest so far. Where it falls off all round, mark the peak.", "mark_peak"};
    }
    return Hint{fmt::format("Find the peak: {:.1f} dBpT was the strongest on the ground.", v.strongest_dbpt(true)),
                "mark_peak"};
}

MaybeHint depth_reading(const View& v) {
    const auto& readings = v.notebook().readings;
    const auto counted = std::ranges::find(readings, true, &Reading::counts);
    const bool paired = std::ranges::any_of(readings, [&](const Reading& r) {
        const Reading* first = find_reading(v.notebook(), r.facing_reading_of);
        return r.agreement && r.counts && first != nullptr && first->counts;
    });
    if (counted != readings.end() && paired) {
        return std::nullopt;
    }
    if (v.seen.tip_height_m > tip_down_m) {
        return Hint{"Lower the tip to the ground for a depth reading.", "toggle_height"};
    }
    if (v.seen.lean_deg >= plumb_lean_deg) {
        return Hint{"Straighten the mast: bring the dot inside the ring.", "plumb_mast"};
    }
    if (counted == readings.end() && !v.has_dial()) {
        const Mark* peak = find_last(v.notebook(), MarkKind::peak);
        if (peak != nullptr && v.seen.signal_dbpt < peak->signal_dbpt - false_peak_db) {
            return Hint{fmt::format("Go back to the peak and turn until it is as loud as you marked it, {:.1f} dBpT.",
                                    peak->signal_dbpt),
                        ""};
        }
        return Hint{"At the coils' own peak, turned along the sonde, tip down, mast plumb: read the depth.",
                    "read_depth"};
    }
    if (counted == readings.end()) {
        return Hint{"At the peak, tip down and mast plumb: read the depth.", "read_depth"};
    }
    if (v.seen.turning) {
        return Hint{"Turning round the tip.", ""};
    }
    const double turned_deg = std::abs(sim::wrap_180(v.seen.facing_deg - counted->facing_deg));
    if (turned_deg < 180.0 - pair_turn_deg) {
        return Hint{"Turn half round on the same spot, for the facing reading.", "half_round"};
    }
    const double off_m = glm::distance(counted->place_m, v.seen.tip_m);
    if (off_m > pair_distance_m) {
        return Hint{fmt::format("{} from the first reading: go back to its spot.", either(off_m)), ""};
    }
    return Hint{"Same spot, half round: read the depth again.", "read_depth"};
}

MaybeHint cross_pair(const View& v) {
    const auto& readings = v.notebook().readings;
    const auto pairs = std::ranges::count_if(readings, [](const Reading& r) { return r.agreement.has_value(); });
    const bool agrees = std::ranges::any_of(
        readings, [&](const Reading& r) { return r.agreement && *r.agreement <= v.brief.pair_share; });
    if (agrees || pairs >= 2) {
        return std::nullopt;
    }
    if (!v.has_dial()) { // a quarter turn would lay the coils across the sonde, where they hear next to nothing
        return Hint{fmt::format("The pair disagrees by more than {:.0f} %. Straighten the mast, find the peak again, "
                                "and read another facing pair.",
                                100.0 * v.brief.pair_share),
                    "read_depth"};
    }
    return Hint{fmt::format("The pair disagrees by more than {:.0f} %. Quarter turn, and read a second facing pair.",
                            100.0 * v.brief.pair_share),
                "quarter_round"};
}

MaybeHint lift(const View& v) {
    if (find_lift_check(v.notebook())) {
        return std::nullopt;
    }
    if (std::abs(v.seen.tip_height_m - lift_m) < 0.08) {
        return Hint{"Read the depth up here: it must have grown by {0.5 m}.", "read_depth"};
    }
    return Hint{"Lift check: raise the tip {0.5 m} over the same spot.", "lift"};
}

MaybeHint walk_off(const View& v) {
    const WalkOff off = walked_off(v.state);
    if (off.directions >= walk_off_directions || off.radius_m <= 0.0) {
        return std::nullopt;
    }
    if (v.seen.tip_height_m > walk_low_tip_m) {
        return Hint{fmt::format("Lower the tip, which is {} up: walked with it raised the signal falls by itself, and "
                                "nothing counts.",
                                either(v.seen.tip_height_m)),
                    "toggle_height"};
    }
    return Hint{
        fmt::format("From the peak walk one depth ({}) away, tip low, four ways round: the signal must fall. {} of {}.",
                    either(fmt::format("{:.1f} m", off.radius_m), off.radius_m), off.directions, walk_off_directions),
        ""};
}

// How peak and level line share the locate between them (physics of a tilted dipole; see field/level_line.hpp).
std::string_view where_between(double peak_over_level_db) {
    return peak_over_level_db < 0.5    ? "mark the locate on the level line"
           : peak_over_level_db < 5.0  ? "mark the locate half way between"
           : peak_over_level_db < 10.0 ? "mark the locate three quarters of the way to the peak"
                                       : "mark the locate on the peak";
}

Hint locate_hint(const View& v) {
    const Mark* level = find_last(v.notebook(), MarkKind::level);
    const Mark* peak_mark = find_last(v.notebook(), MarkKind::peak);
    if (!v.reads_depth()) {
        return {"Midway between the plumb points, mark the locate.", "mark_locate"};
    }
    if (!v.has_dial()) {
        return {"On the peak mark the locate; if the peak is not midway between the plumb points, go on past it, "
                "away from the middle, by four fifths of what it is off.",
                "mark_locate"};
    }
    if (level == nullptr || peak_mark == nullptr) {
        return {"One plumb point only: it stays near the peak of a steep sonde. Mark the locate at the peak.",
                "mark_locate"};
    }
    const double stronger_db = std::max(peak_mark->signal_dbpt - level->signal_dbpt, 0.0);
    return {
        fmt::format("The peak is {:.1f} dB stronger than the level line: {}.", stronger_db, where_between(stronger_db)),
        "mark_locate"};
}

// Peak and level line apart mean tilt; the raised end is on the peak's side.
MaybeHint tilt_hint(const View& v) {
    const Notebook& n = v.notebook();
    const Mark* level = find_last(n, MarkKind::level);
    const Mark* peak_mark = find_last(n, MarkKind::peak);
    const bool apart = level != nullptr && peak_mark != nullptr &&
                       glm::distance(level->place_m, peak_mark->place_m) > apart_share * n.depth_call_m.value_or(1.0);
    if (n.tilt_call == TiltCall::none) {
        return Hint{apart ? "Peak and level line lie apart: the sonde is tilted. Say so."
                          : "Say how it lies: level, tilted or on end.",
                    "call_tilt"};
    }
    if (n.tilt_call == TiltCall::tilted && apart) {
        const double toward_deg = heading_of(peak_mark->place_m - level->place_m);
        if (std::abs(sim::wrap_180(n.raised_heading_deg - toward_deg)) > 60.0) {
            return Hint{"The raised end is on the peak's side of the level line: face that way and say so.",
                        "raised_end"};
        }
    }
    return std::nullopt;
}

// With the tip in the air nobody sees to a hand's width what it stands over.
MaybeHint locate_with_tip_up(const View& v) {
    const Mark* locate = find_last(v.notebook(), MarkKind::locate);
    if (locate == nullptr) {
        return v.lowered() ? MaybeHint()
                           : Hint{"Lower the tip to the ground, to mark the locate there.", "toggle_height"};
    }
    const double up_m = v.tip_height_at(locate->tick);
    if (up_m < lowered_below_m) {
        return std::nullopt;
    }
    if (!v.lowered()) {
        return Hint{fmt::format("The locate was marked with the tip {} up: lower it.", either(up_m)), "toggle_height"};
    }
    return Hint{
        fmt::format("The locate was marked with the tip {} up: now that it is down, mark it again.", either(up_m)),
        "mark_locate"};
}

MaybeHint calls(const View& v) {
    const Notebook& n = v.notebook();
    if (MaybeHint lower = locate_with_tip_up(v)) {
        return lower;
    }
    if (v.count(MarkKind::locate) == 0) {
        return locate_hint(v);
    }
    if (!n.depth_call_m) {
        return v.reads_depth() ? Hint{"Say how deep it is.", "call_depth"}
                               : Hint{"Divide the plumb points' spacing by 1.414 and say how deep.", "edit_form"};
    }
    if (MaybeHint tilt = tilt_hint(v)) {
        return tilt;
    }
    if (!n.dig) {
        if (std::abs(v.state.cable.now.out_m) >= no_way_m) {
            return Hint{fmt::format("The fault is {} {} from where the sonde lies now: lay out the dig box there.",
                                    either(std::abs(v.on_to_fault_m())), way_along(v.on_to_fault_m())),
                        "dig_box"};
        }
        return Hint{"Stand over the fault and lay out the dig box.", "dig_box"};
    }
    if (n.dig->depth_m <= 0.0) {
        return Hint{"Give the dig box its depth: down to the pipe's top.", "dig_to_pipe"};
    }
    if (n.dig->method == DigMethod::none) {
        return Hint{v.brief.sheet.ticket.state == TicketState::cleared
                        ? "Say how it is dug: hand, vacuum or machine."
                        : "The ticket is not cleared: nobody digs before every owner has answered. Say how then: hand "
                          "or vacuum.",
                    "dig_method"};
    }
    return std::nullopt;
}

Hint first_due(const Brief& brief, const ExerciseState& state, const Observation& seen) {
    const View v{brief, state, seen, noted_here(state, seen)};
    using Step = MaybeHint (*)(const View&);
    static constexpr std::array<Step, 13> with_dial = {paper,        cable,      approach, lower_it,      doubtful_mark,
                                                       plumb_points, level_line, peak,     depth_reading, cross_pair,
                                                       lift,         walk_off,   calls};
    static constexpr std::array<Step, 7> with_one_coil = {paper,       cable,    approach, lower_it,
                                                          null_points, walk_off, calls};
    static constexpr std::array<Step, 10> with_two_coils = {paper,         cable,      approach, lower_it, null_points,
                                                            depth_reading, cross_pair, lift,     walk_off, calls};
    const std::span<const Step> steps = v.has_dial()      ? std::span<const Step>(with_dial)
                                        : v.reads_depth() ? std::span<const Step>(with_two_coils)
                                                          : with_one_coil;
    for (const Step step : steps) {
        // Once the tip is to be raised again for the lift check or the walk, "lower it" would contradict.
        if (step == lower_it && v.count(MarkKind::peak) > 0) {
            continue;
        }
        if (MaybeHint hint = step(v)) {
            return *hint;
        }
    }
    return {"All is marked and called. Finish when you are content with it.", "finish"};
}

} // namespace

Hint next_hint(const Brief& brief, const ExerciseState& state, const Observation& seen, Units units) {
    Hint hint = first_due(brief, state, seen);
    hint.sentence = in_units(hint.sentence, units);
    return hint;
}

} // namespace sondeyard::field
