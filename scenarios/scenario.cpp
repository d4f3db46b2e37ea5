#include "scenarios/schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <system_error>

namespace sondeyard::scenarios {

namespace {

std::string joined(const std::vector<std::string>& messages) { return fmt::format("{}", fmt::join(messages, "\n")); }

std::string text_of(const Scenario::Content& content, std::string_view key) {
    const auto at = content.entries.find(key);
    return at == content.entries.end() ? std::string{} : std::get<std::string>(at->second.value);
}

const BundledFile* find_bundled(std::string_view name) {
    const auto files = bundled_files();
    const auto at = std::ranges::find(files, name, &BundledFile::name);
    return at == files.end() ? nullptr : &*at;
}

std::string stem_of(std::string_view source) { return std::filesystem::path(source).stem().string(); }

} // namespace

ScenarioError::ScenarioError(std::vector<std::string> all)
    : std::runtime_error(joined(all)), messages(std::move(all)) {}

Scenario::Scenario(std::string name, std::string text, std::shared_ptr<const Content> content)
    : name_(std::move(name)), text_(std::move(text)), content_(std::move(content)) {}

std::string Scenario::title() const { return text_of(*content_, "title"); }
std::string Scenario::news() const { return text_of(*content_, "news"); }
std::string Scenario::story() const { return text_of(*content_, "story"); }

std::string message_at(std::string_view source, const Spot& spot, std::string_view key, std::string_view text) {
    return fmt::format("{}:{}:{}: {}: {}", source, spot.line, spot.column, key, text);
}

std::string message_at(const Scenario::Content& content, const Spot& spot, std::string_view key,
                       std::string_view text) {
    return message_at(content.source, spot, key, text);
}

// ---- The table of keys ----

const KeyRow* find_row(std::string_view key, const KeyTable& table) {
    const auto at = std::ranges::find(table.rows, key, &KeyRow::key);
    return at == table.rows.end() ? nullptr : &*at;
}

std::string allowed_text(const KeyRow& row) {
    const std::string unit = row.unit.empty() ? "" : fmt::format(" {}", row.unit);
    switch (row.kind) {
    case Kind::text:
        return row.low > 0.0 ? fmt::format("a text of {} to {} characters", row.low, row.high)
                             : fmt::format("a text of at most {} characters", row.high);
    case Kind::number:
        return row.low_excluded ? fmt::format("a number above {} and at most {}{}", row.low, row.high, unit)
                                : fmt::format("a number from {} to {}{}", row.low, row.high, unit);
    case Kind::count:
        return row.low < row.high ? fmt::format("a whole number from {:.0f} to {:.0f}", row.low, row.high)
                                  : fmt::format("{}", row.low);
    case Kind::yes_no:
        return "true or false";
    case Kind::word:
        return fmt::format("\"{}\"", fmt::join(row.words, "\", \""));
    case Kind::words:
        return fmt::format("a list of \"{}\"", fmt::join(row.words, "\", \""));
    case Kind::check:
        return "{ check = NAME, its parameters }";
    case Kind::place:
        return fmt::format("[x, y], each from {} to {} m", row.low, row.high);
    case Kind::places:
        return fmt::format("a list of {} or more [x, y]", row.low);
    case Kind::places_3d:
        return fmt::format("a list of {} or more [x, y, z]", row.low);
    case Kind::seed:
        return "a whole number from 0, or its digits as a text (\"0\" to \"18446744073709551615\")";
    }
    return {};
}

std::string key_table_markdown(const KeyTable& table) {
    std::string out = "| key | value | left out | meaning |\n| --- | --- | --- | --- |\n";
    for (const KeyRow& row : table.rows) {
        const auto dot = row.key.rfind('.');
        const std::string_view group = dot == std::string_view::npos ? "" : row.key.substr(0, dot);
        const bool listed = std::ranges::find(table.lists, group) != table.lists.end();
        const std::string key = group.empty() ? std::string(row.key)
                                              : fmt::format("{}{}{} {}", listed ? "[[" : "[", group,
                                                            listed ? "]]" : "]", row.key.substr(dot + 1));
        const std::string_view form = row.form == Form::resolved ? " (resolved only)" : "";
        const std::string_view standard = row.need == Need::always ? "never"
                                          : row.standard.empty()   ? "never"
                                                                   : row.standard;
        out += fmt::format("| `{}`{} | {} | {} | {} |\n", key, form, allowed_text(row), standard, row.meaning);
    }
    return out;
}

// ---- Getting at scenarios ----

Scenario parse_scenario(std::string_view text, std::string_view source) {
    auto content = std::make_shared<Scenario::Content>(read_content(text, source));
    return {stem_of(source), std::string(text), std::move(content)};
}

Scenario load_scenario(const std::filesystem::path& file) {
    const auto refuse = [&](std::string_view text) {
        throw ScenarioError({fmt::format("{}:1:1: file: {}", file.string(), text)});
    };
    std::error_code error;
    const auto status = std::filesystem::status(file, error);
    if (!std::filesystem::exists(status)) {
        refuse("found no such file; allowed: a scenario file (TOML)");
    }
    if (std::filesystem::is_directory(status)) {
        refuse("found a folder; allowed: a scenario file (TOML)");
    }
    if (!std::filesystem::is_regular_file(status)) {
        refuse("found a device or pipe; allowed: an ordinary file");
    }
    std::ifstream in(file, std::ios::binary);
    if (!in) {
        refuse("found a file that cannot be read; allowed: one that you may read");
    }
    // One byte more than allowed is enough to know that it is too long, whatever size the file says it has.
    std::string text(largest_file_bytes + 1, '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    if (in.bad()) {
        refuse("found an error while reading; allowed: a file that can be read to its end");
    }
    text.resize(static_cast<std::size_t>(in.gcount()));
    if (text.size() > largest_file_bytes) {
        refuse(fmt::format("found more than {0} bytes; allowed: at most {0}", largest_file_bytes));
    }
    return parse_scenario(text, file.string());
}

std::vector<std::string> bundled_names() {
    std::vector<std::string> names;
    for (const BundledFile& file : bundled_files()) {
        names.emplace_back(file.name);
    }
    return names;
}

Scenario bundled(std::string_view name) {
    const BundledFile* file = find_bundled(name);
    if (file == nullptr) {
        throw std::out_of_range(fmt::format("no bundled exercise is named \"{}\"", name));
    }
    return parse_scenario(file->text, fmt::format("{}.toml", name));
}

Scenario find_scenario(const std::string& path_or_name) {
    std::error_code error;
    const auto status = std::filesystem::status(path_or_name, error);
    const bool file = std::filesystem::exists(status) && !std::filesystem::is_directory(status);
    if (!file && find_bundled(path_or_name) != nullptr) {
        return bundled(path_or_name);
    }
    if (!std::filesystem::exists(status)) {
        throw ScenarioError(
            {fmt::format("{0}:1:1: scenario: found neither a file nor a bundled exercise \"{0}\"; allowed: a "
                         "scenario file (TOML), or one of {1}",
                         path_or_name, fmt::join(bundled_names(), ", "))});
    }
    return load_scenario(path_or_name);
}

} // namespace sondeyard::scenarios
