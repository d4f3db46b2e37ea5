#include "field/operator_script.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

// From the truck to the loudest place, and from the mark to the dig box: what every locator does before and after his
// method.

namespace sondeyard::field {

namespace {

glm::dvec2 to_mm(const glm::dvec2& p) {
    return {std::nearbyint(p.x * 1000.0) / 1000.0, std::nearbyint(p.y * 1000.0) / 1000.0};
}

} // namespace

// ---- At the truck ----

void Script::paperwork() {
    command(ReadTicket{});
    command(SetFrequency{brief_.sheet.frequency_hz});
    wait(0.3);
    command(TruckCheck{});
    decide([this] { try_frequencies(0); });
}

void Script::try_frequencies(std::size_t next) {
    if (!truck_->empty() && truck_->back().heard) {
        return;
    }
    if (next == receiver_frequencies_hz.size()) { // none was heard: as the sheet says
        command(SetFrequency{brief_.sheet.frequency_hz});
        return;
    }
    if (receiver_frequencies_hz[next] != brief_.sheet.frequency_hz) {
        command(SetFrequency{receiver_frequencies_hz[next]});
        wait(0.3);
        command(TruckCheck{});
    }
    decide([this, next] { try_frequencies(next + 1); });
}

// ---- Getting near ----

void Script::come_near() {
    constexpr int rounds = 2;
    hold_height(held_out_m);
    decide([this] { come_nearer(rounds); });
}

// Searches the yard if there is nothing to hear, then climbs. Noise can pass for a signal, and a wall can stand in the
// way of the climb: when it led to nothing as loud as the sonde must be, all over again from where it is louder.
void Script::come_nearer(int rounds_left) {
    constexpr double louder_db = 3.0;
    const glm::dvec2 loudest_m = best_m_;
    settle();
    average(1.0, [this](const Sample& s) {
        if (s.signal_dbpt < listen_from_dbpt()) {
            search_yard();
        }
    });
    decide([=, this] {
        const bool in_vain = louder_than_dbpt_ > floor_dbpt() && seen().signal_dbpt < louder_than_dbpt_;
        best_m_ = in_vain ? loudest_m : seen().tip_m;
        best_dbpt_ = -200.0;
        constexpr double first_step_m = 4.0;
        constexpr int most_arcs = 30;
        if (has_dial() && !in_vain) { // with a coil an arc says nothing: what it hears depends on how it points
            climb_by_arcs(first_step_m, {0.0, 1.0}, most_arcs);
        }
    });
    // Far off an arc is half noise and may end anywhere: go on place by place, waiting for the display at each.
    decide([this] { start_climb({.step_m = 2.0, .last_m = 0.5, .tip_height_m = held_out_m}); });
    decide([=, this] {
        if (best_dbpt_ < loud_over_sonde_dbpt() && rounds_left > 1) {
            louder_than_dbpt_ = best_dbpt_ + louder_db;
            come_nearer(rounds_left - 1);
        }
    });
}

double Script::listen_from_dbpt() const { return std::max(floor_dbpt() + heard_above_floor_db, louder_than_dbpt_); }

// What the truck check showed at 2 m, taken to 6.5 m by the inverse cube; a sonde in a drain lies no deeper than that
// below a tip held out.
double Script::loud_over_sonde_dbpt() const {
    constexpr double from_2_to_6_5_m_db = 31.0;
    constexpr double loud_above_floor_db = 20.0;
    const bool checked = !truck_->empty() && truck_->back().heard;
    return checked ? truck_->back().signal_dbpt - from_2_to_6_5_m_db : floor_dbpt() + loud_above_floor_db;
}

// Walks a net of places until something is heard: those the cable can have reached first, nearest next.
void Script::search_yard() {
    constexpr double net_m = 6.0;
    constexpr double beyond_counter_m = 3.0;
    std::vector<glm::dvec2> net;
    for (int column = 0; (column + 0.5) * net_m < brief_.width_m; ++column) {
        for (int row = 0; (row + 0.5) * net_m < brief_.length_m; ++row) {
            const glm::dvec2 place{(column + 0.5) * net_m, (row + 0.5) * net_m};
            if (walkway_.can_hold(place)) {
                net.push_back(place);
            }
        }
    }
    const auto& sheet = brief_.sheet;
    const auto out_of_reach = [&](const glm::dvec2& p) {
        return sheet.cleanout_m && sheet.counter_m &&
               glm::distance(p, *sheet.cleanout_m) > *sheet.counter_m + beyond_counter_m;
    };
    const auto found = std::make_shared<bool>(false);
    const auto listening = [this, found, ticks = 0]() mutable {
        constexpr int long_enough_ticks = 45; // noise alone does not stay up for that long
        ticks = seen().signal_dbpt > listen_from_dbpt() ? ticks + 1 : 0;
        *found = ticks > long_enough_ticks;
        return *found;
    };
    constexpr std::int64_t longest_search_ticks = 240 * 60;
    const std::int64_t deadline = seen().tick + longest_search_ticks;
    glm::dvec2 at = seen().tip_m;
    while (!net.empty()) {
        const auto nearest = std::ranges::min_element(
            net, {}, [&](const glm::dvec2& p) { return glm::distance(p, at) + (out_of_reach(p) ? 1000.0 : 0.0); });
        at = *nearest;
        net.erase(nearest);
        decide([this, at, listening, found, deadline] {
            if (!*found && seen().tick < deadline) {
                walk_to(at, held_out_m, listening);
            }
        });
    }
}

// Swings the receiver in an arc about the feet and feels which way the signal rises: a plane through signal over place.
void Script::sweep_arc(std::function<void(double, const glm::dvec2&)> use) {
    constexpr double half_arc_deg = 80.0;
    constexpr double arm_out_m = 0.85;
    constexpr int arc_ticks = 150;
    constexpr int settle_ticks = 60;
    constexpr int stand_still_ticks =
        20; // arm half out, so that the feet stop: else they follow the hand round the arc
    constexpr double arm_half_out_m = 0.5;
    struct Sums {
        int ticks = 0;
        double n = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0, yy = 0.0, s = 0.0, sx = 0.0, sy = 0.0;
    };
    const auto middle_deg = std::make_shared<double>(0.0);
    decide([this, middle_deg] { *middle_deg = seen().facing_deg; });
    then([this, middle_deg, use = std::move(use), sums = Sums{}](Action& /*action*/) mutable {
        const double part = std::clamp(static_cast<double>(sums.ticks - settle_ticks) / arc_ticks, 0.0, 1.0);
        const double out_m = sums.ticks < stand_still_ticks ? arm_half_out_m : arm_out_m;
        hand_m_ = to_mm(seen().feet_m + out_m * direction_of(*middle_deg + half_arc_deg * (2.0 * part - 1.0)));
        hand_height_m_ = held_out_m;
        if (++sums.ticks > settle_ticks) {
            const glm::dvec2 p = seen().tip_m - seen().feet_m;
            const double s = seen().signal_dbpt;
            sums.n += 1.0;
            sums.x += p.x, sums.y += p.y, sums.s += s;
            sums.xx += p.x * p.x, sums.xy += p.x * p.y, sums.yy += p.y * p.y;
            sums.sx += s * p.x, sums.sy += s * p.y;
        }
        if (sums.ticks < settle_ticks + arc_ticks) {
            return Is::busy;
        }
        const double n = sums.n;
        constexpr double held_back = 1e-3; // keeps a sweep cut short by a wall from dividing by nothing
        const double xx = sums.xx / n - sums.x * sums.x / (n * n) + held_back;
        const double yy = sums.yy / n - sums.y * sums.y / (n * n) + held_back;
        const double xy = sums.xy / n - sums.x * sums.y / (n * n);
        const double sx = sums.sx / n - sums.s * sums.x / (n * n);
        const double sy = sums.sy / n - sums.s * sums.y / (n * n);
        const double det = xx * yy - xy * xy;
        const glm::dvec2 slope{(sx * yy - sy * xy) / det, (sy * xx - sx * xy) / det};
        use(sums.s / n, glm::length(slope) > 0.0 ? glm::normalize(slope) : glm::dvec2{0.0, 1.0});
        return Is::done;
    });
}

// From arc to arc; a step that did not make it stronger is taken again from the best place, half as long.
void Script::climb_by_arcs(double step_m, const glm::dvec2& uphill, int arcs_left) {
    constexpr double last_step_m = 1.0;
    sweep_arc([=, this](double mean_dbpt, const glm::dvec2& uphill_here) {
        double next_m = step_m;
        glm::dvec2 way = uphill;
        if (mean_dbpt > best_dbpt_) {
            best_dbpt_ = mean_dbpt;
            best_m_ = seen().feet_m;
            way = uphill_here;
        } else {
            next_m *= 0.5;
        }
        if (next_m >= last_step_m && arcs_left > 0) {
            constexpr double arm_out_m = 0.5;
            walk_to(best_m_ + (next_m + arm_out_m) * way, held_out_m);
            decide([=, this] { climb_by_arcs(next_m, way, arcs_left - 1); });
        }
    });
}

void Script::climb_on_ground(double first_m, double last_m) { start_climb({.step_m = first_m, .last_m = last_m}); }

void Script::start_climb(const Climb& climb) {
    strength_at(best_m_, climb.tip_height_m, [=, this](const Sample& s) {
        best_dbpt_ = s.signal_dbpt; // wherever he got to
        best_m_ = s.place_m;
        climb_by_places(climb);
    });
}

// Tries the four sides of the best place, a step away, and moves on as soon as one is stronger, that way first; when
// none is, half the step.
void Script::climb_by_places(Climb climb) {
    if (climb.tried == 4) {
        climb.step_m *= 0.5;
        climb.tried = 0;
    }
    if (climb.step_m < climb.last_m || climb.tries_left == 0) {
        return;
    }
    const auto next_side = [=, this] {
        Climb next = climb;
        ++next.tried;
        next.side = (climb.side + 1) % 4;
        climb_by_places(next);
    };
    const glm::dvec2 place = best_m_ + climb.step_m * direction_of(90.0 * climb.side);
    if (!walkway_.can_hold(place)) {
        next_side();
        return;
    }
    strength_at(place, climb.tip_height_m, [=, this](const Sample& s) {
        if (!there_ || s.signal_dbpt <= best_dbpt_) {
            next_side();
            return;
        }
        best_dbpt_ = s.signal_dbpt;
        best_m_ = s.place_m;
        Climb next = climb;
        next.tried = 0;
        --next.tries_left;
        climb_by_places(next);
    });
}

// ---- The dig box ----

namespace {

bool paint_is_near(const Brief& brief, const DigBox& box) {
    constexpr double near_m = 0.457 + 0.30; // tolerance zone (18 in) and a margin for the line's own width
    const Polygon outline = rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m);
    return std::ranges::any_of(
        brief.paint, [&](const PaintedLine& line) { return distance_to_polyline_m(outline, line.paint_m) < near_m; });
}

} // namespace

void Script::white_line_and_finish(const glm::dvec2& locate_m, double depth_m, const std::optional<Lie>& lie) {
    const JobSheet& sheet = brief_.sheet;
    const double onward_m = sheet.sonde_to_lens_m + sheet.lens_to_fault_m;
    DigBox box;
    box.heading_deg = lie ? lie->along_deg : 0.0;
    box.centre_m = locate_m;
    double sonde_depth_m = depth_m; // over the fault the pipe lies as much deeper as it falls on the way there
    if (onward_m > 0.0 && lie) {
        glm::dvec2 onward = direction_of(lie->along_deg);
        // A drain leads away from its cleanout and falls. Bends can fool the one, noise the other: weigh them.
        constexpr double cleanout_weight = 4.0;
        double evidence = lie->downhill_evidence;
        if (sheet.cleanout_m && glm::distance(locate_m, *sheet.cleanout_m) > 0.1) {
            evidence += cleanout_weight * glm::dot(onward, glm::normalize(locate_m - *sheet.cleanout_m));
        }
        onward *= evidence < 0.0 ? -1.0 : 1.0;
        box.centre_m += onward_m * std::cos(sim::radians(lie->tilt_deg)) * onward;
        sonde_depth_m += onward_m * std::sin(sim::radians(lie->tilt_deg));
    }
    sonde_depth_m +=
        height_m(brief_.terrain, box.centre_m) - height_m(brief_.terrain, locate_m); // from the ground there
    const double top_m = pipe_top_depth_m(sonde_depth_m, sheet);
    const double springline_m = top_m + sheet.wall_m + 0.5 * sheet.inside_diameter_m;
    constexpr double above_top_m = 0.30;
    box.length_m = 1.2;
    box.width_m = 0.8;
    box.depth_m = std::max(0.5 * (top_m - above_top_m + springline_m), 0.05); // middle of what counts as on the pipe
    const bool cleared = sheet.ticket.state == TicketState::cleared;
    box.method = cleared && !paint_is_near(brief_, box) ? DigMethod::hand : DigMethod::vacuum;
    command(ProposeDig{box});
    command(Finish{});
}

} // namespace sondeyard::field
