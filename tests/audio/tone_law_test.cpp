// The law from signal to pitch and loudness, without any sound library.
#include "audio/tone.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

using namespace sondeyard::audio;

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInf = std::numeric_limits<double>::infinity();

double cents_between(double low_hz, double high_hz) { return 1200.0 * std::log2(high_hz / low_hz); }

} // namespace

TEST_CASE("semitones are those of equal temperament") {
    // ISO 16: A4 = 440 Hz. The other notes are the usual table of equal temperament (both from memory).
    CHECK(raise_by_semitones(440.0, 12) == doctest::Approx(880.0).epsilon(1e-12));
    CHECK(raise_by_semitones(440.0, -12) == doctest::Approx(220.0).epsilon(1e-12));
    CHECK(raise_by_semitones(440.0, 3) == doctest::Approx(523.251).epsilon(1e-6));  // C5
    CHECK(raise_by_semitones(440.0, -9) == doctest::Approx(261.626).epsilon(2e-6)); // C4
    CHECK(raise_by_semitones(440.0, 7) == doctest::Approx(659.255).epsilon(1e-6));  // E5
}

TEST_CASE("the pitch has its stated values at the anchors") {
    CHECK(tone_frequency_hz(0.0) == doctest::Approx(150.0).epsilon(1e-12));
    CHECK(tone_frequency_hz(33.0) == doctest::Approx(300.0).epsilon(1e-12));
    CHECK(tone_frequency_hz(66.0) == doctest::Approx(600.0).epsilon(1e-12));
    CHECK(tone_frequency_hz(99.0) == doctest::Approx(1200.0).epsilon(1e-12));
    CHECK(tone_frequency_hz(110.0) == doctest::Approx(1511.9).epsilon(1e-4));
    CHECK(tone_frequency_hz(132.0) == doctest::Approx(2400.0).epsilon(1e-12));
}

TEST_CASE("equal steps in decibels are equal musical steps wherever they are taken") {
    for (int i = 0; i < 349; ++i) {
        const double from = 0.37 * i; // up to 128.8
        CAPTURE(from);
        CHECK(cents_between(tone_frequency_hz(from), tone_frequency_hz(from + 2.75)) ==
              doctest::Approx(100.0).epsilon(1e-9));
    }
    // Halving the distance to a dipole is a factor of 8 in field: 18.06 dB, which the header calls 6.5 semitones.
    const double eightfold_db = 20.0 * std::log10(8.0);
    CHECK(cents_between(tone_frequency_hz(40.0), tone_frequency_hz(40.0 + eightfold_db)) / 100.0 ==
          doctest::Approx(6.57).epsilon(1e-3));
}

TEST_CASE("pitch and loudness never fall and never jump as the signal rises") {
    constexpr double kStep = 0.01;
    for (int i = 0; i < 24000; ++i) {
        const double from = -70.0 + kStep * i;
        const double to = -70.0 + kStep * (i + 1);
        const double rise = tone_frequency_hz(to) - tone_frequency_hz(from);
        const double louder = signal_loudness(to) - signal_loudness(from);
        CAPTURE(from);
        REQUIRE(rise >= 0.0);
        REQUIRE(rise < 0.6); // 2400 Hz * ln 2 / 33 dB * 0.01 dB = 0.50 Hz is the steepest
        REQUIRE(louder >= 0.0);
        REQUIRE(louder < 0.0012); // ln 10 / 20 * 0.01 dB = 0.00115
        if (from >= 0.0 && to <= 132.0) {
            REQUIRE(rise > 0.0);
        }
    }
}

TEST_CASE("the pitch stands still outside its range") {
    CHECK(tone_frequency_hz(-30.0) == 150.0);
    CHECK(tone_frequency_hz(-1e300) == 150.0);
    CHECK(tone_frequency_hz(133.0) == doctest::Approx(2400.0).epsilon(1e-12));
    CHECK(tone_frequency_hz(1e300) == doctest::Approx(2400.0).epsilon(1e-12));
}

TEST_CASE("a signal near the noise floor is quiet and one below hearing is silent") {
    CHECK(signal_loudness(10.0) == doctest::Approx(1.0));
    CHECK(signal_loudness(90.0) == doctest::Approx(1.0));
    CHECK(20.0 * std::log10(signal_loudness(0.0)) == doctest::Approx(-10.0).epsilon(0.01));
    CHECK(20.0 * std::log10(signal_loudness(-10.0)) == doctest::Approx(-20.0).epsilon(0.02));
    CHECK(signal_loudness(-39.0) > 0.0);
    CHECK(signal_loudness(-40.0) == doctest::Approx(0.0));
    CHECK(signal_loudness(-41.0) == 0.0);
    CHECK(tone_amplitude({.signal_dbpt = -80.0, .volume = 1.0}) == 0.0);
}

TEST_CASE("the volume counts squared and stays in its range") {
    CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = 1.0}) == doctest::Approx(0.5));
    CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = 0.5}) == doctest::Approx(0.125));
    CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = 0.1}) == doctest::Approx(0.005));
    CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = 0.0}) == 0.0);
    CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = -0.7}) == 0.0);
    CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = 7.0}) == doctest::Approx(0.5));
    CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = 1.0, .muted = true}) == 0.0);
}

TEST_CASE("a signal or volume that is no number is silence") {
    CHECK(tone_amplitude(ToneSetting{}) == 0.0); // nothing received yet
    for (const double bad : {kNan, kInf, -kInf}) {
        CAPTURE(bad);
        CHECK(tone_amplitude({.signal_dbpt = bad, .volume = 1.0}) == 0.0);
        CHECK(tone_amplitude({.signal_dbpt = 60.0, .volume = bad}) == 0.0);
        CHECK(tone_frequency_hz(bad) == 150.0);
    }
}

TEST_CASE("hum is soft, grows by equal steps for equal decibels, and obeys volume and mute") {
    const auto peak = [](double dbpt, double volume = 1.0, bool muted = false) {
        return hum_amplitude({.volume = volume, .muted = muted, .hum_dbpt = dbpt});
    };
    CHECK(peak(kHumHeardDbpt) == 0.0);
    CHECK(peak(-60.0) == 0.0);
    CHECK(peak(70.0) == doctest::Approx(0.5 * kHumAmplitude));
    CHECK(peak(140.0) == kHumAmplitude);
    CHECK(peak(140.0, 0.5) == doctest::Approx(0.25 * kHumAmplitude));
    CHECK(peak(140.0, 1.0, true) == 0.0);
    CHECK(peak(std::numeric_limits<double>::quiet_NaN()) == 0.0);
    CHECK(kHumAmplitude + kFullAmplitude < 1.0); // both voices at their loudest do not clip
}

TEST_CASE(
    "hum sounds at twice, three and four times the mains and nowhere else, and starts and stops without a click") {
    // Correlated against sines over whole seconds, as a Fourier series does.
    constexpr int rate = 48000;
    for (const double mains_hz : {50.0, 60.0}) {
        Voice hum = hum_voice(rate);
        std::vector<float> sound(2 * rate, 0.0F);
        hum.set({.volume = 1.0, .hum_dbpt = 120.0, .mains_hz = mains_hz});
        hum.add_to(sound);
        const auto strength = [&](double hz) {
            double re = 0.0;
            double im = 0.0;
            for (int i = rate; i < 2 * rate; ++i) {
                const double turn = 2.0 * std::numbers::pi * hz * i / rate;
                re += sound[static_cast<std::size_t>(i)] * std::cos(turn);
                im += sound[static_cast<std::size_t>(i)] * std::sin(turn);
            }
            return 2.0 * std::hypot(re, im) / rate;
        };
        CHECK(strength(2.0 * mains_hz) == doctest::Approx(0.5 * kHumAmplitude).epsilon(1e-4));
        CHECK(strength(3.0 * mains_hz) == doctest::Approx(0.3 * kHumAmplitude).epsilon(1e-4));
        CHECK(strength(4.0 * mains_hz) == doctest::Approx(0.2 * kHumAmplitude).epsilon(1e-4));
        CHECK(strength(mains_hz) < 1e-6);
        CHECK(strength(5.0 * mains_hz) < 1e-6);
        hum.set({.muted = true, .hum_dbpt = 120.0, .mains_hz = mains_hz});
        std::vector<float> end(rate, 0.0F);
        hum.add_to(end);
        CHECK(hum.silent());
        double largest_step = std::abs(end.front() - sound.back());
        for (const std::vector<float>* part : {&sound, &end}) {
            for (std::size_t i = 1; i < part->size(); ++i) {
                largest_step = std::max(largest_step, static_cast<double>(std::abs((*part)[i] - (*part)[i - 1])));
            }
        }
        // The steepest that the three sines can be, and a little for the glide.
        const double steepest = 2.0 * std::numbers::pi * mains_hz * (2 * 0.5 + 3 * 0.3 + 4 * 0.2) / rate;
        CHECK(largest_step < 1.1 * kHumAmplitude * steepest);
    }
}
