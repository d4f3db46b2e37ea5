// The strip below the plan: NEXT, marks and readings (or the question, or the form of calls and dig box), buttons.
#include "ui/window/drafting.hpp"
#include "ui/window/panels.hpp"
#include "ui/window/plan.hpp"
#include "ui/window/strip_form.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

constexpr float next_height_h = 1.9F;
constexpr float lowest_window_h = 38.0F; // below, the strip is kept small

// Height of what stands between NEXT and the buttons, in text heights. The form may take more while it is open: in a
// low window its numbers need a third row, in others there are cautions below them.
float lists_height_h(bool low, bool form_open) { return form_open ? 6.2F : low ? 4.2F : 5.3F; }

constexpr std::array<std::string_view, 14> strip_buttons = {
    "toggle_height", "mark_plumb", "mark_level", "mark_peak", "mark_locate", "read_depth", "half_round",
    "quarter_round", "lift",       "dig_box",    "edit_form", "take_back",   "undo",       "hold_hand"};

// Lays the buttons out in as many rows as the width needs (one when low); draws them when `requests` is given. Returns
// the rows. "Finish" is the last word and stands at the right end.
int button_rows(const Theme& theme, ImVec2 origin, float width, bool low, const CommandContext& context,
                Requests* requests) {
    const float space = 0.3F * theme.h;
    const float finish_width = command_button_width(theme, "finish");
    const auto draw = [&](std::string_view id, float x, int row) {
        if (requests != nullptr) {
            ImGui::SetCursorScreenPos(ImVec2(origin.x + x, origin.y + static_cast<float>(row) * 1.85F * theme.h));
            command_button(theme, context, id, *requests);
        }
    };
    int row = 0;
    float x = 0.0F;
    for (const std::string_view id : strip_buttons) {
        const bool for_depth = id == "read_depth" || id == "lift";
        if ((for_depth && !context.reads_depth) || (id == "quarter_round" && !context.has_dial)) {
            continue;
        }
        const float wide = // with the longer of two labels
            command_button_width(theme, id,
                                 id == "toggle_height" ? "Hold out"
                                 : id == "lift"        ? "Lower again"
                                                       : "");
        if (low && x + wide > width - finish_width - space) {
            break;
        }
        if (x > 0.0F && x + wide > width) {
            ++row;
            x = 0.0F;
        }
        draw(id, x, row);
        x += wide + space;
    }
    if (x + finish_width > width) {
        ++row;
    }
    draw("finish", width - finish_width, row);
    return row + 1;
}

ImU32 faded(ImU32 colour, float strength) {
    const auto alpha = static_cast<ImU32>(std::lround(255.0F * std::clamp(strength, 0.0F, 1.0F)));
    return (colour & ~IM_COL32_A_MASK) | (alpha << IM_COL32_A_SHIFT);
}

void next_line(const Theme& theme, const Area& area, const ExerciseModel& model, Requests& requests) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    float right = area.origin.x + area.size.x - 0.75F * theme.h;
    const float top = area.origin.y + 0.4F * theme.h;
    if (!model.note.empty()) {
        // A refusal or trouble takes the right half of the line until the next command; NEXT keeps the left.
        const float wide = std::min(text_size(theme.note, model.note).x, 0.62F * area.size.x);
        right -= wide;
        draw_text_within(list, theme.note, ImVec2(right, top + 0.1F * theme.h), p.warning, model.note,
                         {{right, area.origin.y}, area.origin + area.size});
        right -= theme.h;
    }
    const float strength = model.next_strength;
    if (strength <= 0.0F || model.next_sentence.empty()) {
        return;
    }
    if (enabled(model.next_command, model.context) && model.note.empty()) {
        right -= command_button_width(theme, model.next_command);
        ImGui::SetCursorScreenPos(ImVec2(right, area.origin.y + 0.15F * theme.h));
        ImGui::PushID("next"); // the row of buttons below may have the same one
        command_button(theme, model.context, model.next_command, requests);
        ImGui::PopID();
        right -= theme.h;
    }
    const float left = area.origin.x + 0.75F * theme.h;
    draw_text(list, theme.note, ImVec2(left, top + 0.1F * theme.h), faded(p.quiet, strength), "NEXT");
    const float from = left + 3.2F * theme.h;
    const Box line{{left, area.origin.y}, {right, area.origin.y + area.size.y}};
    const std::string_view words = model.next_sentence;
    // Too long for one line it goes on two, in the smaller writing.
    const bool one_line = text_size(theme.text, words).x <= right - from;
    ImFont* font = one_line ? theme.text : theme.note;
    const float at_y = one_line ? top : area.origin.y + 0.5F * (area.size.y - 2.0F * font->FontSize);
    draw_text_within(list, font, ImVec2(from, at_y), faded(p.ink, strength), words, line,
                     one_line ? 0.0F : right - from);
}

void marks_list(const Theme& theme, const Area& area, const ExerciseModel& model) {
    const Panel panel("marks", area);
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    caption(theme, model.notebook.marks.empty()        ? "MARKS  none yet"
                   : theme.units == field::Units::feet ? "MARKS  east, north in feet"
                                                       : "MARKS  east, north in metres");
    const double unit_m =
        theme.units == field::Units::feet ? field::metres_per_foot : 1.0; // decimal feet, as on a plan
    for (std::size_t i = model.notebook.marks.size(); i-- > 0;) {
        const field::Mark& m = model.notebook.marks[i];
        const ImVec2 at = ImGui::GetCursorScreenPos();
        draw_mark_symbol(list, theme, ImVec2(at.x + 0.6F * theme.h, at.y + 0.55F * theme.h), 0.38F * theme.h, m.kind);
        const bool chosen = m.id == model.selected_mark;
        const std::string dip = m.dip_deg ? fmt::format("  dip {:2.0f}°", *m.dip_deg) : std::string();
        const std::string signal = area.size.x > 30.0F * theme.h ? fmt::format("  {:5.1f} dB", m.signal_dbpt) : "";
        // Where the cable stood, when not at the stop: with it he carries on by the counter.
        const std::string cable = field::same_counter(m.counter_m, model.brief.sheet.counter_m)
                                      ? std::string()
                                      : fmt::format("  cable {:.2f}", *m.counter_m / unit_m);
        const std::string words =
            fmt::format("{:2} {:<6} {:5.2f} {:5.2f}{}{}{}{}", m.id, field::name_of(m.kind), m.place_m.x / unit_m,
                        m.place_m.y / unit_m, signal, dip, cable, chosen ? "  chosen" : "");
        draw_text(list, theme.figures, ImVec2(at.x + 1.4F * theme.h, at.y), chosen ? p.survey : p.ink, words);
        ImGui::Dummy(ImVec2(1, 1.15F * theme.h));
    }
}

struct ReadingWords {
    std::string text;
    bool warns = false;
};

// What is to be said about a reading, beside its figure: only what the trainee could have seen for himself.
ReadingWords words_of(const Theme& theme, const field::Notebook& notebook, std::size_t index, double pair_share) {
    const field::Reading& r = notebook.readings[index];
    if (!r.depth_m) {
        return {"too weak to read", true};
    }
    if (const auto lift = field::find_lift_check(notebook); lift && lift->high_id == r.id) {
        return {fmt::format("lifted {}, grew {}{}", length_words(theme, lift->raised_m),
                            length_words(theme, lift->grew_m), lift->holds ? "" : ": does not hold"),
                !lift->holds};
    }
    if (!r.counts) {
        const bool up = r.tip_height_m >= field::tip_down_m;
        return {up ? fmt::format("does not count: tip {} up", length_words(theme, r.tip_height_m))
                   : fmt::format("does not count: mast leans {:.0f}°", r.lean_deg),
                true};
    }
    if (r.facing_reading_of != 0 && r.agreement) {
        const bool apart = *r.agreement > pair_share;
        return {fmt::format("facing {}, agree {:.1f} %{}", r.facing_reading_of, 100 * *r.agreement,
                            apart ? ": quarter turn, read again" : ""),
                apart};
    }
    if (index > 0) {
        const field::Reading& before = notebook.readings[index - 1];
        const double turned = std::abs(std::remainder(r.facing_deg - before.facing_deg - 180.0, 360.0));
        if (turned <= field::pair_turn_deg && r.off_first_m > field::pair_distance_m && r.off_first_m < 1.0) {
            return {fmt::format("{} off the first: go back to it", length_words(theme, r.off_first_m)), true};
        }
    }
    return {};
}

void readings_list(const Theme& theme, const Area& area, const ExerciseModel& model) {
    const Panel panel("readings", area);
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const auto& readings = model.notebook.readings;
    caption(theme, readings.empty()
                       ? (model.context.reads_depth ? "READINGS  none yet" : "READINGS  this receiver has none")
                       : "READINGS  from the tip to the sonde");
    for (std::size_t i = readings.size(); i-- > 0;) {
        const field::Reading& r = readings[i];
        const ReadingWords words = words_of(theme, model.notebook, i, model.brief.pair_share);
        const ImVec2 at = ImGui::GetCursorScreenPos();
        const std::string depth = r.depth_m ? fmt::format("{:2} {:>7}", r.id, length_words(theme, *r.depth_m))
                                            : fmt::format("{:2}   --  ", r.id);
        draw_text(list, theme.figures, at, r.counts ? p.ink : p.quiet, depth);
        draw_text(list, theme.note,
                  ImVec2(at.x + text_size(theme.figures, depth).x + 0.6F * theme.h, at.y + 0.1F * theme.h),
                  words.warns ? p.warning : p.quiet, words.text);
        ImGui::Dummy(ImVec2(1, 1.15F * theme.h));
    }
}

void question(const Theme& theme, const Area& area, const ExerciseModel& model, Requests& requests) {
    const Panel panel("question", area);
    const auto answers = [&](std::string_view words, std::string_view yes) {
        ImGui::AlignTextToFramePadding();
        ImGui::PushFont(theme.heading);
        ImGui::TextUnformatted(words.data(), words.data() + words.size());
        ImGui::PopFont();
        ImGui::SameLine(0, theme.h);
        command_button(theme, model.context, yes, requests);
        ImGui::SameLine();
        command_button(theme, model.context, "go_back", requests);
    };
    if (model.context.finish_asked) {
        std::string missing;
        for (const std::string& each : model.missing) {
            missing += (missing.empty() ? "" : ", ") + each;
        }
        answers("Finish?", "confirm_finish");
        ImGui::PushStyleColor(ImGuiCol_Text, missing.empty() ? theme.palette.ink : theme.palette.warning);
        wrapped(missing.empty() ? "Everything is noted down." : "Missing: " + missing + ".");
        ImGui::PopStyleColor();
    } else {
        answers("Leave this exercise unfinished?", "confirm_leave");
        wrapped("What was worked so far stays in its log; it is not scored.");
    }
}

} // namespace

bool is_low(const Theme& theme, ImVec2 window) { return window.y < lowest_window_h * theme.h; }

float strip_height(const Theme& theme, ImVec2 window, const CommandContext& context) {
    const bool low = is_low(theme, window);
    const int rows = button_rows(theme, ImVec2(0, 0), window.x - 1.5F * theme.h, low, context, nullptr);
    const float lists = lists_height_h(low, context.form_open);
    return (next_height_h + lists + 0.4F + 1.85F * static_cast<float>(rows)) * theme.h;
}

void strip(const Theme& theme, const Area& area, const ExerciseModel& model, DigForm& form, Requests& requests) {
    const Panel panel("strip", area, ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const float h = theme.h;
    const float wide = area.size.x;
    next_line(theme, {area.origin, ImVec2(wide, next_height_h * h)}, model, requests);
    const float lists_h = lists_height_h(model.low, model.context.form_open) * h;
    const float lists_top = area.origin.y + next_height_h * h;
    list.AddLine(ImVec2(area.origin.x, lists_top), ImVec2(area.origin.x + wide, lists_top), theme.palette.grid);
    const Area lists{ImVec2(area.origin.x, lists_top), ImVec2(wide, lists_h)};
    if (model.context.finish_asked || model.context.leave_asked) {
        question(theme, lists, model, requests);
    } else if (form.open) {
        form_rows(theme, lists, model, form, requests);
    } else {
        const float half = std::round(wide * 0.53F);
        marks_list(theme, {lists.origin, ImVec2(half, lists.size.y)}, model);
        readings_list(theme, {ImVec2(lists.origin.x + half, lists_top), ImVec2(wide - half, lists.size.y)}, model);
        list.AddLine(ImVec2(lists.origin.x + half, lists_top), ImVec2(lists.origin.x + half, lists_top + lists.size.y),
                     theme.palette.grid);
    }
    const float buttons_top = lists_top + lists_h;
    list.AddLine(ImVec2(area.origin.x, buttons_top), ImVec2(area.origin.x + wide, buttons_top), theme.palette.grid);
    button_rows(theme, ImVec2(area.origin.x + 0.75F * h, buttons_top + 0.3F * h), wide - 1.5F * h, model.low,
                model.context, &requests);
}

} // namespace sondeyard::ui
