// How an exercise is written down: TOML in, a World out, and a World back to TOML with all truth explicit.
//
// A value may be a number or a distribution, resolved by the seed: { uniform = [a, b] }, { normal = [mean, sd] },
// { choice = [..] }. What a scenario leaves out is drawn by the generator. See DEVELOPERS.md for the table of keys.
#pragma once

#include "field/world.hpp"

#include <filesystem>
#include <memory>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::scenarios {

// Message: "file:line:column: key: what was found; what is allowed". One a fault; `what()` joins them with newlines.
struct ScenarioError : std::runtime_error {
    explicit ScenarioError(std::vector<std::string> all);
    std::vector<std::string> messages;
};

// A scenario file read and checked, not yet resolved.
class Scenario {
public:
    struct Content; // the checked TOML document
    Scenario(std::string name, std::string text, std::shared_ptr<const Content> content);
    const std::string& name() const { return name_; } // file stem or bundled name
    const std::string& text() const { return text_; }
    const Content& content() const { return *content_; }
    std::string title() const;
    std::string news() const;  // what is new in it, one line
    std::string story() const; // one line for the list

private:
    std::string name_;
    std::string text_;
    std::shared_ptr<const Content> content_;
};

// All throw ScenarioError. `source` is the name used in messages.
Scenario parse_scenario(std::string_view text, std::string_view source);
Scenario load_scenario(const std::filesystem::path& file);

// Same scenario and seed, same World, on every machine. Throws ScenarioError when the values drawn cannot be built.
field::World resolve(const Scenario& scenario, std::uint64_t seed);

// The resolved scenario as TOML: parse and resolve (any seed) gives the same World again, noise included, since it
// carries its seed.
std::string to_toml(const field::World& world);

// The bundled exercises, in course order. Names are file stems.
std::vector<std::string> bundled_names();
Scenario bundled(std::string_view name); // throws std::out_of_range

// A path to a file, or the name of a bundled exercise when no such file exists. Throws ScenarioError naming both.
Scenario find_scenario(const std::string& path_or_name);

} // namespace sondeyard::scenarios
