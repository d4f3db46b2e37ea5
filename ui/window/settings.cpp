#include "ui/window/settings.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <pwd.h>
#include <toml++/toml.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <sstream>

namespace sondeyard::ui {

namespace fs = std::filesystem;

namespace {

fs::path folder_from(const char* variable, std::string_view below_home) {
    const passwd* entry = getpwuid(getuid()); // in the window's one thread
    return folder_of_user(std::getenv(variable), std::getenv("HOME"), entry != nullptr ? entry->pw_dir : nullptr,
                          below_home);
}

// Reads one key into `value`; a fault is a sentence naming line, key and what is allowed.
class Reader {
public:
    Reader(const toml::table& table, std::string name) : table_(table), name_(std::move(name)) {}

    void number(std::string_view key, double& value, double low, double high) {
        if (const toml::node* node = table_.get(key)) {
            const auto found = node->value<double>();
            if (!found || !(*found >= low && *found <= high)) {
                return fault(*node, key, fmt::format("a number from {:g} to {:g}", low, high));
            }
            value = *found;
        }
    }
    void whole(std::string_view key, int& value, int low, int high) {
        if (const toml::node* node = table_.get(key)) {
            const auto found = node->value_exact<std::int64_t>();
            if (!found || *found < low || *found > high) {
                return fault(*node, key, fmt::format("a whole number from {} to {}", low, high));
            }
            value = static_cast<int>(*found);
        }
    }
    void truth(std::string_view key, bool& value) {
        if (const toml::node* node = table_.get(key)) {
            const auto found = node->value_exact<bool>();
            if (!found) {
                return fault(*node, key, "true or false");
            }
            value = *found;
        }
    }
    // One of these values, by its name.
    template <typename Value, std::size_t n>
    void choice(std::string_view key, Value& value, const Value (&values)[n], std::string_view allowed) {
        if (const toml::node* node = table_.get(key)) {
            for (const Value each : values) {
                if (node->value_exact<std::string>() == std::string(name_of(each))) {
                    value = each;
                    return;
                }
            }
            fault(*node, key, allowed);
        }
    }
    const std::string& trouble() const { return trouble_; }

private:
    void fault(const toml::node& node, std::string_view key, std::string_view allowed) {
        if (trouble_.empty()) {
            trouble_ = fmt::format("{}:{}: {}: {} is allowed; the usual settings are used.", name_,
                                   static_cast<unsigned>(node.source().begin.line), key, allowed);
        }
    }
    const toml::table& table_;
    std::string name_;
    std::string trouble_;
};

LoadedSettings read_settings(const fs::path& file) {
    LoadedSettings loaded;
    loaded.existed = true;
    try {
        const toml::table table = toml::parse_file(file.string());
        Reader reader(table, file.string());
        Settings s;
        double scale = 0.0;
        reader.truth("night", s.night);
        reader.number("scale", scale, 0.0, largest_scale);
        s.scale = scale == 0.0 ? 0.0 : std::max(scale, smallest_scale);
        reader.number("volume", s.volume, 0.0, 1.0);
        reader.truth("muted", s.muted);
        reader.whole("width", s.width, 320, 16384);
        reader.whole("height", s.height, 200, 16384);
        reader.choice("next_line", s.next_line, {NextLine::fades, NextLine::always, NextLine::off},
                      "\"fades\", \"always\" or \"off\"");
        reader.choice("units", s.units, {field::Units::metric, field::Units::feet}, field::units_allowed);
        reader.whole("exercises_done", s.exercises_done, 0, 1'000'000'000);
        loaded.trouble = reader.trouble();
        if (loaded.trouble.empty()) {
            loaded.settings = s;
        }
    } catch (const toml::parse_error& e) {
        loaded.trouble = fmt::format("{}:{}: {}; the usual settings are used.", file.string(),
                                     static_cast<unsigned>(e.source().begin.line), std::string(e.description()));
    }
    return loaded;
}

std::string text_of(const Settings& s) {
    return fmt::format("# Sondeyard's settings. The program writes this file when something is changed in its window.\n"
                       "night = {}\n"
                       "scale = {:.2f} # 0: by the screen's height\n"
                       "volume = {:.2f}\n"
                       "muted = {}\n"
                       "width = {}\n"
                       "height = {}\n"
                       "next_line = \"{}\" # fades, always, off\n"
                       "units = \"{}\" # metric, feet\n"
                       "exercises_done = {}\n",
                       s.night, s.scale, s.volume, s.muted, s.width, s.height, name_of(s.next_line), name_of(s.units),
                       s.exercises_done);
}

} // namespace

std::string_view name_of(NextLine choice) {
    switch (choice) {
    case NextLine::fades:
        return "fades";
    case NextLine::always:
        return "always";
    case NextLine::off:
        return "off";
    }
    return "";
}

fs::path folder_of_user(const char* xdg, const char* home, const char* password_entry, std::string_view below_home) {
    const auto absolute = [](const char* path) { return path != nullptr && fs::path(path).is_absolute(); };
    if (absolute(xdg)) { // the XDG rule: a relative path is to be ignored
        return fs::path(xdg) / "sondeyard";
    }
    const char* chosen = absolute(home) ? home : absolute(password_entry) ? password_entry : nullptr;
    return chosen == nullptr ? fs::path() : fs::path(chosen) / below_home / "sondeyard";
}

fs::path config_folder() { return folder_from("XDG_CONFIG_HOME", ".config"); }
fs::path data_folder() { return folder_from("XDG_DATA_HOME", ".local/share"); }

LoadedSettings load_settings(const fs::path& file) {
    std::error_code ignored;
    if (file.empty() || !fs::exists(file, ignored)) {
        return {};
    }
    return read_settings(file);
}

std::string save_settings(const fs::path& file, const Settings& settings) {
    if (file.empty()) {
        return fmt::format("The settings are not kept: {}.", no_home);
    }
    std::error_code error;
    fs::create_directories(file.parent_path(), error);
    if (const LoadedSettings before = load_settings(file); !before.trouble.empty()) {
        fs::rename(file, fs::path(file.string() + ".bad"), error);
    }
    const fs::path temporary = file.string() + ".new";
    {
        std::ofstream out(temporary, std::ios::binary | std::ios::trunc);
        out << text_of(settings);
        out.flush();
        if (!out) {
            fs::remove(temporary, error);
            return fmt::format("The settings cannot be saved in {}.", file.string());
        }
    }
    fs::rename(temporary, file, error);
    return error ? fmt::format("The settings cannot be saved in {}: {}.", file.string(), error.message())
                 : std::string();
}

namespace {

std::optional<Result> result_in(const nlohmann::json& j) {
    if (!j.is_object()) {
        return std::nullopt;
    }
    try {
        Result r;
        r.exercise = j.at("exercise").get<std::string>();
        r.seed = j.at("seed").get<std::uint64_t>();
        r.points = j.at("points").get<int>();
        r.passed = j.at("passed").get<bool>();
        r.date = j.at("date").get<std::string>();
        r.log = j.value("log", std::string());
        return r;
    } catch (const nlohmann::json::exception&) {
        return std::nullopt; // a member is missing or of another kind
    }
}

} // namespace

std::vector<Result> load_results(const fs::path& file) {
    std::vector<Result> results;
    std::ifstream in(file, std::ios::binary);
    for (std::string line; std::getline(in, line);) {
        const nlohmann::json j = nlohmann::json::parse(line, nullptr, false);
        if (std::optional<Result> result = result_in(j)) {
            results.push_back(std::move(*result));
        }
    }
    return results;
}

const Result* best_result(const std::vector<Result>& results, std::string_view exercise) {
    const Result* best = nullptr;
    for (const Result& r : results) {
        if (r.exercise == exercise && (best == nullptr || r.points > best->points)) {
            best = &r;
        }
    }
    return best;
}

std::string local_time_text(std::string_view strftime_format) {
    const std::time_t now = std::time(nullptr);
    std::tm parts{};
    localtime_r(&now, &parts);
    char buffer[64] = {};
    const std::string format(strftime_format);
    const std::size_t n = std::strftime(buffer, sizeof buffer, format.c_str(), &parts);
    return {buffer, n};
}

std::string file_stem_of(std::string_view title) {
    std::string stem;
    for (const char c : title) {
        const bool letter_or_digit = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
        if (letter_or_digit) {
            stem += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        } else if (!stem.empty() && stem.back() != '-') {
            stem += '-';
        }
        if (stem.size() == 40) {
            break;
        }
    }
    while (!stem.empty() && stem.back() == '-') {
        stem.pop_back();
    }
    return stem.empty() ? "exercise" : stem;
}

} // namespace sondeyard::ui
