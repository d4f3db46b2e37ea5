// The ground of generated yards: does it hang together, can the work be done on it, do yards differ?
#include "generator_support.hpp"
#include "sim/random.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

using namespace sondeyard;
using scenarios::Wanted;
using scenarios::test::Drawn;
using scenarios::test::yards;

namespace {

constexpr double cell_m = 0.25;

// Where one can walk to from the start: a flood over a grid, written apart from the generator's own.
class Walked {
public:
    explicit Walked(const field::World& world)
        : nx_(static_cast<int>(world.yard.width_m / cell_m)), ny_(static_cast<int>(world.yard.length_m / cell_m)),
          reached_(static_cast<std::size_t>(nx_ * ny_), false), world_(world) {
        std::vector<bool> open(reached_.size(), true);
        for (const field::Area& area : world.yard.areas) {
            if (field::walkable(area.kind)) {
                continue;
            }
            glm::dvec2 low = area.outline_m.front();
            glm::dvec2 high = low;
            for (const glm::dvec2& p : area.outline_m) {
                low = glm::min(low, p);
                high = glm::max(high, p);
            }
            for (int iy = 0; iy < ny_; ++iy) {
                for (int ix = 0; ix < nx_; ++ix) {
                    const glm::dvec2 p = place(ix, iy);
                    if (p.x > low.x - 0.3 && p.y > low.y - 0.3 && p.x < high.x + 0.3 && p.y < high.y + 0.3 &&
                        (field::contains(area.outline_m, p) ||
                         field::distance_to_edge_m(area.outline_m, p) < field::body_radius_m)) {
                        open[index(ix, iy)] = false;
                    }
                }
            }
        }
        std::vector<std::pair<int, int>> todo = {
            {static_cast<int>(world.start_m.x / cell_m), static_cast<int>(world.start_m.y / cell_m)}};
        while (!todo.empty()) {
            const auto [ix, iy] = todo.back();
            todo.pop_back();
            if (ix < 1 || iy < 1 || ix >= nx_ - 1 || iy >= ny_ - 1 || !open[index(ix, iy)] || reached_[index(ix, iy)]) {
                continue;
            }
            reached_[index(ix, iy)] = true;
            todo.insert(todo.end(), {{ix + 1, iy}, {ix - 1, iy}, {ix, iy + 1}, {ix, iy - 1}});
        }
    }

    // The tip can be set down here by somebody who stands no farther than 0.95 m off.
    bool tip_gets_to(const glm::dvec2& p) const {
        if (!field::tip_may_be(world_.yard.width_m, world_.yard.length_m, world_.yard.areas, p)) {
            return false;
        }
        for (int iy = 0; iy < ny_; ++iy) {
            if (std::abs(place(0, iy).y - p.y) > 0.95) {
                continue;
            }
            for (int ix = 0; ix < nx_; ++ix) {
                if (reached_[index(ix, iy)] && glm::distance(place(ix, iy), p) < 0.95) {
                    return true;
                }
            }
        }
        return false;
    }

private:
    static glm::dvec2 place(int ix, int iy) { return {(ix + 0.5) * cell_m, (iy + 0.5) * cell_m}; }
    std::size_t index(int ix, int iy) const {
        return static_cast<std::size_t>(iy) * static_cast<std::size_t>(nx_) + static_cast<std::size_t>(ix);
    }
    int nx_;
    int ny_;
    std::vector<bool> reached_;
    const field::World& world_;
};

int directions_open(const Walked& walked, const glm::dvec2& peak, double depth_m) {
    int most = 0; // as many as fit, each 60 deg from the last
    for (int first = 0; first < 60; first += 10) {
        int count = 0;
        int last = -60;
        for (int heading = first; heading <= first + 300; heading += 10) {
            const glm::dvec2 way = field::direction_of(heading);
            if (heading - last >= 60 && walked.tip_gets_to(peak + 1.1 * depth_m * way)) {
                ++count;
                last = heading;
            }
        }
        most = std::max(most, count);
    }
    return most;
}

std::string serialised(const field::World& world) { // places to a tenth of a millimetre
    std::string text;
    const auto put = [&](double value) { text += std::to_string(std::llround(value * 1e4)) + ' '; };
    put(world.yard.width_m);
    put(world.yard.length_m);
    for (const field::Area& area : world.yard.areas) {
        text += area.name + ' ' + std::string(field::name_of(area.kind)) + ' ';
        for (const glm::dvec2& p : area.outline_m) {
            put(p.x);
            put(p.y);
        }
    }
    for (const field::BuriedLine& line : world.yard.lines) {
        text += line.owner + ' ';
        for (const glm::dvec3& p : line.points_m) {
            put(p.x);
            put(p.y);
            put(p.z);
        }
        for (const glm::dvec2& p : line.paint_m) {
            put(p.x);
            put(p.y);
        }
    }
    if (world.run) {
        for (const glm::dvec3& p : world.run->centreline_m) {
            put(p.x);
            put(p.y);
            put(p.z);
        }
    }
    put(world.sonde.position_m.x);
    put(world.sonde.position_m.y);
    put(world.sonde.position_m.z);
    put(world.sonde.heading_deg);
    put(world.sonde.tilt_deg);
    put(world.start_m.x);
    put(world.start_m.y);
    put(world.habits.lean_deg);
    put(world.habits.lean_toward_deg);
    return text + world.sheet.ticket.number;
}

} // namespace

TEST_CASE(
    "from the start one can walk to the sonde, hold the tip over its peak and plumb points and walk the signal off") {
    std::size_t index = 0;
    for (const Drawn& yard : yards()) {
        if (index++ % 4 != 0) { // a flood a yard takes its time
            continue;
        }
        const field::World& world = yard.world;
        INFO(yard.what);
        const Walked walked(world);
        const glm::dvec2 at = field::plan(world.sonde.position_m);
        const double d = field::depth_m(world);
        for (int heading = 0; heading < 360; heading += 30) {
            for (const double radius : {0.0, 0.5, 0.95}) {
                const glm::dvec2 place = at + radius * field::direction_of(heading);
                REQUIRE(walked.tip_gets_to(place));
                REQUIRE(field::standable(world.yard.width_m, world.yard.length_m, world.yard.areas, place));
            }
        }
        if (world.sonde.tilt_deg < 10.0) { // plumb points of a level sonde at 0.7071 of its depth
            for (const double side : {-1.0, 1.0}) {
                const glm::dvec2 plumb = at + side * 0.7071 * d * field::direction_of(world.sonde.heading_deg);
                REQUIRE(walked.tip_gets_to(plumb));
            }
        }
        REQUIRE(directions_open(walked, at, d) >= 4);
    }
}

TEST_CASE("the operator starts 6 to 14 m from the sonde, and off the road where he can") {
    std::size_t in_street = 0;
    for (const Drawn& yard : yards()) {
        INFO(yard.what);
        const double away = glm::distance(yard.world.start_m, field::plan(yard.world.sonde.position_m));
        REQUIRE(away >= 6.0);
        REQUIRE(away <= (yard.wanted.empty_lawn ? 9.0 : 14.0));
        REQUIRE(yard.world.habits.lean_deg >= 2.0);
        REQUIRE(yard.world.habits.lean_deg <= 8.0);
        for (const field::Area& area : yard.world.yard.areas) {
            in_street +=
                area.kind == field::AreaKind::street && field::contains(area.outline_m, yard.world.start_m) ? 1 : 0;
        }
    }
    CHECK(in_street * 20 < yards().size());
}

TEST_CASE("no two things stand in the same place") {
    for (const Drawn& yard : yards()) {
        const auto& areas = yard.world.yard.areas;
        for (std::size_t i = 0; i < areas.size(); ++i) {
            for (std::size_t j = i + 1; j < areas.size(); ++j) {
                // A corner or the middle of one, 5 mm or more inside the other. All outlines here are convex or
                // square-cornered.
                const auto reaches_into = [](const field::Polygon& a, const field::Polygon& b) {
                    glm::dvec2 middle{0.0};
                    for (std::size_t k = 0; k < a.size(); ++k) {
                        middle += a[k] / static_cast<double>(a.size());
                        const glm::dvec2 half = 0.5 * (a[k] + a[(k + 1) % a.size()]);
                        for (const glm::dvec2& p : {a[k], half}) {
                            if (field::contains(b, p) && field::distance_to_edge_m(b, p) > 0.005) {
                                return true;
                            }
                        }
                    }
                    return field::contains(a, middle) && field::contains(b, middle);
                };
                if (reaches_into(areas[i].outline_m, areas[j].outline_m) ||
                    reaches_into(areas[j].outline_m, areas[i].outline_m)) {
                    FAIL_CHECK(yard.what << ": " << field::name_of(areas[i].kind) << " " << areas[i].name << " and "
                                         << field::name_of(areas[j].kind) << " " << areas[j].name);
                }
            }
        }
    }
}

TEST_CASE("every yard has a street, a house, and all of it within 20 to 60 m a side") {
    for (const Drawn& yard : yards()) {
        INFO(yard.what);
        const field::Yard& ground = yard.world.yard;
        REQUIRE(std::min(ground.width_m, ground.length_m) >= 20.0);
        REQUIRE(std::max(ground.width_m, ground.length_m) <= 60.0);
        const auto count = [&](field::AreaKind kind) {
            return std::ranges::count(ground.areas, kind, &field::Area::kind);
        };
        REQUIRE(count(field::AreaKind::street) >= 1);
        REQUIRE(count(field::AreaKind::house) >= 1);
        REQUIRE(count(field::AreaKind::tree) <= 5);
        for (const field::Area& area : ground.areas) {
            for (const glm::dvec2& p : area.outline_m) {
                REQUIRE(p.x >= 0.0);
                REQUIRE(p.y >= 0.0);
                REQUIRE(p.x <= ground.width_m + 1e-9);
                REQUIRE(p.y <= ground.length_m + 1e-9);
            }
        }
    }
}

TEST_CASE("an empty lawn has nothing on it for 6 m round the sonde") {
    for (const Drawn& yard : yards()) {
        if (!yard.wanted.empty_lawn) {
            continue;
        }
        INFO(yard.what);
        const glm::dvec2 at = field::plan(yard.world.sonde.position_m);
        for (const field::Area& area : yard.world.yard.areas) {
            REQUIRE_FALSE(field::contains(area.outline_m, at));
            REQUIRE(field::distance_to_edge_m(area.outline_m, at) >= 6.0 - 1e-3);
        }
    }
}

TEST_CASE("yards differ in what is in them and in where the street lies, not only in numbers") {
    std::map<std::string, int> furnishings; // how many of each kind of area
    std::set<int> street_sides;
    int corner_lots = 0;
    int garages = 0;
    int ponds = 0;
    int fenced = 0;
    int plain = 0;
    for (const Drawn& yard : yards()) {
        if (yard.what.rfind("fall,", 0) != 0) {
            continue;
        }
        ++plain;
        const field::Yard& ground = yard.world.yard;
        std::map<field::AreaKind, int> kinds;
        int streets = 0;
        for (const field::Area& area : ground.areas) {
            ++kinds[area.kind];
            streets += area.kind == field::AreaKind::street ? 1 : 0;
            garages += area.name == "garage" ? 1 : 0;
        }
        std::string key;
        for (const auto& [kind, count] : kinds) {
            key += std::string(field::name_of(kind)) + std::to_string(count) + ' ';
        }
        ++furnishings[key];
        corner_lots += streets == 2 ? 1 : 0;
        ponds += kinds.contains(field::AreaKind::pond) ? 1 : 0;
        fenced += kinds.contains(field::AreaKind::fence) ? 1 : 0;
        glm::dvec2 middle{0.0};
        for (const glm::dvec2& p : ground.areas.front().outline_m) {
            middle += 0.25 * p;
        }
        const std::array<double, 4> to_side = {middle.y, ground.width_m - middle.x, ground.length_m - middle.y,
                                               middle.x};
        street_sides.insert(static_cast<int>(std::ranges::min_element(to_side) - to_side.begin()));
    }
    MESSAGE(plain << " yards: " << furnishings.size() << " furnishings, " << corner_lots << " corner lots, " << garages
                  << " with a detached garage, " << ponds << " with a pond, " << fenced << " fenced");
    CHECK(furnishings.size() * 5 > static_cast<std::size_t>(plain));
    CHECK(street_sides.size() == 4);
    CHECK(corner_lots * 30 > plain);
    CHECK(corner_lots * 3 < plain);
    CHECK(garages * 30 > plain);
    CHECK(ponds * 30 > plain);
    CHECK(fenced * 4 > plain);
    CHECK(fenced < plain);
}

TEST_CASE("the same seed gives the same yard and another seed another") {
    std::set<std::string> seen;
    for (std::uint64_t seed = 0; seed < 40; ++seed) {
        Wanted wanted;
        wanted.seed = seed;
        const std::string once = serialised(scenarios::generate(wanted));
        CHECK(once == serialised(scenarios::generate(wanted)));
        CHECK(seen.insert(once).second);
    }
}

TEST_CASE("a fixed seed gives a known yard with every compiler") {
    // A change of the generator changes this figure; take the new one over after a look at the yards. It must not
    // differ between compilers, levels of optimisation or C libraries.
    std::string all;
    for (const scenarios::RunShape shape : {scenarios::RunShape::none, scenarios::RunShape::fall,
                                            scenarios::RunShape::steep_branch, scenarios::RunShape::drop}) {
        for (std::uint64_t seed = 100; seed < 110; ++seed) {
            Wanted wanted;
            wanted.seed = seed;
            wanted.shape = shape;
            all += serialised(scenarios::generate(wanted));
        }
    }
    CHECK(sim::stream_of(all) == 14655221651552950125ULL);
}
