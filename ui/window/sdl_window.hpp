// The window itself: SDL's, with an OpenGL context and ImGui's backends. Knows nothing of what is drawn in it.
#pragma once

#include "ui/window/surface.hpp"

#include <SDL.h>
#include <imgui.h>

#include <string>

namespace sondeyard::ui {

class Window : public Surface {
public:
    Window() = default;
    ~Window() override;

    // Empty, or why there can be no window here. A size that is not as given by the user is fitted to the display.
    std::string open(int width, int height, bool as_given);

    void begin_frame() const;
    // Renders what ImGui::Render has gathered, on paper: no page fills its ground again, since without a graphics card
    // every pixel painted twice is paid for. The buffers are swapped by `show`, so that a picture can be taken
    // between.
    void render(ImU32 paper) const;
    void show() const { SDL_GL_SwapWindow(window_); }
    static void finish_rendering(); // waits for the graphics driver

    // To be called when the context's fonts were loaded anew. NewFrame makes the texture only with the first shaders.
    static void fonts_changed();

    ImTextureID make_texture(int columns, int rows) override;
    void fill_rows(ImTextureID texture, int columns, int first_row, std::span<const std::uint32_t> pixels) override;
    void drop_texture(ImTextureID texture) override;
    void wake() override;

    ImVec2 size() const;
    bool hidden() const { return (SDL_GetWindowFlags(window_) & (SDL_WINDOW_MINIMIZED | SDL_WINDOW_HIDDEN)) != 0; }

private:
    bool sdl_ = false;
    SDL_Window* window_ = nullptr;
    SDL_GLContext gl_ = nullptr;
    ImGuiContext* imgui_ = nullptr;
};

SDL_Rect usable_display(); // of the first display; a small one when SDL cannot say

} // namespace sondeyard::ui
