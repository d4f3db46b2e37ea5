// Draws a plausible yard round what a scenario fixes: house, drive, street, planting, lines and their paint, and a
// drain run that brings the sonde to the wanted depth and tilt.
#pragma once

#include "field/world.hpp"

#include <optional>
#include <stdexcept>
#include <string>

namespace sondeyard::scenarios {

enum class RunShape {
    none,         // a sonde position was given and no run: no pipe near it
    fall,         // an ordinary drain at fall_percent
    steep_branch, // the sonde lies in a branch falling at branch_tilt_deg
    drop,         // the sonde stands on end in a vertical drop
};

// A metal line laid near the sonde, so that it shows in the field.
struct Neighbour {
    field::LineKind kind = field::LineKind::water;
    field::LineConnection connection = field::LineConnection::bonded;
    bool across = false;   // across the run, or along it
    double offset_m = 0.6; // of its nearest point from the sonde in plan: to a side, or up or down the run
    double depth_m = 0.6;  // of its centre
    double width_m = 0.025;
    double resistance_ohm = 10.0;
    bool marked = true;
    double clamp_current_a = 0.0; // of a transmitter clamped to it
    double clamp_frequency_hz = 512.0;
};

struct OtherCrew { // with a sonde of their own
    double frequency_hz = 512.0;
    double moment_am2 = 0.1;
    double distance_m = 8.0;       // from the sonde in plan
    std::optional<double> depth_m; // default: the sonde's
    double tilt_deg = 0.0;
};

struct Supply { // mains current that comes back through the ground
    double current_a = 0.0;
    bool overhead = false; // wires along the street; else the yard's electric cable
};

// What is fixed already (single values; distributions are resolved before). Empty: the generator draws it.
struct Wanted {
    std::uint64_t seed = 0;
    std::optional<double> width_m;  // 20..60
    std::optional<double> length_m; // 20..60
    bool empty_lawn = false;        // lawn round the sonde: no drive, slab, planting, tree within 6 m of it
    RunShape shape = RunShape::fall;
    std::optional<double> fall_percent;    // 0..10, default drawn 1..3
    std::optional<double> branch_tilt_deg; // 10..60, default drawn 20..40
    std::optional<double> depth_m;         // of the sonde
    std::optional<glm::dvec2> position_m;  // of the sonde
    std::optional<double> heading_deg;     // of the sonde's end that points down
    std::optional<double> tilt_deg;
    double frequency_hz = 512.0;
    double moment_am2 = 0.1;
    std::optional<field::Run> run; // given by its points, with RunShape::none: what is buried keeps clear of it
    field::PipeMaterial material = field::PipeMaterial::pvc;
    double inside_diameter_m = 0.10;
    double wall_m = 0.003;
    double sonde_above_invert_m = 0.025;
    double sonde_to_lens_m = 0.0;
    double lens_to_fault_m = 0.0;
    field::CounterZero counter_zero = field::CounterZero::cleanout_rim;
    bool second_drain = false;                      // another sewer in the yard, without a sonde in it
    int line_count = -1;                            // buried lines besides; -1 draws 2 to 5
    std::optional<field::TicketState> ticket_state; // default: all positive responses
    std::optional<Neighbour> neighbour;
    std::optional<OtherCrew> other_crew;
    std::optional<Supply> supply;
};

// Why the wanted neighbour cannot be laid however the yard is drawn: on either side of the sonde, whose place and
// heading are given too, it would cut through the run that is given. Empty: it can.
std::string neighbour_fault(const Wanted& wanted);

struct CannotBuild : std::runtime_error {
    using std::runtime_error::runtime_error;
};

// Fills World::yard, run, sonde, sheet (cleanout, counter, ticket, pipe facts), habits, start. Title, caller, camera,
// news, receiver and rubric are left to the caller. The result has no field::faults. Throws CannotBuild with the
// reason when no try out of a fixed number fits.
field::World generate(const Wanted& wanted);

} // namespace sondeyard::scenarios
