#include "scenarios/values.hpp"

#include "scenarios/grid.hpp"
#include "sim/random.hpp"

#include <fmt/format.h>

namespace sondeyard::scenarios {

namespace {

constexpr int most_redraws = 200; // of a normal distribution that leaves the allowed range

} // namespace

std::optional<double> Values::number(std::string_view key) const {
    const Entry* entry = find(key);
    return entry == nullptr
               ? std::nullopt
               : std::optional(draw(*entry, key, std::string(key), std::get<std::vector<Number>>(entry->value)[0]));
}

std::optional<glm::dvec2> Values::place(std::string_view key) const {
    const Entry* entry = find(key);
    if (entry == nullptr) {
        return std::nullopt;
    }
    const auto& both = std::get<std::vector<Number>>(entry->value);
    return glm::dvec2{draw(*entry, key, fmt::format("{}.x", key), both[0]),
                      draw(*entry, key, fmt::format("{}.y", key), both[1])};
}

std::vector<glm::dvec2> Values::places(std::string_view key) const {
    std::vector<glm::dvec2> out;
    for (const auto& p : std::get<Points>(find(key)->value)) {
        out.emplace_back(p[0], p[1]);
    }
    return out;
}

std::vector<glm::dvec3> Values::places_3d(std::string_view key) const {
    std::vector<glm::dvec3> out;
    for (const auto& p : std::get<Points>(find(key)->value)) {
        out.emplace_back(p[0], p[1], p[2]);
    }
    return out;
}

void Values::refuse(std::string_view key, std::string_view text) const {
    const Entry* entry = find(key);
    throw ScenarioError({message_at(content_, entry != nullptr ? entry->spot : Spot{}, key, text)});
}

double Values::draw(const Entry& entry, std::string_view key, const std::string& stream, const Number& number) const {
    if (content_.resolved) {
        return number.values.front(); // given to the last digit already
    }
    sim::Draws draws(seed_, "scenario." + stream);
    const auto& v = number.values;
    switch (number.form) {
    case Number::Form::fixed:
        return micro(v[0]);
    case Number::Form::uniform:
        return micro(draws.uniform(v[0], v[1]));
    case Number::Form::choice:
        return micro(v[static_cast<std::size_t>(draws.integer(0, static_cast<int>(v.size()) - 1))]);
    case Number::Form::normal:
        break;
    }
    // The tails of a normal distribution reach outside any range: draw again, since moving the value to the range's
    // edge would heap cases up there.
    const KeyRow& row = *find_row(key);
    double drawn = 0.0;
    for (int i = 0; i < most_redraws; ++i) {
        drawn = micro(draws.normal(v[0], v[1]));
        if (drawn <= row.high && (row.low_excluded ? drawn > row.low : drawn >= row.low)) {
            return drawn;
        }
    }
    throw ScenarioError(
        {message_at(content_, entry.spot, key,
                    fmt::format("found {} drawn from the distribution with seed {}, and {} draws all outside "
                                "the range; allowed: {}",
                                drawn, seed_, most_redraws, allowed_text(row)))});
}

} // namespace sondeyard::scenarios
