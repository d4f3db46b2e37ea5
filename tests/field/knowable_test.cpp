// What could have been known: bound and best fit.
//
// | checked                                         | against                                                          |
// | ---                                             | ---                                                              |
// | bound of place, depth, tilt, ellipse            | knowable_reference.csv: numpy, derivatives by differences, phases as parameters |
// | scatter of fits to 1,000 noisy replays of a log | the bound, within 10 %                                           |
// | more readings, mounting errors, time            | order: never a smaller bound for knowing less                    |
// | soundings that leave something open             | said, with no figures                                            |
// | the fit without noise                           | the sonde, wherever it lies                                      |
// | left and right of a straight track, one coil    | symmetry                                                         |
#include "field/fit.hpp"
#include "field/known.hpp"
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"
#include "tests/field/model_operator_runs.hpp"
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

// The log that is replayed: from place to place round the sonde, tip down, a second at each.
field::Action walked(std::int64_t tick) {
    static const std::vector<glm::dvec2> places = {{15.0, 14.4}, {15.5, 14.7}, {15.4, 15.3}, {14.9, 15.5},
                                                   {14.5, 15.1}, {14.6, 14.6}, {15.0, 15.0}, {15.2, 14.8}};
    return test::hand_at(places[static_cast<std::size_t>(tick / 75) % places.size()], 0.0);
}
constexpr std::int64_t walked_ticks = 600;

field::World replayed_world() {
    field::World world = test::empty_yard(1.5, 60.0, 20.0);
    world.start_m = {15.0, 14.0};
    return world;
}

field::ExerciseState replayed(const field::Setting& setting) {
    field::ExerciseState state = field::start(setting);
    while (state.tick < walked_ticks) {
        field::step(setting, state, walked(state.tick));
    }
    return state;
}

struct Scatter {
    double n = 0.0, sum = 0.0, square = 0.0;
    void add(double x) { n += 1.0, sum += x, square += x * x; }
    double mean() const { return sum / n; }
    double sd() const { return std::sqrt((square - sum * sum / n) / (n - 1.0)); }
};

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

TEST_CASE("Best fit: the scatter over noisy replays of one log is the bound, within 10 %") {
    const int replays = test::seeds(1000, 100);
    const double tolerance = replays == 1000 ? 0.10 : 0.28; // four deviations of a deviation from so many
    field::Setting setting(replayed_world());
    const field::PlainDipole truth{setting.world.sonde.position_m,
                                   0.1 * sim::axis_of(setting.world.sonde.heading_deg, setting.world.sonde.tilt_deg)};
    Scatter east, north, depth, tilt;
    Scatter misfit;
    field::Knowable bound;
    for (int i = 0; i < replays; ++i) {
        setting.world.seed = static_cast<std::uint64_t>(1000 + i); // other noise, the same instrument and hand
        const field::ExerciseState state = replayed(setting);
        if (i == 0) {
            bound = field::knowable(state.soundings, setting.instrument, truth);
            REQUIRE(bound.known);
        }
        const field::BestFit fit = field::best_fit(state.soundings, setting.instrument);
        REQUIRE(fit.found);
        east.add(fit.dipole.position_m.x - truth.position_m.x);
        north.add(fit.dipole.position_m.y - truth.position_m.y);
        depth.add(fit.dipole.position_m.z - truth.position_m.z);
        tilt.add(fit.attitude.tilt_deg - 20.0);
        misfit.add(fit.misfit * fit.misfit);
    }
    MESSAGE("bound and scatter: east ", 1e3 * bound.east_sd_m, ", ", 1e3 * east.sd(), " mm; north ",
            1e3 * bound.north_sd_m, ", ", 1e3 * north.sd(), " mm; depth ", 1e3 * bound.depth_sd_m, ", ",
            1e3 * depth.sd(), " mm; tilt ", bound.tilt_sd_deg, ", ", tilt.sd(), " deg; misfit ", misfit.mean());
    CHECK(std::abs(east.sd() / bound.east_sd_m - 1.0) < tolerance);
    CHECK(std::abs(north.sd() / bound.north_sd_m - 1.0) < tolerance);
    CHECK(std::abs(depth.sd() / bound.depth_sd_m - 1.0) < tolerance);
    CHECK(std::abs(tilt.sd() / bound.tilt_sd_deg - 1.0) < tolerance);
    // No bias worth the name, and nothing but noise left over.
    const double few = 4.0 / std::sqrt(east.n) + 0.1;
    CHECK(std::abs(east.mean()) < few * bound.east_sd_m);
    CHECK(std::abs(north.mean()) < few * bound.north_sd_m);
    CHECK(std::abs(depth.mean()) < few * bound.depth_sd_m);
    CHECK(std::abs(misfit.mean() - 1.0) < 0.02);
}

TEST_CASE("What could be known: an exercise worked, beside its score, in words") {
    const field::Setting setting(replayed_world());
    field::ExerciseState state = replayed(setting);
    test::command(setting, state, field::PlaceMark{field::MarkKind::locate});
    test::command(setting, state, field::CallDepth{1.6});
    const field::Score score = field::score(setting, state);
    const field::WhatCouldBeKnown w = field::what_could_be_known(setting, state, score);
    REQUIRE(w.any);
    CHECK(w.bound.known);
    CHECK(w.bound_as_mounted.ellipse.major_m > w.bound.ellipse.major_m);
    CHECK(w.shrank.size() == field::shrink_points);
    REQUIRE(w.fit.found);
    CHECK(*w.fit_errors.position_m < 6.0 * w.bound.ellipse.major_m);
    CHECK(w.disturbances.empty());
    CHECK(w.fit.dipole_explains);
    const std::vector<std::string> sentences = field::known_sentences(w);
    REQUIRE(sentences.size() >= 4);
    CHECK(sentences[0].find("if nothing but noise were wrong") != std::string::npos);

    const field::ExerciseState idle = field::start(setting);
    const field::WhatCouldBeKnown nothing = field::what_could_be_known(setting, idle, field::score(setting, idle));
    CHECK_FALSE(nothing.any);
    CHECK(field::known_sentences(nothing).size() == 1);
    CHECK(field::known_json(nothing).find("\"knowable\":null") != std::string::npos);
}

TEST_CASE("What could be known: another transmitter biases the fit, and the debrief says what it was") {
    field::World world = replayed_world();
    world.other_sondes.push_back({"another crew", {512.0, 0.1, {16.5, 16.0, -1.0}, 10.0, 0.0}});
    const field::Setting setting(world);
    field::ExerciseState state = replayed(setting);
    test::command(setting, state, field::PlaceMark{field::MarkKind::locate});
    const field::WhatCouldBeKnown w = field::what_could_be_known(setting, state, field::score(setting, state));
    REQUIRE(w.fit.found);
    CHECK_FALSE(w.fit.dipole_explains);
    CHECK(*w.fit_errors.position_m > 5.0 * w.bound.ellipse.major_m);
    REQUIRE(w.disturbances.size() == 1);
    CHECK(w.disturbances[0].what == "another transmitter");
    bool said = false;
    for (const std::string& s : field::known_sentences(w)) {
        said = said || s.find("biased") != std::string::npos;
        CHECK(s.find("allowed better") == std::string::npos); // of a bound for noise alone, where noise was not alone
    }
    CHECK(said);
    REQUIRE(w.trainee.position_m);
    CHECK(*w.trainee.position_m > 0.1);
}
