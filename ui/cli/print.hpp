// How the commands print: tables for a terminal of 80 to 100 columns, documents for programs.
#pragma once

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace sondeyard::ui {

inline constexpr std::size_t print_width = 96;

// Columns that UTF-8 text takes: code points, which is all that the program's own texts need.
inline std::size_t columns_of(std::string_view text) {
    std::size_t n = 0;
    for (const char c : text) {
        n += (static_cast<unsigned char>(c) & 0xC0U) != 0x80U ? 1U : 0U;
    }
    return n;
}

// Breaks text at blanks so that it fits print_width when its first line starts at column `indent`, where the further
// lines start too. A word longer than a line stands alone on one.
inline std::string wrapped(std::string_view text, std::size_t indent) {
    std::string out;
    std::size_t at = indent;
    while (!text.empty()) {
        const std::string_view word = text.substr(0, text.find(' '));
        text.remove_prefix(word.size() < text.size() ? word.size() + 1 : word.size());
        const std::size_t width = columns_of(word);
        if (at > indent) {
            if (at + 1 + width > print_width) {
                out += '\n' + std::string(indent, ' ');
                at = indent;
            } else {
                out += ' ';
                ++at;
            }
        }
        out += word;
        at += width;
    }
    return out;
}

// A row of a table: its head, and its text from column `indent` on.
inline void print_row(std::size_t indent, std::string_view head, std::string_view text) {
    fmt::print("{:<{}}{}\n", head, indent, wrapped(text, indent));
}

using Json = nlohmann::ordered_json; // keys in the order in which they are written

template <typename T>
Json or_null(const std::optional<T>& value) {
    return value ? Json(*value) : Json();
}

inline void print_json(const Json& document) { fmt::print("{}\n", document.dump(2)); }

} // namespace sondeyard::ui
