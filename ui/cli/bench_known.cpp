#include "ui/cli/bench_known.hpp"

#include "field/coach.hpp"
#include "field/debrief.hpp"
#include "field/known.hpp"

#include <algorithm>
#include <chrono>
#include <functional>

namespace sondeyard::ui {

namespace {

double median_ms(int runs, const std::function<void()>& work) {
    using Clock = std::chrono::steady_clock;
    std::vector<double> all;
    all.reserve(static_cast<std::size_t>(runs));
    for (int run = 0; run < runs; ++run) {
        const auto begin = Clock::now();
        work();
        all.push_back(std::chrono::duration<double, std::milli>(Clock::now() - begin).count());
    }
    std::ranges::nth_element(all, all.begin() + runs / 2);
    return all[static_cast<std::size_t>(runs / 2)];
}

} // namespace

KnownFigures measure_known(const field::Setting& setting,
                           field::Action (*work)(const field::Setting& setting, std::int64_t tick), bool quick) {
    constexpr std::int64_t ten_minutes = 10 * 60 * 60;
    const int runs = quick ? 3 : 15;
    field::ExerciseState state = field::start(setting);
    for (std::int64_t tick = 1; tick <= ten_minutes; ++tick) {
        field::step(setting, state, work(setting, tick));
    }
    const field::WhatCouldBeKnown known = field::what_could_be_known(setting, state, field::score(setting, state));
    KnownFigures figures;
    figures.soundings = known.bound.soundings;
    std::size_t kept = 0; // of every result, so that none is dropped as useless
    figures.fit_10min_ms =
        median_ms(runs, [&] { kept += field::best_fit(known.soundings, setting.instrument).found ? 1U : 0U; });
    figures.bound_10min_ms = median_ms(runs, [&] {
        kept += field::knowable(known.soundings, setting.instrument, known.truth).known ? 1U : 0U;
        kept +=
            field::knowable_over_time(known.soundings, setting.instrument, known.truth, field::shrink_points).size();
    });
    figures.debrief_open_ms = median_ms(runs, [&] {
        const field::Score score = field::score(setting, state);
        kept += field::debrief(setting, state, score).notes.size();
        kept += field::coach(setting, state, score).size();
        kept += field::known_sentences(field::what_could_be_known(setting, state, score)).size();
    });
    figures.soundings += kept == 0 ? 1.0 : 0.0;
    return figures;
}

} // namespace sondeyard::ui
