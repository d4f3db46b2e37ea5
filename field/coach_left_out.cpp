// Findings from what was not done: a locate that nothing was measured for, and calls that were never made.
#include "field/coach_case.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field::coaching {

// ---- A locate that rests on nothing ----

namespace {

bool measured_near(const Case& c, double reach_m) {
    const auto near = [&](const auto& moment) { return glm::distance(moment.place_m, c.locate->place_m) <= reach_m; };
    return std::ranges::any_of(c.marks, near) ||
           std::ranges::any_of(c.state.all_readings, [&](const Reading& r) { return r.depth_m && near(r); });
}

double lowest_tip_m(const Case& c, double reach_m) {
    double lowest_m = tip_height_at_m(c.state, c.locate->tick);
    for (const TrailPoint& p : c.state.trail) {
        if (glm::distance(p.tip_m, c.locate->place_m) <= reach_m) {
            lowest_m = std::min(lowest_m, p.tip_height_m);
        }
    }
    return lowest_m;
}

CoachQuestion unproved_question(const Case& c) {
    return asked(fmt::format("The locate of {} stands {} from the sonde. What would have shown it before the mark?",
                             clock_text(c.locate->tick), c.length(c.off_m)),
                 {"walking off: over the sonde the signal falls on all four sides",
                  "listening: over the sonde it can be heard", "the job sheet: it says where the sonde is"},
                 c.locate->tick);
}

void add_unmeasured(const Case& c, double reach_m, Findings& out) {
    const double lowest_m = lowest_tip_m(c, reach_m);
    Finding f = finding("unproved_locate", *c.locate);
    f.title = "Marked the locate where nothing had been measured";
    f.evidence = fmt::format(
        "The locate ({}) stands {} from the sonde. Within {} of it no other mark was made and no depth "
        "was read{}.",
        clock_text(c.locate->tick), c.length(c.off_m), c.length(reach_m),
        lowest_m > walking_tip_m ? fmt::format(", and the tip was never lower than {} there", c.small(lowest_m))
                                 : std::string());
    f.next_time =
        "Before the locate set the tip down, climb to the peak and mark it, and look that the signal falls off on "
        "all four sides.";
    f.cost = c.misplaced();
    f.question = unproved_question(c);
    out.push_back(std::move(f));
}

// How loud the sonde is at its peak, the tip on the ground; of a dial, which shows the whole field.
double peak_dbpt(const Case& c) {
    const glm::dvec2 peak_m = c.spots.at(c.spots.peak_m);
    const double antenna_m = height_m(c.setting.world.yard.terrain, peak_m) + c.setting.world.receiver.tip_to_antenna_m;
    return sim::dbpt(sim::magnitude(sim::emission_field_t(c.scene.emissions.front(), {peak_m, antenna_m})));
}

// Marked and read far from the sonde, where nothing else was found that explains it.
void add_far_off(const Case& c, Findings& out) {
    if (c.off_m <= near_share * c.spots.scale_m) {
        return;
    }
    const double peak = peak_dbpt(c);
    Finding f = finding("unproved_locate", *c.locate);
    f.title = "Marked the locate far from the sonde";
    f.evidence = fmt::format("The locate ({}) stands {} from the sonde, {:.1f} times its depth.",
                             clock_text(c.locate->tick), c.length(c.off_m), c.off_m / c.score.true_depth_m);
    if (peak - c.locate->signal_dbpt > far_off_db) {
        f.evidence +=
            fmt::format(" It was marked at {:.0f} dBpT; at the sonde's peak, with the tip on the ground, there "
                        "are {:.0f}.",
                        c.locate->signal_dbpt, peak);
    }
    f.next_time = "Before the locate walk off from it: over the sonde the signal falls off on all four sides; where it "
                  "does not, go on to where it rises.";
    f.cost = c.misplaced();
    f.question = unproved_question(c);
    out.push_back(std::move(f));
}

void add_off_the_peak_mark(const Case& c, Findings& out) {
    const Mark* peak = last_peak(c);
    if (peak == nullptr) {
        return;
    }
    const double apart_m = glm::distance(peak->place_m, c.locate->place_m);
    const double peak_off_m = glm::distance(peak->place_m, c.spots.sonde_m);
    const std::array<glm::dvec2, 3> spots_m = {c.spots.at(c.spots.peak_m), c.spots.sonde_m,
                                               c.spots.at(c.spots.level_m.value_or(0.0))};
    if (apart_m <= off_peak_mark_share * c.spots.scale_m || peak_off_m >= c.off_m ||
        distance_to_line_m(c.locate->place_m, spots_m) <= off_spots_share * c.spots.scale_m || rests_on_a_mark(c)) {
        return;
    }
    Finding f = finding("unproved_locate", *c.locate);
    f.title = "Marked the locate far from the peak mark";
    f.evidence =
        fmt::format("The locate ({}) stands {} from the sonde. The peak mark of {} is {} from the sonde and {} from "
                    "the locate, {:.2f} of the depth; no other mark is where the locate stands.",
                    clock_text(c.locate->tick), c.length(c.off_m), clock_text(peak->tick), c.length(peak_off_m),
                    c.length(apart_m), apart_m / c.spots.scale_m);
    f.next_time =
        "Put the locate at the peak mark, or between it and the level line, and set out from there again when "
        "something speaks against it.";
    f.cost = c.misplaced();
    f.question = unproved_question(c);
    out.push_back(std::move(f));
}

} // namespace

void add_unproved_locate(const Case& c, Findings& out) {
    const bool explained = std::ranges::any_of(out, [](const Finding& f) { return f.cost.position > 0.0; });
    if (!c.locate_judged || c.position_lost <= 0.0 || explained) {
        return;
    }
    const double reach_m = measured_near_share * c.spots.scale_m;
    if (!measured_near(c, reach_m)) {
        add_unmeasured(c, reach_m, out);
        return;
    }
    add_off_the_peak_mark(c, out);
    if (std::ranges::find(out, "unproved_locate", &Finding::key) == out.end()) {
        add_far_off(c, out);
    }
}

// ---- Calls ----

namespace {

struct LeftOut {
    std::string_view what;
    std::string_view at_the_end; // as its evidence says it
    Cost cost;
};

std::vector<LeftOut> left_out(const Case& c, const ScoreParts& parts) {
    const Notebook& notebook = c.state.notebook;
    std::vector<LeftOut> all;
    if (parts.position && c.locate == nullptr) {
        all.push_back({"the locate", "no locate was marked", {.position = c.position_lost}});
    }
    if (parts.depth && !notebook.depth_call_m) {
        all.push_back({"the depth call", "no depth was called", {.depth = c.depth_lost}});
    }
    if (parts.tilt && notebook.tilt_call == TiltCall::none) {
        all.push_back({"the tilt call", "no tilt was called", {.tilt = static_cast<double>(full_tilt_points)}});
    }
    const Cost dig{.dig = static_cast<double>(full_dig_points)};
    if (parts.dig && !notebook.dig) {
        all.push_back({"the dig box", "no dig box was laid out", dig});
    } else if (parts.dig && notebook.dig->depth_m <= 0.0) {
        all.push_back({"the dig box's depth", "the dig box had no depth", dig});
    }
    if (parts.procedure && !c.state.ticket_read_tick) {
        all.push_back({"the ticket", "the ticket was not read", {.procedure = c.item("ticket_checked")}});
    }
    if (parts.procedure && c.state.truck_checks.empty()) {
        all.push_back(
            {"the check at the truck", "no check was made at the truck", {.procedure = c.item("frequency_checked")}});
    }
    return all;
}

} // namespace

// Only of finished work: before that nothing has been left out yet.
void add_not_called(const Case& c, const ScoreParts& asked_parts, Findings& out) {
    const std::vector<LeftOut> all = left_out(c, asked_parts);
    if (all.empty() || !c.state.finished_tick) {
        return;
    }
    Finding f;
    f.key = "not_called";
    f.tick = c.state.finished_tick;
    std::string names;
    std::string said;
    for (const LeftOut& one : all) {
        names += fmt::format("{}{}", names.empty() ? "" : ", ", one.what);
        said += fmt::format("{}{} ({:.0f} point{})", said.empty() ? "" : ", ", one.at_the_end, one.cost.total(),
                            std::round(one.cost.total()) == 1.0 ? "" : "s");
        f.cost.position += one.cost.position;
        f.cost.depth += one.cost.depth;
        f.cost.tilt += one.cost.tilt;
        f.cost.dig += one.cost.dig;
        f.cost.procedure += one.cost.procedure;
    }
    constexpr std::size_t longest_title = 70;
    f.title = "Left out: " + names;
    if (f.title.size() > longest_title) {
        f.title = fmt::format("{} things were left out", all.size());
    }
    f.evidence = fmt::format("When the work was finished at {}: {}.", clock_text(*c.state.finished_tick), said);
    const bool calls = f.cost.total() > f.cost.procedure;
    f.next_time =
        calls ? "Go through the notebook before finishing: locate, depth, tilt and dig box. A rough call may be "
                "right; one that is not made counts as wrong."
              : "Read the ticket (O) and make the check (C) at the truck, before walking out.";
    f.question =
        calls ? asked(fmt::format("{} {} left out. What does a call count that is not made?", all.front().what,
                                  all.size() > 1 ? fmt::format("and {} more things were", all.size() - 1) : "was"),
                      {"as much as a wrong one: nothing", "half of what a right one counts",
                       "it is not counted, and the others count for more"},
                      *c.state.finished_tick)
              : asked("What can be learnt at the truck, before the search?",
                      {"whether the receiver hears the sonde, and whose lines lie in the yard",
                       "how deep the sonde lies", "where its peak is"},
                      *c.state.finished_tick);
    if (f.question.ask.front() == 't') {
        f.question.ask.front() = 'T';
    }
    out.push_back(std::move(f));
}

} // namespace sondeyard::field::coaching
