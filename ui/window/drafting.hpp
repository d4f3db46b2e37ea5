// Drafting: the few things a drawn sheet needs beyond what ImGui's draw lists bring. Shared by the plan and the
// section. All places are screen pixels, y down, unless a name says otherwise.
#pragma once

#include "field/geometry.hpp"
#include "ui/window/theme.hpp"

#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace sondeyard::ui {

inline ImVec2 operator+(ImVec2 a, ImVec2 b) { return {a.x + b.x, a.y + b.y}; }
inline ImVec2 operator-(ImVec2 a, ImVec2 b) { return {a.x - b.x, a.y - b.y}; }
inline ImVec2 operator*(ImVec2 a, float s) { return {a.x * s, a.y * s}; }
float length(ImVec2 v);
ImVec2 unit(ImVec2 v);      // (1, 0) for a zero vector
ImVec2 square_to(ImVec2 v); // a quarter turn clockwise on the screen

struct Box {
    ImVec2 low{0, 0};
    ImVec2 high{0, 0};
    bool overlaps(const Box& other) const;
    bool holds(const Box& other) const;
    bool holds(ImVec2 point) const;
};
Box grown(const Box& box, float by);

ImU32 mix(ImU32 a, ImU32 b, float share_of_b); // alpha taken from a
ImU32 with_alpha(ImU32 colour, float alpha);   // 0..1

// A theme's font, or the context's own when the theme was not loaded (tests).
ImFont* font_or_default(ImFont* font);
ImVec2 text_size(ImFont* font, std::string_view words);
// All that is lettered passes here, so that ImGui's log has it beside the text of ImGui's own controls.
void draw_text(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words);
// Only what lies within, and broken into lines of this width if it is not 0.
void draw_text_within(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words,
                      const Box& within, float width = 0.0F);
// The same on a patch of paper, so that hatching and lines do not run through the letters.
void draw_text_on_paper(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, ImU32 paper, std::string_view words);

// Lines of at most this width, broken at blanks only: a figure such as 0.16 m is never parted at its point, which the
// library's own wrapping does. A single word that is wider stands alone on its line.
std::vector<std::string_view> wrapped(ImFont* font, std::string_view words, float width);
// The same drawn from this place down; returns how much room it took.
ImVec2 draw_lines(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words, float width);

// Fill of a simple polygon that need not be convex (an L-shaped house), by ear clipping. At least three points.
void fill_polygon(ImDrawList& list, std::span<const ImVec2> outline, ImU32 colour);

// Straight dashes between two places, none drawn outside `clip`. The first dash starts at a, `phase` into the pattern.
void draw_dashes(ImDrawList& list, ImVec2 a, ImVec2 b, ImU32 colour, float thickness, float dash, float gap,
                 const Box& clip, float phase = 0.0F);

void draw_arrow(ImDrawList& list, ImVec2 from, ImVec2 to, ImU32 colour, float thickness, float head);

// A dimension line: two short cross strokes with a line between and the figure beside its middle, moved `offset` pixels
// sideways (to the right of a -> b) with thin extension lines. Returns where the figure may go: its middle.
ImVec2 draw_dimension(ImDrawList& list, ImVec2 a, ImVec2 b, float offset, ImU32 colour, float tick);

// Greedy places for labels: what is taken stays taken, the first free candidate wins. Two labels side by side keep a
// few blanks between them, or they would read as one phrase.
class LabelBoard {
public:
    explicit LabelBoard(const Box& sheet) : sheet_(sheet) {}
    void take(const Box& box) { taken_.push_back(box); }
    // A building's outline: what is named in there reads as being in there.
    void add_building(std::vector<ImVec2> outline) { buildings_.push_back(std::move(outline)); }
    bool in_building(ImVec2 point) const;
    bool is_free(const Box& box) const;
    // Top left of a label of this size whose top left may be any of the candidates; it is taken with it.
    std::optional<ImVec2> place(ImVec2 size, std::span<const ImVec2> candidates);
    // Beside a thing of this half size: right, left, below, above, then the corners; in a building only when nothing
    // else is free.
    std::optional<ImVec2> place_beside(ImVec2 thing, ImVec2 half, ImVec2 size, float gap);

private:
    Box sheet_;
    std::vector<Box> taken_;
    std::vector<Box> labels_;
    std::vector<std::vector<ImVec2>> buildings_;
};

} // namespace sondeyard::ui
