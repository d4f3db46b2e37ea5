// Events in, frames out: the one loop that the program runs and that `bench` measures.
#pragma once

#include "audio/speaker.hpp"
#include "ui/window/app.hpp"
#include "ui/window/input_reader.hpp"
#include "ui/window/sdl_window.hpp"

#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace sondeyard::ui {

// While an exercise runs: enough for a hand that sweeps, and on software rendering little more than half of one core.
inline constexpr double frame_interval_s = 1.0 / 36.0;

class Loop {
public:
    Loop(Window& window, App& app) : window_(window), app_(app) { app_.set_surface(&window_); }
    ~Loop() { app_.set_surface(nullptr); } // what the program keeps in the window goes before the window does
    Loop(const Loop&) = delete;
    Loop& operator=(const Loop&) = delete;

    // One turn: waits as the page allows, takes in what happened, and draws a frame when there is something to draw.
    // `hand` may change what came in. False: nothing was to be drawn, or `trouble` says why the program cannot go on.
    bool turn(std::string& trouble, const std::function<void(Input&)>& hand = {});

    // The two halves of a frame: all that the program works out, sound included, and what the graphics driver makes of
    // it.
    std::string build(double frame_s, const Input& input); // empty, or why the program cannot go on
    void present();

private:
    using Clock = std::chrono::steady_clock;
    bool gather();
    bool renew_fonts(std::string& trouble);
    void feed_speaker();
    void see(const SDL_Event& e);
    void pass_on(const SDL_Event& e);
    void begin_gathering();

    Window& window_;
    App& app_;
    audio::Speaker speaker_;
    InputReader reader_;
    std::optional<Clock::time_point> frame_began_; // empty before the first frame
    std::vector<SDL_Scancode> down_in_frame_;
    std::vector<SDL_Event> releases_;
    int settle_ = 0; // frames still to be drawn though nothing happens
};

} // namespace sondeyard::ui
