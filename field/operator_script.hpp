// What the model operators have in common: a list of small jobs, worked off in order, and the skills every locator has:
// walking to a place, holding the mast plumb, waiting for the display, probing a spot, getting near, paperwork, the dig
// box.
//
// A job is asked once a tick. It sets what the hand does and says whether it is done. Jobs that decide something plan
// further jobs; those come before what was planned earlier, so a job can be a whole phase and a phase reads top to
// bottom.
#pragma once

#include "field/model_operator.hpp"
#include "field/walkway.hpp"

#include <deque>
#include <functional>

namespace sondeyard::field {

// What the receiver showed at a spot, averaged over a short while.
struct Sample {
    glm::dvec2 place_m{0.0};
    double signal_dbpt = 0.0;
    std::optional<glm::dvec3> axis; // unit vector along the field, yard frame, either end of it; empty when weak
};

class Script : public ModelOperator {
public:
    Action act(const Observation& seen, const Notebook& notebook, const std::vector<TruckCheckResult>& truck) final;

protected:
    // The brief is copied: a script may outlive the setting it came from.
    explicit Script(const Brief& brief);

    // The exercise from the truck on; called once.
    virtual void work() = 0;
    // Time is up: plan what makes the best of what is known. Called at most once, with the list of jobs empty.
    virtual void wrap_up() = 0;

    // ---- Jobs ----
    enum class Is { done, busy };
    using Job = std::function<Is(Action&)>;
    using Use = std::function<void(const Sample&)>;
    using UseAll = std::function<void(const std::vector<Sample>&)>;
    void then(Job job);
    void decide(std::function<void()> thought); // takes no time
    void command(const Command& c);             // and the tick after it, to see what came of it

    // ---- Skills ----
    // Tip to a place at a height, feet by a way that can be walked. Afterwards there_ says whether the tip got there;
    // with a `stop` he stands still as soon as it is true.
    void walk_to(const glm::dvec2& tip_m, double tip_height_m, std::function<bool()> stop = nullptr);
    void hold_height(double tip_height_m); // where the tip is now
    void wait(double seconds);
    void settle();     // until the display has settled
    void hold_plumb(); // takes the lean out of the mast
    void turn_by(double clockwise_deg);
    void average(double seconds, Use use);
    void probe(const glm::dvec2& place_m, Use use); // tip on the ground there, settled; there_ as above
    void probe_each(const std::vector<glm::dvec2>& places, UseAll use); // those that can be reached, in order
    std::vector<glm::dvec2> places_to_walk_off(const glm::dvec2& peak_m, double depth_m, double along_deg) const;
    void mark_at(const glm::dvec2& place_m, MarkKind kind);
    void read_depth(int count); // here and now, half a second apart
    // Facing pair and lift check at the peak; `use` gets the depth that the readings make, if any counts. about_m is
    // what the depth is thought to be: the deeper, the more readings.
    void prove_depth(const glm::dvec2& peak_m, double about_m, std::function<void(double depth_m)> use);

    void paperwork(); // ticket, frequency, truck check; tries the other frequencies when the sheet's is not heard
    void come_near(); // receiver held out: search, sweep arcs, walk to the strongest; best_m_ is where
    // Tip on the ground: the strongest place near best_m_, by steps that shrink from first_m to last_m; into best_m_.
    void climb_on_ground(double first_m, double last_m);
    struct Lie {                        // how the sonde lies
        double along_deg = 0.0;         // heading of the track
        double downhill_evidence = 0.0; // that it falls ahead (positive) or behind, in sizes of what chance can do
        double tilt_deg = 0.0;
    };
    void white_line_and_finish(const glm::dvec2& locate_m, double depth_m, const std::optional<Lie>& lie);

    const Brief& brief() const { return brief_; }
    const Observation& seen() const { return *seen_; }
    const Notebook& notebook() const { return *notebook_; }
    double floor_dbpt() const; // what the receiver shows with nothing to hear, on its frequency
    Walkway& walkway() { return walkway_; }
    bool has_dial() const { return sim::shows_dial(brief_.receiver_kind); } // else level coils hear one direction each

    static constexpr double heard_above_floor_db = 6.0;
    static constexpr double held_out_m = 0.8; // height of the tip while getting near

    glm::dvec2 best_m_{0.0};    // the strongest place so far
    double best_dbpt_ = -200.0; // as it was there
    bool there_ = false;

    // Signal at a place in whatever way this receiver can give it: total field, of one coil from three attitudes, or of
    // level coils from two: the level part of the field, which has no other top than the one over the sonde.
    void strength_at(const glm::dvec2& place_m, double tip_height_m, Use use);

    struct Climb {
        double step_m = 0.0;
        double last_m = 0.0;
        double tip_height_m = 0.0;
        int side = 0;  // 0 north, 1 east, 2 south, 3 west
        int tried = 0; // sides in vain
        int tries_left = 40;
    };
    void start_climb(const Climb& climb);

    std::int64_t latest_tick_ = 12 * 60 * 60; // then he makes do with what he has

private:
    double listen_s() const;
    double loud_over_sonde_dbpt() const;
    double listen_from_dbpt() const;
    void come_nearer(int rounds_left);
    void search_yard();
    void sweep_arc(std::function<void(double mean_dbpt, const glm::dvec2& uphill)> use);
    void climb_by_arcs(double step_m, const glm::dvec2& uphill, int arcs_left);
    void climb_by_places(Climb climb);
    void try_frequencies(std::size_t next);
    void read_lifted(int most);
    void second_pair_if_needed();

    Brief brief_;
    Walkway walkway_;
    std::deque<Job> jobs_;
    std::vector<Job> planned_; // by the job that is running
    const Observation* seen_ = nullptr;
    const Notebook* notebook_ = nullptr;
    const std::vector<TruckCheckResult>* truck_ = nullptr;
    glm::dvec2 hand_m_{0.0};
    double hand_height_m_ = held_out_m;
    double louder_than_dbpt_ = -200.0; // what the search is to find, when a climb has led nowhere
    bool started_ = false;
    bool wrapping_up_ = false;
};

// The operators by name, one file each.
std::unique_ptr<ModelOperator> make_follows_peak(const Brief& brief);
std::unique_ptr<ModelOperator> make_level_line(const Brief& brief);  // tri-axis
std::unique_ptr<ModelOperator> make_pull_back(const Brief& brief);   // tri-axis
std::unique_ptr<ModelOperator> make_three_point(const Brief& brief); // tri-axis
std::unique_ptr<ModelOperator> make_best_fit(const Brief& brief);    // tri-axis
std::unique_ptr<ModelOperator> make_level_line_single_coil(const Brief& brief);
std::unique_ptr<ModelOperator> make_level_line_twin_coil(const Brief& brief);

} // namespace sondeyard::field
