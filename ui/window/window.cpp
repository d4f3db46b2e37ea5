#include "ui/window/window.hpp"

#include "ui/window/app.hpp"
#include "ui/window/loop.hpp"
#include "ui/window/measure.hpp"
#include "ui/window/sdl_window.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>

namespace sondeyard::ui {

namespace {

void take_trace(App& app, bool print) { // taken in any case, or it would grow as long as the window is open
    for (const std::string& line : app.take_trace()) {
        if (print) {
            std::puts(line.c_str());
        }
    }
    if (print) {
        std::fflush(stdout);
    }
}

AppOptions app_options(const WindowOptions& options) {
    AppOptions a;
    a.scenario = options.scenario;
    a.lesson = options.lesson;
    a.seed = options.seed;
    a.log = options.log;
    a.replay = options.replay;
    a.scale = options.scale;
    a.night = options.night;
    a.units = options.units;
    a.mute = options.mute;
    return a;
}

int no_window(const std::string& why) {
    fmt::print(stderr,
               "sondeyard: no window can be opened here: {}\n"
               "On a machine with a display start it there, or forward one (ssh -X). Without any, the commands work:\n"
               "  sondeyard operate level-lawn --operator level-line --seed 1    a model operator works an exercise\n"
               "  sondeyard --help                                               all commands\n",
               why);
    return 2;
}

int bad(const std::string& what) {
    fmt::print(stderr, "sondeyard: {}\n", what);
    return 2;
}

int run_loop(Window& window, App& app, bool trace) {
    Loop loop(window, app);
    std::string trouble;
    bool first = true;
    while (!app.quit()) {
        if (!loop.turn(trouble)) {
            if (!trouble.empty()) {
                return bad(trouble);
            }
            continue;
        }
        if (trace && std::exchange(first, false)) {
            std::puts("ready");
        }
        take_trace(app, trace);
    }
    return 0;
}

} // namespace

int run_window(const WindowOptions& options) {
    if (measuring_is_asked_for()) {
        return measure_here();
    }
    if (options.scale && !(*options.scale >= smallest_scale && *options.scale <= largest_scale)) {
        return bad(
            fmt::format("--scale: {} given; {} to {} is allowed", *options.scale, smallest_scale, largest_scale));
    }
    if (options.replay && (options.scenario || options.seed || options.log)) {
        return bad("--replay: a work log brings its own yard; --scenario, --seed and --log do not go with it");
    }
    try {
        App app(app_options(options)); // before the window: what is wrong with the exercise needs no display to be said
        Window window;
        if (const std::string why =
                window.open(std::max(smallest_width, options.width.value_or(app.settings().width)),
                            std::max(smallest_height, options.height.value_or(app.settings().height)),
                            options.width || options.height);
            !why.empty()) {
            return no_window(why);
        }
        app.set_screen_height(usable_display().h);
        const int code = run_loop(window, app, options.trace);
        if (const std::string not_kept = app.keep_at_last(); !not_kept.empty()) {
            fmt::print(stderr, "sondeyard: {}\n", not_kept);
        }
        return code;
    } catch (const std::exception& e) {
        return bad(e.what());
    }
}

} // namespace sondeyard::ui
