#include "field/debrief_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

std::string fixed(double value, int decimals) {
    std::string text = fmt::format("{:.{}f}", value, decimals);
    const bool zero = text.find_first_not_of("-0.") == std::string::npos;
    return zero && text.front() == '-' ? text.substr(1) : text;
}

std::string metres(double value_m) { return either(fixed(value_m, 2) + " m", value_m); }

std::string at_least_a_cm(double value_m) {
    return value_m < nearly_m ? "{less than 1 cm|less than 1/2 in}" : metres(value_m);
}

std::string area_text(double value_m2) {
    const bool close = value_m2 < largest_box_m2 + 0.005;
    return fmt::format("{{{} m2|{} sq ft}}", fixed(value_m2, close ? 3 : 2),
                       fixed(value_m2 / (metres_per_foot * metres_per_foot), close ? 2 : 1));
}

std::string volume_text(double value_m3) {
    return fmt::format("{{{} m3|{} cu ft}}", fixed(value_m3, 2),
                       fixed(value_m3 / (metres_per_foot * metres_per_foot * metres_per_foot), 1));
}

std::string box_text(double length_m, double width_m) {
    return fmt::format("{{{} x {} m|{} x {}}}", fixed(length_m, 2), fixed(width_m, 2),
                       length_text(length_m, Units::feet), length_text(width_m, Units::feet));
}

std::string error_words(double value_m) {
    return std::abs(value_m) < 1.0 ? either(fixed(100.0 * value_m, 0) + " cm", value_m) : metres(value_m);
}

namespace {

std::string whole_cm(double value_m) {
    return fmt::format("{{{} cm|{}}}", fixed(100.0 * value_m, 0), length_text(value_m, Units::feet));
}

std::string to_the_millimetre(double value_m) {
    return fmt::format("{{{} cm|{} in}}", fixed(100.0 * value_m, 1), fixed(value_m / metres_per_inch, 1));
}

} // namespace

Held held_against(std::optional<double> error_m, std::span<const double> bands_m) {
    const auto looks_equal = [&](double band_m) {
        return error_m && (fixed(100.0 * *error_m, 0) == fixed(100.0 * band_m, 0) ||
                           length_text(*error_m, Units::feet) == length_text(band_m, Units::feet));
    };
    const bool close = std::ranges::any_of(bands_m, looks_equal);
    Held held{{}, {}, close};
    if (error_m) {
        held.error = close ? to_the_millimetre(*error_m) : error_words(*error_m);
    }
    for (const double band_m : bands_m) {
        held.bands.push_back(close ? to_the_millimetre(band_m) : whole_cm(band_m));
    }
    return held;
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
