// Bound and best fit from soundings made by hand: no exercise, so that the mutation run takes them too.
//
// | checked                                         | against                                                          |
// | ---                                             | ---                                                              |
// | bound of place, depth, tilt, ellipse            | knowable_reference.csv: numpy, derivatives by differences, phases as parameters |
// | more readings, mounting errors, time            | order: never a smaller bound for knowing less                    |
// | soundings that leave something open             | said, with no figures                                            |
// | the fit without noise                           | the sonde, wherever it lies                                      |
// | left and right of a straight track, one coil    | symmetry                                                         |
// | several starts                                  | sondes drawn at random, found again                              |
#include "field/fit.hpp"
#include "field/knowable.hpp"
#include "sim/random.hpp"
#include "sim/units.hpp"
#include "tests/sim/support.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

using namespace sondeyard;

namespace {

sim::ReceiverSpec spec_of(std::string_view kind) {
    sim::ReceiverSpec spec;
    for (const auto k : {sim::ReceiverKind::tri_axis, sim::ReceiverKind::single_coil, sim::ReceiverKind::twin_coil}) {
        if (sim::name_of(k) == kind) {
            spec.kind = k;
        }
    }
    return spec;
}

field::PlainDipole dipole_at(const glm::dvec3& position_m, double heading_deg, double tilt_deg, double moment_am2) {
    return {position_m, moment_am2 * sim::axis_of(heading_deg, tilt_deg)};
}

// A sounding without noise, with the phase given.
field::Sounding sounding_at(const sim::Instrument& instrument, const field::PlainDipole& dipole,
                            const glm::dvec3& tip_m, double facing_deg, double noise_pt, double phase = 0.3) {
    field::Sounding s;
    s.tip_m = tip_m;
    s.mast = glm::mat3(sim::mast_frame({tip_m, facing_deg}));
    s.noise_pt = static_cast<float>(noise_pt);
    for (int set = 0; set < 2; ++set) {
        const sim::AntennaSet& antennas = set == 0 ? instrument.lower : instrument.upper;
        const glm::dvec3 place = tip_m + glm::dmat3(s.mast) * antennas.offset_m;
        const glm::dvec3 b =
            sim::dipole_field_t({dipole.position_m, {dipole.moment_am2, glm::dvec3{0.0}}, 512.0}, place).re;
        for (int axis = 0; axis < 3; ++axis) {
            const double t = glm::dot(glm::dmat3(s.mast) * antennas.axes[axis], b);
            s.heard_pt[static_cast<std::size_t>(3 * set + axis)] = std::complex<float>(std::polar(1e12, phase) * t);
        }
    }
    return s;
}

std::vector<field::Sounding> reference_soundings(const sim::Instrument& instrument, const field::PlainDipole& dipole) {
    std::vector<field::Sounding> soundings;
    for (int i = 0; i < 14; ++i) {
        const glm::dvec3 tip{0.9 * std::cos(2.1 * i), 0.7 * std::sin(1.7 * i), 0.4 * (i % 3) / 2.0};
        soundings.push_back(sounding_at(instrument, dipole, tip, 37.0 * i, 0.5, 0.3 + 0.4 * i));
        soundings.back().tick = 18 * (i + 1);
    }
    return soundings;
}

} // namespace

TEST_CASE("Knowable: the bound is that of a numeric method of its own, for every kind of receiver") {
    const auto rows = test::reference_rows("knowable_reference.csv");
    CHECK(rows.size() == 7);
    for (const auto& row : rows) {
        CAPTURE(row[0]);
        const auto number = [&](std::size_t i) { return std::stod(row[i]); };
        const sim::Instrument instrument = sim::perfect_instrument(spec_of(row[0]));
        const field::PlainDipole truth = dipole_at({0.2, -0.1, -number(1)}, number(2), number(3), 0.08);
        const field::Knowable bound = field::knowable(reference_soundings(instrument, truth), instrument, truth);
        REQUIRE(bound.known);
        CHECK(bound.soundings == 14);
        CHECK(test::off(bound.east_sd_m, number(4)) < 1e-4);
        CHECK(test::off(bound.north_sd_m, number(5)) < 1e-4);
        CHECK(test::off(bound.depth_sd_m, number(6)) < 1e-4);
        CHECK(test::off(bound.tilt_sd_deg, number(7)) < 1e-4);
        CHECK(test::off(bound.ellipse.major_m, number(8)) < 1e-4);
        CHECK(test::off(bound.ellipse.minor_m, number(9)) < 1e-4);
        // The ellipse holds the deviations east and north.
        const double h = sim::radians(bound.ellipse.heading_deg);
        CHECK(test::off(std::hypot(bound.ellipse.major_m * std::sin(h), bound.ellipse.minor_m * std::cos(h)),
                        bound.east_sd_m) < 1e-6);
    }
}

TEST_CASE("Knowable: too few soundings leave it open; knowing less never makes the bound smaller") {
    const sim::Instrument instrument = sim::perfect_instrument({});
    const field::PlainDipole truth = dipole_at({0.2, -0.1, -1.2}, 70.0, 25.0, 0.08);
    const std::vector<field::Sounding> all = reference_soundings(instrument, truth);
    const std::span<const field::Sounding> some(all);

    CHECK_FALSE(field::knowable({}, instrument, truth).known);
    const sim::Instrument coil = sim::perfect_instrument(spec_of("single-coil"));
    CHECK_FALSE(field::knowable(some.first(5), coil, truth).known); // five values, six unknowns
    CHECK(field::knowable(some.first(5), coil, truth).condition > 1e12);

    const auto series = field::knowable_over_time(all, instrument, truth, 14);
    REQUIRE(series.size() == 14);
    double before = 1e9;
    for (const field::KnowableThen& then : series) {
        if (then.bound.known) {
            CHECK(then.bound.depth_sd_m <= before);
            before = then.bound.depth_sd_m;
        }
    }
    const field::Knowable exact = field::knowable(all, instrument, truth);
    CHECK(test::off(series.back().bound.depth_sd_m, exact.depth_sd_m) < 1e-12);

    double narrower = exact.ellipse.major_m;
    for (const double part : {0.1, 1.0}) { // of the usual mounting errors
        const field::Knowable mounted =
            field::knowable(all, instrument, truth, {.offset_sd_m = 0.005 * part, .axis_sd_deg = part});
        REQUIRE(mounted.known);
        CHECK(mounted.ellipse.major_m > narrower);
        CHECK(mounted.depth_sd_m > exact.depth_sd_m);
        narrower = mounted.ellipse.major_m;
    }
    // Who faces one way all the time cannot tell antennas 5 mm aside from a sonde 5 mm aside: the mean of two sets.
    std::vector<field::Sounding> one_way;
    for (int i = 0; i < 14; ++i) {
        const glm::dvec3 tip{0.9 * std::cos(2.1 * i), 0.7 * std::sin(1.7 * i), 0.0};
        one_way.push_back(sounding_at(instrument, truth, tip, 0.0, 0.5));
    }
    const field::Knowable aside = field::knowable(one_way, instrument, truth, {.offset_sd_m = 0.005});
    CHECK(aside.ellipse.major_m > 0.005 / std::sqrt(2.0));
    CHECK(aside.ellipse.major_m < 0.0051);
    // Errors of mounting as large as nothing: the exact bound again.
    const field::Knowable nearly = field::knowable(all, instrument, truth, {.offset_sd_m = 1e-9, .axis_sd_deg = 1e-7});
    CHECK(test::off(nearly.ellipse.major_m, exact.ellipse.major_m) < 1e-3);
}

TEST_CASE("Best fit: without noise it is the sonde, from anywhere, at any tilt") {
    const sim::Instrument instrument = sim::make_instrument({}, 5);
    for (const double depth_m : {0.6, 1.5, 3.0}) {
        for (const double tilt_deg : {0.0, 20.0, 55.0, 90.0}) {
            CAPTURE(depth_m);
            CAPTURE(tilt_deg);
            const field::PlainDipole truth = dipole_at({0.2, -0.1, -depth_m}, 200.0, tilt_deg, 0.08);
            const field::BestFit fit = field::best_fit(reference_soundings(instrument, truth), instrument);
            REQUIRE(fit.found);
            CHECK(glm::distance(fit.dipole.position_m, truth.position_m) < 1e-4);
            CHECK(std::abs(fit.attitude.tilt_deg - tilt_deg) < 0.02);
            CHECK(fit.dipole_explains);
            CHECK_FALSE(fit.other);
            if (tilt_deg > 0.0 && tilt_deg < 90.0) { // the raised end is the other one
                CHECK(std::abs(sim::wrap_180(fit.attitude.raised_heading_deg - 20.0)) < 0.05);
            }
        }
    }
}

TEST_CASE("Best fit: one coil along a straight track cannot tell left from right, and that is said") {
    const sim::Instrument coil = sim::perfect_instrument(spec_of("single-coil"));
    const field::PlainDipole truth = dipole_at({0.6, 0.1, -1.3}, 0.0, 0.0, 0.08);
    std::vector<field::Sounding> track;
    for (int i = -12; i <= 12; ++i) {
        for (const double height_m : {0.0, 0.5}) {
            track.push_back(sounding_at(coil, truth, {0.0, 0.2 * i, height_m}, 0.0, 0.5));
        }
    }
    const field::BestFit fit = field::best_fit(track, coil);
    REQUIRE(fit.found);
    REQUIRE(fit.other);
    const glm::dvec3 a = fit.dipole.position_m;
    const glm::dvec3 b = fit.other->position_m;
    CHECK(std::min(std::abs(a.x - 0.6), std::abs(b.x - 0.6)) < 0.02);
    CHECK(std::abs(a.x + b.x) < 0.05);
}

TEST_CASE(
    "Best fit: two coils along a straight track far beside it, where only the mirrored place leads to the other one") {
    const sim::Instrument coils = sim::perfect_instrument(spec_of("twin-coil"));
    const field::PlainDipole truth = dipole_at({1.5, 0.1, -2.2}, 90.0, 30.0, 0.08);
    std::vector<field::Sounding> track;
    for (int i = -12; i <= 12; ++i) {
        for (const double height_m : {0.0, 0.5}) {
            track.push_back(sounding_at(coils, truth, {0.0, 0.2 * i, height_m}, 0.0, 0.5));
        }
    }
    const field::BestFit fit = field::best_fit(track, coils);
    REQUIRE(fit.found);
    REQUIRE(fit.other);
    CHECK(std::abs(fit.dipole.position_m.x + fit.other->position_m.x) < 0.05);
}

TEST_CASE("Best fit: the start that looks best need not lead there; of several one does") {
    const sim::Instrument coils = sim::perfect_instrument(spec_of("twin-coil"));
    for (std::uint64_t i = 0; i < 25; ++i) {
        CAPTURE(i);
        sim::Draws draws(900 + i, "test.starts");
        const glm::dvec3 place{draws.uniform(-0.5, 0.5), draws.uniform(-0.5, 0.5), -draws.uniform(0.7, 2.5)};
        const double heading_deg = draws.uniform(0.0, 360.0);
        const field::PlainDipole truth = dipole_at(place, heading_deg, draws.uniform(0.0, 60.0), 0.08);
        std::vector<field::Sounding> soundings;
        for (int k = 0; k < 24; ++k) {
            const glm::dvec3 tip{1.6 * std::cos(2.1 * k), 1.3 * std::sin(1.7 * k), 0.4 * (k % 3) / 2.0};
            soundings.push_back(sounding_at(coils, truth, tip, 37.0 * k, 0.5));
        }
        const field::BestFit fit = field::best_fit(soundings, coils);
        REQUIRE(fit.found);
        CHECK(glm::distance(fit.dipole.position_m, truth.position_m) < 1e-3);
    }
}
