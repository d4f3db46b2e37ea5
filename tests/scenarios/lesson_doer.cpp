#include "lesson_doer.hpp"

#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <stdexcept>

namespace sondeyard::scenarios::test {

using namespace field;

namespace {

constexpr std::int64_t longest_ticks = 30 * 60 * 60;
constexpr int step_timeout_ticks = 240 * 60;

struct Shared { // what the trainee and the course look at
    const Setting* setting = nullptr;
    const ExerciseState* state = nullptr; // as it is now; copying it every tick would take the test's time
    std::size_t done = 0;                 // checks that hold by now
};

double value(const Check& check, std::string_view name) {
    for (std::size_t i = 0; i < check.kind->parameters.size(); ++i) {
        if (check.kind->parameters[i].name == name) {
            return check.values[i];
        }
    }
    throw std::logic_error("no such parameter");
}
std::string_view word(const Check& check, std::string_view name) {
    for (std::size_t i = 0; i < check.kind->parameters.size(); ++i) {
        if (check.kind->parameters[i].name == name) {
            return check.kind->parameters[i].words[static_cast<std::size_t>(check.values[i])];
        }
    }
    throw std::logic_error("no such parameter");
}

class Doer : public Script {
public:
    Doer(const Setting& setting, Shared& shared, std::vector<Check> checks, const LessonTest* test)
        : Script(setting.brief), shared_(shared), checks_(std::move(checks)), test_(test) {
        latest_tick_ = longest_ticks;
    }

private:
    void work() override { do_from(0); }
    void wrap_up() override { command(Finish{}); }

    // Does a check, waits for it to hold, goes on with the next. What does not come to hold stops him.
    void do_from(std::size_t i) {
        if (i == checks_.size()) {
            if (test_ != nullptr) {
                calls();
            }
            command(Finish{});
            return;
        }
        if (shared_.done <= i) {
            do_check(checks_[i]);
        }
        then([this, i, ticks = 0](Action& /*action*/) mutable {
            return shared_.done > i || ++ticks > step_timeout_ticks ? Is::done : Is::busy;
        });
        decide([this, i] {
            if (shared_.done > i) {
                do_from(i + 1);
            }
        });
    }

    TruePlaces places() const {
        return true_places(shared_.setting->world, sonde_now(*shared_.setting, *shared_.state));
    }

    glm::dvec2 beside(double ahead_m, double right_m) const {
        const TruePlaces p = places();
        return p.sonde_m + ahead_m * p.ahead + right_m * glm::dvec2(p.ahead.y, -p.ahead.x);
    }

    glm::dvec2 place_of(std::string_view what) const {
        const TruePlaces p = places();
        return what == "peak"    ? p.peak_m
               : what == "level" ? p.level_m
               : what == "plumb" ? p.plumb_m.front()
               : what == "ghost" ? p.ghost_m.front()
                                 : p.sonde_m;
    }

    // Held out, towards the sonde, until the check holds.
    void approach() {
        const std::size_t before = shared_.done;
        walk_to(places().sonde_m, held_out_m, [this, before] { return shared_.done > before; });
    }

    void read_at(const glm::dvec2& place) {
        walk_to(place, 0.0);
        hold_plumb();
        settle();
        command(ReadDepth{});
    }

    void facing_pair_at(const glm::dvec2& place) {
        read_at(place);
        turn_by(180.0);
        walk_to(place, 0.0);
        hold_plumb();
        settle();
        command(ReadDepth{});
    }

    glm::dvec2 far_place(double from_m) { // one that can be reached, off along a metal line or anywhere
        const TruePlaces p = places();
        for (double heading = 0.0; heading < 360.0; heading += 10.0) {
            const glm::dvec2 at = p.sonde_m + (from_m + 0.3) * direction_of(heading);
            if (walkway().can_hold(at)) {
                return at;
            }
        }
        return p.sonde_m;
    }

    glm::dvec2 place_on_line(double from_m) {
        const TruePlaces p = places();
        for (const BuriedLine& line : shared_.setting->world.yard.lines) {
            for (std::size_t i = 1; line.connection != LineConnection::none && i < line.points_m.size(); ++i) {
                const glm::dvec2 a = plan(line.points_m[i - 1]);
                const glm::dvec2 b = plan(line.points_m[i]);
                for (int k = 0; k <= 100; ++k) {
                    const glm::dvec2 at = a + k / 100.0 * (b - a);
                    if (glm::distance(at, p.sonde_m) > from_m + 0.2 && walkway().can_hold(at)) {
                        return at;
                    }
                }
            }
        }
        return p.sonde_m;
    }

    void box() {
        const TruePlaces p = places();
        const DigTarget target = dig_target(shared_.setting->world);
        DigBox dig;
        dig.centre_m = plan(target.centre_m);
        dig.heading_deg = heading_of(p.ahead);
        dig.depth_m = target.pipe_top_depth_m;
        dig.method = DigMethod::hand;
        command(ProposeDig{dig});
    }

    void call_depth() {
        command(CallDepth{depth_m(shared_.setting->world, sonde_now(*shared_.setting, *shared_.state).position_m)});
    }

    void call_tilt() {
        const SondeTruth sonde = sonde_now(*shared_.setting, *shared_.state);
        const double tilt = std::abs(sonde.tilt_deg);
        const TiltCall call = tilt > on_end_above_deg  ? TiltCall::on_end
                              : tilt < level_below_deg ? TiltCall::level
                                                       : TiltCall::tilted;
        command(CallTilt{call, heading_of(places().ahead), std::nullopt});
    }

    void locate() {
        if (find_last(notebook(), MarkKind::locate) == nullptr) {
            mark_at(places().sonde_m, MarkKind::locate);
        }
    }

    void calls() { // what the test asks for beyond its needs
        decide([this] {
            const bool points = test_->points_at_least.has_value();
            if (test_->locate_within_m || test_->depth_within_percent || points) {
                locate();
            }
            if (test_->depth_within_percent || points) {
                call_depth();
            }
            if (test_->tilt_right || points) {
                call_tilt();
            }
            if (test_->dig_on_pipe || test_->dig_safe || points) {
                box();
            }
        });
    }

    void do_check(const Check& c) {
        const std::map<std::string_view, std::function<void()>> deeds = {
            {"signal_rose", [&] { approach(); }},
            {"heard",
             [&] {
                 set_right_frequency();
                 approach();
             }},
            {"signal_fell",
             [&] {
                 walk_to(places().sonde_m, held_out_m);
                 const std::size_t before = shared_.done;
                 walk_to(far_place(3.0 * places().depth_m), held_out_m,
                         [this, before] { return shared_.done > before; });
             }},
            {"nothing_heard", [&] { command(SetFrequency{wrong_frequency()}); }},
            {"hum_rose", [&] { to_hum(); }},
            {"field_plumb",
             [&] {
                 walk_to(place_of("plumb"), 0.0);
                 hold_plumb();
             }},
            {"field_level",
             [&] {
                 walk_to(place_of("level"), 0.0);
                 hold_plumb();
             }},
            {"tip_down", [&] { walk_to(seen().tip_m, 0.0); }},
            {"tip_raised", [&, c] { walk_to(seen().tip_m, value(c, "from_m")); }},
            {"mast_straight",
             [&] {
                 walk_to(seen().tip_m, 0.0);
                 hold_plumb();
             }},
            {"turned",
             [&, c] {
                 for (double turned = 0.0; turned < value(c, "by_deg") + 1.0; turned += 90.0) {
                     turn_by(90.0);
                 }
             }},
            {"coil_turned",
             [&, c] {
                 command(
                     TurnCoil{word(c, "attitude") == "level" ? sim::CoilAttitude::level : sim::CoilAttitude::upright});
             }},
            {"frequency_set", [&, c] { command(SetFrequency{value(c, "hz")}); }},
            {"frequencies_tried",
             [&] {
                 for (const double hz : receiver_frequencies_hz) {
                     command(SetFrequency{hz});
                     wait(1.0);
                 }
                 set_right_frequency();
             }},
            {"stood_at",
             [&, c] {
                 walk_to(place_of(word(c, "place")), 0.0);
                 wait(1.0);
             }},
            {"swept_across",
             [&, c] {
                 const double aside = value(c, "width_m") / 2.0 + 0.2;
                 for (int i = 0; i <= static_cast<int>(value(c, "times")); ++i) {
                     walk_to(beside(0.0, i % 2 == 0 ? aside : -aside), 0.3);
                 }
             }},
            {"went_away", [&, c] { walk_to(far_place(value(c, "from_m")), held_out_m); }},
            {"stood_on_line",
             [&, c] {
                 walk_to(place_on_line(value(c, "from_sonde_m")), held_out_m);
                 wait(1.0);
             }},
            {"at_other_sonde",
             [&] {
                 walk_to(plan(shared_.setting->world.other_sondes.front().sonde.position_m), held_out_m);
                 wait(1.0);
             }},
            {"walked_off",
             [&] {
                 const Mark* peak = find_last(notebook(), MarkKind::peak);
                 const glm::dvec2 from = peak != nullptr ? peak->place_m : places().peak_m;
                 const double radius = walked_off(*shared_.state).radius_m;
                 for (const glm::dvec2& at : places_to_walk_off(from, radius, heading_of(places().ahead))) {
                     walk_to(at, 0.0);
                     settle();
                 }
             }},
            {"marked", [&, c] { do_marks(c); }},
            {"depth_read",
             [&, c] {
                 for (int i = 0; i < static_cast<int>(value(c, "count")); ++i) {
                     read_at(places().peak_m);
                 }
             }},
            {"depth_misread", [&] { read_at(beside(0.0, 0.6 * places().depth_m)); }},
            {"facing_pair",
             [&, c] {
                 for (int i = 0; i < static_cast<int>(value(c, "count")); ++i) {
                     facing_pair_at(places().peak_m);
                     turn_by(90.0);
                 }
             }},
            {"lift_checked",
             [&] {
                 read_at(places().peak_m);
                 hold_height(lift_m);
                 hold_plumb();
                 wait(2.0);
                 command(ReadDepth{});
                 hold_height(0.0);
             }},
            {"depth_called",
             [&] {
                 locate();
                 call_depth();
             }},
            {"tilt_called", [&] { call_tilt(); }},
            {"box_safe", [&] { box(); }},
            {"box_on_pipe", [&] { box(); }},
            {"dug_by", [&] { box(); }},
            {"ticket_read", [&] { command(ReadTicket{}); }},
            {"truck_checked",
             [&] {
                 walk_to(shared_.setting->world.start_m, held_out_m);
                 set_right_frequency();
                 command(TruckCheck{});
             }},
            {"truck_tried",
             [&] {
                 walk_to(shared_.setting->world.start_m, held_out_m);
                 command(TruckCheck{});
             }},
            {"cable_moved", [&, c] { move_cable(value(c, "by_m")); }},
        };
        deeds.at(c.kind->name)();
    }

    void set_right_frequency() { command(SetFrequency{shared_.setting->world.sonde.frequency_hz}); }
    double wrong_frequency() const { return shared_.setting->world.sonde.frequency_hz == 512.0 ? 640.0 : 512.0; }

    void to_hum() { // the loudest place: over the line or wires that carry mains current
        const Yard& yard = shared_.setting->world.yard;
        for (const BuriedLine& line : yard.lines) {
            for (const glm::dvec3& p : line.points_m) {
                if (line.mains_current_a > 0.0 && walkway().can_hold(plan(p))) {
                    walk_to(plan(p), held_out_m);
                    wait(1.0);
                    return;
                }
            }
            for (std::size_t i = 1; line.mains_current_a > 0.0 && i < line.points_m.size(); ++i) {
                for (int k = 0; k <= 100; ++k) {
                    const glm::dvec2 at =
                        plan(line.points_m[i - 1] + k / 100.0 * (line.points_m[i] - line.points_m[i - 1]));
                    if (walkway().can_hold(at)) {
                        walk_to(at, held_out_m);
                        wait(1.0);
                        return;
                    }
                }
            }
        }
        for (const OverheadLine& wires : yard.overhead) {
            walk_to(plan(0.5 * (wires.points_m.front() + wires.points_m.back())), held_out_m);
            wait(1.0);
        }
    }

    void move_cable(double to_m) {
        const double left_m = to_m - shared_.state->cable.now.out_m;
        if (std::abs(left_m) < 0.02) {
            return;
        }
        command(AskCable{std::clamp(left_m, -most_ask_m, most_ask_m)});
        then([this](Action& /*action*/) { return shared_.state->cable.to_go_m != 0.0 ? Is::busy : Is::done; });
        decide([this, to_m] { move_cable(to_m); });
    }

    void do_marks(const Check& c) {
        const std::string_view what = word(c, "what");
        const TruePlaces p = places();
        if (what == "plumb") {
            for (const glm::dvec2& at : p.plumb_m) {
                if (walkway().can_hold(at)) {
                    mark_at(at, MarkKind::plumb);
                }
            }
        } else if (what == "level") {
            mark_at(p.level_m, MarkKind::level);
        } else if (what == "peak") {
            mark_at(p.peak_m, MarkKind::peak);
        } else {
            mark_at(p.sonde_m, MarkKind::locate);
        }
    }

    Shared& shared_;
    std::vector<Check> checks_;
    const LessonTest* test_;
};

} // namespace

Taken take_guided(const LessonFile& file) {
    const Setting setting(resolve(file.yard, file.seed));
    const ExerciseState begun = start(setting);
    Shared shared{.setting = &setting, .state = &begun};
    std::vector<Check> checks;
    for (const CourseStep& step : file.lesson.steps) {
        checks.push_back(step.done_when);
    }
    Doer doer(setting, shared, checks, nullptr);
    LessonWork work;
    Taken taken;
    const ExerciseState end =
        operate(setting, doer, longest_ticks,
                [&](const Action& /*action*/, const Observation& seen, const ExerciseState& state) {
                    shared.state = &state;
                    follow(file.lesson, setting, state, seen, work);
                    shared.done = work.step;
                });
    taken.steps_done = work.step;
    std::int64_t before = 0;
    for (const std::int64_t tick : work.done_ticks) {
        taken.seconds.push_back(static_cast<double>(tick - before) * tick_s);
        before = tick;
    }
    if (!steps_done(file.lesson, work)) {
        taken.stuck_at = file.lesson.steps[work.step].text;
    }
    taken.finished = end.finished_tick.has_value();
    return taken;
}

namespace {

Taken judged(const LessonFile& file, const Setting& setting, const ExerciseState& state, const TestWork& work) {
    Taken taken;
    taken.finished = state.finished_tick.has_value();
    taken.judgement = judge(file.lesson.test, state, score(setting, state), work);
    taken.passed = passed(taken.judgement);
    taken.seconds = {static_cast<double>(state.tick) * tick_s};
    return taken;
}

} // namespace

Taken take_test(const LessonFile& file, std::uint64_t seed, std::string_view model_operator) {
    const Setting setting(resolve(file.test_yard, seed));
    const LessonTest& test = file.lesson.test;
    TestWork work;
    if (!model_operator.empty()) {
        const auto model = make_model_operator(model_operator, setting.brief);
        const ExerciseState state = operate(setting, *model, longest_ticks,
                                            [&](const Action& /*action*/, const Observation& seen,
                                                const ExerciseState& now) { follow(test, setting, now, seen, work); });
        return judged(file, setting, state, work);
    }
    const ExerciseState begun = start(setting);
    Shared shared{.setting = &setting, .state = &begun};
    std::vector<Check> checks;
    for (const TestNeed& need : test.needs) {
        checks.push_back(need.done_when);
    }
    Doer doer(setting, shared, checks, &test);
    const ExerciseState state = operate(
        setting, doer, longest_ticks, [&](const Action& /*action*/, const Observation& seen, const ExerciseState& now) {
            shared.state = &now;
            follow(test, setting, now, seen, work);
            shared.done = 0;
            while (shared.done < work.needs.size() && work.needs[shared.done].done) {
                ++shared.done;
            }
        });
    return judged(file, setting, state, work);
}

Taken take_test_idly(const LessonFile& file, std::uint64_t seed) {
    const Setting setting(resolve(file.test_yard, seed));
    ExerciseState state = start(setting);
    TestWork work;
    Action action;
    action.move.hand_m = state.body.tip_m;
    for (int i = 0; i < 60; ++i) {
        follow(file.lesson.test, setting, state, step(setting, state, action), work);
    }
    action.command = Finish{};
    follow(file.lesson.test, setting, state, step(setting, state, action), work);
    return judged(file, setting, state, work);
}

} // namespace sondeyard::scenarios::test
