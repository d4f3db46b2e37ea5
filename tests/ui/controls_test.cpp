#include "ui/window/controls.hpp"

#include <SDL_keycode.h>
#include <doctest/doctest.h>

#include <cmath>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

PlanView view_of_10_px_a_metre() {
    PlanView view;
    view.origin = ImVec2(0, 0);
    view.size = ImVec2(400, 400);
    view.centre_m = {20.0, 20.0};
    view.px_per_m = 10.0;
    return view;
}

CommandContext at_work() {
    CommandContext c;
    c.page = Page::exercise;
    return c;
}

Input pointer_at(float x, float y, bool moved = true) {
    Input input;
    input.pointer = ImVec2(x, y);
    input.pointer_moved = moved;
    return input;
}

double off(const glm::dvec2& a, const glm::dvec2& b) { return std::hypot(a.x - b.x, a.y - b.y); }

} // namespace

TEST_CASE("The pointer is the hand: its place in the yard is where the tip should go") {
    const PlanView view = view_of_10_px_a_metre();
    Hand hand;
    follow_pointer(hand, pointer_at(200, 200), view, true);
    CHECK(off(hand.place_m, {20.0, 20.0}) < 1e-4);
    follow_pointer(hand, pointer_at(300, 100), view, true);
    CHECK(off(hand.place_m, {30.0, 30.0}) < 1e-4); // up on the screen is north
}

TEST_CASE("A pointer that leaves the plan leaves the hand where it was") {
    const PlanView view = view_of_10_px_a_metre();
    Hand hand;
    follow_pointer(hand, pointer_at(200, 200), view, true);
    follow_pointer(hand, pointer_at(900, 200), view, false);
    CHECK(off(hand.place_m, {20.0, 20.0}) < 1e-4);
}

TEST_CASE("With the tip down a pointer drawn off to a button leaves the hand where it rested") {
    const PlanView view = view_of_10_px_a_metre();
    Hand hand;
    hand.height_m = 0.0;
    follow_pointer(hand, pointer_at(200, 200), view, true);
    for (int frame = 0; frame < 10; ++frame) {
        follow_pointer(hand, pointer_at(200, 200, false), view, true);
    }
    for (int step = 1; step < 10; ++step) {
        follow_pointer(hand, pointer_at(200.0F, 200.0F + 20.0F * static_cast<float>(step)), view, true);
    }
    CHECK(off(hand.place_m, {20.0, 20.0}) > 5.0); // on the way it is followed
    SUBCASE("off the plan") {
        follow_pointer(hand, pointer_at(200, 450), view, false);
        CHECK(off(hand.place_m, {20.0, 20.0}) < 1e-4);
    }
    SUBCASE("but where it rests anew is the new place") {
        const glm::dvec2 anew = hand.place_m;
        for (int frame = 0; frame < 10; ++frame) {
            follow_pointer(hand, pointer_at(200, 380, false), view, true);
        }
        follow_pointer(hand, pointer_at(200, 450), view, false);
        CHECK(off(hand.place_m, anew) < 1e-4);
    }
    SUBCASE("and held out, walking, it goes on to the last place") {
        hand.height_m = carried_height_m;
        const glm::dvec2 last = hand.place_m;
        follow_pointer(hand, pointer_at(200, 450), view, false);
        CHECK(off(hand.place_m, last) < 1e-4);
    }
}

TEST_CASE("With the tip down a view that moved under the pointer does not make the next small movement a jump") {
    PlanView view = view_of_10_px_a_metre();
    Hand hand;
    hand.height_m = 0.0;
    follow_pointer(hand, pointer_at(300, 200), view, true);
    const glm::dvec2 before = hand.place_m;
    view.centre_m.x += 5.0;
    follow_pointer(hand, pointer_at(300, 200, false), view, true);
    follow_pointer(hand, pointer_at(302, 200), view, true);
    CHECK(off(hand.place_m, before) < 0.35); // 2 px are 0.2 m; half as much again is caught up
}

TEST_CASE("A view that moves under a resting pointer does not move the hand") {
    PlanView view = view_of_10_px_a_metre();
    Hand hand;
    follow_pointer(hand, pointer_at(300, 200), view, true);
    const glm::dvec2 before = hand.place_m;
    view.centre_m.x += 5.0;
    follow_pointer(hand, pointer_at(300, 200, false), view, true);
    CHECK(off(hand.place_m, before) == 0.0);
}

TEST_CASE("Slow moves the hand a tenth of the pointer, and letting go does not make it jump") {
    const PlanView view = view_of_10_px_a_metre();
    Hand hand;
    follow_pointer(hand, pointer_at(200, 200), view, true);
    Input slow = pointer_at(300, 200);
    slow.shift = true;
    follow_pointer(hand, slow, view, true);
    CHECK(off(hand.place_m, {21.0, 20.0}) < 1e-4); // 100 pixels are 10 m, a tenth of it 1 m
    follow_pointer(hand, pointer_at(300, 200, false), view, true);
    CHECK(off(hand.place_m, {21.0, 20.0}) < 1e-4);
    follow_pointer(hand, pointer_at(302, 200), view, true);
    CHECK(hand.place_m.x > 21.0);
    CHECK(hand.place_m.x < 21.5); // catches up by half of what the pointer moves
    for (int x = 302; x <= 390; ++x) {
        follow_pointer(hand, pointer_at(static_cast<float>(x), 200), view, true);
    }
    for (int x = 390; x > 200; --x) {
        follow_pointer(hand, pointer_at(static_cast<float>(x), 200), view, true);
    }
    CHECK(off(hand.place_m, {20.1, 20.0}) < 1e-3); // and has it all back in the end
}

TEST_CASE("A hand held still stays while the pointer goes elsewhere") {
    const PlanView view = view_of_10_px_a_metre();
    Hand hand;
    follow_pointer(hand, pointer_at(200, 200), view, true);
    hand.held_still = true;
    follow_pointer(hand, pointer_at(350, 350), view, true);
    CHECK(off(hand.place_m, {20.0, 20.0}) < 1e-4);
}

TEST_CASE("Keys move the hand at walking speed, a tenth of it when slow") {
    for (const bool slow : {false, true}) {
        CAPTURE(slow);
        Hand hand;
        glm::dvec2 tip(5.0, 5.0);
        hand.place_m = tip;
        Input input;
        input.held = {SDLK_UP};
        input.shift = slow;
        for (int i = 0; i < 60; ++i) {
            follow_keys(hand, input, at_work(), tip);
            tip = hand.place_m; // a tip that keeps up
        }
        CHECK(std::abs(tip.y - (5.0 + (slow ? 0.15 : 1.5))) < 1e-9);
        CHECK(tip.x == 5.0);
    }
}

TEST_CASE("Two keys at once go aslant at the same speed") {
    Hand hand;
    hand.place_m = {5.0, 5.0};
    Input input;
    input.held = {SDLK_w, SDLK_d};
    follow_keys(hand, input, at_work(), {5.0, 5.0});
    CHECK(std::abs(off(hand.place_m, {5.0, 5.0}) - 1.5 / 60.0) < 1e-12);
    CHECK(hand.place_m.x > 5.0);
    CHECK(hand.place_m.y > 5.0);
}

TEST_CASE("Keys lead the tip by half a metre at most, and let go it stops where it is") {
    Hand hand;
    const glm::dvec2 stuck(5.0, 5.0);
    hand.place_m = stuck;
    Input input;
    input.held = {SDLK_RIGHT};
    for (int i = 0; i < 120; ++i) {
        follow_keys(hand, input, at_work(), stuck);
    }
    CHECK(std::abs(off(hand.place_m, stuck) - 0.5) < 1e-9);
    follow_keys(hand, Input{}, at_work(), stuck);
    CHECK(off(hand.place_m, stuck) == 0.0);
}

TEST_CASE("When keys have moved the hand the pointer takes it back by moving, not by trembling") {
    const PlanView view = view_of_10_px_a_metre();
    Hand hand;
    follow_pointer(hand, pointer_at(200, 200), view, true);
    Input keys;
    keys.held = {SDLK_w};
    follow_keys(hand, keys, at_work(), {20.0, 20.0});
    const glm::dvec2 by_keys = hand.place_m;
    follow_pointer(hand, pointer_at(201, 200), view, true);
    CHECK(off(hand.place_m, by_keys) == 0.0);
    follow_pointer(hand, pointer_at(220, 200), view, true);
    CHECK(off(hand.place_m, {22.0, 20.0}) < 1e-4);
}

TEST_CASE("Turning and leaning keys become rates, and opposite keys cancel") {
    Input input;
    input.held = {SDLK_e, SDLK_i, SDLK_j};
    const field::Move move = move_of(Hand{}, input, at_work(), {});
    CHECK(move.turn == 1.0);
    CHECK(move.lean_forward == 1.0);
    CHECK(move.lean_right == -1.0);
    input.held = {SDLK_q, SDLK_e};
    CHECK(move_of(Hand{}, input, at_work(), {}).turn == 0.0);
}

TEST_CASE("Straightening leans against the lean that is seen") {
    Input input;
    input.held = {SDLK_x};
    field::Observation seen;
    seen.lean_forward_deg = 4.0;
    seen.lean_right_deg = -0.1;
    const field::Move move = move_of(Hand{}, input, at_work(), seen);
    CHECK(move.lean_forward == -1.0);
    CHECK(move.lean_right == doctest::Approx(0.2));
}

TEST_CASE("The view moves by as little as keeps the tip in its middle") {
    PlanView view = view_of_10_px_a_metre();
    follow_operator(view, {22.0, 20.0});
    CHECK(view.centre_m.x == 20.0); // within the middle three fifths: nothing moves
    follow_operator(view, {40.0, 20.0});
    CHECK(view.centre_m.x == doctest::Approx(28.0)); // 0.3 x 400 px at 10 px/m short of it
    CHECK(view.centre_m.y == 20.0);
}
