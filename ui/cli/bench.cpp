// Speed and size on this machine. Figures are medians of repeated runs, those of many fields the fastest of many short
// ones (see bench_fields.hpp); machines are noisy, so compare ratios of one run.
#include "field/replay.hpp"
#include "field/score.hpp"
#include "scenarios/log_header.hpp"
#include "sim/random.hpp"
#include "ui/cli/bench_fields.hpp"
#include "ui/cli/bench_known.hpp"
#include "ui/cli/bench_replay.hpp"
#include "ui/cli/bench_work.hpp"
#include "ui/cli/commands.hpp"
#include "ui/cli/print.hpp"
#include "ui/window/temporary_folder.hpp"
#include "ui/window/window.hpp"

#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <thread>

namespace sondeyard::ui {

namespace {

using Clock = std::chrono::steady_clock;

double seconds_of(const std::function<void()>& work) {
    const auto begin = Clock::now();
    work();
    return std::chrono::duration<double>(Clock::now() - begin).count();
}

// Median seconds of one call of `work(n)` divided by n.
double median_per_item(int runs, int n, const std::function<void(int)>& work) {
    work(std::max(1, n / 10)); // warm
    std::vector<double> all;
    all.reserve(static_cast<std::size_t>(runs));
    for (int run = 0; run < runs; ++run) {
        all.push_back(seconds_of([&] { work(n); }) / n);
    }
    std::ranges::nth_element(all, all.begin() + runs / 2);
    return all[static_cast<std::size_t>(runs / 2)];
}

// Keeps the optimiser from dropping work whose result nobody uses.
volatile double sink = 0.0;

double field_seconds(int runs, int n) {
    const sim::Dipole sonde = sim::make_sonde({0.0, 0.0, -1.5}, 30.0, 10.0, 0.1, 512.0);
    return median_per_item(runs, n, [&](int count) {
        double sum = 0.0;
        for (int i = 0; i < count; ++i) {
            sum += sim::dipole_field_t(sonde, {1e-3 * (i % 1000), 0.5, 0.05}).re.x;
        }
        sink = sum;
    });
}

// Everything at once: iron pipe, wet ground, hum, a bonded line, a clamped transmitter, another crew, a slope.
constexpr std::string_view everything = R"(
format = 1
title = "Everything at once"
[sonde]
frequency_hz = 8192
depth_m = 1.5
[run]
material = "cast_iron"
wall_m = 0.006
[ground]
resistivity_ohm_m = 20
slope_percent = 5
[hum]
current_A = 0.5
supply = "overhead"
[neighbour]
kind = "water"
offset_m = 0.8
clamp_current_mA = 20
clamp_frequency_hz = 8192
[other_sonde]
distance_m = 8
)";

double observation_seconds(int runs, int n, const field::Setting& setting) {
    const sim::Scene scene = field::scene_of(setting.world, setting.ground, setting.world.sonde);
    const double frequency_hz = setting.world.sonde.frequency_hz;
    return median_per_item(runs, n, [&](int count) {
        sim::Detector detector;
        sim::Pose pose;
        double sum = 0.0;
        for (int i = 0; i < count; ++i) {
            pose.tip_m =
                setting.world.sonde.position_m * glm::dvec3{1.0, 1.0, 0.0} + glm::dvec3{1e-3 * (i % 1000), 0.3, 0.0};
            const auto signals =
                sim::antenna_signals_t(setting.instrument, pose, scene, frequency_hz, i + 1, field::tick_s, i == 0);
            sim::detect(detector, setting.instrument, signals, frequency_hz, field::tick_s, 7,
                        static_cast<std::uint64_t>(i));
            sum += sim::measure(setting.instrument, detector.filtered, frequency_hz, 0.0, sim::CoilAttitude::level)
                       .signal_t;
        }
        sink = sum;
    });
}

double tick_seconds(int runs, int n, const field::Setting& setting) {
    return median_per_item(runs, n, [&](int count) {
        field::ExerciseState state = field::start(setting);
        field::Action tune;
        tune.command = field::SetFrequency{setting.world.sonde.frequency_hz};
        field::step(setting, state, tune);
        for (int i = 2; i <= count; ++i) {
            field::step(setting, state, wandering(setting, i));
        }
        sink = static_cast<double>(state.tick);
    });
}

struct LogFigures {
    double replay_10min_s = 0.0;
    double bytes_per_min = 0.0;
};

LogFigures log_figures(int runs, const field::Setting& setting) {
    const TemporaryFolder folder;
    const std::filesystem::path file = folder.path() / "log.jsonl";
    write_wandering_log(setting, ten_minutes_ticks, file);
    LogFigures figures;
    figures.bytes_per_min = static_cast<double>(std::filesystem::file_size(file)) / 10.0;
    figures.replay_10min_s = median_per_item(runs, 1, [&](int) {
        const field::WorkLog log = field::read_log(file);
        const field::Setting again(scenarios::world_of(log.header, file.string()));
        sink = static_cast<double>(field::replay(again, log).checkpoints);
    });
    return figures;
}

Json machine() {
    std::string cpu = "unknown";
    std::ifstream info("/proc/cpuinfo");
    for (std::string line; std::getline(info, line);) {
        if (line.starts_with("model name")) {
            cpu = line.substr(line.find(':') + 2);
            break;
        }
    }
    return {{"cpu", cpu},
            {"cores", std::thread::hardware_concurrency()},
#ifdef __clang__
            {"compiler", fmt::format("clang {}", __clang_version__)},
#else
            {"compiler", fmt::format("gcc {}", __VERSION__)},
#endif
            {"build_type", SONDEYARD_BUILD_TYPE}};
}

} // namespace

int bench(const BenchOptions& options) {
    const int part = options.quick ? 10 : 1;
    const field::Setting setting(
        scenarios::resolve(scenarios::bundled(scenarios::bundled_names().front()), default_seed));
    const field::Setting hardest(scenarios::resolve(scenarios::parse_scenario(everything, "everything"), default_seed));
    const LogFigures log = log_figures(options.quick ? 1 : 5, setting);
    const WindowFigures window = measure_window();
    const FieldFigures fields = measure_fields(options.quick);
    const MapFigures map = measure_map(options.quick);
    const ScrubFigures scrub = measure_scrubbing(options.quick);
    const FieldPictureFigures picture = measure_field_picture(options.quick);
    Json figures = {{"field_scalar_per_s", 1.0 / field_seconds(9, 2'000'000 / part)}};
    for (const Rate& rate : fields.rates) {
        figures[rate.name] = rate.best_per_s;
    }
    for (const Ratio& ratio : fields.ratios) {
        figures[ratio.name] = ratio.value;
    }
    figures["map_1024_ms"] = map.best_ms;
    figures["map_1024_median_ms"] = map.median_ms;
    const KnownFigures known = measure_known(setting, wandering, options.quick);
    figures["fit_10min_ms"] = known.fit_10min_ms;
    figures["bound_10min_ms"] = known.bound_10min_ms;
    figures["debrief_open_ms"] = known.debrief_open_ms;
    figures["soundings_10min"] = known.soundings;
    figures["map_512_ms"] = picture.map_best_ms;
    figures["map_512_median_ms"] = picture.map_median_ms;
    figures["map_512_lines_ms"] = picture.lines_ms;
    figures["true_points_ms"] = picture.points_ms;
    figures["section_lines_ms"] = picture.section_ms;
    figures.update(Json{
        {"observation_us", 1e6 * observation_seconds(9, 200'000 / part, setting)},
        {"observation_all_us", 1e6 * observation_seconds(9, 100'000 / part, hardest)},
        {"tick_all_us", 1e6 * tick_seconds(9, 18'000 / part, hardest)},
        {"tick_us", 1e6 * tick_seconds(9, 36'000 / part, setting)},
        {"frame_ms", or_null(window.frame_ms)},
        {"frame_rendered_ms", or_null(window.frame_rendered_ms)},
        {"frame_empty_ms", or_null(window.frame_empty_ms)},
        {"first_frame_s", or_null(window.first_frame_s)},
        {"idle_percent", or_null(window.idle_percent)},
        {"exercise_percent", or_null(window.exercise_percent)},
        {"peak_memory_mb", or_null(window.peak_memory_mb)},
        {"replay_10min_s", log.replay_10min_s},
        {"log_bytes_per_min", log.bytes_per_min},
        {"scrub_frame_us", scrub.jump_us},
        {"scrub_frame_worst_us", scrub.jump_worst_us},
        {"scrub_drag_us", scrub.drag_us},
        {"scrub_drag_worst_us", scrub.drag_worst_us},
        {"scrub_prepare_ms", scrub.prepare_ms},
    });
    if (options.json) {
        for (const Rate& rate : fields.rates) {
            figures["field_medians"][rate.name] = rate.median_per_s;
        }
        for (const Ratio& ratio : fields.ratios) {
            if (ratio.at_least > 0.0) {
                figures["ratios_asked_for"][ratio.name] = ratio.at_least;
            }
        }
        figures["field_batch_target"] = fields.target;
        figures["map_scenario"] = map.scenario;
        figures["window_not_measured_because"] = window.why_not.empty() ? Json() : Json(window.why_not);
        figures["machine"] = machine();
        print_json(figures);
        return 0;
    }
    for (const auto& [key, value] : figures.items()) {
        fmt::print("{:<26} {}\n", key, value.is_null() ? std::string("-") : fmt::format("{:.6g}", value.get<double>()));
    }
    for (const Ratio& ratio : fields.ratios) {
        if (ratio.at_least > 0.0) {
            fmt::print("{:<26} {:.3g}, at least {} asked for\n", ratio.name, ratio.value, ratio.at_least);
        }
    }
    for (const Rate& rate : fields.rates) {
        fmt::print("{:<26} median {:.4g}, fastest {:.4g}\n", rate.name, rate.median_per_s, rate.best_per_s);
    }
    fmt::print("{:<26} {:.4g}, at most {} asked for\n", "map_1024_ms", map.best_ms, map.most_ms);
    fmt::print("{:<26} {:.4g}, at most {} asked for\n", "map_512_ms", picture.map_best_ms, picture.map_most_ms);
    fmt::print("{:<26} {}\n", "map_scenario", map.scenario);
    fmt::print("{:<26} {}\n", "field_batch_target", fields.target);
    if (!window.why_not.empty()) {
        fmt::print("window not measured: {}\n", window.why_not);
    }
    const Json here = machine();
    for (const auto& [key, value] : here.items()) {
        fmt::print("{:<26} {}\n", key, value.is_string() ? value.get<std::string>() : value.dump());
    }
    return 0;
}

} // namespace sondeyard::ui
