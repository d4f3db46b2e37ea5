// All that sends together, and how a tone off the receiver's frequency counts.
//
// | checked                                   | against                                                                   |
// | ---                                       | ---                                                                       |
// | weight of a tone in a tick                | the detector's differential equation, stepped finely (Runge-Kutta)        |
// | hum behind filter and detector            | steady response of a four-pole Butterworth and a single pole (textbook)   |
// | distances of harmonics from 512, 640 Hz   | arithmetic of 50 and 60 Hz mains                                          |
// | long straight supply                      | mu0 I / 2 pi r (Ampere's law)                                             |
// | drifting mains                            | phase is the integral of frequency (trapezoids)                           |
#include "sim/random.hpp"
#include "sim/receiver.hpp"
#include "sim/scene.hpp"
#include "sim/units.hpp"
#include "support.hpp"

#include <doctest/doctest.h>

using namespace sondeyard::sim;

namespace {

constexpr double dt_s = 1.0 / 60.0;
constexpr double pi = std::numbers::pi;

// One straight wire in y, far longer than its distance.
Hum wire(double current_a, double mains_hz, const glm::dvec3& at) {
    Hum hum;
    hum.fundamental = {{{{at.x, -2000.0, at.z}, {at.x, 2000.0, at.z}}, current_a}};
    hum.mains_hz = mains_hz;
    hum.seed = 5;
    return hum;
}

ReceiverSpec quiet_spec() {
    ReceiverSpec spec;
    spec.noise_at_512_pt_per_rthz = 0.0;
    spec.noise_floor_pt_per_rthz = 0.0;
    return spec;
}

// RMS over time of the total field that the detector holds, after it has settled.
double heard_rms_t(const Scene& scene, const ReceiverSpec& spec, double receiver_hz, double seconds) {
    const Instrument instrument = perfect_instrument(spec);
    Detector detector;
    double sum = 0.0;
    int count = 0;
    const auto ticks = static_cast<std::int64_t>(seconds / dt_s);
    for (std::int64_t tick = 1; tick <= ticks; ++tick) {
        const AntennaSignals signals =
            antenna_signals_t(instrument, Pose{}, scene, receiver_hz, tick, dt_s, !detector.primed);
        detect(detector, instrument, signals, receiver_hz, dt_s, 1, static_cast<std::uint64_t>(tick));
        if (tick > 240) {
            const double field = measure(instrument, detector.filtered, receiver_hz, 0.0, CoilAttitude::level).signal_t;
            sum += field * field;
            ++count;
        }
    }
    return std::sqrt(sum / count);
}

double butterworth_and_pole(const ReceiverSpec& spec, double offset_hz) {
    const double x = offset_hz / spec.band_half_width_hz;
    const double pole = 2.0 * pi * offset_hz * spec.settling_tau_s;
    return 1.0 / std::sqrt((1.0 + std::pow(x, 8.0)) * (1.0 + pole * pole));
}

} // namespace

TEST_CASE("a tone's weight moves the detector as its differential equation does") {
    // y' = (x - y) / tau with x = e^{i omega t}: fourth-order Runge-Kutta in 2,000 steps a tick.
    const ReceiverSpec spec = quiet_spec();
    const double tau = spec.settling_tau_s;
    for (const double offset_hz : {0.0, 0.3, -1.7, 12.0, -38.0, 128.0}) {
        const double turns = 0.37;
        const double band = 1.0 / std::sqrt(1.0 + std::pow(offset_hz / spec.band_half_width_hz, 8.0));
        const auto input = [&](double t) { return band * std::polar(1.0, 2.0 * pi * (turns + offset_hz * t)); };
        const std::complex<double> start{0.4, -0.2};
        std::complex<double> y = start;
        constexpr int steps = 2000;
        const double h = dt_s / steps;
        const auto slope = [&](double t, std::complex<double> at) { return (input(t) - at) / tau; };
        for (int i = 0; i < steps; ++i) {
            const double t = i * h;
            const auto k1 = slope(t, y);
            const auto k2 = slope(t + 0.5 * h, y + 0.5 * h * k1);
            const auto k3 = slope(t + 0.5 * h, y + 0.5 * h * k2);
            const auto k4 = slope(t + h, y + h * k3);
            y += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
        }
        const double share = -std::expm1(-dt_s / tau);
        const std::complex<double> ours = start + share * (tone_weight(spec, offset_hz, turns, dt_s, false) - start);
        CAPTURE(offset_hz);
        CHECK(std::abs(ours - y) < 1e-9);
    }
}

TEST_CASE("a detector that is filled while a tone is there holds what it would have settled to") {
    const ReceiverSpec spec = quiet_spec();
    for (const double offset_hz : {0.4, 12.0, -38.0}) {
        const double share = -std::expm1(-dt_s / spec.settling_tau_s);
        std::complex<double> y = tone_weight(spec, offset_hz, 0.0, dt_s, true);
        for (int tick = 2; tick < 40; ++tick) {
            const double turns = offset_hz * (tick - 1) * dt_s;
            y += share * (tone_weight(spec, offset_hz, turns, dt_s, false) - y);
            CHECK(std::abs(y) == doctest::Approx(butterworth_and_pole(spec, offset_hz)).epsilon(1e-9));
        }
    }
}

TEST_CASE("another crew's sonde a third of a hertz off beats three times in nine seconds") {
    Scene scene;
    for (const double hz : {512.0, 512.0 + 1.0 / 3.0}) {
        Emission e;
        e.frequency_hz = hz;
        e.dipoles.push_back({make_sonde({0.0, 2.0, -1.5}, 90.0, 0.0, hz == 512.0 ? 0.1 : 0.03, hz), 0.0, nullptr});
        scene.emissions.push_back(e);
    }
    const ReceiverSpec spec = quiet_spec();
    const Instrument instrument = perfect_instrument(spec);
    Detector detector;
    int rises = 0;
    double before = 0.0;
    double mean = 0.0;
    std::vector<double> all;
    for (std::int64_t tick = 1; tick <= 240 + 540; ++tick) {
        detect(detector, instrument, antenna_signals_t(instrument, Pose{}, scene, 512.0, tick, dt_s, !detector.primed),
               512.0, dt_s, 1, static_cast<std::uint64_t>(tick));
        if (tick > 240) {
            all.push_back(measure(instrument, detector.filtered, 512.0, 0.0, CoilAttitude::level).signal_t);
            mean += all.back() / 540.0;
        }
    }
    for (const double now : all) {
        rises += before != 0.0 && before < mean && now >= mean ? 1 : 0;
        before = now;
    }
    CHECK(rises == 3);
}

TEST_CASE("hum of a long straight supply is Ampere's, with its harmonics in it") {
    Scene scene;
    scene.hums = {wire(0.5, 60.0, {5.0, 0.0, -0.6})};
    const double r = std::hypot(5.0, 0.65);
    const double fundamental = 4e-7 * pi * 0.5 / (2.0 * pi * r);
    double square = 0.0;
    for (int n = 1; n <= 40; ++n) {
        square += harmonic_share(n) * harmonic_share(n);
    }
    CHECK(hum_t(scene, {0.0, 0.0, 0.05}) == doctest::Approx(fundamental * std::sqrt(square)).epsilon(1e-5));
    CHECK(hum_t(Scene{}, {0.0, 0.0, 0.0}) == 0.0);
}

TEST_CASE("what is left of hum behind the filter is the nearest harmonics, each by the filter's steady response") {
    // Drift moves them by at most 13 x 0.2 Hz; the bounds take the response at both ends of that.
    struct Case {
        double receiver_hz;
        double mains_hz;
    };
    for (const Case c : {Case{512.0, 50.0}, Case{512.0, 60.0}, Case{640.0, 50.0}, Case{640.0, 60.0}}) {
        Scene scene;
        scene.hums = {wire(1.0, c.mains_hz, {4.0, 0.0, -0.6})};
        const ReceiverSpec spec = quiet_spec();
        const double fundamental = 4e-7 * pi / (2.0 * pi * std::hypot(4.0, 0.65));
        double low = 0.0;
        double high = 0.0;
        for (int n = 1; n <= 30; ++n) {
            const double off = std::abs(n * c.mains_hz - c.receiver_hz);
            const double drift = n * mains_drift_hz;
            low += std::pow(harmonic_share(n) * butterworth_and_pole(spec, off + drift), 2.0);
            high += std::pow(harmonic_share(n) * butterworth_and_pole(spec, std::max(0.0, off - drift)), 2.0);
        }
        const double heard = heard_rms_t(scene, spec, c.receiver_hz, 60.0);
        CAPTURE(c.receiver_hz);
        CAPTURE(c.mains_hz);
        CHECK(heard > 0.9 * fundamental * std::sqrt(low));
        CHECK(heard < 1.1 * fundamental * std::sqrt(high));
    }
}

TEST_CASE("512 Hz lies between harmonics where 640 Hz meets one, and a broad filter suffers most") {
    Scene scene;
    scene.hums = {wire(1.0, 50.0, {4.0, 0.0, -0.6})};
    ReceiverSpec narrow = quiet_spec();
    ReceiverSpec broad = narrow;
    broad.band_half_width_hz = 40.0;
    broad.settling_tau_s = 0.03;
    const auto db = [&](const ReceiverSpec& spec, double hz) { return dbpt(heard_rms_t(scene, spec, hz, 30.0)); };
    const double at_512 = db(narrow, 512.0);
    const double at_640 = db(narrow, 640.0);
    const double broad_512 = db(broad, 512.0);
    MESSAGE("hum at 512 Hz " << at_512 << ", at 640 Hz " << at_640 << ", at 512 Hz in a broad filter " << broad_512
                             << " dBpT, 50 Hz mains, 1 A, 4 m");
    CHECK(at_640 > at_512 + 10.0); // 650 Hz is an odd harmonic 10 Hz away, 500 an even one 12 Hz away
    CHECK(broad_512 > at_512 + 10.0);
}

TEST_CASE("the mains stay within a fifth of a hertz, and their phase is the integral of their frequency") {
    Hum hum;
    hum.mains_hz = 60.0;
    for (const std::uint64_t seed : {1ULL, 2ULL, 77ULL}) {
        hum.seed = seed;
        double turns = 0.0;
        double least = 1e9;
        double most = 0.0;
        constexpr double h = 0.05;
        for (int i = 0; i < 20000; ++i) { // 1,000 s
            const double t = i * h;
            const double f = mains_at(hum, t).frequency_hz;
            const double next = mains_at(hum, t + h).frequency_hz;
            turns += 0.5 * h * (f + next - 2.0 * hum.mains_hz);
            least = std::min(least, f);
            most = std::max(most, f);
        }
        CHECK(least >= 60.0 - mains_drift_hz);
        CHECK(most <= 60.0 + mains_drift_hz);
        CHECK(most - least > mains_drift_hz); // it does wander
        CHECK(mains_at(hum, 1000.0).extra_turns == doctest::Approx(turns).epsilon(1e-4));
    }
}

TEST_CASE("a scene is the sum of its parts, and multiplying all of it by a phase changes nothing that is seen") {
    const glm::dvec3 place{1.0, 0.5, 0.05};
    Emission both;
    both.dipoles.push_back({make_sonde({0.0, 0.0, -1.5}, 30.0, 10.0, 0.1, 512.0), 0.0, nullptr});
    both.currents.push_back({{{-20.0, 0.4, -0.6}, {20.0, 0.4, -0.6}}, {3e-6, -2e-6}});
    const Phasor3 whole = emission_field_t(both, place);
    const Phasor3 dipole = dipole_field_t(both.dipoles[0].dipole, place);
    const glm::dvec3 unit = unit_current_field_t(both.currents[0].points_m, place);
    CHECK(glm::distance(whole.re, dipole.re + 3e-6 * unit) < 1e-12 * magnitude(whole));
    CHECK(glm::distance(whole.im, dipole.im - 2e-6 * unit) < 1e-12 * magnitude(whole));
    const std::complex<double> turn = std::polar(1.0, 1.1);
    Emission turned = both;
    turned.dipoles[0].dipole.moment_am2 = turn * turned.dipoles[0].dipole.moment_am2;
    turned.currents[0].current_a *= turn;
    CHECK(magnitude(emission_field_t(turned, place)) == doctest::Approx(magnitude(whole)).epsilon(1e-13));
}
