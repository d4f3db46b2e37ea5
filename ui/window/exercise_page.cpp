#include "ui/window/exercise_page.hpp"

#include "ui/window/drafting.hpp"
#include "ui/window/lesson_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

constexpr float header_h = 2.2F;
constexpr float left_h = 15.5F;
constexpr float tab_h = 1.7F;
constexpr float receiver_h = 17.0F;
constexpr float narrowest_plan_h = 34.0F;

float left_width(const Theme& theme, ImVec2 size, LeftPanel left) {
    if (left == LeftPanel::folded) {
        return std::round(tab_h * theme.h);
    }
    // Help and job sheet may take up to two fifths of a small window; the plan keeps the rest.
    return std::round(std::min(left_h * theme.h, 0.4F * size.x));
}

} // namespace

bool is_narrow(const Theme& theme, ImVec2 size) { return size.x < (left_h + receiver_h + narrowest_plan_h) * theme.h; }

Layout lay_out(const Theme& theme, ImVec2 size, LeftPanel left, const CommandContext& context) {
    Layout l;
    l.narrow = is_narrow(theme, size);
    const float top = std::round(header_h * theme.h);
    const float below = std::round(strip_height(theme, size, context));
    const float middle = std::max(1.0F, size.y - top - below);
    const float west = left_width(theme, size, left);
    const float east = std::round(std::min(receiver_h * theme.h, 0.45F * size.x));
    l.header = {ImVec2(0, 0), ImVec2(size.x, top)};
    l.left = {ImVec2(0, top), ImVec2(west, middle)};
    l.plan = {ImVec2(west, top), ImVec2(std::max(1.0F, size.x - west - east), middle)};
    l.receiver = {ImVec2(size.x - east, top), ImVec2(east, middle)};
    l.strip = {ImVec2(0, top + middle), ImVec2(size.x, below)};
    return l;
}

Layout lay_out_plain(const Theme& theme, ImVec2 size, LeftPanel left) {
    Layout l;
    l.narrow = is_narrow(theme, size);
    const float top = std::round(header_h * theme.h);
    const float west = left == LeftPanel::folded ? 0.0F : left_width(theme, size, left);
    l.header = {ImVec2(0, 0), ImVec2(size.x, top)};
    l.left = {ImVec2(0, top), ImVec2(west, size.y - top)};
    l.plan = {ImVec2(west, top), ImVec2(size.x - west, size.y - top)};
    return l;
}

void move_view(ExerciseUi& ui, const Area& plan, const field::Brief& brief, const field::Observation& seen,
               const Input& input, const CommandContext& context, float frame_s) {
    PlanView& view = ui.view;
    if (ui.whole_yard && (view.size.x != plan.size.x || view.size.y != plan.size.y)) {
        ui.view_placed = false; // nobody has zoomed yet: keep the whole yard in sight
    }
    view.origin = plan.origin;
    view.size = plan.size;
    const ImVec2 p = input.pointer;
    ui.over_plan = p.x >= plan.origin.x && p.y >= plan.origin.y && p.x < plan.origin.x + plan.size.x &&
                   p.y < plan.origin.y + plan.size.y;
    if (!ui.view_placed) {
        view.fit({0.0, 0.0}, {brief.width_m, brief.length_m});
        ui.view_placed = ui.whole_yard = true;
    }
    const auto pressed = [&](std::string_view id) {
        return std::ranges::any_of(input.pressed, [&](const Chord& c) {
            const CommandInfo* info = command_of(c, context);
            return info != nullptr && info->id == id;
        });
    };
    const ImVec2 middle(plan.origin.x + plan.size.x / 2, plan.origin.y + plan.size.y / 2);
    if (ui.over_plan && input.wheel != 0.0F) {
        ui.whole_yard = false;
        view.zoom_about(p, std::pow(1.25, static_cast<double>(input.wheel)));
    }
    if (pressed("zoom_in") || pressed("zoom_out")) { // by keys: about the tip, where the work is
        ui.whole_yard = false;
        const ImVec2 tip = view.to_screen(seen.tip_m);
        const bool in_sight =
            std::abs(tip.x - middle.x) < plan.size.x / 2 && std::abs(tip.y - middle.y) < plan.size.y / 2;
        view.zoom_about(in_sight ? tip : middle, pressed("zoom_in") ? 1.5 : 1.0 / 1.5);
    }
    const auto way = [&](std::string_view plus, std::string_view minus) {
        return (held(plus, input, context) ? 1.0 : 0.0) - (held(minus, input, context) ? 1.0 : 0.0);
    };
    const double step_m = 0.8 * static_cast<double>(plan.size.x * frame_s) / view.px_per_m;
    const glm::dvec2 pan(way("pan_east", "pan_west") * step_m, way("pan_north", "pan_south") * step_m);
    if (pan.x != 0.0 || pan.y != 0.0) {
        view.centre_m = view.centre_m + pan;
        ui.follow = ui.whole_yard = false;
    }
    if (ui.over_plan && (input.dragged.x != 0.0F || input.dragged.y != 0.0F)) {
        view.centre_m.x -= static_cast<double>(input.dragged.x) / view.px_per_m;
        view.centre_m.y += static_cast<double>(input.dragged.y) / view.px_per_m;
        ui.follow = ui.whole_yard = false;
    }
    if (seen.walking && !ui.follow) { // walked out of sight: fetch him back
        const ImVec2 tip = view.to_screen(seen.tip_m);
        ui.follow = std::abs(tip.x - middle.x) > plan.size.x / 2 || std::abs(tip.y - middle.y) > plan.size.y / 2;
    }
    if (ui.follow && !ui.whole_yard) {
        follow_operator(view, seen.tip_m);
    }
}

int mark_at(const PlanView& view, const field::Notebook& notebook, ImVec2 pointer, float radius) {
    int best = 0;
    float nearest = radius;
    for (const field::Mark& m : notebook.marks) {
        const ImVec2 at = view.to_screen(m.place_m);
        const float off = std::hypot(at.x - pointer.x, at.y - pointer.y);
        if (off <= nearest) { // of marks on top of each other the later one
            nearest = off;
            best = m.id;
        }
    }
    return best;
}

std::vector<std::string> missing_items(const field::Notebook& notebook, bool ticket_read) {
    std::vector<std::string> missing;
    const auto need = [&](bool there, const char* what) {
        if (!there) {
            missing.emplace_back(what);
        }
    };
    need(field::find_last(notebook, field::MarkKind::locate) != nullptr, "no locate marked");
    need(notebook.depth_call_m.has_value(), "no depth called");
    need(notebook.tilt_call != field::TiltCall::none, "no tilt called");
    need(notebook.dig.has_value(), "no dig box");
    if (notebook.dig) {
        need(notebook.dig->depth_m > 0.0, "the dig box has no depth");
        need(notebook.dig->method != field::DigMethod::none, "not said how it is dug");
    }
    need(ticket_read, "the ticket is unread");
    return missing;
}

namespace {

void plan_region(const Theme& theme, const Area& area, const ExerciseModel& model, const ExerciseUi& ui) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    PlanContent content;
    content.brief = &model.brief;
    content.notebook = &model.notebook;
    content.seen = &model.seen;
    content.trail = model.trail;
    content.field_allowed = ui.field_allowed;
    if (ui.layer != MapLayer::none && ui.map) {
        content.map = ui.map.get();
        content.points = ui.points ? &*ui.points : nullptr;
    }
    list.PushClipRect(area.origin, ImVec2(area.origin.x + area.size.x, area.origin.y + area.size.y), true);
    draw_plan(list, theme, ui.view, content);
    if (model.selected_mark != 0) {
        for (const field::Mark& m : model.notebook.marks) {
            if (m.id == model.selected_mark) {
                list.AddCircle(ui.view.to_screen(m.place_m), 0.95F * theme.h, p.survey, 24, 1.5F);
            }
        }
    }
    const std::string cable = model.seen.cable_moving && model.seen.counter_m
                                  ? fmt::format("The cable moves: {} out.", length_words(theme, *model.seen.counter_m))
                                  : std::string();
    const std::string_view words = model.waiting          ? "The clock starts when you move the hand."
                                   : model.context.paused ? "Paused"
                                   : !cable.empty()       ? std::string_view(cable)
                                   : model.hand_held_still
                                       ? "The hand stays here; Z, or a click beside the marks, takes it up again."
                                       : "";
    if (!words.empty()) {
        const ImVec2 size = text_size(theme.text, words);
        const ImVec2 at(area.origin.x + (area.size.x - size.x) / 2, area.origin.y + 0.5F * theme.h);
        list.AddRectFilled(ImVec2(at.x - 6, at.y - 3), ImVec2(at.x + size.x + 6, at.y + size.y + 3), p.paper);
        list.AddRect(ImVec2(at.x - 6, at.y - 3), ImVec2(at.x + size.x + 6, at.y + size.y + 3), p.grid);
        draw_text(list, theme.text, at, model.context.paused ? p.warning : p.ink, words);
    }
    list.PopClipRect();
}

// The folded sheets: tabs at the left edge, lettered downward; where that has no room only their keys are left.
void folded_tabs(const Theme& theme, const Area& area, const CommandContext& context, Requests& requests) {
    static constexpr std::array<std::string_view, 5> all = {"steps", "sheet", "help", "settings", "worksheet"};
    const auto ids = std::span(all).subspan(context.in_lesson ? 0 : 1);
    const Panel panel("tabs", area, ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const float line = 1.05F * theme.note->FontSize;
    float letters = 0.0F;
    for (const std::string_view id : ids) {
        letters += static_cast<float>(find_command(id)->label.size());
    }
    const bool lettered = letters * line + static_cast<float>(ids.size()) * (line + 1.7F * theme.h) < area.size.y;
    float y = area.origin.y + 0.4F * theme.h;
    for (const std::string_view id : ids) {
        const CommandInfo& info = *find_command(id);
        const float height = line * static_cast<float>((lettered ? info.label.size() : 0) + 1) + 1.2F * theme.h;
        ImGui::SetCursorScreenPos(ImVec2(area.origin.x + 0.1F * theme.h, y));
        ImGui::PushID(id.data(), id.data() + id.size());
        if (ImGui::Button("##tab", ImVec2(area.size.x - 0.2F * theme.h, height)) && info.enabled(context)) {
            requests.commands.push_back(info.id);
        }
        ImGui::PopID();
        if (ImGui::IsItemHovered()) {
            ImGui::SetTooltip("%.*s  (key %.*s)", static_cast<int>(info.help.size()), info.help.data(),
                              static_cast<int>(info.key_text.size()), info.key_text.data());
        }
        float letter_y = y + 0.35F * theme.h;
        const auto centred = [&](std::string_view words, ImU32 colour) {
            const float wide = size_of(theme.note, words).x;
            text_at(list, theme.note, ImVec2(area.origin.x + (area.size.x - wide) / 2, letter_y), colour, words);
            letter_y += line;
        };
        for (std::size_t i = 0; lettered && i < info.label.size(); ++i) {
            centred(info.label.substr(i, 1), theme.palette.ink);
        }
        letter_y += lettered ? 0.3F * theme.h : 0.15F * theme.h;
        centred(info.key_text, theme.palette.quiet);
        y += height + 0.3F * theme.h;
    }
}

void left_region(const Theme& theme, const Area& area, LeftPanel left, const ExerciseModel& model, ExerciseUi& ui,
                 std::string_view sound, Requests& requests) {
    const float scroll = ui.scroll;
    switch (left) {
    case LeftPanel::sheet:
        job_sheet(theme, area, model, scroll, ui.sheet_part, requests);
        break;
    case LeftPanel::help:
        help_sheet(theme, area, model.context, scroll, requests);
        break;
    case LeftPanel::lesson:
        if (model.lesson != nullptr) {
            lesson_panel(theme, area, *model.lesson, model.settings.units, scroll);
        }
        break;
    case LeftPanel::settings:
        settings_sheet(theme, area, model.settings, model.context, sound, scroll, requests);
        break;
    case LeftPanel::worksheet:
        worksheet_panel(theme, area, model, ui.worksheet, scroll, requests);
        break;
    case LeftPanel::folded:
        folded_tabs(theme, area, model.context, requests);
        break;
    }
}

void rules_between(const Theme& theme, const Layout& l) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const ImU32 line = theme.palette.quiet;
    const float right = l.header.size.x;
    const float top = l.plan.origin.y;
    const float below = l.strip.origin.y;
    list.AddLine(ImVec2(0, top), ImVec2(right, top), line);
    list.AddLine(ImVec2(0, below), ImVec2(right, below), line);
    list.AddLine(ImVec2(l.plan.origin.x, top), ImVec2(l.plan.origin.x, below), line);
    list.AddLine(ImVec2(l.receiver.origin.x, top), ImVec2(l.receiver.origin.x, below), line);
}

} // namespace

void exercise_page(const Theme& theme, const Layout& layout, LeftPanel left, const ExerciseModel& model, ExerciseUi& ui,
                   std::string_view sound, Requests& requests) {
    // In a small window only as many as have room; a lesson's own come first.
    std::vector<std::string_view> header_buttons = {"pause", "help", "sheet", "worksheet", "settings", "start_page"};
    if (model.context.in_lesson) {
        header_buttons.insert(header_buttons.begin(), "steps");
    }
    header_buttons.resize(layout.narrow ? 2 : header_buttons.size());
    if (model.context.field_allowed) {
        header_buttons.insert(header_buttons.begin(), "lesson_map");
    }
    ImDrawList& list = *ImGui::GetWindowDrawList();
    for (const Area* area : {&layout.header, &layout.left, &layout.receiver, &layout.strip}) {
        list.AddRectFilled(area->origin, ImVec2(area->origin.x + area->size.x, area->origin.y + area->size.y),
                           theme.palette.panel);
    }
    plan_region(theme, layout.plan, model, ui);
    const std::string_view title =
        model.lesson != nullptr ? std::string_view(model.lesson->lesson().title) : model.brief.sheet.title;
    header_bar(theme, layout.header, title, model.course_place, model.seen.tick, header_buttons, model.context,
               requests);
    left_region(theme, layout.left, left, model, ui, sound, requests);
    receiver_panel(theme, layout.receiver, model, requests);
    strip(theme, layout.strip, model, ui.form, requests);
    rules_between(theme, layout);
}

} // namespace sondeyard::ui
