#include "ui/window/loop.hpp"

#include "ui/window/picture.hpp"

#include <backends/imgui_impl_sdl.h>

#include <algorithm>
#include <utility>

namespace sondeyard::ui {

namespace {

// After any event: a click is felt in the first frame, asked for in the second, carried out in the third; a list that is
// then rolled to its row needs two more, and what stands under the pointer now is known in the last.
constexpr int settle_frames = 6;
constexpr unsigned idle_wait_ms = 500;

double seconds_since(std::chrono::steady_clock::time_point from) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

} // namespace

bool Loop::turn(std::string& trouble, const std::function<void(Input&)>& hand) {
    if (frame_began_ && !gather()) {
        return false;
    }
    const double frame_s = frame_began_ ? seconds_since(*frame_began_) : 0.0;
    settle_ = frame_began_ ? settle_ : settle_frames;
    frame_began_ = Clock::now();
    Input input = reader_.take();
    if (hand) {
        hand(input);
    }
    trouble = build(frame_s, input);
    if (!trouble.empty()) {
        return false;
    }
    present();
    return true;
}

bool Loop::gather() {
    begin_gathering();
    SDL_Event e;
    if (app_.moving()) {
        // Events before the frame is due are taken in without drawing for each.
        for (;;) {
            const double left_s = frame_interval_s - seconds_since(*frame_began_);
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
    bool any = settle_ > 0 || app_.work_left() ? SDL_PollEvent(&e) != 0 : SDL_WaitEventTimeout(&e, idle_wait_ms) != 0;
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

std::string Loop::build(double frame_s, const Input& input) {
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
    feed_speaker();
    window_.begin_frame();
    app_.draw(size);
    ImGui::Render();
    return {};
}

void Loop::present() {
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

bool Loop::renew_fonts(std::string& trouble) {
    if (!app_.fonts_stale()) {
        return true;
    }
    if (!app_.load_fonts(trouble)) {
        return false;
    }
    Window::fonts_changed();
    return true;
}

void Loop::feed_speaker() {
    const Sound sound = app_.sound();
    speaker_.set({.signal_dbpt = sound.signal_dbpt,
                  .volume = sound.volume,
                  .muted = sound.muted,
                  .hum_dbpt = sound.hum_dbpt,
                  .mains_hz = sound.mains_hz});
    speaker_.set_running(sound.running && !sound.muted);
    app_.set_sound_status(speaker_.status());
}

// A key let go within the frame that it went down in would never be seen as down by what looks at keys once a frame:
// its release waits for the next one.
void Loop::see(const SDL_Event& e) {
    if (e.type == SDL_KEYDOWN && e.key.repeat == 0) {
        down_in_frame_.push_back(e.key.keysym.scancode);
    } else if (e.type == SDL_KEYUP &&
               std::ranges::find(down_in_frame_, e.key.keysym.scancode) != down_in_frame_.end()) {
        releases_.push_back(e);
        return;
    }
    pass_on(e);
}

void Loop::pass_on(const SDL_Event& e) {
    ImGui_ImplSDL2_ProcessEvent(&e);
    reader_.see(e);
}

void Loop::begin_gathering() {
    down_in_frame_.clear();
    for (const SDL_Event& e : std::exchange(releases_, {})) {
        pass_on(e);
    }
}

} // namespace sondeyard::ui
