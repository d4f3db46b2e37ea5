#include "ui/window/controls.hpp"

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

float length(const ImVec2& v) { return std::sqrt(v.x * v.x + v.y * v.y); }

double signed_hold(std::string_view plus, std::string_view minus, const Input& input, const CommandContext& context) {
    return (held(plus, input, context) ? 1.0 : 0.0) - (held(minus, input, context) ? 1.0 : 0.0);
}

// Below this many pixels a pointer at rest on a table that is knocked does not take the hand back from the keys.
constexpr float pointer_takes_over_px = 3.0F;
constexpr double keys_lead_m = 0.5;
constexpr double fine_below_m = 0.1; // tip lower than this: fine work
constexpr float calm_px = 2.0F;      // a pointer that moves less than this in a frame
constexpr int calm_for_frames = 6;   // for so many frames rests

// Takes note of where the pointer rests.
void rest(Hand& hand, float moved_px) {
    hand.calm_frames = moved_px > calm_px ? 0 : std::min(hand.calm_frames + 1, calm_for_frames);
    if (hand.calm_frames == calm_for_frames) {
        hand.rest_m = hand.place_m;
        hand.has_rested = true;
    }
}

} // namespace

bool Input::is_held(int key) const { return std::ranges::find(held, key) != held.end(); }

bool held(std::string_view id, const Input& input, const CommandContext& context) {
    const CommandInfo* info = find_command(id);
    return info != nullptr && info->held && key_down(id, input, context);
}

bool key_down(std::string_view id, const Input& input, const CommandContext& context) {
    const CommandInfo* info = find_command(id);
    if (info == nullptr || !info->enabled(context)) {
        return false;
    }
    return std::ranges::any_of(info->chords, [&](const Chord& chord) {
        return chord.key != 0 && chord.ctrl == input.ctrl && input.is_held(chord.key);
    });
}

void follow_pointer(Hand& hand, const Input& input, const PlanView& view, bool over_plan) {
    const ImVec2 last = hand.last_pointer;
    const bool was_over = last.x >= 0.0F;
    hand.slow = input.shift;
    const bool fine = hand.height_m < fine_below_m;
    const bool panning = input.right_down || input.dragged.x != 0.0F || input.dragged.y != 0.0F;
    if (!over_plan && was_over && fine && !hand.keys_have_it && !hand.held_still && hand.has_rested) {
        hand.place_m = hand.rest_m;
    }
    if (!over_plan || panning) {
        hand.last_pointer = over_plan ? input.pointer : ImVec2(-1.0F, -1.0F);
        return;
    }
    if (!input.pointer_moved) {
        if (!was_over) {
            hand.last_pointer = input.pointer;
        } else if (fine && !hand.keys_have_it && !hand.held_still) {
            const ImVec2 at = view.to_screen(hand.place_m);
            hand.lag = ImVec2(at.x - input.pointer.x, at.y - input.pointer.y);
        }
        rest(hand, 0.0F);
        return;
    }
    const ImVec2 moved = was_over ? ImVec2(input.pointer.x - last.x, input.pointer.y - last.y) : ImVec2(0.0F, 0.0F);
    if (hand.keys_have_it) {
        if (was_over && length(moved) < pointer_takes_over_px) {
            return; // last_pointer stays, so that slow creeping adds up
        }
        hand.keys_have_it = false;
        hand.lag = ImVec2(0.0F, 0.0F);
    }
    hand.last_pointer = input.pointer;
    if (hand.held_still) {
        return;
    }
    if (input.shift && was_over) {
        hand.lag.x -= 0.9F * moved.x;
        hand.lag.y -= 0.9F * moved.y;
    } else if (const float lag = length(hand.lag); lag > 0.0F) {
        const float left = std::max(0.0F, lag - 0.5F * length(moved)) / lag;
        hand.lag = ImVec2(hand.lag.x * left, hand.lag.y * left);
    }
    hand.place_m = view.to_yard(ImVec2(input.pointer.x + hand.lag.x, input.pointer.y + hand.lag.y));
    rest(hand, length(moved));
}

void follow_keys(Hand& hand, const Input& input, const CommandContext& context, const glm::dvec2& tip_m) {
    glm::dvec2 way(signed_hold("hand_east", "hand_west", input, context),
                   signed_hold("hand_north", "hand_south", input, context));
    const double size = std::hypot(way.x, way.y);
    if (size == 0.0) {
        if (hand.keys_moving) {
            hand.keys_moving = false;
            hand.place_m = tip_m;
        }
        return;
    }
    if (!hand.keys_moving && !hand.keys_have_it) {
        hand.place_m = tip_m; // the keys start from where the receiver is, not from where the pointer wanted it
    }
    hand.keys_have_it = true;
    hand.keys_moving = true;
    hand.lag = ImVec2(0.0F, 0.0F);
    const double speed = field::walk_speed_m_s * (input.shift ? field::slow_factor : 1.0);
    hand.place_m.x += way.x / size * speed * field::tick_s;
    hand.place_m.y += way.y / size * speed * field::tick_s;
    const glm::dvec2 ahead = hand.place_m - tip_m;
    const double lead = std::hypot(ahead.x, ahead.y);
    if (lead > keys_lead_m) {
        hand.place_m = tip_m + ahead * (keys_lead_m / lead);
    }
}

field::Move move_of(const Hand& hand, const Input& input, const CommandContext& context,
                    const field::Observation& seen) {
    field::Move move;
    move.hand_m = hand.place_m;
    move.hand_height_m = hand.height_m;
    move.turn = signed_hold("turn_right", "turn_left", input, context);
    move.lean_forward = signed_hold("lean_away", "lean_back", input, context);
    move.lean_right = signed_hold("lean_right", "lean_left", input, context);
    if (held("plumb_mast", input, context)) {
        // Slower near plumb, so that it settles there: half a degree off is full speed.
        move.lean_forward = std::clamp(-2.0 * seen.lean_forward_deg, -1.0, 1.0);
        move.lean_right = std::clamp(-2.0 * seen.lean_right_deg, -1.0, 1.0);
    }
    move.slow = input.shift;
    return move;
}

void follow_operator(PlanView& view, const glm::dvec2& tip_m) {
    const double half_east_m = 0.3 * static_cast<double>(view.size.x) / view.px_per_m;
    const double half_north_m = 0.3 * static_cast<double>(view.size.y) / view.px_per_m;
    view.centre_m.x = std::clamp(view.centre_m.x, tip_m.x - half_east_m, tip_m.x + half_east_m);
    view.centre_m.y = std::clamp(view.centre_m.y, tip_m.y - half_north_m, tip_m.y + half_north_m);
}

} // namespace sondeyard::ui
