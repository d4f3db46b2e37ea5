#include "ui/window/settings.hpp"
#include "window_harness.hpp"

#include <fstream>
#include <sstream>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

void write(const std::filesystem::path& file, std::string_view text) {
    std::filesystem::create_directories(file.parent_path());
    std::ofstream(file, std::ios::binary) << text;
}
std::string read(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::stringstream all;
    all << in.rdbuf();
    return all.str();
}

} // namespace

TEST_CASE("Settings come back as they were saved") {
    const test::Folder home;
    const auto file = home.path() / "sondeyard" / "settings.toml";
    Settings s;
    s.night = true;
    s.scale = 1.5;
    s.volume = 0.3;
    s.muted = true;
    s.width = 1280;
    s.height = 800;
    s.next_line = NextLine::always;
    s.exercises_done = 12;
    CHECK(save_settings(file, s) == "");
    const LoadedSettings loaded = load_settings(file);
    CHECK(loaded.trouble == "");
    CHECK(loaded.existed);
    CHECK(loaded.settings == s);
    CHECK_FALSE(std::filesystem::exists(file.string() + ".new"));
}

TEST_CASE("No settings file gives the defaults without a word") {
    const test::Folder home;
    const LoadedSettings loaded = load_settings(home.path() / "settings.toml");
    CHECK(loaded.settings == Settings{});
    CHECK_FALSE(loaded.existed);
    CHECK(loaded.trouble == "");
}

TEST_CASE("A bad settings file is named with line and key, gives the defaults and is left alone") {
    struct Case {
        const char* text;
        const char* line;
        const char* says;
    };
    for (const Case& c :
         {Case{"night = true\nvolume = 7\n", ":2:", "volume: a number from 0 to 1"},
          Case{"volume = nan\n", ":1:", "volume: a number from 0 to 1"},
          Case{"night = 3\n", ":1:", "night: true or false"}, Case{"width = 1.5\n", ":1:", "width: a whole number"},
          Case{"next_line = \"sometimes\"\n", ":1:", "\"fades\", \"always\" or \"off\""},
          Case{"volume = \n", ":1:", ""}, Case{"\x01\x02", ":1:", ""}}) {
        CAPTURE(c.text);
        const test::Folder home;
        const auto file = home.path() / "settings.toml";
        write(file, c.text);
        const LoadedSettings loaded = load_settings(file);
        CHECK(loaded.settings == Settings{});
        CHECK(loaded.trouble.find(file.string() + c.line) != std::string::npos);
        CHECK(loaded.trouble.find(c.says) != std::string::npos);
        CHECK(read(file) == c.text);
        CHECK(save_settings(file, Settings{}) == "");
        CHECK(read(file.string() + ".bad") == c.text); // what was there is kept beside the new one
    }
}

TEST_CASE("Settings that cannot be saved are said to be so") {
    const test::Folder home;
    write(home.path() / "taken", "a file where the folder should be");
    CHECK(save_settings(home.path() / "taken" / "settings.toml", Settings{}).find("cannot be saved") !=
          std::string::npos);
}

TEST_CASE("Results of older versions are read, and a broken line costs only itself") {
    const test::Folder home;
    const auto file = home.path() / "results.jsonl";
    const auto line = [](int seed, int points, const char* passed) {
        return R"({"exercise":"deep","seed":)" + std::to_string(seed) + R"(,"points":)" + std::to_string(points) +
               R"(,"passed":)" + passed + R"(,"date":"2026-03-01 10:00","log":"a.jsonl"})" + "\n";
    };
    write(file, line(7, 62, "false") + "{\"exercise\": 3}\nnot json\n" + line(8, 90, "true") + line(9, 90, "true"));
    const std::vector<Result> results = load_results(file);
    REQUIRE(results.size() == 3);
    const Result* best = best_result(results, "deep");
    REQUIRE(best != nullptr);
    CHECK(best->seed == 8); // the earlier of equals
    CHECK(best->log == "a.jsonl");
    CHECK(best_result(results, "on-end") == nullptr);
}

TEST_CASE("Folders follow the XDG variables, and a relative one is ignored") {
    setenv("XDG_CONFIG_HOME", "/somewhere/config", 1);
    CHECK(config_folder() == "/somewhere/config/sondeyard");
    setenv("XDG_CONFIG_HOME", "config", 1);
    setenv("HOME", "/home/anna", 1);
    CHECK(config_folder() == "/home/anna/.config/sondeyard");
    unsetenv("XDG_CONFIG_HOME");
    CHECK(config_folder() == "/home/anna/.config/sondeyard");
    unsetenv("XDG_DATA_HOME");
    CHECK(data_folder() == "/home/anna/.local/share/sondeyard");
}

TEST_CASE("Without a usable HOME the password database knows the home folder, and without that none is made up") {
    CHECK(folder_of_user(nullptr, nullptr, "/home/anna", ".config") == "/home/anna/.config/sondeyard");
    CHECK(folder_of_user(nullptr, "", "/home/anna", ".config") == "/home/anna/.config/sondeyard");
    CHECK(folder_of_user("config", "anna", "/home/anna", ".config") == "/home/anna/.config/sondeyard");
    CHECK(folder_of_user(nullptr, "/elsewhere", "/home/anna", ".config") == "/elsewhere/.config/sondeyard");
    CHECK(folder_of_user(nullptr, "", nullptr, ".config").empty());
    CHECK(folder_of_user("", "relative", "", ".config").empty());
    CHECK(folder_of_user("/somewhere", nullptr, nullptr, ".config") == "/somewhere/sondeyard");
}

TEST_CASE("Without any folder the program works, writes nothing where it was started, and says so") {
    const test::Folder here;
    const auto before = std::filesystem::current_path();
    std::filesystem::current_path(here.path());
    CHECK(save_settings({}, Settings{}).find("no home folder is known") != std::string::npos);
    {
        AppOptions options = test::options_in({}, "level-lawn");
        options.config.clear();
        options.data.clear();
        test::Desk desk(options);
        desk.press(SDLK_F3);
        CHECK(desk.app->settings().night); // kept in memory
        desk.hold(SDLK_w, 10);
        CHECK(desk.app->session()->log_trouble == "No work log is written: no home folder is known.");
        desk.finish();
        CHECK(desk.app->session()->debrief_ui.message.find("The result is not kept: no home folder is known.") == 0);
        desk.press(SDLK_p);
        CHECK_FALSE(desk.app->take_picture_wish().has_value());
        CHECK(desk.app->session()->debrief_ui.message.find("No picture is written") == 0);
    }
    std::filesystem::current_path(before);
    CHECK(std::filesystem::is_empty(here.path()));
}

TEST_CASE("A title becomes a plain file name") {
    CHECK(file_stem_of("Behind the garage") == "behind-the-garage");
    CHECK(file_stem_of("../../etc: 2 %!") == "etc-2");
    CHECK(file_stem_of("¿?") == "exercise");
    CHECK(file_stem_of(std::string(200, 'x')).size() == 40);
}
