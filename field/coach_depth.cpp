// Findings from the depth readings, and the tilt that the marks show.
#include "field/coach_case.hpp"
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

// Points for depth, when the call rests on this reading; else what an item of the procedure is worth.
double depth_cost(const Case& c, const Reading& r) {
    const bool rests = c.score.depth_call_m &&
                       std::abs(*r.depth_m - *c.score.depth_call_m) <= call_rests_share * *c.score.depth_call_m;
    return rests ? std::max(c.depth_lost, procedure_item_points) : procedure_item_points;
}

void add_leaning(const Case& c, Findings& out) {
    const Reading* worst = nullptr;
    for (const Reading& r : c.state.all_readings) {
        if (r.depth_m && r.lean_deg >= plumb_lean_deg && !put_right(c, r) &&
            (worst == nullptr || r.lean_deg > worst->lean_deg)) {
            worst = &r;
        }
    }
    if (worst == nullptr) {
        return;
    }
    Finding f;
    f.key = "mast_leaning";
    f.title = "Read with the mast leaning";
    f.evidence = fmt::format(
        "At {} the depth was read as {} with the mast {:.0f} deg off plumb (under {:.0f} counts), and not "
        "read again with it plumb. {}",
        clock_text(worst->tick), c.length(*worst->depth_m), worst->lean_deg, plumb_lean_deg, called_text(c));
    f.next_time = "Straighten the mast first (hold X) and look at the lean ring before each reading.";
    f.points = depth_cost(c, *worst);
    f.tick = worst->tick;
    f.place_m = worst->place_m;
    f.question =
        asked(fmt::format("At {} the mast leaned {:.0f} deg. Where does a leaning mast spoil a depth reading most?",
                          clock_text(worst->tick), worst->lean_deg),
              {"beside the sonde: the upper antenna hangs over another place than the lower one",
               "straight over the sonde", "only when the tip is raised half a metre"},
              static_cast<std::size_t>(worst->tick));
    out.push_back(std::move(f));
}

void add_raised_reading(const Case& c, Findings& out) {
    const Reading* worst = nullptr;
    for (const Reading& r : c.state.all_readings) {
        if (r.depth_m && r.tip_height_m >= tip_down_m && !is_lifted(c, r) && !put_right(c, r) &&
            (worst == nullptr || r.tip_height_m > worst->tip_height_m)) {
            worst = &r;
        }
    }
    if (worst != nullptr) {
        Finding f;
        f.key = "tip_off_ground";
        f.title = "Read with the tip off the ground";
        f.evidence = fmt::format(
            "At {} the depth was read as {} with the tip {} up. Depth is read from the tip, so that much "
            "is in it. {}",
            clock_text(worst->tick), c.length(*worst->depth_m), c.small(worst->tip_height_m), called_text(c));
        f.next_time = "Set the tip down before each reading; only the lift check is read with it raised.";
        f.points = depth_cost(c, *worst);
        f.tick = worst->tick;
        f.place_m = worst->place_m;
        f.question = asked(fmt::format("At {} the tip was {} over the ground. What does that do to the depth reading?",
                                       clock_text(worst->tick), c.small(worst->tip_height_m)),
                           {fmt::format("it reads {} too deep", c.small(worst->tip_height_m)),
                            fmt::format("it reads {} too shallow", c.small(worst->tip_height_m)),
                            "nothing: depth is always counted from the ground"},
                           static_cast<std::size_t>(worst->tick));
        out.push_back(std::move(f));
    }
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
    Finding f;
    f.key = "tip_off_ground";
    f.title = "Marked with the receiver held off the ground";
    f.evidence =
        fmt::format("The {} mark of {} was made with the tip {} up: the field there is that of a sonde so much deeper, "
                    "whose plumb points lie farther out, over a level sonde by {}.",
                    name_of(worst->kind), clock_text(worst->tick), c.small(worst_m), c.small(0.707 * worst_m));
    f.next_time = "Set the tip down at every plumb point, level line and peak before marking it.";
    f.points = procedure_item_points + 0.5 * c.position_lost;
    f.tick = worst->tick;
    f.place_m = worst->place_m;
    f.question = asked(fmt::format("The tip was {} up at the {} mark. Where do plumb points seem to lie from up there?",
                                   c.small(worst_m), name_of(worst->kind)),
                       {fmt::format("farther out, each by about {} over a level sonde", c.small(0.707 * worst_m)),
                        fmt::format("nearer to the sonde, each by about {}", c.small(0.707 * worst_m)),
                        "in the same places: they stand plumb over one another"},
                       static_cast<std::size_t>(worst->tick));
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
    Finding f;
    f.key = "pair_ignored";
    f.title = "Went on with a facing pair that disagreed";
    f.evidence =
        fmt::format("{} and, turned half round at {}, {}: {:.0f} % apart, where {:.0f} % is the limit. No other pair "
                    "was read. {}",
                    c.length(*first->depth_m), clock_text(second.tick), c.length(*second.depth_m),
                    100.0 * *second.agreement, 100.0 * c.setting.world.rubric.pair_share, called_text(c));
    f.next_time =
        "When a pair disagrees, straighten the mast, turn a quarter and read a second pair; call what that gives.";
    f.points = std::max(depth_cost(c, *first), depth_cost(c, second));
    f.tick = second.tick;
    f.place_m = second.place_m;
    f.question =
        asked(fmt::format("The facing pair of {} read {} and {}. What comes next?", clock_text(second.tick),
                          c.length(*first->depth_m), c.length(*second.depth_m)),
              {"straighten the mast and read a pair a quarter turn on", "call the deeper of the two, to be safe",
               fmt::format("call the middle, {}: a pair is always right on average",
                           c.length(0.5 * (*first->depth_m + *second.depth_m)))},
              static_cast<std::size_t>(second.tick));
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
    Finding f;
    f.key = "one_reading";
    f.title = low == 1 ? "One depth reading only" : "Depth never read from the facing side";
    f.evidence = low == 1
                     ? fmt::format("{} at {}, and no second reading after turning half round. {}",
                                   c.length(*last->depth_m), clock_text(last->tick), called_text(c))
                     : fmt::format("{} readings, the last {} at {}, and none after turning half round on the spot. {}",
                                   low, c.length(*last->depth_m), clock_text(last->tick), called_text(c));
    f.next_time =
        "Turn half round on the spot (H) and read again: the two should agree, and their middle is the depth.";
    f.points = depth_cost(c, *last);
    f.tick = last->tick;
    f.place_m = last->place_m;
    f.question =
        asked(fmt::format("The depth was read as {} at {}. What would the same reading after turning half round have "
                          "shown?",
                          c.length(*last->depth_m), clock_text(last->tick)),
              {"whether a leaning mast or antennas out of true are in it", "whether another line couples into it",
               "whether the sonde is tilted"},
              static_cast<std::size_t>(last->tick));
    out.push_back(std::move(f));
}

// ---- Beside the spot ----

// The call is this reading, or the middle of the pair that it is half of.
bool is_called(const Case& c, const Reading& r) {
    const double called_m = *c.score.depth_call_m;
    return std::abs(*r.depth_m - called_m) <= call_rests_m ||
           std::ranges::any_of(c.state.all_readings, [&](const Reading& other) {
               const bool pair = other.facing_reading_of == r.id || r.facing_reading_of == other.id;
               return pair && other.depth_m && std::abs(0.5 * (*r.depth_m + *other.depth_m) - called_m) <= call_rests_m;
           });
}

void add_beside(const Case& c, Findings& out) {
    if (c.depth_lost <= 0.0 || !c.score.depth_call_m || !c.locate_judged) {
        return;
    }
    const double peak_reach_m = beside_share * c.spots.scale_m;
    for (const Reading& r : c.state.all_readings) {
        const double off_m = glm::distance(r.place_m, c.spots.sonde_m);
        // A leaning mast does not excuse it: it spoils a reading only beside the sonde.
        if (!r.depth_m || r.tip_height_m >= tip_down_m || !is_called(c, r) || off_m <= peak_reach_m ||
            off_m > near_share * c.spots.scale_m ||
            glm::distance(r.place_m, c.spots.at(c.spots.peak_m)) <= peak_reach_m) {
            continue;
        }
        const double true_m = height_m(c.setting.world.yard.terrain, r.place_m) - c.sonde.position_m.z;
        if (std::abs(*r.depth_m - true_m) <= c.score.depth_band_m) {
            continue;
        }
        Finding f;
        f.key = "read_beside";
        f.title = "Read the depth beside the sonde";
        f.evidence =
            fmt::format("The reading of {} ({}) was taken {} from the sonde and {} from its peak; straight over it the "
                        "depth was {}.",
                        clock_text(r.tick), c.length(*r.depth_m), c.length(off_m),
                        c.length(glm::distance(r.place_m, c.spots.at(c.spots.peak_m))), c.length(c.score.true_depth_m));
        const bool dial = sim::shows_dial(c.setting.world.receiver.kind);
        f.next_time =
            dial ? "Read depth at the peak: there it is 1 % low at most, whatever the tilt; beside the track it "
                   "reads high."
                 : "Read depth at the coils' own peak, turned for the largest signal, and nowhere else.";
        f.points = depth_cost(c, r);
        f.tick = r.tick;
        f.place_m = r.place_m;
        f.question =
            asked(fmt::format("The depth was read {} from the sonde. Where is a depth reading safe?", c.length(off_m)),
                  {"at the receiver's own peak", "at a plumb point", "anywhere, as long as the facing pair agrees"},
                  static_cast<std::size_t>(r.tick));
        out.push_back(std::move(f));
        return;
    }
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

// ---- Tilt ----

void add_tilt_finding(const Case& c, Findings& out) {
    const bool called_level = c.state.notebook.tilt_call == TiltCall::level || !c.score.tilt.called;
    if (!sim::shows_dial(c.setting.world.receiver.kind) || c.score.tilt.right || !called_level || !c.locate_judged ||
        c.tilt_deg < tilt_shows_from_deg || c.tilt_deg > on_end_above_deg || !c.spots.plumb_ahead_m ||
        !c.spots.plumb_behind_m) {
        return;
    }
    const auto mark_at = [&](MarkKind kind, const glm::dvec2& spot, double reach_m) {
        const auto found = std::ranges::find_if(
            c.marks, [&](const Mark& m) { return m.kind == kind && glm::distance(m.place_m, spot) < reach_m; });
        return found == c.marks.end() ? nullptr : &*found;
    };
    const double reach_m = marked_share * c.spots.scale_m;
    const Mark* strong = mark_at(MarkKind::plumb, c.spots.at(*c.spots.plumb_ahead_m), reach_m);
    const Mark* weak = mark_at(MarkKind::plumb, c.spots.at(*c.spots.plumb_behind_m), reach_m);
    if (strong == nullptr || weak == nullptr || strong->signal_dbpt - weak->signal_dbpt < tilt_shows_db) {
        return;
    }
    const double stronger_db = strong->signal_dbpt - weak->signal_dbpt;
    Finding f;
    f.key = "tilt_not_called";
    f.title = c.score.tilt.called ? "Called it level, though the plumb points differ"
                                  : "Tilt not called, though the plumb points show it";
    f.evidence = fmt::format(
        "The plumb mark of {} is {:.1f} dB stronger than that of {}. Over a level sonde in level ground the two are alike; "
        "this one was tilted {:.0f} deg.",
        clock_text(strong->tick), stronger_db, clock_text(weak->tick), c.tilt_deg);
    f.next_time =
        "Compare the signals of the two plumb points before calling the tilt: the stronger one is on the raised side.";
    f.points = full_tilt_points;
    f.tick = std::max(strong->tick, weak->tick);
    f.place_m = strong->place_m;
    f.question =
        asked(fmt::format("One plumb point was {:.1f} dB stronger than the other. What does that say?", stronger_db),
              {"the sonde is tilted, the end on the stronger side raised",
               "the sonde is tilted, the end on the weaker side raised", "the sonde is level: they always differ"},
              static_cast<std::size_t>(weak->tick));
    out.push_back(std::move(f));
}

} // namespace sondeyard::field::coaching
