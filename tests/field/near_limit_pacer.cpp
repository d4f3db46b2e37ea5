#include "tests/field/near_limit_pacer.hpp"

#include "sim/units.hpp"
#include "tests/field/model_operator_runs.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace sondeyard::test {

using namespace sondeyard::field;

Spots spots_of(double tilt_deg) {
    const double t = sim::radians(tilt_deg);
    const double slope = std::tan(t);
    const double root = std::sqrt(9.0 * slope * slope + 8.0);
    Spots spots{(-3.0 * slope - root) / 4.0, (-3.0 * slope + root) / 4.0, 0.0, 0.0};
    if (slope > 1e-9) {
        spots.level = (3.0 - std::sqrt(9.0 + 8.0 * slope * slope)) / (2.0 * slope);
    }
    const auto square = [t](double x) { // of the field
        const double r2 = x * x + 1.0;
        const double along = x * std::cos(t) + std::sin(t);
        return (3.0 * along * along / r2 + 1.0) / (r2 * r2 * r2);
    };
    for (int i = 0; i < 800; ++i) {
        const double x = 0.0005 * i;
        spots.peak = square(x) > square(spots.peak) ? x : spots.peak;
    }
    return spots;
}

Pacer::Pacer(const Setting& setting, const Orders& orders)
    : Script(setting.brief), world_(setting.world), orders_(orders), spots_(spots_of(world_.sonde.tilt_deg)),
      d_m_(depth_m(world_) + world_.receiver.tip_to_antenna_m) {
    latest_tick_ = longest_run_ticks;
}

glm::dvec2 Pacer::at(double along, double across) const {
    const double raised_deg = world_.sonde.heading_deg + 180.0;
    return plan(world_.sonde.position_m) + along * d_m_ * direction_of(raised_deg) +
           across * d_m_ * direction_of(raised_deg + 90.0);
}

void Pacer::work() {
    paperwork();
    hold_plumb();
    if (orders_.retunes) {
        command(SetFrequency{640.0});
        wait(1.0);
        command(SetFrequency{world_.sonde.frequency_hz});
    }
    mark_behind();
    if (orders_.marks_level) {
        mark_at(at(spots_.level), MarkKind::level);
    }
    mark_at(at(spots_.peak + orders_.peak_off), MarkKind::peak);
    if (orders_.passes) {
        walk_to(at(spots_.peak, *orders_.passes), 0.0);
        walk_to(at(spots_.plumb_ahead + 0.4, *orders_.passes), 0.0);
        walk_to(at(spots_.peak, *orders_.passes), 0.0);
    } else if (orders_.goes_ahead) {
        mark_at(at(spots_.plumb_ahead + orders_.plumb_ahead_off), MarkKind::plumb);
    }
    read_pair();
    decide([this] { locate_and_call(); });
}

void Pacer::mark_behind() {
    const glm::dvec2 place = at(spots_.plumb_behind);
    walk_to(place, orders_.mark_tip_up_m);
    wait(2.0); // the search comes to rest here
    if (orders_.wait_s) {
        decide([this, place] {
            walk_to(place + 0.6 * direction_of(seen().facing_deg + 90.0), 0.0);
            settle();
            walk_to(place, 0.0);
            wait(*orders_.wait_s);
            command(PlaceMark{MarkKind::plumb});
        });
        return;
    }
    command(PlaceMark{MarkKind::plumb});
}

// Leans until the ring shows it; with the tip on the ground the hand is steady.
void Pacer::lean_to(double forward_deg) {
    then([this, forward_deg, ticks = 0](Action& action) mutable {
        const double left_deg = forward_deg - seen().lean_forward_deg;
        action.move.lean_forward = std::clamp(left_deg / (lean_speed_deg_s * tick_s), -1.0, 1.0);
        return std::abs(left_deg) < 0.02 || ++ticks > 600 ? Is::done : Is::busy;
    });
}

void Pacer::read_pair() {
    const glm::dvec2 place = at(spots_.peak, orders_.read_aside);
    walk_to(place, 0.0);
    hold_plumb();
    hold_height(orders_.read_tip_up_m);
    if (orders_.lean_deg > 0.0) {
        decide([this] { turn_by(sim::wrap_180(world_.sonde.heading_deg + 90.0 - seen().facing_deg)); });
        lean_to(orders_.lean_deg);
    }
    settle();
    read_depth(1);
    turn_by(orders_.turn_deg);
    if (orders_.second_aside_m > 0.0) {
        walk_to(place + orders_.second_aside_m * direction_of(world_.sonde.heading_deg), 0.0);
        settle();
    }
    read_depth(1);
    if (orders_.puts_right) {
        hold_plumb();
        hold_height(0.0);
        settle();
        read_depth(1);
        turn_by(180.0);
        read_depth(1);
    }
    decide([this] {
        std::vector<double> shown_m;
        for (const Reading& r : notebook().readings) {
            if (r.depth_m) {
                shown_m.push_back(*r.depth_m);
            }
        }
        if (shown_m.size() >= 2) {
            const double a_m = shown_m[shown_m.size() - 2];
            called_m_ = 0.5 * (a_m + shown_m.back());
            apart_ = std::abs(a_m - shown_m.back()) / called_m_;
        }
    });
}

void Pacer::locate_and_call() {
    mark_at(at(orders_.locate_along, orders_.locate_across), MarkKind::locate);
    command(CallDepth{called_m_});
    const double tilt_deg = world_.sonde.tilt_deg;
    if (orders_.calls_level || tilt_deg < 5.0) {
        command(CallTilt{TiltCall::level, 0.0, std::nullopt});
    } else {
        command(CallTilt{TiltCall::tilted, world_.sonde.heading_deg + 180.0, tilt_deg});
    }
    DigBox box;
    box.centre_m = plan(world_.sonde.position_m);
    box.heading_deg = world_.sonde.heading_deg;
    box.depth_m = std::max(called_m_ - 0.1, 0.1);
    box.method = orders_.method;
    command(ProposeDig{box});
    command(Finish{});
}

} // namespace sondeyard::test
