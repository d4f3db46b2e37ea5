// What each command of the work does. Held ones are looked at in every tick instead, and the plan's zoom and pan where
// the view is moved.
#include "field/depth_call.hpp"
#include "field/tilt_sheet.hpp"
#include "ui/window/session.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

using field::MarkKind;

// Keys may come faster than ticks: what is asked for already counts as done when the next step of a cycle is chosen.
template <typename T>
const T* last_asked(const Session& s) {
    const auto found = std::find_if(s.queue.rbegin(), s.queue.rend(),
                                    [](const field::Command& c) { return std::holds_alternative<T>(c); });
    return found == s.queue.rend() ? nullptr : &std::get<T>(*found);
}

void hold_hand(Session& s) { s.hand.held_still = !s.hand.held_still; }

void toggle_height(Session& s) { s.hand.height_m = s.hand.height_m > 0.05 ? 0.0 : carried_height_m; }

void lift(Session& s) { s.hand.height_m = s.hand.height_m == field::lift_m ? 0.0 : field::lift_m; }

template <int Degrees>
void turn_by(Session& s) {
    ask(s, field::TurnBy{Degrees});
}

void frequency_next(Session& s) {
    const auto& all = field::receiver_frequencies_hz;
    const auto* asked = last_asked<field::SetFrequency>(s);
    const auto* const now = std::ranges::find(all, asked != nullptr ? asked->frequency_hz : s.seen.frequency_hz);
    ask(s, field::SetFrequency{now == all.end() || now + 1 == all.end() ? all.front() : *(now + 1)});
}

void coil(Session& s) {
    using enum sim::CoilAttitude;
    const auto* asked = last_asked<field::TurnCoil>(s);
    ask(s, field::TurnCoil{(asked != nullptr ? asked->attitude : s.seen.coil) == level ? upright : level});
}

void bandwidth(Session& s) {
    using enum sim::Bandwidth;
    const auto* asked = last_asked<field::SetBandwidth>(s);
    ask(s, field::SetBandwidth{(asked != nullptr ? asked->bandwidth : s.seen.bandwidth) == narrow ? wide : narrow});
}

template <MarkKind Kind>
void place_mark(Session& s) {
    ask(s, field::PlaceMark{Kind});
}

template <MarkKind Kind>
void take_back(Session& s) {
    ask(s, field::TakeBack{Kind});
}

void take_back_last(Session& s) { ask(s, field::TakeBack{s.state.notebook.marks.back().kind}); }

void select_mark(Session& s) {
    const auto& marks = s.state.notebook.marks;
    int& chosen = s.ui.selected_mark;
    const auto now = std::ranges::find(marks, chosen, &field::Mark::id);
    chosen = now == marks.end() ? marks.back().id : now == marks.begin() ? 0 : (now - 1)->id;
}

void move_mark(Session& s) { ask(s, field::MoveMark{s.ui.selected_mark}); }

void read_depth(Session& s) { ask(s, field::ReadDepth{}); }

void delete_reading(Session& s) { ask(s, field::DeleteReading{s.state.notebook.readings.back().id}); }

void undo(Session& s) { ask(s, field::Undo{}); }

void dig_box(Session& s) {
    field::DigBox box = s.state.notebook.dig.value_or(field::DigBox{});
    box.centre_m = s.seen.tip_m;
    box.heading_deg = s.seen.facing_deg;
    ask(s, field::ProposeDig{box});
    s.ui.form.open = true;
}

void dig_method(Session& s) {
    const auto* asked = last_asked<field::ProposeDig>(s);
    field::DigBox box = asked != nullptr ? asked->box : *s.state.notebook.dig;
    using enum field::DigMethod;
    box.method = box.method == hand ? vacuum : box.method == vacuum ? machine : hand;
    ask(s, field::ProposeDig{box});
    s.ui.form.open = true;
}

void dig_to_pipe(Session& s) {
    const field::Notebook& n = s.state.notebook;
    if (!n.depth_call_m) {
        s.note = "Call the depth first: key 6, or type it in.";
        return;
    }
    const auto* asked = last_asked<field::ProposeDig>(s);
    field::DigBox box = asked != nullptr ? asked->box : *n.dig;
    double called_m = *n.depth_call_m; // at the locate; the box's depth counts from the ground at its own middle
    if (const field::Mark* locate = field::find_last(n, field::MarkKind::locate)) {
        const field::Terrain& terrain = s.setting.brief.terrain;
        called_m += field::height_m(terrain, box.centre_m) - field::height_m(terrain, locate->place_m);
    }
    box.depth_m = std::max(0.0, field::pipe_top_depth_m(called_m, s.setting.brief.sheet));
    ask(s, field::ProposeDig{box});
    open_at(s.ui.form, FormNumber::dig_depth);
}

void take_back_dig(Session& s) { ask(s, field::TakeBackDig{}); }

void call_depth(Session& s) {
    if (const std::optional<double> depth_m = field::depth_offer(s.state.notebook).depth_m) {
        ask(s, field::CallDepth{*depth_m});
    }
    open_at(s.ui.form, FormNumber::depth_call);
}

// Tilted comes last, since its key leaves the keyboard in the number of degrees.
void call_tilt(Session& s) {
    using enum field::TiltCall;
    const auto* asked = last_asked<field::CallTilt>(s);
    const field::TiltCall now = asked != nullptr ? asked->call : s.state.notebook.tilt_call;
    const field::TiltCall next = now == none ? level : now == level ? on_end : now == on_end ? tilted : none;
    ask(s, field::CallTilt{next, next == tilted ? s.seen.facing_deg : 0.0, std::nullopt});
    s.ui.form.open = true;
    if (next == tilted) {
        open_at(s.ui.form, FormNumber::tilt);
    }
}

void raised_end(Session& s) {
    ask(s, field::CallTilt{field::TiltCall::tilted, s.seen.facing_deg, s.state.notebook.tilt_angle_call_deg});
    open_at(s.ui.form, FormNumber::raised);
}

void edit_form(Session& s) { open_at(s.ui.form, FormNumber::depth_call); }

void worksheet_take(Session& s) {
    for (const field::Command& call : take_as_calls(s.ui.worksheet)) {
        ask(s, call);
    }
    s.ui.form.open = true; // where the calls can be seen
}

void worksheet_fill(Session& s) { fill_from_notebook(s.ui.worksheet); }

void worksheet_stronger(Session& s) { next_stronger(s.ui.worksheet); }

void truck_check(Session& s) { ask(s, field::TruckCheck{}); }

void read_ticket(Session& s) { ask(s, field::ReadTicket{}); }

template <int Way>
void ask_cable(Session& s) {
    ask(s, field::AskCable{Way * s.ui.cable_step_m});
}

void cable_step(Session& s) {
    static constexpr double ft = field::metres_per_foot;
    static constexpr std::array<double, 4> metric_m = {0.1, 0.5, 1.0, 3.0};
    static constexpr std::array<double, 4> feet_m = {0.5 * ft, ft, 3.0 * ft, 9.0 * ft};
    const std::array<double, 4>& steps_m = s.units == field::Units::feet ? feet_m : metric_m;
    const auto* const now = std::ranges::find(steps_m, s.ui.cable_step_m);
    s.ui.cable_step_m = now == steps_m.end() || now + 1 == steps_m.end() ? steps_m.front() : *(now + 1);
}

void pause(Session& s) {
    if (s.clock.paused()) {
        s.clock.go_on();
    } else {
        s.clock.pause();
    }
}

void finish(Session& s) { s.finish_asked = true; }

void confirm_finish(Session& s) {
    s.finish_asked = false;
    ask(s, field::Finish{});
}

void go_back(Session& s) {
    if (s.finish_asked || s.leave_asked) {
        s.finish_asked = s.leave_asked = false;
    } else {
        s.ui.form.open = false;
    }
}

template <DebriefView View>
void show_view(Session& s) {
    s.debrief_ui.shown = View;
}

void replay_play(Session& s) {
    ReplayUi& ui = s.debrief_ui.replay;
    if (!ui.playing && ui.model && ui.model->tick() == ui.model->last_tick()) {
        ui.at_s = 0.0; // once more from the start
    }
    ui.playing = !ui.playing;
}

template <int By>
void replay_step(Session& s) {
    step_replay(s.debrief_ui.replay, By);
}

template <int By>
void replay_far(Session& s) {
    step_replay(s.debrief_ui.replay, By * replay_far_s);
}

void replay_start(Session& s) { s.debrief_ui.replay.at_s = 0.0; }

void replay_end(Session& s) { s.debrief_ui.replay.at_s = static_cast<double>(s.record.actions.size()) * field::tick_s; }

void replay_before(Session& s) {
    ReplayUi& ui = s.debrief_ui.replay;
    if (ui.model) {
        jump_replay(ui, field::event_before(ui.model->timeline(), replay_tick(ui)));
    }
}

void replay_after(Session& s) {
    ReplayUi& ui = s.debrief_ui.replay;
    if (ui.model) {
        jump_replay(ui, field::event_after(ui.model->timeline(), replay_tick(ui)));
    }
}

template <int By>
void replay_speed(Session& s) {
    const auto last = static_cast<int>(replay_speeds.size()) - 1;
    s.debrief_ui.replay.speed =
        static_cast<std::size_t>(std::clamp(static_cast<int>(s.debrief_ui.replay.speed) + By, 0, last));
}

void replay_truth(Session& s) { s.debrief_ui.replay.truth = !s.debrief_ui.replay.truth; }

void replay_colour(Session& s) {
    TrailColour& colour = s.debrief_ui.replay.colour;
    colour = static_cast<TrailColour>((static_cast<int>(colour) + 1) % 3);
}

void replay_follow(Session& s) { s.debrief_ui.replay.follow = !s.debrief_ui.replay.follow; }

void replay_whole(Session& s) {
    s.debrief_ui.replay.view_placed = false;
    s.debrief_ui.replay.follow = false;
}

void reasons(Session& s) { s.debrief_ui.reasons = !s.debrief_ui.reasons; }

template <int By>
void step_coach(Session& s) {
    coach_step(s.debrief_ui.coach, By);
}

void answer_coach(Session& s) { coach_answer(s.debrief_ui.coach); }

void skip_coach(Session& s) { coach_skip(s.debrief_ui.coach); }

void go_to_moment(Session& s) {
    if (const field::Finding* finding = s.debrief_ui.coach.shown(); finding != nullptr && finding->tick) {
        s.debrief_ui.wish_tick = finding->tick;
        s.debrief_ui.shown = DebriefView::replay;
    }
}

void lesson(Session& s) { s.debrief_ui.lesson_wish = true; }

// While he works, zoom and pan move the view before the hand looks at it; in the debrief there is no hand.
void zoom_debrief(Session& s, double factor) {
    PlanView& view = shown_plan(s.debrief_ui);
    if (s.score) {
        view.zoom_about(ImVec2(view.origin.x + view.size.x / 2, view.origin.y + view.size.y / 2), factor);
    }
}

void zoom_in(Session& s) { zoom_debrief(s, 1.5); }

void zoom_out(Session& s) { zoom_debrief(s, 1.0 / 1.5); }

void follow(Session& s) {
    s.ui.follow = true;
    s.debrief_ui.view_placed = false;
}

void whole_yard(Session& s) {
    s.ui.view_placed = false;
    s.debrief_ui.view.fit({0.0, 0.0}, {s.setting.brief.width_m, s.setting.brief.length_m});
}

struct Entry {
    std::string_view id;
    void (*run)(Session&);
};

constexpr auto entries = std::to_array<Entry>({
    {"hold_hand", hold_hand},
    {"toggle_height", toggle_height},
    {"lift", lift},
    {"half_round", turn_by<180>},
    {"quarter_round", turn_by<90>},
    {"frequency_next", frequency_next},
    {"coil", coil},
    {"bandwidth", bandwidth},
    {"mark_plumb", place_mark<MarkKind::plumb>},
    {"mark_level", place_mark<MarkKind::level>},
    {"mark_peak", place_mark<MarkKind::peak>},
    {"mark_locate", place_mark<MarkKind::locate>},
    {"read_depth", read_depth},
    {"delete_reading", delete_reading},
    {"take_back", take_back_last},
    {"select_mark", select_mark},
    {"move_mark", move_mark},
    {"take_back_plumb", take_back<MarkKind::plumb>},
    {"take_back_level", take_back<MarkKind::level>},
    {"take_back_peak", take_back<MarkKind::peak>},
    {"take_back_locate", take_back<MarkKind::locate>},
    {"undo", undo},
    {"dig_box", dig_box},
    {"call_depth", call_depth},
    {"call_tilt", call_tilt},
    {"raised_end", raised_end},
    {"dig_method", dig_method},
    {"edit_form", edit_form},
    {"dig_to_pipe", dig_to_pipe},
    {"take_back_dig", take_back_dig},
    {"worksheet_take", worksheet_take},
    {"worksheet_fill", worksheet_fill},
    {"worksheet_stronger", worksheet_stronger},
    {"truck_check", truck_check},
    {"read_ticket", read_ticket},
    {"pull_back", ask_cable<-1>},
    {"push_on", ask_cable<1>},
    {"cable_step", cable_step},
    {"zoom_in", zoom_in},
    {"zoom_out", zoom_out},
    {"follow", follow},
    {"whole_yard", whole_yard},
    {"finish", finish},
    {"confirm_finish", confirm_finish},
    {"go_back", go_back},
    {"pause", pause},
    {"view_result", show_view<DebriefView::result>},
    {"view_coach", show_view<DebriefView::coach>},
    {"view_known", show_view<DebriefView::known>},
    {"view_replay", show_view<DebriefView::replay>},
    {"replay_play", replay_play},
    {"replay_back", replay_step<-1>},
    {"replay_on", replay_step<1>},
    {"replay_far_back", replay_far<-1>},
    {"replay_far_on", replay_far<1>},
    {"replay_start", replay_start},
    {"replay_end", replay_end},
    {"replay_before", replay_before},
    {"replay_after", replay_after},
    {"replay_slower", replay_speed<-1>},
    {"replay_faster", replay_speed<1>},
    {"replay_truth", replay_truth},
    {"replay_colour", replay_colour},
    {"replay_follow", replay_follow},
    {"replay_whole", replay_whole},
    {"reasons", reasons},
    {"lesson", lesson},
    {"coach_up", step_coach<-1>},
    {"coach_down", step_coach<1>},
    {"coach_answer", answer_coach},
    {"coach_skip", skip_coach},
    {"coach_moment", go_to_moment},
});

} // namespace

void ask(Session& s, const field::Command& command) {
    s.queue.push_back(command);
    s.clock.go_on();
}

bool carry_out(Session& s, std::string_view id) {
    const auto* const entry = std::ranges::find(entries, id, &Entry::id);
    if (entry == entries.end()) {
        return false;
    }
    entry->run(s);
    return true;
}

} // namespace sondeyard::ui
