// The time machine: the exercise once more, at any moment. Plan and instruments as they were then, graph of the whole time
// below, a list of what was done. The truth is on the plan only when it is asked for.
#include "ui/window/controls.hpp"
#include "ui/window/debrief_views.hpp"
#include "ui/window/drafting.hpp"
#include "ui/window/field_map.hpp"
#include "ui/window/replay_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace sondeyard::ui {

namespace {

// ---- Plan

glm::dvec2 middle_of(const PlanExtent& extent) { return 0.5 * (extent.low_m + extent.high_m); }

// All that was walked.
PlanExtent walked(const ReplayModel& model) {
    PlanExtent extent{model.seen().tip_m, model.seen().tip_m};
    for (const field::TrailPoint& p : model.whole_trail()) {
        extent.low_m = glm::min(extent.low_m, p.tip_m);
        extent.high_m = glm::max(extent.high_m, p.tip_m);
    }
    const glm::dvec2 half = glm::max(0.5 * (extent.high_m - extent.low_m) + 1.0, glm::dvec2{3.0});
    return {middle_of(extent) - half, middle_of(extent) + half};
}

void work_view(const DebriefParts& page, ReplayModel& model, ImVec2 origin, ImVec2 size) {
    ReplayUi& ui = page.state.replay;
    const bool resized = ui.view.size.x != size.x || ui.view.size.y != size.y;
    ui.view.origin = origin;
    ui.view.size = size;
    if (model.ready() && (!ui.view_placed || (resized && ui.follow))) {
        const PlanExtent extent = walked(model);
        ui.view.fit(extent.low_m, extent.high_m);
        ui.view_placed = true;
    }
    if (model.ready() && page.state.wish_place_m) { // at the whole way's scale what a finding is about is a dot
        constexpr double depths_round = 2.0;
        const glm::dvec2 half(depths_round * std::max(page.score.true_depth_m, sim::closest_range_m));
        const glm::dvec2 place = *std::exchange(page.state.wish_place_m, std::nullopt);
        ui.view.fit(place - half, place + half);
        ui.view_placed = true;
    }
    const bool dragged = touch_plan("##replay_plan", ui.view, origin, size) && ImGui::GetIO().MouseWheel == 0.0F;
    ui.follow = ui.follow && !dragged;
    if (ui.follow) {
        follow_operator(ui.view, model.seen().tip_m);
    }
}

void draw_then(const DebriefParts& page, ReplayModel& model, ImVec2 origin, ImVec2 size) {
    const ReplayUi& ui = page.state.replay;
    const field::SondeTruth sonde = field::sonde_now(page.setting, model.state());
    PlanContent content = finished_work(page);
    content.notebook = &model.state().notebook;
    content.seen = &model.seen();
    content.trail = model.state().trail;
    content.trail_colours = model.trail_colours(ui.colour);
    if (ui.truth) {
        add_truth(page, content);
        content.sonde_then = &sonde;
        content.points = &true_points_of(page);
    }
    draw_plan(*ImGui::GetWindowDrawList(), page.theme, ui.view, content);
    ImGui::GetWindowDrawList()->AddRect(origin, origin + size, page.ink().hatch, 0.0F, 0, 1.0F);
}

// ---- The list of what was done

void draw_row(const DebriefParts& page, const field::Event& event, bool current, float width) {
    ReplayUi& ui = page.state.replay;
    const Theme& theme = page.theme;
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const std::string words = event_words(page, event);
    const float from = at.x + 0.4F * theme.h + text_size(theme.note, "00:00 ").x;
    const std::vector<std::string_view> lines = wrapped(theme.note, words, at.x + width - from);
    const float more = static_cast<float>(lines.size()) - 1.0F;
    const float high = std::floor((1.25F + more) * theme.note->FontSize);
    ImGui::InvisibleButton("##event", {width, high});
    ImDrawList& list = *ImGui::GetWindowDrawList();
    if (current || ImGui::IsItemHovered()) {
        list.AddRectFilled(at, at + ImVec2{width, high}, with_alpha(page.ink().grid, current ? 1.0F : 0.5F));
    }
    if (current) { // a bar, so that it is not said by a shade alone
        list.AddRectFilled(at, at + ImVec2{std::floor(0.2F * theme.h), high}, page.ink().survey);
    }
    float top = at.y + 0.1F * theme.note->FontSize;
    draw_text(list, theme.note, {at.x + 0.4F * theme.h, top}, page.ink().quiet, clock_text(event.tick));
    for (const std::string_view line : lines) {
        draw_text(list, theme.note, {from, top}, event.refused ? page.ink().warning : page.ink().ink, line);
        top += theme.note->FontSize;
    }
    if (ImGui::IsItemClicked()) {
        jump_replay(ui, &event);
    }
}

void draw_events_list(const DebriefParts& page, const ReplayModel& model, ImVec2 size) {
    ReplayUi& ui = page.state.replay;
    ui.list_low = ImGui::GetCursorScreenPos();
    ImGui::BeginChild("##events", size, false, ImGuiWindowFlags_NoNav);
    const std::vector<field::Event>& events = model.timeline().events;
    const field::Event* last = field::event_before(model.timeline(), model.tick() + 1);
    const float width = ImGui::GetContentRegionAvail().x;
    if (events.empty()) {
        write(page.theme.note, page.ink().quiet, "Nothing was marked or read.", ImGui::GetCursorPosX() + width);
    }
    int id = 0;
    for (const field::Event& event : events) {
        ImGui::PushID(id++);
        draw_row(page, event, &event == last, width);
        ImGui::PopID();
        if (&event == last && ui.listed_tick != event.tick) {
            ImGui::SetScrollHereY(0.5F);
            ui.listed_tick = event.tick;
        }
    }
    ImGui::EndChild();
}

// ---- Where it stands, and the buttons

std::string speed_words(const DebriefParts& page, double m_s) {
    return page.units() == field::Units::feet ? fmt::format("{:.1f} ft/s", m_s / field::metres_per_foot)
                                              : fmt::format("{:.1f} m/s", m_s);
}

// The trail's colours with their figures; returns its width.
float draw_trail_legend(const DebriefParts& page, const ReplayModel& model, ImVec2 right_top) {
    const ReplayUi& ui = page.state.replay;
    if (ui.colour == TrailColour::plain) {
        return 0.0F;
    }
    const Theme& theme = page.theme;
    const bool signal = ui.colour == TrailColour::signal;
    const ColourScale& scale = signal ? model.signal_scale() : ReplayModel::speed_scale;
    const std::string low = signal ? fmt::format("trail: signal {:.0f}", scale.low) : "trail: speed 0";
    const std::string high = signal ? fmt::format("{:.0f} dBpT", scale.high) : speed_words(page, scale.high);
    const float bar = 6.0F * theme.h;
    const float space = 0.35F * theme.h;
    const float width = text_size(theme.note, low).x + bar + text_size(theme.note, high).x + 2.0F * space;
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const float left = std::floor(right_top.x - width);
    const float bar_left = std::floor(left + text_size(theme.note, low).x + space);
    const float top = std::floor(right_top.y + 0.25F * theme.h);
    draw_text(list, theme.note, {left, right_top.y + 0.05F * theme.h}, page.ink().quiet, low);
    constexpr int steps = 32;
    for (int k = 0; k < steps; ++k) {
        list.AddRectFilled({bar_left + bar * static_cast<float>(k) / steps, top},
                           {bar_left + bar * static_cast<float>(k + 1) / steps, top + 0.6F * theme.h},
                           cividis((k + 0.5) / steps));
    }
    list.AddRect({bar_left, top}, {bar_left + bar, top + 0.6F * theme.h}, page.ink().quiet, 0.0F, 0, 1.0F);
    draw_text(list, theme.note, {bar_left + bar + space, right_top.y + 0.05F * theme.h}, page.ink().quiet, high);
    return width;
}

void draw_status(const DebriefParts& page, const ReplayModel& model, float width) {
    const ReplayUi& ui = page.state.replay;
    const Theme& theme = page.theme;
    const ImVec2 at = ImGui::GetCursorScreenPos();
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const std::string time = fmt::format("{} of {}", clock_text(model.tick()), clock_text(model.last_tick()));
    draw_text(list, theme.figures, at, page.ink().ink, time);
    float x = at.x + text_size(theme.figures, time).x + theme.h;
    const std::string pace = fmt::format("{:g}x  {}", replay_speeds[ui.speed], ui.playing ? "playing" : "paused");
    draw_text(list, theme.text, {x, at.y}, page.ink().quiet, pace);
    x += text_size(theme.text, "0.5x  playing").x + theme.h;
    const float legend = draw_trail_legend(page, model, {at.x + width, at.y});
    if (const field::Event* last = field::event_before(model.timeline(), model.tick() + 1)) {
        list.PushClipRect({x, at.y}, {at.x + width - legend - theme.h, at.y + 1.3F * theme.h}, true);
        const std::string words = fmt::format("{}  {}", clock_text(last->tick), event_words(page, *last));
        const bool fits = text_size(theme.text, words).x < at.x + width - legend - theme.h - x;
        draw_text(list, fits ? theme.text : theme.note, {x, at.y}, page.ink().ink, words);
        list.PopClipRect();
    }
    ImGui::Dummy({width, 1.3F * theme.h});
}

// The most used first; where there is little room the last two have their keys only.
std::vector<PageButton> replay_buttons(const DebriefParts& page) {
    const ReplayUi& ui = page.state.replay;
    std::vector<PageButton> buttons = {{"replay_play", ui.playing ? "Pause" : "Play"},
                                       {"replay_before", {}},
                                       {"replay_after", {}},
                                       {"replay_slower", {}},
                                       {"replay_faster", {}},
                                       {"replay_truth", ui.truth ? "Hide truth" : "Show truth"}};
    if (!page.tight) {
        buttons.push_back({"replay_colour", {}});
        buttons.push_back({"replay_follow", ui.follow ? "Stop following" : "Follow"});
    }
    return buttons;
}

ExerciseModel instruments_of(const DebriefParts& page, const ReplayModel& model) {
    return {.brief = page.setting.brief,
            .notebook = model.state().notebook,
            .seen = model.seen(),
            .trail = model.state().trail,
            .truck_checks = model.state().truck_checks,
            .history = model.history(),
            .context = page.context,
            .settings = page.settings};
}

} // namespace

std::string event_words(const DebriefParts& page, const field::Event& event) {
    const std::string words = field::event_text(event, page.units());
    return event.note.empty() ? words : fmt::format("{}: {}", words, event.note);
}

void debrief_replay(const DebriefParts& page, ImVec2 size) {
    ReplayUi& ui = page.state.replay;
    if (!ui.model) { // made by the program's update, before the first frame that shows it
        return;
    }
    ReplayModel& model = *ui.model;
    model.go_to(replay_tick(ui));
    const float h = page.h();
    const ImVec2 start = ImGui::GetCursorScreenPos();
    const std::vector<PageButton> buttons = replay_buttons(page);
    const float controls = 1.4F * h + static_cast<float>(button_rows(page, buttons, size.x)) * button_row_h * h;
    const float graph = std::clamp(0.34F * size.y, 6.5F * h, 15.0F * h);
    const float upper = std::floor(std::max(5.0F * h, size.y - controls - graph - 0.25F * h));
    const float gap = std::floor(0.4F * h);
    const float display = std::floor(std::min((page.tight ? 23.5F : 17.0F) * h, 0.56F * size.x));
    const float listed = size.x > 52.0F * h ? std::floor(16.0F * h) : 0.0F; // else the line below and the graph say it
    const float plan = std::floor(size.x - display - gap - (listed > 0.0F ? listed + gap : 0.0F));
    work_view(page, model, start, {plan, upper});
    draw_then(page, model, start, {plan, upper});
    receiver_display(page.theme, {start + ImVec2{plan + gap, 0.0F}, {display, upper}}, instruments_of(page, model));
    if (listed > 0.0F) {
        ImGui::SetCursorScreenPos(start + ImVec2{plan + display + 2.0F * gap, 0.0F});
        draw_events_list(page, model, {listed, upper});
    }
    ImGui::SetCursorScreenPos(start + ImVec2{0.0F, upper + 0.2F * h});
    draw_status(page, model, size.x);
    ImGui::SetCursorScreenPos(start + ImVec2{0.0F, upper + 1.5F * h});
    draw_buttons(page, buttons, size.x);
    ImGui::SetCursorScreenPos(start + ImVec2{0.0F, upper + controls + 0.2F * h});
    replay_graph(page, model, {size.x, graph});
}

} // namespace sondeyard::ui
