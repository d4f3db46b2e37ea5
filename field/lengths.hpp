// Lengths as people write and read them: metres, or feet and inches. Inside the program every length is in metres, and
// so are files and JSON documents; a sentence, a figure on the screen or a typed number goes through here.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace sondeyard::field {

inline constexpr double metres_per_foot = 0.3048; // exact: international yard and pound agreement, 1959
inline constexpr double metres_per_inch = 0.0254;

enum class Units { metric, feet };
std::string_view name_of(Units units);                   // "metric", "feet"
std::optional<Units> units_named(std::string_view name); // the same words; empty for any other
inline constexpr std::string_view units_allowed = "\"metric\" or \"feet\"";

// A length with its unit. metric: two decimals, "1.52 m". feet: to the nearest quarter inch, "5 ft 0 in", "5 ft 3 1/2
// in", below a foot "11 3/4 in", "0 in". A sign only before what is not rounded to 0. "--" for what is no number;
// beyond 1e6 m with three digits.
std::string length_text(double length_m, Units units);

// Where feet and inches have no room: metric as length_text, feet in inches alone, "31 1/2 in".
std::string narrow_text(double length_m, Units units);

// As length_text, for an error or another small length: "18 cm" below a metre, "1.25 m" from there on; "7 in", "1 ft 2 1/4
// in".
std::string error_text(double length_m, Units units);

// A length of a round figure that was chosen, not measured: as few decimals as show it ("0.5 m", "3 m").
std::string round_text(double length_m, Units units);

// Both forms of a length for in_units, "{1.52 m|5 ft 0 in}": a sentence is put together once, and said in the reader's
// units at the end. The second takes the metric form as it is given.
std::string either(double length_m);
std::string either(std::string_view metric, double length_m);

// Texts that were written down beforehand (data files, fixed sentences) have their lengths in braces: "within {0.5 m}",
// or "{1.5 m|5 ft}" where each system has its own round figure. metric: what stands before the bar, as it stands.
// feet: what stands after it, else the length in feet and inches. Braces without a bar that hold no length stay as they
// are.
std::string in_units(std::string_view text, Units units);

// A length that somebody typed: "1.6 m", "160 cm", "12 mm", "5 ft 3 in", "5' 3 1/2\"", "5ft", "63 in", "3/4 in". A
// number alone is in metres, with Units::feet in feet. Blanks may stand anywhere between number and unit; a sign only
// in front; the decimal mark is a point. Empty for anything else: say then that `lengths_allowed` are.
std::optional<double> parse_length(std::string_view text, Units alone = Units::metric);
inline constexpr std::string_view lengths_allowed = "1.6 m, 160 cm, 5 ft 3 in or 5' 3 1/2\"";

} // namespace sondeyard::field
