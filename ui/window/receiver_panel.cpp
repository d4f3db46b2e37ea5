// The receiver's panel: signal, field dial or coils, lean, and what is set at it.
#include "ui/window/drafting.hpp"
#include "ui/window/panels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace sondeyard::ui {

namespace {

constexpr float pi_f = std::numbers::pi_v<float>;
constexpr double bar_low_dbpt = 0.0;
constexpr double bar_high_dbpt = 100.0;

void signal_bar(const Theme& theme, ImDrawList& list, ImVec2 at, ImVec2 size, const ExerciseModel& model) {
    const Palette& p = theme.palette;
    const auto along = [&](double dbpt) {
        const double share = std::clamp((dbpt - bar_low_dbpt) / (bar_high_dbpt - bar_low_dbpt), 0.0, 1.0);
        return at.x + static_cast<float>(share) * size.x;
    };
    list.AddRectFilled(at, ImVec2(along(model.seen.signal_dbpt), at.y + size.y), p.trail);
    list.AddRect(at, ImVec2(at.x + size.x, at.y + size.y), p.quiet);
    for (int i = 1; i < 5; ++i) { // every 20 dB
        const float x = along(20.0 * i);
        list.AddLine(ImVec2(x, at.y + size.y * 0.7F), ImVec2(x, at.y + size.y), p.quiet);
    }
    const float held_x = along(model.history.largest());
    list.AddLine(ImVec2(held_x, at.y - 0.15F * theme.h), ImVec2(held_x, at.y + size.y + 0.15F * theme.h), p.ink, 2.0F);
}

// The last twenty seconds on a scale of their own: at least 12 dB high, so that noise does not look like a hill.
void signal_trace(const Theme& theme, ImDrawList& list, ImVec2 at, ImVec2 size, const SignalHistory& history) {
    const Palette& p = theme.palette;
    list.AddRect(at, ImVec2(at.x + size.x, at.y + size.y), p.grid);
    const double middle = 0.5 * (history.largest() + history.smallest());
    const double half = std::max(6.0, 0.55 * (history.largest() - history.smallest()));
    const std::vector<float> values = history.in_order();
    std::vector<ImVec2> points(values.size());
    const float per_sample = size.x / static_cast<float>(SignalHistory::length - 1);
    const float first_x = at.x + size.x - per_sample * static_cast<float>(values.empty() ? 0 : values.size() - 1);
    for (std::size_t i = 0; i < values.size(); ++i) {
        const float share = (values[i] - static_cast<float>(middle - half)) / static_cast<float>(2.0 * half);
        points[i] = ImVec2(first_x + per_sample * static_cast<float>(i), at.y + size.y * (1.0F - share));
    }
    if (points.size() > 1) {
        list.AddPolyline(points.data(), static_cast<int>(points.size()), p.trail, ImDrawFlags_None, 2.0F);
    }
    const std::string top = fmt::format("{:.0f}", middle + half);
    const std::string bottom = fmt::format("{:.0f}", middle - half);
    const auto on_patch = [&](ImVec2 where, std::string_view words) { // the line must not run through the figures
        const ImVec2 room = text_size(theme.note, words);
        list.AddRectFilled(where, ImVec2(where.x + room.x, where.y + room.y), p.panel);
        draw_text(list, theme.note, where, p.quiet, words);
    };
    const float margin = 0.2F * theme.h;
    on_patch(ImVec2(at.x + margin, at.y + 1), top);
    on_patch(ImVec2(at.x + margin, at.y + size.y - theme.note->FontSize - 1), bottom);
}

void signal_section(const Theme& theme, const ExerciseModel& model, float trace_height) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const bool with_trace = trace_height >= theme.h;
    caption(theme, with_trace ? "SIGNAL, and its last 20 seconds" : "SIGNAL");
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    const std::string figure = fmt::format("{:5.1f}", model.history.figure());
    draw_text(list, theme.signal, ImVec2(at.x, at.y - 0.35F * theme.h), theme.palette.ink, figure);
    const float after = at.x + text_size(theme.signal, figure).x + 0.5F * theme.h;
    draw_text(list, theme.text, ImVec2(after, at.y + 0.75F * theme.h), theme.palette.quiet, "dBpT");
    if (model.seen.overload) {
        draw_text(list, theme.heading, ImVec2(after + 4.0F * theme.h, at.y + 0.6F * theme.h), theme.palette.warning,
                  "overload");
    }
    if (model.seen.hum_dbpt > 0.0) {
        const std::string hum = fmt::format("hum {:.0f}", model.seen.hum_dbpt);
        draw_text(list, theme.note, ImVec2(at.x + width - text_size(theme.note, hum).x, at.y + 0.1F * theme.h),
                  theme.palette.quiet, hum);
    }
    const float bar_top = at.y + 2.15F * theme.h;
    signal_bar(theme, list, ImVec2(at.x, bar_top), ImVec2(width, 0.75F * theme.h), model);
    const float trace_top = bar_top + 1.2F * theme.h;
    if (with_trace) {
        signal_trace(theme, list, ImVec2(at.x, trace_top), ImVec2(width, trace_height), model.history);
    }
    ImGui::Dummy(ImVec2(width, 3.35F * theme.h + trace_height));
}

constexpr double plumb_dip_deg = 80.0;
constexpr double level_dip_deg = 5.0;

std::string_view dial_word(const field::Observation& seen) {
    if (!seen.has_axis) {
        return "weak";
    }
    const double dip = std::abs(seen.dip_deg);
    return dip > plumb_dip_deg ? "plumb" : dip < level_dip_deg ? "level" : "";
}

// Rim: the right half is a scale of dip, level in the middle, the end in front down at the bottom. Inside: the needle,
// the level direction of the field seen by whoever holds the receiver, ahead at the top; it shortens to a dot as the
// field rises to plumb, as a rod looked at from above does.
void field_dial(const Theme& theme, ImDrawList& list, ImVec2 centre, float radius, const field::Observation& seen) {
    const Palette& p = theme.palette;
    list.AddCircle(centre, radius, p.quiet, 64);
    const auto rim = [&](double dip_deg, float share) {
        const float a = static_cast<float>(dip_deg) * pi_f / 180.0F;
        return ImVec2(centre.x + share * radius * std::cos(a), centre.y + share * radius * std::sin(a));
    };
    for (int dip = -90; dip <= 90; dip += 15) {
        list.AddLine(rim(dip, dip % 45 == 0 ? 0.86F : 0.92F), rim(dip, 1.0F), p.quiet);
    }
    for (const double limit : {-plumb_dip_deg, plumb_dip_deg}) {
        list.AddLine(rim(limit, 0.86F), rim(limit, 1.0F), p.survey, 2.0F);
    }
    draw_text(list, theme.note,
              ImVec2(centre.x - text_size(theme.note, "ahead").x / 2, centre.y - radius - 1.05F * theme.h), p.quiet,
              "ahead");
    const std::string_view word = dial_word(seen);
    if (seen.has_axis) {
        const float dip = static_cast<float>(seen.dip_deg) * pi_f / 180.0F;
        list.PathArcTo(centre, radius * 0.96F, std::min(0.0F, dip), std::max(0.0F, dip), 32);
        list.PathStroke(p.survey, ImDrawFlags_None, std::max(3.0F, 0.09F * radius));
        const float a = static_cast<float>(seen.needle_deg) * pi_f / 180.0F;
        const float half = radius * 0.76F * std::max(0.06F, std::cos(dip));
        const ImVec2 way(std::sin(a) * half, -std::cos(a) * half);
        list.AddLine(ImVec2(centre.x - way.x, centre.y - way.y), ImVec2(centre.x + way.x, centre.y + way.y), p.ink,
                     3.0F);
        for (const float sign : {-1.0F, 1.0F}) {
            list.AddCircleFilled(ImVec2(centre.x + sign * way.x, centre.y + sign * way.y), 0.25F * theme.h, p.ink, 12);
        }
    }
    if (!word.empty()) {
        const ImVec2 size = text_size(theme.heading, word);
        const ImVec2 at(centre.x - size.x / 2, centre.y + radius * 0.42F - size.y / 2);
        list.AddRectFilled(ImVec2(at.x - 3, at.y), ImVec2(at.x + size.x + 3, at.y + size.y), p.panel);
        draw_text(list, theme.heading, at, word == "weak" ? p.quiet : p.survey, word);
    }
}

void one_coil(const Palette& p, ImDrawList& list, ImVec2 centre, float half, float thick, bool level) {
    const ImVec2 long_way = level ? ImVec2(half, 0) : ImVec2(0, half);
    const ImVec2 across = level ? ImVec2(0, thick) : ImVec2(thick, 0);
    list.AddRectFilled(ImVec2(centre.x - long_way.x - across.x, centre.y - long_way.y - across.y),
                       ImVec2(centre.x + long_way.x + across.x, centre.y + long_way.y + across.y), p.panel);
    list.AddRect(ImVec2(centre.x - long_way.x - across.x, centre.y - long_way.y - across.y),
                 ImVec2(centre.x + long_way.x + across.x, centre.y + long_way.y + across.y), p.ink, 0, 0, 2.0F);
    for (int i = -3; i <= 3; ++i) { // windings
        const ImVec2 at(centre.x + long_way.x * static_cast<float>(i) / 4,
                        centre.y + long_way.y * static_cast<float>(i) / 4);
        list.AddLine(ImVec2(at.x - across.x, at.y - across.y), ImVec2(at.x + across.x, at.y + across.y), p.quiet);
    }
}

// The coils from the side: how they are turned, in a picture and in words.
void coil_picture(const Theme& theme, ImDrawList& list, ImVec2 centre, float radius, const ExerciseModel& model) {
    const Palette& p = theme.palette;
    const bool twin = model.context.reads_depth;
    const bool level = twin || model.seen.coil == sim::CoilAttitude::level;
    if (twin) { // on their mast, the lower one gives the signal
        const float apart = 0.5F * radius;
        list.AddLine(ImVec2(centre.x, centre.y - 0.85F * radius), ImVec2(centre.x, centre.y + 0.7F * radius), p.quiet,
                     3.0F);
        one_coil(p, list, ImVec2(centre.x, centre.y - apart), 0.45F * radius, 0.12F * radius, true);
        one_coil(p, list, ImVec2(centre.x, centre.y + apart), 0.45F * radius, 0.12F * radius, true);
    } else {
        one_coil(p, list, centre, 0.55F * radius, 0.16F * radius, level);
    }
    const std::string_view words = twin    ? "two coils, the way you face"
                                   : level ? "coil level, the way you face"
                                           : "coil upright";
    draw_text(list, theme.note, ImVec2(centre.x - text_size(theme.note, words).x / 2, centre.y + 0.78F * radius), p.ink,
              words);
}

void lean_picture(const Theme& theme, ImDrawList& list, ImVec2 centre, float radius, const field::Observation& seen) {
    const Palette& p = theme.palette;
    constexpr double full_deg = 12.0;
    const bool leans = seen.lean_deg >= field::plumb_lean_deg;
    const float per_deg = radius / static_cast<float>(full_deg);
    list.AddCircle(centre, radius, p.grid, 48);
    list.AddCircle(centre, per_deg * static_cast<float>(field::plumb_lean_deg), leans ? p.warning : p.quiet, 48);
    list.AddLine(ImVec2(centre.x - radius, centre.y), ImVec2(centre.x + radius, centre.y), p.grid);
    list.AddLine(ImVec2(centre.x, centre.y - radius), ImVec2(centre.x, centre.y + radius), p.grid);
    const double shown =
        std::min(1.0, full_deg / std::max(1e-9, std::hypot(seen.lean_forward_deg, seen.lean_right_deg)));
    const ImVec2 top(centre.x + per_deg * static_cast<float>(seen.lean_right_deg * shown),
                     centre.y - per_deg * static_cast<float>(seen.lean_forward_deg * shown));
    list.AddLine(centre, top, leans ? p.warning : p.ink, 2.0F);
    list.AddCircleFilled(top, 0.28F * theme.h, leans ? p.warning : p.ink, 16);
}

// The column is narrow: of a length only inches have room in it, and words stand in the small type.
void lean_section(const Theme& theme, ImVec2 at, ImVec2 room, const field::Observation& seen) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const bool brief = room.y < 10.4F * theme.h; // two lines below the picture instead of four
    const float words_h = brief ? 2.4F : 4.4F;
    const float radius =
        std::clamp(0.5F * (room.y - (1.5F + words_h) * theme.h), theme.h, std::min(0.5F * room.x, 2.2F * theme.h));
    draw_text(list, theme.note, at, p.quiet, "LEAN");
    lean_picture(theme, list, ImVec2(at.x + radius, at.y + 1.3F * theme.h + radius), radius, seen);
    float y = at.y + 1.5F * theme.h + 2 * radius;
    const auto line = [&](ImFont* font, ImU32 colour, const std::string& words) {
        draw_text(list, font, ImVec2(at.x, y), colour, words);
        y += font->FontSize + 0.1F * theme.h;
    };
    const bool leans = seen.lean_deg >= field::plumb_lean_deg;
    const bool up = seen.tip_height_m >= field::tip_down_m;
    const std::string lean = fmt::format("{:.1f}°", seen.lean_deg);
    if (leans) {
        draw_text(list, theme.note,
                  ImVec2(at.x + text_size(theme.figures, lean).x + 0.2F * theme.h, y + 0.1F * theme.h), p.warning,
                  "leans");
    }
    line(theme.figures, leans ? p.warning : p.ink, lean);
    const std::string tip = field::narrow_text(seen.tip_height_m, theme.units);
    if (brief) { // the word stands in the corner that the round picture leaves
        if (up) {
            const std::string_view words = "tip up";
            draw_text(list, theme.note,
                      ImVec2(at.x + room.x - text_size(theme.note, words).x,
                             at.y + 1.3F * theme.h + 2 * radius - theme.note->FontSize),
                      p.warning, words);
        }
        line(theme.figures, up ? p.warning : p.ink, tip);
        return;
    }
    line(theme.note, p.quiet, "tip above");
    line(theme.figures, up ? p.warning : p.ink, tip);
    line(theme.note, up ? p.warning : p.quiet, up ? "tip is up" : "on the ground");
}

void dial_and_lean(const Theme& theme, const ExerciseModel& model, float height) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    const float lean_width = 5.6F * theme.h;
    const float dial_width = width - lean_width - 0.5F * theme.h;
    const CommandContext& can = model.context;
    draw_text(list, theme.note, at, theme.palette.quiet,
              can.has_dial      ? "FIELD DIAL"
              : can.reads_depth ? "COILS"
                                : "COIL");
    const float radius = std::max(2.0F * theme.h, std::min(0.5F * dial_width, 0.5F * (height - 3.6F * theme.h)));
    const ImVec2 centre(at.x + 0.5F * dial_width, at.y + 2.3F * theme.h + radius);
    if (can.has_dial) {
        field_dial(theme, list, centre, radius, model.seen);
        // Which way it dips the arc shows; its size is that of marks and graph.
        const std::string dip =
            model.seen.has_axis ? fmt::format("dip {:.0f}°", std::abs(model.seen.dip_deg)) : "dip --";
        draw_text(list, theme.figures,
                  ImVec2(centre.x - text_size(theme.figures, dip).x / 2, centre.y + radius + 0.15F * theme.h),
                  theme.palette.ink, dip);
    } else {
        coil_picture(theme, list, centre, radius, model);
    }
    lean_section(theme, ImVec2(at.x + width - lean_width, at.y), ImVec2(lean_width, height), model.seen);
    ImGui::Dummy(ImVec2(width, height));
}

// Beside a button the bar takes what room there is; "muted" stands where "volume" does.
void volume_line(const Theme& theme, const Settings& settings) {
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float words = 3.5F * theme.h;
    const float cell = std::min(0.55F * theme.h, 0.1F * (ImGui::GetContentRegionAvail().x - words));
    draw_text(list, theme.note, ImVec2(at.x, at.y + 0.1F * theme.h), settings.muted ? p.warning : p.quiet,
              settings.muted ? "muted" : "volume");
    const float left = at.x + words;
    const int lit = static_cast<int>(std::lround(settings.volume * 10.0));
    for (int i = 0; i < 10; ++i) {
        const ImVec2 low(left + cell * static_cast<float>(i), at.y + 0.15F * theme.h);
        const ImVec2 high(low.x + cell - 2.0F, low.y + 0.75F * theme.h);
        if (i < lit && !settings.muted) {
            list.AddRectFilled(low, high, p.trail);
        }
        list.AddRect(low, high, p.quiet);
    }
    ImGui::Dummy(ImVec2(0, 1.05F * theme.h));
}

struct ReceiverButton {
    std::string_view id;
    std::string label; // empty: the command's own
};

// What is set at the receiver, and how it is held: straightening and turning go on as long as the button is held down.
std::vector<ReceiverButton> receiver_buttons(const ExerciseModel& model) {
    std::vector<ReceiverButton> all = {{"frequency_next", field::frequency_text(model.seen.frequency_hz)},
                                       {"plumb_mast", {}}};
    if (model.context.turns_coil) {
        all.push_back({"coil", {}});
    }
    if (model.context.has_wide) {
        all.push_back({"bandwidth", model.seen.bandwidth == sim::Bandwidth::wide ? "Wide" : "Narrow"});
    }
    all.push_back({"turn_left", {}});
    all.push_back({"turn_right", {}});
    return all;
}

// Lays them out in as many rows as they need; draws them when `requests` is given. Returns the rows.
int receiver_button_rows(const Theme& theme, const ExerciseModel& model, float width, Requests* requests) {
    int rows = 1;
    float x = 0.0F;
    for (const ReceiverButton& button : receiver_buttons(model)) {
        const float wide = command_button_width(theme, button.id, button.label);
        if (x > 0.0F && x + wide > width) {
            ++rows;
            x = 0.0F;
        } else if (x > 0.0F && requests != nullptr) {
            ImGui::SameLine(0, 0.3F * theme.h);
        }
        if (requests != nullptr) {
            command_button(theme, model.context, button.id, *requests, button.label);
        }
        x += wide + 0.3F * theme.h;
    }
    return rows;
}

} // namespace

void receiver_panel(const Theme& theme, const Area& area, const ExerciseModel& model, Requests& requests) {
    const Panel panel("receiver", area, ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
    const float inner = area.size.y - 2 * ImGui::GetStyle().WindowPadding.y;
    const float wide = ImGui::GetContentRegionAvail().x;
    const auto rows = static_cast<float>(receiver_button_rows(theme, model, wide, nullptr));
    // In a low window the buttons for the volume go first: they have their keys.
    const float fixed = (1.0F + 3.35F + 0.8F + 1.9F * rows + 1.2F) * theme.h; // all but trace, dial and those buttons
    const bool with_buttons = inner - fixed - 1.9F * theme.h > (8.4F + 1.6F) * theme.h;
    const float left = std::max(0.0F, inner - fixed - (with_buttons ? 1.9F * theme.h : 0.0F));
    const float dial_height = std::clamp(0.72F * left, 7.2F * theme.h, 13.5F * theme.h);
    const float trace_height = std::clamp(left - dial_height, 1.5F * theme.h, 9.0F * theme.h);
    signal_section(theme, model, trace_height);
    gap(theme, 0.2F);
    dial_and_lean(theme, model, dial_height);
    receiver_button_rows(theme, model, wide, &requests);
    volume_line(theme, model.settings);
    if (with_buttons) {
        command_button(theme, model.context, "volume_down", requests);
        ImGui::SameLine();
        command_button(theme, model.context, "volume_up", requests);
        ImGui::SameLine();
        command_button(theme, model.context, "mute", requests, model.settings.muted ? "Unmute" : "");
    }
}

void receiver_display(const Theme& theme, const Area& area, const ExerciseModel& model) {
    if (area.size.y < 14.0F * theme.h) { // dial and lean beside the signal
        const float left = std::floor(0.49F * area.size.x);
        {
            const Panel panel("display", {area.origin, ImVec2(left, area.size.y)}, ImGuiWindowFlags_NoScrollbar);
            signal_section(theme, model, 0.0F);
        }
        const Area right{ImVec2(area.origin.x + left, area.origin.y), ImVec2(area.size.x - left, area.size.y)};
        const Panel panel("dial", right, ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
        dial_and_lean(theme, model, area.size.y - 2 * ImGui::GetStyle().WindowPadding.y);
        return;
    }
    const Panel panel("display", area, ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
    const float inner = area.size.y - 2 * ImGui::GetStyle().WindowPadding.y;
    const float left = inner - (1.0F + 3.35F + 1.5F) * theme.h; // all but trace and dial
    const float trace_height = std::clamp(left - 11.0F * theme.h, 0.0F, 6.0F * theme.h);
    signal_section(theme, model, trace_height < 1.8F * theme.h ? 0.0F : trace_height);
    gap(theme, 0.2F);
    dial_and_lean(theme, model, std::clamp(left - trace_height, 6.0F * theme.h, 13.5F * theme.h));
    caption(theme,
            field::frequency_text(model.seen.frequency_hz) +
                (model.context.has_wide ? fmt::format(", {}", sim::name_of(model.seen.bandwidth)) : std::string()));
}

} // namespace sondeyard::ui
