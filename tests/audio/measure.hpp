// What a rendered tone is measured by.
#pragma once

#include "audio/speaker.hpp"
#include "audio/tone.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

namespace sondeyard::audio::measure {

inline double peak(std::span<const float> sound) {
    double most = 0.0;
    for (const float sample : sound) {
        most = std::max(most, std::abs(static_cast<double>(sample)));
    }
    return most;
}

inline double largest_step(std::span<const float> sound) {
    double most = 0.0;
    for (std::size_t i = 1; i < sound.size(); ++i) {
        most = std::max(most, std::abs(static_cast<double>(sound[i]) - sound[i - 1]));
    }
    return most;
}

inline double largest_bend(std::span<const float> sound) {
    double most = 0.0;
    for (std::size_t i = 2; i < sound.size(); ++i) {
        most = std::max(most, std::abs(static_cast<double>(sound[i]) - 2.0 * sound[i - 1] + sound[i - 2]));
    }
    return most;
}

// No click: no two neighbours farther apart, and no corner sharper, than in a pure sine of the highest frequency and
// amplitude present while its amplitude glides by `amplitude` in kGlideS; 5 % on top for the glide of frequency.
// The glide is a 1/1440 of the amplitude a sample, so a click of a few thousandths of full scale is caught.
inline void check_no_click(std::span<const float> sound, double highest_hz, double amplitude) {
    const double w = 2.0 * std::numbers::pi * highest_hz / kSampleRateHz;
    const double glide = amplitude / (kGlideS * kSampleRateHz);
    CHECK(largest_step(sound) <= 1.05 * (amplitude * 2.0 * std::sin(w / 2.0) + glide));
    CHECK(largest_bend(sound) <= 1.05 * (amplitude * w * w + 2.0 * glide * w + glide));
}

} // namespace sondeyard::audio::measure
