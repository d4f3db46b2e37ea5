// A whole exercise against time: what the display showed after every tick, and what was done when. Filled tick by tick by
// whoever plays it (Player, replay.hpp); nothing of the truth is in it.
#pragma once

#include "field/exercise.hpp"
#include "field/lengths.hpp"

#include <span>
#include <string>
#include <vector>

namespace sondeyard::field {

struct Moment {               // after one tick, as displayed
    double signal_dbpt = 0.0; // at the display's resolution
    float dip_deg = 0.0F; // as an axis has no sign: 0 level to 90 plumb; below 0: weak, or a receiver without a dial
    float tip_height_m = 0.0F; // above the ground
    float hum_dbpt = 0.0F;
};

enum class EventKind { mark, reading, paper, dig, receiver, cable, end }; // which is drawn how, and stands where

struct Event { // a command that was given, and what came of it
    std::int64_t tick = 0;
    Command command;
    bool refused = false;
    std::string note;               // why refused, or what else was said of it then; may be empty
    std::optional<Reading> reading; // of ReadDepth
    std::optional<TruckCheckResult> check;
};
EventKind kind_of(const Event& event);
// "depth 1.52 m, facing, agrees within 2.0 %": without the time, and without what was said of it.
std::string event_text(const Event& event, Units units = Units::metric);

struct Timeline {
    std::vector<Moment> moments; // by tick, from the start (tick 0)
    std::vector<Event> events;   // in order

    std::int64_t last_tick() const { return static_cast<std::int64_t>(moments.size()) - 1; }
    // To be called with the start (no command) and then with every tick in turn.
    void take(const std::optional<Command>& command, const Observation& seen, const ExerciseState& state);
};

// The first event after this tick, and the last before it; nullptr when there is none.
const Event* event_after(const Timeline& timeline, std::int64_t tick);
const Event* event_before(const Timeline& timeline, std::int64_t tick);

// How fast the tip went over the ground at each point of a trail, m/s: the way to the point before it over their time,
// averaged over five points; 0 at the first.
std::vector<float> trail_speeds_m_s(std::span<const TrailPoint> trail);

// Least and largest of each of `columns` equal stretches of time: what a graph that many pixels wide can show, however
// long the exercise. Values that are not finite are left out; a column without any is NaN, NaN. With fewer values than columns
// a column repeats the value that holds there.
struct Span {
    float low = 0.0F;
    float high = 0.0F;
};
std::vector<Span> decimated(std::span<const float> values, int columns);

} // namespace sondeyard::field
