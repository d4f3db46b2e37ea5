// The work log as the window keeps it: what hinders it is said, and ends no exercise.
#include "field/replay.hpp"
#include "window_harness.hpp"

#include <sys/resource.h>

#include <csignal>
#include <fstream>
#include <iterator>

using namespace sondeyard;
using namespace sondeyard::ui;
using test::Desk;
using test::Folder;
using test::options_in;

namespace {

std::string read(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

// A home that has been used before: the program then starts with the list of exercises.
void use(const std::filesystem::path& home) { REQUIRE(save_settings(home / "config" / "settings.toml", {}).empty()); }

// A file that cannot grow beyond so many bytes in this scope, as on a full disk.
class SmallDisk {
public:
    explicit SmallDisk(std::uintmax_t bytes) : handler_(std::signal(SIGXFSZ, SIG_IGN)) {
        getrlimit(RLIMIT_FSIZE, &before_);
        rlimit now = before_;
        now.rlim_cur = bytes;
        REQUIRE(setrlimit(RLIMIT_FSIZE, &now) == 0);
    }
    ~SmallDisk() {
        setrlimit(RLIMIT_FSIZE, &before_);
        std::signal(SIGXFSZ, handler_);
    }
    SmallDisk(const SmallDisk&) = delete;
    SmallDisk& operator=(const SmallDisk&) = delete;

private:
    rlimit before_{};
    void (*handler_)(int);
};

// A short exercise, finished. Returns its log.
std::filesystem::path work_briefly(Desk& desk) {
    desk.hold(SDLK_w, 20);
    desk.press(SDLK_4);
    desk.finish();
    return desk.app->session()->log_path;
}

} // namespace

TEST_CASE("A log file that exists already is refused and left alone, with an exercise given and without") {
    for (const bool given : {true, false}) {
        CAPTURE(given);
        const Folder home;
        use(home.path());
        const auto file = home.path() / "mine.jsonl";
        std::ofstream(file) << "precious\n";
        AppOptions options = options_in(home.path(), given ? std::optional<std::string>("level-lawn") : std::nullopt);
        options.log = file;
        CHECK_THROWS_AS(App{options}, field::LogError);
        CHECK(read(file) == "precious\n");
        options.log = home.path() / "no-such-folder" / "log.jsonl";
        CHECK_THROWS_AS(App{options}, field::LogError);
    }
}

TEST_CASE("A log that was asked for is not begun before the first movement") {
    const Folder home;
    AppOptions options = options_in(home.path(), "level-lawn");
    options.log = home.path() / "mine.jsonl";
    const App app(options);
    CHECK_FALSE(std::filesystem::exists(home.path() / "mine.jsonl"));
}

TEST_CASE("A log file that comes into being meanwhile ends no exercise and is left alone") {
    const Folder home;
    use(home.path());
    AppOptions options = options_in(home.path(), std::nullopt);
    options.log = home.path() / "mine.jsonl";
    Desk desk(options);
    REQUIRE(desk.app->page() == Page::start);
    std::ofstream(home.path() / "mine.jsonl") << "precious\n";
    desk.press(SDLK_RIGHT); // the exercises
    desk.press(SDLK_RETURN);
    REQUIRE(desk.app->page() == Page::exercise);
    desk.hold(SDLK_w, 30);
    CHECK(desk.state().tick >= 30);
    CHECK(desk.app->session()->log_trouble.find("No work log is written: ") == 0);
    CHECK(desk.app->session()->log_trouble.find("mine.jsonl: there is a file of this name already") !=
          std::string::npos);
    CHECK(read(home.path() / "mine.jsonl") == "precious\n");
}

TEST_CASE("From the list of exercises too the log goes where it was asked for, the next one under a name of its own") {
    const Folder home;
    use(home.path());
    AppOptions options = options_in(home.path(), std::nullopt);
    options.log = home.path() / "mine.jsonl";
    Desk desk(options);
    desk.press(SDLK_RIGHT); // the exercises
    desk.press(SDLK_RETURN);
    CHECK(work_briefly(desk) == home.path() / "mine.jsonl");
    CHECK(field::read_log(home.path() / "mine.jsonl").ended);
    desk.press(SDLK_a);
    CHECK(work_briefly(desk).parent_path() == home.path() / "data" / "logs");
}

TEST_CASE("A result without a log names none, and the debrief says why there is none") {
    const Folder home;
    std::filesystem::create_directories(home.path() / "data");
    std::ofstream(home.path() / "data" / "logs") << "a file where the folder should be";
    Desk desk(home.path(), "level-lawn");
    work_briefly(desk);
    const auto results = People(home.path() / "data").attempts();
    REQUIRE(results.size() == 1);
    CHECK(results[0].log.empty());
    CHECK(desk.app->session()->debrief_ui.message.find("No work log is written") == 0);
}

TEST_CASE("A log that breaks off at its very end is said in the debrief") {
    const Folder first;
    Desk whole(first.path(), "level-lawn");
    const std::string log = read(work_briefly(whole));
    CHECK(whole.app->session()->debrief_ui.message.empty());
    const std::size_t end_line = log.rfind('\n', log.size() - 2) + 1;
    REQUIRE(log.find("\"end\":\"finished\"", end_line) != std::string::npos);
    const Folder second; // the same again, where the disk has room for all but the end line
    Desk desk(second.path(), "level-lawn");
    const SmallDisk disk(end_line);
    const auto file = work_briefly(desk);
    CHECK(read(file).size() <= end_line);
    CHECK_FALSE(field::read_log(file).ended);
    CHECK(desk.app->session()->debrief_ui.message.find("the work log stops here") != std::string::npos);
    CHECK(desk.app->session()->debrief_ui.message.find("The result is not kept") == 0); // nor has the store room
}
