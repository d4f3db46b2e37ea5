// TOML text to checked Content. Every fault of a file is found in one reading, so that an author mends it once.
#include "field/geometry.hpp"
#include "scenarios/schema.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>
#include <toml++/toml.h>

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

std::string_view group_of(std::string_view key) {
    const auto dot = key.find('.');
    return dot == std::string_view::npos ? std::string_view{} : key.substr(0, dot);
}

std::string_view leaf_of(std::string_view key) {
    const auto dot = key.find('.');
    return dot == std::string_view::npos ? key : key.substr(dot + 1);
}

bool is_list(std::string_view name) { return std::ranges::find(list_names, name) != list_names.end(); }

bool is_group(std::string_view name) {
    return !name.empty() &&
           std::ranges::any_of(key_table, [&](const KeyRow& row) { return group_of(row.key) == name; });
}

// What may stand in a table ("" the top level): its keys, and at the top the tables too.
std::vector<std::string_view> known_in(std::string_view group) {
    std::vector<std::string_view> known;
    for (const KeyRow& row : key_table) {
        if (group_of(row.key) == group) {
            known.push_back(leaf_of(row.key));
        } else if (group.empty() && (known.empty() || known.back() != group_of(row.key))) {
            known.push_back(group_of(row.key));
        }
    }
    return known;
}

// The known key that somebody most likely meant, if one is near enough.
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

std::string unknown_key_text(std::string_view group, std::string_view leaf) {
    const std::string found = in_quotes(leaf);
    for (const KeyRow& row : key_table) { // right key, wrong table
        if (leaf_of(row.key) == leaf && group_of(row.key) != group) {
            const std::string_view home = group_of(row.key);
            return home.empty() ? fmt::format("found the unknown key {}; {} belongs at the top, above the first table",
                                              found, leaf)
                                : fmt::format("found the unknown key {}; {} belongs in [{}]", found, leaf, home);
        }
    }
    const auto known = known_in(group);
    if (const auto meant = nearest(leaf, known)) {
        return fmt::format("found the unknown key {}; did you mean {}?", found, *meant);
    }
    return fmt::format("found the unknown key {}; allowed here: {}", found, fmt::join(known, ", "));
}

bool in_range(const KeyRow& row, double value) {
    return std::isfinite(value) && (row.low_excluded ? value > row.low : value >= row.low) && value <= row.high;
}

class Reader {
public:
    explicit Reader(Scenario::Content& content) : content_(content) {}

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

    void fault(const Spot& spot, std::string_view key, std::string_view text) {
        faults_.push_back({spot, message_at(content_, spot, key, text)});
    }

    void throw_if_any() {
        if (faults_.empty()) {
            return;
        }
        std::ranges::sort(faults_, {},
                          [](const Fault& f) { return std::tuple(f.spot.line, f.spot.column, f.message); });
        std::vector<std::string> messages;
        messages.reserve(faults_.size());
        for (Fault& f : faults_) {
            messages.push_back(std::move(f.message));
        }
        throw ScenarioError(std::move(messages));
    }

    bool faultless() const { return faults_.empty(); }

private:
    struct Fault {
        Spot spot;
        std::string message;
    };

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
    std::vector<Fault> faults_;
};

// ---- What must be there, and what must fit together ----

const Entry* find(const Entries& entries, std::string_view key) {
    const auto at = entries.find(key);
    return at == entries.end() ? nullptr : &at->second;
}

std::uint64_t word_or(const Entries& entries, std::string_view key, std::uint64_t standard) {
    const Entry* entry = find(entries, key);
    return entry != nullptr ? std::get<std::uint64_t>(entry->value) : standard;
}

void check_present(Reader& reader, const Scenario::Content& content, const toml::table& root) {
    for (const KeyRow& row : key_table) {
        const std::string_view group = group_of(row.key);
        const bool needed = row.need == Need::always || (row.need == Need::when_resolved && content.resolved);
        if (!needed || is_list(group)) {
            continue;
        }
        const toml::table* home = group.empty() ? &root : root.get_as<toml::table>(group);
        if (home == nullptr || !home->contains(leaf_of(row.key))) {
            const auto table = content.tables.find(group);
            reader.fault(table != content.tables.end() ? table->second : Spot{}, row.key,
                         fmt::format("missing; allowed: {}", allowed_text(row)));
        }
    }
}

void check_shape(Reader& reader, const Scenario::Content& content) {
    const Entries& entries = content.entries;
    const Entry* shape = find(entries, "run.shape");
    const Entry* points = find(entries, "run.points_m");
    const Entry* fall = find(entries, "run.fall_percent");
    const Entry* branch = find(entries, "run.branch_tilt_deg");
    const bool placed = find(entries, "sonde.position_m") != nullptr;
    const Entry* depth = find(entries, "sonde.depth_m");
    if (points != nullptr && depth != nullptr && !placed) {
        reader.fault(
            depth->spot, "sonde.depth_m",
            "found beside run.points_m without sonde.position_m; allowed: with a place, or none (the pipe's depth)");
    }
    if (shape != nullptr && points != nullptr) {
        reader.fault(shape->spot, "run.shape", "found beside run.points_m; allowed: one of the two");
    }
    const std::uint64_t is = word_or(entries, "run.shape", placed ? 0 : 1);
    if (shape != nullptr && is == 0 && !placed) {
        reader.fault(shape->spot, "run.shape",
                     "found \"none\" without a place for the sonde; allowed: with sonde.position_m, or another shape");
    }
    if (fall != nullptr && (points != nullptr || is == 0)) {
        reader.fault(fall->spot, "run.fall_percent",
                     "found where no run is drawn; allowed with run.shape \"fall\", \"steep_branch\" or \"drop\"");
    }
    if (branch != nullptr && (points != nullptr || is != 2)) {
        reader.fault(branch->spot, "run.branch_tilt_deg",
                     "found without a steep branch; allowed with run.shape \"steep_branch\"");
    }
    if (content.resolved && points != nullptr) {
        for (const std::string_view key : {"run.material", "run.inside_diameter_m", "run.wall_m"}) {
            if (find(entries, key) == nullptr) {
                reader.fault(points->spot, key, "missing; allowed: " + allowed_text(*find_row(key)));
            }
        }
    }
}

// Has the ground a shape, as far as the file says without being drawn?
bool is_shaped(const Scenario::Content& content) {
    return std::ranges::any_of(std::array{"ground.slope_percent", "ground.step_rise_m", "ground.pad_rise_m"},
                               [&](const char* key) { return find(content.entries, key) != nullptr; }) ||
           content.lists.contains("step") || content.lists.contains("pad");
}

// A key that means nothing without another.
void check_needs(Reader& reader, const Scenario::Content& content, std::string_view key, std::string_view other) {
    const Entry* entry = find(content.entries, key);
    if (entry != nullptr && find(content.entries, other) == nullptr) {
        reader.fault(entry->spot, key, fmt::format("found without {}; allowed: together with it", other));
    }
}

void check_receiver(Reader& reader, const Scenario::Content& content) {
    for (const std::string_view key : {"receiver.coil_core_diameter_m", "receiver.coil_mu_eff",
                                       "receiver.coil_resistance_ohm", "receiver.coil_amplifier_nv_per_rthz"}) {
        check_needs(reader, content, key, "receiver.coil_turns");
    }
    for (const std::string_view key : {"receiver.wide_settling_tau_s", "receiver.wide_band_half_width_hz"}) {
        check_needs(reader, content, key, "receiver.has_wide");
    }
    check_needs(reader, content, "receiver.gain_step_db", "receiver.gain_steps");
}

void check_ground(Reader& reader, const Scenario::Content& content) {
    const auto needs = [&](std::string_view key, std::string_view other) { check_needs(reader, content, key, other); };
    needs("ground.slope_toward_deg", "ground.slope_percent");
    for (const std::string_view key : {"ground.step_ramp_m", "ground.step_offset_m", "ground.step_toward_deg"}) {
        needs(key, "ground.step_rise_m");
    }
    for (const std::string_view key : {"ground.pad_offset_m", "ground.pad_toward_deg"}) {
        needs(key, "ground.pad_rise_m");
    }
    if (content.resolved) { // nothing is drawn here
        needs("ground.slope_percent", "ground.slope_toward_deg");
    }
}

// Tables of what else is in the yard: each says the one thing without which it would mean nothing.
void check_company(Reader& reader, const Scenario::Content& content) {
    const Entries& entries = content.entries;
    const auto needs = [&](std::string_view group, std::string_view key, std::string_view why) {
        const auto table = content.tables.find(group);
        if (table != content.tables.end() && find(entries, key) == nullptr && !content.resolved) {
            reader.fault(table->second, key,
                         fmt::format("missing, {}; allowed: {}", why, allowed_text(*find_row(key))));
        }
    };
    needs("neighbour", "neighbour.kind", "so that no line can be laid");
    needs("other_sonde", "other_sonde.distance_m", "so that no other crew can be placed");
    const Entry* supply = find(entries, "hum.supply");
    if (supply != nullptr && find(entries, "hum.current_A") == nullptr) {
        reader.fault(supply->spot, "hum.supply", "found without hum.current_A; allowed: with a current");
    }
    const std::uint64_t material = word_or(entries, "run.material", 0);
    const bool metal = field::usual_metal(static_cast<field::PipeMaterial>(material)).conductivity_s_per_m > 0.0;
    for (const std::string_view key : {"run.relative_permeability", "run.conductivity_MS_per_m"}) {
        const Entry* entry = find(entries, key);
        if (entry != nullptr && !metal) {
            reader.fault(entry->spot, key,
                         fmt::format("found beside a pipe of {}; allowed: with a metal", material_words[material]));
        }
    }
    const std::uint64_t connection = word_or(entries, "neighbour.connection", 2);
    const Entry* clamp = find(entries, "neighbour.clamp_current_mA");
    if (clamp != nullptr && connection == 0) {
        reader.fault(clamp->spot, "neighbour.clamp_current_mA",
                     "found on a line that is not of metal; allowed: with connection \"bonded\" or \"isolated\"");
    }
}

std::optional<field::Run> fixed_run(const Entries& entries) {
    const Entry* points = find(entries, "run.points_m");
    const auto diameter = fixed_number(entries, "run.inside_diameter_m");
    if (points == nullptr || (!diameter && find(entries, "run.inside_diameter_m") != nullptr)) {
        return std::nullopt;
    }
    field::Run run;
    run.inside_diameter_m = diameter.value_or(run.inside_diameter_m);
    for (const auto& p : std::get<Points>(points->value)) {
        run.centreline_m.emplace_back(p[0], p[1], p[2]);
    }
    return run;
}

bool check_run_points(Reader& reader, const Scenario::Content& content, const field::Run& run) {
    const Spot spot = find(content.entries, "run.points_m")->spot;
    const auto width = fixed_number(content.entries, "yard.width_m").value_or(60.0);
    const auto length = fixed_number(content.entries, "yard.length_m").value_or(60.0);
    for (std::size_t i = 0; i < run.centreline_m.size(); ++i) {
        const glm::dvec3& p = run.centreline_m[i];
        std::string text;
        if (p.x < 0.0 || p.y < 0.0 || p.x > width || p.y > length) {
            text = fmt::format("found point {} outside the yard at ({}, {}); allowed: 0 to {} m east, 0 to {} m north",
                               i + 1, p.x, p.y, width, length);
        } else if (p.z >= 0.0 && !is_shaped(content)) { // else looked at with the ground over it
            text = fmt::format("found point {} at z = {}; allowed: below the ground, z < 0", i + 1, p.z);
        } else if (i > 0 && p.z > run.centreline_m[i - 1].z) {
            text = fmt::format("found point {} higher than the one before; allowed: a drain never rises", i + 1);
        } else if (i > 0 && glm::distance(p, run.centreline_m[i - 1]) < 0.001) {
            text = fmt::format("found point {} on top of the one before; allowed: 1 mm apart or more", i + 1);
        }
        if (!text.empty()) {
            reader.fault(spot, "run.points_m", text);
            return false;
        }
    }
    return true;
}

void check_place(Reader& reader, const Scenario::Content& content) {
    const Entries& entries = content.entries;
    const auto place = fixed_place(entries, "sonde.position_m");
    const auto run = fixed_run(entries);
    const bool run_holds = !run || check_run_points(reader, content, *run);
    const auto above_invert = fixed_number(entries, "sonde.above_invert_m");
    const double diameter = fixed_number(entries, "run.inside_diameter_m").value_or(field::Run{}.inside_diameter_m);
    if (above_invert && *above_invert >= diameter) {
        reader.fault(
            find(entries, "sonde.above_invert_m")->spot, "sonde.above_invert_m",
            fmt::format("found {} in a pipe of {} m; allowed: less than its inside diameter", *above_invert, diameter));
    }
    if (!place) {
        return;
    }
    const Spot spot = find(entries, "sonde.position_m")->spot;
    const auto width = fixed_number(entries, "yard.width_m");
    const auto length = fixed_number(entries, "yard.length_m");
    if ((width && place->x > *width) || (length && place->y > *length)) {
        reader.fault(spot, "sonde.position_m",
                     fmt::format("found ({}, {}), outside the yard; allowed: 0 to {} m east, 0 to {} m north", place->x,
                                 place->y, width.value_or(60.0), length.value_or(60.0)));
        return;
    }
    const Entry* depth = find(entries, "sonde.depth_m");
    const auto fixed_depth = fixed_number(entries, "sonde.depth_m");
    const bool elsewhere = content.resolved && is_shaped(content); // z = 0 need not be over the sonde
    if (run && run_holds && !elsewhere && (depth == nullptr || fixed_depth)) {
        const Lying lying = lie_in_run(*run, *place, fixed_depth, above_invert.value_or(0.025));
        if (!lying.fault.empty()) {
            reader.fault(spot, "sonde.position_m", lying.fault);
        }
    }
    const auto areas = content.lists.find("area");
    if (areas == content.lists.end()) {
        return;
    }
    for (const Entries& area : areas->second) {
        const std::string_view kind = area_words[word_or(area, "area.kind", 2)];
        const Entry* outline = find(area, "area.outline_m");
        if (outline == nullptr || (kind != "house" && kind != "shed" && kind != "tree")) {
            continue;
        }
        field::Polygon corners;
        for (const auto& p : std::get<Points>(outline->value)) {
            corners.emplace_back(p[0], p[1]);
        }
        if (field::contains(corners, *place)) {
            reader.fault(spot, "sonde.position_m",
                         fmt::format("found ({}, {}), inside a {}; allowed: where a receiver can stand", place->x,
                                     place->y, kind));
        }
    }
}

void check_bands(Reader& reader, const Scenario::Content& content) {
    for (const std::string_view unit : {"_m", "_share"}) {
        static constexpr std::array<std::string_view, 3> names = {"full", "half", "quarter"};
        static constexpr std::array<double, 3> standard_m = {0.15, 0.25, 0.50};
        static constexpr std::array<double, 3> standard_share = {0.15, 0.25, 0.40};
        double before = 0.0;
        for (std::size_t i = 0; i < names.size(); ++i) {
            const std::string key = fmt::format("rubric.{}{}", names[i], unit);
            const Entry* entry = find(content.entries, key);
            const double standard = unit == "_m" ? standard_m[i] : standard_share[i];
            const double value = fixed_number(content.entries, key).value_or(entry != nullptr ? before : standard);
            if (value < before) {
                const auto table = content.tables.find("rubric");
                const Spot home = table != content.tables.end() ? table->second : Spot{};
                reader.fault(entry != nullptr ? entry->spot : home, key,
                             fmt::format("found {}, narrower than the {} band's {}; allowed: full <= half <= quarter",
                                         value, names[i - 1], before));
            }
            before = value;
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

std::optional<double> fixed_number(const Entries& entries, std::string_view key) {
    const Entry* entry = find(entries, key);
    if (entry == nullptr) {
        return std::nullopt;
    }
    const Number& number = std::get<std::vector<Number>>(entry->value).front();
    return number.form == Number::Form::fixed ? std::optional(number.values.front()) : std::nullopt;
}

std::optional<glm::dvec2> fixed_place(const Entries& entries, std::string_view key) {
    const Entry* entry = find(entries, key);
    if (entry == nullptr) {
        return std::nullopt;
    }
    const auto& both = std::get<std::vector<Number>>(entry->value);
    if (both[0].form != Number::Form::fixed || both[1].form != Number::Form::fixed) {
        return std::nullopt;
    }
    return glm::dvec2{both[0].values.front(), both[1].values.front()};
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

    Reader reader(content);
    reader.read(root);
    check_present(reader, content, root);
    check_shape(reader, content);
    check_company(reader, content);
    check_ground(reader, content);
    check_receiver(reader, content);
    check_bands(reader, content);
    check_place(reader, content);
    reader.throw_if_any();
    return content;
}

} // namespace sondeyard::scenarios
