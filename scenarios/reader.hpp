// Inside of the readers: what their parts share. reader.cpp takes a scenario apart, lesson_reader.cpp a lesson;
// reader_values.cpp reads a value by its row of the table, reader_words.cpp says what was found, reader_checks.cpp holds
// what must fit together in a scenario.
#pragma once

#include "scenarios/schema.hpp"

#include <toml++/toml.h>

namespace sondeyard::scenarios {

// The faults of one file, gathered so that an author mends them all at once.
class FaultList {
public:
    explicit FaultList(std::string source) : source_(std::move(source)) {}

    void add(const Spot& spot, std::string_view key, std::string_view text);
    std::size_t size() const { return faults_.size(); }
    std::vector<std::string> messages() const; // in the order of the file
    void throw_if_any() const;                 // ScenarioError

private:
    struct Fault {
        Spot spot;
        std::string message;
    };

    std::string source_;
    std::vector<Fault> faults_;
};

// Throws ScenarioError when the text is too large or no TOML.
toml::table parse_toml(std::string_view text, std::string_view source);

// reader_values.cpp
Spot spot_of(const toml::source_region& region);
// A value as its row allows it, its place with it; else a fault, and nothing. A number may be a distribution unless
// `plain` says where it must be a plain one (" in a resolved scenario", or nothing more to be said).
std::optional<Entry> read_value(const KeyRow& row, const toml::node& node, FaultList& faults,
                                std::optional<std::string_view> plain);

// reader_words.cpp
std::string_view group_of(std::string_view key); // "sonde" of "sonde.depth_m"; empty at the top
std::string_view leaf_of(std::string_view key);
bool is_list(std::string_view name, const KeyTable& table = scenario_keys);
bool is_group(std::string_view name, const KeyTable& table = scenario_keys);
std::string in_quotes(std::string_view text); // long ones cut
std::string found_text(const toml::node& node);
std::string unknown_key_text(std::string_view group, std::string_view leaf, const KeyTable& table = scenario_keys);
// The known word that somebody most likely meant, if one is near enough.
std::optional<std::string_view> nearest(std::string_view found, std::span<const std::string_view> known);

// reader_checks.cpp: what must fit together in a file whose every value is allowed by itself.
void check_together(FaultList& faults, const Scenario::Content& content);

} // namespace sondeyard::scenarios
