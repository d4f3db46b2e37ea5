#include "ui/window/input_reader.hpp"

#include <string_view>
#include <vector>

namespace sondeyard::ui {

namespace {

// The key as its label says it. Digits come by place where the layout puts other signs there, and letters by place on
// layouts that have no Latin ones.
int key_of(const SDL_Keysym& pressed) {
    const int key = pressed.sym;
    if (key >= SDLK_KP_1 && key <= SDLK_KP_9) {
        return SDLK_1 + (key - SDLK_KP_1);
    }
    if (key == SDLK_KP_0) {
        return SDLK_0;
    }
    const bool letter_or_digit = (key >= SDLK_a && key <= SDLK_z) || (key >= SDLK_0 && key <= SDLK_9);
    if (!letter_or_digit && pressed.scancode >= SDL_SCANCODE_1 && pressed.scancode <= SDL_SCANCODE_0) {
        return pressed.scancode == SDL_SCANCODE_0 ? static_cast<int>(SDLK_0)
                                                  : SDLK_1 + (pressed.scancode - SDL_SCANCODE_1);
    }
    const bool beyond_latin = key > 0x7F && (key & SDLK_SCANCODE_MASK) == 0;
    if (beyond_latin && pressed.scancode >= SDL_SCANCODE_A && pressed.scancode <= SDL_SCANCODE_Z) {
        return SDLK_a + (pressed.scancode - SDL_SCANCODE_A);
    }
    return key;
}

// While a number is being typed only keys that type nothing are commands.
bool goes_past_text(const Chord& chord) {
    return (chord.key >= SDLK_F1 && chord.key <= SDLK_F12) || (chord.ctrl && chord.key == SDLK_q);
}

} // namespace

Input InputReader::take() {
    Input now = input_;
    input_.pressed.clear();
    input_.dragged = ImVec2(0.0F, 0.0F);
    input_.pointer_moved = input_.left_clicked = false;
    input_.wheel = 0.0F;
    if (ImGui::GetIO().WantTextInput) {
        std::erase_if(now.pressed, [](const Chord& c) { return !goes_past_text(c); });
        now.held.clear();
    }
    if (ImGui::IsAnyItemActive()) { // a slider or a number has the mouse
        now.left_clicked = now.pointer_moved = false;
    }
    return now;
}

void InputReader::see(const SDL_Event& e) {
    switch (e.type) {
    case SDL_QUIT:
        input_.quit = true;
        break;
    case SDL_KEYDOWN:
        see_modifiers(e.key.keysym);
        if (e.key.repeat == 0) {
            const int key = key_of(e.key.keysym);
            input_.pressed.push_back({key, input_.ctrl});
            input_.held.push_back(key);
        }
        break;
    case SDL_KEYUP:
        see_modifiers(e.key.keysym);
        std::erase(input_.held, key_of(e.key.keysym));
        break;
    case SDL_MOUSEMOTION:
        move_pointer(ImVec2(static_cast<float>(e.motion.x), static_cast<float>(e.motion.y)));
        break;
    case SDL_MOUSEBUTTONDOWN:
    case SDL_MOUSEBUTTONUP:
        move_pointer(ImVec2(static_cast<float>(e.button.x), static_cast<float>(e.button.y)));
        input_.left_clicked |= e.type == SDL_MOUSEBUTTONDOWN && e.button.button == SDL_BUTTON_LEFT;
        if (e.button.button == SDL_BUTTON_RIGHT) {
            input_.right_down = e.type == SDL_MOUSEBUTTONDOWN;
        }
        break;
    case SDL_MOUSEWHEEL:
        input_.wheel += e.wheel.preciseY;
        break;
    case SDL_WINDOWEVENT:
        see_window(e.window);
        break;
    default:
        break;
    }
}

void InputReader::see_modifiers(const SDL_Keysym& keys) {
    input_.shift = (keys.mod & KMOD_SHIFT) != 0;
    input_.ctrl = (keys.mod & KMOD_CTRL) != 0;
}

// Coming into the window is no movement of the hand: at the start the pointer just happens to lie somewhere.
void InputReader::move_pointer(ImVec2 to) {
    const bool was_in = input_.pointer.x >= 0.0F;
    if (was_in && (to.x != input_.pointer.x || to.y != input_.pointer.y)) {
        if (input_.right_down) {
            input_.dragged.x += to.x - input_.pointer.x;
            input_.dragged.y += to.y - input_.pointer.y;
        }
        input_.pointer_moved = true;
    }
    input_.pointer = to;
}

void InputReader::see_window(const SDL_WindowEvent& e) {
    if (e.event == SDL_WINDOWEVENT_LEAVE) {
        input_.pointer = ImVec2(-1.0F, -1.0F);
        input_.right_down = false;
    } else if (e.event == SDL_WINDOWEVENT_FOCUS_LOST) { // no key-up will be seen any more
        input_.held.clear();
        input_.shift = input_.ctrl = input_.right_down = false;
    }
}

} // namespace sondeyard::ui
