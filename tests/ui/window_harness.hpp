// The window's program without a window: ImGui alone, scripted Input, folders of its own. One frame here is one tick.
#pragma once

#include "tests/temp_folder.hpp"
#include "ui/window/app.hpp"

#include <SDL_keycode.h>
#include <doctest/doctest.h>
#include <imgui.h>
#include <unistd.h>

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <system_error>

namespace sondeyard::test {

class Context { // ImGui's, with its own clock and no renderer
public:
    Context() : context_(ImGui::CreateContext()) {
        ImGuiIO& io = ImGui::GetIO();
        io.IniFilename = nullptr;
        io.DisplaySize = ImVec2(1366, 768);
        io.DeltaTime = 1.0F / 60.0F;
        io.KeyMap[ImGuiKey_Enter] = 1;
        io.KeyMap[ImGuiKey_Escape] = 2;
        io.KeyMap[ImGuiKey_Tab] = 3;
    }
    ~Context() { ImGui::DestroyContext(context_); }
    Context(const Context&) = delete;
    Context& operator=(const Context&) = delete;

    static void build_fonts() {
        unsigned char* pixels = nullptr;
        int width = 0;
        int height = 0;
        ImGui::GetIO().Fonts->GetTexDataAsAlpha8(&pixels, &width, &height);
    }

private:
    ImGuiContext* context_;
};

inline ui::AppOptions options_in(const std::filesystem::path& home, std::optional<std::string> scenario) {
    ui::AppOptions options;
    options.config = home / "config";
    options.data = home / "data";
    options.scenario = std::move(scenario);
    options.seed = 1;
    return options;
}

class Desk { // a trainee at the machine
public:
    explicit Desk(const std::filesystem::path& home, std::optional<std::string> scenario = std::nullopt,
                  ImVec2 window = ImVec2(1366, 768))
        : Desk(options_in(home, std::move(scenario)), window) {}
    explicit Desk(const ui::AppOptions& options, ImVec2 window = ImVec2(1366, 768))
        : size(window), app(std::make_unique<ui::App>(options)) {
        frame();
    }

    void frame(const ui::Input& input = {}, double frame_s = 1.0 / 60.0) {
        std::string why_not;
        const auto fonts = [&] {
            if (app->fonts_stale()) {
                REQUIRE_MESSAGE(app->load_fonts(why_not), why_not);
                Context::build_fonts();
            }
        };
        fonts();
        app->update(input, frame_s, size);
        fonts();
        ImGui::GetIO().DisplaySize = size;
        ImGui::NewFrame();
        app->draw(size);
        ImGui::Render();
    }
    void frames(int n) {
        for (int i = 0; i < n; ++i) {
            frame();
        }
    }
    void press(int key, bool ctrl = false) {
        ui::Input input;
        input.pressed.push_back({key, ctrl});
        input.ctrl = ctrl;
        frame(input);
        frame();
    }
    // Into the number that has the keyboard, ended with Enter.
    void type(const char* text) {
        ImGuiIO& io = ImGui::GetIO();
        frames(2);
        io.AddInputCharactersUTF8(text);
        frame();
        enter();
    }
    // Leaves the number that has the keyboard, or is about to get it.
    void enter() {
        ImGuiIO& io = ImGui::GetIO();
        frames(3);
        io.KeysDown[io.KeyMap[ImGuiKey_Enter]] = true;
        frame();
        io.KeysDown[io.KeyMap[ImGuiKey_Enter]] = false;
        frames(2);
    }
    // These keys one straight after the other, with the letters that the system makes of them.
    void rattle(std::string_view keys) {
        ui::Input input;
        for (const char key : keys) {
            input.pressed.push_back({key, false});
            ImGui::GetIO().AddInputCharacter(static_cast<unsigned>(key));
        }
        frame(input);
        frames(6);
    }
    void hold(int key, int ticks, bool shift = false) {
        ui::Input input;
        input.held.push_back(key);
        input.shift = shift;
        for (int i = 0; i < ticks; ++i) {
            frame(input);
        }
        frame();
    }
    // Moves the pointer to a place of the yard and waits.
    void point_at(const glm::dvec2& yard_m, int ticks) {
        ui::Input input;
        input.pointer = app->session()->ui.view.to_screen(yard_m);
        for (const float aside : {4.0F, 0.0F}) { // two movements: the first only says where the pointer is
            ui::Input moving = input;
            moving.pointer.x += aside;
            moving.pointer_moved = true;
            frame(moving);
        }
        for (int i = 0; i < ticks; i += 6) {
            frame(input, 0.1); // six ticks at once: waiting is not to take the test's time
        }
    }
    // Ends the exercise, question answered, whatever is still missing.
    void finish() {
        press(SDLK_RETURN);
        press(SDLK_RETURN);
        frames(3);
        REQUIRE(app->page() == ui::Page::debrief);
    }
    void walk_over_the_sonde() { point_at(field::plan(app->session()->setting.world.sonde.position_m), 600); }
    const field::ExerciseState& state() const { return app->session()->state; }

    Context context;
    ImVec2 size;
    std::unique_ptr<ui::App> app;
};

// All that is lettered in one frame, on sheets, panels and drawings.
inline std::string text_of_frame(Desk& desk) {
    static std::string written;
    written.clear();
    ImGui::GetIO().SetClipboardTextFn = [](void*, const char* text) { written = text; };
    desk.app->update({}, 1.0 / 60.0, desk.size);
    ImGui::NewFrame();
    ImGui::LogToClipboard(100);
    desk.app->draw(desk.size);
    ImGui::LogFinish();
    ImGui::Render();
    return written;
}

} // namespace sondeyard::test
