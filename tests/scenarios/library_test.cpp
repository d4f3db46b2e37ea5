// The bundled exercises: each must be what its title says, in every yard that a seed draws.
#include "field/geometry.hpp"
#include "scenarios/scenario.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <functional>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

constexpr std::uint64_t seeds = 50;

void in_every_yard(std::string_view name, const std::function<void(const field::World&)>& check) {
    const Scenario scenario = bundled(name);
    for (std::uint64_t seed = 0; seed < seeds; ++seed) {
        CAPTURE(name);
        CAPTURE(seed);
        check(resolve(scenario, seed));
    }
}

} // namespace

TEST_CASE("the bundled exercises come in course order") {
    CHECK(bundled_names() == std::vector<std::string>{"level-lawn",
                                                      "two-percent",
                                                      "deep",
                                                      "steep-branch",
                                                      "on-end",
                                                      "two-pipes",
                                                      "wrong-frequency",
                                                      "single-coil",
                                                      "twin-coil",
                                                      "iron-pipe",
                                                      "slope",
                                                      "bank",
                                                      "slab-edge",
                                                      "other-frequency",
                                                      "hum-overhead",
                                                      "hum-and-640",
                                                      "wet-clay",
                                                      "line-across",
                                                      "isolated-line",
                                                      "line-beside",
                                                      "clamped-line",
                                                      "other-crew",
                                                      "stop-in-the-drop",
                                                      "wide-or-narrow",
                                                      "deep-and-noisy",
                                                      "iron-hum-hill",
                                                      "clay-line-bank",
                                                      "slope-slab-wires"});
}

TEST_CASE("every exercise after the first eight has a written lesson, and says what the ground is") {
    const std::vector<std::string> names = bundled_names();
    REQUIRE(names.size() >= 22);
    for (std::size_t i = 8; i < names.size(); ++i) {
        CAPTURE(names[i]);
        const field::World world = resolve(bundled(names[i]), 1);
        for (const std::string& part : {world.lesson.different, world.lesson.tell, world.lesson.act}) {
            CHECK(part.size() > 80);
            CHECK(part.size() <= 600);
            CHECK(part.find('\n') == std::string::npos);
            CHECK(part.find("  ") == std::string::npos);
            CHECK(part.back() == '.');
        }
        CHECK_FALSE(world.sheet.ground.empty());
        const field::Brief brief = field::brief_of(world);
        CHECK(brief.sheet.ground == world.sheet.ground); // a caller knows the ground, and nobody the lesson
    }
}

namespace {

bool close_to(double value, double low, double high) { return value >= low && value <= high; }

const field::BuriedLine* line_that(const field::World& world, const std::function<bool(const field::BuriedLine&)>& is) {
    const auto at = std::ranges::find_if(world.yard.lines, is);
    return at == world.yard.lines.end() ? nullptr : &*at;
}

double beside_m(const field::World& world, const field::BuriedLine& line) {
    return field::distance_to_line_m(
        field::plan(world.sonde.position_m),
        std::vector<glm::dvec2>{field::plan(line.points_m.front()), field::plan(line.points_m.back())});
}

} // namespace

TEST_CASE("the exercises with a difficulty have it in every yard") {
    using field::LineConnection;
    in_every_yard("twin-coil", [](const field::World& w) { CHECK(w.receiver.kind == sim::ReceiverKind::twin_coil); });
    for (const std::string_view name : {"iron-pipe", "iron-hum-hill"}) {
        in_every_yard(name, [](const field::World& w) {
            CHECK(w.run->material == field::PipeMaterial::cast_iron);
            CHECK(w.sheet.material == field::PipeMaterial::cast_iron); // the caller knows it
            CHECK(close_to(w.run->metal.relative_permeability, 60.0, 150.0));
        });
    }
    in_every_yard("slope", [](const field::World& w) { CHECK(w.yard.terrain.slope_percent >= 12.0); });
    in_every_yard("iron-hum-hill", [](const field::World& w) { CHECK(w.yard.terrain.slope_percent >= 8.0); });
    for (const std::string_view name : {"bank", "clay-line-bank"}) {
        in_every_yard(name, [](const field::World& w) {
            REQUIRE(w.yard.terrain.steps.size() == 1);
            CHECK(w.yard.terrain.steps.front().rise_m >= 0.5);
        });
    }
    in_every_yard("slab-edge", [](const field::World& w) { // under it, and its edge near
        REQUIRE(w.yard.terrain.pads.size() == 1);
        const field::Polygon& slab = w.yard.terrain.pads.front().outline_m;
        CHECK(field::contains(slab, field::plan(w.sonde.position_m)));
        CHECK(field::distance_to_edge_m(slab, field::plan(w.sonde.position_m)) <= 0.21);
    });
    for (const std::string_view name : {"wet-clay", "clay-line-bank"}) {
        in_every_yard(name, [](const field::World& w) {
            REQUIRE(w.yard.resistivity_ohm_m.has_value());
            CHECK(*w.yard.resistivity_ohm_m <= 15.0);
            CHECK(w.sonde.frequency_hz == 32768.0);
        });
    }
    for (const std::string_view name : {"line-across", "isolated-line", "line-beside", "clay-line-bank"}) {
        in_every_yard(name, [&](const field::World& w) {
            const auto wanted = name == "isolated-line" ? LineConnection::isolated : LineConnection::bonded;
            const field::BuriedLine* line =
                line_that(w, [&](const field::BuriedLine& l) { return l.connection == wanted; });
            REQUIRE(line != nullptr);
            CHECK(beside_m(w, *line) <= 1.25);
            CHECK_FALSE(line->paint_m.empty());
            CHECK(w.sonde.frequency_hz == 32768.0);
        });
    }
    for (const std::string_view name : {"hum-and-640", "iron-hum-hill"}) {
        in_every_yard(name, [](const field::World& w) {
            CHECK(w.yard.mains_hz == 50.0);
            CHECK(line_that(w, [](const field::BuriedLine& l) { return l.mains_current_a > 0.0; }) != nullptr);
        });
    }
    in_every_yard("hum-overhead", [](const field::World& w) {
        CHECK(w.yard.mains_hz == 60.0);
        CHECK(w.yard.overhead.size() == 1);
    });
    for (const std::string_view name : {"other-crew", "other-frequency"}) {
        in_every_yard(name, [&](const field::World& w) {
            REQUIRE(w.other_sondes.size() == 1);
            CHECK((w.other_sondes.front().sonde.frequency_hz == w.sonde.frequency_hz) == (name == "other-crew"));
        });
    }
    in_every_yard("clamped-line", [](const field::World& w) {
        const field::BuriedLine* line =
            line_that(w, [](const field::BuriedLine& l) { return l.clamp_current_a > 0.0; });
        REQUIRE(line != nullptr);
        CHECK(line->clamp_frequency_hz == w.sonde.frequency_hz);
    });
    in_every_yard("stop-in-the-drop", [](const field::World& w) {
        CHECK(w.sonde.tilt_deg >= 31.9);
        // and a straight, nearly level piece is a pull of the cable away
        const double along_m = field::project(*w.run, w.sonde.position_m).along_m;
        bool level = false;
        for (int quarters = 2; quarters <= 20 && 0.25 * quarters < along_m; ++quarters) {
            level = level || std::abs(field::attitude_at(*w.run, along_m - 0.25 * quarters).tilt_deg) < 6.0;
        }
        CHECK(level);
    });
    in_every_yard("wide-or-narrow", [](const field::World& w) { CHECK(w.receiver.has_wide); });
    in_every_yard("deep-and-noisy", [](const field::World& w) {
        CHECK(field::depth_m(w) >= 3.2);
        CHECK(w.receiver.noise_at_512_pt_per_rthz >= 2.0);
    });
}

TEST_CASE("every bundled exercise can be built with fifty seeds and has no faults") {
    for (const std::string& name : bundled_names()) {
        in_every_yard(name, [](const field::World& world) {
            const auto faults = field::faults(world);
            for (const std::string& fault : faults) {
                FAIL_CHECK(fault);
            }
            REQUIRE(world.run.has_value());
            CHECK(field::project(*world.run, world.sonde.position_m).distance_m <=
                  0.5 * world.run->inside_diameter_m + 2e-6);
            REQUIRE(world.sheet.cleanout_m.has_value());
            REQUIRE(world.sheet.counter_m.has_value());
            CHECK_FALSE(world.sheet.ticket.number.empty());
            CHECK(field::standable(world.yard.width_m, world.yard.length_m, world.yard.areas, world.start_m));
        });
    }
}

TEST_CASE("every bundled exercise has a title, a story, a caller, a camera and something new") {
    for (const std::string& name : bundled_names()) {
        CAPTURE(name);
        const Scenario scenario = bundled(name);
        const field::World world = resolve(scenario, 1);
        CHECK(scenario.name() == name);
        for (const std::string& text : {scenario.title(), scenario.story(), scenario.news()}) {
            CHECK(text.size() > 5);
            CHECK(text.find('\n') == std::string::npos);
        }
        CHECK(world.sheet.title == scenario.title());
        CHECK(world.sheet.news == scenario.news());
        for (const std::string& text : {world.sheet.caller, world.sheet.camera}) {
            CHECK(text.size() > 60);
            CHECK(text.find('\n') == std::string::npos); // the window breaks lines, the file does not
            CHECK(text.find("  ") == std::string::npos);
        }
    }
}

TEST_CASE("level-lawn is level, shallow, loud and small enough for a first locate") {
    in_every_yard("level-lawn", [](const field::World& world) {
        CHECK(std::abs(world.sonde.tilt_deg) < 0.01);
        CHECK(depth_m(world) >= 1.0);
        CHECK(depth_m(world) <= 1.4);
        CHECK(world.yard.width_m <= 24.0);
        CHECK(world.yard.length_m <= 24.0);
        CHECK(world.sonde.moment_am2 >= 0.2);
        CHECK(glm::distance(world.start_m, field::plan(world.sonde.position_m)) < 20.0); // 13 s at 1.5 m/s
        CHECK(world.habits.lean_deg <= 4.0);
    });
}

TEST_CASE("two-percent falls two in a hundred at the sonde") {
    in_every_yard("two-percent", [](const field::World& world) {
        CHECK(std::tan(world.sonde.tilt_deg * 3.14159265358979 / 180.0) == doctest::Approx(0.02).epsilon(0.01));
    });
}

TEST_CASE("deep lies three to four metres down") {
    in_every_yard("deep", [](const field::World& world) {
        CHECK(depth_m(world) >= 3.0);
        CHECK(depth_m(world) <= 4.0);
    });
}

TEST_CASE("steep-branch tilts the sonde twenty to forty degrees") {
    in_every_yard("steep-branch", [](const field::World& world) {
        CHECK(world.sonde.tilt_deg >= 19.99);
        CHECK(world.sonde.tilt_deg <= 40.01);
    });
}

TEST_CASE("on-end hangs the sonde upright and its ticket is only requested") {
    in_every_yard("on-end", [](const field::World& world) {
        CHECK(std::abs(world.sonde.tilt_deg) > 89.99);
        CHECK(world.sheet.ticket.state == field::TicketState::requested);
    });
}

TEST_CASE("two-pipes has another sewer in the yard, and its fault lies ahead of the sonde") {
    in_every_yard("two-pipes", [](const field::World& world) {
        CHECK(std::ranges::any_of(world.yard.lines,
                                  [](const field::BuriedLine& l) { return l.kind == field::LineKind::sewer; }));
        CHECK(world.sheet.sonde_to_lens_m + world.sheet.lens_to_fault_m > 0.3);
        const double ahead_m =
            glm::distance(field::plan(field::dig_target(world).centre_m), field::plan(world.sonde.position_m));
        CHECK(ahead_m == doctest::Approx(0.35).epsilon(0.05));
    });
}

TEST_CASE("wrong-frequency prints another frequency than the sonde has") {
    in_every_yard("wrong-frequency", [](const field::World& world) {
        CHECK(world.sonde.frequency_hz == 640.0);
        CHECK(world.sheet.frequency_hz == 512.0);
    });
}

TEST_CASE(
    "single-coil gives one coil, and does not promise that the level-line operator gets the depth in every yard") {
    in_every_yard("single-coil", [](const field::World& world) {
        CHECK(world.receiver.kind == sim::ReceiverKind::single_coil);
        CHECK_FALSE(world.rubric.solvable_by_level_line);
    });
}

TEST_CASE("every bundled exercise has all positive responses except where the caller is in a hurry") {
    for (const std::string& name : bundled_names()) {
        CAPTURE(name);
        const field::World world = resolve(bundled(name), 3);
        CHECK((world.sheet.ticket.state == field::TicketState::cleared) == (name != "on-end"));
    }
}
