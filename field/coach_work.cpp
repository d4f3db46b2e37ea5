// Findings from how the receiver was set and moved, and from the dig.
#include "field/coach_case.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field::coaching {

// ---- Frequency ----

void add_frequency_finding(const Case& c, Findings& out) {
    const double sent_hz = c.setting.world.sonde.frequency_hz;
    const auto off = [&](double hz) { return std::abs(hz - sent_hz) >= same_frequency_hz; };
    const Mark* mistuned = nullptr;
    for (const Mark& mark : c.state.notebook.marks) {
        if (off(mark.frequency_hz) && (mistuned == nullptr || mark.tick < mistuned->tick)) {
            mistuned = &mark;
        }
    }
    if (mistuned == nullptr && (!c.state.notebook.marks.empty() || !off(c.state.frequency_hz))) {
        return;
    }
    const double set_hz = mistuned != nullptr ? mistuned->frequency_hz : c.state.frequency_hz;
    const auto check = std::ranges::find_if(c.state.truck_checks, [](const TruckCheckResult& t) { return t.heard; });
    Finding f;
    f.key = "wrong_frequency";
    f.title = "Worked on a frequency that the sonde does not send";
    f.evidence = fmt::format("{}: the receiver was set to {}, the sonde sent {}. {}",
                             mistuned != nullptr
                                 ? fmt::format("{} mark, {}", name_of(mistuned->kind), clock_text(mistuned->tick))
                                 : std::string("At the end"),
                             frequency_text(set_hz), frequency_text(sent_hz),
                             c.state.truck_checks.empty() ? std::string("No check was made at the truck.")
                             : check != c.state.truck_checks.end()
                                 ? fmt::format("The check at the truck had heard it on {} at {}.",
                                               frequency_text(check->frequency_hz), clock_text(check->tick))
                                 : fmt::format("The check at the truck at {} did not hear it.",
                                               clock_text(c.state.truck_checks.back().tick)));
    f.evidence.front() = static_cast<char>(f.evidence.front() == 'A' ? 'A' : f.evidence.front() - 'a' + 'A');
    const bool was_heard = check != c.state.truck_checks.end();
    f.next_time =
        was_heard
            ? std::string("Leave the frequency alone after the check at the truck, and look at it before each mark.")
            : in_units(
                  "Check at the truck (C) until the receiver reads {2 m}; if it does not, try the other frequencies (F) "
                  "before walking out.",
                  c.units);
    f.points = std::max(c.position_lost + c.depth_lost, procedure_item_points);
    f.tick = mistuned != nullptr ? std::optional(mistuned->tick) : c.state.finished_tick;
    if (mistuned != nullptr) {
        f.place_m = mistuned->place_m;
    }
    const std::string told = fmt::format("The receiver was set to {} and the sonde sent {}.", frequency_text(set_hz),
                                         frequency_text(sent_hz));
    const auto shuffle = f.tick.value_or(0);
    f.question =
        was_heard
            ? asked(told + " What does a receiver hear of a sonde on another frequency?",
                    {"next to nothing", "the same, somewhat weaker", "its plumb points, but not its peak"}, shuffle)
            : asked(told + " How could that be seen before the search?",
                    {"by the check at the truck, which does not hear the sonde", "by the job sheet: it is never wrong",
                     "not at all: only over the sonde"},
                    shuffle);
    out.push_back(std::move(f));
}

// ---- Speed ----

namespace {

// How long the display runs behind: the filter's time. With a choice of two, the quicker one, so that nothing is said
// that may not have been so.
double behind_s(const Case& c) {
    const sim::ReceiverSpec& spec = c.setting.world.receiver;
    return spec.has_wide ? std::min(spec.settling_tau_s, spec.wide_settling_tau_s) : spec.settling_tau_s;
}

// What a single-pole filter shows at a tick is the mean of what was there before, weighed by e^(-age / tau); this is
// how far off in plan, on that mean, the tip was from where it is now. Trapezoids between the points of the trail.
double behind_m(const Case& c, const glm::dvec2& now_m, std::int64_t tick) {
    const std::vector<TrailPoint>& trail = c.state.trail;
    const double tau_s = behind_s(c);
    double age_s = 0.0;
    double weight = 1.0;
    double apart_m = 0.0;
    double weights = 0.0;
    double sum = 0.0;
    for (auto p = std::ranges::upper_bound(trail, tick, {}, &TrailPoint::tick);
         p != trail.begin() && age_s < 5.0 * tau_s;) {
        --p;
        const double older_s = static_cast<double>(tick - p->tick) * tick_s;
        const double older_weight = std::exp(-older_s / tau_s);
        const double older_m = glm::distance(p->tip_m, now_m);
        weights += 0.5 * (older_s - age_s) * (weight + older_weight);
        sum += 0.5 * (older_s - age_s) * (weight * apart_m + older_weight * older_m);
        age_s = older_s;
        weight = older_weight;
        apart_m = older_m;
    }
    return weights > 0.0 ? sum / weights : 0.0;
}

struct Hurried {
    std::string what;
    glm::dvec2 place_m{0.0};
    std::int64_t tick = 0;
    double behind_m = 0.0;
};

// The mark or reading that was made while the display was farthest behind.
std::optional<Hurried> most_hurried(const Case& c) {
    std::optional<Hurried> most;
    const double limit_m = std::max(behind_least_m, behind_share * c.spots.scale_m);
    const auto offer = [&](std::string what, const glm::dvec2& place_m, std::int64_t tick) {
        const double behind = behind_m(c, place_m, tick);
        if (behind >= limit_m && (!most || behind > most->behind_m)) {
            most = Hurried{std::move(what), place_m, tick, behind};
        }
    };
    for (const Mark& mark : c.marks) {
        offer(fmt::format("the {} mark", name_of(mark.kind)), mark.place_m, mark.tick);
    }
    for (const Reading& r : c.state.notebook.readings) {
        offer(fmt::format("the reading of {}", r.depth_m ? c.length(*r.depth_m) : std::string("no depth")), r.place_m,
              r.tick);
    }
    return most;
}

// A search in which the display never had time to settle near the sonde, up to the first peak or locate mark.
struct Rush {
    double near_s = 0.0;
    double still_s = 0.0;
    double mean_m_s = 0.0;
    double fastest_behind_m = 0.0;
    std::int64_t tick = 0;
    glm::dvec2 place_m{0.0};
};

std::optional<Rush> rushed_search(const Case& c) {
    std::int64_t until = c.state.tick;
    for (const Mark& mark : c.state.notebook.marks) {
        until = mark.kind == MarkKind::peak || mark.kind == MarkKind::locate ? std::min(until, mark.tick) : until;
    }
    Rush rush;
    double way_m = 0.0;
    const double still_m = std::max(still_least_m, still_share * c.spots.scale_m);
    constexpr double point_s = static_cast<double>(trail_every_ticks) * tick_s;
    const std::vector<TrailPoint>& trail = c.state.trail;
    for (std::size_t i = 1; i < trail.size() && trail[i].tick <= until; ++i) {
        if (trail[i].tip_height_m > walking_tip_m ||
            glm::distance(trail[i].tip_m, c.spots.sonde_m) > near_share * c.spots.scale_m) {
            continue;
        }
        const double behind = behind_m(c, trail[i].tip_m, trail[i].tick);
        rush.near_s += point_s;
        rush.still_s += behind < still_m ? point_s : 0.0;
        way_m += glm::distance(trail[i].tip_m, trail[i - 1].tip_m);
        if (behind > rush.fastest_behind_m) {
            rush.fastest_behind_m = behind;
            rush.tick = trail[i].tick;
            rush.place_m = trail[i].tip_m;
        }
    }
    if (rush.near_s < near_enough_s || rush.still_s >= still_enough_s ||
        rush.fastest_behind_m < std::max(behind_least_m, behind_share * c.spots.scale_m)) {
        return std::nullopt;
    }
    rush.mean_m_s = way_m / rush.near_s;
    return rush;
}

} // namespace

void add_speed_finding(const Case& c, Findings& out) {
    const double tau_s = behind_s(c);
    const std::optional<Hurried> hurried = most_hurried(c);
    const std::optional<Rush> rush = c.position_lost > 0.0 && c.locate_judged && c.off_m < near_share * c.spots.scale_m
                                         ? rushed_search(c)
                                         : std::nullopt;
    if (!hurried && !rush) {
        return;
    }
    Finding f = hurried ? finding("too_fast", *hurried) : finding("too_fast", *rush);
    f.title = hurried ? "Marked before the display had settled" : "Searched too fast for the display";
    const double behind = hurried ? hurried->behind_m : rush->fastest_behind_m;
    f.evidence =
        hurried
            ? fmt::format(
                  "At {}, for {}, the tip had just moved: what the display showed was, on average, from {} before that "
                  "place ({:.2f} of the depth). It takes {:.1f} s to settle.",
                  clock_text(hurried->tick), hurried->what, c.small(behind), behind / c.spots.scale_m, 4.6 * tau_s)
            : fmt::format(
                  "Within {} of the sonde the tip was on the move for {:.0f} s at {} a second and stood still for {:.1f} "
                  "s before the first peak or locate mark; the display takes {:.1f} s to settle, and showed places up "
                  "to {} behind the tip.",
                  c.length(near_share * c.spots.scale_m), rush->near_s, c.length(rush->mean_m_s), rush->still_s,
                  4.6 * tau_s, c.small(behind));
    f.next_time =
        fmt::format("Stand still for {:.1f} s before marking or reading, and search the strong part with a slow hand "
                    "(hold Shift).",
                    std::max(1.0, std::ceil(4.6 * tau_s)));
    f.points = hurried ? procedure_item_points + 0.5 * c.position_lost : 0.5 * c.position_lost;
    f.question =
        asked(fmt::format("The receiver's filter takes {:.2f} s. A hand that moves at {} a second sees the signal of "
                          "which place?",
                          tau_s, c.length(hand_speed_m_s)),
              {fmt::format("one about {} back", c.small(tau_s * hand_speed_m_s)), "the one under the tip",
               fmt::format("one about {} ahead", c.small(tau_s * hand_speed_m_s))},
              *f.tick);
    out.push_back(std::move(f));
}

// ---- The dig ----

void add_dig_findings(const Case& c, Findings& out) {
    if (!c.state.notebook.dig) {
        return;
    }
    const World& world = c.setting.world;
    const DigBox& box = *c.state.notebook.dig;
    const auto failed = [&](std::string_view key) {
        const auto item = std::ranges::find(c.score.safety, key, &SafetyItem::key);
        return item != c.score.safety.end() && item->failed;
    };
    if (failed("machine_in_tolerance_zone")) {
        const Polygon outline = rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m);
        const BuriedLine* nearest = nullptr;
        double gap_m = 0.0;
        for (const BuriedLine& line : world.yard.lines) { // a painted one before one that nobody could know of
            const double here_m = distance_to_polyline_m(outline, plan(line.points_m));
            const bool sooner = nearest != nullptr && nearest->paint_m.empty() && !line.paint_m.empty() &&
                                here_m < world.rubric.tolerance_zone_m + 0.5 * line.width_m;
            const bool later = nearest != nullptr && !nearest->paint_m.empty() && line.paint_m.empty();
            if (nearest == nullptr || sooner || (here_m < gap_m && !later)) {
                nearest = &line;
                gap_m = here_m;
            }
        }
        if (nearest != nullptr) {
            const std::string owner = nearest->owner.empty() ? std::string("the property") : nearest->owner;
            Finding f;
            f.key = "tolerance_zone";
            f.title = "Machine dig inside a tolerance zone";
            f.evidence = fmt::format(
                "The {} line of {} {}; its tolerance zone is {} on each side of it. The box was to be dug {}.",
                name_of(nearest->kind), owner,
                gap_m < 0.005 ? std::string("runs under the dig box")
                              : fmt::format("runs {} beside the dig box", c.length(gap_m)),
                c.length(world.rubric.tolerance_zone_m),
                box.method == DigMethod::none ? "in no way that was said, so as by machine" : "by machine");
            f.next_time =
                "Where a tolerance zone reaches the box, choose hand or vacuum (9), or lay the box clear of it.";
            f.points = full_dig_points;
            f.tick = c.state.finished_tick;
            f.place_m = box.centre_m;
            f.question = asked(fmt::format("The {} line of {} {}. How is that box dug?", name_of(nearest->kind), owner,
                                           gap_m < 0.005 ? std::string("runs under the dig box")
                                                         : fmt::format("is {} from the dig box", c.length(gap_m))),
                               {"by hand or vacuum as far as the tolerance zone reaches",
                                "by machine, since the line has been painted",
                                "by machine down to the depth that the owner stated"},
                               c.state.tick);
            out.push_back(std::move(f));
        }
    }
    if (failed("machine_without_clearance")) {
        const Ticket& ticket = world.sheet.ticket;
        Finding f;
        f.key = "no_clearance";
        f.title = "Machine dig without a cleared ticket";
        f.evidence = fmt::format(
            "Ticket {} stood at \"{}\", and {}. The box was to be dug {}.", ticket.number, name_of(ticket.state),
            c.state.ticket_read_tick ? fmt::format("was read at {}", clock_text(*c.state.ticket_read_tick))
                                     : std::string("was not looked at"),
            box.method == DigMethod::none ? "in no way that was said, so as by machine" : "by machine");
        f.next_time =
            "Read the ticket (O) before choosing how to dig: until every owner has answered nobody digs, by hand "
            "either, and never with a machine.";
        f.points = full_dig_points;
        f.tick = c.state.ticket_read_tick ? c.state.ticket_read_tick : c.state.finished_tick;
        f.place_m = box.centre_m;
        f.question = asked(fmt::format("The ticket stood at \"{}\". When may digging begin?", name_of(ticket.state)),
                           {"when every owner has answered and the ticket is in force",
                            "as soon as a ticket has a number", "when no paint is seen at the box"},
                           c.state.tick);
        out.push_back(std::move(f));
    }
}

} // namespace sondeyard::field::coaching
