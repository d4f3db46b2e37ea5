// The table of checks: what a step of a lesson may ask for, and how it is seen that it was done.
#include "field/course.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

using Values = CheckValues;
using View = CheckView;

constexpr double on_ground_m = 0.05;      // a tip as low as this stands on the ground
constexpr double level_line_share = 1.0;  // of the depth: so far across the track a level-line mark still counts
constexpr double swept_within_m = 5.0;    // of the sonde: a sweep farther off crosses nothing
constexpr double other_lines_share = 1.0; // of the depth: field_level farther from the sonde means nothing

double to_m(const glm::dvec2& a, const glm::dvec2& b) { return glm::distance(a, b); }

TruePlaces places(const View& v) { return true_places(v.setting.world, sonde_now(v.setting, v.state)); }

bool on_ground(const View& v) { return v.seen.tip_height_m <= on_ground_m; }

double from_sonde_m(const View& v) { return to_m(v.seen.tip_m, plan(sonde_now(v.setting, v.state).position_m)); }

// What the display shows with nothing to hear: coils hear more the higher the frequency.
double floor_dbpt(const Setting& setting, const Observation& seen) {
    constexpr double ever_quieter_db = 28.0;
    const double by_frequency_db = 20.0 * std::log10(512.0 / seen.frequency_hz);
    return setting.brief.noise_floor_dbpt_at_512 + std::max(by_frequency_db, -ever_quieter_db);
}

// ---- Parameters that several share ----

constexpr std::array<std::string_view, 5> spot_words = {"plumb", "level", "peak", "sonde", "ghost"};
constexpr std::array<std::string_view, 4> mark_words = {"plumb", "level", "peak", "locate"};
constexpr std::array<std::string_view, 2> attitude_words = {"level", "upright"};
constexpr std::array<std::string_view, 3> tilt_words = {"level", "tilted", "on_end"};
constexpr std::array<std::string_view, 2> dig_words = {"hand", "vacuum"};

constexpr CheckParameter number(std::string_view name, std::string_view unit, double low, double high,
                                std::optional<double> standard, std::string_view meaning) {
    return {name, unit, low, high, standard, {}, meaning};
}
constexpr CheckParameter word(std::string_view name, std::span<const std::string_view> words,
                              std::optional<double> standard, std::string_view meaning) {
    return {name, "", 0.0, 0.0, standard, words, meaning};
}

constexpr std::array by_db = {number("by_db", "dB", 0.5, 80.0, 10.0, "by how much")};
constexpr std::array above_db = {
    number("above_db", "dB", 1.0, 100.0, 12.0, "above what is shown with nothing to hear")};
constexpr std::array from_m = {number("from_m", "m", 0.05, 40.0, std::nullopt, "at least")};
constexpr std::array from_deg = {number("from_deg", "deg", 30.0, 89.0, 80.0, "the dip, either way")};
constexpr std::array to_deg = {number("to_deg", "deg", 0.5, 30.0, 8.0, "the dip, either way")};
constexpr std::array lean = {number("to_deg", "deg", 0.5, 10.0, 3.0, "the lean")};
constexpr std::array spot = {word("place", spot_words, std::nullopt, "which true place"),
                             number("within_m", "m", 0.05, 5.0, 0.3, "of it, in plan")};
constexpr std::array mark = {word("what", mark_words, std::nullopt, "which kind of mark"),
                             number("within_m", "m", 0.05, 5.0, 0.3, "of its true place, in plan"),
                             number("count", "", 1.0, 2.0, 1.0, "how many of them: both plumb points")};
constexpr std::array readings = {number("count", "", 1.0, 10.0, 1.0, "how many that count"),
                                 number("within_percent", "%", 0.5, 100.0, 100.0, "of the true depth"),
                                 number("near_m", "m", 0.05, 60.0, 60.0, "of the sonde, in plan")};
constexpr std::array pair = {number("agree_percent", "%", 0.5, 50.0, 10.0, "the two differ by at most so much"),
                             number("near_m", "m", 0.05, 60.0, 60.0, "of the sonde, in plan"),
                             number("count", "", 1.0, 4.0, 1.0, "how many pairs"),
                             number("lean_deg", "deg", 0.5, 10.0, 10.0, "of the mast at most, in both readings")};
constexpr std::array off_truth = {number("from_percent", "%", 1.0, 200.0, std::nullopt, "of the true depth, at least")};
constexpr std::array sweep = {number("times", "", 1.0, 10.0, 2.0, "crossings of the sonde's track"),
                              number("width_m", "m", 0.2, 8.0, 1.5, "from one side to the other, at least")};
constexpr std::array ways = {number("directions", "", 1.0, 4.0, 4.0, "of four")};
constexpr std::array frequency = {number("hz", "Hz", 512.0, 32768.0, std::nullopt, "the receiver's frequency")};
constexpr std::array several = {number("count", "", 1.0, 4.0, 2.0, "how many of them")};
constexpr std::array cable = {number("by_m", "m", -30.0, 30.0, std::nullopt, "from the stop: back below 0, on above")};
constexpr std::array attitude = {word("attitude", attitude_words, std::nullopt, "of the single coil")};
constexpr std::array turn = {number("by_deg", "deg", 10.0, 720.0, 90.0, "in all")};
constexpr std::array tilt = {word("call", tilt_words, std::nullopt, "the right one in this yard")};
constexpr std::array depth = {number("within_percent", "%", 0.5, 100.0, 15.0, "of the true depth")};
constexpr std::array dig = {word("how", dig_words, std::nullopt, "how it is dug")};
constexpr std::array along_line = {number("from_sonde_m", "m", 0.0, 40.0, 5.0, "at least so far from the sonde"),
                                   number("within_m", "m", 0.05, 5.0, 0.5, "of a metal line, in plan")};
constexpr std::array other = {number("within_m", "m", 0.05, 5.0, 0.8, "of the other crew's sonde, in plan")};
constexpr std::span<const CheckParameter> none;

// ---- What is heard ----

bool signal_rose(const Values& p, const View& v) { return v.seen.signal_dbpt >= v.watch.lowest_dbpt + p[0]; }
bool signal_fell(const Values& p, const View& v) { return v.seen.signal_dbpt <= v.watch.highest_dbpt - p[0]; }
bool heard(const Values& p, const View& v) { return v.seen.signal_dbpt >= floor_dbpt(v.setting, v.seen) + p[0]; }
bool nothing_heard(const Values& p, const View& v) { return v.seen.signal_dbpt < floor_dbpt(v.setting, v.seen) + p[0]; }
bool hum_rose(const Values& p, const View& v) { return v.seen.hum_dbpt >= v.watch.began_hum_dbpt + p[0]; }

bool field_plumb(const Values& p, const View& v) {
    return on_ground(v) && v.seen.has_axis && std::abs(v.seen.dip_deg) >= p[0];
}
bool field_level(const Values& p, const View& v) {
    const double near_m = other_lines_share * depth_m(v.setting.world, sonde_now(v.setting, v.state).position_m);
    return on_ground(v) && v.seen.has_axis && std::abs(v.seen.dip_deg) <= p[0] && from_sonde_m(v) <= near_m;
}

// ---- How the receiver is held ----

bool tip_down(const Values& /*p*/, const View& v) { return on_ground(v); }
bool tip_raised(const Values& p, const View& v) { return v.seen.tip_height_m >= p[0] - 0.03; }
bool mast_straight(const Values& p, const View& v) { return on_ground(v) && v.seen.lean_deg <= p[0]; }
bool turned(const Values& p, const View& v) { return v.watch.turned_deg >= p[0]; }
bool coil_turned(const Values& p, const View& v) {
    return v.state.coil == (p[0] == 0.0 ? sim::CoilAttitude::level : sim::CoilAttitude::upright);
}
bool frequency_set(const Values& p, const View& v) { return std::abs(v.state.frequency_hz - p[0]) < 0.5; }
bool frequencies_tried(const Values& p, const View& v) {
    return std::ranges::count(v.watch.heard_on, true) >= static_cast<std::ptrdiff_t>(p[0]);
}

// ---- Where it is held ----

// How far from the nearest true place of its kind; the level line runs across the track as far as a mark may lie on it.
double off_m(std::string_view what, const glm::dvec2& place_m, const TruePlaces& true_ones) {
    const auto nearest = [&](const std::vector<glm::dvec2>& all) {
        double best = 1e9;
        for (const glm::dvec2& one : all) {
            best = std::min(best, to_m(place_m, one));
        }
        return best;
    };
    if (what == "plumb") {
        return nearest(true_ones.plumb_m);
    }
    if (what == "ghost") {
        return nearest(true_ones.ghost_m);
    }
    if (what == "peak") {
        return to_m(place_m, true_ones.peak_m);
    }
    if (what == "level") {
        const glm::dvec2 off = place_m - true_ones.level_m;
        const double along_m = glm::dot(off, true_ones.ahead);
        const double across_m = std::sqrt(std::max(0.0, glm::dot(off, off) - along_m * along_m));
        return across_m <= level_line_share * true_ones.depth_m ? std::abs(along_m) : across_m;
    }
    return to_m(place_m, true_ones.sonde_m);
}

bool stood_at(const Values& p, const View& v) {
    return on_ground(v) && off_m(spot_words[static_cast<std::size_t>(p[0])], v.seen.tip_m, places(v)) <= p[1];
}
bool swept_across(const Values& p, const View& v) { return v.watch.crossings >= static_cast<int>(p[0]); }
bool went_away(const Values& p, const View& v) { return from_sonde_m(v) >= p[0]; }
bool stood_on_line(const Values& p, const View& v) {
    return from_sonde_m(v) >= p[0] && std::ranges::any_of(v.setting.world.yard.lines, [&](const BuriedLine& line) {
               const std::vector<glm::dvec2> course = plan(line.points_m);
               return line.connection != LineConnection::none && distance_to_line_m(v.seen.tip_m, course) <= p[1];
           });
}
bool at_other_sonde(const Values& p, const View& v) {
    return std::ranges::any_of(v.setting.world.other_sondes, [&](const OtherSonde& one) {
        return to_m(v.seen.tip_m, plan(one.sonde.position_m)) <= p[0];
    });
}
bool walked_round(const Values& p, const View& v) { return walked_off(v.state).directions >= static_cast<int>(p[0]); }

// ---- What is written down ----

bool marked(const Values& p, const View& v) {
    const std::string_view what = mark_words[static_cast<std::size_t>(p[0])];
    const std::vector<Mark>& marks = v.state.notebook.marks;
    if (marks.empty()) {
        return false;
    }
    const TruePlaces true_ones = places(v);
    const auto good = [&](const Mark& m) {
        return name_of(m.kind) == what && off_m(what == "locate" ? "sonde" : what, m.place_m, true_ones) <= p[1];
    };
    if (what != "plumb") {
        return std::ranges::count_if(marks, good) >= static_cast<std::ptrdiff_t>(p[2]);
    }
    const auto reached = std::ranges::count_if(true_ones.plumb_m, [&](const glm::dvec2& one) {
        return std::ranges::any_of(marks, [&](const Mark& m) { return good(m) && to_m(m.place_m, one) <= p[1]; });
    });
    return reached >= static_cast<std::ptrdiff_t>(p[2]);
}

bool near_sonde(const View& v, const Reading& r, double near_m) {
    return to_m(r.place_m, plan(sonde_at(v.setting, v.state, r.tick).position_m)) <= near_m;
}

bool depth_read(const Values& p, const View& v) {
    const auto good = [&](const Reading& r) {
        const double true_m = depth_m(v.setting.world, sonde_at(v.setting, v.state, r.tick).position_m);
        return r.counts && near_sonde(v, r, p[2]) && std::abs(*r.depth_m - true_m) <= p[1] / 100.0 * true_m;
    };
    return std::ranges::count_if(v.state.notebook.readings, good) >= static_cast<std::ptrdiff_t>(p[0]);
}

bool facing_pair(const Values& p, const View& v) {
    const auto good = [&](const Reading& r) {
        const Reading* first = find_reading(v.state.notebook, r.facing_reading_of);
        return r.agreement && first != nullptr && r.counts && first->counts && *r.agreement <= p[0] / 100.0 &&
               near_sonde(v, r, p[1]) && std::max(r.lean_deg, first->lean_deg) <= p[3];
    };
    return std::ranges::count_if(v.state.notebook.readings, good) >= static_cast<std::ptrdiff_t>(p[2]);
}

bool depth_misread(const Values& p, const View& v) {
    return std::ranges::any_of(v.state.notebook.readings, [&](const Reading& r) {
        const double true_m = depth_m(v.setting.world, sonde_at(v.setting, v.state, r.tick).position_m);
        return r.counts && std::abs(*r.depth_m - true_m) >= p[0] / 100.0 * true_m;
    });
}

bool lift_checked(const Values& /*p*/, const View& v) {
    const std::optional<LiftCheck> check = find_lift_check(v.state.notebook);
    return check && check->holds;
}

bool depth_called(const Values& p, const View& v) {
    if (!v.state.notebook.depth_call_m) {
        return false;
    }
    const Score s = score(v.setting, v.state);
    return s.depth_error_percent && std::abs(*s.depth_error_percent) <= p[0];
}

bool tilt_called(const Values& p, const View& v) {
    constexpr std::array<TiltCall, 3> calls = {TiltCall::level, TiltCall::tilted, TiltCall::on_end};
    return v.state.notebook.tilt_call == calls[static_cast<std::size_t>(p[0])] && score(v.setting, v.state).tilt.right;
}

bool has_whole_box(const View& v) {
    const std::optional<DigBox>& box = v.state.notebook.dig;
    return box && box->depth_m > 0.0 && box->method != DigMethod::none;
}

bool nothing_failed(const Score& s) {
    return std::ranges::none_of(s.safety, [](const SafetyItem& i) { return i.judged && i.failed; });
}

bool box_safe(const Values& /*p*/, const View& v) {
    return has_whole_box(v) && nothing_failed(score(v.setting, v.state));
}
bool box_on_pipe(const Values& /*p*/, const View& v) {
    return has_whole_box(v) && score(v.setting, v.state).dig_outcome == DigOutcome::on_the_pipe;
}
bool dug_by(const Values& p, const View& v) {
    const std::optional<DigBox>& box = v.state.notebook.dig;
    return box && box->method == (p[0] == 0.0 ? DigMethod::hand : DigMethod::vacuum);
}

// ---- Papers and the cable ----

bool ticket_read(const Values& /*p*/, const View& v) { return v.state.ticket_read_tick.has_value(); }
bool truck_checked(const Values& /*p*/, const View& v) {
    return std::ranges::any_of(v.state.truck_checks, &TruckCheckResult::heard);
}
bool truck_tried(const Values& /*p*/, const View& v) { return !v.state.truck_checks.empty(); }
bool cable_moved(const Values& p, const View& v) {
    const double out_m = v.state.cable.now.out_m;
    return v.state.cable.to_go_m == 0.0 && (p[0] < 0.0 ? out_m <= p[0] + 0.01 : out_m >= p[0] - 0.01);
}

constexpr bool lasts = true;
constexpr bool passes = false;

// clang-format off: one check a line, so that the table can be read as one
constexpr CheckKind kinds[] = {
    {"signal_rose", by_db, 0.3, passes, signal_rose, "the signal is so much stronger than the weakest since the step began"},
    {"signal_fell", by_db, 0.3, passes, signal_fell, "the signal is so much weaker than the strongest since the step began"},
    {"heard", above_db, 0.5, passes, heard, "the receiver hears something"},
    {"nothing_heard", above_db, 1.0, passes, nothing_heard, "the receiver hears nothing that stands out"},
    {"hum_rose", by_db, 0.3, passes, hum_rose, "the mains hum is so much stronger than when the step began"},
    {"field_plumb", from_deg, 0.5, passes, field_plumb, "the tip on the ground, the field stands plumb"},
    {"field_level", to_deg, 0.5, passes, field_level, "the tip on the ground within a depth of the sonde, the field lies level"},
    {"tip_down", none, 0.5, passes, tip_down, "the tip stands on the ground"},
    {"tip_raised", from_m, 0.5, passes, tip_raised, "the tip is held so high"},
    {"mast_straight", lean, 0.5, passes, mast_straight, "the tip on the ground, the mast stands straight"},
    {"turned", turn, 0.0, passes, turned, "he has turned where he stands, in all since the step began"},
    {"coil_turned", attitude, 0.0, passes, coil_turned, "the single coil is so turned"},
    {"frequency_set", frequency, 0.5, passes, frequency_set, "the receiver is set to it"},
    {"frequencies_tried", several, 0.0, passes, frequencies_tried, "the receiver was set to so many since the step began"},
    {"stood_at", spot, 0.5, passes, stood_at, "the tip stands on the ground at a true place; level: anywhere on the line"},
    {"swept_across", sweep, 0.0, passes, swept_across, "the tip went across the sonde's track within 5 m of it"},
    {"went_away", from_m, 0.5, passes, went_away, "the tip is so far from the sonde in plan"},
    {"stood_on_line", along_line, 0.5, passes, stood_on_line, "the tip is over a metal line, away from the sonde"},
    {"at_other_sonde", other, 0.5, passes, at_other_sonde, "the tip is over another crew's sonde"},
    {"walked_off", ways, 0.0, lasts, walked_round, "walked one depth off the peak mark so many ways, as the score counts it"},
    {"marked", mark, 0.0, lasts, marked, "marks stand at true places"},
    {"depth_read", readings, 0.0, lasts, depth_read, "depth readings: tip on the ground, mast plumb"},
    {"depth_misread", off_truth, 0.0, lasts, depth_misread, "a depth reading that counts and is wrong all the same: read at a wrong place"},
    {"facing_pair", pair, 0.0, lasts, facing_pair, "a facing pair that counts"},
    {"lift_checked", none, 0.0, lasts, lift_checked, "a lift check that holds"},
    {"depth_called", depth, 0.0, lasts, depth_called, "the depth call is right"},
    {"tilt_called", tilt, 0.0, lasts, tilt_called, "the tilt call is this one, and right"},
    {"box_safe", none, 0.0, lasts, box_safe, "a dig box with depth and method, and no safety item failed"},
    {"box_on_pipe", none, 0.0, lasts, box_on_pipe, "a dig box with depth and method that would end on the pipe"},
    {"dug_by", dig, 0.0, lasts, dug_by, "the dig box is to be dug so"},
    {"ticket_read", none, 0.0, lasts, ticket_read, "the one-call ticket was looked at"},
    {"truck_checked", none, 0.0, lasts, truck_checked, "receiver and sonde agreed at the truck"},
    {"truck_tried", none, 0.0, lasts, truck_tried, "a check was made at the truck, whatever it showed"},
    {"cable_moved", cable, 0.0, passes, cable_moved, "the cable stands so far from the stop by the counter"},
};
// clang-format on

// ---- What is remembered ----

void note_turn(const Observation& seen, Watch& watch) {
    if (!seen.walking || seen.turning) {
        watch.turned_deg += std::abs(sim::wrap_180(seen.facing_deg - watch.facing_deg));
    }
    watch.facing_deg = seen.facing_deg;
}

void note_crossing(const Check& check, const Setting& setting, const ExerciseState& state, const Observation& seen,
                   Watch& watch) {
    if (check.kind->holds != swept_across) {
        return;
    }
    const SondeTruth sonde = sonde_now(setting, state);
    const glm::dvec2 off = seen.tip_m - plan(sonde.position_m);
    const glm::dvec2 ahead = direction_of(sonde.heading_deg);
    const double across_m = off.x * ahead.y - off.y * ahead.x;
    if (glm::length(off) > swept_within_m || std::abs(across_m) < check.values[1] / 2.0) {
        return;
    }
    const int side = across_m > 0.0 ? 1 : -1;
    watch.crossings += watch.side == -side ? 1 : 0;
    watch.side = side;
}

std::string shown(const CheckParameter& p, double value) {
    return p.words.empty() ? fmt::format("{}", value) : std::string(p.words[static_cast<std::size_t>(value)]);
}

} // namespace

std::span<const CheckKind> check_kinds() { return kinds; }

const CheckKind* find_check(std::string_view name) {
    const auto* const at = std::ranges::find(kinds, name, &CheckKind::name);
    return at == std::ranges::end(kinds) ? nullptr : at;
}

std::string check_table_markdown() {
    std::string out = "| check | parameters | holds when | lasts |\n| --- | --- | --- | --- |\n";
    for (const CheckKind& kind : kinds) {
        std::string parameters;
        for (const CheckParameter& p : kind.parameters) {
            const std::string allowed =
                p.words.empty() ? fmt::format("{} to {}{}{}", p.low, p.high, p.unit.empty() ? "" : " ", p.unit)
                                : fmt::format("\"{}\"", fmt::join(p.words, "\", \""));
            parameters +=
                fmt::format("{}`{}` {}{}: {}", parameters.empty() ? "" : "; ", p.name, allowed,
                            p.standard ? fmt::format(" (left out: {})", shown(p, *p.standard)) : "", p.meaning);
        }
        const std::string hold = kind.hold_s > 0.0 ? fmt::format(", for {} s", kind.hold_s) : "";
        out += fmt::format("| `{}` | {} | {}{} | {} |\n", kind.name, parameters.empty() ? "none" : parameters,
                           kind.meaning, hold, kind.lasts ? "yes" : "");
    }
    return out;
}

void look(const Check& check, const Setting& setting, const ExerciseState& state, const Observation& seen,
          Watch& watch) {
    if (watch.done || check.kind == nullptr) {
        return;
    }
    if (!watch.begun) {
        watch.begun = true;
        watch.lowest_dbpt = watch.highest_dbpt = seen.signal_dbpt;
        watch.began_hum_dbpt = seen.hum_dbpt;
        watch.facing_deg = seen.facing_deg;
        watch.tip_m = seen.tip_m;
    }
    watch.highest_dbpt = std::max(watch.highest_dbpt, seen.signal_dbpt);
    watch.lowest_dbpt = std::max(std::min(watch.lowest_dbpt, seen.signal_dbpt), floor_dbpt(setting, seen));
    for (std::size_t i = 0; i < receiver_frequencies_hz.size(); ++i) {
        watch.heard_on[i] = watch.heard_on[i] || std::abs(receiver_frequencies_hz[i] - state.frequency_hz) < 0.5;
    }
    note_turn(seen, watch);
    note_crossing(check, setting, state, seen, watch);
    watch.held_ticks = check.kind->holds(check.values, {setting, state, seen, watch}) ? watch.held_ticks + 1 : 0;
    watch.done = watch.held_ticks > 0 && watch.held_ticks * tick_s >= check.kind->hold_s - tick_s / 2.0;
}

} // namespace sondeyard::field
