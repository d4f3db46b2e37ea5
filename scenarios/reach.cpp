#include "scenarios/yard_plan.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

constexpr double cell_m = 0.25;
constexpr double arm_m = 0.75; // shorter than the real reach: the tip must be set down with care there

// Twelve directions, 30 deg apart, written out so that they are the same everywhere.
constexpr double half_root_3 = 0.8660254037844386;
constexpr std::array<glm::dvec2, 12> clock = {glm::dvec2{0.0, 1.0}, {0.5, half_root_3},   {half_root_3, 0.5},
                                              {1.0, 0.0},           {half_root_3, -0.5},  {0.5, -half_root_3},
                                              {0.0, -1.0},          {-0.5, -half_root_3}, {-half_root_3, -0.5},
                                              {-1.0, 0.0},          {-half_root_3, 0.5},  {-0.5, half_root_3}};

glm::dvec2 cell_centre(int ix, int iy) { return {(ix + 0.5) * cell_m, (iy + 0.5) * cell_m}; }

// Where the field of a dipole stands plumb on the ground, and where it lies level, along its heading. Out of the two
// components of the dipole field (Jackson, ch. 5) with t = tan(tilt), in units of the depth:
//     plumb: 2 x^2 - 3 t x - 1 = 0        level: t x^2 + 3 x - 2 t = 0
struct Spots {
    double near_plumb = 0.0;
    double far_plumb = 0.0;
    double level = 0.0;
};

Spots spots_of(double tilt_deg) {
    const double t = std::tan(std::min(std::abs(tilt_deg), 80.0) * 0.017453292519943295);
    const double root = std::sqrt(9.0 * t * t + 8.0);
    return {(3.0 * t - root) / 4.0, (3.0 * t + root) / 4.0,
            t < 1e-6 ? 0.0 : (std::sqrt(9.0 + 8.0 * t * t) - 3.0) / (2.0 * t)};
}

bool room_to_stand(const Site& site, const glm::dvec2& centre) {
    for (const double radius : {0.0, 0.5, 0.95}) {
        for (const glm::dvec2& direction : clock) {
            const glm::dvec2 place = centre + radius * direction;
            if (!field::standable(site.yard, place)) {
                return false;
            }
        }
    }
    return true;
}

bool falls_off_four_ways(const Ground& ground, const glm::dvec2& peak, double depth_m) {
    std::array<bool, 12> open{};
    for (std::size_t i = 0; i < clock.size(); ++i) {
        open[i] = ground.tip_gets_to(peak + depth_m * clock[i]) && ground.tip_gets_to(peak + 1.25 * depth_m * clock[i]);
    }
    for (std::size_t first = 0; first < 2; ++first) { // greedy from two starting points is exact enough on a clock
        int count = 0;
        std::size_t i = first;
        while (i < first + 11) {
            if (open[i % 12]) {
                ++count;
                i += 2;
            } else {
                ++i;
            }
        }
        if (count >= 4) {
            return true;
        }
    }
    return false;
}

} // namespace

Ground::Ground(const field::Yard& yard, const glm::dvec2& from_m)
    : yard_(yard), nx_(static_cast<int>(yard.width_m / cell_m)), ny_(static_cast<int>(yard.length_m / cell_m)),
      state_(static_cast<std::size_t>(nx_) * static_cast<std::size_t>(ny_), 1) {
    const auto each_cell = [&](const Box& box, const auto& visit) {
        const int x1 = std::min(nx_ - 1, static_cast<int>(box.u1 / cell_m) + 1);
        const int y1 = std::min(ny_ - 1, static_cast<int>(box.v1 / cell_m) + 1);
        for (int iy = std::max(0, static_cast<int>(box.v0 / cell_m) - 1); iy <= y1; ++iy) {
            for (int ix = std::max(0, static_cast<int>(box.u0 / cell_m) - 1); ix <= x1; ++ix) {
                visit(state_[index(ix, iy)], cell_centre(ix, iy));
            }
        }
    };
    for (int ix = 0; ix < nx_; ++ix) { // the outermost cells lie nearer to the edge than a body is wide
        state_[index(ix, 0)] = state_[index(ix, ny_ - 1)] = 0;
    }
    for (int iy = 0; iy < ny_; ++iy) {
        state_[index(0, iy)] = state_[index(nx_ - 1, iy)] = 0;
    }
    for (const field::Area& area : yard.areas) {
        if (!field::walkable(area.kind)) {
            const std::vector<field::Area> alone = {area};
            each_cell(bounds(area.outline_m), [&](std::uint8_t& state, const glm::dvec2& place) {
                if (state != 0 && !field::standable(yard.width_m, yard.length_m, alone, place)) {
                    state = 0;
                }
            });
        }
    }
    if (std::ranges::any_of(yard.terrain.steps, field::is_wall)) {
        for (int iy = 0; iy < ny_; ++iy) {
            for (int ix = 0; ix < nx_; ++ix) {
                if (field::at_wall(yard.terrain, cell_centre(ix, iy), field::body_radius_m)) {
                    state_[index(ix, iy)] = 0;
                }
            }
        }
    }
    const int start = cell(from_m);
    if (start < 0 || state_[static_cast<std::size_t>(start)] == 0) {
        return;
    }
    std::vector<int> todo = {start};
    state_[static_cast<std::size_t>(start)] = 2;
    while (!todo.empty()) {
        const int at = todo.back();
        todo.pop_back();
        const int ix = at % nx_;
        const int iy = at / nx_;
        const auto step = [&](int x, int y) {
            if (x >= 0 && y >= 0 && x < nx_ && y < ny_) {
                std::uint8_t& state = state_[index(x, y)];
                if (state == 1) {
                    state = 2;
                    todo.push_back(y * nx_ + x);
                }
            }
        };
        step(ix + 1, iy);
        step(ix - 1, iy);
        step(ix, iy + 1);
        step(ix, iy - 1);
    }
}

int Ground::cell(const glm::dvec2& place_m) const {
    if (place_m.x < 0.0 || place_m.y < 0.0) {
        return -1;
    }
    const int ix = static_cast<int>(place_m.x / cell_m);
    const int iy = static_cast<int>(place_m.y / cell_m);
    return ix < nx_ && iy < ny_ ? iy * nx_ + ix : -1;
}

bool Ground::walked(const glm::dvec2& place_m) const {
    const int at = cell(place_m);
    return at >= 0 && state_[static_cast<std::size_t>(at)] == 2 && field::standable(yard_, place_m);
}

bool Ground::tip_gets_to(const glm::dvec2& place_m) const {
    if (!field::tip_may_be(yard_.width_m, yard_.length_m, yard_.areas, place_m)) {
        return false;
    }
    const int reach = static_cast<int>(arm_m / cell_m);
    for (int dy = -reach; dy <= reach; ++dy) {
        for (int dx = -reach; dx <= reach; ++dx) {
            const glm::dvec2 feet = place_m + cell_m * glm::dvec2{dx, dy};
            const int at = dx * dx + dy * dy <= reach * reach ? cell(feet) : -1;
            if (at >= 0 && state_[static_cast<std::size_t>(at)] == 2) {
                return true;
            }
        }
    }
    return false;
}

bool Ground::straight_walk(const glm::dvec2& a, const glm::dvec2& b) const {
    const int steps = static_cast<int>(glm::distance(a, b) / 0.2) + 1;
    for (int i = 0; i <= steps; ++i) {
        const int at = cell(a + (b - a) * (static_cast<double>(i) / steps));
        if (at < 0 || state_[static_cast<std::size_t>(at)] != 2) {
            return false;
        }
    }
    return true;
}

bool workable(const Site& site, const Ground& ground, std::string& why) {
    const field::SondeTruth& sonde = site.sonde;
    const glm::dvec2 place = field::plan(sonde.position_m);
    const double d = field::height_m(site.yard.terrain, place) - sonde.position_m.z;
    if (!room_to_stand(site, place)) {
        why = "there is no room to stand round the sonde";
        return false;
    }
    const double sign = sonde.tilt_deg < 0.0 ? -1.0 : 1.0;
    const glm::dvec2 ahead = sign * field::direction_of(sonde.heading_deg);
    const bool on_end = std::abs(sonde.tilt_deg) > 75.0;
    if (!on_end) {
        const Spots spots = spots_of(sonde.tilt_deg);
        std::vector<double> at = {-0.25, 0.25, spots.near_plumb, spots.level};
        if (std::abs(sonde.tilt_deg) < 25.0) {
            at.push_back(spots.far_plumb);
        }
        if (!std::ranges::all_of(at, [&](double x) { return ground.tip_gets_to(place + x * d * ahead); })) {
            why = "peak or plumb points cannot be reached";
            return false;
        }
    }
    if (!falls_off_four_ways(ground, place, d)) {
        why = "the signal cannot be walked off in four directions";
        return false;
    }
    return true;
}

bool choose_start(const Site& site, const Ground& ground, field::World& world) {
    sim::Draws draws(site.seed, "yard.start");
    const glm::dvec2 sonde = field::plan(site.sonde.position_m);
    const double farthest = site.wanted.empty_lawn ? 9.0 : 14.0;
    bool found = false;
    for (int i = 0; i < 160; ++i) {
        const glm::dvec2 place{to_cm(sonde.x + draws.uniform(-farthest, farthest)),
                               to_cm(sonde.y + draws.uniform(-farthest, farthest))};
        const double away = glm::distance(place, sonde);
        if (away < 6.0 || away > farthest || !ground.walked(place)) {
            continue;
        }
        const bool in_street = std::ranges::any_of(site.yard.areas, [&](const field::Area& area) {
            return area.kind == field::AreaKind::street && field::contains(area.outline_m, place);
        });
        const bool straight = !in_street && ground.straight_walk(place, sonde); // off the road, nothing in the way
        if (straight || !found) {
            world.start_m = place;
            found = true;
        }
        if (straight) {
            break;
        }
    }
    if (!found) {
        return false;
    }
    const glm::dvec2 to_centre = glm::dvec2{0.5 * site.yard.width_m, 0.5 * site.yard.length_m} - world.start_m;
    const double facing = field::heading_of(glm::length(to_centre) > 0.1 ? to_centre : sonde - world.start_m);
    const double turned = std::floor(facing + draws.uniform(-25.0, 25.0) + 0.5);
    world.start_facing_deg = turned < 0.0 ? turned + 360.0 : turned >= 360.0 ? turned - 360.0 : turned;
    return true;
}

} // namespace sondeyard::scenarios
