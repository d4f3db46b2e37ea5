// The level-line operator who asks the cable hand. Is it ours: it follows the counter. Does it stand steep: it is
// pulled back to where it lies nearly level, located and proved there, and once more a metre up for the pipe's heading;
// the dig box goes to the stop, by counter and heading and what was heard over it.
#include "field/level_line_operator.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace sondeyard::field {

namespace {

constexpr double a_pull_m = 1.0;
constexpr double beyond_slack_m = 0.5; // no cable has as much slack: pulled so far past and pushed on, it shows none
constexpr double nearly_level_deg = 8.5;
constexpr double on_end_deg = 75.0;
constexpr int most_pulls = 6;

class PullBack final : public LevelLine {
public:
    explicit PullBack(const Brief& brief) : LevelLine(brief) { latest_tick_ = 25 * 60 * 60; }

private:
    void work() override;
    void wrap_up() override;

    void pull(double by_m);
    void pull_and_push(double by_m);
    void push_on_to_stop();
    void watch(std::function<void(bool follows)> use);
    void find_ours(int tries_left);
    void look_elsewhere(std::function<void()> next);
    void take_stop();
    void pull_back_until_level(int pulls_left);
    void work_at_straight();
    void second_locate();
    void dig_at_stop();

    double rough_tilt_deg() const;
    glm::dvec2 rough_locate_m() const;
    double counter_m() const { return seen().counter_m.value_or(0.0); }

    struct Place { // where the sonde was found, at a counter
        glm::dvec2 place_m{0.0};
        double depth_m = 0.0;
        double tilt_deg = 0.0;
        double counter_m = 0.0;
    };
    struct Foreign {
        glm::dvec2 place_m{0.0};
        double dbpt = 0.0; // on the ground over it
        double depth_m = 1.5;
    };
    double asked_from_m_ = 0.0;
    bool moved_ = false; // the cable did what it was asked for
    std::vector<Foreign> foreign_;
    std::optional<Place> stop_; // steep: to be dug, not to be located
    glm::dvec2 read_m_{0.0};    // where its depth was read
    std::optional<Place> straight_;
    double heading_deg_ = 0.0; // of the pipe at the straight place, onward or back
};

void PullBack::work() {
    paperwork();
    come_near();
    rough_peak();
    decide([this] {
        if (!seen().counter_m) { // no cable hand
            rough_depth();
            find_level_line();
            locate_here();
            call();
            return;
        }
        find_ours(3);
        rough_depth();
        find_level_line();
        decide([this] {
            if (rough_tilt_deg() < nearly_level_deg) {
                locate_here();
                call();
                return;
            }
            take_stop();
            pull_back_until_level(most_pulls);
        });
    });
}

void PullBack::wrap_up() {
    if (stop_ && straight_) {
        dig_at_stop();
    } else {
        LevelLine::wrap_up();
    }
}

// ---- The cable hand ----

void PullBack::pull(double by_m) {
    decide([this] { asked_from_m_ = counter_m(); });
    command(AskCable{by_m});
    then([this](Action& /*action*/) { return seen().cable_moving ? Is::busy : Is::done; });
    settle();
    decide([this, by_m] { moved_ = std::abs(counter_m() - asked_from_m_) > 0.9 * std::abs(by_m); });
}

// So that the counter's way is the sonde's: at the end the cable has been pushed, as it had been at the stop.
void PullBack::pull_and_push(double by_m) {
    pull(by_m - beyond_slack_m);
    decide([this] {
        const bool pulled = moved_;
        const double back_m = std::min(asked_from_m_ - counter_m(), beyond_slack_m); // less where the pipe begins
        if (back_m >= least_ask_m) {
            pull(back_m);
        }
        decide([this, pulled] { moved_ = moved_ && pulled; });
    });
}

void PullBack::push_on_to_stop() {
    decide([this] {
        const double way_m = stop_->counter_m - counter_m();
        if (way_m >= least_ask_m) {
            pull(std::min(way_m, most_ask_m));
            push_on_to_stop();
        }
    });
}

// Stands still while the cable is pulled and pushed on again. Over a level sonde the signal changes little, but the
// field turns; over one on end it is the other way.
void PullBack::watch(std::function<void(bool)> use) {
    constexpr double clearly_db = 1.0;
    constexpr double clearly_deg = 12.0;
    constexpr double listen_s = 1.0;
    const auto before = std::make_shared<Sample>();
    const auto pulled = std::make_shared<Sample>();
    settle();
    average(listen_s, [before](const Sample& s) { *before = s; });
    pull(-a_pull_m);
    decide([=, this, use = std::move(use)] {
        const double back_m = asked_from_m_ - counter_m(); // less than he asked for where the pipe begins
        const bool told = moved_;
        average(listen_s, [pulled](const Sample& s) { *pulled = s; });
        if (back_m >= least_ask_m) {
            pull(back_m);
        }
        decide([=] {
            if (!told) {
                use(true);
                return;
            }
            double turned_deg = 0.0;
            if (before->axis && pulled->axis) {
                turned_deg = sim::degrees(std::acos(std::min(1.0, std::abs(glm::dot(*before->axis, *pulled->axis)))));
            }
            use(std::abs(before->signal_dbpt - pulled->signal_dbpt) > clearly_db || turned_deg > clearly_deg);
        });
    });
}

void PullBack::find_ours(int tries_left) {
    decide([this] { walk_to(best_m_, 0.0); });
    watch([=, this](bool follows) {
        if (follows || tries_left == 0) {
            return;
        }
        rough_depth();
        decide([=, this] {
            foreign_.push_back({best_m_, best_dbpt_, depth_m_});
            look_elsewhere([=, this] { find_ours(tries_left - 1); });
        });
    });
}

// A net of places that the cable can have reached; from the one that is loudest beyond what is already known not to be
// ours he climbs again.
void PullBack::look_elsewhere(std::function<void()> next) {
    constexpr double net_m = 3.0;
    constexpr double beyond_counter_m = 1.0;
    constexpr double not_so_near_m = 2.5;
    const JobSheet& sheet = brief().sheet;
    std::vector<glm::dvec2> net;
    for (int column = 0; (column + 0.5) * net_m < brief().width_m; ++column) {
        for (int row = 0; (row + 0.5) * net_m < brief().length_m; ++row) {
            const glm::dvec2 place{(column + 0.5) * net_m, (row + 0.5) * net_m};
            const bool known = std::ranges::any_of(
                foreign_, [&](const Foreign& f) { return glm::distance(place, f.place_m) < not_so_near_m; });
            const bool reached = !sheet.cleanout_m || glm::distance(place, *sheet.cleanout_m) <
                                                          sheet.counter_m.value_or(100.0) + beyond_counter_m;
            if (!known && reached && walkway().can_hold(place)) {
                net.push_back(place);
            }
        }
    }
    std::vector<glm::dvec2> round;
    for (glm::dvec2 at = seen().tip_m; !net.empty();) {
        const auto nearest =
            std::ranges::min_element(net, {}, [&](const glm::dvec2& p) { return glm::distance(p, at); });
        at = *nearest;
        round.push_back(at);
        net.erase(nearest);
    }
    probe_each(round, [this, next = std::move(next)](const std::vector<Sample>& samples) {
        double most_db = -std::numeric_limits<double>::infinity();
        for (const Sample& s : samples) {
            double theirs = std::pow(10.0, floor_dbpt() / 10.0);
            for (const Foreign& f : foreign_) { // at most twice what is heard over it, falling with the cube
                const double range = std::hypot(glm::distance(s.place_m, f.place_m), f.depth_m) / f.depth_m;
                theirs += std::pow(10.0, (f.dbpt + 6.0 - 60.0 * std::log10(range)) / 10.0);
            }
            const double over_db = s.signal_dbpt - 10.0 * std::log10(theirs);
            if (over_db > most_db) {
                most_db = over_db;
                best_m_ = s.place_m;
            }
        }
        forget();
        start_climb({.step_m = 1.0, .last_m = 0.4, .tip_height_m = held_out_m});
        rough_peak();
        decide(next);
    });
}

// ---- Where it stopped ----

double PullBack::rough_tilt_deg() const {
    if (!level_found_) {
        return steep_ ? 90.0 : 0.0; // without a dial's word nothing speaks for steep
    }
    return tilt_from_peak_over_level_deg(best_dbpt_ - level_dbpt_);
}

glm::dvec2 PullBack::rough_locate_m() const {
    return level_found_ ? origin_m_ + share_from_level_to_peak(best_dbpt_ - level_dbpt_) * (best_m_ - origin_m_)
                        : best_m_;
}

void PullBack::take_stop() {
    decide([this] {
        stop_ = Place{rough_locate_m(), depth_m_, rough_tilt_deg(), counter_m()};
        read_m_ = best_m_;
        prove_depth(best_m_, depth_m_, [this](double depth_m) { stop_->depth_m = depth_m; });
    });
}

void PullBack::pull_back_until_level(int pulls_left) {
    pull(-a_pull_m);
    decide([=, this] {
        if (!moved_ &&
            std::abs(counter_m() - asked_from_m_) < beyond_slack_m) { // the cleanout: back to where it stopped
            push_on_to_stop();
            decide([this] {
                stop_.reset();
                forget();
                rough_peak();
                find_level_line();
                locate_here();
                call();
            });
            return;
        }
        forget();
        rough_peak();
        find_level_line();
        decide([=, this] {
            if (rough_tilt_deg() < nearly_level_deg || pulls_left == 1) {
                work_at_straight();
            } else {
                pull_back_until_level(pulls_left - 1);
            }
        });
    });
}

// ---- Where it lies nearly level ----

void PullBack::work_at_straight() {
    pull_and_push(-0.2); // a little on, so that a sonde just out of the bend is clear of it, and without slack
    decide([this] {
        forget();
        rough_peak();
        find_level_line();
        locate_here();
        say();
        decide([this] {
            straight_ = Place{locate_m_, depth_m_, tilt_deg_, counter_m()};
            heading_deg_ = along_deg_;
            second_locate();
            dig_at_stop();
        });
    });
}

// The needle has the pipe's heading to a degree or two, of one spot; two locates have it of a metre of pipe.
void PullBack::second_locate() {
    constexpr double one_pipe_deg = 12.0; // apart by more: a bend between the two
    pull_and_push(-a_pull_m);
    decide([this] {
        if (!moved_) {
            return;
        }
        forget();
        rough_peak();
        find_level_line();
        decide([this] {
            const glm::dvec2 way = straight_->place_m - rough_locate_m();
            if (!level_found_ || glm::length(way) < 0.5 * a_pull_m) {
                return;
            }
            const double off_deg = sim::wrap_180(2.0 * (heading_of(way) - heading_deg_)) / 2.0;
            if (std::abs(off_deg) < one_pipe_deg) {
                heading_deg_ += 0.4 * off_deg;
            }
        });
    });
}

// Counter and heading give the way to the stop, unless the pipe falls away on it: what was heard over the stop says how
// much of the counter's way is level, and how deep it ends.
void PullBack::dig_at_stop() {
    decide([this] {
        const glm::dvec2 off = stop_->place_m - straight_->place_m;
        glm::dvec2 onward = direction_of(heading_deg_);
        onward *= glm::dot(onward, off) < 0.0 ? -1.0 : 1.0;
        const double counter_way_m = std::max(stop_->counter_m - straight_->counter_m, 0.0);
        const bool upright = stop_->tilt_deg > on_end_deg;
        const double least_m = upright ? 0.0 : counter_way_m * std::cos(sim::radians(stop_->tilt_deg));
        const double level_m = std::clamp(glm::dot(off, onward), least_m, counter_way_m);
        const glm::dvec2 aside = off - glm::dot(off, onward) * onward;
        constexpr double bend_m = 0.5;
        glm::dvec2 place = straight_->place_m + level_m * onward + 0.5 * aside;
        if (glm::length(aside) > bend_m) { // the pipe turns on the way: trust what was heard there
            place = stop_->place_m;
        }
        const double surface_m = height_m(brief().terrain, place); // what the box's depth counts from
        double depth_m = stop_->depth_m + surface_m - height_m(brief().terrain, read_m_);
        const double ground_m = surface_m - height_m(brief().terrain, straight_->place_m);
        if (upright && glm::length(aside) <= bend_m) { // all that is not level went down
            constexpr double agree_m = 0.3;
            const double by_counter_m = straight_->depth_m + counter_way_m - level_m + ground_m;
            depth_m = std::abs(by_counter_m - depth_m) < agree_m ? 0.5 * (depth_m + by_counter_m) : depth_m;
        }
        white_line_and_finish(place, depth_m, Lie{heading_of(onward), 100.0, upright ? 90.0 : stop_->tilt_deg});
    });
}

} // namespace

std::unique_ptr<ModelOperator> make_pull_back(const Brief& brief) { return std::make_unique<PullBack>(brief); }

} // namespace sondeyard::field
