// The plan sheet and the section: pure drawing from given content. Nothing here decides what may be shown: truth is
// drawn only when it is passed in, and the exercise page never passes it.
#pragma once

#include "field/debrief.hpp"
#include "field/true_points.hpp"
#include "sim/field_lines.hpp"
#include "ui/window/theme.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace sondeyard::ui {

class MapPicture;

struct PlanView {        // north is up
    ImVec2 origin{0, 0}; // top left, pixels
    ImVec2 size{0, 0};
    glm::dvec2 centre_m{0.0};
    double px_per_m = 20.0;

    ImVec2 to_screen(const glm::dvec2& yard_m) const;
    glm::dvec2 to_yard(const ImVec2& screen) const;
    void zoom_about(const ImVec2& screen,
                    double factor); // keeps that place under the pointer; 4 .. 100 px/m (1 cm a pixel)
    void fit(const glm::dvec2& low_m, const glm::dvec2& high_m); // shows this rectangle with a margin
};

struct PlanContent {
    const field::Brief* brief = nullptr;       // required
    const field::Notebook* notebook = nullptr; // marks, readings, dig box
    const field::Observation* seen = nullptr;  // operator and receiver; nullptr in the debrief
    std::span<const field::TrailPoint> trail{};
    std::span<const ImU32> trail_colours{}; // one a point of the trail; empty: all of it in the trail's own colour
    const field::Setting* truth = nullptr;  // debrief only: run, sonde, lines, target
    const field::Score* score = nullptr;    // debrief only: error drawn as a dimension line
    const field::SondeTruth* sonde_then = nullptr; // debrief only: where it lay at the moment shown
    const MapPicture* map = nullptr;               // drawn when there is the truth as well, or field_allowed
    const field::TruePoints* points = nullptr;     // the same: real plumb points, level line, peak
    bool field_allowed = false; // a lesson that shows the field: map and points without the rest of the truth
};

// The scale bar: the longest of 1, 2, 5, 10, 20, 50 cm or m that is not longer than `longest_px`. px = metres *
// px_per_m.
struct ScaleBar {
    double metres = 1.0;
    float px = 0.0F;
    std::string label; // "5 m", "20 cm"
};
ScaleBar scale_bar(double px_per_m, float longest_px, field::Units units = field::Units::metric);

// Colour and letter of a line's paint by the uniform colour code (APWA; from memory): the letter repeats what the
// colour says.
ImU32 line_colour(const Palette& palette, field::LineKind kind);
char line_letter(field::LineKind kind); // E, G, C, W, R, S

// From here on the tip gets a fine cross and a mark is drawn at its true size.
inline constexpr double fine_px_per_m = 50.0;
inline constexpr double mark_radius_m = 0.12; // of a paint mark on the ground
float mark_radius_px(const PlanView& view, float h);

// The rectangle that shows what a debrief is about: sonde, target, locate, dig box and the marks near them.
struct PlanExtent {
    glm::dvec2 low_m{0.0};
    glm::dvec2 high_m{0.0};
};
PlanExtent debrief_extent(const field::Setting& truth, const field::Notebook& notebook,
                          const field::Score* score = nullptr, const field::TruePoints* points = nullptr);

// The cable had been moved when the locate was marked: there are two places of the sonde to draw.
bool located_apart(const field::LocatedSonde& located);

// Whole sheet inside view, on ground that is paper already: grid, areas with hatching and names, paint, clues, marks,
// trail, operator at true size with his reach, north arrow, scale bar.
void draw_plan(ImDrawList& list, const Theme& theme, const PlanView& view, const PlanContent& content);

// A small plan for a row of the start page: outlines only.
void draw_thumbnail(ImDrawList& list, const Theme& theme, ImVec2 origin, ImVec2 size, const field::Brief& brief);

// The true field in the section: its lines in the upright plane through the sonde along the pipe (straight on past a
// bend), and the receiver as it stood. Worked out once, in some milliseconds; drawn each frame.
struct SectionField {
    std::vector<sim::FieldLine> lines;    // places: along the section from its middle, height
    double most_out_deg = 0.0;            // how far the field leaves the plane at most, of the lines near the sonde
    std::optional<glm::dvec2> receiver_m; // in plan: at the locate, else at the last depth reading
    bool at_locate = false;
    double tip_to_antenna_m = 0.05;
    double antenna_spacing_m = 0.0; // 0: one coil
};
SectionField section_field_of(const field::Setting& truth, const field::Notebook& notebook, const field::Score& score);

// Vertical section along the pipe through the sonde, on paper: ground, pipe, sonde with its tilt, dig box, called depth
// as a dimension; with `field` its lines and the receiver's antennas at true scale.
void draw_section(ImDrawList& list, const Theme& theme, ImVec2 origin, ImVec2 size, const field::Setting& truth,
                  const field::Notebook& notebook, const field::Score& score, const SectionField* field = nullptr);

// The symbols of the marks, shared with the strip and the help sheet.
void draw_mark_symbol(ImDrawList& list, const Theme& theme, ImVec2 at, float radius, field::MarkKind kind,
                      float level_bar_heading_deg = 90.0F);

} // namespace sondeyard::ui
