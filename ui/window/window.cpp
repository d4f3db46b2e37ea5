#include "ui/window/window.hpp"

#include "audio/speaker.hpp"
#include "ui/window/app.hpp"
#include "ui/window/picture.hpp"

#include <SDL.h>
#include <SDL_opengl.h>
#include <backends/imgui_impl_opengl3.h>
#include <backends/imgui_impl_sdl.h>
#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <utility>
#include <vector>

namespace sondeyard::ui {

namespace {

using Clock = std::chrono::steady_clock;
double seconds_since(Clock::time_point from) { return std::chrono::duration<double>(Clock::now() - from).count(); }

// While an exercise runs: enough for a hand that sweeps, and on software rendering little more than half of one core.
constexpr double frame_interval_s = 1.0 / 36.0;
constexpr int settle_frames = 3; // the interface needs these after any event
constexpr unsigned idle_wait_ms = 500;

// ---- From SDL's events to plain Input ----

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

class InputReader {
public:
    // Takes what the last frame saw with it and starts a new one.
    Input take() {
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

    void see(const SDL_Event& e) {
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

private:
    void see_modifiers(const SDL_Keysym& keys) {
        input_.shift = (keys.mod & KMOD_SHIFT) != 0;
        input_.ctrl = (keys.mod & KMOD_CTRL) != 0;
    }
    // Coming into the window is no movement of the hand: at the start the pointer just happens to lie somewhere.
    void move_pointer(ImVec2 to) {
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
    void see_window(const SDL_WindowEvent& e) {
        if (e.event == SDL_WINDOWEVENT_LEAVE) {
            input_.pointer = ImVec2(-1.0F, -1.0F);
            input_.right_down = false;
        } else if (e.event == SDL_WINDOWEVENT_FOCUS_LOST) { // no key-up will be seen any more
            input_.held.clear();
            input_.shift = input_.ctrl = input_.right_down = false;
        }
    }
    Input input_;
};

SDL_Rect usable_display() {
    SDL_Rect usable{0, 0, 1366, 768};
    SDL_GetDisplayUsableBounds(0, &usable); // leaves the guess alone when it cannot say
    return usable;
}

// Asked before SDL is: it would try one driver after the other, and some of them complain on stderr.
std::string no_display() {
    const auto set = [](const char* name) { return std::getenv(name) != nullptr && *std::getenv(name) != '\0'; };
    const bool any = set("DISPLAY") || set("WAYLAND_DISPLAY") || set("SDL_VIDEODRIVER");
    return any ? std::string() : std::string("neither DISPLAY nor WAYLAND_DISPLAY is set");
}

// ---- The window ----

class Window {
public:
    Window() = default;
    ~Window() { close(); }
    Window(const Window&) = delete;
    Window& operator=(const Window&) = delete;

    // Empty, or why there can be no window here.
    std::string open(int width, int height, bool as_given) {
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

    void begin_frame() const {
        ImGui_ImplOpenGL3_NewFrame();
        ImGui_ImplSDL2_NewFrame();
        ImGui::NewFrame();
    }

    // Renders what ImGui::Render has gathered. The buffers are swapped by `show`, so that a picture can be taken
    // between.
    void render(ImU32 paper) const {
        const ImVec4 c = ImGui::ColorConvertU32ToFloat4(paper);
        const ImVec2 size = ImGui::GetIO().DisplaySize;
        glViewport(0, 0, static_cast<int>(size.x), static_cast<int>(size.y));
        glClearColor(c.x, c.y, c.z, 1.0F);
        glClear(GL_COLOR_BUFFER_BIT);
        ImGui_ImplOpenGL3_RenderDrawData(ImGui::GetDrawData());
    }
    void show() const { SDL_GL_SwapWindow(window_); }

    // To be called when the context's fonts were loaded anew. NewFrame makes the texture only with the first shaders.
    void fonts_changed() const {
        ImGui_ImplOpenGL3_DestroyFontsTexture();
        ImGui_ImplOpenGL3_CreateFontsTexture();
    }

    ImVec2 size() const {
        int w = 0;
        int h = 0;
        SDL_GetWindowSize(window_, &w, &h);
        return {static_cast<float>(w), static_cast<float>(h)};
    }
    bool hidden() const { return (SDL_GetWindowFlags(window_) & (SDL_WINDOW_MINIMIZED | SDL_WINDOW_HIDDEN)) != 0; }

private:
    void close() {
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
    bool sdl_ = false;
    SDL_Window* window_ = nullptr;
    SDL_GLContext gl_ = nullptr;
    ImGuiContext* imgui_ = nullptr;
};

// ---- The loop ----

class Loop {
public:
    Loop(Window& window, App& app) : window_(window), app_(app) {}

    // Waits as the page allows and takes in what happened. False: nothing to draw.
    bool gather(const Clock::time_point& frame_began) {
        begin_gathering();
        SDL_Event e;
        if (app_.moving()) {
            // Events before the frame is due are taken in without drawing for each.
            for (;;) {
                const double left_s = frame_interval_s - seconds_since(frame_began);
                if (left_s <= 0.0) {
                    break;
                }
                if (SDL_WaitEventTimeout(&e, std::max(1, static_cast<int>(left_s * 1000.0))) != 0) {
                    see(e);
                }
            }
            while (SDL_PollEvent(&e) != 0) {
                see(e);
            }
            settle_ = settle_frames;
            return true;
        }
        bool any =
            settle_ > 0 || app_.work_left() ? SDL_PollEvent(&e) != 0 : SDL_WaitEventTimeout(&e, idle_wait_ms) != 0;
        const bool happened = any;
        for (; any; any = SDL_PollEvent(&e) != 0) {
            see(e);
        }
        if (happened || app_.work_left()) {
            settle_ = settle_frames;
        } else if (settle_ == 0) {
            if (!ImGui::GetIO().WantTextInput) {
                return false;
            }
            settle_ = 1; // the caret blinks
        }
        --settle_;
        return true;
    }

    // One frame up to what is to be rendered: the CPU's part of it.
    std::string build(double frame_s, const Input& input) {
        std::string trouble;
        if (!renew_fonts(trouble)) {
            return trouble;
        }
        app_.set_hidden(window_.hidden());
        const ImVec2 size = window_.size();
        app_.set_window_size(static_cast<int>(size.x), static_cast<int>(size.y));
        app_.update(input, frame_s, size);
        if (!renew_fonts(trouble)) { // the key for it came in this very frame
            return trouble;
        }
        window_.begin_frame();
        app_.draw(size);
        ImGui::Render();
        return {};
    }

    void present() {
        window_.render(app_.theme().palette.paper);
        if (const auto picture = app_.take_picture_wish()) {
            std::error_code ignored;
            std::filesystem::create_directories(picture->parent_path(), ignored);
            const ImVec2 size = ImGui::GetIO().DisplaySize;
            std::string why_not;
            const bool written =
                save_framebuffer_png(*picture, static_cast<int>(size.x), static_cast<int>(size.y), why_not);
            app_.picture_done(*picture, written, why_not);
            settle_ = settle_frames;
        }
        window_.show();
    }

    Input take_input() { return reader_.take(); }

private:
    bool renew_fonts(std::string& trouble) {
        if (!app_.fonts_stale()) {
            return true;
        }
        if (!app_.load_fonts(trouble)) {
            return false;
        }
        window_.fonts_changed();
        return true;
    }
    // A key let go within the frame that it went down in would never be seen as down by what looks at keys once a
    // frame: its release waits for the next one.
    void see(const SDL_Event& e) {
        if (e.type == SDL_KEYDOWN && e.key.repeat == 0) {
            down_in_frame_.push_back(e.key.keysym.scancode);
        } else if (e.type == SDL_KEYUP &&
                   std::ranges::find(down_in_frame_, e.key.keysym.scancode) != down_in_frame_.end()) {
            releases_.push_back(e);
            return;
        }
        pass_on(e);
    }
    void pass_on(const SDL_Event& e) {
        ImGui_ImplSDL2_ProcessEvent(&e);
        reader_.see(e);
    }
    void begin_gathering() {
        down_in_frame_.clear();
        for (const SDL_Event& e : std::exchange(releases_, {})) {
            pass_on(e);
        }
    }
    Window& window_;
    App& app_;
    InputReader reader_;
    std::vector<SDL_Scancode> down_in_frame_;
    std::vector<SDL_Event> releases_;
    int settle_ = settle_frames;
};

void feed(audio::Speaker& speaker, App& app) {
    const Sound sound = app.sound();
    speaker.set(sound.signal_dbpt, sound.volume, sound.muted);
    speaker.set_running(sound.running && !sound.muted);
    app.set_sound_status(speaker.status());
}

void print_trace(App& app) {
    for (const std::string& line : app.take_trace()) {
        std::puts(line.c_str());
    }
    std::fflush(stdout);
}

AppOptions app_options(const WindowOptions& options) {
    AppOptions a;
    a.scenario = options.scenario;
    a.seed = options.seed;
    a.log = options.log;
    a.scale = options.scale;
    a.night = options.night;
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

int run_loop(Window& window, App& app, bool trace) {
    Loop loop(window, app);
    audio::Speaker speaker;
    auto frame_began = Clock::now();
    bool first = true;
    while (!app.quit()) {
        if (!first && !loop.gather(frame_began)) {
            continue;
        }
        const double frame_s = first ? 0.0 : seconds_since(frame_began);
        frame_began = Clock::now();
        if (const std::string trouble = loop.build(frame_s, loop.take_input()); !trouble.empty()) {
            fmt::print(stderr, "sondeyard: {}\n", trouble);
            return 2;
        }
        feed(speaker, app);
        loop.present();
        if (trace) {
            if (first) {
                std::puts("ready");
            }
            print_trace(app);
        }
        first = false;
    }
    return 0;
}

} // namespace

int run_window(const WindowOptions& options) {
    const auto bad = [](const std::string& what) {
        fmt::print(stderr, "sondeyard: {}\n", what);
        return 2;
    };
    if (options.scale && !(*options.scale >= smallest_scale && *options.scale <= largest_scale)) {
        return bad(
            fmt::format("--scale: {} given; {} to {} is allowed", *options.scale, smallest_scale, largest_scale));
    }
    AppOptions made = app_options(options);
    const Settings before = load_settings(made.config / "settings.toml").settings;
    Window window;
    if (const std::string why = window.open(std::max(smallest_width, options.width.value_or(before.width)),
                                            std::max(smallest_height, options.height.value_or(before.height)),
                                            options.width || options.height);
        !why.empty()) {
        return no_window(why);
    }
    made.screen_height = usable_display().h;
    try {
        App app(std::move(made));
        return run_loop(window, app, options.trace);
    } catch (const std::exception& e) {
        return bad(e.what());
    }
}

// ---- Figures ----

namespace {

double cpu_seconds(int who) {
    rusage use{};
    getrusage(who, &use);
    const auto s = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return s(use.ru_utime) + s(use.ru_stime);
}

double thread_cpu_seconds() {
    timespec t{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

// What a child sends back through its pipe.
struct Measured {
    double frame_ms = -1, frame_rendered_ms = -1, frame_empty_ms = -1, first_frame_s = -1, idle_percent = -1,
           exercise_percent = -1;
    std::array<char, 200> why_not{};
};

void say(Measured& m, const std::string& why) { why.copy(m.why_not.data(), m.why_not.size() - 1); }

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

void measure_frames(Window& window, Loop& loop, App& app, Measured& m) {
    constexpr int warm_up = 400; // fills the trace, the trail and the lists
    constexpr int counted = 100;
    double cpu_s = 0.0;
    double wall_s = 0.0;
    for (int i = 0; i < warm_up + counted; ++i) {
        SDL_PumpEvents();
        const double cpu = thread_cpu_seconds();
        const auto began = Clock::now();
        loop.build(frame_interval_s, working_input(app, i));
        const double cpu_now = thread_cpu_seconds() - cpu;
        if (i < warm_up && i % 50 != 0) {
            continue; // nothing of these is to be seen
        }
        loop.present();
        glFinish();
        if (i >= warm_up) {
            cpu_s += cpu_now;
            wall_s += seconds_since(began);
        }
    }
    m.frame_ms = 1000.0 * cpu_s / counted;
    m.frame_rendered_ms = 1000.0 * wall_s / counted;
    double empty_s = 0.0;
    for (int i = 0; i < counted; ++i) {
        SDL_PumpEvents();
        const auto began = Clock::now();
        window.begin_frame();
        ImGui::Render();
        window.render(app.theme().palette.paper);
        window.show();
        glFinish();
        empty_s += seconds_since(began);
    }
    m.frame_empty_ms = 1000.0 * empty_s / counted;
}

// The real loop for some seconds. `work`: a hand at work, else nobody touches it. Per cent of one core, all threads.
double measure_loop(Loop& loop, App& app, double for_s, bool work, double& frames_per_s) {
    const auto began = Clock::now();
    const double cpu = cpu_seconds(RUSAGE_SELF);
    auto frame_began = began;
    int frames = 0;
    while (seconds_since(began) < for_s) {
        if (!loop.gather(frame_began)) {
            continue;
        }
        const double frame_s = seconds_since(frame_began);
        frame_began = Clock::now();
        Input input = loop.take_input();
        if (work) {
            input = working_input(app, 1000 + frames);
        }
        loop.build(frame_s, input);
        loop.present();
        ++frames;
    }
    const double wall_s = seconds_since(began);
    frames_per_s = frames / wall_s;
    return 100.0 * (cpu_seconds(RUSAGE_SELF) - cpu) / wall_s;
}

Measured measure_in_child(const std::filesystem::path& folder) {
    Measured m;
    const auto began = Clock::now();
    Window window;
    if (const std::string why = window.open(1366, 768, true); !why.empty()) {
        say(m, "no window: " + why);
        return m;
    }
    AppOptions options;
    options.config = folder / "config";
    options.data = folder / "data";
    options.mute = true;
    App app(options);
    Loop loop(window, app);
    if (const std::string trouble = loop.build(0.0, {}); !trouble.empty()) {
        say(m, trouble);
        return m;
    }
    loop.present();
    glFinish();
    m.first_frame_s = seconds_since(began);
    double frames_per_s = 0.0;
    double ignored = 0.0;
    measure_loop(loop, app, 0.5, false, ignored); // what the start leaves behind
    m.idle_percent = measure_loop(loop, app, 3.0, false, ignored);
    measure_frames(window, loop, app, m);
    m.exercise_percent = measure_loop(loop, app, 3.0, true, frames_per_s);
    if (frames_per_s < 30.0) {
        say(m, fmt::format("only {:.0f} frames a second were drawn", frames_per_s));
    }
    return m;
}

std::optional<double> given(double value) { return value < 0.0 ? std::nullopt : std::optional(value); }

} // namespace

// In a child process, so that this one's memory and graphics driver do not count and a crash there is only a missing
// number. first_frame_s counts from the child's beginning: program start and linking (some ten milliseconds) come
// before.
WindowFigures measure_window() {
    WindowFigures figures;
    std::array<int, 2> ends{};
    std::string pattern = (std::filesystem::temp_directory_path() / "sondeyard-bench-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr || pipe(ends.data()) != 0) {
        figures.why_not = "no temporary folder or pipe for measuring the window";
        return figures;
    }
    std::fflush(nullptr);
    const pid_t child = fork();
    if (child == 0) {
        close(ends[0]);
        Measured m;
        try {
            m = measure_in_child(pattern);
        } catch (const std::exception& e) {
            say(m, e.what());
        }
        const bool sent = write(ends[1], &m, sizeof m) == static_cast<ssize_t>(sizeof m);
        _exit(sent ? 0 : 1); // not exit: this process's own endings are the parent's business
    }
    close(ends[1]);
    Measured m;
    const bool received = child > 0 && read(ends[0], &m, sizeof m) == static_cast<ssize_t>(sizeof m);
    close(ends[0]);
    int status = 0;
    rusage use{};
    if (child > 0) {
        wait4(child, &status, 0, &use);
    }
    std::error_code ignored;
    std::filesystem::remove_all(pattern, ignored);
    if (!received) {
        figures.why_not = "the window ended while it was being measured";
        return figures;
    }
    figures.why_not = m.why_not.data();
    figures.frame_ms = given(m.frame_ms);
    figures.frame_rendered_ms = given(m.frame_rendered_ms);
    figures.frame_empty_ms = given(m.frame_empty_ms);
    figures.first_frame_s = given(m.first_frame_s);
    figures.idle_percent = given(m.idle_percent);
    figures.exercise_percent = given(m.exercise_percent);
    if (figures.first_frame_s) {
        figures.peak_memory_mb = static_cast<double>(use.ru_maxrss) / 1024.0;
    }
    return figures;
}

} // namespace sondeyard::ui
