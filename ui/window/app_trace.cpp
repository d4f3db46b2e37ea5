// What --trace prints of the program.
#include "ui/window/app.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

namespace sondeyard::ui {

namespace {

using Lines = std::vector<std::string>;

void add_exercise(const Session& s, Lines& now) {
    const PlanView& v = s.ui.view;
    now.push_back(fmt::format("view {:.3f} {:.3f} {:.2f} {:.0f} {:.0f} {:.0f} {:.0f}", v.centre_m.x, v.centre_m.y,
                              v.px_per_m, v.origin.x, v.origin.y, v.size.x, v.size.y));
    now.push_back(fmt::format("marks={}", s.state.notebook.marks.size()));
    now.push_back(fmt::format("readings={}", s.state.notebook.readings.size()));
    now.push_back(fmt::format("dig={}", s.state.notebook.dig ? 1 : 0));
    now.push_back(fmt::format("frequency={:.0f}", s.seen.frequency_hz));
    now.push_back(fmt::format("typing {}", s.ui.form.open && s.ui.form.active != FormNumber::none ? "yes" : "no"));
    now.push_back(fmt::format("question {}", s.finish_asked ? "finish" : s.leave_asked ? "leave" : "none"));
    now.push_back(fmt::format("tip {:.2f} {:.2f} {:.2f} facing {:.0f} lean {:.1f} signal {:.1f} dip {}", s.seen.tip_m.x,
                              s.seen.tip_m.y, s.seen.tip_height_m, s.seen.facing_deg, s.seen.lean_deg,
                              s.seen.signal_dbpt, s.seen.has_axis ? fmt::format("{:.0f}", s.seen.dip_deg) : "none"));
}

void add_replay(const ReplayUi& replay, Lines& now) {
    const ReplayModel& model = *replay.model;
    now.push_back(fmt::format("replay {} of {} {} {:g}x truth {} trail {} {}", model.tick(), model.last_tick(),
                              replay.playing ? "playing" : "still", replay_speeds[replay.speed],
                              replay.truth ? "shown" : "hidden", name_of(replay.colour),
                              model.ready() ? "ready" : "preparing"));
    now.push_back(fmt::format("graph {:.0f} {:.0f} {:.0f} {:.0f}", replay.graph_low.x, replay.graph_low.y,
                              replay.graph_high.x, replay.graph_high.y));
}

std::string line_of(const CoachState& coach) {
    if (coach.open()) {
        return fmt::format("coach question {}", coach.at + 1);
    }
    if (coach.asks()) {
        const bool right = coach.answers[coach.at] == coach.findings[coach.at].question.right;
        return fmt::format("coach answer {} {}", coach.at + 1, right ? "right" : "wrong");
    }
    return fmt::format("coach list {} chosen {}", coach.findings.size(), coach.chosen + 1);
}

} // namespace

// Lines for tests that work the window from outside (--trace), each printed when it changes, the tip's at most five
// times a second:
//   page start|exercise|debrief|lesson_result|people|progress
//   list lessons|exercises chosen N                  (on the start page, counted from 0)
//   view CENTRE_EAST CENTRE_NORTH PX_PER_M LEFT TOP WIDTH HEIGHT   (metres, pixels)
//   sheet marks A B spacing M depth M rise M sure M M tilt DEG LOW HIGH from_a M calls N TRUST | sheet marks A B no fix
//   boxes X Y ... | texts TEXT|...   (where the worksheet's numbers are, in pixels, and what stands in them)
//   lesson NAME guided|test step DONE seed SEED      (while one is taken)
//   debrief result|coach|known|replay
//   coach question N | coach answer N right|wrong | coach list COUNT chosen N
//   replay TICK of LAST still|playing SPEEDx truth shown|hidden trail plain|signal|speed preparing|ready
//   graph LEFT TOP RIGHT BOTTOM   (of the replay, pixels)
//   map off|CELLS   (in the debrief: on the longer side, of the finest pass that is whole)
//   marks=N  readings=N  dig=0|1  frequency=HZ  typing yes|no  question none|finish|leave      size WIDTH HEIGHT
//   tip EAST NORTH HEIGHT facing DEG lean DEG signal DBPT dip DEG|none
//   button ID X Y on|off     row N X Y     (where something to be clicked stands; X Y is "gone" when it is out of sight)
// and, when they happen: "reading DEPTH|none", "score POINTS passed|not passed", "lesson result passed|not passed",
// "csv FILE|failed", "picture FILE|failed".
void App::note_trace(ImVec2 size) {
    Lines now = {fmt::format("page {}", name_of(page_))};
    if (page_ == Page::exercise && session_) {
        add_exercise(*session_, now);
    }
    if (page_ == Page::start) {
        now.push_back(fmt::format("list {} chosen {}", start_ui_.list == StartList::lessons ? "lessons" : "exercises",
                                  start_ui_.selected));
    }
    if (page_ == Page::exercise && session_ && left(size) == LeftPanel::worksheet) {
        std::ranges::copy(trace_lines(session_->ui.worksheet), std::back_inserter(now));
    }
    if (session_ && session_->lesson) {
        const LessonRun& run = *session_->lesson;
        now.push_back(fmt::format("lesson {} {} step {} seed {}", run.lesson().name, run.test ? "test" : "guided",
                                  run.work.step, run.seed));
    }
    if (page_ == Page::debrief && session_) {
        const DebriefState& ui = session_->debrief_ui;
        now.push_back(fmt::format("debrief {}", name_of(ui.shown)));
        if (replaying()) {
            add_replay(ui.replay, now);
        }
        if (ui.shown == DebriefView::coach) {
            now.push_back(line_of(ui.coach));
        }
        now.push_back(ui.map && ui.layer != MapLayer::none
                          ? fmt::format("map {} {}", name_of(ui.layer), ui.map->finished())
                          : "map off");
    }
    now.push_back(fmt::format("size {:.0f} {:.0f}", size.x, size.y));
    for (const std::string& line : now) {
        const std::string_view kind(line.data(), line.find_first_of(" ="));
        const auto before = std::ranges::find_if(traced_, [&](const std::string& t) { return t.starts_with(kind); });
        if (before == traced_.end()) {
            traced_.push_back(line);
            trace_.push_back(line);
        } else if (*before != line && (kind != "tip" || session_->state.tick % 12 < 3)) {
            *before = line;
            trace_.push_back(line);
        }
    }
}

void App::note_places(const std::vector<ClickPlace>& all) {
    const auto name_of = [](const ClickPlace& p) {
        return p.row >= 0 ? fmt::format("{} {}", p.id, p.row) : fmt::format("button {}", p.id);
    };
    const auto same = [](const ClickPlace& a) {
        return [&a](const ClickPlace& b) { return a.id == b.id && a.row == b.row; };
    };
    std::vector<ClickPlace> now; // of a command with two buttons the first
    std::ranges::copy_if(all, std::back_inserter(now),
                         [&](const ClickPlace& p) { return &*std::ranges::find_if(all, same(p)) == &p; });
    for (const ClickPlace& p : now) {
        const auto before = std::ranges::find_if(places_, same(p));
        if (before == places_.end() || *before != p) {
            trace_.push_back(fmt::format("{} {} {}{}", name_of(p), p.x, p.y, p.row >= 0 ? "" : p.on ? " on" : " off"));
        }
    }
    for (const ClickPlace& p : places_) {
        if (std::ranges::none_of(now, same(p))) {
            trace_.push_back(fmt::format("{} gone", name_of(p)));
        }
    }
    places_ = std::move(now);
}

} // namespace sondeyard::ui
