#include "ui/window/theme.hpp"

#include <array>
#include <cmath>
#include <filesystem>

namespace sondeyard::ui {

namespace {

constexpr ImU32 rgb(unsigned hex) { return IM_COL32((hex >> 16U) & 0xFFU, (hex >> 8U) & 0xFFU, hex & 0xFFU, 0xFF); }

ImVec4 as_vec4(ImU32 colour) { return ImGui::ColorConvertU32ToFloat4(colour); }

ImVec4 mixed(ImU32 a, ImU32 b, float share_of_b) {
    const ImVec4 from = as_vec4(a);
    const ImVec4 to = as_vec4(b);
    return {from.x + (to.x - from.x) * share_of_b, from.y + (to.y - from.y) * share_of_b,
            from.z + (to.z - from.z) * share_of_b, 1.0F};
}

void set_colours(ImGuiStyle& style, const Palette& p) {
    const ImVec4 rest = mixed(p.panel, p.ink, 0.04F);
    const ImVec4 hover = mixed(p.panel, p.ink, 0.14F);
    const ImVec4 pressed = mixed(p.panel, p.ink, 0.24F);
    auto& c = style.Colors;
    for (auto& colour : c) {
        colour = as_vec4(p.panel); // nothing is left in the library's own blue
    }
    c[ImGuiCol_Text] = as_vec4(p.ink);
    c[ImGuiCol_TextDisabled] = as_vec4(p.quiet);
    c[ImGuiCol_WindowBg] = as_vec4(p.paper);
    c[ImGuiCol_ChildBg] = ImVec4(0, 0, 0, 0);
    c[ImGuiCol_PopupBg] = as_vec4(p.panel);
    c[ImGuiCol_Border] = mixed(p.panel, p.quiet, 0.6F);
    c[ImGuiCol_BorderShadow] = ImVec4(0, 0, 0, 0);
    c[ImGuiCol_FrameBg] = as_vec4(p.paper);
    c[ImGuiCol_FrameBgHovered] = hover;
    c[ImGuiCol_FrameBgActive] = hover;
    c[ImGuiCol_Button] = rest;
    c[ImGuiCol_ButtonHovered] = hover;
    c[ImGuiCol_ButtonActive] = pressed;
    c[ImGuiCol_Header] = rest;
    c[ImGuiCol_HeaderHovered] = hover;
    c[ImGuiCol_HeaderActive] = pressed;
    c[ImGuiCol_ScrollbarBg] = ImVec4(0, 0, 0, 0);
    c[ImGuiCol_ScrollbarGrab] = hover;
    c[ImGuiCol_ScrollbarGrabHovered] = pressed;
    c[ImGuiCol_ScrollbarGrabActive] = pressed;
    c[ImGuiCol_Separator] = as_vec4(p.grid);
    c[ImGuiCol_SliderGrab] = as_vec4(p.quiet);
    c[ImGuiCol_SliderGrabActive] = as_vec4(p.ink);
    c[ImGuiCol_CheckMark] = as_vec4(p.ink);
    c[ImGuiCol_TextSelectedBg] = mixed(p.panel, p.trail, 0.4F);
    c[ImGuiCol_NavHighlight] = as_vec4(p.trail);
    c[ImGuiCol_TableBorderLight] = as_vec4(p.grid);
    c[ImGuiCol_TableBorderStrong] = as_vec4(p.grid);
    c[ImGuiCol_TableRowBg] = ImVec4(0, 0, 0, 0);
    c[ImGuiCol_TableRowBgAlt] = ImVec4(0, 0, 0, 0);
}

void set_sizes(ImGuiStyle& style, float h) {
    style = ImGuiStyle();
    const float quarter = std::round(h * 0.25F);
    style.WindowRounding = style.ChildRounding = style.FrameRounding = style.PopupRounding = 0.0F;
    style.ScrollbarRounding = style.GrabRounding = style.TabRounding = 0.0F;
    style.WindowBorderSize = 0.0F;
    style.ChildBorderSize = 0.0F;
    style.PopupBorderSize = 1.0F;
    style.FrameBorderSize = 1.0F;
    style.WindowPadding = ImVec2(2 * quarter, 2 * quarter);
    style.FramePadding = ImVec2(2 * quarter, quarter);
    style.ItemSpacing = ImVec2(2 * quarter, quarter);
    style.ItemInnerSpacing = ImVec2(quarter, quarter);
    style.ScrollbarSize = std::round(h * 0.75F);
    style.GrabMinSize = std::round(h * 0.6F);
    style.WindowMinSize = ImVec2(1, 1);
}

constexpr const char* sans_file = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
constexpr const char* mono_file = "/usr/share/fonts/truetype/dejavu/DejaVuSansMono.ttf";

// Latin with its extensions, Greek, dashes and arrows, the few mathematical signs that the texts use. ImGui keeps the
// pointer, so the arrays must outlive the atlas.
constexpr std::array<ImWchar, 11> text_ranges = {0x20,   0x17F,  0x370,  0x3FF,  0x2010, 0x2030,
                                                 0x2190, 0x2193, 0x2200, 0x2265, 0};
constexpr std::array<ImWchar, 7> figure_ranges = {0x20, 0xFF, 0x2010, 0x2015, 0x2212, 0x2212, 0};

} // namespace

const Palette& day_palette() {
    static constexpr Palette palette = {
        .paper = rgb(0xF7F4EA),
        .ink = rgb(0x1E2A32),
        .quiet = rgb(0x5A6570),
        .grid = rgb(0xDAD5C5),
        .survey = rgb(0xB5175E),
        .sewer = rgb(0x1A6B3C),
        .trail = rgb(0x2E6E9E),
        .water = rgb(0x0B5CAD),
        .warning = rgb(0x9A4A00),
        .panel = rgb(0xF1EDE0),
        .electric = rgb(0xB3261E),
        .gas = rgb(0x7D6200),
        .communication = rgb(0xA84E08),
        .reclaimed = rgb(0x6B3FA0),
        .excavation = rgb(0xFFFFFF),
        .excavation_edge = rgb(0x1E2A32),
        .hatch = rgb(0xC6BFAB),
    };
    return palette;
}

const Palette& night_palette() {
    static constexpr Palette palette = {
        .paper = rgb(0x141B20),
        .ink = rgb(0xE8E4D8),
        .quiet = rgb(0x9AA5AD),
        .grid = rgb(0x2A343B),
        .survey = rgb(0xFF7EB6),
        .sewer = rgb(0x6FD29A),
        .trail = rgb(0x7FB8E0),
        .water = rgb(0x7DB7FF),
        .warning = rgb(0xFFB066),
        .panel = rgb(0x1A2329),
        .electric = rgb(0xFF8A80),
        .gas = rgb(0xF0D24C),
        .communication = rgb(0xFFA25C),
        .reclaimed = rgb(0xC9A6FF),
        .excavation = rgb(0xFFFFFF),
        .excavation_edge = rgb(0x5A6570),
        .hatch = rgb(0x3D4A53),
    };
    return palette;
}

void set_palette(Theme& theme, ThemeChoice choice) {
    theme.choice = choice;
    theme.palette = choice == ThemeChoice::day ? day_palette() : night_palette();
    set_colours(ImGui::GetStyle(), theme.palette);
}

bool load_theme(Theme& theme, ThemeChoice choice, float h, std::string& why_not) {
    for (const char* file : {sans_file, mono_file}) {
        if (std::error_code ignored; !std::filesystem::exists(file, ignored)) {
            why_not = std::string("the font file ") + file + " is missing; Debian's package fonts-dejavu-core has it";
            return false; // the library would stop the program on a missing file
        }
    }
    theme.h = h;
    ImFontAtlas& atlas = *ImGui::GetIO().Fonts;
    atlas.Clear();
    ImFontConfig config;
    config.OversampleH = 2;
    config.OversampleV = 1;
    const auto add = [&](const char* file, float size, const ImWchar* ranges) {
        return atlas.AddFontFromFileTTF(file, std::round(size), &config, ranges);
    };
    // ImGui sizes a font by ascent plus descent; the type sizes of the design are relative to each other, so that is
    // enough.
    theme.text = add(sans_file, h, text_ranges.data());
    theme.note = add(sans_file, 0.85F * h, text_ranges.data());
    theme.heading = add(sans_file, 1.25F * h, text_ranges.data());
    theme.figures = add(mono_file, h, figure_ranges.data());
    theme.signal = add(mono_file, 2.4F * h, figure_ranges.data());
    if (theme.text == nullptr || theme.signal == nullptr) {
        why_not = std::string("the font file ") + sans_file + " cannot be read";
        return false;
    }
    ImGui::GetIO().FontDefault = theme.text;
    set_sizes(ImGui::GetStyle(), h);
    set_palette(theme, choice);
    return true;
}

} // namespace sondeyard::ui
