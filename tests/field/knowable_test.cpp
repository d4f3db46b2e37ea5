// What could have been known, of an exercise: bound and best fit over its log, and what is said of them.
//
// | checked                                         | against                                                          |
// | ---                                             | ---                                                              |
// | scatter of fits to 1,000 noisy replays of a log | the bound, within 10 %                                           |
// | sentences, disturbances                         | the world that was worked                                        |
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
    CHECK(sentences[0].find("antennas mounted within what their maker allows") != std::string::npos);
    CHECK(sentences[1].find("If nothing but noise were wrong") != std::string::npos);

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
