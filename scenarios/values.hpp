// What a table of a scenario holds, with every distribution drawn. Private to this folder.
#pragma once

#include "scenarios/schema.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sondeyard::scenarios {

class Values {
public:
    Values(const Scenario::Content& content, const Entries& entries, std::uint64_t seed)
        : content_(content), entries_(entries), seed_(seed) {}

    const Entry* find(std::string_view key) const {
        const auto at = entries_.find(key);
        return at == entries_.end() ? nullptr : &at->second;
    }

    // Empty where the key is left out.
    std::optional<double> number(std::string_view key) const;
    double number(std::string_view key, double standard) const { return number(key).value_or(standard); }
    std::optional<glm::dvec2> place(std::string_view key) const;

    std::string text(std::string_view key) const {
        const Entry* entry = find(key);
        return entry == nullptr ? std::string{} : std::get<std::string>(entry->value);
    }
    bool yes(std::string_view key, bool standard) const {
        const Entry* entry = find(key);
        return entry == nullptr ? standard : std::get<bool>(entry->value);
    }
    std::uint64_t whole(std::string_view key, std::uint64_t standard) const { // counts, seeds and the index of a word
        const Entry* entry = find(key);
        return entry == nullptr ? standard : std::get<std::uint64_t>(entry->value);
    }
    template <typename Enumeration>
    Enumeration word(std::string_view key, Enumeration standard) const {
        return static_cast<Enumeration>(whole(key, static_cast<std::uint64_t>(standard)));
    }

    // Of a key that must be there.
    std::vector<glm::dvec2> places(std::string_view key) const;
    std::vector<glm::dvec3> places_3d(std::string_view key) const;

    // Throws ScenarioError, pointing to the key.
    [[noreturn]] void refuse(std::string_view key, std::string_view text) const;

    std::uint64_t seed() const { return seed_; }
    const Scenario::Content& content() const { return content_; }

private:
    double draw(const Entry& entry, std::string_view key, const std::string& stream, const Number& number) const;

    const Scenario::Content& content_;
    const Entries& entries_;
    std::uint64_t seed_;
};

} // namespace sondeyard::scenarios
