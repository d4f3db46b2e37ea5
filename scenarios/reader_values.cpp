// One value of a file, by its row in the table of keys.
#include "scenarios/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

constexpr std::size_t most_choices = 100;
constexpr std::size_t most_points = 2000;

bool in_range(const KeyRow& row, double value) {
    return std::isfinite(value) && (row.low_excluded ? value > row.low : value >= row.low) && value <= row.high;
}

class ValueReader {
public:
    ValueReader(FaultList& faults, std::optional<std::string_view> plain) : faults_(faults), plain_(plain) {}

    void read(const KeyRow& row, const toml::node& node, Entry& entry) {
        switch (row.kind) {
        case Kind::text:
            return read_text(row, node, entry);
        case Kind::word:
            return read_word(row, node, entry);
        case Kind::seed:
            return read_seed(row, node, entry);
        case Kind::count:
            return read_count(row, node, entry);
        case Kind::places:
            return read_points(row, node, 2, entry);
        case Kind::places_3d:
            return read_points(row, node, 3, entry);
        case Kind::place:
            return read_place(row, node, entry);
        case Kind::number:
            if (auto number = read_number(row, node)) {
                entry.value = std::vector{std::move(*number)};
            }
            return;
        case Kind::words:
            return read_words(row, node, entry);
        case Kind::check: // its parameters are looked at by who knows the checks
            if (!node.is_table()) {
                wrong(row, node);
            }
            return;
        case Kind::yes_no:
            if (const auto* yes = node.as_boolean()) {
                entry.value = yes->get();
            } else {
                wrong(row, node);
            }
            return;
        }
    }

private:
    void fault(const Spot& spot, std::string_view key, std::string_view text) { faults_.add(spot, key, text); }

    void wrong(const KeyRow& row, const toml::node& node) {
        fault(spot_of(node.source()), row.key,
              fmt::format("found {}; allowed: {}", found_text(node), allowed_text(row)));
    }

    void read_text(const KeyRow& row, const toml::node& node, Entry& entry) {
        const auto* text = node.as_string();
        if (text == nullptr) {
            return wrong(row, node);
        }
        const std::string& found = text->get();
        const auto characters =
            std::ranges::count_if(found, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
        if (static_cast<double>(characters) > row.high || static_cast<double>(characters) < row.low) {
            return fault(spot_of(node.source()), row.key,
                         fmt::format("found a text of {} characters; allowed: {}", characters, allowed_text(row)));
        }
        const bool control =
            std::ranges::any_of(found, [](char c) { return static_cast<unsigned char>(c) < 32 && c != '\n'; });
        if (control || found.find('\x7f') != std::string::npos) {
            return fault(spot_of(node.source()), row.key,
                         fmt::format("found a control character in the text; allowed: {}", allowed_text(row)));
        }
        entry.value = found;
    }

    void read_word(const KeyRow& row, const toml::node& node, Entry& entry) {
        const auto* text = node.as_string();
        if (text == nullptr) {
            return wrong(row, node);
        }
        const std::string& found = text->get();
        const auto at = std::ranges::find(row.words, found);
        if (at == row.words.end()) {
            const auto meant = nearest(found, row.words);
            return fault(spot_of(node.source()), row.key,
                         fmt::format("found {}; allowed: {}{}", in_quotes(found), allowed_text(row),
                                     meant ? fmt::format("; did you mean \"{}\"?", *meant) : ""));
        }
        entry.value = static_cast<std::uint64_t>(at - row.words.begin());
    }

    void read_words(const KeyRow& row, const toml::node& node, Entry& entry) {
        const auto* list = node.as_array();
        if (list == nullptr) {
            return wrong(row, node);
        }
        std::vector<std::string> words;
        for (const toml::node& one : *list) {
            Entry word;
            const std::size_t before = faults_.size();
            read_word(row, one, word);
            if (faults_.size() == before) {
                words.emplace_back(row.words[std::get<std::uint64_t>(word.value)]);
            }
        }
        entry.value = std::move(words);
    }

    void read_seed(const KeyRow& row, const toml::node& node, Entry& entry) {
        if (const auto* whole = node.as_integer(); whole != nullptr && whole->get() >= 0) {
            entry.value = static_cast<std::uint64_t>(whole->get());
            return;
        }
        if (const auto* text = node.as_string()) {
            const std::string& digits = text->get();
            std::uint64_t seed = 0;
            const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), seed);
            if (error == std::errc{} && end == digits.data() + digits.size()) {
                entry.value = seed;
                return;
            }
        }
        wrong(row, node);
    }

    void read_count(const KeyRow& row, const toml::node& node, Entry& entry) {
        const auto* whole = node.as_integer();
        if (whole == nullptr || !in_range(row, static_cast<double>(whole->get()))) {
            return wrong(row, node);
        }
        entry.value = static_cast<std::uint64_t>(whole->get());
    }

    std::optional<double> plain_number(const toml::node& node) {
        if (const auto* whole = node.as_integer()) {
            return static_cast<double>(whole->get());
        }
        if (const auto* number = node.as_floating_point()) {
            return number->get();
        }
        return std::nullopt;
    }

    std::optional<Number> read_number(const KeyRow& row, const toml::node& node) {
        if (const auto value = plain_number(node)) {
            if (!in_range(row, *value)) {
                wrong(row, node);
                return std::nullopt;
            }
            return Number{Number::Form::fixed, {*value}};
        }
        const auto* table = node.as_table();
        if (table == nullptr) {
            wrong(row, node);
            return std::nullopt;
        }
        if (plain_) {
            fault(spot_of(node.source()), row.key,
                  fmt::format("found a distribution; allowed{}: {}", *plain_, allowed_text(row)));
            return std::nullopt;
        }
        return read_distribution(row, node, *table);
    }

    std::optional<Number> read_distribution(const KeyRow& row, const toml::node& node, const toml::table& table) {
        static constexpr std::array<std::string_view, 3> names = {"uniform", "normal", "choice"};
        static constexpr std::string_view allowed =
            "one of { uniform = [low, high] }, { normal = [mean, sd] }, { choice = [..] }";
        const auto refuse = [&](const Spot& spot, const std::string& found) {
            fault(spot, row.key, fmt::format("found {}; allowed: {}", found, allowed));
            return std::nullopt;
        };
        if (table.size() != 1) {
            return refuse(spot_of(node.source()), fmt::format("a table with {} keys", table.size()));
        }
        const auto only = table.cbegin();
        const toml::key& key = only->first;
        const toml::node& list_node = only->second;
        const auto name = std::ranges::find(names, key.str());
        if (name == names.end()) {
            return refuse(spot_of(key.source()), in_quotes(key.str()));
        }
        const auto* list = list_node.as_array();
        if (list == nullptr) {
            return refuse(spot_of(list_node.source()), found_text(list_node));
        }
        Number number{static_cast<Number::Form>(1 + (name - names.begin())), {}};
        for (const toml::node& one : *list) {
            const auto value = plain_number(one);
            if (!value) {
                return refuse(spot_of(one.source()), found_text(one) + " in the list");
            }
            number.values.push_back(*value);
        }
        return distribution_holds(row, list_node, number) ? std::optional(number) : std::nullopt;
    }

    bool distribution_holds(const KeyRow& row, const toml::node& list, const Number& number) {
        const auto refuse = [&](const std::string& found, const std::string& allowed) {
            fault(spot_of(list.source()), row.key, fmt::format("found {}; allowed: {}", found, allowed));
            return false;
        };
        const auto& values = number.values;
        if (number.form == Number::Form::choice) {
            if (values.empty() || values.size() > most_choices) {
                return refuse(fmt::format("a choice of {}", values.size()),
                              fmt::format("1 to {} numbers", most_choices));
            }
        } else if (values.size() != 2) {
            return refuse(fmt::format("a list of {}", values.size()), number.form == Number::Form::uniform
                                                                          ? "two numbers, [low, high]"
                                                                          : "two numbers, [mean, sd]");
        }
        const bool normal = number.form == Number::Form::normal;
        for (std::size_t i = 0; i < (normal ? 1 : values.size()); ++i) {
            if (!in_range(row, values[i])) {
                return refuse(fmt::format("{}{}", normal ? "the mean " : "", values[i]), allowed_text(row));
            }
        }
        if (number.form == Number::Form::uniform && values[0] > values[1]) {
            return refuse(fmt::format("the range [{}, {}]", values[0], values[1]), "the smaller number first");
        }
        if (normal && !(values[1] >= 0.0 && std::isfinite(values[1]))) {
            return refuse(fmt::format("the standard deviation {}", values[1]), "0 or more");
        }
        return true;
    }

    void read_place(const KeyRow& row, const toml::node& node, Entry& entry) {
        const auto* list = node.as_array();
        if (list == nullptr || list->size() != 2) {
            return wrong(row, node);
        }
        std::vector<Number> both;
        for (const toml::node& one : *list) {
            if (auto number = read_number(row, one)) {
                both.push_back(std::move(*number));
            }
        }
        entry.value = std::move(both);
    }

    void read_points(const KeyRow& row, const toml::node& node, std::size_t numbers, Entry& entry) {
        const auto* list = node.as_array();
        if (list == nullptr || static_cast<double>(list->size()) < row.low || list->size() > most_points) {
            return wrong(row, node);
        }
        Points points;
        for (const toml::node& one : *list) {
            const auto* point = one.as_array();
            if (point == nullptr || point->size() != numbers) {
                return fault(spot_of(one.source()), row.key,
                             fmt::format("found {}; allowed: {} numbers", found_text(one), numbers));
            }
            std::vector<double> values;
            for (const toml::node& each : *point) {
                const auto value = plain_number(each);
                if (!value || !(std::abs(*value) <= 1000.0)) {
                    return fault(spot_of(each.source()), row.key,
                                 fmt::format("found {}; allowed: a number from -1000 to 1000 m", found_text(each)));
                }
                values.push_back(*value);
            }
            points.push_back(std::move(values));
        }
        entry.value = std::move(points);
    }

    FaultList& faults_;
    std::optional<std::string_view> plain_;
};

} // namespace

Spot spot_of(const toml::source_region& region) { return {region.begin.line, region.begin.column}; }

std::optional<Entry> read_value(const KeyRow& row, const toml::node& node, FaultList& faults,
                                std::optional<std::string_view> plain) {
    Entry entry{spot_of(node.source()), {}};
    const std::size_t before = faults.size();
    ValueReader(faults, plain).read(row, node, entry);
    return faults.size() == before ? std::optional(std::move(entry)) : std::nullopt;
}

} // namespace sondeyard::scenarios
