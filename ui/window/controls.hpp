// From keys and pointer to the hand. Plain values in, one field::Move out; no window library below this line.
//
// The pointer is the hand: where it is on the plan, there the tip should go. When keys move the hand the pointer loses
// it until it moves again; `held_still` frees the pointer for a button without the hand going along.
#pragma once

#include "ui/window/commands.hpp"
#include "ui/window/plan.hpp"

#include <vector>

namespace sondeyard::ui {

// What came in since the last frame. Keys are SDL keycodes as the keyboard's layout names them.
struct Input {
    std::vector<Chord> pressed; // in order, repeats left out
    std::vector<int> held;      // keys that are down
    bool shift = false;
    bool ctrl = false;
    ImVec2 pointer{-1.0F, -1.0F}; // pixels; negative when it is outside the window
    ImVec2 dragged{0.0F, 0.0F};   // with the right button, pixels
    bool pointer_moved = false;
    bool left_clicked = false;
    bool right_down = false;
    float wheel = 0.0F; // notches, away from the user positive
    bool quit = false;

    bool is_held(int key) const;
};

// True while a command's key is down (held commands) in this context.
bool held(std::string_view id, const Input& input, const CommandContext& context);

bool key_down(std::string_view id, const Input& input, const CommandContext& context); // the same for any command

struct Hand {
    glm::dvec2 place_m{0.0}; // where the tip should go
    double height_m = 0.8;
    bool held_still = false;   // the pointer does not take it along
    bool keys_have_it = false; // until the pointer moves
    bool keys_moving = false;  // a key moved it in the last tick
    bool slow = false;         // as of the last frame
    ImVec2 lag{0.0F, 0.0F};    // of the hand behind the pointer, pixels: what slow has held back
    ImVec2 last_pointer{-1.0F, -1.0F};
    glm::dvec2 rest_m{0.0}; // where the pointer last rested on the plan
    bool has_rested = false;
    int calm_frames = 0; // for how many frames it has hardly moved
};
inline constexpr double carried_height_m = 0.8; // tip above ground while he walks and sweeps

// The pointer's part, once a frame. Leaves the hand alone unless the pointer moved inside the plan. In slow motion the
// hand moves a tenth of what the pointer does; afterwards it catches up by half of every further movement, so that
// letting go of the key never makes the receiver jump. With the tip on the ground, where centimetres count, it does two
// things more: a pointer that is drawn off the plan, to a button, leaves the hand where it rested before; and a view
// that moves under a resting pointer is made up for in the same way as slow motion.
void follow_pointer(Hand& hand, const Input& input, const PlanView& view, bool over_plan);

// The keys' part, once a tick: at walking speed (a tenth when slow), never more than half a metre ahead of the tip, and
// it stops where the tip is when the keys are let go.
void follow_keys(Hand& hand, const Input& input, const CommandContext& context, const glm::dvec2& tip_m);

// One tick's movement asked of the body. `seen` is for straightening the mast by its lean.
field::Move move_of(const Hand& hand, const Input& input, const CommandContext& context,
                    const field::Observation& seen);

// Keeps the operator in sight: moves the view's centre by as little as brings the tip and the place the hand goes to
// back into the middle three fifths. The hand's place is in the yard, so a view that moves does not move the hand.
void follow_operator(PlanView& view, const glm::dvec2& tip_m);

} // namespace sondeyard::ui
