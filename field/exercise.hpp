// One exercise, in ticks of 1/60 s:  Action -> step -> Observation.
//
// Window, command line, replay, model operators and tests all drive the same `step`, and it is the only thing that
// changes an ExerciseState. The result depends on the World and the Actions alone: no clock, no frame rate, no order
// of calls.
#pragma once

#include "field/body.hpp"
#include "field/cable.hpp"
#include "field/scene.hpp"
#include "field/sounding.hpp"

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace sondeyard::field {

// ---- What a trainee can do ----

enum class MarkKind { plumb, level, peak, locate };
std::string_view name_of(MarkKind kind);

enum class TiltCall { none, level, tilted, on_end };
std::string_view name_of(TiltCall call);

enum class DigMethod { none, machine, hand, vacuum };
std::string_view name_of(DigMethod method);

struct DigBox {
    glm::dvec2 centre_m{0.0};
    double heading_deg = 0.0; // of its length
    double length_m = 1.2;
    double width_m = 0.8;
    double depth_m = 0.0; // 0: not said yet
    DigMethod method = DigMethod::none;
};

struct SetFrequency {
    double frequency_hz;
};
struct TurnCoil {
    sim::CoilAttitude attitude;
};
struct SetBandwidth {
    sim::Bandwidth bandwidth;
}; // of a receiver that has both
struct TruckCheck {}; // sonde on the ground 2.0 m from the tip; only within truck_reach_m of the start
struct ReadTicket {}; // the one-call ticket has been looked at
struct PlaceMark {
    MarkKind kind;
}; // at the tip; a locate moves if there is one
struct MoveMark {
    int id;
}; // that mark to the tip
struct TakeBack {
    MarkKind kind;
}; // the last one of its kind
struct ReadDepth {};
struct DeleteReading {
    int id;
};
struct CallDepth {
    double depth_m;
};
struct CallTilt {
    TiltCall call;
    double raised_heading_deg;
    std::optional<double> tilt_deg;
};
struct ProposeDig {
    DigBox box;
};
struct TakeBackDig {};
struct TurnBy {
    double angle_deg;
}; // clockwise; +-180 is half round for a facing reading
struct AskCable {
    double by_m;
}; // the cable hand: pull back (below 0) or push on by so much on the counter, least_ask_m to most_ask_m
struct Undo {}; // the last change in the notebook
struct Finish {};

using Command = std::variant<SetFrequency, TurnCoil, TruckCheck, ReadTicket, PlaceMark, MoveMark, TakeBack, ReadDepth,
                             DeleteReading, CallDepth, CallTilt, ProposeDig, TakeBackDig, TurnBy, AskCable, Undo,
                             Finish, SetBandwidth>;

struct Action {
    Move move;
    std::optional<Command> command;
};

// Brings an action to the grid on which it is logged (1 mm, 1 %, 0.1 deg ...), so that the log holds exactly what was
// done. Out-of-range numbers become the nearest allowed one, non-finite ones 0. step does this itself.
Action on_log_grid(const Action& action);

// ---- What he has noted down ----

struct Mark {
    int id = 0;
    MarkKind kind = MarkKind::plumb;
    glm::dvec2 place_m{0.0};
    std::int64_t tick = 0;
    double signal_dbpt = 0.0;
    double frequency_hz = 512.0;
    sim::CoilAttitude coil = sim::CoilAttitude::level;
    std::optional<double> dip_deg;           // |dip| when marked; empty when weak or without a dial
    std::optional<double> field_heading_deg; // of the field's level part; a level line lies square to it
    std::optional<double> counter_m;         // where the cable stood; empty: no counter
};

struct Reading {
    int id = 0;
    std::int64_t tick = 0;
    glm::dvec2 place_m{0.0};
    double facing_deg = 0.0;
    double tip_height_m = 0.0;
    double lean_deg = 0.0;
    double signal_dbpt = 0.0;
    std::optional<double> depth_m;   // from the tip; empty: too weak to read
    int facing_reading_of = 0;       // id of the reading this one faces (same spot, turned half round), else 0
    std::optional<double> agreement; // |a - b| / mean of the pair, when it is the second of one
    double off_first_m = 0.0;        // distance from the last unpaired reading, for "go back to the first spot"
    bool counts = false;             // tip down, mast plumb, depth given
    std::optional<double> counter_m; // where the cable stood; empty: no counter
};
inline constexpr double pair_distance_m = 0.10;
inline constexpr double pair_turn_deg = 20.0;
inline constexpr double tip_down_m = 0.03;
inline constexpr double plumb_lean_deg = 5.0;
inline constexpr double lift_m = 0.5;
// Readings and marks belong together only while the cable stands where it stood.
bool same_counter(std::optional<double> a_m, std::optional<double> b_m);

struct Notebook {
    std::vector<Mark> marks;
    std::vector<Reading> readings;
    std::optional<double> depth_call_m;
    TiltCall tilt_call = TiltCall::none;
    double raised_heading_deg = 0.0;
    std::optional<double> tilt_angle_call_deg;
    std::optional<DigBox> dig;
};
const Mark* find_last(const Notebook& notebook, MarkKind kind); // nullptr when none
const Reading* find_reading(const Notebook& notebook, int id);

// A lift check among the readings: one that counts and one, mast plumb, raised by lift_m +-0.1 within pair_distance_m
// of it.
struct LiftCheck {
    int low_id = 0;
    int high_id = 0;
    double raised_m = 0.0;
    double grew_m = 0.0;
    bool holds = false; // grew by what it was raised, within the larger of 0.10 m and 20 %
};
std::optional<LiftCheck> find_lift_check(const Notebook& notebook);

// ---- What he may know ----

struct TruckCheckResult {
    std::int64_t tick = 0;
    double frequency_hz = 0.0; // the receiver's
    double signal_dbpt = 0.0;
    std::optional<double> depth_m; // should read 2.0; empty when nothing is heard or single-coil
    bool heard = false;            // right frequency: reads 2.0 +-0.2 m (single-coil: signal within 3 dB of the sheet)
};
inline constexpr double truck_distance_m = 2.0;
inline constexpr double truck_reach_m = 3.0;

inline constexpr double no_hum_dbpt = -60.0; // and anything weaker

// Quantised as displayed or as logged (1e-6 m, 1e-3 dB, 1e-3 deg) before anyone sees it.
struct Observation {
    std::int64_t tick = 0;
    glm::dvec2 feet_m{0.0};
    double facing_deg = 0.0;
    glm::dvec2 tip_m{0.0};
    double tip_height_m = 0.0;
    double lean_forward_deg = 0.0;
    double lean_right_deg = 0.0;
    double lean_deg = 0.0;
    double signal_dbpt = 0.0;      // at the receiver's display resolution
    bool has_axis = false;         // tri-axis and strong enough
    double dip_deg = 0.0;          // valid with has_axis
    double needle_deg = 0.0;       // relative to facing, -90..90, valid with has_axis
    double hum_dbpt = no_hum_dbpt; // mains hum at the lower antennas before any filter, all harmonics
    double frequency_hz = 512.0;
    sim::CoilAttitude coil = sim::CoilAttitude::level;
    sim::Bandwidth bandwidth = sim::Bandwidth::narrow;
    bool overload = false; // the front end is over full scale: signal_dbpt is that, and no depth is read
    bool blocked = false;
    bool walking = false;
    bool turning = false; // a turn asked for as a whole is under way
    bool finished = false;
    std::optional<double> counter_m; // cable out by the counter, to 0.01 m; empty: there is none
    bool cable_moving = false;
    bool refused = false; // this tick's command could not be done; `note` says why
    std::string_view
        note; // static text, lengths in braces (in_units): why refused or what else is to be said of it, or empty
};

// ---- State ----

struct TrailPoint { // ten a second
    std::int64_t tick = 0;
    glm::dvec2 tip_m{0.0};
    double tip_height_m = 0.0;
    double signal_dbpt = 0.0;
    double frequency_hz = 512.0;
    sim::CoilAttitude coil = sim::CoilAttitude::level;
};
inline constexpr std::int64_t trail_every_ticks = 6;

// The whole state, by name: what can be saved, compared, and gone back to.
struct ExerciseState {
    std::int64_t tick = 0;
    Body body;
    Cable cable;
    std::shared_ptr<const sim::Scene> scene; // what sends, with the sonde where it lies now
    sim::Detector detector;
    double frequency_hz = 512.0;
    sim::CoilAttitude coil = sim::CoilAttitude::level;
    sim::Bandwidth bandwidth = sim::Bandwidth::narrow;
    Notebook notebook;
    std::vector<Notebook> undo; // earlier notebooks, oldest first, at most undo_depth
    int next_id = 1;
    std::vector<TrailPoint> trail;
    Sounder sounder;
    std::vector<Sounding> soundings; // what the antennas took in, independent of each other, for "what could be known"
    std::vector<Reading> all_readings; // deleted ones too: a score looks at what was really done
    std::vector<TruckCheckResult> truck_checks;
    std::optional<std::int64_t> ticket_read_tick;
    std::optional<std::int64_t> first_mark_tick;
    std::optional<std::int64_t> finished_tick;
    std::uint64_t digest = 0; // running digest of every observation so far, quantised
};
inline constexpr std::size_t undo_depth = 64;

// World plus the instrument made from its seed: what step needs and never changes.
struct Setting {
    explicit Setting(World w);
    World world;
    sim::Instrument instrument;
    sim::Instrument wide_instrument; // the same, set to its wide band if it has one
    GroundModel ground;
    CableLimits cable;
    Brief brief;
};

// The sonde where it lies now, and where it lay after a tick of the past.
SondeTruth sonde_now(const Setting& setting, const ExerciseState& state);
SondeTruth sonde_at(const Setting& setting, const ExerciseState& state, std::int64_t tick);

// At the truck, receiver held out, detector settled on the receiver's first frequency.
ExerciseState start(const Setting& setting);

Observation step(const Setting& setting, ExerciseState& state, const Action& action);

// What the last step (or start) showed, without advancing.
Observation observe(const Setting& setting, const ExerciseState& state);

// Frequencies a receiver can be set to, Hz, rising.
inline constexpr std::array<double, 4> receiver_frequencies_hz = {512.0, 640.0, 8192.0, 32768.0};
std::string frequency_text(double frequency_hz); // "512 Hz", "8.192 kHz"

} // namespace sondeyard::field
