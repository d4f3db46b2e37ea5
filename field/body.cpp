#include "field/body.hpp"

#include "sim/random.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

namespace sondeyard::field {

namespace {

constexpr double walk_starts_at_m = 0.95 * reach_m; // hand farther than this from the feet: walk
constexpr double walk_ends_at_m = 0.60;             // and stop here
constexpr double steps_back_at_m = 0.25;            // hand nearer than this: make room
constexpr double stands_off_m = 0.35;
constexpr double facing_speed_deg_s = 180.0; // how fast he turns into the way he walks

// State is kept on this grid, so that the last digits in which C libraries differ do not pile up from tick to tick.
double on_grid(double value) { return std::nearbyint(value * 1e6) * 1e-6; }
glm::dvec2 on_grid(const glm::dvec2& p) { return {on_grid(p.x), on_grid(p.y)}; }

bool feet_may_be(const World& world, const glm::dvec2& place) { return standable(world.yard, place); }

bool tip_may_be_at(const World& world, const glm::dvec2& place) {
    return tip_may_be(world.yard.width_m, world.yard.length_m, world.yard.areas, place);
}

glm::dvec2 turned(const glm::dvec2& v, double clockwise_deg) {
    const double a = sim::radians(clockwise_deg);
    return {v.x * std::cos(a) + v.y * std::sin(a), v.y * std::cos(a) - v.x * std::sin(a)};
}

// Walks round the tip, by at most an angle and at most as far as he can step in a tick; where something is in the way
// he comes closer to the tip, a step a tick, since a smaller round may have room. Returns the angle he got round; empty
// when there is no way.
std::optional<double> walk_round(Body& body, const World& world, double clockwise_deg, double slowness) {
    const double step_m = walk_speed_m_s * tick_s * slowness;
    const glm::dvec2 arm = body.feet_m - body.tip_m;
    const double radius_m = glm::length(arm);
    const double most_deg = radius_m > 0.0 ? sim::degrees(step_m / radius_m) : 180.0;
    const double part_deg = std::clamp(clockwise_deg, -most_deg, most_deg);
    const glm::dvec2 round = body.tip_m + turned(arm, part_deg);
    if (feet_may_be(world, round)) {
        body.feet_m = round;
        body.facing_deg = sim::wrap_360(body.facing_deg + part_deg);
        return part_deg;
    }
    if (radius_m - step_m < stands_off_m) {
        return std::nullopt;
    }
    const glm::dvec2 closer = body.feet_m - arm * (step_m / radius_m);
    if (!feet_may_be(world, closer)) {
        return std::nullopt;
    }
    body.feet_m = closer;
    return 0.0;
}

void turn(Body& body, const World& world, const Move& move) {
    const double slowness = move.slow ? slow_factor : 1.0;
    const double full_deg = turn_speed_deg_s * tick_s * slowness;
    if (body.turn_left_deg != 0.0) {
        const auto part = walk_round(body, world, std::clamp(body.turn_left_deg, -full_deg, full_deg), slowness);
        body.turn_left_deg = part ? on_grid(body.turn_left_deg - *part) : 0.0;
        body.blocked |= !part.has_value();
    } else if (move.turn != 0.0) {
        body.blocked |= !walk_round(body, world, move.turn * full_deg, slowness).has_value();
    }
}

// Moves the feet, sliding along what is in the way.
bool step_feet(Body& body, const World& world, const glm::dvec2& direction, double distance_m) {
    for (const double aside_deg : {0.0, 30.0, -30.0, 60.0, -60.0, 85.0, -85.0}) {
        const glm::dvec2 place = body.feet_m + turned(direction, aside_deg) * distance_m;
        if (feet_may_be(world, place)) {
            body.feet_m = place;
            return true;
        }
    }
    return false;
}

void walk(Body& body, const World& world, const Move& move) {
    const glm::dvec2 to_hand = move.hand_m - body.feet_m;
    const double distance = glm::length(to_hand);
    const double speed = walk_speed_m_s * tick_s * (move.slow ? slow_factor : 1.0);
    if (distance > walk_starts_at_m) {
        body.walking = true;
    } else if (distance <= walk_ends_at_m + 1e-4) { // the feet stop on the grid, a hair before
        body.walking = false;
    }
    if (body.walking) {
        const double off_deg = sim::wrap_180(heading_of(to_hand) - body.facing_deg);
        const double most_deg = facing_speed_deg_s * tick_s;
        body.facing_deg = sim::wrap_360(body.facing_deg + std::clamp(off_deg, -most_deg, most_deg));
        const double step_m = std::min(speed, distance - walk_ends_at_m);
        body.blocked |= !step_feet(body, world, to_hand / distance, step_m);
    } else if (distance < steps_back_at_m) {
        const glm::dvec2 away = distance > 1e-6 ? -to_hand / distance : -direction_of(body.facing_deg);
        body.blocked |= !step_feet(body, world, away, std::min(speed, stands_off_m - distance));
    }
}

void move_tip(Body& body, const World& world, const Move& move) {
    const glm::dvec2 to_hand = move.hand_m - body.feet_m;
    const double distance = glm::length(to_hand);
    const glm::dvec2 wanted = distance > reach_m ? body.feet_m + to_hand * (reach_m / distance) : move.hand_m;
    const double speed =
        (hand_speed_m_s + (body.walking ? walk_speed_m_s : 0.0)) * tick_s * (move.slow ? slow_factor : 1.0);
    glm::dvec2 step = wanted - body.tip_m;
    const double length = glm::length(step);
    if (length > speed) {
        step *= speed / length;
    }
    const std::array<glm::dvec2, 3> tries = {step, {step.x, 0.0}, {0.0, step.y}};
    const auto free =
        std::ranges::find_if(tries, [&](const glm::dvec2& s) { return tip_may_be_at(world, body.tip_m + s); });
    if (free == tries.end()) {
        body.blocked = true;
    } else {
        body.blocked |= free != tries.begin() && length > 1e-6;
        body.tip_m += *free;
    }
    // Walking may have carried the feet out of arm's length of a tip that hung behind a corner: it comes along.
    const glm::dvec2 arm = body.tip_m - body.feet_m;
    if (glm::length(arm) > reach_m) {
        const glm::dvec2 pulled = body.feet_m + arm * (reach_m / glm::length(arm));
        body.tip_m = tip_may_be_at(world, pulled) ? pulled : body.feet_m;
    }
}

} // namespace

Body body_at_start(const World& world) {
    Body body;
    body.feet_m = on_grid(world.start_m);
    body.facing_deg = on_grid(sim::wrap_360(world.start_facing_deg));
    const glm::dvec2 ahead = on_grid(body.feet_m + walk_ends_at_m * direction_of(body.facing_deg));
    body.tip_m = tip_may_be_at(world, ahead) ? ahead : body.feet_m;
    return body;
}

void advance(Body& body, const World& world, const Move& move) {
    body.blocked = false;
    turn(body, world, move);
    if (body.turn_left_deg == 0.0) {
        walk(body, world, move);
        move_tip(body, world, move);
    }
    const double slowness = move.slow ? slow_factor : 1.0;
    const double rise = height_speed_m_s * tick_s * slowness;
    body.tip_height_m +=
        std::clamp(std::clamp(move.hand_height_m, 0.0, highest_tip_m) - body.tip_height_m, -rise, rise);
    const double lean = lean_speed_deg_s * tick_s * slowness;
    body.lean_fix_forward_deg = std::clamp(body.lean_fix_forward_deg + move.lean_forward * lean, -30.0, 30.0);
    body.lean_fix_right_deg = std::clamp(body.lean_fix_right_deg + move.lean_right * lean, -30.0, 30.0);

    body.feet_m = on_grid(body.feet_m);
    body.tip_m = on_grid(body.tip_m);
    body.facing_deg = sim::wrap_360(on_grid(body.facing_deg));
    body.tip_height_m = on_grid(body.tip_height_m);
    body.lean_fix_forward_deg = on_grid(body.lean_fix_forward_deg);
    body.lean_fix_right_deg = on_grid(body.lean_fix_right_deg);
}

namespace {

// A slow wandering between -1 and 1: two sines a stream, between 0.2 and 0.9 Hz, phases and rates by seed.
double sway(std::uint64_t seed, std::string_view stream, std::uint64_t tick) {
    const std::uint64_t s = sim::stream_of(stream);
    const auto rate = sim::uniform_pair(seed, s, 0);
    const auto phase = sim::uniform_pair(seed, s, 1);
    const double t = static_cast<double>(tick) * tick_s;
    const double turn = 2.0 * std::numbers::pi;
    return 0.6 * std::sin(turn * ((0.2 + 0.2 * rate[0]) * t + phase[0])) +
           0.4 * std::sin(turn * ((0.5 + 0.4 * rate[1]) * t + phase[1]));
}

} // namespace

sim::Pose pose_of(const Body& body, const World& world, std::uint64_t tick) {
    constexpr double resting_below_m = 0.02;
    constexpr double lean_sway_resting_deg = 0.1;
    constexpr double lean_sway_held_deg = 0.4;
    constexpr double tip_sway_held_m = 0.006;
    const bool resting = body.tip_height_m < resting_below_m;
    const double lean_sway_deg = resting ? lean_sway_resting_deg : lean_sway_held_deg;
    const double tip_sway_m = resting ? 0.0 : tip_sway_held_m;
    const double toward = sim::radians(world.habits.lean_toward_deg);

    sim::Pose pose;
    pose.tip_m = {body.tip_m, height_m(world.yard.terrain, body.tip_m) + body.tip_height_m};
    if (tip_sway_m > 0.0) {
        pose.tip_m.x += tip_sway_m * sway(world.seed, "sway.east", tick);
        pose.tip_m.y += tip_sway_m * sway(world.seed, "sway.north", tick);
    }
    pose.facing_deg = body.facing_deg;
    pose.lean_forward_deg = world.habits.lean_deg * std::cos(toward) + body.lean_fix_forward_deg +
                            lean_sway_deg * sway(world.seed, "sway.lean_forward", tick);
    pose.lean_right_deg = world.habits.lean_deg * std::sin(toward) + body.lean_fix_right_deg +
                          lean_sway_deg * sway(world.seed, "sway.lean_right", tick);
    return pose;
}

} // namespace sondeyard::field
