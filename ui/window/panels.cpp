#include "ui/window/panels.hpp"

#include "ui/window/drafting.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sondeyard::ui {

// ---- The signal's history ----

void SignalHistory::push(std::int64_t tick, double signal_dbpt) {
    if (!figure_set_ || tick % figure_every_ticks == 0) {
        figure_ = signal_dbpt;
        figure_set_ = true;
    }
    if (tick % every_ticks != 0 && count_ > 0) {
        return;
    }
    ring_[next_] = static_cast<float>(signal_dbpt);
    next_ = (next_ + 1) % length;
    count_ = std::min(count_ + 1, length);
    const auto end = ring_.begin() + static_cast<std::ptrdiff_t>(count_);
    largest_ = static_cast<double>(*std::max_element(ring_.begin(), end));
    smallest_ = static_cast<double>(*std::min_element(ring_.begin(), end));
}

void SignalHistory::rebuild(std::span<const double> by_tick, std::int64_t tick) {
    *this = SignalHistory{};
    const std::int64_t newest = tick / every_ticks;
    count_ = static_cast<std::size_t>(std::min<std::int64_t>(newest + 1, static_cast<std::int64_t>(length)));
    next_ = count_ % length;
    const auto oldest = static_cast<std::size_t>(newest) + 1 - count_;
    for (std::size_t k = 0; k < count_; ++k) {
        ring_[k] = static_cast<float>(by_tick[(oldest + k) * every_ticks]);
    }
    const auto [low, high] = std::ranges::minmax(std::span(ring_).first(count_));
    smallest_ = static_cast<double>(low);
    largest_ = static_cast<double>(high);
    figure_ = by_tick[static_cast<std::size_t>(tick / figure_every_ticks * figure_every_ticks)];
    figure_set_ = true;
}

std::vector<float> SignalHistory::in_order() const {
    std::vector<float> all(count_);
    const std::size_t first = count_ < length ? 0 : next_;
    for (std::size_t i = 0; i < count_; ++i) {
        all[i] = ring_[(first + i) % length];
    }
    return all;
}

// ---- Helpers ----

Panel::Panel(const char* id, const Area& area, ImGuiWindowFlags flags) {
    ImGui::SetCursorScreenPos(area.origin);
    ImGui::BeginChild(id, area.size, false, flags | ImGuiWindowFlags_AlwaysUseWindowPadding);
}
Panel::~Panel() { ImGui::EndChild(); }

void heading(const Theme& theme, std::string_view text) {
    ImGui::PushFont(theme.heading);
    wrapped(text);
    ImGui::PopFont();
}

void wrapped(std::string_view text, float width) {
    ImGui::Dummy(draw_lines(*ImGui::GetWindowDrawList(), ImGui::GetFont(), ImGui::GetCursorScreenPos(),
                            ImGui::GetColorU32(ImGuiCol_Text), text,
                            width > 0.0F ? width : ImGui::GetContentRegionAvail().x));
}

void note_text(const Theme& theme, std::string_view text, ImU32 colour) {
    ImGui::PushFont(theme.note);
    ImGui::PushStyleColor(ImGuiCol_Text, colour);
    wrapped(text);
    ImGui::PopStyleColor();
    ImGui::PopFont();
}

void scroll_by(float pixels) {
    if (pixels != 0.0F) {
        ImGui::SetScrollY(std::clamp(ImGui::GetScrollY() + pixels, 0.0F, ImGui::GetScrollMaxY()));
    }
}

void gap(const Theme& theme, float share_of_h) { ImGui::Dummy(ImVec2(0, share_of_h * theme.h)); }

void caption(const Theme& theme, std::string_view words) { note_text(theme, words, theme.palette.quiet); }

void rule(const Theme& theme) {
    gap(theme, 0.1F);
    const ImVec2 at = ImGui::GetCursorScreenPos();
    ImGui::GetWindowDrawList()->AddLine(at, ImVec2(at.x + ImGui::GetContentRegionAvail().x, at.y), theme.palette.grid);
    gap(theme, 0.25F);
}

// ---- Header ----

void header_bar(const Theme& theme, const Area& area, std::string_view title, std::string_view beside,
                std::int64_t tick, std::span<const std::string_view> buttons, const CommandContext& context,
                Requests& requests) {
    const Panel panel("header", area, ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
    ImDrawList& list = *ImGui::GetWindowDrawList();
    float right = area.origin.x + area.size.x - 0.5F * theme.h;
    const float top = area.origin.y + (area.size.y - 1.6F * theme.h) / 2;
    for (std::size_t i = buttons.size(); i-- > 0;) {
        right -= command_button_width(theme, buttons[i], label_now(buttons[i], context));
        ImGui::SetCursorScreenPos(ImVec2(right, top));
        command_button(theme, context, buttons[i], requests);
        right -= 0.35F * theme.h;
    }
    const float middle = area.origin.y + area.size.y / 2;
    if (tick >= 0) {
        const std::string time = fmt::format("{:02}:{:02}", tick / 3600, tick / 60 % 60);
        right -= text_size(theme.figures, time).x + 0.75F * theme.h;
        draw_text(list, theme.figures, ImVec2(right, middle - theme.figures->FontSize / 2), theme.palette.ink, time);
    }
    float left = area.origin.x + 0.75F * theme.h;
    list.PushClipRect(area.origin, ImVec2(right - 0.5F * theme.h, area.origin.y + area.size.y), true);
    const auto word = [&](ImFont* font, ImU32 colour, std::string_view words) {
        draw_text(list, font, ImVec2(left, middle - font->FontSize / 2), colour, words);
        left += text_size(font, words).x + 1.0F * theme.h;
    };
    word(theme.text, theme.palette.quiet, "Sondeyard");
    word(theme.heading, theme.palette.ink, title);
    word(theme.text, theme.palette.quiet, beside);
    list.PopClipRect();
}

} // namespace sondeyard::ui
