#include "tests/field/near_limit_operators.hpp"

#include "tests/field/model_operator_runs.hpp"
#include "tests/field/near_limit_pacer.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

namespace sondeyard::test {

using namespace sondeyard::field;

namespace {

struct Range {
    double from;
    double to;
};

class Bench {
public:
    using Use = std::function<void(const Setting&, const Faulty&)>;
    Bench(std::uint64_t seed, const Use& use) : seed_(seed), draws_(seed, "test.near_limits"), use_(use) {}

    void once() {
        depth_readings();
        pairs();
        marks();
        trusted_spots();
        tilt_calls();
        others();
    }

private:
    struct Done {
        bool due = false;
        bool near = true; // when it is not due: that it came near to it
    };
    using Label = std::function<Done(const Pacer&, const ExerciseState&)>;
    static Done harmless(const Pacer& /*pacer*/, const ExerciseState& /*state*/) { return {}; } // but for what run adds

    double in(const Range& range) { return draws_.uniform(range.from, range.to); }

    World lawn(double tilt_deg) {
        World world = drawn_lawn(seed_ + 1000 * ++worlds_, draws_.uniform(0.8, 2.2), tilt_deg, 0.1);
        world.start_m = plan(world.sonde.position_m) + 5.0 * direction_of(draws_.uniform(0.0, 360.0));
        return world;
    }

    void run(std::string_view key, const std::string& what, World world, const Orders& orders, const Label& label) {
        const Setting setting(std::move(world));
        Pacer pacer(setting, orders);
        Faulty one{fmt::format("near limits, {}: {}", seed_, what), start(setting), {}};
        seen_ = Seen{};
        Observation seen = observe(setting, one.state);
        while (!one.state.finished_tick && one.state.tick < longest_run_ticks) {
            seen = step(setting, one.state, pacer.act(seen, one.state.notebook, one.state.truck_checks));
            look(setting, pacer, one.state);
        }
        const auto note = [&](std::string_view finding, bool due) {
            if (due) {
                one.built_in.insert(finding);
            }
        };
        // What orders about one thing can bring with them.
        const double true_m = pacer.d_m() - ground_to_antenna_m;
        note("mast_leaning", orders.lean_deg > 5.0 && !orders.puts_right);
        note("read_beside", orders.read_aside > 0.30 && std::abs(pacer.called_m() - true_m) > 0.15 * true_m);
        const bool ahead_marked = orders.goes_ahead && !orders.passes && orders.plumb_ahead_off > -0.354;
        note("missed_plumb_point", !ahead_marked && seen_.passed_m <= 0.15 * pacer.d_m());
        const Done done = label(pacer, one.state);
        note(key, done.due);
        if (done.near && !one.built_in.contains(key)) {
            one.innocent.insert(key);
        }
        use_(setting, one);
    }

    // At every tick, not where the trail happens to have a point.
    void look(const Setting& setting, const Pacer& pacer, const ExerciseState& state) {
        const glm::dvec2 tip_m = state.body.tip_m;
        if (state.body.tip_height_m < 0.35) { // held out, it is not the ground's field that is seen
            seen_.passed_m = std::min(seen_.passed_m, glm::distance(tip_m, pacer.at(pacer.spots().plumb_ahead)));
        }
        seen_.tip_m.push_back(tip_m);
        if (state.notebook.marks.size() == 1 && !seen_.behind_m) {
            double weights = 0.0;
            double sum = 0.0;
            for (std::size_t age = 0; age < seen_.tip_m.size(); ++age) {
                const double weight =
                    std::exp(-static_cast<double>(age) * tick_s / setting.world.receiver.settling_tau_s);
                weights += weight;
                sum += weight * glm::distance(tip_m, seen_.tip_m[seen_.tip_m.size() - 1 - age]);
            }
            seen_.behind_m = sum / weights;
        }
    }

    // The figure that `set` takes from the orders, once short of the limit and once past it.
    template <class Set>
    void both(std::string_view key, std::string_view what, const Range& short_of, const Range& past, double tilt_deg,
              const Set& set) {
        for (const bool is_past : {false, true}) {
            const double value = in(is_past ? past : short_of);
            Orders orders;
            set(orders, value);
            run(key, fmt::format("{} {:.3f}", what, value), lawn(tilt_deg), orders,
                [is_past](const Pacer&, const ExerciseState&) { return Done{is_past}; });
        }
    }

    double some_tilt() { return draws_.uniform(0.0, 20.0); }

    void depth_readings() {
        both("mast_leaning", "lean", {3.0, 4.9}, {5.1, 7.0}, some_tilt(),
             [](Orders& o, double lean_deg) { o.lean_deg = lean_deg; });
        both("tip_off_ground", "reading, tip up", {0.01, 0.027}, {0.033, 0.06}, some_tilt(),
             [](Orders& o, double up_m) { o.read_tip_up_m = up_m; });
        both("one_reading", "turned", {163.0, 172.0}, {140.0, 157.0}, some_tilt(),
             [](Orders& o, double turn_deg) { o.turn_deg = turn_deg; });
        both("one_reading", "second reading aside", {0.04, 0.09}, {0.11, 0.20}, some_tilt(),
             [](Orders& o, double aside_m) { o.second_aside_m = aside_m; });
        Orders leans;
        leans.lean_deg = in({5.1, 12.0});
        leans.puts_right = true;
        run("mast_leaning", fmt::format("lean {:.1f}, put right", leans.lean_deg), lawn(some_tilt()), leans, harmless);
        Orders lifts;
        lifts.read_tip_up_m = in({0.033, 0.25});
        lifts.puts_right = true;
        run("tip_off_ground", fmt::format("reading, tip up {:.3f}, put right", lifts.read_tip_up_m), lawn(some_tilt()),
            lifts, harmless);
        // Beside the spot, and wrong by more than the rubric allows: that happens from 0.4 d on.
        for (const Range& aside : {Range{0.22, 0.29}, Range{0.31, 0.40}, Range{0.40, 0.55}}) {
            Orders orders;
            orders.read_aside = in(aside);
            run("read_beside", fmt::format("read {:.2f} d aside", orders.read_aside), lawn(some_tilt()), orders,
                harmless);
        }
    }

    // A pair aside with a leaning mast: what it was apart is reckoned from the two figures that were shown.
    void pairs() {
        for (const Range& lean : {Range{1.5, 4.9}, Range{5.1, 9.0}, Range{9.0, 14.0}}) {
            Orders orders;
            orders.read_aside = draws_.uniform(0.1, 0.5);
            orders.lean_deg = in(lean);
            run("pair_ignored", fmt::format("pair {:.2f} d aside, lean {:.1f}", orders.read_aside, orders.lean_deg),
                lawn(0.0), orders,
                [](const Pacer& p, const ExerciseState&) { return Done{p.apart() > 0.10, p.apart() > 0.04}; });
        }
    }

    void marks() {
        both("tip_off_ground", "mark, tip up", {0.08, 0.14}, {0.16, 0.25}, some_tilt(),
             [](Orders& o, double up_m) { o.mark_tip_up_m = up_m; });
        // Over a level sonde peak and plumb point lie 0.707 d apart: nearer to the one, a mark is not the other's.
        both("plumb_for_peak", "peak off its place by", {0.38, 0.49}, {0.52, 0.80}, 0.0,
             [](Orders& o, double off) { o.peak_off = off; });
        both("peak_for_plumb", "plumb mark from the peak", {0.37, 0.50}, {0.20, 0.34}, 0.0,
             [](Orders& o, double from_peak) { o.plumb_ahead_off = from_peak - std::sqrt(0.5); });
        for (const Range& across : {Range{0.16, 0.22}, Range{0.19, 0.26}, Range{0.05, 0.14}}) {
            Orders orders;
            orders.passes = in(across);
            run("missed_plumb_point", fmt::format("passes a plumb point at {:.2f} d", *orders.passes),
                lawn(some_tilt()), orders, harmless);
        }
        hurries();
    }

    // How far behind the display was at the first mark, by what a single-pole filter keeps; over max(0.05 m, 0.05 d) is
    // too much. A hand that arrives at 1.5 m/s leaves it v tau e^(-t / tau) behind after t.
    void hurries() {
        for (const Range& off_s : {Range{-0.25, -0.02}, Range{0.0, 0.15}}) {
            World world = lawn(some_tilt());
            const double tau_s = world.receiver.settling_tau_s;
            const double limit_m = std::max(0.05, 0.05 * (depth_m(world) + world.receiver.tip_to_antenna_m));
            const double due_s = tau_s * std::log(hand_speed_m_s * tau_s / limit_m);
            Orders orders;
            orders.wait_s = std::max(0.0, due_s + in(off_s));
            run("too_fast", fmt::format("waits {:.2f} s of {:.2f}", *orders.wait_s, due_s), std::move(world), orders,
                [this, limit_m](const Pacer&, const ExerciseState&) {
                    const double behind_m = seen_.behind_m.value_or(0.0);
                    return Done{behind_m > limit_m, behind_m > 0.3 * limit_m};
                });
        }
    }

    // On a mark at its true spot, which is off the sonde by less or more than the band; and, where that spot misleads,
    // on no mark at all.
    void trusted_spots() {
        struct Kind {
            std::string_view key;
            Range tilt_deg;
            double Spots::* spot;
        };
        for (const Kind& kind :
             {Kind{"trusted_peak", {0.3, 4.0}, &Spots::peak}, Kind{"trusted_level_line", {9.0, 16.0}, &Spots::level},
              Kind{"trusted_midpoint", {8.0, 15.0}, nullptr}}) {
            for (const bool rests : {true, true, false}) {
                const double tilt_deg = rests ? in(kind.tilt_deg) : draws_.uniform(14.0, 20.0);
                const Spots spots = spots_of(tilt_deg);
                Orders orders;
                orders.marks_level = kind.spot != nullptr;
                orders.goes_ahead = kind.spot != &Spots::level; // its middle lies beside the level line
                orders.locate_along =
                    kind.spot != nullptr ? spots.*kind.spot : 0.5 * (spots.plumb_ahead + spots.plumb_behind);
                orders.locate_along += draws_.uniform(-0.03, 0.03);
                orders.locate_across = rests ? draws_.uniform(-0.02, 0.02) : draws_.uniform(0.10, 0.20);
                run(kind.key,
                    fmt::format("tilt {:.1f}, locate {:.2f} d along, {:.2f} across", tilt_deg, orders.locate_along,
                                orders.locate_across),
                    lawn(tilt_deg), orders, [rests](const Pacer& p, const ExerciseState& state) {
                        const double off_m =
                            glm::distance(find_last(state.notebook, MarkKind::locate)->place_m, p.at(0.0));
                        return Done{rests && off_m > std::max(0.15, 0.15 * (p.d_m() - ground_to_antenna_m))};
                    });
            }
        }
    }

    // A level call is wrong from 10 deg on: 5, and the slack of 5.
    void tilt_calls() {
        for (const Range& tilt : {Range{6.0, 9.6}, Range{10.4, 14.0}, Range{14.0, 25.0}}) {
            Orders orders;
            orders.calls_level = true;
            const double tilt_deg = in(tilt);
            run("tilt_not_called", fmt::format("calls level {:.1f} deg", tilt_deg), lawn(tilt_deg), orders,
                [tilt_deg](const Pacer&, const ExerciseState&) { return Done{tilt_deg > 10.0}; });
        }
    }

    void others() {
        Orders retunes;
        retunes.retunes = true;
        run("wrong_frequency", "another frequency and back, before the first mark", lawn(some_tilt()), retunes,
            harmless);
        Orders digs;
        digs.method = DigMethod::machine;
        for (const bool cleared : {true, false}) {
            World world = lawn(some_tilt());
            world.sheet.ticket.state = cleared ? TicketState::cleared : TicketState::requested;
            run("no_clearance", cleared ? "machine, ticket cleared" : "machine, ticket requested", std::move(world),
                digs, [cleared](const Pacer&, const ExerciseState&) { return Done{!cleared}; });
        }
        // A box 0.8 m wide beside a painted line 0.1 m wide.
        for (const Range& gap : {Range{0.52, 0.65}, Range{0.30, 0.49}}) {
            World world = lawn(some_tilt());
            const double gap_m = in(gap);
            const glm::dvec2 along = direction_of(world.sonde.heading_deg);
            const glm::dvec2 middle =
                plan(world.sonde.position_m) + (0.4 + gap_m) * direction_of(world.sonde.heading_deg + 90.0);
            BuriedLine line;
            line.kind = LineKind::gas;
            line.owner = "Vale Gas";
            line.width_m = 0.10;
            for (const double end_m : {-4.0, 4.0}) {
                line.paint_m.push_back(middle + end_m * along);
                line.points_m.emplace_back(line.paint_m.back(), -0.6);
            }
            world.yard.lines.push_back(line);
            run("tolerance_zone", fmt::format("machine, {:.2f} m from a line", gap_m), std::move(world), digs,
                [gap_m](const Pacer&, const ExerciseState&) { return Done{gap_m < 0.05 + 0.457}; });
        }
    }

    static constexpr double ground_to_antenna_m = 0.05;

    std::uint64_t seed_;
    std::uint64_t worlds_ = 0;
    sim::Draws draws_;
    const Use& use_;
    struct Seen { // of the exercise that runs
        std::vector<glm::dvec2> tip_m;
        double passed_m = 1e9;          // nearest to the plumb point ahead
        std::optional<double> behind_m; // the display, at the first mark
    };
    Seen seen_;
};

} // namespace

void work_near_limits(std::uint64_t seed, const std::function<void(const Setting&, const Faulty&)>& use) {
    Bench bench(seed, use);
    for (int i = 0; i < 2; ++i) {
        bench.once();
    }
}

} // namespace sondeyard::test
