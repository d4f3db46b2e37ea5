// What the program remembers between two starts, in the XDG folders: settings (TOML). Results are in the store of
// progress (people.hpp).
#pragma once

#include "field/lengths.hpp"
#include "field/progress.hpp"

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::ui {

enum class NextLine { fades, always, off };
std::string_view name_of(NextLine choice); // "fades", "always", "off"

struct Settings {
    bool night = false;
    double scale = 0.0;  // of writing and instruments; 0: by the screen's height. Times growth_of_window
    double volume = 0.5; // 0..1
    bool muted = false;
    int width = 1366; // of the window, pixels
    int height = 768;
    NextLine next_line = NextLine::fades;
    field::Units units = field::Units::metric; // of every length shown or said
    int exercises_done = 0;                    // finished, ever: the NEXT line fades with it
    bool operator==(const Settings&) const = default;
};
inline constexpr double smallest_scale = 0.75;
inline constexpr double largest_scale = 3.0; // for displays of very many pixels
inline constexpr int smallest_width = 1024;
inline constexpr int smallest_height = 700;

// $XDG_CONFIG_HOME/sondeyard and $XDG_DATA_HOME/sondeyard, or ~/.config and ~/.local/share where these are not set;
// home is $HOME, else what the password database says. Empty when none of them names an absolute folder: nothing is
// kept then, since the working folder and /tmp are nobody's home.
std::filesystem::path config_folder();
std::filesystem::path data_folder();
// The rule behind both; nullptr for what is not set.
std::filesystem::path folder_of_user(const char* xdg, const char* home, const char* password_entry,
                                     std::string_view below_home);
inline constexpr std::string_view no_home = "no home folder is known";

struct LoadedSettings {
    Settings settings;
    bool existed = false; // a file was there, sound or not
    std::string trouble;  // one sentence for the user when the file could not be used; the defaults hold then
};
// Never throws. A file with a fault in it is left alone. An empty path is no file.
LoadedSettings load_settings(const std::filesystem::path& file);

// Writes to a temporary name and renames. A file that load_settings could not use is kept beside it as FILE.bad.
// Returns an empty string, or one sentence about what went wrong. An empty path writes nothing and says so.
std::string save_settings(const std::filesystem::path& file, const Settings& settings);

// ---- Results ----

// One attempt, as it is kept (field/progress.hpp).
using Result = field::Attempt;

// What older versions kept, a line a result, without errors and parts. Lines that cannot be read are passed over.
std::vector<Result> load_results(const std::filesystem::path& file);

// Best by points, the earlier of equals; nullptr when there is none.
const Result* best_result(const std::vector<Result>& results, std::string_view exercise);

std::string local_time_text(std::string_view strftime_format); // now; for names of logs and dates of results only
// "Behind the garage" -> "behind-the-garage": letters, digits and single hyphens, at most 40; never empty.
std::string file_stem_of(std::string_view title);

} // namespace sondeyard::ui
