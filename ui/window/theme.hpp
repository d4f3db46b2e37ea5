// Look of the window: one palette a theme, sizes in font heights, and the few drawing helpers that every panel shares.
#pragma once

#include "field/lengths.hpp"

#include <imgui.h>

#include <string>
#include <string_view>

namespace sondeyard::ui {

struct Palette {
    ImU32 paper, ink, quiet, grid, survey, sewer, trail, water, warning, panel;
    ImU32 electric, gas, communication, reclaimed; // uniform ground-mark colours, darkened or lightened for contrast
    ImU32 excavation, excavation_edge;             // white paint with its edge
    ImU32 hatch;
};
const Palette& day_palette();
const Palette& night_palette();

enum class ThemeChoice { day, night };

struct Theme {
    ThemeChoice choice = ThemeChoice::day;
    field::Units units = field::Units::metric; // of every length that is drawn
    Palette palette{};
    float h = 16.0F;           // height of running text, pixels; spacing is in quarters of it
    ImFont* text = nullptr;    // 1 h
    ImFont* note = nullptr;    // 0.85 h
    ImFont* heading = nullptr; // 1.25 h
    ImFont* signal = nullptr;  // 2.4 h, tabular
    ImFont* figures = nullptr; // 1 h, tabular
};

// Loads the fonts at h pixels into the current ImGui context's atlas and sets the style from the palette. Returns
// false and a sentence when the font file is missing.
bool load_theme(Theme& theme, ThemeChoice choice, float h, std::string& why_not);
void set_palette(Theme& theme, ThemeChoice choice); // day to night without reloading fonts

// Lengths and texts in the theme's units; see field/lengths.hpp.
inline std::string length_words(const Theme& theme, double length_m) {
    return field::length_text(length_m, theme.units);
}
inline std::string error_words(const Theme& theme, double length_m) { return field::error_text(length_m, theme.units); }
inline std::string in_units(const Theme& theme, std::string_view text) { return field::in_units(text, theme.units); }

} // namespace sondeyard::ui
