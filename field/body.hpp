// The operator as a body: legs, an arm that reaches about a metre, a receiver in the hand, and small natural habits.
#pragma once

#include "field/world.hpp"

namespace sondeyard::field {

inline constexpr double tick_s = 1.0 / 60.0;
inline constexpr double walk_speed_m_s = 1.5;
inline constexpr double hand_speed_m_s = 1.5;
inline constexpr double reach_m = 1.0;
inline constexpr double turn_speed_deg_s = 120.0;
inline constexpr double height_speed_m_s = 1.0;
inline constexpr double lean_speed_deg_s = 6.0;
inline constexpr double slow_factor = 0.1;
inline constexpr double highest_tip_m = 1.2;

struct Body {
    glm::dvec2 feet_m{0.0};
    double facing_deg = 0.0; // clockwise from north
    glm::dvec2 tip_m{0.0};
    double tip_height_m = 0.8;
    double lean_fix_forward_deg = 0.0; // what he has corrected so far, on top of the habit
    double lean_fix_right_deg = 0.0;
    double turn_left_deg = 0.0; // of a turn asked for as a whole (half round), still to go; sign clockwise
    bool walking = false;
    bool blocked = false; // something was in the way in this tick
};

// What the hand and feet are asked to do in one tick. Rates are -1..1 of full speed.
struct Move {
    glm::dvec2 hand_m{0.0};     // where the tip should go
    double hand_height_m = 0.8; // tip above ground, 0 .. highest_tip_m
    double turn = 0.0;          // clockwise positive; he walks round the tip, which stays where it is
    double lean_forward = 0.0;
    double lean_right = 0.0;
    bool slow = false;
};

Body body_at_start(const World& world);

// One tick. Feet never enter what one cannot stand on; the tip never passes a wall. When the hand's place is within
// reach the feet stay; farther off he walks there at walking speed and faces the way he walks.
void advance(Body& body, const World& world, const Move& move);

// The receiver as it is really held at a tick: habitual lean plus correction plus unsteadiness (a smooth function of
// seed and tick, none for a tip that rests on the ground).
sim::Pose pose_of(const Body& body, const World& world, std::uint64_t tick);

} // namespace sondeyard::field
