#include "field/lengths.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double longest_m = 1e6; // longer ones are nobody's yard, and would fill a line with digits

// Decimals that round to zero lose their sign with it.
std::string decimals(double value, int places) {
    const double step = std::pow(10.0, -places);
    return fmt::format("{:.{}f}", std::abs(value) < 0.5 * step ? 0.0 : value, places);
}

std::string feet_text(double length_m, bool inches_alone = false) {
    constexpr long long quarters_per_foot = 48;
    const long long quarters = std::llround(length_m / metres_per_inch * 4.0);
    const long long size = std::llabs(quarters);
    const long long feet = inches_alone ? 0 : size / quarters_per_foot;
    const long long inches = (size - feet * quarters_per_foot) / 4;
    static constexpr std::array<std::string_view, 4> parts = {"", "1/4", "1/2", "3/4"};
    const std::string_view part = parts[static_cast<std::size_t>(size % 4)];
    std::string text = quarters < 0 ? "-" : "";
    if (feet > 0) {
        text += fmt::format("{} ft ", feet);
    }
    if (part.empty()) {
        text += fmt::format("{} in", inches);
    } else if (inches == 0) {
        text += fmt::format("{} in", part);
    } else {
        text += fmt::format("{} {} in", inches, part);
    }
    return text;
}

// What no ladder of figures can show, or nothing.
std::string odd_text(double length_m, Units units) {
    if (!std::isfinite(length_m)) {
        return "--";
    }
    if (std::abs(length_m) > longest_m) {
        return units == Units::feet ? fmt::format("{:.3g} ft", length_m / metres_per_foot)
                                    : fmt::format("{:.3g} m", length_m);
    }
    return {};
}

} // namespace

std::string_view name_of(Units units) { return units == Units::feet ? "feet" : "metric"; }

std::optional<Units> units_named(std::string_view name) {
    for (const Units each : {Units::metric, Units::feet}) {
        if (name == name_of(each)) {
            return each;
        }
    }
    return std::nullopt;
}

std::string length_text(double length_m, Units units) {
    std::string odd = odd_text(length_m, units);
    if (!odd.empty()) {
        return odd;
    }
    return units == Units::feet ? feet_text(length_m) : decimals(length_m, 2) + " m";
}

std::string narrow_text(double length_m, Units units) {
    std::string odd = odd_text(length_m, units);
    return units == Units::feet && odd.empty() ? feet_text(length_m, true) : length_text(length_m, units);
}

std::string error_text(double length_m, Units units) {
    const bool in_cm = units == Units::metric && std::abs(length_m) < 0.995; // false for what is no number
    return in_cm ? decimals(length_m * 100.0, 0) + " cm" : length_text(length_m, units);
}

std::string round_text(double length_m, Units units) {
    std::string text = length_text(length_m, units);
    if (units == Units::feet || !odd_text(length_m, units).empty()) {
        return text;
    }
    text.resize(text.size() - 2); // the unit
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') {
        text.pop_back();
    }
    return text + " m";
}

std::string either(double length_m) { return either(length_text(length_m, Units::metric), length_m); }

std::string either(std::string_view metric, double length_m) {
    return fmt::format("{{{}|{}}}", metric, length_text(length_m, Units::feet));
}

// ---- Reading ----

namespace {

// A number with its unit's size in metres; 0: none was given.
struct Part {
    double number = 0.0;
    double unit_m = 0.0;
    bool whole = false; // digits only
};

class LengthReader {
public:
    explicit LengthReader(std::string_view text) : left_(text) {}

    bool at_end() {
        skip_blanks();
        return left_.empty();
    }
    bool take(std::string_view word) {
        if (left_.substr(0, word.size()) != word) {
            return false;
        }
        left_.remove_prefix(word.size());
        return true;
    }
    // A decimal number, a fraction, or a whole number and a fraction; then a unit, if there is one.
    std::optional<Part> part() {
        skip_blanks();
        std::optional<Part> read = decimal();
        if (!read) {
            return std::nullopt;
        }
        if (left_.starts_with('/')) {
            if (!over(read->number, *read)) {
                return std::nullopt;
            }
        } else if (read->whole) {
            const std::string_view before = left_;
            const std::string_view gap = left_.substr(0, left_.find_first_not_of(" \t-"));
            left_.remove_prefix(gap.size());
            const std::optional<Part> numerator = gap.empty() ? std::nullopt : decimal();
            Part fraction;
            if (numerator && left_.starts_with('/')) {
                if (!over(numerator->number, fraction)) {
                    return std::nullopt;
                }
                read->number += fraction.number;
            } else {
                left_ = before;
            }
        }
        read->unit_m = unit();
        return read;
    }

private:
    void skip_blanks() { left_.remove_prefix(std::min(left_.find_first_not_of(" \t"), left_.size())); }

    // from_chars alone would also take "inf", "nan" and signs; a locale has no say in it.
    std::optional<Part> decimal() {
        const std::size_t n = std::min(left_.find_first_not_of("0123456789."), left_.size());
        const std::string digits(left_.substr(0, n));
        Part read{.whole = digits.find('.') == std::string::npos};
        const char* const last = digits.data() + digits.size();
        const auto [end, error] = std::from_chars(digits.data(), last, read.number, std::chars_format::fixed);
        if (error != std::errc() || end != last) {
            return std::nullopt;
        }
        left_.remove_prefix(n);
        return read;
    }
    bool over(double numerator, Part& result) {
        left_.remove_prefix(1);
        const std::optional<Part> denominator = decimal();
        if (!denominator || denominator->number == 0.0) {
            return false;
        }
        result.number = numerator / denominator->number;
        return true;
    }
    double unit() {
        struct Unit {
            std::string_view word;
            double size_m;
        };
        static constexpr std::array<Unit, 19> units = {{{"mm", 0.001},
                                                        {"cm", 0.01},
                                                        {"metres", 1.0},
                                                        {"meters", 1.0},
                                                        {"metre", 1.0},
                                                        {"meter", 1.0},
                                                        {"m", 1.0},
                                                        {"feet", metres_per_foot},
                                                        {"foot", metres_per_foot},
                                                        {"ft.", metres_per_foot},
                                                        {"ft", metres_per_foot},
                                                        {"inches", metres_per_inch},
                                                        {"inch", metres_per_inch},
                                                        {"in.", metres_per_inch},
                                                        {"in", metres_per_inch},
                                                        {"''", metres_per_inch},
                                                        {"\"", metres_per_inch},
                                                        {"'", metres_per_foot},
                                                        {"\u2032", metres_per_foot}}};
        skip_blanks();
        for (const Unit& each : units) {
            if (take(each.word)) {
                return each.size_m;
            }
        }
        return take("\u2033") ? metres_per_inch : 0.0;
    }

    std::string_view left_;
};

} // namespace

std::optional<double> parse_length(std::string_view text, Units alone) {
    LengthReader reader(text);
    if (reader.at_end()) {
        return std::nullopt;
    }
    const double sign = reader.take("-") ? -1.0 : 1.0;
    const std::optional<Part> first = reader.part();
    if (!first) {
        return std::nullopt;
    }
    double unit_m = first->unit_m;
    if (unit_m == 0.0) {
        unit_m = alone == Units::feet ? metres_per_foot : 1.0;
    }
    double length_m = first->number * unit_m;
    if (!reader.at_end()) { // inches after feet, and nothing else
        const std::optional<Part> second = reader.part();
        const bool inches = second && second->unit_m == metres_per_inch && first->unit_m == metres_per_foot;
        if (!inches || !reader.at_end()) {
            return std::nullopt;
        }
        length_m += second->number * metres_per_inch;
    }
    return std::isfinite(length_m) ? std::optional<double>(sign * length_m) : std::nullopt;
}

std::string in_units(std::string_view text, Units units) {
    std::string result;
    result.reserve(text.size());
    while (!text.empty()) {
        const std::size_t open = text.find('{');
        const std::size_t close = open == std::string_view::npos ? open : text.find('}', open);
        if (close == std::string_view::npos) {
            break;
        }
        const std::string_view inside = text.substr(open + 1, close - open - 1);
        const std::size_t bar = inside.find('|');
        const std::string_view metric = inside.substr(0, bar);
        const std::optional<double> length_m = parse_length(metric);
        result += text.substr(0, open);
        if (!length_m && bar == std::string_view::npos) {
            result += text.substr(open, close + 1 - open);
        } else if (units == Units::metric) {
            result += metric;
        } else {
            result +=
                bar == std::string_view::npos ? length_text(*length_m, units) : std::string(inside.substr(bar + 1));
        }
        text.remove_prefix(close + 1);
    }
    result += text;
    return result;
}

} // namespace sondeyard::field
