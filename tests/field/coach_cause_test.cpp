// The coach on what made an error: the right cause of two, a locate that nothing was measured for, what was left out, and
// which parts of the score count.
#include "field/coach.hpp"
#include "field/coach_reading.hpp"
#include "field/course.hpp"
#include "field/true_points.hpp"
#include "scenarios/scenario.hpp"
#include "tests/field/empty_yard.hpp"
#include "tests/field/model_operator_runs.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

constexpr glm::dvec2 sonde_m{15.0, 15.0}; // of test::empty_yard

struct Exercise {
    explicit Exercise(double depth_m, double heading_deg = 90.0, double tilt_deg = 0.0)
        : setting(test::empty_yard(depth_m, heading_deg, tilt_deg)), state(start(setting)) {
        command(ReadTicket{});
        command(TruckCheck{});
    }
    void command(const Command& c) { test::command(setting, state, c); }
    void go(const glm::dvec2& place_m, double height_m = 0.0) { test::go_to(setting, state, place_m, height_m); }
    void mark(const glm::dvec2& place_m, MarkKind kind) {
        go(place_m);
        command(PlaceMark{kind});
    }
    void lean(double to_right_deg) {
        const int ticks = static_cast<int>(to_right_deg / lean_speed_deg_s / tick_s);
        for (int i = 0; i < ticks + 60; ++i) { // and a second for the display
            Action action = test::hand_at(state.body.tip_m);
            action.move.lean_right = i < ticks ? 1.0 : 0.0;
            step(setting, state, action);
        }
    }
    const Reading& read() {
        command(ReadDepth{});
        return state.all_readings.back();
    }
    void call_all(double depth_m) {
        command(CallDepth{depth_m});
        command(CallTilt{TiltCall::level, 0.0, std::nullopt});
        command(ProposeDig{{sonde_m, 0.0, 1.2, 0.8, 0.8, DigMethod::vacuum}});
    }
    std::vector<Finding> found(const ScoreParts& asked = {}) {
        if (!state.finished_tick) {
            command(Finish{});
        }
        return coach(setting, state, score(setting, state), Units::metric, asked);
    }

    Setting setting;
    ExerciseState state;
};

const Finding* find(const std::vector<Finding>& all, std::string_view key) {
    const auto found = std::ranges::find(all, key, &Finding::key);
    return found == all.end() ? nullptr : &*found;
}

bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

// A level sonde that points east; total fields of a dipole at both antennas of a plumb mast so far north of it.
double plumb_reading_m(const sim::ReceiverSpec& spec, double depth_m, double north_m) {
    const auto field = [&](double up_m) { // square to the moment the field goes with r^-3
        return std::pow(std::hypot(depth_m + up_m, north_m), -3.0);
    };
    return sim::depth_from_ratio_m(field(spec.tip_to_antenna_m), field(spec.tip_to_antenna_m + spec.antenna_spacing_m),
                                   spec.antenna_spacing_m, spec.tip_to_antenna_m)
        .value();
}

} // namespace

TEST_CASE("coach: of two causes of a wrong depth the larger is charged, the other named with its own figure") {
    constexpr double depth_m = 1.79;
    constexpr double aside_m = 0.80;
    Exercise e(depth_m);
    e.mark(sonde_m, MarkKind::peak);
    e.go(sonde_m + glm::dvec2{0.0, aside_m});
    const double plumb_m = *e.read().depth_m; // as it would have been
    e.command(TurnBy{90.0});
    e.lean(6.5);
    const Reading leaning = e.read();
    REQUIRE(leaning.depth_m);
    CHECK(leaning.lean_deg == doctest::Approx(6.5).epsilon(0.1));
    e.mark(sonde_m, MarkKind::locate);
    e.call_all(*leaning.depth_m);
    const std::vector<Finding> found = e.found();
    const Score s = score(e.setting, e.state);
    REQUIRE_FALSE(s.depth_within);

    const coaching::Case c = coaching::make_case(e.setting, e.state, s, Units::metric);
    const coaching::ReadOtherwise other = coaching::read_otherwise(c, leaning);
    const double by_hand_m = plumb_reading_m(e.setting.world.receiver, depth_m, aside_m);
    REQUIRE((other.plumb_m && other.as_held_m && other.turned_m));
    CHECK(*other.plumb_m == doctest::Approx(by_hand_m).epsilon(0.02)); // its antennas are mounted as well as usual
    CHECK(*other.plumb_m == doctest::Approx(plumb_m).epsilon(0.02));
    CHECK(*other.as_held_m == doctest::Approx(*leaning.depth_m).epsilon(0.01));
    CHECK(*other.place_makes_m() > std::abs(*other.lean_makes_m()));

    const Finding* beside = find(found, "read_beside");
    const Finding* lean = find(found, "mast_leaning");
    REQUIRE((beside != nullptr && lean != nullptr));
    CHECK(beside->cost.depth == full_depth_points);
    CHECK(lean->cost.depth == 0.0);
    CHECK(has(lean->evidence, "6.5 deg off plumb"));
    CHECK(has(lean->evidence, "The place makes more, " + error_text(*other.place_makes_m(), Units::metric)));
    CHECK(has(beside->evidence, error_text(*other.place_makes_m(), Units::metric) + " too deep"));
}

TEST_CASE("coach: a place beside the sonde is named without a depth call too, and then costs nothing by itself") {
    Exercise e(1.5);
    e.mark(sonde_m, MarkKind::peak);
    e.go(sonde_m + glm::dvec2{0.0, 0.8});
    e.read();
    e.mark(sonde_m, MarkKind::locate);
    const std::vector<Finding> found = e.found();
    REQUIRE(find(found, "read_beside") != nullptr);
    CHECK(find(found, "read_beside")->points == 0.0);
    REQUIRE(find(found, "not_called") != nullptr);
    CHECK(find(found, "not_called")->cost.depth == full_depth_points);
}

TEST_CASE("coach: one reading is charged with the depth only where a half turn would have changed it") {
    SUBCASE("plumb, over the sonde: it would have read the same") {
        Exercise e(1.5);
        e.mark(sonde_m, MarkKind::peak);
        e.read();
        e.mark(sonde_m, MarkKind::locate);
        e.call_all(1.8); // rounded beyond what is allowed
        const std::vector<Finding> found = e.found();
        const Finding* one = find(found, "one_reading");
        REQUIRE(one != nullptr);
        CHECK(one->cost.depth == 0.0);
        CHECK(one->cost.procedure == doctest::Approx(2.0));
        CHECK_FALSE(has(one->evidence, "Turned half round it would"));
        CHECK(has(one->next_time, "at the peak their middle is the depth"));
    }
    SUBCASE("leaning, beside the sonde: a pair would have disagreed") {
        Exercise e(1.5);
        e.mark(sonde_m, MarkKind::peak);
        e.go(sonde_m + glm::dvec2{0.0, 0.75});
        e.command(TurnBy{90.0});
        e.lean(14.0);
        const double read_m = *e.read().depth_m;
        e.mark(sonde_m, MarkKind::locate);
        e.call_all(read_m);
        const std::vector<Finding> found = e.found();
        const Finding* one = find(found, "one_reading");
        REQUIRE(one != nullptr);
        CHECK(one->cost.depth == full_depth_points);
        CHECK(has(one->evidence, "Turned half round it would have read"));
    }
}

TEST_CASE("coach: a locate that nothing was measured for") {
    SUBCASE("set down 6 m off, and nothing else") {
        Exercise e(1.3);
        e.go(sonde_m + glm::dvec2{0.0, -6.0}, 0.8);
        e.command(PlaceMark{MarkKind::locate});
        e.call_all(1.3);
        const std::vector<Finding> found = e.found();
        const Finding* f = find(found, "unproved_locate");
        REQUIRE(f != nullptr);
        CHECK(f->cost.position == full_position_points);
        CHECK(has(f->evidence, "6.00 m from the sonde"));
        CHECK(has(f->evidence, "no other mark"));
        CHECK(has(f->evidence, "never lower than 80 cm"));
    }
    SUBCASE("far from the peak mark, which was nearer") {
        Exercise e(1.3);
        e.mark(sonde_m + glm::dvec2{0.1, 0.0}, MarkKind::peak);
        e.mark(sonde_m + glm::dvec2{0.0, 0.9}, MarkKind::locate);
        e.call_all(1.3);
        const std::vector<Finding> found = e.found();
        REQUIRE(find(found, "unproved_locate") != nullptr);
        CHECK(has(find(found, "unproved_locate")->evidence, "0.91 m from the locate"));
    }
    SUBCASE("far off beside a mark that was as far off") {
        Exercise e(1.3);
        e.mark(sonde_m + glm::dvec2{0.0, -5.0}, MarkKind::level);
        e.mark(sonde_m + glm::dvec2{0.0, -5.2}, MarkKind::locate);
        e.call_all(1.3);
        const std::vector<Finding> found = e.found();
        REQUIRE(find(found, "unproved_locate") != nullptr);
        CHECK(has(find(found, "unproved_locate")->title, "far from the sonde"));
    }
    SUBCASE("a little off, by the peak mark: nothing of the kind") {
        Exercise e(1.3);
        e.mark(sonde_m, MarkKind::peak);
        e.mark(sonde_m + glm::dvec2{0.35, 0.0}, MarkKind::locate);
        e.call_all(1.3);
        CHECK(score(e.setting, e.state).position_points < full_position_points);
        CHECK(find(e.found(), "unproved_locate") == nullptr);
    }
}

TEST_CASE("coach: what was left out is one finding, of the parts that were asked for") {
    Exercise e(1.3);
    e.mark(sonde_m, MarkKind::peak);
    const std::vector<Finding> all = e.found();
    const Finding* f = find(all, "not_called");
    REQUIRE(f != nullptr);
    CHECK(f->points == full_position_points + full_depth_points + full_tilt_points + full_dig_points);
    CHECK(f->title == "Left out: the locate, the depth call, the tilt call, the dig box");
    CHECK(has(f->evidence, "no depth was called (14 points)"));

    LessonTest test; // asks for marks alone
    CHECK(e.found(asked_of(test)).empty());
    test.locate_within_m = 0.3;
    const std::vector<Finding> some = e.found(asked_of(test));
    REQUIRE(some.size() == 1);
    CHECK(some.front().title == "Left out: the locate");
    CHECK(some.front().points == full_position_points);
    CHECK(points_lost(score(e.setting, e.state), asked_of(test)) == full_position_points);
    test.points_at_least = 70;
    CHECK(asked_of(test) == ScoreParts{});
    test.points_at_least.reset();
    test.depth_within_percent = 10.0;
    test.tilt_right = true;
    test.dig_safe = true;
    CHECK(asked_of(test) == ScoreParts{.position = true, .depth = true, .tilt = true, .dig = true, .procedure = false});
}

TEST_CASE("coach: on a slope it is the slope that moves the peak, and the level line that stays") {
    const Setting setting(scenarios::resolve(scenarios::bundled("slope"), 5));
    const ExerciseState state = test::operate(setting, "follows-peak");
    const std::vector<Finding> found = coach(setting, state, score(setting, state));
    const Finding* f = find(found, "trusted_peak");
    REQUIRE(f != nullptr);
    CHECK(f->title == "Took the peak on a slope for the sonde");
    CHECK(has(f->next_time, "On a slope mark the level line"));
    const TruePoints points =
        true_points(setting.world, scene_of(setting.world, setting.ground, setting.world.sonde), setting.world.sonde);
    const glm::dvec2 sonde = plan(setting.world.sonde.position_m);
    REQUIRE((points.peak && !points.level_line.empty()));
    double level_off_m = 1e9;
    for (const std::vector<glm::dvec2>& piece : points.level_line) {
        level_off_m = std::min(level_off_m, distance_to_line_m(sonde, piece));
    }
    CHECK(level_off_m < 0.5 * glm::distance(points.peak->place_m, sonde));

    const Setting level(scenarios::resolve(scenarios::bundled("two-percent"), 5));
    const ExerciseState there = test::operate(level, "follows-peak");
    const std::vector<Finding> plain = coach(level, there, score(level, there));
    REQUIRE(find(plain, "trusted_peak") != nullptr);
    CHECK(find(plain, "trusted_peak")->title == "Took the peak of a tilted sonde for the sonde");
}

TEST_CASE("coach: points explained count once, and only findings worth more than an item are asked about") {
    Score s;
    s.position_points = 20;
    s.depth_points = full_depth_points;
    s.tilt_points = 0;
    s.dig_points = full_dig_points;
    s.procedure_points = 14;
    CHECK(points_lost(s) == 32);
    std::vector<Finding> found(3);
    found[0].cost = {.position = 20.0, .procedure = 2.0};
    found[1].cost = {.position = 20.0};
    found[2].cost = {.procedure = 2.0};
    for (Finding& f : found) {
        f.points = f.cost.total();
    }
    CHECK(points_explained(found, s) == doctest::Approx(22.0));
    CHECK(questions_of(found) == 2);
    CHECK(questions_of({}) == 0);
}
