#include "ui/cli/command_line.hpp"

#include "field/model_operator.hpp"
#include "field/work_log.hpp"
#include "scenarios/scenario.hpp"
#include "ui/cli/commands.hpp"
#include "ui/window/window.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <functional>
#include <memory>

namespace sondeyard::ui {

namespace {

constexpr const char* about =
    "Sondeyard: practise locating a buried sonde, and be scored for it.\n"
    "Without a command it opens the window; the commands below work without a display.\n"
    "Training in a simulator licenses nobody to dig: one-call centres, local codes and licensed practice come first.";

using Job = std::function<int()>;

// Adds a command whose options live as long as the job it becomes.
template <typename Options, typename Declare>
void add_command(CLI::App& app, Job& job, const char* name, const char* help, int (*run)(const Options&), Declare declare) {
    auto options = std::make_shared<Options>();
    CLI::App* command = app.add_subcommand(name, help);
    declare(*command, *options);
    command->add_flag("--json", options->json, "One JSON document instead of a table");
    command->callback([&job, options, run] { job = [options, run] { return run(*options); }; });
}

constexpr const char* scenario_help = "A scenario file, or the name of a bundled exercise (see 'sondeyard list')";
constexpr const char* seed_help = "What is drawn at random is a function of this number";

std::string operator_help() {
    std::string names;
    for (const std::string_view name : field::model_operator_names()) {
        names += fmt::format("{}{}", names.empty() ? "" : ", ", name);
    }
    return fmt::format("The model operator: {}", names);
}

void add_commands(CLI::App& app, Job& job) {
    add_command<ProbeOptions>(app, job, "probe", "The true field at given places, as CSV", probe, [](CLI::App& c, ProbeOptions& o) {
        c.add_option("scenario", o.scenario, scenario_help)->required();
        c.add_option("--points", o.points, "CSV file with columns x_m,y_m,z_m")->required();
        c.add_option("--seed", o.seed, seed_help)->capture_default_str();
    });
    add_command<GenerateOptions>(
        app, job, "generate", "A scenario with every value drawn and all truth explicit, as TOML", generate,
        [](CLI::App& c, GenerateOptions& o) {
            c.add_option("scenario", o.scenario, fmt::format("{}; without one, a yard of any kind", scenario_help));
            c.add_option("--seed", o.seed, seed_help)->required();
            c.add_option("--out", o.out, "File to write; one that exists is left alone (default: print it)");
        });
    add_command<CheckOptions>(app, job, "check", "Is a scenario sound, and can it be built?", check, [](CLI::App& c, CheckOptions& o) {
        c.add_option("scenario", o.scenarios, scenario_help)->required();
        c.add_option("--seeds", o.seeds, "How many seeds are tried")->capture_default_str()->check(CLI::Range(1, 100000));
    });
    add_command<LogOptions>(app, job, "replay", "Runs a work log again and compares", replay, [](CLI::App& c, LogOptions& o) {
        c.add_option("log", o.log, "Work log file")->required();
    });
    add_command<LogOptions>(app, job, "score", "Scores a work log", score, [](CLI::App& c, LogOptions& o) {
        c.add_option("log", o.log, "Work log file")->required();
    });
    add_command<OperateOptions>(app, job, "operate", "Lets a model operator work an exercise", operate,
                                [](CLI::App& c, OperateOptions& o) {
                                    c.add_option("scenario", o.scenario, scenario_help)->required();
                                    c.add_option("--operator", o.who, operator_help())->required();
                                    c.add_option("--seed", o.seed, seed_help)->capture_default_str();
                                    c.add_option("--log", o.log, "Work log to write; one that exists is left alone");
                                });
    add_command<BenchOptions>(app, job, "bench", "Speed and size on this machine", bench, [](CLI::App& c, BenchOptions& o) {
        c.add_flag("--quick", o.quick, "A tenth of the time; noisier");
    });
    auto json = std::make_shared<bool>(false);
    CLI::App* list = app.add_subcommand("list", "The bundled exercises");
    list->add_flag("--json", *json, "One JSON document instead of a table");
    list->callback([&job, json] { job = [json] { return list_scenarios(*json); }; });
}

void add_window_options(CLI::App& app, WindowOptions& o) {
    app.add_option("--scenario", o.scenario, fmt::format("Straight into this exercise: {}", scenario_help))->group("Window");
    app.add_option("--seed", o.seed, seed_help)->group("Window");
    app.add_option("--log", o.log, "Work log to write (default: one in the data folder)")->group("Window");
    app.add_option("--width", o.width, "Window width, pixels, from 1024")->group("Window")->check(CLI::Range(640, 16384));
    app.add_option("--height", o.height, "Window height, pixels, from 700")->group("Window")->check(CLI::Range(480, 16384));
    app.add_option("--scale", o.scale, "Size of text and controls, 0.75 to 3")->group("Window")->check(CLI::Range(0.75, 3.0));
    app.add_option("--night", o.night, "Dark theme: true or false")->group("Window");
    app.add_flag("--mute", o.mute, "No sound")->group("Window");
    app.add_flag("--trace", o.trace, "Prints what the window shows, a line a change (for tests)")->group("Window");
}

int say(const char* what) {
    fmt::print(stderr, "sondeyard: {}\n", what);
    return 2;
}

} // namespace

int run_command_line(int argc, const char* const* argv) {
    CLI::App app{about, "sondeyard"};
    app.set_version_flag("--version", SONDEYARD_VERSION);
    app.require_subcommand(0, 1);
    WindowOptions window;
    add_window_options(app, window);
    Job job;
    add_commands(app, job);
    try {
        app.parse(argc, argv);
    } catch (const CLI::Success& e) { // --help, --version
        return app.exit(e);
    } catch (const CLI::ParseError& e) {
        app.exit(e);
        return 2;
    }
    try {
        return job ? job() : run_window(window);
    } catch (const BadInput& e) {
        return say(e.what());
    } catch (const scenarios::ScenarioError& e) {
        return say(e.what());
    } catch (const field::LogError& e) {
        return say(e.what());
    } catch (const std::exception& e) {
        return say(fmt::format("something went wrong that should not: {}", e.what()).c_str());
    }
}

} // namespace sondeyard::ui
