// The drain of generated yards, the sonde in it, and what the job sheet says of them.
#include "generator_support.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

using namespace sondeyard;
using scenarios::RunShape;
using scenarios::Wanted;
using scenarios::test::Drawn;
using scenarios::test::yards;

namespace {

double turned_by(double a_deg, double b_deg) { return std::abs(std::remainder(a_deg - b_deg, 360.0)); }

} // namespace

TEST_CASE("no generated yard has a fault, whatever its shape and seed") {
    for (const Drawn& yard : yards()) {
        for (const std::string& fault : field::faults(yard.world)) {
            FAIL_CHECK(yard.what << ": " << fault);
        }
    }
    CHECK(yards().size() > scenarios::test::seed_count());
}

TEST_CASE("a drain falls all the way, stays under cover and ends under the street") {
    for (const Drawn& yard : yards()) {
        if (!yard.world.run) {
            continue;
        }
        INFO(yard.what);
        const auto& points = yard.world.run->centreline_m;
        bool sound = points.front().z < -0.40;
        for (std::size_t i = 1; i < points.size(); ++i) {
            sound = sound && points[i].z <= points[i - 1].z;
        }
        REQUIRE(sound);
        const bool ends_in_street = std::ranges::any_of(yard.world.yard.areas, [&](const field::Area& area) {
            return area.kind == field::AreaKind::street && field::contains(area.outline_m, field::plan(points.back()));
        });
        REQUIRE(ends_in_street);
        const std::vector<glm::dvec2> plan = field::plan(points);
        for (const field::Area& area : yard.world.yard.areas) {
            if (field::solid(area.kind)) {
                REQUIRE(field::distance_to_polyline_m(area.outline_m, plan) > 0.3);
            }
        }
        REQUIRE(yard.world.sheet.cleanout_m.has_value());
        REQUIRE(glm::distance(*yard.world.sheet.cleanout_m, plan.front()) < 0.01);
    }
}

TEST_CASE("a drain bends, but in sweeps: never more than an eighth at once or three quarter bends in all") {
    for (const Drawn& yard : yards()) {
        if (!yard.world.run) {
            continue;
        }
        INFO(yard.what);
        double turned = 0.0;
        glm::dvec2 before{0.0};
        for (std::size_t i = 1; i < yard.world.run->centreline_m.size(); ++i) {
            const glm::dvec2 piece = field::plan(yard.world.run->centreline_m[i] - yard.world.run->centreline_m[i - 1]);
            if (glm::length(piece) < 1e-6) {
                continue; // the vertical drop
            }
            if (glm::length(before) > 0.0) {
                const double here = turned_by(field::heading_of(piece), field::heading_of(before));
                REQUIRE(here < 45.5);
                turned += here;
            }
            before = piece;
        }
        REQUIRE(turned > 20.0);
        REQUIRE(turned < 275.0);
    }
}

TEST_CASE("the sonde lies in its pipe at the wanted depth, turned and tilted as the pipe is") {
    for (const Drawn& yard : yards()) {
        const field::World& world = yard.world;
        INFO(yard.what);
        if (yard.wanted.depth_m) {
            REQUIRE(std::abs(field::depth_m(world) - *yard.wanted.depth_m) < 1e-6);
        }
        if (yard.wanted.position_m) {
            REQUIRE(glm::distance(field::plan(world.sonde.position_m), *yard.wanted.position_m) < 1e-6);
        }
        if (yard.wanted.heading_deg) {
            REQUIRE(turned_by(world.sonde.heading_deg, *yard.wanted.heading_deg) < 0.01);
        }
        if (!world.run) {
            continue;
        }
        const field::RunProjection at = field::project(*world.run, world.sonde.position_m);
        const double off =
            world.sonde.tilt_deg > 75.0 ? 0.0 : 0.5 * world.run->inside_diameter_m - yard.wanted.sonde_above_invert_m;
        REQUIRE(std::abs(at.distance_m - off) < 1e-6);
        const field::RunAttitude pipe = field::attitude_at(*world.run, at.along_m);
        REQUIRE(std::abs(pipe.tilt_deg - world.sonde.tilt_deg) < 1e-6);
        REQUIRE(turned_by(pipe.heading_deg, world.sonde.heading_deg) < 0.01);
    }
}

TEST_CASE("each shape of run brings the sonde to its tilt") {
    for (const Drawn& yard : yards()) {
        INFO(yard.what);
        const double tilt = yard.world.sonde.tilt_deg;
        switch (yard.wanted.shape) {
        case RunShape::drop: {
            REQUIRE(tilt == doctest::Approx(90.0));
            double longest = 0.0; // the drop is a metre or more
            const auto& points = yard.world.run->centreline_m;
            for (std::size_t i = 1; i < points.size(); ++i) {
                if (glm::distance(field::plan(points[i]), field::plan(points[i - 1])) < 1e-9) {
                    longest = std::max(longest, points[i - 1].z - points[i].z);
                }
            }
            REQUIRE(longest >= 1.0 - 1e-9);
            break;
        }
        case RunShape::steep_branch:
            REQUIRE(tilt >= 19.9);
            REQUIRE(tilt <= 40.1);
            if (yard.wanted.branch_tilt_deg) {
                REQUIRE(tilt == doctest::Approx(*yard.wanted.branch_tilt_deg));
            }
            break;
        case RunShape::fall:
            if (yard.wanted.fall_percent) {
                REQUIRE(tilt == doctest::Approx(std::atan(*yard.wanted.fall_percent / 100.0) * 57.29577951308232));
            } else { // 1 to 3 %
                REQUIRE(tilt > 0.57);
                REQUIRE(tilt < 1.72);
            }
            break;
        case RunShape::none:
            REQUIRE_FALSE(yard.world.run.has_value());
            break;
        }
    }
}

TEST_CASE("a level drain is level for 3 m on either side of the sonde, or to its end") {
    for (const Drawn& yard : yards()) {
        if (yard.wanted.fall_percent != 0.0) {
            continue;
        }
        INFO(yard.what);
        const field::Run& run = *yard.world.run;
        const double along = field::project(run, yard.world.sonde.position_m).along_m;
        const double z = field::at_length(run, along).centre_m.z;
        for (const double off : {-3.0, -1.5, 1.5, 3.0}) {
            if (along + off > 0.0 && along + off < field::length_m(run)) {
                REQUIRE(std::abs(field::at_length(run, along + off).centre_m.z - z) < 1e-9);
            }
        }
    }
}

TEST_CASE("the cable counter shows the developed length from its zero and up to 3 % slack") {
    for (const Drawn& yard : yards()) {
        const field::World& world = yard.world;
        if (!world.run) {
            continue;
        }
        INFO(yard.what);
        const double riser =
            world.sheet.counter_zero == field::CounterZero::cleanout_rim ? -world.run->centreline_m.front().z : 0.0;
        const double out = riser + field::project(*world.run, world.sonde.position_m).along_m;
        REQUIRE(world.sheet.counter_m.has_value());
        REQUIRE(*world.sheet.counter_m >= out - 1e-6);
        REQUIRE(*world.sheet.counter_m <= 1.03 * out + 0.01);
        REQUIRE(world.sheet.counter_zero == yard.wanted.counter_zero);
    }
}

TEST_CASE("the fault ahead of the lens is still in the drain") {
    for (const Drawn& yard : yards()) {
        if (yard.world.run) {
            const double ahead = yard.wanted.sonde_to_lens_m + yard.wanted.lens_to_fault_m;
            const double along = field::project(*yard.world.run, yard.world.sonde.position_m).along_m;
            INFO(yard.what);
            REQUIRE(along + ahead < field::length_m(*yard.world.run));
        }
    }
}

TEST_CASE("what cannot be built is refused with its reason") {
    const auto refused = [](auto change, const char* text) {
        Wanted wanted;
        change(wanted);
        CHECK_THROWS_WITH_AS(scenarios::generate(wanted), doctest::Contains(text), scenarios::CannotBuild);
    };
    refused([](Wanted& w) { w.width_m = 19.0; }, "width is 19 m; 20 to 60 m is allowed");
    refused([](Wanted& w) { w.length_m = 61.0; }, "length is 61 m; 20 to 60 m is allowed");
    refused([](Wanted& w) { w.depth_m = 0.1; }, "depth is 0.1 m");
    refused([](Wanted& w) { w.fall_percent = -1.0; }, "fall is -1 %");
    refused([](Wanted& w) { w.line_count = 9; }, "at most 8");
    refused([](Wanted& w) { w.position_m = glm::dvec2{0.5, 20.0}; }, "nearer than 1.3 m");
    refused([](Wanted& w) { w.depth_m = std::nan(""); }, "depth is nan m");
    refused(
        [](Wanted& w) { // 10 % over this depth leaves no cover upstream, and the branch no height to fall from
            w.shape = RunShape::drop;
            w.depth_m = 0.45;
        },
        "no yard fits after 200 tries");
}

TEST_CASE("a place that is given is always built, however awkward") {
    for (const glm::dvec2 place : {glm::dvec2{15.0, 15.0}, {4.0, 4.0}, {0.6, 20.0}, {29.5, 29.5}}) {
        for (const double depth_m : {0.15, 1.2, 6.0}) {
            for (std::uint64_t seed = 1; seed <= 20; ++seed) {
                Wanted wanted;
                wanted.seed = seed * 47;
                wanted.shape = RunShape::none;
                wanted.width_m = 30.0;
                wanted.length_m = 30.0;
                wanted.position_m = place;
                wanted.depth_m = depth_m;
                wanted.heading_deg = 40.0;
                wanted.tilt_deg = 30.0;
                const field::World world = scenarios::generate(wanted);
                REQUIRE(field::faults(world).empty());
                REQUIRE(world.sonde.position_m == glm::dvec3(place, -depth_m));
                REQUIRE(world.sonde.heading_deg == 40.0);
                REQUIRE(world.sonde.tilt_deg == 30.0);
            }
        }
    }
}
