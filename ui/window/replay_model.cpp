#include "ui/window/replay_model.hpp"

#include "ui/window/field_map.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>

namespace sondeyard::ui {

namespace {

constexpr std::int64_t slice_ticks = 240; // between two looks at the clock
constexpr double prepare_s = 0.008;       // of a frame
constexpr int shades = 32;                // of a coloured trail: more are not told apart, and fewer strokes are drawn

ImU32 shade(double share) { return cividis((std::floor(share * (shades - 1)) + 0.5) / (shades - 1)); }

std::vector<float> floats(std::span<const double> values) { return {values.begin(), values.end()}; }

} // namespace

std::string_view name_of(TrailColour colour) {
    switch (colour) {
    case TrailColour::plain:
        return "plain";
    case TrailColour::signal:
        return "signal";
    case TrailColour::speed:
        return "speed";
    }
    return "";
}

double ColourScale::share(double value) const {
    return high > low ? std::clamp((value - low) / (high - low), 0.0, 1.0) : 0.0;
}

ReplayModel::ReplayModel(const field::Setting& setting, const field::WorkLog& record) : player_(setting, record) {
    history_.rebuild(std::array{player_.seen().signal_dbpt}, 0);
}

bool ReplayModel::prepare(double for_s) {
    using Clock = std::chrono::steady_clock;
    const Clock::time_point until =
        Clock::now() + std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(std::max(0.0, for_s)));
    while (!ready_) {
        if (!player_.prepare(slice_ticks)) {
            take_stock();
        } else if (Clock::now() >= until) {
            return true;
        }
    }
    return false;
}

double ReplayModel::share_ready() const {
    return ready_ || last_tick() == 0 ? 1.0
                                      : static_cast<double>(player_.prepared()) / static_cast<double>(last_tick());
}

void ReplayModel::take_stock() {
    ready_ = true;
    const field::Timeline& line = player_.timeline();
    signal_.reserve(line.moments.size());
    dip_.reserve(line.moments.size());
    height_.reserve(line.moments.size());
    for (const field::Moment& m : line.moments) {
        signal_.push_back(m.signal_dbpt);
        dip_.push_back(m.dip_deg < 0.0F ? std::numeric_limits<float>::quiet_NaN() : m.dip_deg);
        height_.push_back(m.tip_height_m);
    }
    const auto [low, high] = std::ranges::minmax(signal_);
    signal_scale_ = {std::max(-20.0, 10.0 * std::floor(low / 10.0)), 10.0 * std::ceil(high / 10.0)};
    if (signal_scale_.high <= signal_scale_.low) {
        signal_scale_.high = signal_scale_.low + 10.0;
    }
    const std::span<const field::TrailPoint> trail = player_.trail();
    const std::vector<float> speeds = field::trail_speeds_m_s(trail);
    by_signal_.reserve(trail.size());
    by_speed_.reserve(trail.size());
    for (std::size_t i = 0; i < trail.size(); ++i) {
        by_signal_.push_back(shade(signal_scale_.share(trail[i].signal_dbpt)));
        by_speed_.push_back(shade(speed_scale.share(static_cast<double>(speeds[i]))));
    }
}

void ReplayModel::go_to(std::int64_t tick) {
    const std::int64_t before = player_.state().tick;
    player_.seek(std::min(tick, player_.prepared()));
    const std::int64_t now = player_.state().tick;
    if (ready_ && now != before) {
        history_.rebuild(signal_, now);
    }
}

const ReplayGraph& ReplayModel::graph(int columns) {
    if (ready_ && graph_.columns != columns) {
        graph_.columns = columns;
        const std::vector<float> signal = floats(signal_);
        graph_.signal_dbpt = field::decimated(signal, columns);
        graph_.dip_deg = field::decimated(dip_, columns);
        graph_.height_m = field::decimated(height_, columns);
        graph_.signal_low = signal_scale_.low;
        graph_.signal_high = signal_scale_.high;
        graph_.height_high_m = std::max(1.0, static_cast<double>(std::ranges::max(height_)));
    }
    return graph_;
}

std::span<const ImU32> ReplayModel::trail_colours(TrailColour colour) {
    if (!ready_ || colour == TrailColour::plain) {
        return {};
    }
    const std::vector<ImU32>& all = colour == TrailColour::signal ? by_signal_ : by_speed_;
    return std::span(all).first(std::min(all.size(), player_.state().trail.size()));
}

// ---- Time ----

std::int64_t replay_tick(const ReplayUi& ui) {
    return static_cast<std::int64_t>(std::floor(ui.at_s * static_cast<double>(ticks_per_s) + 1e-6));
}

void advance_replay(ReplayUi& ui, double frame_s, bool running) {
    if (!ui.model) {
        return;
    }
    ReplayModel& model = *ui.model;
    if (!model.ready()) {
        model.prepare(prepare_s);
    }
    const double end_s = static_cast<double>(model.last_tick()) / static_cast<double>(ticks_per_s);
    if (ui.playing && running && std::isfinite(frame_s) && frame_s > 0.0) {
        ui.at_s += std::min(frame_s, 0.25) * replay_speeds[ui.speed];
    }
    ui.at_s = std::clamp(ui.at_s, 0.0, end_s);
    ui.playing = ui.playing && ui.at_s < end_s;
    model.go_to(replay_tick(ui));
}

void step_replay(ReplayUi& ui, double by_s) { ui.at_s = std::max(0.0, ui.at_s + by_s); }

void jump_replay(ReplayUi& ui, const field::Event* event) {
    if (event != nullptr) {
        ui.at_s = static_cast<double>(event->tick) / static_cast<double>(ticks_per_s);
    }
}

} // namespace sondeyard::ui
