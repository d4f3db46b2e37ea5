// The receiver: how the mast is held, what the antennas pick up, what the display makes of it. Without noise.
//
// | checked                                  | against                                                              |
// | ---                                      | ---                                                                  |
// | mast, leans, antenna places              | places worked by hand                                                |
// | dip and needle, with their signs         | the field one metre beside a level sonde 2 m deep: 71.565 deg, atan 3 |
// | depth                                    | an inverse cube worked by hand; the true depth straight above        |
// | nothing observed changes with the phase  | the same sources times e^(i phi)                                     |
// | tuning                                   | four poles and a single one, decibels by hand                        |
// | mounting errors                          | their stated deviations, over many instruments                       |
// | truck check                              | the distance laid out                                                |
#include "sim/random.hpp"
#include "sim/receiver.hpp"
#include "sim/units.hpp"
#include "tests/sim/support.hpp"

#include <glm/geometric.hpp>

#include <array>
#include <limits>

using namespace sondeyard::sim;
using sondeyard::test::norm;
using sondeyard::test::off;
using sondeyard::test::pi;
using sondeyard::test::rad;

namespace {

ReceiverSpec spec_with(double tip_to_antenna_m, ReceiverKind kind = ReceiverKind::tri_axis) {
    ReceiverSpec spec;
    spec.kind = kind;
    spec.tip_to_antenna_m = tip_to_antenna_m;
    return spec;
}

Measurement observe(const Instrument& instrument, const Pose& pose, const Dipole& sonde,
                    CoilAttitude attitude = CoilAttitude::level) {
    const AntennaSignals signals = antenna_signals_t(instrument, pose, {&sonde, 1}, sonde.frequency_hz);
    return measure(instrument, signals, sonde.frequency_hz, lean_deg(pose), attitude);
}

// What one antenna makes of a total field, at the lower and the upper set.
AntennaSignals total_fields(double lower_t, double upper_t) {
    AntennaSignals signals{};
    signals[1] = lower_t;
    signals[4] = upper_t;
    return signals;
}

Phasor3 turned_phase(const Phasor3& p, double phi) {
    return {std::cos(phi) * p.re - std::sin(phi) * p.im, std::sin(phi) * p.re + std::cos(phi) * p.im};
}

// The rotation vector of a rotation matrix that is close to the identity or not (its columns are the turned axes).
glm::dvec3 rotation_vector(const glm::dmat3& m) {
    const glm::dvec3 twice_sine{m[1][2] - m[2][1], m[2][0] - m[0][2], m[0][1] - m[1][0]};
    const double sine = 0.5 * norm(twice_sine);
    return sine > 0.0 ? twice_sine * (std::asin(sine) / (2.0 * sine)) : glm::dvec3{0.0};
}

} // namespace

TEST_CASE("The kinds have the names that scenarios use") {
    CHECK(name_of(ReceiverKind::tri_axis) == "tri-axis");
    CHECK(name_of(ReceiverKind::single_coil) == "single-coil");
    CHECK(name_of(ReceiverKind::twin_coil) == "twin-coil");
}

TEST_CASE("A plumb mast: right, forward and up for whoever holds it") {
    const glm::dmat3 north = mast_frame({{5.0, 6.0, 0.0}, 0.0, 0.0, 0.0});
    CHECK(norm(north[0] - glm::dvec3{1, 0, 0}) <= 1e-15);
    CHECK(norm(north[1] - glm::dvec3{0, 1, 0}) <= 1e-15);
    CHECK(norm(north[2] - glm::dvec3{0, 0, 1}) <= 1e-15);
    const glm::dmat3 east = mast_frame({{5.0, 6.0, 0.0}, 90.0, 0.0, 0.0});
    CHECK(norm(east[0] - glm::dvec3{0, -1, 0}) <= 1e-15);
    CHECK(norm(east[1] - glm::dvec3{1, 0, 0}) <= 1e-15);
}

TEST_CASE("A leaning mast: its top goes forward or right, and it stays a right-handed frame") {
    const double s = std::sin(rad(5.0));
    const double c = std::cos(rad(5.0));
    CHECK(norm(mast_frame({{}, 0.0, 5.0, 0.0})[2] - glm::dvec3{0, s, c}) <= 1e-15);
    CHECK(norm(mast_frame({{}, 90.0, 5.0, 0.0})[2] - glm::dvec3{s, 0, c}) <= 1e-15);
    CHECK(norm(mast_frame({{}, 0.0, 0.0, 5.0})[2] - glm::dvec3{s, 0, c}) <= 1e-15);
    CHECK(norm(mast_frame({{}, 90.0, 0.0, 5.0})[2] - glm::dvec3{0, -s, c}) <= 1e-15);
    CHECK(norm(mast_frame({{}, 0.0, -5.0, 0.0})[2] - glm::dvec3{0, -s, c}) <= 1e-15);
    for (const double facing : {0.0, 40.0, 201.0}) {
        const glm::dmat3 m = mast_frame({{}, facing, 7.0, -11.0});
        for (int i = 0; i < 3; ++i) {
            for (int j = 0; j < 3; ++j) {
                CHECK(std::abs(glm::dot(m[i], m[j]) - (i == j ? 1.0 : 0.0)) <= 1e-14);
            }
        }
        CHECK(norm(glm::cross(m[0], m[1]) - m[2]) <= 1e-14);
        // Forward is still the way he faces: no part of it to the side.
        CHECK(std::abs(glm::dot(m[1], glm::dvec3{std::cos(rad(facing)), -std::sin(rad(facing)), 0.0})) <= 0.03);
        CHECK(glm::dot(m[1], glm::dvec3{std::sin(rad(facing)), std::cos(rad(facing)), 0.0}) > 0.98);
    }
}

TEST_CASE("The lean is the angle between mast and plumb") {
    CHECK(lean_deg({}) == 0.0);
    CHECK(off(lean_deg({{}, 123.0, 5.0, 0.0}), 5.0) <= 1e-12);
    CHECK(off(lean_deg({{}, 123.0, 0.0, -5.0}), 5.0) <= 1e-12);
    for (const Pose& pose : {Pose{{}, 10.0, 4.0, 3.0}, Pose{{}, 250.0, -8.0, 6.0}}) {
        CHECK(off(lean_deg(pose), std::acos(mast_frame(pose)[2].z) * 180.0 / pi) <= 1e-10);
    }
    CHECK(off(lean_deg({{}, 0.0, 3.0, 4.0}), 4.995) <= 1e-3); // small angles add like the sides of a 3-4-5 triangle
}

TEST_CASE("The antennas sit on the mast, tip_to_antenna and spacing along it, wherever it leans") {
    const Dipole sonde = make_sonde({0.6, 2.2, -1.5}, 35.0, 20.0, 0.1, 512.0);
    const Instrument instrument = perfect_instrument(spec_with(0.05));
    // Facing east, leaning 10 deg forward: the mast's top goes east.
    const Pose pose{{1.0, 2.0, 0.3}, 90.0, 10.0, 0.0};
    const double s = std::sin(rad(10.0));
    const double c = std::cos(rad(10.0));
    const Measurement m = observe(instrument, pose, sonde);
    const double lower = norm(dipole_field_t(sonde, {1.0 + 0.05 * s, 2.0, 0.3 + 0.05 * c}));
    const double upper = norm(dipole_field_t(sonde, {1.0 + 0.45 * s, 2.0, 0.3 + 0.45 * c}));
    CHECK(off(m.signal_t, lower) <= 1e-12);
    CHECK(off(m.upper_t, upper) <= 1e-12);
    // The forward antenna feels the field along the forward direction, which points down by the lean.
    const AntennaSignals signals = antenna_signals_t(instrument, pose, {&sonde, 1}, 512.0);
    const glm::dvec3 b = dipole_field_t(sonde, {1.0 + 0.05 * s, 2.0, 0.3 + 0.05 * c}).re;
    CHECK(std::abs(signals[0].real() + b.y) <= 1e-12 * norm(b));
    CHECK(std::abs(signals[1].real() - (b.x * c - b.z * s)) <= 1e-12 * norm(b));
    CHECK(std::abs(signals[2].real() - (b.x * s + b.z * c)) <= 1e-12 * norm(b));
}

TEST_CASE("Straight above a level sonde of 0.1 A m2 at 2 m: 1.25 nT, 61.9 dBpT") {
    const Dipole sonde = make_sonde({3.0, 4.0, -2.0}, 0.0, 0.0, 0.1, 512.0);
    const Measurement m = observe(perfect_instrument(spec_with(0.0)), {{3.0, 4.0, 0.0}, 10.0, 0.0, 0.0}, sonde);
    CHECK(off(m.signal_t, 1.25e-9) <= 1e-12);
    CHECK(off(m.upper_t, 1e-8 / (2.4 * 2.4 * 2.4)) <= 1e-12);
    CHECK(off(dbpt(m.signal_t), 61.938200260161) <= 1e-12);
}

TEST_CASE("Dip is positive when the end towards his front lies below level") {
    // One metre east of a level east-pointing sonde 2 m down the field is (-0.358, 0, 1.073) nT: its axis rises
    // westward and falls eastward by atan 3.
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 90.0, 0.0, 0.1, 512.0);
    const Instrument instrument = perfect_instrument(spec_with(0.0));
    const auto facing = [&](double deg) { return observe(instrument, {{1.0, 0.0, 0.0}, deg, 0.0, 0.0}, sonde); };
    const double dip = 71.56505117707799;
    CHECK(off(facing(90.0).dip_deg.value(), dip) <= 1e-12);
    CHECK(off(facing(270.0).dip_deg.value(), -dip) <= 1e-12);
    CHECK(off(facing(45.0).dip_deg.value(), dip) <= 1e-12);
    CHECK(off(facing(300.0).dip_deg.value(), -dip) <= 1e-12);
    // A metre to the west it falls westward.
    const Measurement west = observe(instrument, {{-1.0, 0.0, 0.0}, 270.0, 0.0, 0.0}, sonde);
    CHECK(off(west.dip_deg.value(), dip) <= 1e-12);
}

TEST_CASE("The needle turns clockwise from the way he faces") {
    // Straight above a level sonde the field lies along it: east and west.
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 90.0, 0.0, 0.1, 512.0);
    const Instrument instrument = perfect_instrument(spec_with(0.0));
    const auto needle = [&](double deg) {
        const Measurement m = observe(instrument, {{0.0, 0.0, 0.0}, deg, 0.0, 0.0}, sonde);
        CHECK(std::abs(m.dip_deg.value()) <= 1e-12);
        return m.needle_deg.value();
    };
    CHECK(std::abs(needle(90.0)) <= 1e-12);
    CHECK(std::abs(needle(270.0)) <= 1e-12);
    CHECK(off(needle(30.0), 60.0) <= 1e-12); // east is 60 deg to the right of him
    CHECK(off(needle(130.0), -40.0) <= 1e-12);
    CHECK(off(needle(210.0), 60.0) <= 1e-12); // now west is
    CHECK(off(needle(310.0), -40.0) <= 1e-12);
}

TEST_CASE("On end, the field stands plumb at the sonde") {
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 0.0, 90.0, 0.1, 512.0);
    const Measurement m = observe(perfect_instrument(spec_with(0.0)), {{0.01, 0.02, 0.0}, 0.0, 0.0, 0.0}, sonde);
    CHECK(std::abs(m.dip_deg.value()) > 89.0);
    CHECK(off(observe(perfect_instrument(spec_with(0.0)), {}, sonde).signal_t, 2.5e-9) <= 1e-12);
}

TEST_CASE("A leaning mast carries the antennas' axes with it") {
    // The field stands plumb. Leaning 20 deg forward, forward along the mast's frame points 20 deg below level, so the
    // field's lower end is the one towards it, 70 deg down from it.
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 0.0, 90.0, 0.1, 512.0);
    ReceiverSpec spec = spec_with(0.0);
    const Measurement m = observe(perfect_instrument(spec), {{0.0, 0.0, 0.0}, 0.0, 20.0, 0.0}, sonde);
    CHECK(off(m.dip_deg.value(), 70.0) <= 1e-12);
    CHECK(std::abs(m.needle_deg.value()) <= 1e-12);
}

TEST_CASE("Turning a plumb mast of true antennas changes neither signal nor depth") {
    const Dipole sonde = make_sonde({0.4, -0.3, -1.6}, 70.0, 15.0, 0.1, 512.0);
    const Instrument instrument = perfect_instrument(ReceiverSpec{});
    const Measurement first = observe(instrument, {{0.0, 0.0, 0.0}, 0.0, 0.0, 0.0}, sonde);
    for (const double facing : {33.0, 90.0, 180.0, 271.0}) {
        const Measurement m = observe(instrument, {{0.0, 0.0, 0.0}, facing, 0.0, 0.0}, sonde);
        CHECK(off(m.signal_t, first.signal_t) <= 1e-12);
        CHECK(off(m.depth_m.value(), first.depth_m.value()) <= 1e-11);
        CHECK(off(std::abs(m.dip_deg.value()), std::abs(first.dip_deg.value())) <= 1e-11);
    }
}

TEST_CASE("Turning the whole yard with the operator in it changes nothing he sees") {
    const Instrument instrument = make_instrument(ReceiverSpec{}, 4);
    const auto seen = [&](double by_deg) {
        const Dipole sonde =
            make_sonde(sondeyard::test::turned({0.5, 0.9, -1.8}, by_deg), 25.0 + by_deg, 12.0, 0.1, 512.0);
        const Pose pose{sondeyard::test::turned({0.2, 0.3, 0.05}, by_deg), 140.0 + by_deg, 4.0, -3.0};
        return observe(instrument, pose, sonde);
    };
    const Measurement first = seen(0.0);
    for (const double by_deg : {20.0, 90.0, 222.0}) {
        const Measurement m = seen(by_deg);
        CHECK(off(m.signal_t, first.signal_t) <= 1e-12);
        CHECK(off(m.upper_t, first.upper_t) <= 1e-12);
        CHECK(std::abs(m.dip_deg.value() - first.dip_deg.value()) <= 1e-10);
        CHECK(std::abs(m.needle_deg.value() - first.needle_deg.value()) <= 1e-10);
        CHECK(off(m.depth_m.value(), first.depth_m.value()) <= 1e-11);
    }
}

TEST_CASE("Depth by hand: an eighth of the field 0.4 m higher is 0.4 m below the lower antenna") {
    CHECK(off(depth_from_ratio_m(8e-10, 1e-10, 0.4, 0.0).value(), 0.4) <= 1e-12);
    CHECK(off(depth_from_ratio_m(8e-10, 1e-10, 0.4, 0.05).value(), 0.35) <= 1e-12);
    CHECK(off(depth_from_ratio_m(27e-10, 8e-10, 0.5, 0.05).value(), 0.95) <= 1e-12); // (27/8)^(1/3) = 1.5
}

TEST_CASE("No depth comes from a ratio that no sonde below can make") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK(!depth_from_ratio_m(1e-10, 1e-10, 0.4, 0.05));
    CHECK(!depth_from_ratio_m(1e-10, 2e-10, 0.4, 0.05));
    CHECK(!depth_from_ratio_m(1e-10, 0.0, 0.4, 0.05));
    CHECK(!depth_from_ratio_m(nan, 1e-10, 0.4, 0.05));
    CHECK(!depth_from_ratio_m(1e-10, nan, 0.4, 0.05));
}

TEST_CASE("Straight above, depth is true at any tilt, counted from the tip down") {
    for (const double tilt : {0.0, 10.0, 37.0, 60.0, 90.0}) {
        for (const double depth : {0.6, 1.37, 3.2}) {
            const Dipole sonde = make_sonde({2.0, 1.0, -depth}, 200.0, tilt, 0.1, 512.0);
            const Instrument instrument = perfect_instrument(ReceiverSpec{});
            CHECK(off(observe(instrument, {{2.0, 1.0, 0.0}, 0.0, 0.0, 0.0}, sonde).depth_m.value(), depth) <= 1e-11);
            // The lift check: half a metre up, half a metre more.
            CHECK(off(observe(instrument, {{2.0, 1.0, 0.5}, 0.0, 0.0, 0.0}, sonde).depth_m.value(), depth + 0.5) <=
                  1e-11);
        }
    }
}

TEST_CASE("Noise density falls as 1/f from 0.5 pT at 512 Hz to its floor") {
    const ReceiverSpec spec;
    CHECK(off(noise_density_t(spec, 512.0), 0.5e-12) <= 1e-12);
    CHECK(off(noise_density_t(spec, 640.0), 0.4e-12) <= 1e-12);
    CHECK(off(noise_density_t(spec, 8192.0), 0.03125e-12) <= 1e-12);
    CHECK(off(noise_density_t(spec, 32768.0), 0.02e-12) <= 1e-12);
    CHECK(off(noise_bandwidth_hz(spec), 1.6666666666666667) <= 1e-12); // 1 / (4 x 0.15 s)
}

TEST_CASE("Too weak a signal shows neither dip nor depth") {
    // One channel's noise at 512 Hz: 0.5 pT sqrt(1.667) = 0.6455 pT; dip from three times that, depth from six.
    const Instrument instrument = perfect_instrument(ReceiverSpec{});
    const auto seen = [&](double lower_t, double upper_t) {
        return measure(instrument, total_fields(lower_t, upper_t), 512.0, 0.0, CoilAttitude::level);
    };
    CHECK(!seen(1.93e-12, 0.5e-12).dip_deg);
    CHECK(!seen(1.93e-12, 0.5e-12).needle_deg);
    CHECK(seen(1.94e-12, 0.5e-12).dip_deg);
    CHECK(seen(1.94e-12, 0.5e-12).needle_deg);
    CHECK(!seen(9e-12, 3.87e-12).depth_m);
    CHECK(seen(9e-12, 3.88e-12).depth_m);
    // At 32768 Hz the floor is 25 times lower.
    const Measurement high = measure(instrument, total_fields(1e-12, 0.5e-12), 32768.0, 0.0, CoilAttitude::level);
    CHECK(high.dip_deg);
    CHECK(high.depth_m);
    CHECK(!seen(0.0, 0.0).dip_deg);
}

TEST_CASE("The band filter and the detector turn a wrong frequency into next to nothing") {
    const ReceiverSpec spec;
    CHECK(tuning_response(spec, 0.0) == 1.0);
    // At half width: 3 dB of the filter, and the pole's 1 / sqrt(1 + (2 pi 10 x 0.15)^2).
    CHECK(off(tuning_response(spec, 10.0), std::sqrt(0.5) * 0.10551104) <= 1e-7);
    CHECK(tuning_response(spec, -10.0) == tuning_response(spec, 10.0));
    // The detector's pole alone is 3 dB down at 1.061 Hz, where the filter still passes all.
    CHECK(off(tuning_response(spec, 1.0 / (2.0 * pi * 0.15)), std::sqrt(0.5)) <= 1e-6);
    // 512 against 640: four poles 12.8 half widths out -88.6 dB, the detector -41.6 dB.
    CHECK(off(20.0 * std::log10(tuning_response(spec, 128.0)), -130.2) <= 1e-3);
    double before = 1.0;
    for (int i = 1; i < 600; ++i) {
        const double now = tuning_response(spec, 0.5 * i);
        CHECK(now < before);
        before = now;
    }
}

TEST_CASE("A receiver set to 640 Hz hears next to nothing of a 512 Hz sonde") {
    const Dipole sonde = make_sonde({0.0, 0.0, -1.0}, 0.0, 0.0, 0.1, 512.0);
    const Instrument instrument = perfect_instrument(ReceiverSpec{});
    const AntennaSignals right = antenna_signals_t(instrument, {}, {&sonde, 1}, 512.0);
    const AntennaSignals wrong = antenna_signals_t(instrument, {}, {&sonde, 1}, 640.0);
    CHECK(std::abs(right[1]) > 1e-9);
    CHECK(std::abs(wrong[1]) < std::pow(10.0, -90.0 / 20.0) * std::abs(right[1]));
    CHECK(!measure(instrument, wrong, 640.0, 0.0, CoilAttitude::level).depth_m);
    CHECK(!measure(instrument, wrong, 640.0, 0.0, CoilAttitude::level).dip_deg);
    // Both sondes at once: each is heard at its own frequency only.
    const std::array<Dipole, 2> both = {sonde, make_sonde({0.5, 0.0, -1.0}, 0.0, 0.0, 0.1, 640.0)};
    CHECK(off(std::abs(antenna_signals_t(instrument, {}, both, 512.0)[1]), std::abs(right[1])) <= 1e-5);
}

TEST_CASE("The truck check reads the distance laid out") {
    const Instrument perfect = perfect_instrument(ReceiverSpec{});
    const auto reading = [](const Instrument& instrument, double distance, double receiver_hz) {
        return measure(instrument, truck_check_signals_t(instrument, distance, 0.1, 512.0, receiver_hz), receiver_hz,
                       0.0, CoilAttitude::level);
    };
    CHECK(off(reading(perfect, 2.0, 512.0).depth_m.value(), 2.0) <= 1e-11);
    CHECK(off(reading(perfect, 1.0, 512.0).depth_m.value(), 1.0) <= 1e-11);
    CHECK(off(reading(perfect, 2.0, 512.0).signal_t, 1e-8 / (2.05 * 2.05 * 2.05)) <= 1e-12);
    CHECK(!reading(perfect, 2.0, 640.0).depth_m);
    for (std::uint64_t seed = 0; seed < 50; ++seed) {
        CHECK(off(reading(make_instrument(ReceiverSpec{}, seed), 2.0, 512.0).depth_m.value(), 2.0) <= 0.01);
    }
}

TEST_CASE("Mounting errors have the stated deviations, set by set and axis by axis") {
    const ReceiverSpec spec;
    constexpr int n = 4000;
    std::array<double, 10> sum{};
    std::array<double, 10> squares{};
    double lower_with_upper = 0.0;
    for (std::uint64_t seed = 0; seed < n; ++seed) {
        const Instrument instrument = make_instrument(spec, seed);
        CHECK(instrument.lower.offset_m.z == spec.tip_to_antenna_m);
        CHECK(off(instrument.upper.offset_m.z, 0.45) <= 1e-15);
        std::array<double, 10> value{};
        std::size_t k = 0;
        for (const AntennaSet* set : {&instrument.lower, &instrument.upper}) {
            value[k++] = set->offset_m.x / 0.005;
            value[k++] = set->offset_m.y / 0.005;
            const glm::dvec3 turn = rotation_vector(set->axes) * (180.0 / pi);
            for (int axis = 0; axis < 3; ++axis) {
                value[k++] = turn[axis];
                CHECK(std::abs(glm::dot(set->axes[axis], set->axes[(axis + 1) % 3])) <= 1e-14);
                CHECK(off(norm(set->axes[axis]), 1.0) <= 1e-14);
            }
        }
        for (std::size_t i = 0; i < 10; ++i) {
            sum[i] += value[i];
            squares[i] += value[i] * value[i];
        }
        lower_with_upper += value[0] * value[5];
    }
    for (std::size_t i = 0; i < 10; ++i) {
        CAPTURE(i);
        CHECK(std::abs(sum[i] / n) <= 5.0 / std::sqrt(n));
        CHECK(off(std::sqrt(squares[i] / n), 1.0) <= 5.0 / std::sqrt(2.0 * n));
    }
    CHECK(std::abs(lower_with_upper / n) <= 5.0 / std::sqrt(n));
}

TEST_CASE("An instrument is made by its seed") {
    const Instrument a = make_instrument(ReceiverSpec{}, 1);
    const Instrument b = make_instrument(ReceiverSpec{}, 1);
    const Instrument c = make_instrument(ReceiverSpec{}, 2);
    CHECK(a.lower.offset_m == b.lower.offset_m);
    CHECK(a.upper.axes == b.upper.axes);
    CHECK(a.lower.offset_m != c.lower.offset_m);
    CHECK(a.upper.axes != c.upper.axes);
    const Instrument perfect = perfect_instrument(ReceiverSpec{});
    CHECK(perfect.lower.offset_m == glm::dvec3{0.0, 0.0, 0.05});
    CHECK(off(perfect.upper.offset_m.z, 0.45) <= 1e-15);
    CHECK(perfect.lower.axes == glm::dmat3{1.0});
}

TEST_CASE("A turned antenna set leaves the total field alone and moves needle and dip by its turn") {
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 0.0, 0.0, 0.1, 512.0);
    Instrument instrument = perfect_instrument(spec_with(0.0));
    const double s = std::sin(rad(3.0));
    const double c = std::cos(rad(3.0));
    instrument.lower.axes = {{c, s, 0.0}, {-s, c, 0.0}, {0.0, 0.0, 1.0}}; // turned 3 deg to the left about the mast
    const Measurement m = observe(instrument, {}, sonde);
    CHECK(off(m.signal_t, 1.25e-9) <= 1e-12);
    CHECK(off(m.needle_deg.value(), 3.0) <= 1e-12);                       // so north seems to lie to its right
    instrument.lower.axes = {{1.0, 0.0, 0.0}, {0.0, c, s}, {0.0, -s, c}}; // its forward antenna points 3 deg up
    CHECK(off(observe(instrument, {}, sonde).dip_deg.value(), 3.0) <= 1e-12);
}

TEST_CASE("An antenna set beside the mast picks up the field there") {
    const Dipole sonde = make_sonde({0.0, 0.0, -1.0}, 20.0, 10.0, 0.1, 512.0);
    Instrument instrument = perfect_instrument(spec_with(0.05));
    instrument.lower.offset_m = {0.02, 0.03, 0.05};
    // Facing east: 2 cm to his right is south, 3 cm forward is east.
    const Measurement m = observe(instrument, {{0.5, 0.5, 0.0}, 90.0, 0.0, 0.0}, sonde);
    CHECK(off(m.signal_t, norm(dipole_field_t(sonde, {0.53, 0.48, 0.05}))) <= 1e-12);
}

TEST_CASE("One coil: level along the way he faces, or upright, without dial and depth") {
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 90.0, 0.0, 0.1, 512.0);
    const Instrument coil = perfect_instrument(spec_with(0.0, ReceiverKind::single_coil));
    const auto seen = [&](double facing_deg, CoilAttitude attitude, double x_m) {
        return observe(coil, {{x_m, 0.0, 0.0}, facing_deg, 0.0, 0.0}, sonde, attitude);
    };
    // Straight above: all of 1.25 nT along the sonde, nothing across it, nothing upright.
    CHECK(off(seen(90.0, CoilAttitude::level, 0.0).signal_t, 1.25e-9) <= 1e-12);
    CHECK(off(seen(30.0, CoilAttitude::level, 0.0).signal_t, 0.625e-9) <= 1e-12);
    CHECK(seen(0.0, CoilAttitude::level, 0.0).signal_t <= 1e-24);
    CHECK(seen(90.0, CoilAttitude::upright, 0.0).signal_t <= 1e-24);
    // A metre east (-0.358, 0, 1.073) nT: the coil shows the part along it.
    CHECK(off(seen(90.0, CoilAttitude::level, 1.0).signal_t, 3.577708763999664e-10) <= 1e-12);
    CHECK(off(seen(90.0, CoilAttitude::upright, 1.0).signal_t, 1.073312629199899e-9) <= 1e-12);
    const Measurement m = seen(90.0, CoilAttitude::level, 1.0);
    CHECK(!m.dip_deg);
    CHECK(!m.needle_deg);
    CHECK(!m.depth_m);
    CHECK(m.upper_t == 0.0);
}

TEST_CASE("Twin coils: the signal of the lower, depth from their ratio, no dial") {
    const Dipole sonde = make_sonde({0.0, 0.0, -2.0}, 90.0, 0.0, 0.1, 512.0);
    const Instrument twin = perfect_instrument(spec_with(0.0, ReceiverKind::twin_coil));
    const auto seen = [&](double facing_deg, double x_m) {
        return observe(twin, {{x_m, 0.0, 0.0}, facing_deg, 0.0, 0.0}, sonde, CoilAttitude::upright); // it has no such
    };
    // Straight above 1.25 nT (1e-7 m / d^3, Jackson ch. 5 from memory), 0.4 m higher 1.25 (2 / 2.4)^3.
    const Measurement above = seen(90.0, 0.0);
    CHECK(off(above.signal_t, 1.25e-9) <= 1e-12);
    CHECK(off(above.upper_t, 1.25e-9 * std::pow(2.0 / 2.4, 3)) <= 1e-12);
    CHECK(off(above.depth_m.value(), 2.0) <= 1e-11);
    CHECK(!above.dip_deg);
    CHECK(!above.needle_deg);
    CHECK(off(seen(30.0, 0.0).signal_t, 0.625e-9) <= 1e-12); // turned 60 deg off the sonde: half
    CHECK(seen(0.0, 0.0).signal_t <= 1e-24);
    CHECK(!seen(0.0, 0.0).depth_m); // square to the sonde nothing is left to compare
    CHECK(off(seen(90.0, 1.0).signal_t, 3.577708763999664e-10) <= 1e-12); // the part along it, as of the single coil
}

TEST_CASE("There is no phase reference: turning every source's phase changes nothing that is observed") {
    const std::array<Dipole, 3> sources = {Dipole{{0.4, -1.3, -1.7}, {{0.03, -0.08, 0.02}, {0.01, 0.04, -0.06}}, 512.0},
                                           Dipole{{-2.1, 0.6, -0.9}, {{-0.05, 0.01, 0.09}, {0.07, -0.02, 0.03}}, 512.0},
                                           Dipole{{1.9, 2.2, -2.6}, {{0.11, 0.02, -0.04}, {}}, 512.0}};
    for (const ReceiverKind kind : {ReceiverKind::tri_axis, ReceiverKind::single_coil, ReceiverKind::twin_coil}) {
        const Instrument instrument = make_instrument(spec_with(0.05, kind), 8);
        for (const CoilAttitude attitude : {CoilAttitude::level, CoilAttitude::upright}) {
            for (int place = 0; place < 6; ++place) {
                const Pose pose{{0.4 * place - 1.0, 0.9 - 0.3 * place, 0.0}, 50.0 * place, 3.0, -2.0};
                const auto seen = [&](double phi) {
                    auto turned = sources;
                    for (Dipole& d : turned) {
                        d.moment_am2 = turned_phase(d.moment_am2, phi);
                    }
                    return measure(instrument, antenna_signals_t(instrument, pose, turned, 512.0), 512.0,
                                   lean_deg(pose), attitude);
                };
                const Measurement first = seen(0.0);
                for (const double phi : {0.3, pi / 2.0, 1.9, pi, 4.0, 3.0 * pi / 2.0, 6.1}) {
                    const Measurement m = seen(phi);
                    CHECK(off(m.signal_t, first.signal_t) <= 1e-12);
                    if (kind == ReceiverKind::tri_axis) {
                        CHECK(off(m.upper_t, first.upper_t) <= 1e-12);
                        CHECK(std::abs(m.dip_deg.value() - first.dip_deg.value()) <= 1e-10);
                        CHECK(std::abs(m.needle_deg.value() - first.needle_deg.value()) <= 1e-10);
                        REQUIRE(m.depth_m.has_value() == first.depth_m.has_value());
                        if (first.depth_m) {
                            CHECK(off(*m.depth_m, *first.depth_m) <= 1e-10);
                        }
                    }
                }
            }
        }
    }
}

TEST_CASE("Two sources out of step: the total counts both, needle and dip follow the stronger") {
    // Straight above both: 1.25 nT along east in phase, 0.625 nT along north a quarter period late.
    const std::array<Dipole, 2> sources = {Dipole{{0.0, 0.0, -2.0}, {{0.1, 0.0, 0.0}, glm::dvec3{0.0}}, 512.0},
                                           Dipole{{0.0, 0.0, -2.0}, {glm::dvec3{0.0}, {0.0, 0.05, 0.0}}, 512.0}};
    const Instrument instrument = perfect_instrument(spec_with(0.0));
    const Pose facing_north_east{{0.0, 0.0, 0.0}, 45.0, 0.0, 0.0};
    const Measurement m = measure(instrument, antenna_signals_t(instrument, facing_north_east, sources, 512.0), 512.0,
                                  0.0, CoilAttitude::level);
    CHECK(off(m.signal_t, 1.3975424859373686e-9) <= 1e-12); // sqrt(1.25^2 + 0.625^2)
    CHECK(off(m.needle_deg.value(), 45.0) <= 1e-12);        // east, not the diagonal between them
    CHECK(off(m.depth_m.value(), 2.0) <= 1e-11);
}
