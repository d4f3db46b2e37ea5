#include "ui/window/debrief_views.hpp"
#include "ui/window/drafting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

void write(ImFont* font, ImU32 colour, std::string_view words, float wrap_to_x) {
    const float width = wrap_to_x > 0.0F ? wrap_to_x - ImGui::GetCursorPosX() : 1e9F;
    ImGui::Dummy(draw_lines(*ImGui::GetWindowDrawList(), font, ImGui::GetCursorScreenPos(), colour, words, width));
}

void debrief_heading(const DebriefParts& page, std::string_view words) {
    ImGui::Dummy({1.0F, 0.15F * page.h()});
    write(page.theme.note, page.ink().quiet, words);
}

void draw_sign(ImDrawList& list, const DebriefParts& page, ImVec2 centre, Sign sign) {
    const float r = 0.26F * page.h();
    const ImVec2 c{std::floor(centre.x) + 0.5F, std::floor(centre.y) + 0.5F};
    switch (sign) {
    case Sign::good: {
        const std::array<ImVec2, 3> tick = {
            {{c.x - r, c.y}, {c.x - 0.25F * r, c.y + 0.8F * r}, {c.x + 1.1F * r, c.y - r}}};
        list.AddPolyline(tick.data(), 3, page.ink().sewer, ImDrawFlags_None, 2.0F);
        break;
    }
    case Sign::bad:
        list.AddLine({c.x - r, c.y - r}, {c.x + r, c.y + r}, page.ink().warning, 2.0F);
        list.AddLine({c.x - r, c.y + r}, {c.x + r, c.y - r}, page.ink().warning, 2.0F);
        break;
    case Sign::none:
        list.AddLine({c.x - r, c.y}, {c.x + r, c.y}, page.ink().quiet, 1.0F);
        break;
    }
}

void scroll_by_keys(float line) {
    const auto pressed = [](ImGuiKey key) { // with Ctrl they move the plan
        return !ImGui::GetIO().KeyCtrl && ImGui::IsKeyPressed(ImGui::GetKeyIndex(key), true);
    };
    float by = 0.0F;
    by += pressed(ImGuiKey_DownArrow) ? line : 0.0F;
    by -= pressed(ImGuiKey_UpArrow) ? line : 0.0F;
    if (by != 0.0F) {
        ImGui::SetScrollY(std::clamp(ImGui::GetScrollY() + by, 0.0F, ImGui::GetScrollMaxY()));
    }
}

std::string clock_text(std::int64_t tick) {
    const std::int64_t seconds = tick / 60;
    return fmt::format("{}:{:02}", seconds / 60, seconds % 60);
}

int button_rows(const DebriefParts& page, std::span<const PageButton> buttons, float width) {
    int rows = 1;
    float x = 0.0F;
    for (const PageButton& button : buttons) {
        const float wide = command_button_width(page.theme, button.id, button.label);
        if (x > 0.0F && x + wide > width) {
            ++rows;
            x = 0.0F;
        }
        x += wide + 0.5F * page.h();
    }
    return rows;
}

void draw_buttons(const DebriefParts& page, std::span<const PageButton> buttons, float width) {
    const ImVec2 start = ImGui::GetCursorPos();
    ImVec2 at = start;
    for (const PageButton& button : buttons) {
        const float wide = command_button_width(page.theme, button.id, button.label);
        if (at.x > start.x && at.x - start.x + wide > width) {
            at = {start.x, at.y + button_row_h * page.h()};
        }
        ImGui::SetCursorPos(at);
        command_button(page.theme, page.context, button.id, page.requests, button.label);
        at.x += wide + 0.5F * page.h();
    }
}

bool touch_plan(const char* id, PlanView& view, ImVec2 origin, ImVec2 size) {
    ImGui::SetCursorScreenPos(origin);
    ImGui::InvisibleButton(id, size, ImGuiButtonFlags_MouseButtonLeft | ImGuiButtonFlags_MouseButtonRight);
    const ImGuiIO& io = ImGui::GetIO();
    bool moved = false;
    if (ImGui::IsItemHovered() && io.MouseWheel != 0.0F) {
        view.zoom_about(io.MousePos, std::pow(1.2, static_cast<double>(io.MouseWheel)));
        moved = true;
    }
    if (ImGui::IsItemActive() && (io.MouseDelta.x != 0.0F || io.MouseDelta.y != 0.0F)) {
        view.centre_m += glm::dvec2{-io.MouseDelta.x, io.MouseDelta.y} / view.px_per_m;
        moved = true;
    }
    return moved;
}

const field::TruePoints& true_points_of(const DebriefParts& page) {
    if (!page.state.points) {
        const field::World& world = page.setting.world;
        const field::SondeTruth& sonde = page.score.located.sonde;
        page.state.points = field::true_points(world, field::scene_of(world, page.setting.ground, sonde), sonde);
    }
    return *page.state.points;
}

PlanContent finished_work(const DebriefParts& page) {
    PlanContent content;
    content.brief = &page.setting.brief;
    content.notebook = &page.exercise.notebook;
    content.trail = page.exercise.trail;
    return content;
}

void add_truth(const DebriefParts& page, PlanContent& content) {
    content.truth = &page.setting;
    content.map = page.state.layer != MapLayer::none ? page.state.map.get() : nullptr;
}

void work_plan(const DebriefParts& page, ImVec2 origin, ImVec2 size) {
    PlanView& view = page.state.view;
    const bool resized = view.size.x != size.x || view.size.y != size.y;
    view.origin = origin;
    view.size = size;
    if (!page.state.view_placed || resized) {
        const PlanExtent extent =
            debrief_extent(page.setting, page.exercise.notebook, &page.score, &true_points_of(page));
        view.fit(extent.low_m, extent.high_m);
        page.state.view_placed = true;
    }
    touch_plan("##plan", view, origin, size);
}

} // namespace sondeyard::ui
