// sondeyard generate, check and list: what is bundled or written down, without working it.
#include "field/files.hpp"
#include "field/work_log.hpp"
#include "scenarios/lesson.hpp"
#include "sim/random.hpp"
#include "ui/cli/commands.hpp"
#include "ui/cli/print.hpp"

#include <algorithm>
#include <array>

namespace sondeyard::ui {

namespace {

// A yard of any kind: the shapes that the bundled exercises teach, drawn by the seed.
scenarios::Scenario any_scenario(std::uint64_t seed) {
    sim::Draws draws(seed, "generate.any");
    static constexpr std::array<std::string_view, 4> shapes = {"fall", "fall", "steep_branch", "drop"};
    const std::string_view shape = shapes[static_cast<std::size_t>(draws.integer(0, 3))];
    const std::string_view material = draws.chance(0.5) ? "pvc" : "clay";
    const std::string text =
        fmt::format("format = 1\ntitle = \"A yard drawn by seed {}\"\n"
                    "[sonde]\nfrequency_hz = {{ choice = [512, 640] }}\nmoment_A_m2 = {{ uniform = [0.05, 0.2] }}\n"
                    "depth_m = {{ uniform = [0.8, 2.5] }}\n"
                    "[run]\nshape = \"{}\"\nmaterial = \"{}\"\n",
                    seed, shape, material);
    return scenarios::parse_scenario(text, "any yard");
}

} // namespace

int generate(const GenerateOptions& options) {
    const scenarios::Scenario scenario =
        options.scenario ? scenarios::find_scenario(*options.scenario) : any_scenario(options.seed);
    const std::string toml = scenarios::to_toml(scenarios::resolve(scenario, options.seed));
    if (options.out) {
        if (options.out->empty()) {
            throw BadInput("--out: found an empty name; a file name is wanted");
        }
        field::write_new_file(*options.out, toml);
    }
    if (options.json) {
        print_json({{"scenario", scenario.name()},
                    {"seed", options.seed},
                    {"out", options.out ? Json(options.out->string()) : Json()},
                    {"sha256", field::sha256_hex(toml)},
                    {"toml", toml}});
    } else if (options.out) {
        fmt::print("{}: written, {} bytes\n", options.out->string(), toml.size());
    } else {
        fmt::print("{}", toml);
    }
    return 0;
}

namespace {

// A lesson by its name or, a file, by what it says it is.
bool names_lesson(const std::string& name) {
    std::error_code error;
    if (std::filesystem::is_regular_file(name, error)) {
        try {
            return scenarios::is_lesson(field::read_file(name, 1'000'000, "a lesson file"));
        } catch (const field::FileError&) {
            return false; // what is wrong with it is said by whoever reads it as a scenario
        }
    }
    const auto lessons = scenarios::bundled_lesson_names();
    return std::ranges::find(lessons, name) != lessons.end();
}

struct Checked {
    std::string title;
    std::vector<std::string> faults;       // the file's own: with these nothing can be built at any seed
    std::vector<std::string> cannot_build; // seeds for which nothing can be built, when others can
};

// A lesson's two yards, each with its own seed.
Checked checked_lesson(const std::string& name) {
    Checked result;
    try {
        const scenarios::LessonFile file = scenarios::find_lesson(name);
        result.title = file.lesson.title;
        scenarios::resolve(file.yard, file.seed);
        scenarios::resolve(file.test_yard, file.test_seed);
    } catch (const scenarios::ScenarioError& e) {
        result.faults = e.messages;
    }
    return result;
}

Checked checked(const std::string& name, int seeds) {
    Checked result;
    try {
        const scenarios::Scenario scenario = scenarios::find_scenario(name);
        result.title = scenario.title();
        std::vector<std::string> first;
        for (int seed = 1; seed <= seeds; ++seed) {
            try {
                scenarios::resolve(scenario, static_cast<std::uint64_t>(seed));
            } catch (const scenarios::ScenarioError& e) {
                const std::string what = e.what(); // most of them name the seed themselves
                result.cannot_build.push_back(
                    what + (what.find("seed") == std::string::npos ? fmt::format(" (seed {})", seed) : ""));
                if (first.empty()) {
                    first = e.messages;
                }
            }
        }
        if (static_cast<int>(result.cannot_build.size()) == seeds) {
            result.faults = std::move(first);
            result.cannot_build.clear();
        }
    } catch (const scenarios::ScenarioError& e) {
        result.faults = e.messages;
    }
    return result;
}

void print_checked(const std::string& name, const Checked& c, int seeds) {
    constexpr std::size_t most_seeds_said = 5;
    if (c.faults.empty() && c.cannot_build.empty()) {
        fmt::print("sound  {}: {} ({} seed{} built)\n", name, c.title, seeds, seeds == 1 ? "" : "s");
    }
    for (const std::string& message : c.faults) {
        fmt::print(stderr, "sondeyard: {}\n", message);
    }
    for (std::size_t i = 0; i < std::min(c.cannot_build.size(), most_seeds_said); ++i) {
        fmt::print(stderr, "sondeyard: {}\n", c.cannot_build[i]);
    }
    if (!c.cannot_build.empty()) {
        fmt::print(stderr, "sondeyard: {}: {} of {} seeds cannot be built\n", name, c.cannot_build.size(), seeds);
    }
}

} // namespace

int check(const CheckOptions& options) {
    Json rows = Json::array();
    int code = 0;
    for (const std::string& name : options.scenarios) {
        const bool lesson = names_lesson(name);
        const int seeds = lesson ? 2 : options.seeds;
        const Checked c = lesson ? checked_lesson(name) : checked(name, seeds);
        const bool sound = c.faults.empty() && c.cannot_build.empty();
        code = std::max(code, !c.faults.empty() ? 2 : (sound ? 0 : 1));
        if (options.json) {
            rows.push_back({{"scenario", name},
                            {"title", c.title},
                            {"sound", sound},
                            {"faults", c.faults},
                            {"lesson", lesson},
                            {"seeds_tried", seeds},
                            {"cannot_build", c.cannot_build}});
        } else {
            print_checked(name, c, seeds);
        }
    }
    if (options.json) {
        print_json({{"sound", code == 0}, {"scenarios", rows}});
    }
    return code;
}

int list_scenarios(bool json) {
    Json rows = Json::array();
    for (const std::string& name : scenarios::bundled_names()) {
        const scenarios::Scenario scenario = scenarios::bundled(name);
        if (json) {
            rows.push_back({{"name", name},
                            {"title", scenario.title()},
                            {"news", field::in_units(scenario.news(), field::Units::metric)}});
        } else {
            constexpr std::size_t indent = 17;
            fmt::print("{:<{}}{}\n{:<{}}{}\n", name, indent, scenario.title(), "", indent,
                       wrapped(field::in_units(scenario.news(), field::Units::metric), indent));
        }
    }
    if (json) {
        print_json({{"scenarios", rows}});
    }
    return 0;
}

int list_lessons(bool json) {
    Json rows = Json::array();
    for (const std::string& name : scenarios::bundled_lesson_names()) {
        const field::CourseLesson lesson = scenarios::bundled_lesson(name).lesson;
        if (json) {
            rows.push_back({{"name", name},
                            {"title", lesson.title},
                            {"goal", field::in_units(lesson.goal, field::Units::metric)},
                            {"steps", lesson.steps.size()},
                            {"test", field::in_units(lesson.test.task, field::Units::metric)}});
        } else {
            constexpr std::size_t indent = 17;
            fmt::print("{:<{}}{}\n{:<{}}{}\n", name, indent, lesson.title, "", indent,
                       wrapped(field::in_units(lesson.goal, field::Units::metric), indent));
        }
    }
    if (json) {
        print_json({{"lessons", rows}});
    }
    return 0;
}

} // namespace sondeyard::ui
