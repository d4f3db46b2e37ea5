// The parts that the yard generator is made of. Private to this folder and its tests.
//
// Lot frame: u along the street, v from the street into the lot, metres; the street runs along v = 0. A Placement
// carries it to the yard's frame. Whatever decides a layout is rounded to whole centimetres first, and no decision
// rests on the last digits of a sine: the same seed gives the same yard with every C library.
#pragma once

#include "scenarios/generator.hpp"
#include "sim/random.hpp"

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::scenarios {

// ---- The lot ----

enum class LotKind { suburban, corner, deep, courtyard, detached_garage, narrow, set_back, garden, twin };
inline constexpr std::size_t lot_kind_count = 9;
std::string_view name_of(LotKind kind);

struct SizeRange { // of a lot: across the street front and from street to back
    double least_width_m = 20.0;
    double most_width_m = 60.0;
    double least_depth_m = 20.0;
    double most_depth_m = 60.0;
    double usual_width_m[2] = {24.0, 34.0};
    double usual_depth_m[2] = {30.0, 42.0};
};
SizeRange size_range(LotKind kind);

struct Box {
    double u0 = 0.0;
    double v0 = 0.0;
    double u1 = 0.0;
    double v1 = 0.0;
};
field::Polygon outline(const Box& box);
Box bounds(const field::Polygon& polygon);

struct Lot {
    LotKind kind = LotKind::suburban;
    double width_m = 30.0;
    double depth_m = 36.0;
    double street_m = 4.0;      // width of the strip of street inside the yard
    double side_street_m = 0.0; // the same on the high-u side of a corner lot
    double main_v_m = 1.0;      // where the sewer main lies under the street
    field::Polygon house;       // counter-clockwise, square corners
    std::vector<field::Area> areas;
};

// The whole layout but what is buried. `seed` is that of one try.
Lot lay_out(LotKind kind, double width_m, double depth_m, std::uint64_t seed);

double to_cm(double value_m); // rounded to whole centimetres
bool apart(const field::Polygon& a, const field::Polygon& b, double distance_m);
const field::Area* named(const Lot& lot, std::string_view name); // nullptr when there is none

struct Wall { // one side of a house, with the unit vector that points away from it
    glm::dvec2 from{0.0};
    glm::dvec2 to{0.0};
    glm::dvec2 outward{0.0};
    double length_m = 0.0;
};
std::vector<Wall> walls(const field::Polygon& house);

// From lot to yard: which way the street lies (0 south, 1 east, 2 north, 3 west), and whether left and right are
// swapped.
struct Placement {
    int side = 0;
    bool mirrored = false;
    double lot_width_m = 0.0;
    double lot_depth_m = 0.0;

    double yard_width_m() const { return side % 2 == 0 ? lot_width_m : lot_depth_m; }
    double yard_length_m() const { return side % 2 == 0 ? lot_depth_m : lot_width_m; }
    glm::dvec2 to_yard(const glm::dvec2& p) const;
    glm::dvec2 to_lot(const glm::dvec2& p) const;
    glm::dvec2 turned_to_lot(const glm::dvec2& direction) const;
};

// ---- The drain ----

// A run with the sonde in it, in the yard's frame.
struct Drain {
    field::Run run;
    glm::dvec2 cleanout_m{0.0};
    double along_m = 0.0; // developed length from the cleanout's foot to the sonde
    field::SondeTruth sonde;
};

// What all parts of one try share. `areas` are the lot's in the yard's frame; trees, beds and the like that stand in
// the sonde's way are taken out of both.
struct Site {
    Wanted wanted;
    std::uint64_t seed = 0; // of this try
    Lot lot;
    Placement placement;
    field::Yard yard;
    double depth_m = 1.0;
    field::SondeTruth sonde;
    std::optional<Drain> drain;
    std::optional<std::size_t> neighbour; // among yard.lines
};

// All three say in `why` what stood in the way when they return false.
bool place_drain(Site& site, std::string& why);
bool place_bare_sonde(Site& site, std::string& why);
bool clear_round_sonde(Site& site, std::string& why); // takes out what may go; false when something may not

using Route = std::vector<glm::dvec2>; // corner points in the lot frame, from the house to the main

// As pipe layers would lead it, from a drawn place at a wall. Empty when this draw does not fit.
Route draw_route(const Lot& lot, sim::Draws& draws);

// Corner points of a pipe from the house to the main that passes a place in a direction (lot frame), straight for at
// least `back_m` before it and `on_m` after. Empty when this draw does not fit.
Route route_through(const Lot& lot, const glm::dvec2& place, const glm::dvec2& direction, double back_m, double on_m,
                    sim::Draws& draws);

// One to three bends of at most a quarter, no piece too short to lay, clear of what is in the way.
bool can_be_laid(const Lot& lot, const Route& route);

// Corners laid as long sweeps of short straight pieces; a parabola from tangent to tangent keeps to exact arithmetic.
Route with_sweeps(const Route& corners);

bool in_lot(const Lot& lot, const glm::dvec2& p, double margin_m); // the street counts as in it

// Keeps off buildings, ponds and trunks by what a pipe layer would leave. `from` may stand at a wall.
bool keeps_clear(const Lot& lot, const Route& route);

// ---- Walking ----

// Where one can walk to from a place, on a grid of 0.25 m.
class Ground {
public:
    Ground(const field::Yard& yard, const glm::dvec2& from_m);
    bool walked(const glm::dvec2& place_m) const;      // a place one can get to
    bool tip_gets_to(const glm::dvec2& place_m) const; // from a place one can get to, at arm's length
    bool straight_walk(const glm::dvec2& a, const glm::dvec2& b) const;

private:
    int cell(const glm::dvec2& place_m) const; // -1 outside
    const field::Yard& yard_;
    int nx_ = 0;
    int ny_ = 0;
    std::size_t index(int ix, int iy) const {
        return static_cast<std::size_t>(iy) * static_cast<std::size_t>(nx_) + static_cast<std::size_t>(ix);
    }
    std::vector<std::uint8_t> state_; // 0 closed, 1 open, 2 open and got to
};

// Can the sonde be located: peak, plumb points, level line and four directions of falling signal within reach?
bool workable(const Site& site, const Ground& ground, std::string& why);
bool choose_start(const Site& site, const Ground& ground, field::World& world);

// ---- Other lines ----

struct Owner {
    field::LineKind kind = field::LineKind::water;
    std::string_view name;
};
using Owners = std::array<Owner, 5>; // electric, gas, communication, water, sewer
Owners draw_owners(std::uint64_t seed);
field::Ticket answer_ticket(const Site& site, const Owners& owners);
void paint_lines(Site& site, const field::Ticket& ticket); // of the owners who have marked

// The pipe with the sonde in it, drawn or given; nullptr: there is none.
const field::Run* run_of(const Site& site);

// Whether two lines keep clear of one another, by 0.15 m beside the radii of both together: where they come close in
// plan one passes over the other.
bool clear_of(const std::vector<glm::dvec3>& line, const std::vector<glm::dvec3>& other, double radii_m);
bool clear_of(const std::vector<glm::dvec3>& line, double width_m, const field::Run& run);

// A line near the sonde as wanted, straight from building to building or to the yard's edge; before the other lines,
// which then keep clear of it. False, with the reason in `why`, when there is no room for one.
bool lay_neighbour(Site& site, std::string_view owner, std::string& why);

// Gives the mains current to a cable of the yard, or to wires along the street. False when there is no cable.
bool connect_supply(Site& site, std::string& why);

// Another crew's sonde at the wanted distance, in a drain of its own: well off this one and clear of the other lines.
// False when there is no place for it.
bool place_other_crew(const Site& site, std::vector<field::OtherSonde>& others, std::string& why);

// Fills yard.lines and yard.clues (with paint where its owner has answered) and the ticket.
bool bury_lines(Site& site, field::Ticket& ticket, std::string& why);

} // namespace sondeyard::scenarios
