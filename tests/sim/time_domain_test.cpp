// The detector sample by sample, as an instrument runs it, against the model that an exercise runs tick by tick.
//
// 4,096 samples a second of an antenna: a sine in white noise. Mixed down with the receiver's frequency (lock-in), then
// a single pole; or a four-pole Butterworth low-pass before it, which is the band filter seen from the mixer's output.
//
// | checked                               | against                                                                       |
// | ---                                   | ---                                                                           |
// | mean                                  | the tick model's, within 5 standard errors                                    |
// | variance of each part                 | the tick model's, chi-square with T/tau degrees of freedom a part, 5 errors   |
// | variance with the band filter too     | the integral of both responses: 7 % less (said in receiver.hpp)               |
// | a tone 12 Hz off                      | tuning_response                                                               |
// | settling                              | 4.6 tau to 1 %, and the band filter's 42 ms                                   |
//
// Equivalent noise bandwidth of a single pole, 1/(4 tau): textbook, from memory. Butterworth 1930, bilinear transform.
#include "sim/random.hpp"
#include "sim/receiver.hpp"
#include "tests/sim/support.hpp"

#include <array>
#include <vector>

using namespace sondeyard::sim;
using sondeyard::test::off;

namespace {

using Complex = std::complex<double>;
constexpr double pi = std::numbers::pi;
constexpr double samples_hz = 4096.0;
constexpr double receiver_hz = 512.0;
constexpr double tick_s = 1.0 / 60.0;

// Two of them in a row are the four poles.
struct Biquad {
    double b = 0.0, a1 = 0.0, a2 = 0.0;
    Complex x1, x2, y1, y2;
    Biquad(double corner_hz, double q) {
        const double k = std::tan(pi * corner_hz / samples_hz);
        const double norm = 1.0 / (1.0 + k / q + k * k);
        b = k * k * norm;
        a1 = 2.0 * (k * k - 1.0) * norm;
        a2 = (1.0 - k / q + k * k) * norm;
    }
    Complex operator()(Complex x) {
        const Complex y = b * (x + 2.0 * x1 + x2) - a1 * y1 - a2 * y2;
        x2 = x1, x1 = x, y2 = y1, y1 = y;
        return y;
    }
};

struct Chain {
    bool band_filter = false;
    double tau_s = 0.15;
    Biquad first, second;
    Complex out;
    Chain(const ReceiverSpec& spec, bool with_band_filter)
        : band_filter(with_band_filter), tau_s(spec.settling_tau_s), first(spec.band_half_width_hz, 0.54119610),
          second(spec.band_half_width_hz, 1.30656296) {}
    Complex operator()(double antenna_t, std::int64_t sample) {
        const double turns = receiver_hz / samples_hz * static_cast<double>(sample % 4096);
        Complex mixed = std::sqrt(2.0) * antenna_t * std::polar(1.0, -2.0 * pi * turns);
        if (band_filter) {
            mixed = second(first(mixed));
        }
        out += -std::expm1(-1.0 / (samples_hz * tau_s)) * (mixed - out);
        return out;
    }
};

struct Statistics {
    Complex mean{0.0};
    double variance_of_a_part = 0.0;
    double mean_square = 0.0;
    double seconds = 0.0;
};

Statistics statistics_of(const std::vector<Complex>& values, double seconds) {
    Statistics s;
    s.seconds = seconds;
    for (const Complex& v : values) {
        s.mean += v;
        s.mean_square += std::norm(v);
    }
    const auto n = static_cast<double>(values.size());
    s.mean /= n;
    s.mean_square /= n;
    s.variance_of_a_part = 0.5 * (s.mean_square - std::norm(s.mean));
    return s;
}

// What comes out at the end of every tick, once it has settled.
Statistics sampled(const ReceiverSpec& spec, bool band_filter, double signal_t, double tone_hz, double seconds) {
    Chain chain(spec, band_filter);
    const double noise_t =
        noise_density_t(spec, receiver_hz) * std::sqrt(0.5 * samples_hz); // white, up to half the rate
    static constexpr std::uint64_t stream = stream_of("test.samples");
    const auto settled = static_cast<std::int64_t>(4.0 * samples_hz);
    const auto total = settled + static_cast<std::int64_t>(seconds * samples_hz);
    std::vector<Complex> values;
    std::int64_t ticks = 0;
    for (std::int64_t i = 0; i < total; i += 2) {
        const auto noise = normal_pair(11, stream, static_cast<std::uint64_t>(i));
        for (const std::int64_t half : {0, 1}) {
            const std::int64_t sample = i + half;
            const double turns = tone_hz / samples_hz * static_cast<double>(sample % 4096); // whole turns a second
            const double antenna_t = std::sqrt(2.0) * signal_t * std::cos(2.0 * pi * turns + 0.7) +
                                     noise_t * noise[static_cast<std::size_t>(half)];
            const Complex out = chain(antenna_t, sample);
            if (sample >= settled && static_cast<double>(sample) >= static_cast<double>(ticks) * tick_s * samples_hz) {
                ticks = static_cast<std::int64_t>(static_cast<double>(sample) / (tick_s * samples_hz)) + 1;
                values.push_back(out);
            }
        }
    }
    return statistics_of(values, seconds);
}

Statistics ticked(const ReceiverSpec& spec, double signal_t, double tone_hz, double seconds) {
    const Instrument instrument = perfect_instrument(spec);
    AntennaSignals signals{};
    signals[1] = std::polar(signal_t * tuning_response(spec, tone_hz - receiver_hz), 0.7);
    Detector detector;
    std::vector<Complex> values;
    const auto ticks = static_cast<std::uint64_t>(seconds / tick_s);
    for (std::uint64_t tick = 0; tick < ticks; ++tick) {
        detect(detector, instrument, signals, receiver_hz, tick_s, 21, tick);
        values.push_back(detector.filtered[1]);
    }
    return statistics_of(values, seconds);
}

// Standard errors of estimates over T seconds behind a single pole: as good as T/tau independent values of the square,
// and T/(2 tau) of the value itself; two parts.
double error_of_variance(const ReceiverSpec& spec, const Statistics& s) {
    return s.variance_of_a_part * std::sqrt(2.0 / (2.0 * s.seconds / spec.settling_tau_s));
}
double error_of_mean(const ReceiverSpec& spec, const Statistics& s) {
    return std::sqrt(s.variance_of_a_part / (0.5 * s.seconds / spec.settling_tau_s));
}

// Of band filter and pole in a row, Hz, by the trapezium rule.
double bandwidth_of_both_hz(const ReceiverSpec& spec) {
    double sum = 0.0;
    constexpr double step_hz = 0.001;
    for (int i = 0; i < 200'000; ++i) {
        const double r = tuning_response(spec, step_hz * i);
        sum += (i == 0 ? 0.5 : 1.0) * r * r * step_hz;
    }
    return sum;
}

constexpr double long_s = 1500.0;  // 6.1 million samples, 90,000 ticks, 10,000 time constants
constexpr double signal_t = 3e-12; // 9.5 dBpT, 4.6 times the noise of a part

} // namespace

TEST_CASE("Lock-in and single pole, sample by sample, have the mean and variance of the tick model") {
    const ReceiverSpec spec;
    const Statistics samples = sampled(spec, false, signal_t, receiver_hz, long_s);
    const Statistics ticks = ticked(spec, signal_t, receiver_hz, long_s);
    const double variance_error = std::hypot(error_of_variance(spec, samples), error_of_variance(spec, ticks));
    const double mean_error = std::hypot(error_of_mean(spec, samples), error_of_mean(spec, ticks));
    MESSAGE("variance of a part, pT2: samples " << 1e24 * samples.variance_of_a_part << ", ticks "
                                                << 1e24 * ticks.variance_of_a_part << " +- " << 1e24 * variance_error);
    MESSAGE("mean, pT: samples " << 1e12 * std::abs(samples.mean) << ", ticks " << 1e12 * std::abs(ticks.mean) << " +- "
                                 << 1e12 * mean_error);
    CHECK(variance_error < 0.015 * samples.variance_of_a_part); // or the test would see nothing
    CHECK(std::abs(samples.variance_of_a_part - ticks.variance_of_a_part) < 5.0 * variance_error);
    CHECK(std::abs(samples.mean - ticks.mean) < 5.0 * mean_error);
    CHECK(std::abs(samples.mean - std::polar(signal_t, 0.7)) < 5.0 * error_of_mean(spec, samples));
    // 0.5 pT, squared, over 4 x 0.15 s: 0.4167 pT2.
    CHECK(std::abs(samples.variance_of_a_part - 0.41667e-24) < 5.0 * error_of_variance(spec, samples));
}

TEST_CASE("The band filter before it takes off another 7 % of the noise power, which the tick model leaves in") {
    const ReceiverSpec spec;
    const double both_hz = bandwidth_of_both_hz(spec);
    CHECK(both_hz / noise_bandwidth_hz(spec) == doctest::Approx(0.933).epsilon(0.005));
    const Statistics samples = sampled(spec, true, signal_t, receiver_hz, long_s);
    const double density_t = noise_density_t(spec, receiver_hz);
    MESSAGE("variance of a part, pT2: " << 1e24 * samples.variance_of_a_part << ", by both responses "
                                        << 1e24 * density_t * density_t * both_hz);
    CHECK(std::abs(samples.variance_of_a_part - density_t * density_t * both_hz) <
          5.0 * error_of_variance(spec, samples));
    CHECK(std::abs(samples.mean - std::polar(signal_t, 0.7)) < 5.0 * error_of_mean(spec, samples) + 1e-3 * signal_t);
}

TEST_CASE("A tone 12 Hz off comes through as the tuning response says") {
    const ReceiverSpec spec;
    const double strong_t = 2e-10;
    // 12 Hz: 1 / sqrt(1 + 1.2^8) of the band filter, 1 / sqrt(1 + 11.31^2) of the pole: 0.0384.
    const double response = tuning_response(spec, -12.0);
    CHECK(response == doctest::Approx(0.03827).epsilon(0.01));
    const Statistics samples = sampled(spec, true, strong_t, 500.0, 100.0);
    const Statistics ticks = ticked(spec, strong_t, 500.0, 100.0);
    // By the mean square, since the tone turns in the filter: tone and noise of both parts.
    const double heard_t = std::sqrt(samples.mean_square - 2.0 * 0.41667e-24 * 0.933);
    MESSAGE("500 Hz heard on 512 Hz, of 200 pT: " << 1e12 * heard_t << " pT; the tick model "
                                                  << 1e12 * std::sqrt(ticks.mean_square - 2.0 * 0.41667e-24));
    CHECK(off(heard_t, strong_t * response) <= 0.01);
    CHECK(off(heard_t, std::sqrt(ticks.mean_square - 2.0 * 0.41667e-24)) <= 0.015);
}

TEST_CASE("It settles to 1 % in 4.6 time constants; the band filter's 42 ms come on top") {
    ReceiverSpec spec;
    spec.noise_at_512_pt_per_rthz = spec.noise_floor_pt_per_rthz = 0.0;
    const auto settled_s = [&](bool band_filter) {
        Chain chain(spec, band_filter);
        double last_outside_s = 0.0;
        for (std::int64_t i = 0; i < 8192; ++i) {
            const double antenna_t =
                std::sqrt(2.0) * std::cos(2.0 * pi * receiver_hz / samples_hz * static_cast<double>(i));
            if (std::abs(std::abs(chain(antenna_t, i)) - 1.0) > 0.01) {
                last_outside_s = static_cast<double>(i) / samples_hz;
            }
        }
        return last_outside_s;
    };
    CHECK(settled_s(false) == doctest::Approx(4.605 * 0.15).epsilon(0.01));
    CHECK(settled_s(true) - settled_s(false) == doctest::Approx(0.042).epsilon(0.1)); // 2.613 / (2 pi 10 Hz), at 0 Hz
}
