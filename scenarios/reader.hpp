// Inside of the reader: what its parts share. reader.cpp takes a file apart, reader_words.cpp says what it found,
// reader_checks.cpp holds what must fit together.
#pragma once

#include "scenarios/schema.hpp"

#include <toml++/toml.h>

namespace sondeyard::scenarios {

// The faults of one file, gathered so that an author mends them all at once.
class FaultList {
public:
    explicit FaultList(const Scenario::Content& content) : content_(content) {}

    void add(const Spot& spot, std::string_view key, std::string_view text);
    std::size_t size() const { return faults_.size(); }
    void throw_if_any(); // ScenarioError, in the order of the file

private:
    struct Fault {
        Spot spot;
        std::string message;
    };

    const Scenario::Content& content_;
    std::vector<Fault> faults_;
};

// reader_words.cpp
std::string_view group_of(std::string_view key); // "sonde" of "sonde.depth_m"; empty at the top
std::string_view leaf_of(std::string_view key);
bool is_list(std::string_view name);
bool is_group(std::string_view name);
std::string in_quotes(std::string_view text); // long ones cut
std::string found_text(const toml::node& node);
std::string unknown_key_text(std::string_view group, std::string_view leaf);
// The known word that somebody most likely meant, if one is near enough.
std::optional<std::string_view> nearest(std::string_view found, std::span<const std::string_view> known);

// reader_checks.cpp: what must fit together in a file whose every value is allowed by itself.
void check_together(FaultList& faults, const Scenario::Content& content);

} // namespace sondeyard::scenarios
