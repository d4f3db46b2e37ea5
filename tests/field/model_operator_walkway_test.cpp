// Ways over the yard for the model operators: round houses and beds, and as near as one gets where there is no way.
#include "field/walkway.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

Brief yard_with(std::vector<Area> areas) {
    World world = test::empty_yard();
    world.yard.areas = std::move(areas);
    return brief_of(world);
}

// Every 2 cm of the way: how near to an outline do the feet come?
double clearance_m(const Polygon& outline, glm::dvec2 at, const std::vector<glm::dvec2>& corners) {
    double nearest = 1e9;
    for (const glm::dvec2& corner : corners) {
        const int pieces = static_cast<int>(glm::distance(at, corner) / 0.02) + 1;
        for (int i = 0; i <= pieces; ++i) {
            const glm::dvec2 place = at + (corner - at) * (static_cast<double>(i) / pieces);
            nearest = contains(outline, place) ? 0.0 : std::min(nearest, distance_to_edge_m(outline, place));
        }
        at = corner;
    }
    return nearest;
}

double length_m(glm::dvec2 at, const std::vector<glm::dvec2>& corners) {
    double sum = 0.0;
    for (const glm::dvec2& corner : corners) {
        sum += glm::distance(at, corner);
        at = corner;
    }
    return sum;
}

} // namespace

TEST_CASE("over an empty lawn the way is straight and stops within arm's length") {
    const Brief brief = yard_with({});
    Walkway walkway(brief);
    const auto path = walkway.path({5.0, 5.0}, {20.0, 14.0});
    REQUIRE(path.arrives);
    CHECK(path.feet_m.size() == 1);
    CHECK(glm::distance(path.feet_m.back(), {20.0, 14.0}) <= reach_m);
}

TEST_CASE("within reach already: no step is taken") {
    const Brief brief = yard_with({});
    Walkway walkway(brief);
    const auto path = walkway.path({5.0, 5.0}, {5.5, 5.5});
    CHECK(path.arrives);
    CHECK(path.feet_m.empty());
}

TEST_CASE("the way goes round a house, clear of its walls, and is no longer than it must be") {
    const Polygon house = rectangle({15.0, 15.0}, 0.0, 10.0, 8.0);
    const Brief brief = yard_with({{AreaKind::house, house, "house"}});
    Walkway walkway(brief);
    const glm::dvec2 from{5.0, 15.0};
    const auto path = walkway.path(from, {25.0, 15.0});
    REQUIRE(path.arrives);
    CHECK(clearance_m(house, from, path.feet_m) > body_radius_m - 0.01); // a corner may be grazed between two looks
    CHECK(length_m(from, path.feet_m) < 26.0); // 8 m across, 5 m up and down: 23.2 m by the corners, less the arm
}

TEST_CASE("the tip reaches over a bed but not through a wall") {
    const Brief brief = yard_with({{AreaKind::house, rectangle({15.0, 15.0}, 0.0, 10.0, 0.3), "wall"},
                                   {AreaKind::planting, rectangle({8.0, 8.0}, 0.0, 4.0, 0.6), "bed"}});
    Walkway walkway(brief);
    CHECK(walkway.can_hold({8.0, 8.0}));
    CHECK_FALSE(walkway.can_stand({8.0, 8.0}));
    CHECK_FALSE(walkway.can_hold({15.0, 15.0}));
    const glm::dvec2 from{14.6, 15.0};
    const auto path = walkway.path(from, {15.4, 15.0}); // on the other side, 0.8 m off
    REQUIRE(path.arrives);
    CHECK_FALSE(path.feet_m.empty());
    CHECK(length_m(from, path.feet_m) > 8.0);
}

TEST_CASE("where there is no way it leads as near as one gets") {
    const Brief brief = yard_with({{AreaKind::fence, rectangle({15.0, 20.0}, 90.0, 30.0, 0.2), ""}}); // right across
    Walkway walkway(brief);
    const auto path = walkway.path({15.0, 5.0}, {15.0, 27.0});
    CHECK_FALSE(path.arrives);
    REQUIRE_FALSE(path.feet_m.empty());
    CHECK(path.feet_m.back().y < 20.0);
    CHECK(path.feet_m.back().y > 19.0);
}

TEST_CASE("from a strip too narrow for the net of cells there is a way out") {
    // Between a bed and the yard's edge 0.3 m of ground are left to stand on the feet's 0.2 m.
    const Brief brief = yard_with({{AreaKind::planting, rectangle({1.0, 15.0}, 0.0, 20.0, 1.02), "bed"}});
    Walkway walkway(brief);
    const glm::dvec2 from{0.25, 24.6};
    REQUIRE(walkway.can_stand(from));
    CHECK(walkway.path(from, {10.0, 15.0}).arrives);
}
