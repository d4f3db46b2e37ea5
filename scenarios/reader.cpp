// TOML text to checked Content. Every fault of a file is found in one reading, so that an author mends it once.
#include "scenarios/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

namespace sondeyard::scenarios {

namespace {

constexpr std::size_t most_list_rows = 500;

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
        const std::optional<std::string_view> plain =
            content_.resolved ? std::optional<std::string_view>(" in a resolved scenario") : std::nullopt;
        if (std::optional<Entry> entry = read_value(*row, node, faults_, plain)) {
            if (key == "title" && !content_.resolved && std::get<std::string>(entry->value).empty()) {
                fault(entry->spot, key, "found an empty text; allowed: 1 to 80 characters");
            } else {
                into.emplace(key, std::move(*entry));
            }
        }
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

} // namespace

toml::table parse_toml(std::string_view text, std::string_view source) {
    const auto refuse = [&](const Spot& spot, std::string_view key, std::string_view words) {
        throw ScenarioError({message_at(source, spot, key, words)});
    };
    if (text.size() > largest_file_bytes) {
        refuse({}, "file", fmt::format("found {} bytes; allowed: at most {}", text.size(), largest_file_bytes));
    }
    try {
        return toml::parse(text, source);
    } catch (const toml::parse_error& e) {
        refuse(spot_of(e.source()), "syntax",
               fmt::format("found no valid TOML: {}; allowed: TOML 1.0 in UTF-8", e.description()));
    }
    return {};
}

void FaultList::add(const Spot& spot, std::string_view key, std::string_view text) {
    faults_.push_back({spot, message_at(source_, spot, key, text)});
}

std::vector<std::string> FaultList::messages() const {
    std::vector<Fault> sorted = faults_;
    std::ranges::sort(sorted, {}, [](const Fault& f) { return std::tuple(f.spot.line, f.spot.column, f.message); });
    std::vector<std::string> messages;
    messages.reserve(sorted.size());
    for (Fault& f : sorted) {
        messages.push_back(std::move(f.message));
    }
    return messages;
}

void FaultList::throw_if_any() const {
    if (!faults_.empty()) {
        throw ScenarioError(messages());
    }
}

Scenario::Content read_content(std::string_view text, std::string_view source) {
    Scenario::Content content;
    content.source = source;
    const toml::table root = parse_toml(text, content.source);

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

    FaultList faults(content.source);
    Reader(content, faults).read(root);
    check_present(faults, content, root);
    check_together(faults, content);
    faults.throw_if_any();
    return content;
}

} // namespace sondeyard::scenarios
