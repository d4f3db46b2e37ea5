// Drawing without a window: an ImGui context of its own, one frame at a time, and what was drawn as plain vertices.
#pragma once

#include "ui/window/plan.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <cstring>
#include <functional>
#include <string>
#include <vector>

namespace sondeyard::test {

class Frame {
public:
    explicit Frame(ImVec2 size = {800, 600}, float h = 16.0F) {
        context_ = ImGui::CreateContext();
        ImGui::SetCurrentContext(context_); // another frame's context may be the current one
        ImGuiIO& io = ImGui::GetIO();
        io.IniFilename = nullptr;
        io.DisplaySize = size;
        io.DeltaTime = 1.0F / 60.0F;
        io.BackendFlags |= ImGuiBackendFlags_RendererHasVtxOffset;
        std::string why_not;
        const bool loaded = ui::load_theme(theme, ui::ThemeChoice::day, h, why_not);
        REQUIRE_MESSAGE(loaded, why_not);
        unsigned char* pixels = nullptr;
        int width = 0;
        int height = 0;
        io.Fonts->GetTexDataAsAlpha8(&pixels, &width, &height);
    }
    ~Frame() { ImGui::DestroyContext(context_); }
    Frame(const Frame&) = delete;
    Frame& operator=(const Frame&) = delete;

    // One frame with this drawn into a window that fills the display.
    void draw(const std::function<void(ImDrawList&)>& what) {
        ImGui::SetCurrentContext(context_);
        ImGui::NewFrame();
        ImGui::SetNextWindowPos({0, 0});
        ImGui::SetNextWindowSize(ImGui::GetIO().DisplaySize);
        ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, ImVec2(0, 0));
        ImGui::Begin("sheet", nullptr, ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoBackground);
        ImGui::PopStyleVar();
        what(*ImGui::GetWindowDrawList());
        ImGui::End();
        ImGui::Render();
        vertices.clear();
        indices.clear();
        const ImDrawData* data = ImGui::GetDrawData();
        for (int k = 0; k < data->CmdListsCount; ++k) {
            const ImDrawList& list = *data->CmdLists[k];
            vertices.insert(vertices.end(), list.VtxBuffer.begin(), list.VtxBuffer.end());
            indices.insert(indices.end(), list.IdxBuffer.begin(), list.IdxBuffer.end());
        }
    }

    bool same_as(const Frame& other) const {
        return vertices.size() == other.vertices.size() && indices == other.indices &&
               std::memcmp(vertices.data(), other.vertices.data(), vertices.size() * sizeof(ImDrawVert)) == 0;
    }
    bool all_finite() const {
        for (const ImDrawVert& v : vertices) {
            if (!std::isfinite(v.pos.x) || !std::isfinite(v.pos.y)) {
                return false;
            }
        }
        return true;
    }

    ui::Theme theme;
    std::vector<ImDrawVert> vertices;
    std::vector<ImDrawIdx> indices;

private:
    ImGuiContext* context_ = nullptr;
};

// A yard with a house, a bed, a tree, a marked gas line, a private electric line that nobody marked, and a drain that
// falls by fall_deg at the sonde.
inline field::World yard_with_drain(double fall_deg = 2.0) {
    field::World world;
    world.seed = 11;
    world.yard.width_m = 30.0;
    world.yard.length_m = 36.0;
    using field::AreaKind;
    world.yard.areas = {{AreaKind::street, {{0, 0}, {30, 0}, {30, 4}, {0, 4}}, "street"},
                        {AreaKind::house, {{6, 22}, {20, 22}, {20, 27}, {14, 27}, {14, 33}, {6, 33}}, "house"},
                        {AreaKind::slab, {{20, 24}, {23, 24}, {23, 27}, {20, 27}}, "slab"},
                        {AreaKind::drive, {{23, 4}, {27, 4}, {27, 24}, {23, 24}}, "drive"},
                        {AreaKind::planting, {{6, 20}, {18, 20}, {18, 21}, {6, 21}}, "bed"},
                        {AreaKind::pond, {{2, 12}, {4, 11}, {6, 13}, {3, 14}}, "pond"},
                        {AreaKind::tree, field::rectangle({4, 7}, 20, 0.5, 0.5), ""},
                        {AreaKind::fence, field::rectangle({15, 35}, 90, 28, 0.1), "fence"}};
    world.yard.clues = {{field::ClueKind::gas_meter, {20.2, 23}}, {field::ClueKind::grill, {22, 26}}};
    field::BuriedLine gas{field::LineKind::gas, "Vale Gas", {{20, 0, -0.7}, {20, 22, -0.7}}, 0.05, false, {}};
    gas.paint_m = {{20.2, 0}, {20.2, 22}};
    world.yard.lines = {gas, {field::LineKind::electric, "private", {{9, 12, -0.4}, {26, 9, -0.4}}, 0.05, true, {}}};
    field::Run run;
    const double drop = 4.0 * std::tan(fall_deg * 0.017453292519943295);
    run.centreline_m = {{11, 21, -1.0}, {13, 13, -1.3}, {13, 9, -1.3 - drop}, {13, 2, -1.5 - drop}};
    const double along = field::project(run, {13, 11, -1.3 - 0.5 * drop}).along_m;
    world.sonde.position_m = field::sonde_centre_m(run, along, 0.025);
    const field::RunAttitude attitude = field::attitude_at(run, along);
    world.sonde.heading_deg = attitude.heading_deg;
    world.sonde.tilt_deg = attitude.tilt_deg;
    world.run = run;
    world.sheet.title = "Behind the garage";
    world.sheet.cleanout_m = glm::dvec2{11, 21};
    world.start_m = {15, 14};
    return world;
}

inline field::Notebook worked_notebook() {
    field::Notebook notebook;
    const auto mark = [&](field::MarkKind kind, glm::dvec2 place) {
        field::Mark m;
        m.id = static_cast<int>(notebook.marks.size()) + 1;
        m.kind = kind;
        m.place_m = place;
        m.dip_deg = 85.0;
        m.field_heading_deg = 180.0;
        notebook.marks.push_back(m);
    };
    mark(field::MarkKind::plumb, {13.0, 12.0});
    mark(field::MarkKind::plumb, {13.0, 10.0});
    mark(field::MarkKind::level, {13.0, 11.0});
    mark(field::MarkKind::peak, {13.1, 11.2});
    mark(field::MarkKind::locate, {13.2, 11.1});
    notebook.depth_call_m = 1.35;
    notebook.dig = field::DigBox{{13.1, 11.0}, 0.0, 1.2, 0.8, 1.2, field::DigMethod::hand};
    return notebook;
}

inline ui::PlanView view_of(double width_m, double length_m, ImVec2 size) {
    ui::PlanView view;
    view.size = size;
    view.fit({0.0, 0.0}, {width_m, length_m});
    return view;
}

} // namespace sondeyard::test
