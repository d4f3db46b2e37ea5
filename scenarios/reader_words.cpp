// What a message says of a file: what was found there, and what was most likely meant.
#include "scenarios/reader.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sondeyard::scenarios {

namespace {

std::size_t edit_distance(std::string_view a, std::string_view b) { // Levenshtein 1966
    std::vector<std::size_t> row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) {
        row[j] = j;
    }
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t above = row[j];
            row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (a[i - 1] == b[j - 1] ? 0U : 1U)});
            diagonal = above;
        }
    }
    return row[b.size()];
}

// What may stand in a table ("" the top level): its keys, and at the top the tables too.
std::vector<std::string_view> known_in(std::string_view group, const KeyTable& table) {
    std::vector<std::string_view> known;
    for (const KeyRow& row : table.rows) {
        if (group_of(row.key) == group) {
            known.push_back(leaf_of(row.key));
        } else if (group.empty() && (known.empty() || known.back() != group_of(row.key))) {
            known.push_back(group_of(row.key));
        }
    }
    return known;
}

} // namespace

std::string in_quotes(std::string_view text) {
    constexpr std::size_t most = 40;
    if (text.size() <= most) {
        return fmt::format("\"{}\"", text);
    }
    std::size_t end = most; // never in the middle of a character
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) {
        --end;
    }
    return fmt::format("\"{}...\"", text.substr(0, end));
}

std::string found_text(const toml::node& node) {
    if (const auto* text = node.as_string()) {
        return "the text " + in_quotes(text->get());
    }
    if (const auto* whole = node.as_integer()) {
        return fmt::format("{}", whole->get());
    }
    if (const auto* number = node.as_floating_point()) {
        return fmt::format("{}", number->get());
    }
    if (const auto* yes = node.as_boolean()) {
        return yes->get() ? "true" : "false";
    }
    if (const auto* list = node.as_array()) {
        return list->empty() ? "an empty list" : fmt::format("a list of {}", list->size());
    }
    return node.is_table() ? "a table" : "a date or time";
}

std::string_view group_of(std::string_view key) {
    const auto dot = key.rfind('.');
    return dot == std::string_view::npos ? std::string_view{} : key.substr(0, dot);
}

std::string_view leaf_of(std::string_view key) {
    const auto dot = key.rfind('.');
    return dot == std::string_view::npos ? key : key.substr(dot + 1);
}

bool is_list(std::string_view name, const KeyTable& table) {
    return std::ranges::find(table.lists, name) != table.lists.end();
}

bool is_group(std::string_view name, const KeyTable& table) {
    return !name.empty() &&
           std::ranges::any_of(table.rows, [&](const KeyRow& row) { return group_of(row.key) == name; });
}

std::optional<std::string_view> nearest(std::string_view found, std::span<const std::string_view> known) {
    std::optional<std::string_view> best;
    std::size_t best_distance = std::max<std::size_t>(2, found.size() / 3) + 1;
    for (const std::string_view candidate : known) {
        const std::size_t distance = edit_distance(found, candidate);
        if (distance < best_distance) {
            best_distance = distance;
            best = candidate;
        }
    }
    return best;
}

std::string unknown_key_text(std::string_view group, std::string_view leaf, const KeyTable& table) {
    const std::string found = in_quotes(leaf);
    for (const KeyRow& row : table.rows) { // right key, wrong table
        if (leaf_of(row.key) == leaf && group_of(row.key) != group) {
            const std::string_view home = group_of(row.key);
            return home.empty() ? fmt::format("found the unknown key {}; {} belongs at the top, above the first table",
                                              found, leaf)
                                : fmt::format("found the unknown key {}; {} belongs in [{}]", found, leaf, home);
        }
    }
    const auto known = known_in(group, table);
    if (const auto meant = nearest(leaf, known)) {
        return fmt::format("found the unknown key {}; did you mean {}?", found, *meant);
    }
    return fmt::format("found the unknown key {}; allowed here: {}", found, fmt::join(known, ", "));
}

} // namespace sondeyard::scenarios
