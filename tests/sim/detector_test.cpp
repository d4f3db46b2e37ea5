// The narrow-band detector: how it settles and how it is noisy.
//
// | checked                            | against                                                                      |
// | ---                                | ---                                                                          |
// | settling                           | 1 - e^-1 after tau, 1 % after 4.6 tau, whatever the tick                     |
// | variance of each part of a channel | density^2 x 1 / (4 tau), worked by hand: 0.6455 pT at 512 Hz                 |
// | mean of noise alone                | Rayleigh sigma sqrt(pi/2); three crossed antennas 2.350 sigma (chi, 6 parts) |
// | mean of a weak signal              | Rice: about sigma^2 / 2B too much                                            |
// | noise and memory                   | a function of (seed, tick) and of the state, and of nothing else             |
//
// Statistics are over many ticks; neighbours are alike (one pole), which the tolerances, five standard errors, allow
// for.
#include "sim/receiver.hpp"
#include "tests/sim/support.hpp"

#include <array>
#include <vector>

using namespace sondeyard::sim;
using sondeyard::test::off;

namespace {

constexpr double tick_s = 1.0 / 60.0;
constexpr double sigma_t = 0.6454972243679028e-12; // 0.5 pT/sqrt(Hz) x sqrt(1 / (4 x 0.15 s))

Instrument instrument_of(ReceiverKind kind = ReceiverKind::tri_axis, bool noisy = true) {
    ReceiverSpec spec;
    spec.kind = kind;
    if (!noisy) {
        spec.noise_floor_pt_per_rthz = 0.0;
        spec.noise_at_512_pt_per_rthz = 0.0;
    }
    return perfect_instrument(spec);
}

// Channel signals of n ticks with this steady input.
std::vector<AntennaSignals> listen(const Instrument& instrument, const AntennaSignals& signals, double frequency_hz,
                                   std::uint64_t n, std::uint64_t seed = 1) {
    Detector detector;
    std::vector<AntennaSignals> heard;
    heard.reserve(n);
    for (std::uint64_t tick = 0; tick < n; ++tick) {
        detect(detector, instrument, signals, frequency_hz, tick_s, seed, tick);
        heard.push_back(detector.filtered);
    }
    return heard;
}

double variance_of_parts(const std::vector<AntennaSignals>& heard, const AntennaSignals& mean) {
    double squares = 0.0;
    for (const AntennaSignals& signals : heard) {
        for (std::size_t i = 0; i < 6; ++i) {
            squares += std::norm(signals[i] - mean[i]);
        }
    }
    return squares / (12.0 * static_cast<double>(heard.size()));
}

} // namespace

TEST_CASE("The first call fills the filter, and it settles to 1 % in 4.6 time constants") {
    const Instrument instrument = instrument_of(ReceiverKind::tri_axis, false);
    const std::complex<double> before{2e-10, -1e-10};
    const std::complex<double> after{5e-10, 3e-10};
    AntennaSignals signals{};
    signals.fill(before);
    for (const double dt_s : {1.0 / 60.0, 1.0 / 600.0, 0.05}) {
        Detector detector;
        CHECK(!detector.primed);
        detect(detector, instrument, signals, 512.0, dt_s, 1, 0);
        CHECK(detector.primed);
        CHECK(detector.filtered[3] == before);
        AntennaSignals stepped{};
        stepped.fill(after);
        const int ticks_of_tau = static_cast<int>(std::lround(0.15 / dt_s));
        for (int i = 1; i <= 46 * ticks_of_tau / 10; ++i) {
            detect(detector, instrument, stepped, 512.0, dt_s, 1, static_cast<std::uint64_t>(i));
            const std::complex<double> left = (after - detector.filtered[3]) / (after - before);
            CHECK(off(left.real(), std::exp(-i * dt_s / 0.15)) <= 1e-10);
            CHECK(std::abs(left.imag()) <= 1e-13);
            if (i == ticks_of_tau) {
                CHECK(off(left.real(), 0.36787944117144233) <= 1e-10);
            }
        }
    }
    CHECK(off(std::exp(-4.6), 0.01) <= 0.01);
}

TEST_CASE("Each part of each channel has variance density squared times bandwidth") {
    const Instrument instrument = instrument_of();
    AntennaSignals signals{};
    signals[1] = {3e-10, -2e-10};
    const auto heard = listen(instrument, signals, 512.0, 60000);
    // Neighbouring ticks are alike by e^(-dt/tau) = 0.895, so 720,000 values count as 80,000: 0.5 % of the variance.
    CHECK(off(variance_of_parts(heard, signals), sigma_t * sigma_t) <= 0.025);

    // At 8192 Hz the density is a sixteenth.
    const auto high = listen(instrument, {}, 8192.0, 20000);
    CHECK(off(variance_of_parts(high, {}), sigma_t * sigma_t / 256.0) <= 0.05);
}

TEST_CASE("The variance does not depend on the tick") {
    const Instrument instrument = instrument_of();
    Detector detector;
    double squares = 0.0;
    constexpr int n = 60000;
    for (std::uint64_t tick = 0; tick < n; ++tick) {
        detect(detector, instrument, {}, 512.0, 0.1, 3, tick); // most of a time constant
        for (const auto& s : detector.filtered) {
            squares += std::norm(s);
        }
    }
    CHECK(off(squares / (12.0 * n), sigma_t * sigma_t) <= 0.015);
}

TEST_CASE("Noise is already full at the first call") {
    const Instrument instrument = instrument_of();
    double squares = 0.0;
    constexpr int n = 5000;
    for (std::uint64_t seed = 0; seed < n; ++seed) {
        Detector detector;
        detect(detector, instrument, {}, 512.0, tick_s, seed, 0);
        for (const auto& s : detector.filtered) {
            squares += std::norm(s);
        }
    }
    CHECK(off(squares / (12.0 * n), sigma_t * sigma_t) <= 5.0 * std::sqrt(2.0 / (12.0 * n)));
}

TEST_CASE("Channels and their two parts are independent, and a tick remembers the one before") {
    const auto heard = listen(instrument_of(), {}, 512.0, 60000);
    const auto n = static_cast<double>(heard.size());
    const double tolerance = 5.0 * sigma_t * sigma_t / std::sqrt(0.11 * n);
    for (std::size_t a = 0; a < 6; ++a) {
        double parts = 0.0;
        for (const AntennaSignals& s : heard) {
            parts += s[a].real() * s[a].imag();
        }
        CHECK(std::abs(parts / n) <= tolerance);
        for (std::size_t b = 0; b < a; ++b) {
            std::complex<double> product = 0.0;
            for (const AntennaSignals& s : heard) {
                product += s[a] * std::conj(s[b]);
            }
            CHECK(std::abs(product) / n <= 2.0 * tolerance);
        }
    }
    // Nine ticks are one time constant: what is left in common is 1/e.
    double common = 0.0;
    for (std::size_t t = 9; t < heard.size(); ++t) {
        common += heard[t][0].real() * heard[t - 9][0].real();
    }
    CHECK(std::abs(common / n / (sigma_t * sigma_t) - 0.3679) <= 0.08);
}

TEST_CASE("Noise alone never reads zero: Rayleigh for one coil, chi of six parts for three antennas") {
    const Instrument coil = instrument_of(ReceiverKind::single_coil);
    const Instrument three = instrument_of();
    const auto mean_signal = [&](const Instrument& instrument) {
        double sum = 0.0;
        const auto heard = listen(instrument, {}, 512.0, 100000);
        for (const AntennaSignals& s : heard) {
            sum += measure(instrument, s, 512.0, 0.0, CoilAttitude::level).signal_t;
        }
        return sum / static_cast<double>(heard.size());
    };
    CHECK(off(mean_signal(coil), sigma_t * 1.2533141373155) <= 0.035); // sqrt(pi / 2); 0.809 pT
    CHECK(off(mean_signal(three), sigma_t * 2.3499640074666) <= 0.02); // sqrt 2 Gamma(7/2) / Gamma(3); 1.517 pT
}

TEST_CASE("A weak signal reads high by about sigma squared over twice the signal") {
    const Instrument instrument = instrument_of();
    AntennaSignals signals{};
    const double strength_t = 4.0 * sigma_t;
    signals.fill(std::polar(strength_t, 1.1));
    const auto heard = listen(instrument, signals, 512.0, 120000);
    double sum = 0.0;
    for (const AntennaSignals& s : heard) {
        for (const auto& channel : s) {
            sum += std::abs(channel);
        }
    }
    const double excess = sum / (6.0 * static_cast<double>(heard.size())) - strength_t;
    CHECK(std::abs(excess - sigma_t / 8.0) <= 0.03 * sigma_t);
}

TEST_CASE("Noise is a function of seed and tick, and the detector's memory is all the state there is") {
    const Instrument instrument = instrument_of();
    AntennaSignals signals{};
    signals[2] = 1e-11;
    Detector straight;
    for (std::uint64_t tick = 0; tick < 50; ++tick) {
        detect(straight, instrument, signals, 512.0, tick_s, 77, tick);
    }
    Detector saved = straight;
    for (std::uint64_t tick = 50; tick < 100; ++tick) {
        detect(straight, instrument, signals, 512.0, tick_s, 77, tick);
    }
    // Something else is worked in between; then the saved state goes on.
    listen(instrument, {}, 640.0, 10, 5);
    for (std::uint64_t tick = 50; tick < 100; ++tick) {
        detect(saved, instrument, signals, 512.0, tick_s, 77, tick);
    }
    CHECK(saved.filtered == straight.filtered);

    const auto one = listen(instrument, {}, 512.0, 3, 1);
    const auto other_seed = listen(instrument, {}, 512.0, 3, 2);
    CHECK(one[0] != other_seed[0]);
    CHECK(one[0] != one[1]);
}

TEST_CASE("One coil has no upper antennas, not even their noise") {
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 0.0, 30.0, 0.1, 512.0);
    const Instrument coil = instrument_of(ReceiverKind::single_coil);
    Detector detector;
    for (std::uint64_t tick = 0; tick < 5; ++tick) {
        detect(detector, coil, antenna_signals_t(coil, {}, {&sonde, 1}, 512.0), 512.0, tick_s, 1, tick);
    }
    CHECK(std::abs(detector.filtered[1]) > 1e-10);
    for (std::size_t i = 3; i < 6; ++i) {
        CHECK(detector.filtered[i] == std::complex<double>{});
    }
}
