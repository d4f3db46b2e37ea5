#include "worked_support.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <functional>
#include <thread>

namespace sondeyard::scenarios::test {

Worked work(const Job& job) noexcept {
    Worked worked;
    try {
        worked.job = job;
        std::feclearexcept(FE_ALL_EXCEPT);
        field::World world = resolve(bundled(job.scenario), job.seed);
        world.receiver.kind = job.receiver.value_or(world.receiver.kind);
        const field::Setting setting(std::move(world));
        worked.faults = field::faults(setting.world);
        worked.solvable = setting.world.rubric.solvable_by_level_line;
        const auto who = field::make_model_operator(job.who, setting.brief);
        const field::ExerciseState state = field::operate(setting, *who, half_an_hour_ticks);
        worked.finished = state.finished_tick.has_value();
        worked.seconds = static_cast<double>(state.tick) * field::tick_s;
        worked.score = field::score(setting, state);
        worked.numbers_sound = std::fetestexcept(bad_arithmetic) == 0;
    } catch (const std::exception& e) {
        worked.trouble = e.what();
    }
    return worked;
}

std::vector<Worked> work_all(const std::vector<Job>& jobs) {
    std::vector<Worked> all(jobs.size());
    std::atomic<std::size_t> next = 0;
    const auto take_turns = [&] {
        for (std::size_t i = next++; i < jobs.size(); i = next++) {
            all[i] = work(jobs[i]);
        }
    };
    {
        std::vector<std::jthread> others;
        for (unsigned i = 1; i < std::thread::hardware_concurrency(); ++i) {
            others.emplace_back(take_turns);
        }
        take_turns();
    }
    return all;
}

std::string in_words(const Worked& w) {
    const std::string what = fmt::format("{}, {}, seed {}", w.job.who, w.job.scenario, w.job.seed);
    if (!w.trouble.empty()) {
        return fmt::format("{}: {}", what, w.trouble);
    }
    std::string text = w.score.horizontal_error_m
                           ? fmt::format("{}: {:.2f} m off (half band {:.2f} m, quarter band {:.2f} m)", what,
                                         *w.score.horizontal_error_m, w.score.half_band_m, w.score.quarter_band_m)
                           : fmt::format("{}: no locate marked", what);
    text += w.score.depth_error_percent ? fmt::format(", depth {:+.1f} %", *w.score.depth_error_percent)
                                        : ", no depth called";
    text += w.finished ? fmt::format(", {:.0f} s", w.seconds) : ", not finished";
    for (const std::string& fault : w.faults) {
        text += "; " + fault;
    }
    return text;
}

namespace {

double quantile(std::vector<double> values, double share) {
    if (values.empty()) {
        return std::nan("");
    }
    const auto at = std::lround(share * static_cast<double>(values.size() - 1));
    std::ranges::nth_element(values, values.begin() + at);
    return values[static_cast<std::size_t>(at)];
}

std::string row(const std::string& name, const std::vector<const Worked*>& all) {
    const auto values_of = [&](const std::function<std::optional<double>(const field::Score&)>& value) {
        std::vector<double> values;
        for (const Worked* w : all) {
            if (const auto v = value(w->score)) {
                values.push_back(*v);
            }
        }
        return values;
    };
    const auto share_of = [&](const std::function<bool(const Worked&)>& is) {
        return 100.0 * static_cast<double>(std::ranges::count_if(all, [&](const Worked* w) { return is(*w); })) /
               static_cast<double>(all.size());
    };
    const auto within = [&](double field::Score::* band) {
        return share_of([band](const Worked& w) {
            return w.score.horizontal_error_m && *w.score.horizontal_error_m <= w.score.*band;
        });
    };
    const auto off_m = values_of([](const field::Score& s) { return s.horizontal_error_m; });
    const auto off_share = values_of([](const field::Score& s) -> std::optional<double> {
        return s.horizontal_error_m ? std::optional(*s.horizontal_error_m / s.true_depth_m) : std::nullopt;
    });
    const auto depth_percent = values_of([](const field::Score& s) -> std::optional<double> {
        return s.depth_error_percent ? std::optional(std::abs(*s.depth_error_percent)) : std::nullopt;
    });
    const auto points = values_of([](const field::Score& s) { return std::optional<double>(s.points); });
    std::vector<double> seconds;
    seconds.reserve(all.size());
    for (const Worked* w : all) {
        seconds.push_back(w->seconds);
    }
    return fmt::format(
        "{:<16}{:>5}  {:>6.3f} {:>6.3f}  {:>6.3f} {:>6.3f}  {:>6.1f} {:>6.1f}  {:>6.0f} {:>6.0f}  {:>6.0f}  "
        "{:>5.1f} {:>5.1f} {:>5.1f} {:>6.1f}\n",
        name, all.size(), quantile(off_m, 0.5), quantile(off_m, 0.95), quantile(off_share, 0.5),
        quantile(off_share, 0.95), quantile(depth_percent, 0.5), quantile(depth_percent, 0.95), quantile(seconds, 0.5),
        quantile(seconds, 0.95), quantile(points, 0.5), within(&field::Score::full_band_m),
        within(&field::Score::half_band_m), within(&field::Score::quarter_band_m),
        share_of([](const Worked& w) { return w.score.passed; }));
}

} // namespace

std::string table(const std::vector<Worked>& all) {
    std::string text =
        fmt::format("\n{:<16}{:>5}  {:^13}  {:^13}  {:^13}  {:^13}  {:>6}  {}\n{:<16}{:>5}", "scenario", "n", "off, m",
                    "off / depth", "depth off, %", "seconds", "points", "% in full half quarter passed", "", "");
    text += fmt::format("  {0:>6} {1:>6}  {0:>6} {1:>6}  {0:>6} {1:>6}  {0:>6} {1:>6}  {0:>6}\n", "median", "95 %");
    for (const std::string& name : bundled_names()) {
        std::vector<const Worked*> of_it;
        for (const Worked& w : all) {
            if (w.job.scenario == name) {
                of_it.push_back(&w);
            }
        }
        if (!of_it.empty()) {
            text += row(name, of_it);
        }
    }
    return text;
}

} // namespace sondeyard::scenarios::test
