#include "ui/window/sdl_window.hpp"

#include "ui/window/settings.hpp"

#include <SDL_opengl.h>
#include <backends/imgui_impl_opengl3.h>
#include <backends/imgui_impl_sdl.h>

#include <algorithm>
#include <bit>
#include <cstdlib>
#include <string_view>
#include <vector>

namespace sondeyard::ui {

SDL_Rect usable_display() {
    SDL_Rect usable{0, 0, 1366, 768};
    SDL_GetDisplayUsableBounds(0, &usable); // leaves the guess alone when it cannot say
    return usable;
}

namespace {

// Asked before SDL is: it would try one driver after the other, and some of them complain on stderr.
std::string no_display() {
    const auto set = [](const char* name) {
        const char* value = std::getenv(name);
        return value != nullptr && *value != '\0';
    };
    const bool any = set("DISPLAY") || set("WAYLAND_DISPLAY") || set("SDL_VIDEODRIVER");
    return any ? std::string() : std::string("neither DISPLAY nor WAYLAND_DISPLAY is set");
}

} // namespace

Window::~Window() {
    if (imgui_ != nullptr) {
        ImGui_ImplOpenGL3_Shutdown();
        ImGui_ImplSDL2_Shutdown();
        ImGui::DestroyContext(imgui_);
    }
    if (gl_ != nullptr) {
        SDL_GL_DeleteContext(gl_);
    }
    if (window_ != nullptr) {
        SDL_DestroyWindow(window_);
    }
    if (sdl_) {
        SDL_Quit();
    }
}

std::string Window::open(int width, int height, bool as_given) {
    if (std::string why = no_display(); !why.empty()) {
        return why;
    }
    SDL_SetMainReady();
    SDL_SetHint(SDL_HINT_VIDEO_X11_NET_WM_BYPASS_COMPOSITOR, "0"); // an ordinary program, not a full-screen game
    if (SDL_Init(SDL_INIT_VIDEO) != 0) {
        return SDL_GetError();
    }
    sdl_ = true;
    const std::string_view driver = SDL_GetCurrentVideoDriver();
    if (std::getenv("SDL_VIDEODRIVER") == nullptr && (driver == "offscreen" || driver == "dummy")) {
        return "the display does not answer"; // SDL would go on with a window that nobody sees
    }
    SDL_GL_SetAttribute(SDL_GL_CONTEXT_PROFILE_MASK, SDL_GL_CONTEXT_PROFILE_CORE);
    SDL_GL_SetAttribute(SDL_GL_CONTEXT_MAJOR_VERSION, 3);
    SDL_GL_SetAttribute(SDL_GL_CONTEXT_MINOR_VERSION, 2);
    SDL_GL_SetAttribute(SDL_GL_DOUBLEBUFFER, 1);
    if (!as_given) { // what is remembered may be from a larger display
        const SDL_Rect usable = usable_display();
        width = std::max(smallest_width, std::min(width, usable.w));
        height = std::max(smallest_height, std::min(height, usable.h));
    }
    window_ = SDL_CreateWindow("Sondeyard", SDL_WINDOWPOS_UNDEFINED, SDL_WINDOWPOS_UNDEFINED, width, height,
                               SDL_WINDOW_OPENGL | SDL_WINDOW_RESIZABLE);
    if (window_ == nullptr) {
        return SDL_GetError();
    }
    SDL_SetWindowMinimumSize(window_, smallest_width, smallest_height);
    gl_ = SDL_GL_CreateContext(window_);
    if (gl_ == nullptr) {
        return SDL_GetError();
    }
    SDL_GL_SetSwapInterval(0); // paced below, so that ticks do not wait for a display
    IMGUI_CHECKVERSION();
    imgui_ = ImGui::CreateContext();
    ImGui::GetIO().IniFilename = nullptr;
    ImGui_ImplSDL2_InitForOpenGL(window_, gl_);
    ImGui_ImplOpenGL3_Init("#version 150");
    return {};
}

void Window::begin_frame() const {
    ImGui_ImplOpenGL3_NewFrame();
    ImGui_ImplSDL2_NewFrame();
    ImGui::NewFrame();
}

void Window::render(ImU32 paper) const {
    const ImVec4 c = ImGui::ColorConvertU32ToFloat4(paper);
    const ImVec2 size = ImGui::GetIO().DisplaySize;
    glViewport(0, 0, static_cast<int>(size.x), static_cast<int>(size.y));
    glClearColor(c.x, c.y, c.z, 1.0F);
    glClear(GL_COLOR_BUFFER_BIT);
    ImGui_ImplOpenGL3_RenderDrawData(ImGui::GetDrawData());
}

void Window::finish_rendering() { glFinish(); }

void Window::fonts_changed() {
    ImGui_ImplOpenGL3_DestroyFontsTexture();
    ImGui_ImplOpenGL3_CreateFontsTexture();
}

ImTextureID Window::make_texture(int columns, int rows) {
    GLuint name = 0;
    glGenTextures(1, &name);
    if (name == 0) {
        return nullptr;
    }
    glBindTexture(GL_TEXTURE_2D, name);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, GL_LINEAR);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_LINEAR);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_S, GL_CLAMP_TO_EDGE);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_T, GL_CLAMP_TO_EDGE);
    const std::vector<std::uint32_t> black(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows),
                                           IM_COL32_BLACK);
    while (glGetError() != GL_NO_ERROR) { // what went wrong before is not said of this
    }
    glTexImage2D(GL_TEXTURE_2D, 0, GL_RGBA8, columns, rows, 0, GL_RGBA, GL_UNSIGNED_BYTE, black.data());
    const auto texture = std::bit_cast<ImTextureID>(std::uintptr_t{name}); // as ImGui's backend has it
    if (glGetError() != GL_NO_ERROR) {
        drop_texture(texture);
        return nullptr;
    }
    return texture;
}

void Window::fill_rows(ImTextureID texture, int columns, int first_row, std::span<const std::uint32_t> pixels) {
    glBindTexture(GL_TEXTURE_2D, static_cast<GLuint>(std::bit_cast<std::uintptr_t>(texture)));
    glTexSubImage2D(GL_TEXTURE_2D, 0, 0, first_row, columns, static_cast<GLsizei>(pixels.size()) / columns, GL_RGBA,
                    GL_UNSIGNED_BYTE, pixels.data());
}

void Window::drop_texture(ImTextureID texture) {
    const auto name = static_cast<GLuint>(std::bit_cast<std::uintptr_t>(texture));
    glDeleteTextures(1, &name);
}

void Window::wake() { // SDL lets any thread push
    SDL_Event e{};
    e.type = SDL_USEREVENT; // nothing else of this program uses them
    SDL_PushEvent(&e);
}

ImVec2 Window::size() const {
    int w = 0;
    int h = 0;
    SDL_GetWindowSize(window_, &w, &h);
    return {static_cast<float>(w), static_cast<float>(h)};
}

} // namespace sondeyard::ui
