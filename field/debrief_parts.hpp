// Inside of the debrief: what its parts share. debrief.cpp has the notes and sets the order, debrief_hole.cpp the first
// line, debrief_tilt.cpp where peak and level line stand to a tilted sonde, debrief_figures.cpp the table.
#pragma once

#include "field/debrief.hpp"
#include "field/lengths.hpp"

#include <optional>
#include <span>
#include <string_view>

namespace sondeyard::field {

constexpr double nearly_m = 0.005;       // shorter than this is 0.00 m in print
constexpr double worth_telling_m = 0.02; // of what a slope does
constexpr double spot_share = 0.15;      // of the depth: a mark this near an expected spot stands on it

using Notes = std::vector<std::string>;

// debrief_words.cpp. What has a unit comes in both, in braces: debrief() says it in the reader's at the end (in_units).
std::string fixed(double value, int decimals); // rounded for print, without "-0.00"
std::string metres(double value_m);
std::string at_least_a_cm(double value_m); // or "less than 1 cm"
std::string area_text(double value_m2);
std::string volume_text(double value_m3);
std::string box_text(double length_m, double width_m);
std::string
error_words(double value_m); // in centimetres while one would measure it with a hand's rule, in metres beyond
// An error beside what is allowed, in whole centimetres; to the millimetre where a figure just outside would else look
// inside.
struct Held {
    std::string error; // empty when there is none
    std::vector<std::string> bands;
    bool close = false; // to the millimetre
};
Held held_against(std::optional<double> error_m, std::span<const double> bands_m);
std::string signed_text(double value, int decimals);
std::string_view compass_word(double heading_deg);

std::string hole_sentence(const World& world, const Notebook& notebook, const Score& score);
void add_tilt_notes(const Setting& setting, const Score& score, const Mark* locate, Notes& notes);
std::vector<Figure> debrief_figures(const Notebook& notebook, const Score& score);

} // namespace sondeyard::field
