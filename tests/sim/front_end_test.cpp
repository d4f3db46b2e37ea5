// The front end: noise of a coil and its amplifier, the converter's, gain in steps, overload, and what sets one
// instrument apart from another.
//
// | checked                                | against                                                                  |
// | ---                                    | ---                                                                      |
// | noise of the winding                   | Johnson and Nyquist 1928: 4 k T R, with k of CODATA 2018; worked by hand |
// | volts a tesla                          | Faraday: omega N A mu, worked by hand                                    |
// | noise of a converter                   | Bennett 1948: step^2 / 12 spread evenly to half the sampling rate        |
// | dynamic range of a converter           | 6.02 bits + 1.76 dB (from Bennett's, from memory)                        |
// | 1 % of mismatch at d = 2 m, s = 0.4 m  | slope (1 + d/s)/3 of d = s / (r^(1/3) - 1): 2 % of depth                  |
// | a common mismatch and a facing pair    | total field: the same both ways round                                    |
#include "sim/front_end.hpp"
#include "sim/receiver.hpp"
#include "sim/units.hpp"
#include "tests/sim/support.hpp"

#include <array>
#include <vector>

using namespace sondeyard::sim;
using sondeyard::test::off;

namespace {

constexpr double tick_s = 1.0 / 60.0;

ReceiverSpec quiet(ReceiverKind kind = ReceiverKind::tri_axis) {
    ReceiverSpec spec;
    spec.kind = kind;
    spec.noise_floor_pt_per_rthz = spec.noise_at_512_pt_per_rthz = 0.0;
    return spec;
}

AntennaSignals steady(double signal_t) {
    AntennaSignals signals{};
    signals[1] = signal_t;
    signals[4] = 0.6 * signal_t;
    return signals;
}

} // namespace

TEST_CASE("A coil of 1,500 turns on a 10 mm core has 0.068 pT of its own, 0.105 of a 2 nV amplifier, 0.125 together") {
    const Coil coil; // 1500 turns, 10 mm, mu 50, 100 ohm, 2 nV
    // 2 pi 512 x 1500 x pi 25e-6 m2 x 50 = 18,950 V/T.
    CHECK(off(coil_volts_per_t(coil, 512.0), 18949.7) <= 1e-4);
    Coil silent_amplifier = coil;
    silent_amplifier.amplifier_nv_per_rthz = 0.0;
    // 4 x 1.380649e-23 x 300 x 100 = 1.65678e-18 V2/Hz.
    CHECK(off(coil_noise_v(silent_amplifier), 1.2871593e-9) <= 1e-6);
    CHECK(coil_noise_t(silent_amplifier, 512.0) == doctest::Approx(0.0679e-12).epsilon(1e-3));
    Coil no_winding = coil;
    no_winding.resistance_ohm = 0.0;
    CHECK(off(coil_noise_v(no_winding), 2e-9) <= 1e-12);
    CHECK(coil_noise_t(no_winding, 512.0) == doctest::Approx(0.1055e-12).epsilon(1e-3));
    CHECK(coil_noise_t(coil, 512.0) == doctest::Approx(0.1255e-12).epsilon(1e-3));
    // Nyquist's own figure: 1 kilohm at room temperature (290 K) makes 4.0 nV; at 300 K 4.07.
    CHECK(coil_noise_v({1.0, 0.01, 1.0, 1000.0, 0.0}) == doctest::Approx(4.07e-9).epsilon(1e-3));
}

TEST_CASE("An antenna's noise follows from its coil where one is given, down to the stated floor") {
    ReceiverSpec spec;
    CHECK(noise_density_t(spec, 512.0) == 0.5e-12); // as stated
    spec.coil = Coil{};
    CHECK(off(noise_density_t(spec, 512.0), coil_noise_t(*spec.coil, 512.0)) <= 1e-12);
    CHECK(off(noise_density_t(spec, 1024.0), 0.5 * noise_density_t(spec, 512.0)) <= 1e-12); // 1/f
    CHECK(noise_density_t(spec, 32768.0) == 0.02e-12);                                      // 0.125 / 64 would be less
    spec.noise_at_512_pt_per_rthz = 7.0;
    CHECK(off(noise_density_t(spec, 512.0), coil_noise_t(*spec.coil, 512.0)) <= 1e-12); // not used then
}

TEST_CASE("A converter's noise over its full scale leaves 6.02 dB a bit and 1.76") {
    for (const int bits : {12, 16, 20}) {
        const FrontEnd front_end{120.0, 20.0, 0, bits};
        // All of it up to half the sampling rate, against a sine of full scale.
        const double noise_t = converter_noise_t(front_end, 0) * std::sqrt(0.5 * converter_samples_hz);
        CHECK(20.0 * std::log10(full_scale_t(front_end, 0) / noise_t) ==
              doctest::Approx(6.0206 * bits + 1.7609).epsilon(1e-5));
    }
    // Worked: 1 uT RMS and 16 bits make steps of 43.16 pT; / sqrt(6 x 96000) = 0.0569 pT per root Hz.
    CHECK(converter_noise_t({120.0, 20.0, 0, 16}, 0) == doctest::Approx(0.05687e-12).epsilon(1e-3));
    CHECK(converter_noise_t({120.0, 20.0, 3, 16}, 2) == doctest::Approx(0.0005687e-12).epsilon(1e-3)); // 40 dB less
    CHECK(converter_noise_t({}, 0) == 0.0);
}

TEST_CASE("Gain goes down at full scale, up with 6 dB of headroom, and over several steps at once") {
    const FrontEnd front_end{120.0, 20.0, 3, 0}; // full scale 1 uT, 100 nT, 10 nT, 1 nT
    CHECK(full_scale_t(front_end, 0) == doctest::Approx(1e-6));
    CHECK(full_scale_t(front_end, 3) == doctest::Approx(1e-9));
    CHECK(next_gain(front_end, 0, 1e-12) == 3);
    CHECK(next_gain(front_end, 3, 0.99e-9) == 3);
    CHECK(next_gain(front_end, 3, 1.01e-9) == 2);
    CHECK(next_gain(front_end, 3, 5e-7) == 0);
    CHECK(next_gain(front_end, 2, 0.6e-9) == 2); // under 1 nT, but not by 6 dB: no hunting to and fro
    CHECK(next_gain(front_end, 2, 0.49e-9) == 3);
    CHECK(next_gain({}, 0, 1e-15) == 0); // one gain as standard
}

TEST_CASE("A step of gain holds the detector for a tenth of a second, and it goes on from where it was") {
    ReceiverSpec spec = quiet();
    spec.front_end.gain_steps = 3;
    const Instrument instrument = perfect_instrument(spec);
    Detector detector;
    std::uint64_t tick = 0;
    detect(detector, instrument, steady(1e-10), 512.0, tick_s, 1, tick++);
    CHECK(detector.gain == 3); // the first call finds its gain without a blank
    CHECK(detector.blanked_s == 0.0);
    CHECK(detector.filtered[1] == std::complex<double>{1e-10});
    int held = 0;
    for (int i = 0; i < 30; ++i) {
        const auto before = detector.filtered;
        detect(detector, instrument, steady(5e-9), 512.0, tick_s, 1, tick++);
        held += detector.filtered == before ? 1 : 0;
        CHECK((i >= 6 || detector.filtered == before));
    }
    CHECK(detector.gain == 2);
    CHECK(held == 6); // 0.1 s of 1/60 s
    // 24 ticks of settling after it: 1 - e^-(0.4 / 0.15).
    CHECK(off(detector.filtered[1].real(), 5e-9 - 4.9e-9 * std::exp(-0.4 / 0.15)) <= 1e-9);
}

TEST_CASE("The converter's noise steps with the gain") {
    ReceiverSpec spec = quiet();
    spec.front_end = {120.0, 20.0, 3, 12};
    const Instrument instrument = perfect_instrument(spec);
    const auto variance = [&](double signal_t) {
        Detector detector;
        double squares = 0.0;
        constexpr int n = 20000;
        for (std::uint64_t tick = 0; tick < n; ++tick) {
            detect(detector, instrument, steady(signal_t), 512.0, 0.45, 3,
                   tick);                               // three time constants: nearly independent
            squares += std::norm(detector.filtered[0]); // this antenna hears nothing
        }
        return squares / (2.0 * n);
    };
    const double weak = variance(1e-12);    // gain 3
    const double strong = variance(0.9e-6); // gain 0
    CHECK(off(strong / weak, 1e6) <= 0.07); // 60 dB: three steps; five standard errors of 2 / sqrt(40,000 x 0.9)
    const double expected = converter_noise_t(spec.front_end, 0);
    CHECK(off(strong, expected * expected * noise_bandwidth_hz(spec)) <= 0.05);
}

TEST_CASE("Over full scale the display says overload, shows the full scale and reads no depth") {
    for (const ReceiverKind kind : {ReceiverKind::tri_axis, ReceiverKind::single_coil, ReceiverKind::twin_coil}) {
        const Instrument instrument = perfect_instrument(quiet(kind));
        const auto shown = [&](Detector& detector, double signal_t, int ticks) {
            for (int i = 0; i < ticks; ++i) {
                detect(detector, instrument, steady(signal_t), 512.0, tick_s, 1, static_cast<std::uint64_t>(i));
            }
            return measure(instrument, detector, 512.0, 0.0, CoilAttitude::level);
        };
        Detector detector;
        const Measurement under = shown(detector, 0.99e-6, 60);
        CHECK_FALSE(under.overload);
        CHECK(off(under.signal_t, 0.99e-6) <= 1e-9);
        CHECK(under.depth_m.has_value() == reads_depth(kind));
        const Measurement over = shown(detector, 4e-6, 60);
        CHECK(over.overload);
        CHECK(off(over.signal_t, 1e-6) <= 1e-12); // 120 dBpT
        CHECK_FALSE(over.depth_m);
        CHECK_FALSE(over.dip_deg);
        CHECK_FALSE(over.needle_deg);
        CHECK(shown(detector, 0.95e-6, 60).overload); // 1 dB of hysteresis
        const Measurement again = shown(detector, 0.8e-6, 120);
        CHECK_FALSE(again.overload);
        CHECK(off(again.signal_t, 0.8e-6) <= 1e-5);
    }
}

TEST_CASE("A sonde of 0.1 A m2 overloads the standard front end within 0.27 m on its axis and 0.21 m beside it") {
    // 2e-7 m / r^3 and 1e-7 m / r^3 against 1 uT (Jackson ch. 5, from memory).
    CHECK(std::cbrt(2e-7 * 0.1 / full_scale_t({}, 0)) == doctest::Approx(0.2714).epsilon(1e-3));
    const Instrument instrument = perfect_instrument(quiet(ReceiverKind::tri_axis));
    for (const double range_m : {0.205, 0.225}) {
        const Dipole sonde = make_sonde({0.0, 0.0, instrument.spec.tip_to_antenna_m - range_m}, 0.0, 0.0, 0.1, 512.0);
        Detector detector;
        detect(detector, instrument, antenna_signals_t(instrument, {}, {&sonde, 1}, 512.0), 512.0, tick_s, 1, 0);
        CHECK(detector.overload == (range_m < 0.2154));
    }
}

TEST_CASE("The wide setting is quicker and noisier by what its time constant says") {
    ReceiverSpec spec;
    CHECK(in_bandwidth(spec, Bandwidth::wide).settling_tau_s == spec.settling_tau_s); // it has none
    spec.has_wide = true;
    const ReceiverSpec wide = in_bandwidth(spec, Bandwidth::wide);
    CHECK(wide.settling_tau_s == 0.05);
    CHECK(wide.band_half_width_hz == 30.0);
    CHECK(in_bandwidth(spec, Bandwidth::narrow).settling_tau_s == 0.15);
    CHECK(off(noise_bandwidth_hz(wide), 5.0) <= 1e-12);                      // 1 / (4 x 0.05 s), against 1.667 Hz
    CHECK(tuning_response(wide, 28.0) > 10.0 * tuning_response(spec, 28.0)); // 540 Hz of 60 Hz mains near 512
    CHECK(name_of(Bandwidth::wide) == "wide");
    CHECK(name_of(Bandwidth::narrow) == "narrow");
}

TEST_CASE(
    "1 % of mismatch between the antennas is 2 % of depth at 2 m with 0.4 m between them, and no facing pair shows it") {
    Instrument instrument = perfect_instrument([] {
        ReceiverSpec spec = quiet();
        spec.tip_to_antenna_m = 0.0;
        return spec;
    }());
    instrument.upper.axes *= 1.01;
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 30.0, 0.0, 0.1, 512.0);
    const auto depth = [&](double facing_deg, double lean_right_deg) {
        const Pose pose{{0.0, 0.0, 0.0}, facing_deg, 0.0, lean_right_deg};
        return *measure(instrument, antenna_signals_t(instrument, pose, {&sonde, 1}, 512.0), 512.0, 0.0,
                        CoilAttitude::level)
                    .depth_m;
    };
    CHECK(100.0 * (depth(0.0, 0.0) / 2.0 - 1.0) == doctest::Approx(2.0).epsilon(0.03));
    CHECK(off(depth(180.0, 0.0), depth(0.0, 0.0)) <= 1e-12);
    CHECK(off(depth(77.0, 0.0), depth(0.0, 0.0)) <= 1e-12);
}

TEST_CASE("A bent mast does show in a facing pair beside the spot, and an instrument keeps its own errors") {
    ReceiverSpec spec = quiet();
    spec.side_offset_sd_m = spec.axis_error_sd_deg = 0.0;
    spec.mast_bend_sd_deg = 5.0;
    spec.gain_error_sd_percent = 1.0;
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 30.0, 0.0, 0.1, 512.0);
    double bend_square = 0.0;
    double gain_square = 0.0;
    double worst_pair = 0.0;
    constexpr int n = 2000;
    for (std::uint64_t seed = 0; seed < n; ++seed) {
        const Instrument instrument = make_instrument(spec, seed);
        const glm::dvec3 mast = instrument.upper.offset_m - instrument.lower.offset_m;
        CHECK(off(glm::length(mast), 0.4) <= 1e-12);
        CHECK(instrument.lower.offset_m == glm::dvec3{0.0, 0.0, 0.05});
        bend_square += std::pow(degrees(std::atan2(std::hypot(mast.x, mast.y), mast.z)), 2);
        for (int axis = 0; axis < 3; ++axis) {
            gain_square += std::pow(glm::length(instrument.upper.axes[axis]) - 1.0, 2);
            gain_square += std::pow(glm::length(instrument.lower.axes[axis]) - 1.0, 2);
        }
        const auto depth = [&](double facing_deg) {
            const Pose pose{{0.3, 0.3, 0.0}, facing_deg, 0.0, 0.0};
            return *measure(instrument, antenna_signals_t(instrument, pose, {&sonde, 1}, 512.0), 512.0, 0.0,
                            CoilAttitude::level)
                        .depth_m;
        };
        worst_pair = std::max(worst_pair, std::abs(depth(0.0) - depth(180.0)));
    }
    CHECK(bend_square / (2.0 * n) == doctest::Approx(25.0).epsilon(0.1)); // two ways, five standard errors 11 %
    CHECK(100.0 * std::sqrt(gain_square / (6.0 * n)) == doctest::Approx(1.0).epsilon(0.035));
    CHECK(worst_pair > 0.02);
    CHECK(make_instrument(spec, 5).upper.offset_m == make_instrument(spec, 5).upper.offset_m);
    // Without the two errors an instrument of a seed is what it was before they were known.
    spec.mast_bend_sd_deg = spec.gain_error_sd_percent = 0.0;
    CHECK(make_instrument(spec, 5).upper.offset_m == glm::dvec3{0.0, 0.0, 0.45});
    CHECK(make_instrument(spec, 5).upper.axes == glm::dmat3{1.0});
}
