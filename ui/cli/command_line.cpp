#include "ui/cli/command_line.hpp"

#include "field/files.hpp"
#include "field/model_operator.hpp"
#include "field/work_log.hpp"
#include "scenarios/lesson.hpp"
#include "ui/cli/commands.hpp"
#include "ui/window/window.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <cerrno>
#include <charconv>
#include <cstdio>
#include <cstring>
#include <functional>
#include <iostream>
#include <limits>
#include <memory>
#include <system_error>

namespace sondeyard::ui {

namespace {

constexpr const char* about = "Sondeyard: practise locating a buried sonde, and be scored for it.\n"
                              "Without a command it opens the window; the commands below work without a display.\n"
                              "Training in a simulator licenses nobody to dig: one-call centres, local codes and\n"
                              "licensed practice come first.";

constexpr const char* about_exit =
    "\nExit: 0 done, 1 the answer is no, 2 bad usage or bad input (said on standard error).\n"
    "'sondeyard COMMAND --help' shows a command's options.";

using Job = std::function<int()>;

// ---- Words to values ----

template <typename Number>
std::optional<Number> whole_number(std::string_view text) {
    Number value{};
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc{} && end == text.data() + text.size() ? std::optional(value) : std::nullopt;
}

// To be given to transform(). Read here, since CLI11 alone would take -1 for 2^64 - 1, 010 for 8, and a number that is
// too large for the largest.
template <typename Number>
CLI::Validator whole(Number low, Number high) {
    return {[low, high](std::string& text) {
                const auto value = whole_number<Number>(text);
                if (!value || *value < low || *value > high) {
                    return fmt::format("found \"{}\"; allowed: a whole number from {} to {}", text, low, high);
                }
                text = fmt::to_string(*value);
                return std::string();
            },
            ""};
}

template <typename Seed>
CLI::Option* add_seed(CLI::App& app, Seed& seed, std::string help) {
    constexpr std::uint64_t largest = std::numeric_limits<std::uint64_t>::max();
    return app.add_option("--seed", seed, std::move(help))->type_name("N")->transform(whole<std::uint64_t>(0, largest));
}

// For sentences and tables; JSON documents are in metres.
template <typename Units>
CLI::Option* add_units(CLI::App& app, Units& units) {
    const auto read = [&units](const std::string& text) {
        const std::optional<field::Units> named = field::units_named(text);
        if (!named) {
            throw CLI::ValidationError("--units", fmt::format("found \"{}\"; allowed: {}", text, field::units_allowed));
        }
        const field::Units which = *named;
        units = which;
    };
    return app
        .add_option_function<std::string>("--units", read, "Lengths in metres or in feet and inches: metric, feet")
        ->type_name("WHICH");
}

std::string operator_names() { return fmt::format("{}", fmt::join(field::model_operator_names(), ", ")); }

// ---- The commands ----

// Adds a command whose options live as long as the job it becomes.
template <typename Options, typename Declare>
void add_command(CLI::App& app, Job& job, const char* name, const char* help, const char* example,
                 int (*run)(const Options&), Declare declare) {
    auto options = std::make_shared<Options>();
    CLI::App* command = app.add_subcommand(name, help)->group("Commands");
    declare(*command, *options);
    command->add_flag("--json", options->json, "One JSON document instead of a table");
    command->footer(fmt::format("\nExample: sondeyard {}", example));
    command->callback([&job, options, run] { job = [options, run] { return run(*options); }; });
}

constexpr const char* scenario_help = "A scenario file, or the name of a bundled exercise\n(see 'sondeyard list')";
constexpr const char* seed_help = "Decides what is drawn at random: same number, same\nyard and same noise (default 1)";

void add_scenario_commands(CLI::App& app, Job& job) {
    auto json = std::make_shared<bool>(false);
    CLI::App* list = app.add_subcommand("list", "The bundled exercises, in course order")->group("Commands");
    list->footer("\nExample: sondeyard list");
    list->add_flag("--json", *json, "One JSON document instead of a table");
    list->callback([&job, json] { job = [json] { return list_scenarios(*json); }; });
    add_command<CheckOptions>(app, job, "check", "Says whether scenarios and lessons are sound and can be built",
                              "check my-yard.toml", check, [](CLI::App& c, CheckOptions& o) {
                                  c.add_option("scenario", o.scenarios, scenario_help)->required()->type_name("");
                                  c.add_option("--seeds", o.seeds, "How many seeds are tried, from 1 (default 20)")
                                      ->type_name("N")
                                      ->transform(whole(1, 100000));
                              });
    add_command<GenerateOptions>(
        app, job, "generate", "Writes a scenario with every value drawn and all truth in it, as TOML",
        "generate level-lawn --seed 7 --out yard-7.toml", generate, [](CLI::App& c, GenerateOptions& o) {
            c.add_option("scenario", o.scenario, fmt::format("{};\nwithout one, a yard of any kind", scenario_help))
                ->type_name("");
            add_seed(c, o.seed, "Decides what is drawn: same number, same yard")->required();
            c.add_option("--out", o.out, "File to write; one that exists is left alone\n(default: print it)")
                ->type_name("FILE");
        });
    add_command<ProbeOptions>(
        app, job, "probe", "The true field at given places, without noise, as CSV",
        "probe level-lawn --points points.csv, where points.csv begins\n"
        "  x_m,y_m,z_m\n  5.0,7.5,0\nMetres: x east, y north, z up; the ground is z = 0. Fields are RMS, in tesla.",
        probe, [](CLI::App& c, ProbeOptions& o) {
            c.add_option("scenario", o.scenario, scenario_help)->required()->type_name("");
            c.add_option("--points", o.points, "CSV file with columns x_m,y_m,z_m")->required()->type_name("FILE");
            add_seed(c, o.seed, seed_help);
        });
}

void add_work_commands(CLI::App& app, Job& job) {
    add_command<OperateOptions>(app, job, "operate", "Lets a model operator work an exercise, and scores the work",
                                "operate level-lawn --operator level-line --seed 3 --log work.jsonl", operate,
                                [](CLI::App& c, OperateOptions& o) {
                                    c.add_option("scenario", o.scenario, scenario_help)->required()->type_name("");
                                    c.add_option("--operator", o.who, fmt::format("Who works: {}", operator_names()))
                                        ->required()
                                        ->type_name("NAME");
                                    add_seed(c, o.seed, seed_help);
                                    c.add_option("--log", o.log,
                                                 "Work log to write; one that exists is left alone\n(default: none)")
                                        ->type_name("FILE");
                                    add_units(c, o.units);
                                });
    const auto of_log = [](CLI::App& c, LogOptions& o) {
        c.add_option("log", o.log, "Work log file")->required()->type_name("");
        add_units(c, o.units);
    };
    add_command<LogOptions>(app, job, "replay", "Runs a work log again and compares what is seen", "replay work.jsonl",
                            replay, of_log);
    add_command<LogOptions>(app, job, "score", "Scores a work log", "score work.jsonl --json", score, of_log);
    add_command<ProgressOptions>(
        app, job, "progress", "Who practised on this machine, and how it went", "progress --person Ida --csv ida.csv",
        progress, [](CLI::App& c, ProgressOptions& o) {
            c.add_option("--person", o.person, "Only this one, attempt by attempt (default: a line each)")
                ->type_name("NAME");
            c.add_option("--csv", o.csv, "Writes the attempts as CSV; a file that exists is left alone")
                ->type_name("FILE");
            auto* remove = c.add_option("--delete", o.remove, "Deletes this person with all attempts, for good")
                               ->type_name("NAME");
            c.add_flag("--yes", o.yes, "Really deletes; without it only says what would go")->needs(remove);
            c.add_flag("--logs", o.logs, "Deletes the work logs too")->needs(remove);
            add_units(c, o.units);
        });
    add_command<BenchOptions>(
        app, job, "bench", "Measures speed and size on this machine", "bench --json", bench,
        [](CLI::App& c, BenchOptions& o) { c.add_flag("--quick", o.quick, "A tenth of the time; noisier"); });
}

void add_tiltfix(CLI::App& app, Job& job) {
    const auto declare = [](CLI::App& c, TiltFixOptions& o) {
        const auto length = [&c](const char* name, std::optional<std::string>& into, const char* help) {
            c.add_option(name, into, help)->type_name("LENGTH");
        };
        const auto db = [&c](const char* name, std::optional<double>& into, const char* help) {
            c.add_option(name, into, help)->type_name("DB");
        };
        length("--spacing", o.spacing, "Between the plumb points A and B (needed)");
        length("--depth", o.depth, "As read, tip on the ground (needed)");
        c.add_option("--stronger", o.stronger, "Which plumb point is the stronger: A or B")
            ->type_name("WHICH")
            ->transform(CLI::IsMember({"A", "B"}, CLI::ignore_case));
        db("--signal-a", o.signal_a_db, "Signal at A, in dB above anything");
        db("--signal-b", o.signal_b_db, "Signal at B, in the same");
        c.add_option("--ratio", o.ratio, "Or the weaker signal over the stronger, 0 to 1,\nwith --stronger")
            ->type_name("R");
        length("--level-from-a", o.level_from_a, "Where the level line crosses, from A towards B");
        c.add_option("--read-at", o.read_at, "Where the depth was read: peak or sonde (default\npeak)")
            ->type_name("WHERE")
            ->check(CLI::IsMember({"peak", "sonde"}));
        length("--antenna-spacing", o.antenna_spacing, "Between the receiver's antennas (default 0.40 m)");
        length("--antenna-above-tip", o.antenna_above_tip, "Lower antenna above the tip (default 0.05 m)");
        length("--mark-error", o.mark_error,
               "Of each mark, one standard deviation (default\n3 % of depth, at least 3 cm)");
        length("--depth-error", o.depth_error, "Of the depth (default 3 %, at least 2 cm)");
        db("--signal-error", o.signal_error_db, "Of the signals' difference (default 0.5)");
        c.add_option("--units", o.units, "Of the answer, and of a number alone: metric or\nfeet (default metric)")
            ->type_name("WHICH");
        c.add_flag("--derivation", o.derivation, "Prints the formulas, where they come from and where\nthey end");
    };
    add_command<TiltFixOptions>(
        app, job, "tiltfix", "Tilt, place and depth of a sonde from plumb points and depth, by tape",
        "tiltfix --spacing 7ft2in --depth 4ft8in --signal-a 52 --signal-b 59 --units feet\n"
        "A LENGTH is 1.6 m, 160 cm, 5 ft 3 in or 63 in. With T = sqrt(4 L^2/d^2 - 8)/3, the tangent of the\n"
        "tilt, the sonde lies L/2 - 3Td/4 from the stronger plumb point, which is on the raised side.\n"
        "Under 15 deg the spacing L says little: give the signals. '--derivation' has the rest.\n"
        "Exit: 1 when the answer cannot be trusted; it says why.",
        tiltfix, declare);
}

void add_lesson_commands(CLI::App& app, Job& job) {
    auto lessons_json = std::make_shared<bool>(false);
    CLI::App* lessons = app.add_subcommand("lessons", "The lessons of the course, in order")->group("Commands");
    lessons->footer("\nExample: sondeyard lessons");
    lessons->add_flag("--json", *lessons_json, "One JSON document instead of a table");
    lessons->callback([&job, lessons_json] { job = [lessons_json] { return list_lessons(*lessons_json); }; });
}

void add_window_options(CLI::App& app, WindowOptions& o) {
    const auto of_window = [](CLI::Option* option, const char* type) { option->group("Window")->type_name(type); };
    of_window(app.add_option("--scenario", o.scenario, "Straight into this exercise: a file, or a bundled name"),
              "SCENARIO");
    of_window(app.add_option("--lesson", o.lesson, "Straight into this lesson: a file, or a bundled name"), "LESSON");
    of_window(add_seed(app, o.seed, "Decides what is drawn at random"), "N");
    of_window(app.add_option("--log", o.log, "Work log to write (default: one in the data folder)"), "FILE");
    of_window(app.add_option("--replay", o.replay, "Straight to the debrief of this work log, to go through it again"),
              "FILE");
    of_window(app.add_option("--width", o.width, "Window width in pixels, from 1024")->transform(whole(1024, 16384)),
              "N");
    of_window(app.add_option("--height", o.height, "Window height in pixels, from 700")->transform(whole(700, 16384)),
              "N");
    of_window(app.add_option("--scale", o.scale, "Size of text and controls, 0.75 to 3"), "X");
    of_window(app.add_option("--night", o.night, "Dark theme: true or false"), "WHICH");
    of_window(add_units(app, o.units), "WHICH");
    app.add_flag("--mute", o.mute, "No sound")->group("Window");
    app.add_flag("--trace", o.trace, "Prints what the window shows, a line a change (for tests)")->group("Window");
}

// ---- What went wrong ----

// Every line of it under the program's name. Always 2.
int say(std::string_view what) {
    while (!what.empty()) {
        const std::string_view line = what.substr(0, what.find('\n'));
        fmt::print(stderr, "sondeyard: {}\n", line);
        what.remove_prefix(std::min(line.size() + 1, what.size()));
    }
    return 2;
}

std::string one_line(std::string text) {
    std::ranges::replace(text, '\n', ' ');
    return text;
}

std::string missing(const CLI::App& command) {
    std::string all;
    for (const CLI::Option* option : command.get_options()) {
        if (option->get_required() && option->count() == 0) {
            all += fmt::format("{}{} is missing: {}", all.empty() ? "" : "\n", option->get_name(),
                               one_line(option->get_description()));
        }
    }
    return all;
}

std::string unexpected(const CLI::App& app, const CLI::App* command) {
    const std::vector<std::string> left = app.remaining(true);
    const std::string word = left.empty() ? std::string() : left.front();
    if (command != nullptr) {
        return fmt::format("found \"{}\", which '{}' does not take", word, command->get_name());
    }
    if (word.starts_with("-")) {
        return fmt::format("found \"{}\", which is no option", word);
    }
    std::string commands;
    for (const CLI::App* known : app.get_subcommands(nullptr)) {
        commands += (commands.empty() ? "" : ", ") + known->get_name();
    }
    std::string text = fmt::format("found \"{}\", which is no command; allowed: {}", word, commands);
    const auto lessons = scenarios::bundled_lesson_names();
    if (std::ranges::find(lessons, word) != lessons.end()) {
        return text + fmt::format("\nto take that lesson: sondeyard --lesson {}", word);
    }
    const auto bundled = scenarios::bundled_names();
    if (std::ranges::find(bundled, word) != bundled.end() || std::filesystem::exists(word)) {
        text += fmt::format("\nto open it in the window: sondeyard --scenario {}", word);
    }
    return text;
}

int say_usage(const CLI::App& app, const CLI::ParseError& error) {
    const auto parsed = app.get_subcommands();
    const CLI::App* command = parsed.empty() ? nullptr : parsed.front();
    std::string what = error.what();
    if (dynamic_cast<const CLI::RequiredError*>(&error) != nullptr && command != nullptr &&
        !missing(*command).empty()) {
        what = missing(*command);
    } else if (dynamic_cast<const CLI::ExtrasError*>(&error) != nullptr) {
        what = unexpected(app, command);
    }
    say(what);
    return say(command != nullptr ? fmt::format("see 'sondeyard {} --help'", command->get_name())
                                  : "see 'sondeyard --help'");
}

// An option of the window before a command would go unheard.
const CLI::Option* unheard(const CLI::App& app) {
    if (app.get_subcommands().empty()) {
        return nullptr;
    }
    for (const CLI::Option* option : app.get_options()) {
        if (option->count() > 0) {
            return option;
        }
    }
    return nullptr;
}

int run_job(const Job& job) {
    try {
        return job();
    } catch (const BadInput& e) {
        return say(e.what());
    } catch (const scenarios::ScenarioError& e) {
        return say(e.what());
    } catch (const field::FileError& e) {
        return say(e.what());
    } catch (const field::LogError& e) {
        return say(e.what());
    } catch (const std::exception& e) {
        if (std::ferror(stdout) != 0) {
            return 2; // said at the end
        }
        return say(fmt::format("something went wrong that should not: {}", e.what()));
    }
}

int parse_and_run(int argc, const char* const* argv) {
    CLI::App app{about, "sondeyard"};
    const auto layout = app.get_formatter();
    layout->column_width(26);
    layout->label("OPTIONS", "options");
    layout->label("SUBCOMMAND", "command");
    layout->label("Positionals", "Arguments");
    layout->label("REQUIRED", "(required)");
    app.set_help_flag("-h,--help", "This text");
    app.set_version_flag("--version", SONDEYARD_VERSION, "The program's version");
    app.require_subcommand(0, 1);
    app.footer(about_exit);
    WindowOptions window;
    add_window_options(app, window);
    Job job;
    add_scenario_commands(app, job);
    add_work_commands(app, job);
    add_lesson_commands(app, job);
    add_tiltfix(app, job);
    if (argc == 2 && std::string_view(argv[1]) == "help") {
        std::cout << app.help();
        return 0;
    }
    try {
        app.parse(argc, argv);
    } catch (const CLI::Success& e) { // --help, --version
        return app.exit(e);
    } catch (const CLI::ParseError& e) {
        return say_usage(app, e);
    }
    if (const CLI::Option* option = unheard(app)) {
        const std::string command = app.get_subcommands().front()->get_name();
        return say(fmt::format(
            "found {0} before \"{1}\": there it is an option of the window; options of a command stand after "
            "it: sondeyard {1} ... {0}",
            option->get_name(), command));
    }
    return run_job(job ? job : [&window] { return run_window(window); });
}

} // namespace

int run_command_line(int argc, const char* const* argv) {
    const int code = parse_and_run(argc, argv);
    // What was printed may only now meet a full disk.
    errno = 0;
    std::cout.flush();
    if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0 || !std::cout) {
        return say(fmt::format("standard output: cannot be written{}{}", errno != 0 ? ": " : "",
                               errno != 0 ? std::strerror(errno) : ""));
    }
    return code;
}

} // namespace sondeyard::ui
