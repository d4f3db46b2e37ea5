// The window as the command line sees it.
#pragma once

#include "field/lengths.hpp"

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

namespace sondeyard::ui {

struct WindowOptions {
    std::optional<std::string> scenario; // path or bundled name: straight into that exercise
    std::optional<std::string> lesson;   // the same of a lesson
    std::optional<std::uint64_t> seed;
    std::optional<std::filesystem::path> log;    // work log file; default: one in the data folder
    std::optional<std::filesystem::path> replay; // a stored work log: straight to its time machine
    std::optional<int> width, height;
    std::optional<double> scale; // of the content; default from settings, else by the screen
    std::optional<bool> night;
    std::optional<field::Units> units; // of every length; default from settings
    bool mute = false;
    bool trace =
        false; // prints "ready" after the first frame and one line at each change of page, view, marks; for tests
};

// 0 done; 2 no display or a bad option, said on stderr with how to go on without a window.
int run_window(const WindowOptions& options);

// What bench reports; any number is empty when it could not be measured, with the reason in `why_not`.
struct WindowFigures {
    std::optional<double> frame_ms, frame_rendered_ms, frame_empty_ms, first_frame_s, idle_percent, exercise_percent,
        peak_memory_mb;
    std::string why_not;
};
WindowFigures measure_window();

} // namespace sondeyard::ui
