#include "field/debrief_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace sondeyard::field {

std::string fixed(double value, int decimals) {
    std::string text = fmt::format("{:.{}f}", value, decimals);
    const bool zero = text.find_first_not_of("-0.") == std::string::npos;
    return zero && text.front() == '-' ? text.substr(1) : text;
}

std::string metres(double value_m) { return fixed(value_m, 2) + " m"; }

std::string at_least_a_cm(double value_m) { return value_m < nearly_m ? "less than 1 cm" : metres(value_m); }

std::string area_text(double value_m2) { return fixed(value_m2, value_m2 < largest_box_m2 + 0.005 ? 3 : 2); }

std::string error_text(double value_m) {
    return std::abs(value_m) < 1.0 ? fixed(100.0 * value_m, 0) + " cm" : metres(value_m);
}

std::string tolerance_text(double value_m) {
    std::string text = fixed(100.0 * value_m, 1);
    return (text.ends_with(".0") ? text.substr(0, text.size() - 2) : text) + " cm";
}

std::string signed_text(double value, int decimals) {
    std::string text = fixed(value, decimals);
    return value > 0.0 && text.find_first_not_of("0.") != std::string::npos ? "+" + text : text;
}

std::string_view compass_word(double heading_deg) {
    static constexpr std::array<std::string_view, 8> words = {"north", "north-east", "east", "south-east",
                                                              "south", "south-west", "west", "north-west"};
    return words[static_cast<std::size_t>(std::lround(sim::wrap_360(heading_deg) / 45.0)) % words.size()];
}

} // namespace sondeyard::field
