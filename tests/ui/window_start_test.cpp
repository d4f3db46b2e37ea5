// What is wrong with the exercise or the log that was asked for is said before a window is tried.
#include "window_harness.hpp"

#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <fstream>

using namespace sondeyard;
using test::Folder;

namespace {

struct Ended {
    int code = -1;
    std::string said;
};

// The program itself, where there is no display and its home is this folder.
Ended start(const Folder& home, const std::string& arguments) {
    const std::string folder = home.path().string();
    const std::string command = "cd '" + folder + "' && env -u DISPLAY -u WAYLAND_DISPLAY -u SDL_VIDEODRIVER" +
                                " XDG_CONFIG_HOME='" + folder + "/config' XDG_DATA_HOME='" + folder +
                                "/data' '" SONDEYARD_PROGRAM "' " + arguments + " 2>&1";
    FILE* output = popen(command.c_str(), "r");
    REQUIRE(output != nullptr);
    Ended ended;
    std::array<char, 4096> buffer{};
    while (const std::size_t n = fread(buffer.data(), 1, buffer.size(), output)) {
        ended.said.append(buffer.data(), n);
    }
    const int status = pclose(output);
    ended.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    return ended;
}

bool says(const Ended& ended, std::string_view words) { return ended.said.find(words) != std::string::npos; }

} // namespace

TEST_CASE("A scenario that is not there is said as that where there is no display either") {
    const Folder home;
    const Ended ended = start(home, "--scenario no-such-exercise");
    CHECK(ended.code == 2);
    CHECK(says(ended, "no-such-exercise"));
    CHECK(says(ended, "level-lawn")); // what is allowed
    CHECK_FALSE(says(ended, "window"));
}

TEST_CASE("A log file that is there already is said as that where there is no display either") {
    const Folder home;
    std::ofstream(home.path() / "mine.jsonl") << "precious\n";
    const Ended ended = start(home, "--log mine.jsonl");
    CHECK(ended.code == 2);
    CHECK(says(ended, "mine.jsonl: there is a file of this name already"));
    CHECK_FALSE(says(ended, "window"));
}

TEST_CASE("Without a display a sound exercise ends in the words about the window, and leaves no file") {
    const Folder home;
    const Ended ended = start(home, "--scenario level-lawn --seed 1 --log mine.jsonl");
    CHECK(ended.code == 2);
    CHECK(says(ended, "no window can be opened here"));
    CHECK(std::filesystem::is_empty(home.path()));
}
