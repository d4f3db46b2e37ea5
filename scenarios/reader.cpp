// TOML text to checked Content. Every fault of a file is found in one reading, so that an author mends it once.
#include "scenarios/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <tuple>

namespace sondeyard::scenarios {

namespace {

constexpr std::size_t most_choices = 100;
constexpr std::size_t most_points = 2000;
constexpr std::size_t most_list_rows = 500;

Spot spot_of(const toml::source_region& region) { return {region.begin.line, region.begin.column}; }

bool in_range(const KeyRow& row, double value) {
    return std::isfinite(value) && (row.low_excluded ? value > row.low : value >= row.low) && value <= row.high;
}

class Reader {
public:
    Reader(Scenario::Content& content, FaultList& faults) : content_(content), faults_(faults) {}

    void read(const toml::table& root) {
        for (const auto& [key, node] : root) {
            const std::string name(key.str());
            if (is_list(name)) {
                read_list(name, node);
            } else if (is_group(name)) {
                read_group(name, node);
            } else {
                read_key(content_.entries, name, "", spot_of(key.source()), node);
            }
        }
    }

private:
    void fault(const Spot& spot, std::string_view key, std::string_view text) { faults_.add(spot, key, text); }

    void read_group(const std::string& name, const toml::node& node) {
        const auto* table = node.as_table();
        if (table == nullptr) {
            fault(spot_of(node.source()), name, fmt::format("found {}; allowed: a table [{}]", found_text(node), name));
            return;
        }
        content_.tables.emplace(name, spot_of(node.source()));
        for (const auto& [key, value] : *table) {
            read_key(content_.entries, name + "." + std::string(key.str()), name, spot_of(key.source()), value);
        }
    }

    void read_list(const std::string& name, const toml::node& node) {
        const auto* list = node.as_array();
        const bool tables =
            list != nullptr && std::ranges::all_of(*list, [](const toml::node& n) { return n.is_table(); });
        if (!tables) {
            fault(spot_of(node.source()), name,
                  fmt::format("found {}; allowed: tables, each written [[{}]]", found_text(node), name));
            return;
        }
        if (!content_.resolved) {
            fault(spot_of(node.source()), name,
                  fmt::format("found [[{}]]; allowed only with resolved = true, where nothing is drawn", name));
            return;
        }
        if (list->size() > most_list_rows) {
            fault(spot_of(node.source()), name,
                  fmt::format("found {} of them; allowed: at most {}", list->size(), most_list_rows));
            return;
        }
        auto& rows = content_.lists[name];
        for (const toml::node& one : *list) {
            Entries entries;
            for (const auto& [key, value] : *one.as_table()) {
                read_key(entries, name + "." + std::string(key.str()), name, spot_of(key.source()), value);
            }
            for (const KeyRow& row : key_table) {
                if (group_of(row.key) == name && row.need == Need::always &&
                    !one.as_table()->contains(leaf_of(row.key))) {
                    fault(spot_of(one.source()), row.key, "missing; allowed: " + allowed_text(row));
                }
            }
            rows.push_back(std::move(entries));
        }
    }

    void read_key(Entries& into, const std::string& key, std::string_view group, const Spot& spot,
                  const toml::node& node) {
        const KeyRow* row = find_row(key);
        if (row == nullptr) {
            fault(spot, key, unknown_key_text(group, leaf_of(key)));
            return;
        }
        if (row->form == Form::authored && content_.resolved) {
            fault(spot, key, "found in a resolved scenario; allowed only where something is still to be drawn");
            return;
        }
        if (row->form == Form::resolved && !content_.resolved) {
            fault(spot, key, "found in a scenario that is not resolved; allowed only with resolved = true");
            return;
        }
        Entry entry{spot_of(node.source()), {}};
        const std::size_t before = faults_.size();
        read_value(*row, node, entry);
        if (faults_.size() == before) {
            into.emplace(key, std::move(entry));
        }
    }

    void wrong(const KeyRow& row, const toml::node& node) {
        fault(spot_of(node.source()), row.key,
              fmt::format("found {}; allowed: {}", found_text(node), allowed_text(row)));
    }

    void read_value(const KeyRow& row, const toml::node& node, Entry& entry) {
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
        case Kind::yes_no:
            if (const auto* yes = node.as_boolean()) {
                entry.value = yes->get();
            } else {
                wrong(row, node);
            }
            return;
        }
    }

    void read_text(const KeyRow& row, const toml::node& node, Entry& entry) {
        const auto* text = node.as_string();
        if (text == nullptr) {
            return wrong(row, node);
        }
        const std::string& found = text->get();
        const auto characters =
            std::ranges::count_if(found, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
        if (static_cast<double>(characters) > row.high) {
            return fault(spot_of(node.source()), row.key,
                         fmt::format("found a text of {} characters; allowed: {}", characters, allowed_text(row)));
        }
        const bool control =
            std::ranges::any_of(found, [](char c) { return static_cast<unsigned char>(c) < 32 && c != '\n'; });
        if (control || found.find('\x7f') != std::string::npos) {
            return fault(spot_of(node.source()), row.key,
                         fmt::format("found a control character in the text; allowed: {}", allowed_text(row)));
        }
        if (row.key == "title" && found.empty() && !content_.resolved) {
            return fault(spot_of(node.source()), row.key, "found an empty text; allowed: 1 to 80 characters");
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
        if (content_.resolved) {
            fault(spot_of(node.source()), row.key,
                  "found a distribution; allowed in a resolved scenario: " + allowed_text(row));
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

    Scenario::Content& content_;
    FaultList& faults_;
};

void check_present(FaultList& faults, const Scenario::Content& content, const toml::table& root) {
    for (const KeyRow& row : key_table) {
        const std::string_view group = group_of(row.key);
        const bool needed = row.need == Need::always || (row.need == Need::when_resolved && content.resolved);
        if (!needed || is_list(group)) {
            continue;
        }
        const toml::table* home = group.empty() ? &root : root.get_as<toml::table>(group);
        if (home == nullptr || !home->contains(leaf_of(row.key))) {
            const auto table = content.tables.find(group);
            faults.add(table != content.tables.end() ? table->second : Spot{}, row.key,
                       fmt::format("missing; allowed: {}", allowed_text(row)));
        }
    }
}

[[noreturn]] void refuse(const Scenario::Content& content, const Spot& spot, std::string_view key,
                         std::string_view text) {
    throw ScenarioError({message_at(content, spot, key, text)});
}

toml::table parse_toml(const Scenario::Content& content, std::string_view text) {
    if (text.size() > largest_file_bytes) {
        refuse(content, {}, "file",
               fmt::format("found {} bytes; allowed: at most {}", text.size(), largest_file_bytes));
    }
    try {
        return toml::parse(text, std::string_view(content.source));
    } catch (const toml::parse_error& e) {
        refuse(content, spot_of(e.source()), "syntax",
               fmt::format("found no valid TOML: {}; allowed: TOML 1.0 in UTF-8", e.description()));
    }
}

} // namespace

void FaultList::add(const Spot& spot, std::string_view key, std::string_view text) {
    faults_.push_back({spot, message_at(content_, spot, key, text)});
}

void FaultList::throw_if_any() {
    if (faults_.empty()) {
        return;
    }
    std::ranges::sort(faults_, {}, [](const Fault& f) { return std::tuple(f.spot.line, f.spot.column, f.message); });
    std::vector<std::string> messages;
    messages.reserve(faults_.size());
    for (Fault& f : faults_) {
        messages.push_back(std::move(f.message));
    }
    throw ScenarioError(std::move(messages));
}

Scenario::Content read_content(std::string_view text, std::string_view source) {
    Scenario::Content content;
    content.source = source;
    const toml::table root = parse_toml(content, text);

    // Another format's keys cannot be judged, so its number comes first and alone.
    const toml::node* format = root.get("format");
    if (format == nullptr) {
        refuse(content, {}, "format", fmt::format("missing; allowed: format = {}", scenario_format));
    }
    if (format->value_exact<std::int64_t>() != scenario_format) {
        refuse(content, spot_of(format->source()), "format",
               fmt::format("found {}; allowed: {}", found_text(*format), scenario_format));
    }
    content.resolved = root["resolved"].value_exact<bool>().value_or(false);

    FaultList faults(content);
    Reader(content, faults).read(root);
    check_present(faults, content, root);
    check_together(faults, content);
    faults.throw_if_any();
    return content;
}

} // namespace sondeyard::scenarios
