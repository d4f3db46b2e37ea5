// The window's time machine: opening a stored work log, and what time and keys do to the replay view.
#include "scenarios/log_header.hpp"
#include "ui/window/app.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

namespace sondeyard::ui {

namespace {

// Where the log's yard is that of a bundled exercise, "again" and "next" go on from there.
int row_of(const std::vector<CourseRow>& rows, const field::LogHeader& header) {
    const auto row = std::ranges::find_if(rows, [&](const CourseRow& r) {
        try {
            const field::World world = scenarios::resolve(scenarios::bundled(r.name), header.seed);
            return scenarios::to_toml(world) == header.scenario_toml;
        } catch (const std::exception&) {
            return false; // no yard for this seed: not that one
        }
    });
    return row == rows.end() ? -1 : static_cast<int>(row - rows.begin());
}

std::string what_to_know(const field::WorkLog& log, const field::ReplayResult& played) {
    std::string words;
    const auto say = [&](const std::string& sentence) { words += (words.empty() ? "" : " ") + sentence; };
    if (!log.fault.empty()) {
        say(fmt::format("{}. Played up to there.", log.fault));
    }
    if (played.first_difference) {
        say(fmt::format("This is not quite what was seen then: {}.", played.first_difference->what));
    }
    if (!played.state.finished_tick && log.fault.empty()) {
        say("The exercise was left unfinished; the score is that of its last moment.");
    }
    return words;
}

} // namespace

void App::open_log(const std::filesystem::path& path) {
    field::WorkLog log = field::read_log(path);
    if (log.actions.empty()) {
        throw field::LogError(log.fault.empty() ? fmt::format("{}: nothing was done in it", path.string())
                                                : fmt::format("{}; nothing before that can be played", log.fault));
    }
    field::World world = scenarios::world_of(log.header, path.string());
    const int row = row_of(rows_, log.header);
    scenarios::Scenario scenario =
        row >= 0 ? scenarios::bundled(rows_[static_cast<std::size_t>(row)].name)
                 : scenarios::parse_scenario(log.header.scenario_toml, fmt::format("{}: scenario", path.string()));
    auto session = std::make_unique<Session>(std::move(scenario), log.header.seed, std::move(world));
    session->course_index = row;
    session->record = std::move(log);
    session->started = true;
    const field::ReplayResult played = field::replay(session->setting, session->record);
    session->state = played.state;
    session->seen = field::observe(session->setting, session->state);
    session->debrief_ui.shown = DebriefView::replay;
    session->debrief_ui.message = what_to_know(session->record, played);
    session->units = units();
    session->score = field::score(session->setting, session->state, session->units);
    session->debrief = field::debrief(session->setting, session->state, *session->score, session->units);
    session_ = std::move(session);
    take_up_units();
    page_ = Page::debrief;
    message_.clear();
    left_choice_.reset();
}

bool App::try_to_open_log(const std::filesystem::path& path) {
    try {
        open_log(path);
        return true;
    } catch (const std::exception& e) {
        message_ = e.what();
        page_ = Page::start;
        return false;
    }
}

// A step's key goes on stepping while it is held, after a moment.
void App::hold_replay_steps(const Input& input, double frame_s) {
    struct Step {
        std::string_view id;
        double by_s;
    };
    static constexpr std::array<Step, 4> steps = {{{"replay_back", -1.0},
                                                   {"replay_on", 1.0},
                                                   {"replay_far_back", -replay_far_s},
                                                   {"replay_far_on", replay_far_s}}};
    constexpr double wait_s = 0.35;
    constexpr double a_second = 8.0;
    ReplayUi& ui = session_->debrief_ui.replay;
    const CommandContext c = context();
    const auto* const step = std::ranges::find_if(steps, [&](const Step& s) { return key_down(s.id, input, c); });
    ui.key_held_s = step == steps.end() ? 0.0 : ui.key_held_s + std::min(frame_s, 0.1);
    if (step != steps.end() && ui.key_held_s > wait_s) {
        step_replay(ui, step->by_s * a_second * std::min(frame_s, 0.1));
    }
}

void App::update_replay(const Input& input, double frame_s) {
    Session& s = *session_;
    if (s.debrief_ui.shown != DebriefView::replay) {
        s.debrief_ui.replay.playing = false;
        return;
    }
    ReplayUi& ui = s.debrief_ui.replay;
    if (!ui.model) {
        ui.model = std::make_unique<ReplayModel>(s.setting, s.record);
    }
    if (const auto wished = std::exchange(s.debrief_ui.wish_tick, std::nullopt)) {
        ui.at_s = static_cast<double>(*wished) * field::tick_s + 1e-6;
        ui.playing = false;
    }
    hold_replay_steps(input, frame_s);
    advance_replay(ui, frame_s, !hidden_);
}

bool App::replaying() const {
    return page_ == Page::debrief && session_ && session_->debrief_ui.shown == DebriefView::replay &&
           session_->debrief_ui.replay.model;
}

} // namespace sondeyard::ui
