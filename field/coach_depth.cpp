// Findings from the depth readings.
#include "field/coach_reading.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field::coaching {

namespace {

// A reading meant as the lifted one of a lift check: half a metre over another at the spot.
bool is_lifted(const Case& c, const Reading& r) {
    return std::ranges::any_of(c.state.all_readings, [&](const Reading& low) {
        return low.id != r.id && std::abs(r.tip_height_m - low.tip_height_m - lift_m) <= lift_slack_m &&
               glm::distance(low.place_m, r.place_m) <= same_spot_m;
    });
}

// A later reading at the spot that counts.
bool put_right(const Case& c, const Reading& r) {
    return std::ranges::any_of(c.state.all_readings, [&](const Reading& later) {
        return later.tick > r.tick && later.counts && glm::distance(later.place_m, r.place_m) <= same_spot_m;
    });
}

std::string called_text(const Case& c) {
    return c.score.depth_call_m ? fmt::format("Called {}; it was {}.", c.length(*c.score.depth_call_m),
                                              c.length(c.score.depth_at_mark_m))
                                : fmt::format("No depth was called; it was {}.", c.length(c.score.depth_at_mark_m));
}

// The call is this reading, or the middle of the pair that it is half of.
bool call_rests_on(const Case& c, const Reading& r) {
    if (!c.score.depth_call_m) {
        return false;
    }
    const double called_m = *c.score.depth_call_m;
    return std::abs(*r.depth_m - called_m) <= call_rests_m ||
           std::ranges::any_of(c.state.all_readings, [&](const Reading& other) {
               const bool pair = other.facing_reading_of == r.id || r.facing_reading_of == other.id;
               return pair && other.depth_m && std::abs(0.5 * (*r.depth_m + *other.depth_m) - called_m) <= call_rests_m;
           });
}

// Points for depth, when the call rests on this reading and what is wrong with it made the error; and what an item of the
// procedure is worth that was not done.
Cost depth_cost(const Case& c, const Reading& r, bool made_it, std::string_view item_key) {
    return {.depth = made_it && call_rests_on(c, r) ? c.depth_lost : 0.0, .procedure = c.item(item_key)};
}

// "11 cm too deep"; for more than makes_least_m.
std::string deep_text(const Case& c, double off_m) {
    return fmt::format("{} too {}", c.small(std::abs(off_m)), off_m > 0.0 ? "deep" : "shallow");
}

// What made a reading what it is, as far as it can be worked out; 0 where it cannot.
struct Makes {
    double place_m = 0.0;
    double lean_m = 0.0;
};

Makes makes_of(const ReadOtherwise& other) {
    return {other.place_makes_m().value_or(0.0), other.lean_makes_m().value_or(0.0)};
}

// Whether this is what put the depth wrong, rather than that.
bool larger(const Case& c, double this_m, double that_m) {
    return std::abs(this_m) >= std::abs(that_m) && std::abs(this_m) >= makes_share_of_band * c.score.depth_band_m;
}

// The reading that is worst by this measure among those that are faulty and were not put right; nullptr: none is.
template <class Faulty>
const Reading* worst_reading(const Case& c, double Reading::* measure, Faulty faulty) {
    const Reading* worst = nullptr;
    for (const Reading& r : c.state.all_readings) {
        if (r.depth_m && faulty(r) && !put_right(c, r) && (worst == nullptr || r.*measure > worst->*measure)) {
            worst = &r;
        }
    }
    return worst;
}

void add_leaning(const Case& c, Findings& out) {
    const Reading* worst =
        worst_reading(c, &Reading::lean_deg, [](const Reading& r) { return r.lean_deg >= plumb_lean_deg; });
    if (worst == nullptr) {
        return;
    }
    const ReadOtherwise other = read_otherwise(c, *worst);
    const Makes makes = makes_of(other);
    std::string made; // the lean's own part, and the place's where that is the larger
    if (other.plumb_m && other.as_held_m) {
        made = std::abs(makes.lean_m) < makes_least_m
                   ? std::string(" Plumb it would have read the same there.")
                   : fmt::format(" Plumb it would have read {} there: the lean makes it {}.", c.length(*other.plumb_m),
                                 deep_text(c, makes.lean_m));
        if (std::abs(makes.place_m) > std::max(std::abs(makes.lean_m), makes_least_m)) {
            made += fmt::format(" The place makes more, {}.", deep_text(c, makes.place_m));
        }
    }
    Finding f = finding("mast_leaning", *worst);
    f.title = "Read with the mast leaning";
    f.evidence = fmt::format(
        "At {} the depth was read as {} with the mast {:.1f} deg off plumb (under {:.0f} counts), and not "
        "read again with it plumb.{} {}",
        clock_text(worst->tick), c.length(*worst->depth_m), worst->lean_deg, plumb_lean_deg, made, called_text(c));
    f.next_time = "Straighten the mast first (hold X) and look at the lean ring before each reading.";
    f.cost = depth_cost(c, *worst, larger(c, makes.lean_m, makes.place_m), "tip_down_and_plumb");
    f.question =
        asked(fmt::format("At {} the mast leaned {:.1f} deg. Where does a leaning mast spoil a depth reading most?",
                          clock_text(worst->tick), worst->lean_deg),
              {"beside the sonde: the upper antenna hangs over another place than the lower one",
               "straight over the sonde", "only when the tip is raised half a metre"},
              worst->tick);
    out.push_back(std::move(f));
}

void add_raised_reading(const Case& c, Findings& out) {
    const Reading* worst = worst_reading(
        c, &Reading::tip_height_m, [&](const Reading& r) { return r.tip_height_m >= tip_down_m && !is_lifted(c, r); });
    if (worst == nullptr) {
        return;
    }
    Finding f = finding("tip_off_ground", *worst);
    f.title = "Read with the tip off the ground";
    f.evidence =
        fmt::format("At {} the depth was read as {} with the tip {} up. Depth is read from the tip, so that much "
                    "is in it. {}",
                    clock_text(worst->tick), c.length(*worst->depth_m), c.small(worst->tip_height_m), called_text(c));
    f.next_time = "Set the tip down before each reading; only the lift check is read with it raised.";
    f.cost = depth_cost(c, *worst, larger(c, worst->tip_height_m, makes_of(read_otherwise(c, *worst)).place_m),
                        "tip_down_and_plumb");
    f.question = asked(fmt::format("At {} the tip was {} over the ground. What does that do to the depth reading?",
                                   clock_text(worst->tick), c.small(worst->tip_height_m)),
                       {fmt::format("it reads {} too deep", c.small(worst->tip_height_m)),
                        fmt::format("it reads {} too shallow", c.small(worst->tip_height_m)),
                        "nothing: depth is always counted from the ground"},
                       worst->tick);
    out.push_back(std::move(f));
}

// A spot found with the receiver held out: it is that of a deeper sonde.
void add_raised_mark(const Case& c, Findings& out) {
    const bool had = std::ranges::any_of(out, [](const Finding& f) { return f.key == "tip_off_ground"; });
    const Mark* worst = nullptr;
    double worst_m = mark_height_m;
    for (const Mark& mark : c.marks) {
        const double height_m = tip_height_at_m(c.state, mark.tick);
        if (height_m >= worst_m) {
            worst = &mark;
            worst_m = height_m;
        }
    }
    if (worst == nullptr || had) {
        return;
    }
    Finding f = finding("tip_off_ground", *worst);
    f.title = "Marked with the receiver held off the ground";
    f.evidence =
        fmt::format("The {} mark of {} was made with the tip {} up: the field there is that of a sonde so much deeper, "
                    "whose plumb points lie farther out, over a level sonde by {}.",
                    name_of(worst->kind), clock_text(worst->tick), c.small(worst_m), c.small(0.707 * worst_m));
    f.next_time = "Set the tip down at every plumb point, level line and peak before marking it.";
    f.cost = {.position = 0.5 * c.position_lost, .procedure = c.item("plumb_points")};
    f.question = asked(fmt::format("The tip was {} up at the {} mark. Where do plumb points seem to lie from up there?",
                                   c.small(worst_m), name_of(worst->kind)),
                       {fmt::format("farther out, each by about {} over a level sonde", c.small(0.707 * worst_m)),
                        fmt::format("nearer to the sonde, each by about {}", c.small(0.707 * worst_m)),
                        "in the same places: they stand plumb over one another"},
                       worst->tick);
    out.push_back(std::move(f));
}

// ---- Pairs ----

struct Turned { // readings that face an earlier one, of one turn of the mast
    double facing_deg = 0.0;
    bool agrees = false;
    const Reading* worst = nullptr;
};

std::vector<Turned> turns_of(const Case& c) {
    std::vector<Turned> turns;
    for (const Reading& r : c.state.all_readings) {
        if (r.facing_reading_of == 0 || !r.agreement) {
            continue;
        }
        auto turn = std::ranges::find_if(turns, [&](const Turned& t) {
            return std::abs(sim::wrap_180(t.facing_deg - r.facing_deg)) <= pair_turn_deg &&
                   glm::distance(t.worst->place_m, r.place_m) <= pair_distance_m;
        });
        if (turn == turns.end()) {
            turn = turns.insert(turns.end(), {r.facing_deg, false, &r});
        }
        turn->agrees = turn->agrees || *r.agreement <= c.setting.world.rubric.pair_share + 1e-9;
        turn->worst = *r.agreement > *turn->worst->agreement ? &r : turn->worst;
    }
    return turns;
}

void add_ignored_pair(const Case& c, const Turned& turn, Findings& out) {
    const Reading& second = *turn.worst;
    const auto first = std::ranges::find(c.state.all_readings, second.facing_reading_of, &Reading::id);
    if (first == c.state.all_readings.end() || !first->depth_m || !second.depth_m) {
        return;
    }
    Finding f = finding("pair_ignored", second);
    f.title = "Went on with a facing pair that disagreed";
    f.evidence =
        fmt::format("{} and, turned half round at {}, {}: {:.0f} % apart, where {:.0f} % is the limit. No other pair "
                    "was read. {}",
                    c.length(*first->depth_m), clock_text(second.tick), c.length(*second.depth_m),
                    100.0 * *second.agreement, 100.0 * c.setting.world.rubric.pair_share, called_text(c));
    f.next_time =
        "When a pair disagrees, straighten the mast, turn a quarter and read a second pair; call what that gives.";
    f.cost = {.depth = call_rests_on(c, *first) || call_rests_on(c, second) ? c.depth_lost : 0.0,
              .procedure = c.item("paired_reading")};
    f.question =
        asked(fmt::format("The facing pair of {} read {} and {}. What comes next?", clock_text(second.tick),
                          c.length(*first->depth_m), c.length(*second.depth_m)),
              {"straighten the mast and read a pair a quarter turn on", "call the deeper of the two, to be safe",
               fmt::format("call the middle, {}: a pair is always right on average",
                           c.length(0.5 * (*first->depth_m + *second.depth_m)))},
              second.tick);
    out.push_back(std::move(f));
}

void add_single_reading(const Case& c, Findings& out) {
    std::size_t low = 0;
    const Reading* last = nullptr;
    for (const Reading& r : c.state.all_readings) {
        if (r.depth_m && !is_lifted(c, r)) {
            ++low;
            last = &r;
        }
    }
    if (last == nullptr) {
        return;
    }
    Finding f = finding("one_reading", *last);
    f.title = low == 1 ? "One depth reading only" : "Depth never read from the facing side";
    f.evidence = low == 1
                     ? fmt::format("{} at {}, and no second reading after turning half round. {}",
                                   c.length(*last->depth_m), clock_text(last->tick), called_text(c))
                     : fmt::format("{} readings, the last {} at {}, and none after turning half round on the spot. {}",
                                   low, c.length(*last->depth_m), clock_text(last->tick), called_text(c));
    // A half turn moves no antenna of a plumb mast but by its errors of mounting: mostly it would have shown nothing.
    const ReadOtherwise other = read_otherwise(c, *last);
    bool would_have_shown = false;
    if (other.as_held_m && other.turned_m) {
        const double middle_m = 0.5 * (*other.as_held_m + *other.turned_m);
        const bool disagrees =
            std::abs(*other.as_held_m - *other.turned_m) > c.setting.world.rubric.pair_share * middle_m;
        const bool middle_good = std::abs(middle_m - other.true_m) <= c.score.depth_band_m;
        would_have_shown =
            disagrees || (middle_good && std::abs(*other.as_held_m - other.true_m) > c.score.depth_band_m);
    }
    if (would_have_shown) {
        f.evidence += fmt::format(" Turned half round it would have read {}.", c.length(*other.turned_m));
    }
    f.next_time =
        "Turn half round on the spot (H) and read again: the two should agree; at the peak their middle is the "
        "depth.";
    f.cost = depth_cost(c, *last, would_have_shown, "paired_reading");
    f.question =
        asked(fmt::format("The depth was read as {} at {}. What would the same reading after turning half round have "
                          "shown?",
                          c.length(*last->depth_m), clock_text(last->tick)),
              {"whether a leaning mast or antennas out of true are in it", "whether another line couples into it",
               "whether the sonde is tilted"},
              last->tick);
    out.push_back(std::move(f));
}

// ---- Beside the spot ----

// The reading that the call rests on; without a call the last with the tip down.
const Reading* reading_gone_by(const Case& c) {
    const auto& all = c.state.all_readings;
    const auto found = std::find_if(all.rbegin(), all.rend(), [&](const Reading& r) {
        return r.depth_m && r.tip_height_m < tip_down_m && !is_lifted(c, r) &&
               (!c.score.depth_call_m || call_rests_on(c, r));
    });
    return found == all.rend() ? nullptr : &*found;
}

void add_beside(const Case& c, Findings& out) {
    const bool lies_known = c.locate != nullptr ? c.locate_judged : c.state.cable.moves.empty();
    const Reading* r = reading_gone_by(c);
    if (c.depth_lost <= 0.0 || !lies_known || r == nullptr) {
        return;
    }
    const double d = c.spots.scale_m;
    const double off_m = glm::distance(r->place_m, c.spots.sonde_m);
    const double off_peak_m = glm::distance(r->place_m, c.spots.at(c.spots.peak_m));
    const ReadOtherwise other = read_otherwise(c, *r);
    const Makes makes = makes_of(other);
    const bool dial = sim::shows_dial(c.setting.world.receiver.kind);
    // Coils read right at their own peak only, turned along the sonde: what they make of a place and a way of facing is
    // asked for itself.
    const bool beside = !dial || (off_m > beside_share * d && off_peak_m > beside_share * d);
    const double gone_by_m = c.score.depth_call_m.value_or(*r->depth_m); // of a pair the middle
    if (!beside || off_m > near_share * d || std::abs(gone_by_m - other.true_m) <= c.score.depth_band_m ||
        std::abs(makes.place_m) < std::max(makes_least_m, (dial ? makes_share_of_band : 0.5) * c.score.depth_band_m)) {
        return;
    }
    // From one line through the sonde to another: at most a right angle.
    const double turned_deg = std::abs(sim::wrap_180(2.0 * (r->facing_deg - c.sonde.heading_deg))) / 2.0;
    const bool turned_away =
        !dial && std::abs(other.along_m.value_or(0.0) - other.true_m) < 0.5 * std::abs(makes.place_m);
    Finding f = finding("read_beside", *r);
    f.title = dial          ? "Read the depth beside the sonde"
              : turned_away ? "Read the depth with the coils turned away from the sonde's line"
                            : "Read the depth beside the coils' own peak";
    f.evidence =
        fmt::format("The reading of {} ({}) was taken {} from the sonde{}. A plumb mast reads {} there, {}: the "
                    "sonde lies {} lower than that place.",
                    clock_text(r->tick), c.length(*r->depth_m), c.length(off_m),
                    dial ? fmt::format(" and {} from its peak", c.length(off_peak_m))
                         : fmt::format(", the coils turned {:.0f} deg off its line", turned_deg),
                    c.length(*other.plumb_m), deep_text(c, makes.place_m), c.length(other.true_m));
    if (turned_away) {
        f.evidence += fmt::format(" Turned along the sonde it reads {} there.", c.length(*other.along_m));
    }
    if (r->lean_deg >= plumb_lean_deg && std::abs(makes.lean_m) >= makes_least_m) {
        f.evidence += fmt::format(" The lean of {:.1f} deg makes it {} {}.", r->lean_deg,
                                  c.small(std::abs(makes.lean_m)), makes.lean_m > 0.0 ? "deeper" : "shallower");
    }
    f.next_time = dial ? "Read depth at the peak: there it is 1 % low at most, whatever the tilt; beside the track it "
                         "reads high."
                       : "Read depth at the coils' own peak, turned for the largest signal, and nowhere else.";
    f.cost = {.depth = call_rests_on(c, *r) && larger(c, makes.place_m, makes.lean_m) ? c.depth_lost : 0.0};
    f.question = asked(
        fmt::format("The depth was read {} from the sonde. Where is a depth reading safe?", c.length(off_m)),
        {"at the receiver's own peak", "at a plumb point", "anywhere, as long as the facing pair agrees"}, r->tick);
    out.push_back(std::move(f));
}

} // namespace

void add_depth_findings(const Case& c, Findings& out) {
    if (sim::reads_depth(c.setting.world.receiver.kind)) {
        add_leaning(c, out);
        add_raised_reading(c, out);
        add_beside(c, out);
        const std::vector<Turned> turns = turns_of(c);
        if (turns.empty()) {
            add_single_reading(c, out);
        } else if (turns.size() == 1 && !turns.front().agrees && c.score.depth_call_m) {
            add_ignored_pair(c, turns.front(), out);
        }
    }
    add_raised_mark(c, out);
}

} // namespace sondeyard::field::coaching
