#include "ui/window/session.hpp"

#include "scenarios/log_header.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>

namespace sondeyard::ui {

namespace fs = std::filesystem;

namespace {

constexpr int hint_every_ticks = 6;

fs::path free_log_path(const fs::path& folder, std::string_view title) {
    const std::string stem = file_stem_of(title) + "-" + local_time_text("%Y%m%d-%H%M%S");
    fs::path path = folder / (stem + ".jsonl");
    for (int n = 2; fs::exists(path); ++n) {
        path = folder / fmt::format("{}-{}.jsonl", stem, n);
    }
    return path;
}

} // namespace

Session::Session(scenarios::Scenario s, std::uint64_t with_seed, field::World world)
    : scenario(std::move(s)), seed(with_seed), setting(std::move(world)), state(field::start(setting)),
      seen(field::observe(setting, state)) {
    hand.place_m = seen.tip_m;
    hand.height_m = carried_height_m;
    history.push(0, seen.signal_dbpt);
    hint = field::next_hint(setting.brief, state, seen);
}

CommandContext context_of(const Session& s) {
    CommandContext c = work_context(s.setting.brief, s.state);
    c.tip_down = s.hand.height_m < 0.05;
    c.lifted = s.hand.height_m == field::lift_m;
    c.finish_asked = s.finish_asked;
    c.leave_asked = s.leave_asked;
    c.mark_selected =
        std::ranges::any_of(s.state.notebook.marks, [&](const field::Mark& m) { return m.id == s.ui.selected_mark; });
    c.form_open = s.ui.form.open;
    c.has_tilt_calls = !s.ui.worksheet.calls.empty();
    c.field_allowed = s.ui.field_allowed;
    c.paused = s.clock.paused();
    c.next_map = map_label(s.score ? s.debrief_ui.layer : s.ui.layer);
    const field::Lesson& lesson = s.setting.world.lesson;
    c.view = s.debrief_ui.shown;
    c.in_lesson = s.lesson != nullptr;
    c.lesson_passed = s.lesson && s.lesson->passed;
    const CoachState& coach = s.debrief_ui.coach;
    c.coach_asks = coach.asks();
    c.has_findings = !coach.findings.empty();
    c.has_moment = coach.shown() != nullptr && coach.shown()->tick.has_value();
    c.has_lesson = !(lesson.different.empty() && lesson.tell.empty() && lesson.act.empty());
    return c;
}

void step_once(Session& s, const Input& input, const CommandContext& context) {
    follow_keys(s.hand, input, context, s.seen.tip_m);
    field::Action action;
    action.move = move_of(s.hand, input, context, s.seen);
    if (!s.queue.empty()) {
        action.command = s.queue.front();
        s.queue.pop_front();
    }
    s.seen = field::step(s.setting, s.state, action);
    field::record_tick(s.record, action, s.seen, s.state);
    if (s.lesson) {
        follow(*s.lesson, s.setting, s.state, s.seen);
    }
    if (s.log) {
        s.log->record(action, s.seen, s.state);
    }
    s.history.push(s.state.tick, s.seen.signal_dbpt);
    if (action.command) {
        s.note = field::in_units(s.seen.note, s.units);
    }
    if (action.command || s.state.tick % hint_every_ticks == 0) {
        s.hint = field::next_hint(s.setting.brief, s.state, s.seen, s.units);
    }
}

// ---- The work log ----

void check_log_can_be_made(const fs::path& file) {
    const int fd = ::open(file.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
    if (fd < 0) {
        const int error = errno;
        throw field::LogError(
            error == EEXIST ? fmt::format("{}: there is a file of this name already; a work log is never written over",
                                          file.string())
                            : fmt::format("{}: cannot be written: {}", file.string(), std::strerror(error)));
    }
    ::close(fd);
    ::unlink(file.c_str());
}

void begin_log(Session& s, const std::optional<fs::path>& asked, const fs::path& data) {
    try {
        s.record.header = scenarios::log_header(s.setting.world, SONDEYARD_VERSION);
        if (asked) {
            s.log_path = *asked;
        } else if (data.empty()) {
            throw field::LogError(std::string(no_home));
        } else {
            fs::create_directories(data / "logs");
            s.log_path = free_log_path(data / "logs", s.setting.brief.sheet.title);
        }
        s.log = std::make_unique<field::LogWriter>(s.log_path, s.record.header);
    } catch (const std::exception& e) {
        s.log_trouble = fmt::format("No work log is written: {}.", e.what());
    }
}

void watch_log(Session& s) {
    if (s.log && s.log_trouble.empty() && !s.log->broken().empty()) {
        s.log_trouble = fmt::format("{}: {}.", s.log_path.string(), s.log->broken());
    }
}

void end_log(Session& s) {
    if (s.log) {
        s.log->end(s.state);
        watch_log(s);
    }
}

} // namespace sondeyard::ui
