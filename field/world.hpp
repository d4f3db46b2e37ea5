// Everything that is true of one exercise, resolved to single values: the yard, what is buried in it, the instrument,
// the paper facts and the rubric. A World never changes while it is worked in.
//
// What a trainee may know of it is its Brief; nothing that draws, sounds or locates may be given more before the
// debrief.
#pragma once

#include "field/geometry.hpp"
#include "field/pipe.hpp"
#include "field/terrain.hpp"
#include "sim/receiver.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace sondeyard::field {

enum class AreaKind { house, shed, slab, drive, street, planting, pond, tree, fence };
std::string_view name_of(AreaKind kind);
bool walkable(AreaKind kind); // slab, drive and street are; the rest one cannot stand on
bool solid(AreaKind kind);    // house, shed and tree stop the receiver too

struct Area {
    AreaKind kind = AreaKind::slab;
    Polygon outline_m;
    std::string name; // "house", "garage slab": as printed on the plan; may be empty
};

enum class ClueKind { gas_meter, water_meter, electric_meter, pedestal, grill, lit_outbuilding, irrigation_valve };
std::string_view name_of(ClueKind kind);

struct Clue { // something seen in the yard that betrays a buried line
    ClueKind kind = ClueKind::gas_meter;
    glm::dvec2 place_m{0.0};
};

enum class LineKind { electric, gas, communication, water, reclaimed_water, sewer };
std::string_view name_of(LineKind kind);

// What a line is to the fields round it. none: plastic. isolated: metal, but earthed at one end at most, so that the
// sonde drives no current in it; a transmitter clamped to it, with an earth of its own, does. bonded: earthed at both
// ends.
enum class LineConnection { none, isolated, bonded };
std::string_view name_of(LineConnection connection);

struct BuriedLine {
    LineKind kind = LineKind::water;
    std::string owner;
    std::vector<glm::dvec3> points_m; // centre of the line
    double width_m = 0.05;
    bool is_private = false;         // past the meter: its owner is not on the ticket
    std::vector<glm::dvec2> paint_m; // marks on the ground, with the locator's lateral error; empty when unmarked
    LineConnection connection = LineConnection::none;
    double resistance_ohm = 10.0; // bonded: both earthings and the metal, in series; an assumption of ordinary size
    double clamp_current_a = 0.0; // of a line locator's transmitter clamped to it, RMS; 0: none
    double clamp_frequency_hz = 512.0;
    double mains_current_a = 0.0; // supply current that comes back through the ground, RMS; 0: none to speak of
};

struct OverheadLine { // supply wires that anybody can see
    std::vector<glm::dvec3> points_m;
    double mains_current_a = 0.0; // as above
};

struct Yard {
    double width_m = 30.0;  // east
    double length_m = 40.0; // north
    std::vector<Area> areas;
    std::vector<Clue> clues;
    std::vector<BuriedLine> lines; // other than the drain worked on
    Terrain terrain;               // flat unless given
    std::vector<OverheadLine> overhead;
    std::optional<double> resistivity_ohm_m; // of the ground; empty: none to speak of, as in free space
    double mains_hz = 60.0;
};

struct SondeTruth {
    double frequency_hz = 512.0;
    double moment_am2 = 0.1;
    glm::dvec3 position_m{0.0}; // centre; z from the datum of Yard::terrain
    double heading_deg = 0.0;
    double tilt_deg = 0.0;
};

struct OtherSonde { // another crew's, in another pipe
    std::string owner;
    SondeTruth sonde;
};

enum class TicketState { requested, cleared, expired };
std::string_view name_of(TicketState state); // "requested", "all positive responses", "expired"

struct OwnerResponse {
    std::string owner;
    LineKind kind = LineKind::water;
    std::string answer; // "marked", "clear", "no answer yet"
};

struct Ticket {
    std::string number;
    TicketState state = TicketState::cleared;
    std::vector<OwnerResponse> responses;
};

enum class CounterZero { cleanout_rim, pipe_mouth };
std::string_view name_of(CounterZero zero);

struct JobSheet {
    std::string title;
    std::string caller;             // the caller's words
    std::string camera;             // what the camera saw
    std::string news;               // what is new in this exercise, one line
    double frequency_hz = 512.0;    // as printed; the sonde may differ
    double truck_signal_dbpt = 0.0; // what a receiver on the right frequency hears at the truck check
    std::optional<glm::dvec2> cleanout_m;
    CounterZero counter_zero = CounterZero::cleanout_rim;
    std::optional<double> counter_m; // cable out from the zero
    PipeMaterial material = PipeMaterial::pvc;
    std::string ground; // as a caller would know it: "wet clay", "dry gravel"; may be empty
    double inside_diameter_m = 0.10;
    double wall_m = 0.003;
    double sonde_above_invert_m = 0.025;
    double sonde_to_lens_m = 0.0;
    double lens_to_fault_m = 0.0;
    Ticket ticket;
};

struct Band { // horizontal or vertical tolerance: the larger of a length and a share of the true depth
    double least_m = 0.15;
    double share_of_depth = 0.15;
    double width_m(double true_depth_m) const;
};

struct Rubric {
    Band full{0.15, 0.15};
    Band half{0.25, 0.25};
    Band quarter{0.50, 0.40};
    double depth_share = 0.15;
    double tolerance_zone_m = 0.457; // 18 in each side beyond half the line's width; local law may say otherwise
    double pair_share = 0.10;
    double protection_depth_m = 1.5;    // 5 ft: protective systems, 29 CFR 1926.652
    bool solvable_by_level_line = true; // the scenario's own claim, tested over seeds
};

struct OperatorHabits {
    double lean_deg = 4.0;       // how far the mast leans until he corrects it
    double lean_toward_deg = 40; // clockwise from the way he faces
};

// What the debrief says of the yard as a lesson; each may be empty.
struct Lesson {
    std::string different; // what is different here
    std::string tell;      // how one can tell
    std::string act;       // what to do
};

struct World {
    std::uint64_t seed = 0;
    Yard yard;
    std::optional<Run> run;
    SondeTruth sonde; // where it was when the fault was on the screen
    std::vector<OtherSonde> other_sondes;
    Lesson lesson;
    sim::ReceiverSpec receiver;
    JobSheet sheet;
    Rubric rubric;
    OperatorHabits habits;
    glm::dvec2 start_m{0.0}; // where the operator stands at first
    double start_facing_deg = 0.0;
};

// Straight down from the ground's surface over a place, to the place and to the sonde's centre.
double depth_m(const World& world, const glm::dvec3& place_m);
double depth_m(const World& world);
// Where the run lies shallowest: from the surface down to the top of the pipe's wall, looked at every quarter metre.
struct Cover {
    double least_m = 0.0;
    glm::dvec2 place_m{0.0};
};
Cover cover_of(const World& world, const Run& run);
inline constexpr double least_cover_m = 0.30; // of a run in ground that is not flat
// From the cleanout's rim straight down to the first point of the run.
double riser_m(const World& world);

// The dig's target: the fault, sonde plus sonde-to-lens plus lens-to-fault along the run (straight on along the
// sonde's heading when there is no run). Centre of the pipe there, and the depth of the pipe's
// top and springline from the surface over it.
struct DigTarget {
    glm::dvec3 centre_m{0.0};
    double pipe_top_depth_m = 0.0;
    double springline_depth_m = 0.0;
};
DigTarget dig_target(const World& world);

// Depth to the pipe's top from the sonde's depth: depth - (inside diameter - height above invert) - wall.
double pipe_top_depth_m(double sonde_depth_m, const JobSheet& sheet);

struct PaintedLine {
    LineKind kind = LineKind::water;
    std::string owner;
    std::vector<glm::dvec2> paint_m;
};

// What can be seen and read before the truth is shown.
struct Brief {
    double width_m = 0.0;
    double length_m = 0.0;
    std::vector<Area> areas;
    std::vector<Clue> clues;
    std::vector<PaintedLine> paint;
    Terrain terrain; // heights counted from the start: from over the sonde they would give it away
    std::vector<std::vector<glm::dvec3>> overhead_m; // wires overhead
    double mains_hz = 60.0;
    JobSheet sheet;
    sim::ReceiverKind receiver_kind = sim::ReceiverKind::tri_axis;
    bool has_wide = false; // a wide and quick band beside the narrow one
    double antenna_spacing_m = 0.40;
    double tip_to_antenna_m = 0.05;
    double noise_floor_dbpt_at_512 = 0.0; // three antennas with nothing to hear; one coil 4.8 dB less
    double pair_share = 0.10;
    double protection_depth_m = 1.5; // a dig this deep or deeper needs protection
    glm::dvec2 start_m{0.0};
    double start_facing_deg = 0.0;
};
Brief brief_of(const World& world);

// Can a person's feet be here (disc of body_radius_m inside the yard and clear of what one cannot walk on)?
inline constexpr double body_radius_m = 0.20;
bool standable(double width_m, double length_m, const std::vector<Area>& areas, const glm::dvec2& place_m);
// The same, and not on or against a retaining wall, which no foot gets over.
bool standable(const Yard& yard, const glm::dvec2& place_m);
bool standable(const Brief& brief, const glm::dvec2& place_m);

// Can the receiver's tip be here (not inside a house, shed or trunk, inside the yard)?
bool tip_may_be(double width_m, double length_m, const std::vector<Area>& areas, const glm::dvec2& place_m);

// Why a world cannot be used: one sentence a fault, empty when sound. Checks geometry, falls, the sonde in its pipe,
// the start place, finite and sensible numbers.
std::vector<std::string> faults(const World& world);

} // namespace sondeyard::field
