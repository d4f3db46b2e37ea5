// Findings from the marks: one spot marked for another, the plumb point that got no mark, the tilt that they show.
#include "field/coach_case.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field::coaching {

namespace {

// ---- One spot for another ----

// What a wrong mark can have cost: all that was lost where the locate rests on it, an item of the procedure elsewhere.
Cost cost_of(const Case& c, const Mark& mark) {
    const double reach_m = std::max(rests_on_least_m, rests_on_share * c.spots.scale_m);
    const bool rests = c.locate_judged && glm::distance(c.locate->place_m, mark.place_m) <= reach_m;
    return rests ? c.position_or("walked_off") : Cost{.procedure = c.item("walked_off")};
}

bool apart_from_peak(const Case& c, const std::optional<double>& plumb_m) {
    return plumb_m && std::abs(*plumb_m - c.spots.peak_m) >= apart_spots_share * c.spots.scale_m;
}

bool add_plumb_for_peak(const Case& c, const Mark& mark, Findings& out) {
    if (!mark.dip_deg || *mark.dip_deg < plumb_from_dip_deg) {
        return false;
    }
    for (const auto& plumb_m : {c.spots.plumb_ahead_m, c.spots.plumb_behind_m}) {
        if (!apart_from_peak(c, plumb_m) ||
            glm::distance(mark.place_m, c.spots.at(*plumb_m)) > plumb_spot_share * c.spots.scale_m) {
            continue;
        }
        const double peak_off_m = glm::distance(mark.place_m, c.spots.at(c.spots.peak_m));
        Finding f = finding("plumb_for_peak", mark);
        f.title = "Marked a plumb point as the peak";
        f.evidence =
            fmt::format("The peak mark ({}) shows a dip of {:.0f} deg: the field stood {} there. The peak was {} of "
                        "it.",
                        clock_text(mark.tick), *mark.dip_deg, *mark.dip_deg > 80.0 ? "plumb" : "nearly plumb",
                        c.way(mark.place_m, c.spots.at(c.spots.peak_m)));
        f.next_time =
            "Look at the dip before marking a peak: over a sonde that is not steep the field lies nearly level at "
            "the peak.";
        f.cost = cost_of(c, mark);
        f.question = asked(fmt::format("At the place marked as peak at {} the dip was {:.0f} deg. What is that place?",
                                       clock_text(mark.tick), *mark.dip_deg),
                           {fmt::format("a plumb point, {} from the peak", c.length(peak_off_m)), "the peak",
                            "a place on the level line"},
                           mark.tick);
        out.push_back(std::move(f));
        return true;
    }
    return false;
}

void add_peak_for_plumb(const Case& c, Findings& out) {
    if (!apart_from_peak(c, c.spots.plumb_ahead_m) || !apart_from_peak(c, c.spots.plumb_behind_m)) {
        return;
    }
    for (const Mark& mark : c.marks) {
        if (mark.kind != MarkKind::plumb || !mark.dip_deg || *mark.dip_deg > plumb_mark_dip_deg ||
            std::abs(c.spots.along_m(mark.place_m) - c.spots.peak_m) > peak_along_share * c.spots.scale_m ||
            c.spots.across_m(mark.place_m) > peak_across_share * c.spots.scale_m) {
            continue;
        }
        Finding f = finding("peak_for_plumb", mark);
        f.title = "Marked the peak as a plumb point";
        f.evidence = fmt::format(
            "The plumb mark of {} shows a dip of {:.0f} deg, and stands {} from the peak. At a plumb point the "
            "dip is over 80.",
            clock_text(mark.tick), *mark.dip_deg, c.small(glm::distance(mark.place_m, c.spots.at(c.spots.peak_m))));
        f.next_time = "Follow the needle away from the strongest place until the dial says plumb, and mark there.";
        f.cost = {.procedure = c.item("plumb_points")};
        f.question = asked(
            fmt::format("The plumb mark of {} stands where the dip was {:.0f} deg. Where does one mark a plumb "
                        "point?",
                        clock_text(mark.tick), *mark.dip_deg),
            {"where the dip is over 80 deg", "where the signal is strongest", "where the dip is 0 deg"}, mark.tick);
        out.push_back(std::move(f));
        return;
    }
}

bool add_ghost(const Case& c, const Mark& mark, Findings& out) {
    if (sim::shows_dial(c.setting.world.receiver.kind) ||
        c.spots.across_m(mark.place_m) > ghost_reach_share * c.spots.scale_m) {
        return false;
    }
    const bool level = mark.coil == sim::CoilAttitude::level;
    const double reach_m = (level ? ghost_reach_share : side_peak_reach_share) * c.spots.scale_m;
    const double along_m = c.spots.along_m(mark.place_m);
    for (const double ghost_m : level ? c.spots.ghosts_m : c.spots.side_peaks_m) {
        if (std::abs(along_m - ghost_m) > reach_m || std::abs(ghost_m) < side_peak_from_share * c.spots.scale_m) {
            continue;
        }
        const double off_m = glm::distance(mark.place_m, c.spots.sonde_m);
        const double share = off_m / c.spots.scale_m;
        Finding f = finding("ghost_peak", mark);
        f.title = level ? "Stopped at a ghost peak" : "Stopped at a side peak of the upright coil";
        f.evidence =
            level ? fmt::format("The {} mark ({}, {:.1f} dBpT) is {} from the sonde, {:.2f} depths: a level coil has a "
                                "false peak there, {} out; over a level sonde it is a fifth of the true one.",
                                name_of(mark.kind), clock_text(mark.tick), mark.signal_dbpt, c.length(off_m), share,
                                c.length(std::abs(ghost_m)))
                  : fmt::format("The {} mark ({}, coil upright) is {} from the sonde, {:.2f} depths: an upright coil "
                                "falls silent over a level sonde and peaks on either side, here {} off.",
                                name_of(mark.kind), clock_text(mark.tick), c.length(off_m), share,
                                c.length(std::abs(ghost_m)));
        f.next_time =
            level ? "Walk on along the coil through the null until the signal stays down: the strongest of the three "
                    "peaks is the true one."
                  : "Look for the peak with the coil level; with it upright look for the null.";
        f.cost = c.position_or("walked_off");
        f.question =
            level
                ? asked(fmt::format(
                            "At {} a level coil had a peak {} from the sonde. What tells such a ghost from the true "
                            "peak?",
                            clock_text(mark.tick), c.length(off_m)),
                        {"on the sonde's side comes a null, and beyond it a far stronger peak",
                         "a ghost is stronger than the true peak", "a ghost does not fall off when one walks on"},
                        mark.tick)
                : asked(fmt::format(
                            "At {} the coil stood upright and had a peak {} from the sonde. What does an upright coil "
                            "show over a level sonde?",
                            clock_text(mark.tick), c.length(off_m)),
                        {"a null straight over it and a peak on either side", "one peak straight over it",
                         "the same at every place along it"},
                        mark.tick);
        out.push_back(std::move(f));
        return true;
    }
    return false;
}

} // namespace

bool add_mistaken_spots(const Case& c, Findings& out) {
    const Mark* peak = last_peak(c);
    const Mark* stop = peak != nullptr ? peak : (c.locate_judged ? c.locate : nullptr);
    const bool ghost = stop != nullptr && c.position_lost > 0.0 && add_ghost(c, *stop, out);
    if (!sim::shows_dial(c.setting.world.receiver.kind)) {
        return ghost;
    }
    add_peak_for_plumb(c, out);
    return (peak != nullptr && add_plumb_for_peak(c, *peak, out)) || ghost;
}

// ---- The second plumb point ----

namespace {

struct Passed {
    glm::dvec2 place_m{0.0};
    double off_m = 0.0;
    std::int64_t tick = 0;
};

bool marks_plumb_point(const Case& c, const Mark& mark, const glm::dvec2& spot) {
    const double off_m = glm::distance(mark.place_m, spot);
    return mark.kind == MarkKind::plumb && off_m < marked_share * c.spots.scale_m &&
           off_m < glm::distance(mark.place_m, c.spots.at(c.spots.peak_m));
}

std::optional<Passed> passed_unmarked(const Case& c, double plumb_m) {
    const glm::dvec2 spot = c.spots.at(plumb_m);
    for (const Mark& mark : c.marks) {
        if (marks_plumb_point(c, mark, spot)) {
            return std::nullopt;
        }
    }
    std::optional<Passed> nearest;
    // Between two points of the trail as well: at walking speed they are 0.15 m apart.
    const auto seen = [&](const TrailPoint& p) {
        return p.tip_height_m <= walking_tip_m && std::abs(p.frequency_hz - c.sonde.frequency_hz) < same_frequency_hz;
    };
    for (std::size_t i = 0; i < c.state.trail.size(); ++i) {
        const TrailPoint& point = c.state.trail[i];
        const TrailPoint& before = c.state.trail[i > 0 ? i - 1 : 0];
        if (!seen(point)) {
            continue;
        }
        const double off_m = distance_to_segment_m(spot, seen(before) ? before.tip_m : point.tip_m, point.tip_m);
        if (off_m <= passed_share * c.spots.scale_m && (!nearest || off_m < nearest->off_m)) {
            nearest = Passed{spot, off_m, point.tick};
        }
    }
    return nearest;
}

} // namespace

void add_plumb_point_findings(const Case& c, Findings& out) {
    if (!sim::shows_dial(c.setting.world.receiver.kind) || c.tilt_deg > far_plumb_to_tilt_deg ||
        !c.spots.plumb_ahead_m || !c.spots.plumb_behind_m || !c.state.cable.moves.empty()) {
        return;
    }
    const std::optional<Passed> ahead = passed_unmarked(c, *c.spots.plumb_ahead_m);
    const std::optional<Passed> behind = passed_unmarked(c, *c.spots.plumb_behind_m);
    const auto near = [&](double plumb_m) {
        return std::ranges::any_of(c.marks,
                                   [&](const Mark& m) { return marks_plumb_point(c, m, c.spots.at(plumb_m)); });
    };
    const bool one_marked = near(*c.spots.plumb_ahead_m) != near(*c.spots.plumb_behind_m);
    if (!one_marked || (!ahead && !behind)) {
        return; // none marked: the procedure says so
    }
    const Passed& p = ahead ? *ahead : *behind;
    const double apart_m = *c.spots.plumb_ahead_m - *c.spots.plumb_behind_m;
    Finding f = finding("missed_plumb_point", p);
    f.title = "Walked past the second plumb point";
    f.evidence = fmt::format(
        "At {} the tip passed {} from it, and no mark was made there; the other one, which was marked, lies {} away.",
        clock_text(p.tick), c.small(p.off_m), c.length(apart_m));
    f.next_time =
        "Walk on along the needle past the strongest place until the field stands plumb a second time, and mark "
        "there: the two together show depth and tilt.";
    f.cost = {.position = 0.5 * c.position_lost, .procedure = c.item("plumb_points")};
    f.question =
        asked(fmt::format("The sonde lay {} deep and was tilted {:.0f} deg. How far apart were its plumb points?",
                          c.length(c.score.true_depth_m), c.tilt_deg),
              {c.length(apart_m), c.length(2.5 * apart_m), c.length(0.3 * apart_m)}, p.tick);
    out.push_back(std::move(f));
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
    Finding f = finding("tilt_not_called", *strong);
    f.title = c.score.tilt.called ? "Called it level, though the plumb points differ"
                                  : "Tilt not called, though the plumb points show it";
    f.evidence = fmt::format(
        "The plumb mark of {} is {:.1f} dB stronger than that of {}. Over a level sonde in level ground the two are alike; "
        "this one was tilted {:.0f} deg.",
        clock_text(strong->tick), stronger_db, clock_text(weak->tick), c.tilt_deg);
    f.next_time =
        "Compare the signals of the two plumb points before calling the tilt: the stronger one is on the raised side.";
    f.cost = {.tilt = static_cast<double>(full_tilt_points)};
    f.tick = std::max(strong->tick, weak->tick);
    f.question =
        asked(fmt::format("One plumb point was {:.1f} dB stronger than the other. What does that say?", stronger_db),
              {"the sonde is tilted, the end on the stronger side raised",
               "the sonde is tilted, the end on the weaker side raised", "the sonde is level: they always differ"},
              weak->tick);
    out.push_back(std::move(f));
}

} // namespace sondeyard::field::coaching
