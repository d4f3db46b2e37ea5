// What each thing that a trainee can do changes: in the notebook, the receiver, the cable; or why it is refused.
#include "field/exercise_parts.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

namespace sondeyard::field {

namespace {

constexpr double shortest_pull_m = 0.005; // half of what the counter shows
constexpr Outcome done{};
constexpr Outcome refused(std::string_view why) { return {true, why}; }

void remember(ExerciseState& state) {
    if (state.undo.size() == undo_depth) {
        state.undo.erase(state.undo.begin());
    }
    state.undo.push_back(state.notebook);
}

// One command at work: what it may look at and what it may change.
struct Work {
    const Setting& setting;
    ExerciseState& state;
    const Observation& seen;

    void set_mark(Mark& mark) const {
        mark.place_m = seen.tip_m;
        mark.tick = state.tick;
        mark.signal_dbpt = seen.signal_dbpt;
        mark.frequency_hz = seen.frequency_hz;
        mark.coil = seen.coil;
        mark.counter_m = seen.counter_m;
        mark.dip_deg = seen.has_axis ? std::optional(std::abs(seen.dip_deg)) : std::nullopt;
        mark.field_heading_deg =
            seen.has_axis ? std::optional(sim::wrap_360(seen.facing_deg + seen.needle_deg)) : std::nullopt;
    }

    Outcome operator()(const SetFrequency& c) const {
        if (std::ranges::find(receiver_frequencies_hz, c.frequency_hz) == receiver_frequencies_hz.end()) {
            return refused("This receiver has no such frequency: 512 Hz, 640 Hz, 8.192 kHz, 32.768 kHz.");
        }
        state.frequency_hz = c.frequency_hz;
        return done;
    }

    Outcome operator()(const TurnCoil& c) const {
        if (!sim::turns_coil(setting.world.receiver.kind)) {
            return refused(sim::shows_dial(setting.world.receiver.kind)
                               ? "This receiver has three crossed antennas; none of them turns."
                               : "This receiver's coils are fixed level: turn yourself instead.");
        }
        state.coil = c.attitude;
        return done;
    }

    Outcome operator()(const SetBandwidth& c) const {
        if (!setting.world.receiver.has_wide) {
            return refused("This receiver has one bandwidth only.");
        }
        state.bandwidth = c.bandwidth;
        return done;
    }

    Outcome operator()(const TruckCheck& /*c*/) const {
        if (glm::distance(state.body.feet_m, setting.world.start_m) > truck_reach_m) {
            return refused("The check is made at the truck, where you started: go back there.");
        }
        const World& world = setting.world;
        const sim::AntennaSignals signals =
            sim::truck_check_signals_t(instrument_in_use(setting, state), truck_distance_m, world.sonde.moment_am2,
                                       world.sonde.frequency_hz, state.frequency_hz);
        sim::Detector fresh;
        sim::detect(fresh, instrument_in_use(setting, state), signals, state.frequency_hz, tick_s, world.seed,
                    static_cast<std::uint64_t>(state.tick));
        const sim::Measurement m =
            sim::measure(instrument_in_use(setting, state), fresh, state.frequency_hz, 0.0, sim::CoilAttitude::level);
        TruckCheckResult result;
        result.tick = state.tick;
        result.frequency_hz = state.frequency_hz;
        result.signal_dbpt = to_step(sim::dbpt(m.signal_t), world.receiver.signal_resolution_db);
        if (m.depth_m) {
            result.depth_m = to_step(*m.depth_m, world.receiver.depth_resolution_m);
        }
        result.heard = sim::reads_depth(world.receiver.kind)
                           ? result.depth_m && std::abs(*result.depth_m - truck_distance_m) <= 0.2
                           : std::abs(result.signal_dbpt - world.sheet.truck_signal_dbpt) <= 3.0;
        state.truck_checks.push_back(result);
        return done;
    }

    Outcome operator()(const ReadTicket& /*c*/) const {
        if (!state.ticket_read_tick) {
            state.ticket_read_tick = state.tick;
        }
        return done;
    }

    Outcome operator()(const PlaceMark& c) const {
        remember(state);
        auto& marks = state.notebook.marks;
        if (c.kind == MarkKind::locate) {
            std::erase_if(marks, [](const Mark& m) { return m.kind == MarkKind::locate; });
        }
        Mark mark;
        mark.id = state.next_id++;
        mark.kind = c.kind;
        set_mark(mark);
        marks.push_back(mark);
        if (!state.first_mark_tick) {
            state.first_mark_tick = state.tick;
        }
        return done;
    }

    Outcome operator()(const MoveMark& c) const {
        const auto found = std::ranges::find(state.notebook.marks, c.id, &Mark::id);
        if (found == state.notebook.marks.end()) {
            return refused("There is no mark of that number.");
        }
        const auto index = found - state.notebook.marks.begin();
        remember(state);
        set_mark(state.notebook.marks[static_cast<std::size_t>(index)]);
        return done;
    }

    Outcome operator()(const TakeBack& c) const {
        const Mark* last = find_last(state.notebook, c.kind);
        if (last == nullptr) {
            return refused("There is no mark of that kind to take back.");
        }
        const int id = last->id;
        remember(state);
        std::erase_if(state.notebook.marks, [&](const Mark& m) { return m.id == id; });
        return done;
    }

    Outcome operator()(const ReadDepth& /*c*/) const {
        if (!sim::reads_depth(setting.world.receiver.kind)) {
            return refused("One coil reads no depth: measure between the two plumb points and divide by 1.414.");
        }
        if (seen.overload) {
            return refused("Overload: so near the sonde no depth can be read. Raise the receiver or step back.");
        }
        remember(state);
        Reading reading = take_reading();
        pair_up(reading);
        state.notebook.readings.push_back(reading);
        state.all_readings.push_back(reading);
        return done;
    }

    Outcome operator()(const DeleteReading& c) const {
        if (find_reading(state.notebook, c.id) == nullptr) {
            return refused("There is no reading of that number.");
        }
        remember(state);
        std::erase_if(state.notebook.readings, [&](const Reading& r) { return r.id == c.id; });
        for (Reading& other : state.notebook.readings) {
            if (other.facing_reading_of == c.id) { // its partner is gone: it stands alone again
                other.facing_reading_of = 0;
                other.agreement.reset();
            }
        }
        return done;
    }

    Outcome operator()(const CallDepth& c) const {
        if (c.depth_m <= 0.0) {
            return refused("A depth is more than 0.");
        }
        remember(state);
        state.notebook.depth_call_m = c.depth_m;
        return done;
    }

    Outcome operator()(const CallTilt& c) const {
        remember(state);
        state.notebook.tilt_call = c.call;
        state.notebook.raised_heading_deg = c.raised_heading_deg;
        state.notebook.tilt_angle_call_deg = c.tilt_deg;
        return done;
    }

    Outcome operator()(const ProposeDig& c) const {
        remember(state);
        state.notebook.dig = c.box;
        return done;
    }

    Outcome operator()(const TakeBackDig& /*c*/) const {
        if (!state.notebook.dig) {
            return refused("There is no dig box to take back.");
        }
        remember(state);
        state.notebook.dig.reset();
        return done;
    }

    Outcome operator()(const TurnBy& c) const {
        state.body.turn_left_deg = c.angle_deg;
        return done;
    }

    Outcome operator()(const AskCable& c) const {
        if (!setting.cable.has_run) {
            return refused("There is no cable in a pipe here to pull or push.");
        }
        if (state.cable.to_go_m != 0.0) {
            return refused("The cable is still moving: wait until the counter stands.");
        }
        if (std::abs(c.by_m) < least_ask_m || std::abs(c.by_m) > most_ask_m) {
            return refused("Ask the cable hand for {0.1 to 3 m|4 in to 10 ft} at a time.");
        }
        const double by_m = reachable_m(setting.cable, state.cable.now, c.by_m);
        if (std::abs(by_m) < shortest_pull_m) {
            return refused(c.by_m < 0.0 ? "The sonde is back at the cleanout: it comes no farther."
                                        : "The sonde is at the pipe's end: it goes no farther.");
        }
        state.cable.to_go_m = by_m;
        if (std::abs(by_m) + shortest_pull_m < std::abs(c.by_m)) {
            return {false, c.by_m < 0.0 ? "He pulls as far as it comes: back to the cleanout."
                                        : "He pushes as far as it goes: to the pipe's end."};
        }
        return done;
    }

    Outcome operator()(const Undo& /*c*/) const {
        if (state.undo.empty()) {
            return refused("There is nothing to undo.");
        }
        state.notebook = std::move(state.undo.back());
        state.undo.pop_back();
        return done;
    }

    Outcome operator()(const Finish& /*c*/) const {
        state.finished_tick = state.tick;
        return done;
    }

    Reading take_reading() const {
        const sim::Measurement m = measured(setting, state, seen.lean_deg);
        Reading reading;
        reading.id = state.next_id++;
        reading.tick = state.tick;
        reading.place_m = seen.tip_m;
        reading.facing_deg = seen.facing_deg;
        reading.tip_height_m = seen.tip_height_m;
        reading.lean_deg = seen.lean_deg;
        reading.signal_dbpt = seen.signal_dbpt;
        reading.counter_m = seen.counter_m;
        if (m.depth_m && *m.depth_m > 0.0 && *m.depth_m < 20.0) {
            reading.depth_m = to_step(*m.depth_m, setting.world.receiver.depth_resolution_m);
        }
        reading.counts = reading.depth_m && reading.tip_height_m < tip_down_m && reading.lean_deg < plumb_lean_deg;
        return reading;
    }

    // A reading becomes the facing reading of the latest one at the same spot that he has not yet faced.
    void pair_up(Reading& reading) const {
        const auto& earlier = state.notebook.readings;
        const auto already_faced = [&](const Reading& r) {
            return r.facing_reading_of != 0 ||
                   std::ranges::any_of(earlier, [&](const Reading& o) { return o.facing_reading_of == r.id; });
        };
        bool first = true;
        for (auto r = earlier.rbegin(); r != earlier.rend(); ++r) {
            if (!r->depth_m || already_faced(*r) || std::abs(r->tip_height_m - reading.tip_height_m) > 0.05 ||
                !same_counter(r->counter_m, reading.counter_m)) {
                continue;
            }
            const double off_m = glm::distance(r->place_m, reading.place_m);
            if (std::exchange(first, false)) {
                reading.off_first_m = off_m;
            }
            const double turned_deg = std::abs(sim::wrap_180(reading.facing_deg - r->facing_deg));
            if (reading.depth_m && off_m <= pair_distance_m && turned_deg >= 180.0 - pair_turn_deg) {
                reading.facing_reading_of = r->id;
                reading.agreement = std::abs(*reading.depth_m - *r->depth_m) / (0.5 * (*reading.depth_m + *r->depth_m));
                return;
            }
        }
    }
};

} // namespace

Outcome carry_out(const Setting& setting, ExerciseState& state, const Observation& seen, const Command& command) {
    return std::visit(Work{setting, state, seen}, command);
}

} // namespace sondeyard::field
