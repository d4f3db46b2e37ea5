#include "ui/window/measure.hpp"

#include "ui/window/loop.hpp"
#include "ui/window/temporary_folder.hpp"
#include "ui/window/window.hpp"

#include <SDL_keycode.h>
#include <fmt/format.h>
#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <map>
#include <sstream>

extern char** environ;

namespace sondeyard::ui {

namespace {

namespace fs = std::filesystem;

constexpr const char* what_variable = "SONDEYARD_MEASURE_WINDOW"; // "rest", "work" or "frames"
constexpr const char* since_variable = "SONDEYARD_MEASURE_SINCE"; // monotonic clock when it was started, ns

double seconds_of(const timespec& t) { return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec); }

double clock_s(clockid_t clock) {
    timespec t{};
    clock_gettime(clock, &t);
    return seconds_of(t);
}

// ---- In the program that is measured ----

void say(std::string_view name, double value) { fmt::print("{} {:.9g}\n", name, value); }

// A hand at work: it goes round in the plan, marks and reads now and then.
Input working_input(const App& app, int frame) {
    Input input;
    const ExerciseUi& ui = app.session()->ui;
    const float turn = static_cast<float>(frame) * 0.05F;
    const ImVec2 origin = ui.view.origin;
    const ImVec2 size = ui.view.size.x > 1.0F ? ui.view.size : ImVec2(600, 400);
    input.pointer =
        ImVec2(origin.x + size.x * (0.5F + 0.3F * std::cos(turn)), origin.y + size.y * (0.5F + 0.3F * std::sin(turn)));
    input.pointer_moved = true;
    const std::array<int, 6> keys = {SDLK_SPACE, SDLK_1, SDLK_3, SDLK_r, SDLK_2, SDLK_4};
    if (frame % 20 == 10 && frame < 700) {
        input.pressed.push_back({keys[static_cast<std::size_t>(frame / 20) % keys.size()], false});
    }
    return input;
}

// The most that was in memory at once. Of this program alone: what getrusage says is inherited through exec.
double peak_memory_mb() {
    std::ifstream status("/proc/self/status");
    for (std::string line; std::getline(status, line);) {
        if (line.starts_with("VmHWM:")) {
            return std::strtod(line.c_str() + 6, nullptr) / 1024.0; // given in kB
        }
    }
    return -1.0;
}

// Turns of the program's own loop for some seconds. Returns per cent of one core, all threads.
double loop_percent(Loop& loop, double for_s, const std::function<void(Input&)>& hand, int& frames) {
    const double began = clock_s(CLOCK_MONOTONIC);
    const double cpu = clock_s(CLOCK_PROCESS_CPUTIME_ID);
    std::string trouble;
    const auto wall_s = [&] { return clock_s(CLOCK_MONOTONIC) - began; };
    frames = 0;
    while (wall_s() < for_s) {
        frames += loop.turn(trouble, hand) ? 1 : 0;
    }
    return 100.0 * (clock_s(CLOCK_PROCESS_CPUTIME_ID) - cpu) / wall_s();
}

void measure_rest(Loop& loop) {
    int frames = 0;
    loop_percent(loop, 0.5, {}, frames); // what the start leaves behind
    say("idle_percent", loop_percent(loop, 3.0, {}, frames));
}

void measure_work(Loop& loop, const App& app) {
    int frames = 0;
    int frame = 0;
    const auto hand = [&](Input& input) { input = working_input(app, frame++); };
    loop_percent(loop, 2.0, hand, frames); // fills trace, trail and lists
    const double percent = loop_percent(loop, 3.0, hand, frames);
    say("exercise_percent", percent);
    say("frames_per_s", frames / 3.0);
    say("peak_memory_mb", peak_memory_mb());
}

void measure_frames(Window& window, Loop& loop, App& app) {
    constexpr int warm_up = 400; // fills trace, trail and lists
    constexpr int counted = 100;
    double cpu_s = 0.0;
    double wall_s = 0.0;
    for (int i = 0; i < warm_up + counted; ++i) {
        SDL_PumpEvents();
        const double cpu = clock_s(CLOCK_THREAD_CPUTIME_ID);
        const double began = clock_s(CLOCK_MONOTONIC);
        loop.build(frame_interval_s, working_input(app, i));
        const double cpu_now = clock_s(CLOCK_THREAD_CPUTIME_ID) - cpu;
        if (i < warm_up && i % 50 != 0) {
            continue; // nothing of these is to be seen
        }
        loop.present();
        Window::finish_rendering();
        if (i >= warm_up) {
            cpu_s += cpu_now;
            wall_s += clock_s(CLOCK_MONOTONIC) - began;
        }
    }
    say("frame_ms", 1000.0 * cpu_s / counted);
    say("frame_rendered_ms", 1000.0 * wall_s / counted);
    double empty_s = 0.0;
    for (int i = 0; i < counted; ++i) {
        SDL_PumpEvents();
        const double began = clock_s(CLOCK_MONOTONIC);
        window.begin_frame();
        ImGui::Render();
        window.render(app.theme().palette.paper);
        window.show();
        Window::finish_rendering();
        empty_s += clock_s(CLOCK_MONOTONIC) - began;
    }
    say("frame_empty_ms", 1000.0 * empty_s / counted);
}

} // namespace

bool measuring_is_asked_for() { return std::getenv(what_variable) != nullptr; }

int measure_here() {
    const char* asked = std::getenv(what_variable);
    const std::string_view what = asked != nullptr ? asked : "";
    try {
        AppOptions options; // its folders are temporary ones, by the environment
        App app(options);
        Window window;
        if (const std::string why = window.open(1366, 768, true); !why.empty()) {
            fmt::print("why_not no window: {}\n", why);
            return 0;
        }
        Loop loop(window, app);
        std::string trouble;
        if (!loop.turn(trouble)) {
            fmt::print("why_not {}\n", trouble);
            return 0;
        }
        Window::finish_rendering();
        if (const char* since = std::getenv(since_variable); since != nullptr && what == "rest") {
            say("first_frame_s", clock_s(CLOCK_MONOTONIC) - 1e-9 * std::strtod(since, nullptr));
        }
        if (what == "rest") {
            measure_rest(loop);
        } else if (what == "work") {
            measure_work(loop, app);
        } else {
            measure_frames(window, loop, app);
        }
    } catch (const std::exception& e) {
        fmt::print("why_not {}\n", e.what());
    }
    return 0;
}

// ---- In the program that asks ----

namespace {

// The environment of the measured program: settings and results of its own, and a tone that is mixed as for a sound
// card but heard by nobody.
std::vector<std::string> environment_for(const std::string& what, const fs::path& folder) {
    timespec now{};
    clock_gettime(CLOCK_MONOTONIC, &now);
    std::vector<std::string> all = {
        fmt::format("{}={}", what_variable, what),
        fmt::format("{}={}{:09}", since_variable, now.tv_sec, now.tv_nsec),
        fmt::format("XDG_CONFIG_HOME={}", (folder / what / "config").string()),
        fmt::format("XDG_DATA_HOME={}", (folder / what / "data").string()),
        "ALSOFT_DRIVERS=null",
    };
    const auto replaced = [&](std::string_view entry) {
        const std::string name(entry.substr(0, entry.find('=') + 1));
        return std::ranges::any_of(all, [&](const std::string& a) { return a.starts_with(name); });
    };
    std::vector<std::string> rest;
    for (char** entry = environ; *entry != nullptr; ++entry) {
        if (!replaced(*entry)) {
            rest.emplace_back(*entry);
        }
    }
    all.insert(all.end(), rest.begin(), rest.end());
    return all;
}

std::string read_to_end(int from) {
    std::string text;
    std::array<char, 4096> buffer{};
    for (ssize_t n = 0; (n = read(from, buffer.data(), buffer.size())) > 0;) {
        text.append(buffer.data(), static_cast<std::size_t>(n));
    }
    return text;
}

// What the measured program printed; empty when it could not be started or did not end well.
std::string output_of_measuring(const std::string& what, const fs::path& folder) {
    std::array<int, 2> ends{};
    if (pipe(ends.data()) != 0) {
        return {};
    }
    std::vector<std::string> words = environment_for(what, folder);
    std::vector<char*> environment;
    environment.reserve(words.size() + 1);
    for (std::string& word : words) {
        environment.push_back(word.data());
    }
    environment.push_back(nullptr);
    std::string name = "sondeyard";
    std::array<char*, 2> arguments = {name.data(), nullptr};
    posix_spawn_file_actions_t actions{};
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, ends[1], STDOUT_FILENO);
    posix_spawn_file_actions_addclose(&actions, ends[0]);
    posix_spawn_file_actions_addclose(&actions, ends[1]);
    pid_t child = 0;
    const bool started =
        posix_spawn(&child, "/proc/self/exe", &actions, nullptr, arguments.data(), environment.data()) == 0;
    posix_spawn_file_actions_destroy(&actions);
    close(ends[1]);
    std::string text = started ? read_to_end(ends[0]) : std::string();
    close(ends[0]);
    int status = 0;
    if (started) {
        waitpid(child, &status, 0);
    }
    return started && WIFEXITED(status) && WEXITSTATUS(status) == 0 ? text : std::string();
}

} // namespace

WindowFigures measure_window() {
    WindowFigures figures;
    if (measuring_is_asked_for()) { // a measured program does not measure
        figures.why_not = "the window is being measured already";
        return figures;
    }
    const TemporaryFolder folder;
    if (folder.path().empty()) {
        figures.why_not = "no temporary folder for measuring the window";
        return figures;
    }
    std::fflush(nullptr);
    std::map<std::string, double, std::less<>> found;
    for (const char* what : {"rest", "work", "frames"}) {
        std::istringstream lines(output_of_measuring(what, folder.path()));
        bool any = false;
        for (std::string name; lines >> name; any = true) {
            if (name == "why_not") {
                std::getline(lines >> std::ws, figures.why_not);
                return figures;
            }
            lines >> found[name];
        }
        if (!any) {
            figures.why_not = fmt::format("the window ended while it was being measured ({})", what);
        }
    }
    const auto given = [&](std::string_view name) {
        const auto at = found.find(name);
        return at == found.end() || at->second < 0.0 ? std::nullopt : std::optional(at->second);
    };
    figures.frame_ms = given("frame_ms");
    figures.frame_rendered_ms = given("frame_rendered_ms");
    figures.frame_empty_ms = given("frame_empty_ms");
    figures.first_frame_s = given("first_frame_s");
    figures.idle_percent = given("idle_percent");
    figures.exercise_percent = given("exercise_percent");
    figures.peak_memory_mb = given("peak_memory_mb");
    if (const auto rate = given("frames_per_s"); rate && *rate < 30.0) {
        figures.why_not = fmt::format("only {:.0f} frames a second were drawn", *rate);
    }
    return figures;
}

} // namespace sondeyard::ui
