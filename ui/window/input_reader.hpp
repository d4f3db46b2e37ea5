// From SDL's events to plain Input.
#pragma once

#include "ui/window/controls.hpp"

#include <SDL.h>

namespace sondeyard::ui {

class InputReader {
public:
    Input take(); // what the last frame saw goes with it, and a new one starts
    void see(const SDL_Event& e);

private:
    void see_modifiers(const SDL_Keysym& keys);
    void move_pointer(ImVec2 to);
    void see_window(const SDL_WindowEvent& e);
    Input input_;
};

} // namespace sondeyard::ui
