// Whole exercises that go wrong from the start.
#include "field/operator_script.hpp"
#include "sim/random.hpp"
#include "sim/units.hpp"
#include "tests/field/faulty_parts.hpp"

#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <optional>
#include <vector>

namespace sondeyard::test {

using namespace sondeyard::field;

namespace {

class Alone : public Script {
public:
    explicit Alone(const Setting& setting)
        : Script(setting.brief), world_(setting.world), draws_(setting.world.seed, "test.faulty.alone") {
        latest_tick_ = an_hour_ticks;
    }

protected:
    void wrap_up() override { command(Finish{}); }
    void finish_at(const glm::dvec2& place_m, double depth_m) {
        mark_at(place_m, MarkKind::locate);
        command(CallDepth{depth_m});
        command(CallTilt{TiltCall::level, 0.0, std::nullopt});
        white_line_and_finish(place_m, depth_m, std::nullopt);
    }
    glm::dvec2 aside(double most_m) {
        return most_m * glm::dvec2{draws_.uniform(-1.0, 1.0), draws_.uniform(-1.0, 1.0)};
    }

    const World& world_;
    sim::Draws draws_;
};

// Comes upon the false peak, climbs it along the coil, and stops there.
class Ghost final : public Alone {
public:
    Ghost(const Setting& setting, bool upright, bool beside) : Alone(setting), upright_(upright), beside_(beside) {}

private:
    void work() override {
        paperwork();
        const glm::dvec2 ahead = direction_of(world_.sonde.heading_deg);
        const glm::dvec2 over = plan(world_.sonde.position_m);
        const double d = depth_m(world_) + world_.receiver.tip_to_antenna_m;
        const double out = upright_ ? 0.5 : 1.2247;
        for (const double side : {1.0, -1.0}) {
            if (places_.empty()) {
                for (int i = -3; i <= 3; ++i) {
                    const glm::dvec2 place = over + (side * (out + 0.1 * i) * d) * ahead + aside(0.02);
                    if (walkway().can_hold(place)) {
                        places_.push_back(place);
                    }
                }
                if (places_.size() < 7) {
                    places_.clear();
                }
            }
        }
        if (places_.empty()) {
            command(Finish{});
            return;
        }
        // Clear of the false peak: outside an upright coil's, on either side of a level one's.
        for (const double more : {draws_.uniform(0.36, 0.48), -draws_.uniform(0.36, 0.48)}) {
            const double share = upright_ ? std::abs(more) - 0.08 : more;
            const glm::dvec2 way = places_[3] - over;
            const glm::dvec2 place = over + (1.0 + share / out) * way;
            if (!aside_m_ && walkway().can_hold(place)) {
                aside_m_ = place;
            }
        }
        walk_to(places_.front(), 0.0);
        decide([this] { turn_by(sim::wrap_180(world_.sonde.heading_deg - seen().facing_deg)); });
        command(TurnCoil{upright_ ? sim::CoilAttitude::upright : sim::CoilAttitude::level});
        probe_each(places_, [this, d](const std::vector<Sample>& s) {
            const auto best = std::ranges::max_element(s, {}, &Sample::signal_dbpt);
            const glm::dvec2 top = best == s.end() ? places_.front() : best->place_m;
            const glm::dvec2 place = beside_ ? aside_m_.value_or(top) : top;
            mark_at(place, MarkKind::peak);
            finish_at(place, d * draws_.uniform(0.9, 1.1));
        });
    }

    bool upright_;
    bool beside_;
    std::vector<glm::dvec2> places_;
    std::optional<glm::dvec2> aside_m_;
};

class Neighbour final : public Alone {
public:
    Neighbour(const Setting& setting, bool beside) : Alone(setting), beside_(beside) {}

private:
    // Another crew's sonde, else the place on a line with a transmitter on it that is nearest to the pipe's sonde.
    glm::dvec2 loud_place() const {
        if (!world_.other_sondes.empty()) {
            return plan(world_.other_sondes.front().sonde.position_m);
        }
        const glm::dvec2 sonde = plan(world_.sonde.position_m);
        glm::dvec2 best = sonde;
        double best_m = 1e9;
        for (const BuriedLine& line : world_.yard.lines) {
            for (std::size_t i = 1; i < line.points_m.size() && line.clamp_current_a > 0.0; ++i) {
                for (int k = 0; k <= 40; ++k) {
                    const glm::dvec2 place = glm::mix(plan(line.points_m[i - 1]), plan(line.points_m[i]), k / 40.0);
                    const double off = glm::distance(place, sonde);
                    if (off > 3.5 * depth_m(world_) && off < best_m &&
                        standable(world_.yard, place)) { // the sonde is weaker there
                        best_m = off;
                        best = place;
                    }
                }
            }
        }
        return best;
    }

    void work() override {
        paperwork();
        decide([this] {
            if (!world_.other_sondes.empty()) {
                command(SetFrequency{world_.other_sondes.front().sonde.frequency_hz});
            }
            walk_to(loud_place(), 0.0);
        });
        hold_plumb();
        settle();
        decide([this] {
            best_m_ = seen().tip_m;
            if (!world_.other_sondes.empty()) {
                climb_on_ground(0.4, 0.1);
            }
        });
        decide([this] { mark_at(best_m_, MarkKind::peak); });
        decide([this] { prove_depth(best_m_, 1.2, [this](double depth_m) { read_m_ = depth_m; }); });
        decide([this] { finish_at(beside_ ? clear_of_sources() : best_m_, read_m_); });
    }

    // As near to what is heard as a mark can be without standing over it: a transmitter's signal halves over 0.7 of its
    // depth, a line's within half a metre or half its depth.
    glm::dvec2 clear_of_sources() {
        const double more = draws_.uniform(1.15, 1.5);
        const auto clear = [&](const glm::dvec2& place) {
            bool all = walkway().can_hold(place);
            for (const OtherSonde& other : world_.other_sondes) {
                const glm::dvec3& lies_m = other.sonde.position_m;
                all = all && glm::distance(place, plan(lies_m)) > 0.99 * more * 0.7 * depth_m(world_, lies_m);
            }
            for (const BuriedLine& line : world_.yard.lines) {
                const double down_m = height_m(world_.yard.terrain, place) - line.points_m.front().z;
                all = all && distance_to_line_m(place, plan(line.points_m)) > 0.99 * more * std::max(0.5, 0.5 * down_m);
            }
            return all;
        };
        for (int ring = 4; ring < 30; ++ring) {
            for (int i = 0; i < 16; ++i) {
                const glm::dvec2 place = best_m_ + 0.1 * ring * direction_of(22.5 * i);
                if (clear(place)) {
                    return place;
                }
            }
        }
        return best_m_;
    }

    bool beside_;
    double read_m_ = 1.2;
};

class BySheet final : public Alone {
public:
    using Alone::Alone;

private:
    void work() override {
        command(ReadTicket{});
        command(SetFrequency{brief().sheet.frequency_hz});
        walk_to(plan(world_.sonde.position_m) + aside(3.0), 0.0);
        settle();
        decide([this] {
            best_m_ = seen().tip_m;
            climb_on_ground(0.6, 0.3);
        });
        decide([this] { mark_at(best_m_, MarkKind::peak); });
        decide([this] { finish_at(best_m_, 1.5); });
    }
};

class Sweeper final : public Alone {
public:
    using Alone::Alone;

private:
    void work() override {
        paperwork();
        const double d = depth_m(world_);
        const glm::dvec2 middle = plan(world_.sonde.position_m) + aside(0.3 * d);
        loud_dbpt_ = -200.0;
        for (int row = -3; row <= 3; ++row) {
            for (const double end : {-1.0, 1.0}) {
                walk_to(middle + glm::dvec2{(row % 2 == 0 ? end : -end) * 1.3 * d, 0.35 * row * d}, 0.0, [this] {
                    if (seen().tip_height_m < 0.2 && seen().signal_dbpt > loud_dbpt_) {
                        loud_dbpt_ = seen().signal_dbpt;
                        best_m_ = seen().tip_m;
                    }
                    return false;
                });
            }
        }
        decide([this] { walk_to(best_m_, 0.0); });
        wait(draws_.uniform(0.2, 0.5));
        command(PlaceMark{MarkKind::peak});
        hold_plumb();
        settle();
        decide([this] { prove_depth(best_m_, depth_m(world_), [this](double depth_m) { read_m_ = depth_m; }); });
        decide([this] { finish_at(best_m_, read_m_); });
    }

    double loud_dbpt_ = 0.0;
    double read_m_ = 1.2;
};

template <class Who, class... Rest>
Faulty worked(const Setting& setting, const std::string& what, Rest... rest) {
    Faulty one{what, start(setting), {}};
    Who who(setting, rest...);
    work_on(setting, who, one.state, true);
    return one;
}

// Clear of what it came near to, and of the sonde by more than one and a half times its depth: that is then to be said.
void add_far_off(const World& world, Faulty& one) {
    const Mark* locate = find_last(one.state.notebook, MarkKind::locate);
    const double d = depth_m(world) + world.receiver.tip_to_antenna_m;
    if (locate != nullptr && locate->frequency_hz == world.sonde.frequency_hz &&
        glm::distance(locate->place_m, plan(world.sonde.position_m)) > 1.5 * d) {
        one.built_in.insert("unproved_locate");
    }
}

} // namespace

Faulty stops_at_ghost(const Setting& setting, const std::string& what, bool coil_upright, bool beside) {
    Faulty one = worked<Ghost>(setting, what, coil_upright, beside);
    if (off_band(setting.world, one.state)) {
        (beside ? one.innocent : one.built_in).insert("ghost_peak");
    }
    if (beside) {
        add_far_off(setting.world, one);
    }
    return one;
}

Faulty marks_neighbour(const Setting& setting, const std::string& what, bool beside) {
    Faulty one = worked<Neighbour>(setting, what, beside);
    if (off_band(setting.world, one.state)) {
        (beside ? one.innocent : one.built_in).insert("coupling");
    }
    if (beside) {
        add_far_off(setting.world, one);
    }
    if (!setting.world.other_sondes.empty() &&
        setting.world.other_sondes.front().sonde.frequency_hz != setting.world.sonde.frequency_hz) {
        one.built_in.insert("wrong_frequency");
    }
    return one;
}

Faulty never_checks(const Setting& setting, const std::string& what) {
    Faulty one = worked<BySheet>(setting, what);
    one.built_in.insert("wrong_frequency");
    return one;
}

Faulty marks_at_once(const Setting& setting, const std::string& what) {
    Faulty one{what, start(setting), {"unproved_locate"}, {"not_called"}}; // everything is called, however roughly
    const glm::dvec2 here = one.state.body.tip_m;
    const double tilt_deg = std::abs(setting.world.sonde.tilt_deg);
    const double raised_deg =
        sim::wrap_360(setting.world.sonde.heading_deg + (setting.world.sonde.tilt_deg < 0.0 ? 0.0 : 180.0));
    const DigBox box{here, 0.0, 1.2, 0.8, 0.8, DigMethod::vacuum};
    for (const Command& c : std::initializer_list<Command>{ReadTicket{}, TruckCheck{}, PlaceMark{MarkKind::locate},
                                                           CallDepth{depth_m(setting.world)},
                                                           CallTilt{tilt_deg < 5.0    ? TiltCall::level
                                                                    : tilt_deg > 75.0 ? TiltCall::on_end
                                                                                      : TiltCall::tilted,
                                                                    raised_deg, tilt_deg},
                                                           ProposeDig{box}, Finish{}}) {
        Action action;
        action.move.hand_m = here;
        action.move.hand_height_m = one.state.body.tip_height_m;
        action.command = c;
        step(setting, one.state, action);
    }
    return one;
}

Faulty sweeps_fast(const Setting& setting, const std::string& what) {
    Faulty one = worked<Sweeper>(setting, what);
    if (off_band(setting.world, one.state)) {
        one.built_in.insert("too_fast");
    }
    return one;
}

} // namespace sondeyard::test
