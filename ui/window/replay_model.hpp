// What the replay view shows of one moment, without drawing: where it stands, what was seen then, graph and colours that
// are worked out once. A frame asks for one moment; going there and taking what is kept is all it costs.
#pragma once

#include "field/replay.hpp"
#include "ui/window/panels.hpp"
#include "ui/window/plan.hpp"

#include <array>
#include <memory>
#include <span>
#include <vector>

namespace sondeyard::ui {

inline constexpr std::array<double, 5> replay_speeds = {0.5, 1.0, 2.0, 4.0, 8.0}; // times as fast as it was
inline constexpr std::int64_t ticks_per_s = 60;
inline constexpr double replay_far_s = 30.0; // of the keys for a larger step

enum class TrailColour { plain, signal, speed };
std::string_view name_of(TrailColour colour);

struct ColourScale { // of a trail: low to high along cividis
    double low = 0.0;
    double high = 1.0;
    double share(double value) const; // 0 to 1, clamped
};

// Graph data for one width: least and largest of each pixel column.
struct ReplayGraph {
    int columns = 0;
    std::vector<field::Span> signal_dbpt;
    std::vector<field::Span> dip_deg; // NaN where it was weak, or without a dial
    std::vector<field::Span> height_m;
    double signal_low = 0.0; // whole tens that hold all of it
    double signal_high = 10.0;
    double height_high_m = 1.0; // at least
};

class ReplayModel {
public:
    ReplayModel(const field::Setting& setting, const field::WorkLog& record); // both must outlive it

    // Plays ahead for about so long (wall clock; what comes out of it does not depend on that), until all is ready for
    // jumping about. False: it is.
    bool prepare(double for_s);
    bool ready() const { return ready_; }
    double share_ready() const; // 0 to 1

    void go_to(std::int64_t tick); // clamped to what is prepared
    std::int64_t tick() const { return player_.state().tick; }
    std::int64_t last_tick() const { return player_.last_tick(); }
    const field::ExerciseState& state() const { return player_.state(); }
    const field::Observation& seen() const { return player_.seen(); }
    const field::Timeline& timeline() const { return player_.timeline(); }
    std::span<const field::TrailPoint> whole_trail() const { return player_.trail(); }
    const SignalHistory& history() const { return history_; } // the display's last twenty seconds, then

    const ReplayGraph& graph(int columns);                            // empty until ready
    std::span<const ImU32> trail_colours(TrailColour colour);         // of the trail up to this moment; empty for plain
    const ColourScale& signal_scale() const { return signal_scale_; } // dBpT
    static constexpr ColourScale speed_scale{0.0, field::walk_speed_m_s}; // m/s

private:
    void take_stock(); // once all has been played

    field::Player player_;
    bool ready_ = false;
    SignalHistory history_;
    std::vector<double> signal_; // by tick
    std::vector<float> dip_, height_;
    std::vector<ImU32> by_signal_, by_speed_; // of the whole trail
    ColourScale signal_scale_;
    ReplayGraph graph_;
};

// What the view keeps between frames.
struct ReplayUi {
    std::unique_ptr<ReplayModel> model; // made when the view is first shown
    double at_s = 0.0;                  // since the start; finer than ticks, for slow play
    bool playing = false;
    std::size_t speed = 1; // of replay_speeds
    bool truth = false;    // the plan shows where the sonde lay
    bool follow = true;    // the plan keeps the receiver in sight
    TrailColour colour = TrailColour::signal;
    PlanView view;
    bool view_placed = false;
    bool dragging = false;                    // the graph has the mouse
    double key_held_s = 0.0;                  // a step key is down for so long
    std::int64_t listed_tick = -1;            // where the list of events was last brought into view
    ImVec2 graph_low{0, 0}, graph_high{0, 0}; // where the graph was last drawn, its time from left to right; pixels
    ImVec2 list_low{0, 0};                    // top left of the list; what a test points at
};

// Moves time on by a frame: plays, prepares, goes where `ui` stands. `running`: false while the window cannot be seen.
void advance_replay(ReplayUi& ui, double frame_s, bool running);
void step_replay(ReplayUi& ui, double by_s);               // and stops at either end
void jump_replay(ReplayUi& ui, const field::Event* event); // nullptr: nowhere; playing goes on
std::int64_t replay_tick(const ReplayUi& ui);

} // namespace sondeyard::ui
