// What is laid beside the sonde: a line where it was asked for, mains on a cable or overhead, another crew.
//
// Outside sources: what a pipe layer and a digger keep to (clearance between lines, nothing through a wall); nothing
// here is the generator's own formula said again.
#include "same_world.hpp"
#include "scenarios/generator.hpp"
#include "scenarios/schema.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <functional>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

constexpr std::uint64_t seeds = 30;

Scenario scenario_with(const std::string& tables) {
    return parse_scenario("format = 1\ntitle = \"Company\"\n[sonde]\ndepth_m = 1.8\n" + tables, "company.toml");
}

void in_every_yard(const std::string& tables, const std::function<void(const field::World&)>& check) {
    const Scenario scenario = scenario_with(tables);
    for (std::uint64_t seed = 1; seed <= seeds; ++seed) {
        CAPTURE(tables);
        CAPTURE(seed);
        check(resolve(scenario, seed));
    }
}

std::string neighbour(const std::string& rest) { return "[neighbour]\nkind = \"water\"\nwidth_m = 0.0321\n" + rest; }

// The line that was asked for is the one of that odd width.
const field::BuriedLine& line_asked_for(const field::World& world) {
    const auto at =
        std::ranges::find_if(world.yard.lines, [](const field::BuriedLine& l) { return l.width_m == 0.0321; });
    REQUIRE(at != world.yard.lines.end());
    return *at;
}

// Where a straight line passes a place in plan: how far beside it, and where along the way.
struct Passing {
    double beside_m;
    double along_m;
    double length_m;
    glm::dvec2 direction;
};
Passing passing(const field::BuriedLine& line, const glm::dvec2& place) {
    const glm::dvec2 a = field::plan(line.points_m.front());
    const glm::dvec2 b = field::plan(line.points_m.back());
    const glm::dvec2 way = glm::normalize(b - a);
    const glm::dvec2 off = place - a;
    return {std::abs(off.x * way.y - off.y * way.x), glm::dot(off, way), glm::distance(a, b), way};
}

// Least distance in space between two lines, walked along both in steps of 5 cm.
double gap_m(const std::vector<glm::dvec3>& a, const std::vector<glm::dvec3>& b) {
    double least = 1e9;
    const field::Run other{b, field::PipeMaterial::pvc, 0.1, 0.003};
    for (std::size_t i = 1; i < a.size(); ++i) {
        const int steps = static_cast<int>(glm::distance(a[i - 1], a[i]) / 0.05) + 1;
        for (int k = 0; k <= steps; ++k) {
            least = std::min(
                least,
                field::project(other, a[i - 1] + (a[i] - a[i - 1]) * (static_cast<double>(k) / steps)).distance_m);
        }
    }
    return least;
}

std::string refused(const std::function<void(field::World&)>& spoil) {
    field::World world =
        resolve(scenario_with(neighbour("") + "[other_sonde]\ndistance_m = 6\n[hum]\ncurrent_A = 2\nsupply = "
                                              "\"overhead\"\n[ground]\nresistivity_ohm_m = 40\n"),
                1);
    REQUIRE(field::faults(world).empty());
    spoil(world);
    std::string all;
    for (const std::string& fault : field::faults(world)) {
        all += fault + "\n";
    }
    return all;
}

field::BuriedLine& line_of(field::World& world) {
    return *std::ranges::find_if(world.yard.lines, [](const field::BuriedLine& l) { return l.width_m == 0.0321; });
}

} // namespace

TEST_CASE("a neighbour beside the run lies as far from the sonde as asked, along the run and past the sonde") {
    in_every_yard(neighbour("lies = \"beside\"\noffset_m = 1.2\ndepth_m = 0.7\n"), [](const field::World& world) {
        const field::BuriedLine& line = line_asked_for(world);
        const Passing p = passing(line, field::plan(world.sonde.position_m));
        CHECK(p.beside_m == doctest::Approx(1.2).epsilon(0.03));
        CHECK(std::abs(glm::dot(p.direction, field::direction_of(world.sonde.heading_deg))) > 0.999);
        CHECK(p.along_m > 0.0);
        CHECK(p.along_m < p.length_m);
        CHECK(p.length_m >= 10.0 - 0.02);
        for (const glm::dvec3& point : line.points_m) {
            CHECK(point.z == doctest::Approx(-0.7));
        }
        CHECK(line.kind == field::LineKind::water);
        CHECK(line.connection == field::LineConnection::bonded); // when nothing is said
    });
}

TEST_CASE("a neighbour across the run crosses it as far up or down from the sonde as asked") {
    in_every_yard(neighbour("lies = \"across\"\noffset_m = 0.8\n"), [](const field::World& world) {
        const field::BuriedLine& line = line_asked_for(world);
        const Passing p = passing(line, field::plan(world.sonde.position_m));
        CHECK(p.beside_m == doctest::Approx(0.8).epsilon(0.03));
        CHECK(std::abs(glm::dot(p.direction, field::direction_of(world.sonde.heading_deg))) < 0.05);
        CHECK(p.along_m > 0.0);
        CHECK(p.along_m < p.length_m);
    });
}

TEST_CASE("a neighbour goes through no wall, trunk, pond or other pipe, and stays in the yard") {
    for (const std::string lies : {"beside", "across"}) {
        in_every_yard(
            neighbour("lies = \"" + lies + "\"\noffset_m = 0.7\ndepth_m = 0.6\n"), [](const field::World& world) {
                const field::BuriedLine& line = line_asked_for(world);
                const glm::dvec2 a = field::plan(line.points_m.front());
                const glm::dvec2 b = field::plan(line.points_m.back());
                for (int k = 0; k <= 200; ++k) {
                    const glm::dvec2 p = a + (b - a) * (k / 200.0);
                    REQUIRE(p.x >= 0.0);
                    REQUIRE(p.y >= 0.0);
                    REQUIRE(p.x <= world.yard.width_m);
                    REQUIRE(p.y <= world.yard.length_m);
                    for (const field::Area& area : world.yard.areas) {
                        if (field::solid(area.kind) || area.kind == field::AreaKind::pond) {
                            REQUIRE_FALSE(field::contains(area.outline_m, p));
                        }
                    }
                }
                const double radius_m = 0.5 * world.run->inside_diameter_m + world.run->wall_m + 0.5 * line.width_m;
                CHECK(gap_m(line.points_m, world.run->centreline_m) - radius_m >= 0.15 - 0.01);
                for (const field::BuriedLine& other : world.yard.lines) {
                    if (&other != &line) {
                        CHECK(gap_m(line.points_m, other.points_m) - 0.5 * (line.width_m + other.width_m) >= 0.14);
                    }
                }
            });
    }
}

namespace {

// A run given by its points: 1.2 m down to the north, round a corner to the north-east at (15, 20). The sonde is in the
// straight piece.
Scenario given_run(const std::string& tables) {
    return parse_scenario("format = 1\ntitle = \"Given\"\n[run]\npoints_m = [[15, 4, -1.1], [15, 20, -1.25], [20, 25, "
                          "-1.3]]\n[sonde]\nposition_m = [15, 12]\n" +
                              tables,
                          "given.toml");
}

std::string what_is_said(const Scenario& scenario, std::uint64_t seed) {
    try {
        resolve(scenario, seed);
    } catch (const ScenarioError& e) {
        return e.what();
    }
    return "nothing";
}

} // namespace

TEST_CASE("on level ground nothing is laid through a run that is given by its points") {
    for (const std::string lies : {"lies = \"across\"\noffset_m = 0.7\n", "lies = \"beside\"\noffset_m = 0.7\n"}) {
        for (const std::string depth : {"0.6", "1.5"}) { // over it and under it
            const Scenario scenario = given_run(neighbour(lies + "depth_m = " + depth + "\n"));
            for (std::uint64_t seed = 1; seed <= 10; ++seed) {
                CAPTURE(seed);
                const field::World world = resolve(scenario, seed);
                const field::Run& run = *world.run;
                for (const field::BuriedLine& line : world.yard.lines) {
                    const double radii_m = 0.5 * line.width_m + 0.5 * run.inside_diameter_m + run.wall_m;
                    CHECK(gap_m(line.points_m, run.centreline_m) - radii_m >= 0.14);
                }
            }
        }
    }
}

TEST_CASE("a neighbour that would cut through a given run is laid on the sonde's other side") {
    // At the pipe's depth the eastern side is barred by the corner; the western one is free.
    const Scenario scenario = given_run(neighbour("lies = \"beside\"\noffset_m = 0.7\ndepth_m = 1.26\n"));
    for (std::uint64_t seed = 1; seed <= 10; ++seed) {
        CAPTURE(seed);
        const field::World world = resolve(scenario, seed);
        const field::BuriedLine& line = line_asked_for(world);
        const double radii_m = 0.5 * line.width_m + 0.5 * world.run->inside_diameter_m + world.run->wall_m;
        CHECK(gap_m(line.points_m, world.run->centreline_m) - radii_m >= 0.14);
    }
}

TEST_CASE("a neighbour that would cut through a given run on either side is refused, and why is said") {
    const std::string across =
        what_is_said(given_run(neighbour("lies = \"across\"\noffset_m = 0.5\ndepth_m = 1.15\n")), 1);
    CHECK_MESSAGE(
        across.find("given.toml:12:11: neighbour.depth_m: found a water line 0.5 m up or down the run from the "
                    "sonde, 1.15 m deep, which would cut through the pipe given by run.points_m; allowed: ") == 0,
        across);
    const std::string beside = what_is_said(given_run(neighbour("offset_m = 0.1\ndepth_m = 1.2\n")), 1);
    CHECK_MESSAGE(beside.find("would cut through the pipe given by run.points_m; allowed: ") != std::string::npos,
                  beside);
}

TEST_CASE("a neighbour is painted over its own course when its owner has marked it, and not when he missed it") {
    in_every_yard(neighbour("offset_m = 1.0\n"), [](const field::World& world) {
        const field::BuriedLine& line = line_asked_for(world);
        REQUIRE(line.paint_m.size() >= 2);
        for (const glm::dvec2& mark : line.paint_m) {
            CHECK(passing(line, mark).beside_m <= 0.42);
        }
        CHECK(std::ranges::any_of(world.sheet.ticket.responses, [&](const field::OwnerResponse& r) {
            return r.owner == line.owner && r.answer == "marked";
        }));
    });
    in_every_yard(neighbour("offset_m = 1.0\nmarked = false\n"), [](const field::World& world) {
        CHECK(line_asked_for(world).paint_m.empty());
        for (const field::BuriedLine& line : world.yard.lines) { // the others are marked as ever
            CHECK((line.paint_m.empty() == (line.width_m == 0.0321 || line.is_private)));
        }
    });
}

TEST_CASE("a neighbour has the connection, resistance and transmitter that were asked for") {
    in_every_yard(neighbour("connection = \"isolated\"\noffset_m = 1.0\n"), [](const field::World& world) {
        CHECK(line_asked_for(world).connection == field::LineConnection::isolated);
    });
    const field::World world =
        resolve(scenario_with(neighbour(
                    "offset_m = 2.0\nresistance_ohm = 3.5\nclamp_current_mA = 40\nclamp_frequency_hz = 8192\n")),
                4);
    CHECK(line_asked_for(world).resistance_ohm == 3.5);
    CHECK(line_asked_for(world).clamp_current_a == 0.04);
    CHECK(line_asked_for(world).clamp_frequency_hz == 8192.0);
}

TEST_CASE("buried mains run in a cable: the neighbour when it is one, else one of the services") {
    in_every_yard(
        "[neighbour]\nkind = \"electric\"\nconnection = \"none\"\nwidth_m = 0.0321\noffset_m = 2.0\n[hum]\ncurrent_A = 1.5\n",
        [](const field::World& world) {
            CHECK(line_asked_for(world).mains_current_a == 1.5);
            CHECK(std::ranges::count_if(world.yard.lines,
                                        [](const field::BuriedLine& l) { return l.mains_current_a > 0.0; }) == 1);
            CHECK(world.yard.overhead.empty());
            CHECK(world.yard.mains_hz == 60.0);
        });
    in_every_yard("[yard]\nline_count = 4\n[hum]\ncurrent_A = 1.5\nmains_hz = 50\n", [](const field::World& world) {
        const auto at =
            std::ranges::find_if(world.yard.lines, [](const field::BuriedLine& l) { return l.mains_current_a > 0.0; });
        REQUIRE(at != world.yard.lines.end());
        CHECK(at->kind == field::LineKind::electric);
        CHECK(at->mains_current_a == 1.5);
        CHECK(world.yard.mains_hz == 50.0);
    });
}

TEST_CASE("overhead mains hang well over the street, reach beyond the yard, and everybody sees them") {
    in_every_yard("[hum]\ncurrent_A = 8\nsupply = \"overhead\"\n", [](const field::World& world) {
        REQUIRE(world.yard.overhead.size() == 1);
        const field::OverheadLine& wires = world.yard.overhead.front();
        CHECK(wires.mains_current_a == 8.0);
        const field::Brief brief = field::brief_of(world);
        REQUIRE(brief.overhead_m.size() == 1);
        CHECK((brief.overhead_m.front() == wires.points_m));
        const glm::dvec2 a = field::plan(wires.points_m.front());
        const glm::dvec2 b = field::plan(wires.points_m.back());
        CHECK(glm::distance(a, b) > std::min(world.yard.width_m, world.yard.length_m) + 40.0);
        bool over_street = false;
        for (int k = 0; k <= 400; ++k) {
            for (const field::Area& area : world.yard.areas) {
                over_street = over_street || (area.kind == field::AreaKind::street &&
                                              field::contains(area.outline_m, a + (b - a) * (k / 400.0)));
            }
        }
        CHECK(over_street);
        for (const glm::dvec3& p : wires.points_m) {
            CHECK(p.z > 5.0);
        }
        for (const field::BuriedLine& line : world.yard.lines) {
            CHECK(line.mains_current_a == 0.0);
        }
    });
}

TEST_CASE("another crew's sonde lies as far off as asked, in the open, in another drain than ours") {
    in_every_yard("[other_sonde]\ndistance_m = 7\nfrequency_hz = 640\nmoment_A_m2 = 0.3\ndepth_m = 1.1\n",
                  [](const field::World& world) {
                      REQUIRE(world.other_sondes.size() == 1);
                      const field::SondeTruth& other = world.other_sondes.front().sonde;
                      const glm::dvec2 place = field::plan(other.position_m);
                      CHECK(glm::distance(place, field::plan(world.sonde.position_m)) ==
                            doctest::Approx(7.0).epsilon(1e-5));
                      CHECK(field::depth_m(world, other.position_m) == doctest::Approx(1.1).epsilon(1e-5));
                      CHECK(other.frequency_hz == 640.0);
                      CHECK(other.moment_am2 == 0.3);
                      CHECK(field::tip_may_be(world.yard.width_m, world.yard.length_m, world.yard.areas, place));
                      CHECK(field::project(*world.run, {place, other.position_m.z}).distance_m > 2.4);
                      for (const field::BuriedLine& line : world.yard.lines) {
                          CHECK(gap_m({other.position_m, other.position_m}, line.points_m) > 0.3);
                      }
                  });
    const field::World plain = resolve(scenario_with("[other_sonde]\ndistance_m = 7\n"), 2);
    CHECK(plain.other_sondes.front().sonde.frequency_hz == plain.sonde.frequency_hz); // ours, when nothing is said
    CHECK(field::depth_m(plain, plain.other_sondes.front().sonde.position_m) == doctest::Approx(1.8));
}

TEST_CASE("a world with company reads back as the same world, on level ground and on a slope") {
    const std::vector<std::string> all = {
        neighbour("lies = \"across\"\noffset_m = 0.9\nresistance_ohm = 4\n"),
        neighbour("connection = \"isolated\"\noffset_m = 1.1\nmarked = false\n"),
        neighbour("connection = \"isolated\"\noffset_m = 3\nclamp_current_mA = 7\n"),
        "[hum]\nmains_hz = 50\n",
        "[hum]\nmains_hz = 50\ncurrent_A = 3\nsupply = \"overhead\"\n",
        "[yard]\nline_count = 4\n[hum]\ncurrent_A = 0.7\n",
        "[other_sonde]\ndistance_m = 6\ntilt_deg = 12\n",
        "[ground]\nresistivity_ohm_m = 12\n",
        "[run]\nmaterial = \"cast_iron\"\nwall_m = 0.006\n",
        "[run]\nmaterial = \"steel\"\nrelative_permeability = 300\nconductivity_MS_per_m = 5\n",
        "[sheet]\nground = \"wet clay\"\n[lesson]\ndifferent = \"a\"\ntell = \"b\"\nact = \"c \\\"d\\\"\"\n",
        neighbour("offset_m = 0.9\n") + "[other_sonde]\ndistance_m = 5\n[hum]\ncurrent_A = 2\nsupply = \"overhead\"\n"
                                        "[ground]\nslope_percent = 9\nstep_rise_m = 0.4\nresistivity_ohm_m = 30\n",
    };
    for (const std::string& tables : all) {
        CAPTURE(tables);
        const Scenario scenario = scenario_with(tables);
        for (const std::uint64_t seed : {1U, 9U}) {
            CAPTURE(seed);
            const field::World world = resolve(scenario, seed);
            const std::string text = to_toml(world);
            test::check_same_world(resolve(parse_scenario(text, "again.toml"), 99), world);
            CHECK(to_toml(resolve(parse_scenario(text, "again.toml"), 99)) == text);
        }
    }
}

TEST_CASE("cast iron is drawn between 60 and 150 times as permeable as air, unless the scenario says") {
    double least = 1e9;
    double most = 0.0;
    in_every_yard("[run]\nmaterial = \"cast_iron\"\n", [&](const field::World& world) {
        least = std::min(least, world.run->metal.relative_permeability);
        most = std::max(most, world.run->metal.relative_permeability);
        CHECK(world.run->metal.conductivity_s_per_m > 1e6);
    });
    CHECK(least >= 60.0);
    CHECK(least < 80.0);
    CHECK(most <= 150.0);
    CHECK(most > 130.0);
    const field::World given =
        resolve(scenario_with("[run]\nmaterial = \"cast_iron\"\nrelative_permeability = 222\n"), 1);
    CHECK(given.run->metal.relative_permeability == 222.0);
}

TEST_CASE("what cannot be in a yard is said with what was found and what is allowed") {
    const auto says = [](const std::function<void(field::World&)>& spoil, std::string_view found) {
        const std::string all = refused(spoil);
        CAPTURE(all);
        CHECK(all.find(found) != std::string::npos);
        CHECK(all.find("allowed") != std::string::npos);
    };
    says([](field::World& w) { w.other_sondes[0].sonde.position_m.x = 300.0; }, "the sonde of another crew at (300,");
    says([](field::World& w) { w.other_sondes[0].sonde.position_m.z = 0.4; },
         "the sonde of another crew lies 0.4 m above the ground");
    says([](field::World& w) { w.other_sondes[0].sonde.position_m.z = -0.01; },
         "the sonde of another crew lies 0.01 m deep");
    says([](field::World& w) { w.other_sondes[0].sonde.frequency_hz = 0.0; },
         "the sonde of another crew sends at 0 Hz");
    says([](field::World& w) { w.other_sondes[0].sonde.moment_am2 = -0.1; },
         "the sonde of another crew has a moment of -0.1 A m2");
    says([](field::World& w) { w.other_sondes[0].sonde.tilt_deg = 95.0; }, "and tilt 95 deg");
    says([](field::World& w) { line_of(w).width_m = 0.0; }, "a buried water line is 0 m across");
    says([](field::World& w) { line_of(w).resistance_ohm = 0.0; }, "a buried water line is bonded through 0 ohm");
    says([](field::World& w) { line_of(w).points_m.resize(1); }, "a buried water line has 1 points");
    // ln(2 l / a) - 1 of Rosa's formula, which a bonded line needs, would not be that of a wire any more.
    says([](field::World& w) { line_of(w).points_m[1] = line_of(w).points_m[0] + glm::dvec3{0.16, 0.0, 0.0}; },
         "a buried water line is bonded and 0.16 m long; at its width of 0.0321 m 0.1605 m or more is allowed");
    says([](field::World& w) { line_of(w).mains_current_a = -1.0; }, "carries -1 A of mains");
    says([](field::World& w) { line_of(w).clamp_current_a = std::nan(""); }, "has a transmitter of nan A on it");
    says(
        [](field::World& w) {
            line_of(w).clamp_current_a = 0.1;
            line_of(w).clamp_frequency_hz = 1.0;
        },
        "has a transmitter of 1 Hz on it");
    says([](field::World& w) { w.yard.overhead[0].points_m[0].z = 0.5; }, "wires overhead hang 0.50 m over the ground");
    says([](field::World& w) { w.yard.overhead[0].mains_current_a = 1e4; }, "wires overhead carry 10000 A");
    says([](field::World& w) { w.yard.resistivity_ohm_m = -20.0; }, "the ground's resistivity is -20 ohm m");
    says([](field::World& w) { w.yard.mains_hz = 400.0; }, "the mains run at 400 Hz");
    says([](field::World& w) { w.run->metal = {1.5e6, 0.5}; }, "relative permeability of 0.5");
}
