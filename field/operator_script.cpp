#include "field/operator_script.hpp"

#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace sondeyard::field {

namespace {

constexpr double settle_s = 0.75; // the display settles to 1 % in 0.7 s
constexpr double average_s = 0.30;

glm::dvec2 to_mm(const glm::dvec2& p) {
    return {std::nearbyint(p.x * 1000.0) / 1000.0, std::nearbyint(p.y * 1000.0) / 1000.0};
}

// Unit vector of the field's axis from needle and dip.
glm::dvec3 axis_seen(const Observation& seen) {
    const double dip = sim::radians(seen.dip_deg);
    return {direction_of(seen.facing_deg + seen.needle_deg) * std::cos(dip), -std::sin(dip)};
}

} // namespace

// ---- Jobs ----

Script::Script(const Brief& brief) : brief_(brief), walkway_(brief_) {}

void Script::then(Job job) { planned_.push_back(std::move(job)); }

void Script::decide(std::function<void()> thought) {
    then([thought = std::move(thought)](Action& /*action*/) {
        thought();
        return Is::done;
    });
}

void Script::command(const Command& c) {
    then([c, given = false](Action& action) mutable {
        if (!std::exchange(given, true)) {
            action.command = c;
            return Is::busy;
        }
        return Is::done;
    });
}

Action Script::act(const Observation& seen, const Notebook& notebook, const std::vector<TruckCheckResult>& truck) {
    seen_ = &seen;
    notebook_ = &notebook;
    truck_ = &truck;
    if (!std::exchange(started_, true)) {
        hand_m_ = to_mm(seen.tip_m);
        work();
    }
    if (seen.tick > latest_tick_ && !std::exchange(wrapping_up_, true)) {
        jobs_.clear();
        planned_.clear();
        wrap_up();
    }
    Action action;
    Is state = Is::done;
    while (state == Is::done) {
        jobs_.insert(jobs_.begin(), std::make_move_iterator(planned_.begin()), std::make_move_iterator(planned_.end()));
        planned_.clear();
        if (jobs_.empty()) {
            action.command = Finish{};
            break;
        }
        Job job = std::move(jobs_.front());
        jobs_.pop_front();
        state = job(action);
        if (state == Is::busy) {
            jobs_.push_front(std::move(job));
        }
    }
    action.move.hand_m = hand_m_;
    action.move.hand_height_m = hand_height_m_;
    return action;
}

// ---- Walking and holding ----

namespace {

constexpr double carrot_m = 0.62; // a walk ends this far short of the hand: aim so much beyond the corner
constexpr double corner_reached_m = 0.12;
constexpr double carried_m = 0.10; // tip off the ground while the feet move

// A walk in progress. The hand is put beyond the next corner and stays there: few changes for the log to hold.
struct Walk {
    std::vector<glm::dvec2> corners;
    std::size_t next = 0;
    glm::dvec2 hand_m{0.0};
    bool begun = false;
    bool arrives = false;
    int standstill_ticks = 0;
    int ticks = 0;
    int plans = 0;
    int freeing_ticks = 0; // of the tip, once, when it hangs behind something
    glm::dvec2 last_feet_m{0.0};
    glm::dvec2 last_tip_m{0.0};
    double last_height_m = 0.0;
};

void aim_at_corner(Walk& walk, const glm::dvec2& feet_m) {
    const glm::dvec2 way = walk.corners[walk.next] - feet_m;
    const double length = glm::length(way);
    const glm::dvec2 ahead = length > 1e-6 ? way / length : glm::dvec2{0.0, 1.0};
    // Under 0.95 m a standing body only stretches its arm.
    walk.hand_m = to_mm(feet_m + ahead * std::max(length + carrot_m, 0.96));
}

void plan_walk(Walk& walk, Walkway& walkway, const glm::dvec2& feet_m, const glm::dvec2& tip_m) {
    Walkway::Path path = walkway.path(feet_m, tip_m);
    walk.corners = std::move(path.feet_m);
    walk.arrives = path.arrives;
    walk.next = 0;
    walk.standstill_ticks = 0;
    ++walk.plans;
    if (!walk.corners.empty()) {
        aim_at_corner(walk, feet_m);
    }
}

void note_progress(Walk& walk, const Observation& seen) {
    const bool still = glm::distance(seen.feet_m, walk.last_feet_m) < 1e-3 &&
                       glm::distance(seen.tip_m, walk.last_tip_m) < 1e-3 &&
                       std::abs(seen.tip_height_m - walk.last_height_m) < 1e-3;
    walk.standstill_ticks = still ? walk.standstill_ticks + 1 : 0;
    walk.last_feet_m = seen.feet_m;
    walk.last_tip_m = seen.tip_m;
    walk.last_height_m = seen.tip_height_m;
    ++walk.ticks;
}

// A tip that hangs behind a trunk: first draw the arm in, then step away from it; out of arm's length it comes along.
std::optional<glm::dvec2> hand_to_free_tip(Walk& walk, const Observation& seen) {
    constexpr int draw_in_ticks = 30;
    constexpr int step_away_ticks = 60;
    if (walk.freeing_ticks == 0 || walk.freeing_ticks > draw_in_ticks + step_away_ticks) {
        return std::nullopt;
    }
    const glm::dvec2 arm = seen.tip_m - seen.feet_m;
    const glm::dvec2 out = glm::length(arm) > 1e-3 ? glm::normalize(arm) : direction_of(seen.facing_deg);
    walk.standstill_ticks = 0;
    constexpr double drawn_in_m = 0.3;
    constexpr double away_m = 1.5;
    return to_mm(seen.feet_m + (walk.freeing_ticks++ <= draw_in_ticks ? drawn_in_m : -away_m) * out);
}

} // namespace

void Script::walk_to(const glm::dvec2& tip_m, double tip_height_m, std::function<bool()> stop) {
    constexpr int given_up_after_ticks = 30;
    constexpr int longest_ticks = 120 * 60;
    constexpr int most_plans = 3;
    then([this, goal = to_mm(tip_m), tip_height_m, stop = std::move(stop), walk = Walk{}](Action& /*action*/) mutable {
        if (!std::exchange(walk.begun, true)) {
            plan_walk(walk, walkway_, seen().feet_m, goal);
        }
        note_progress(walk, seen());
        there_ = false;
        if (walk.ticks > longest_ticks || (stop && stop())) {
            hand_m_ = to_mm(seen().tip_m);
            return Is::done;
        }
        while (walk.next < walk.corners.size() &&
               glm::distance(seen().feet_m, walk.corners[walk.next]) < corner_reached_m) {
            if (++walk.next < walk.corners.size()) {
                aim_at_corner(walk, seen().feet_m);
            }
        }
        const bool walking = walk.next < walk.corners.size();
        if (!walking && !walk.arrives) {
            hand_m_ = to_mm(seen().tip_m);
            return Is::done; // as near as one gets
        }
        hand_m_ = walking ? walk.hand_m : goal;
        hand_height_m_ = walking ? std::max(tip_height_m, carried_m) : tip_height_m;
        if (!walking && glm::distance(seen().tip_m, goal) < 2e-3 &&
            std::abs(seen().tip_height_m - tip_height_m) < 2e-3) {
            there_ = true;
            return Is::done;
        }
        if (const auto hand = hand_to_free_tip(walk, seen())) {
            hand_m_ = *hand;
            return Is::busy;
        }
        if (walk.standstill_ticks > given_up_after_ticks) {
            if (walk.plans >= most_plans) {
                hand_m_ = to_mm(seen().tip_m);
                return Is::done;
            }
            walk.freeing_ticks += walk.freeing_ticks == 0 ? 1 : 0;
            plan_walk(walk, walkway_, seen().feet_m, goal);
        }
        return Is::busy;
    });
}

void Script::hold_height(double tip_height_m) {
    then([this, tip_height_m, ticks = 0](Action& /*action*/) mutable {
        hand_height_m_ = tip_height_m;
        return std::abs(seen().tip_height_m - tip_height_m) < 2e-3 || ++ticks > 180 ? Is::done : Is::busy;
    });
}

void Script::wait(double seconds) {
    then([left = static_cast<int>(std::lround(seconds / tick_s))](Action& /*action*/) mutable {
        return left-- > 0 ? Is::busy : Is::done;
    });
}

void Script::settle() { wait(settle_s); }

void Script::hold_plumb() {
    constexpr double good_enough_deg = 0.3; // the hand itself sways by a tenth of a degree
    constexpr double full_deg = lean_speed_deg_s * tick_s;
    then([this, ticks = 0](Action& action) mutable {
        if (seen().lean_deg < good_enough_deg || ++ticks > 600) {
            return Is::done;
        }
        action.move.lean_forward = std::clamp(-seen().lean_forward_deg / full_deg, -1.0, 1.0);
        action.move.lean_right = std::clamp(-seen().lean_right_deg / full_deg, -1.0, 1.0);
        return Is::busy;
    });
}

void Script::turn_by(double clockwise_deg) {
    const auto before_deg = std::make_shared<double>(0.0);
    const auto turned = [this](double angle_deg) {
        command(TurnBy{angle_deg});
        then([this, ticks = 0](Action& /*action*/) mutable {
            return seen().turning && ++ticks < 360 ? Is::busy : Is::done;
        });
    };
    decide([this, before_deg] { *before_deg = seen().facing_deg; });
    turned(clockwise_deg);
    decide([=, this] {
        // Something stood in the way: round the other side. For an axis it comes to the same.
        const double done_deg = std::abs(sim::wrap_180(seen().facing_deg - *before_deg));
        if (done_deg < 0.5 * std::abs(clockwise_deg)) {
            turned(sim::wrap_180(*before_deg - seen().facing_deg) - clockwise_deg);
        }
    });
    decide([this] { hand_m_ = to_mm(seen().tip_m); });
}

// ---- Measuring ----

void Script::average(double seconds, Use use) {
    struct Sum {
        int ticks = 0;
        double dbpt = 0.0;
        int axes = 0;
        glm::dvec3 axis{0.0};
    };
    then([this, seconds, use = std::move(use), sum = Sum{}](Action& /*action*/) mutable {
        ++sum.ticks;
        sum.dbpt += seen().signal_dbpt;
        if (seen().has_axis) {
            const glm::dvec3 axis = axis_seen(seen());
            sum.axis += glm::dot(axis, sum.axis) < 0.0 ? -axis : axis; // either end of an axis is the same
            ++sum.axes;
        }
        if (sum.ticks * tick_s < seconds) {
            return Is::busy;
        }
        Sample sample{seen().tip_m, sum.dbpt / sum.ticks, std::nullopt};
        if (sum.axes == sum.ticks && glm::length(sum.axis) > 0.0) {
            sample.axis = glm::normalize(sum.axis);
        }
        use(sample);
        return Is::done;
    });
}

void Script::probe(const glm::dvec2& place_m, Use use) {
    walk_to(place_m, 0.0);
    settle();
    decide([this, use = std::move(use)] { average(listen_s(), use); });
}

// A weak signal flickers: look longer.
double Script::listen_s() const {
    constexpr double weak_above_floor_db = 35.0;
    return seen().signal_dbpt < floor_dbpt() + weak_above_floor_db ? 4.0 * average_s : average_s;
}

void Script::probe_each(const std::vector<glm::dvec2>& places, UseAll use) {
    const auto samples = std::make_shared<std::vector<Sample>>();
    for (const glm::dvec2& place : places) {
        if (walkway_.can_hold(place)) {
            probe(place, [this, samples](const Sample& s) {
                if (there_) {
                    samples->push_back(s);
                }
            });
        }
    }
    decide([samples, use = std::move(use)] { use(*samples); });
}

void Script::strength_at(const glm::dvec2& place_m, double tip_height_m, Use use) {
    walk_to(place_m, tip_height_m);
    if (has_dial()) {
        settle();
        decide([this, use = std::move(use)] { average(listen_s(), use); });
        return;
    }
    // One coil sees one direction of the field: level, level a quarter turn on, and upright make up the whole. Coils
    // fixed level give the level part of it.
    const auto square = std::make_shared<double>(0.0);
    const Use add = [square](const Sample& s) { *square += std::pow(10.0, s.signal_dbpt / 10.0); };
    settle();
    average(average_s, add);
    turn_by(90.0);
    settle();
    average(average_s, add);
    if (sim::turns_coil(brief_.receiver_kind)) {
        command(TurnCoil{sim::CoilAttitude::upright});
        settle();
        average(average_s, add);
        command(TurnCoil{sim::CoilAttitude::level});
    }
    decide([this, square, use = std::move(use)] { use({seen().tip_m, 10.0 * std::log10(*square), std::nullopt}); });
}

// Going round by the clock from each of 32 bearings: the next one that can be reached and is far enough from the last.
// Square directions if there are four of them, else the most that are 60 deg apart.
std::vector<glm::dvec2> Script::places_to_walk_off(const glm::dvec2& peak_m, double depth_m, double along_deg) const {
    constexpr int bearings = 32;
    constexpr double bearing_step_deg = 360.0 / bearings;
    std::array<std::optional<glm::dvec2>, bearings> places;
    for (int i = 0; i < bearings; ++i) {
        for (const double away : {1.1, 1.0, 1.25, 0.9, 1.4}) { // of the depth
            const glm::dvec2 place = peak_m + away * depth_m * direction_of(along_deg + bearing_step_deg * i);
            if (!places[static_cast<std::size_t>(i)] && walkway_.can_hold(place)) {
                places[static_cast<std::size_t>(i)] = place;
            }
        }
    }
    std::vector<glm::dvec2> best;
    for (const int apart : {8, 6}) { // 90 and 67.5 deg
        for (int first = 0; first < bearings && best.size() < 4; ++first) {
            std::vector<glm::dvec2> chosen;
            for (int i = 0; i <= bearings - apart; ++i) {
                const auto& place = places[static_cast<std::size_t>((first + i) % bearings)];
                if (place) {
                    chosen.push_back(*place);
                    i += apart - 1;
                }
            }
            if (chosen.size() > best.size()) {
                best = chosen;
            }
        }
    }
    return best;
}

void Script::mark_at(const glm::dvec2& place_m, MarkKind kind) {
    walk_to(place_m, 0.0);
    settle();
    command(PlaceMark{kind});
}

void Script::read_depth(int count) {
    for (int i = 0; i < count; ++i) {
        wait(i == 0 ? settle_s : 0.5); // half a second apart the noise of two readings is not the same
        command(ReadDepth{});
    }
}

double Script::floor_dbpt() const {
    constexpr double ever_quieter_db = 28.0;
    const double by_frequency_db =
        20.0 * std::log10(512.0 / seen().frequency_hz); // coils hear more, the higher the frequency
    return brief_.noise_floor_dbpt_at_512 + std::max(by_frequency_db, -ever_quieter_db);
}

} // namespace sondeyard::field
