#include "field/terrain.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double steepest_slope_percent = 30.0;
constexpr double highest_step_m = 3.0;
constexpr double widest_ramp_m = 20.0;
constexpr double highest_pad_m = 0.5;
constexpr double small_relief_m = 2.0;

// C libraries differ in the last digit of a sine; this grid takes it out, and makes the four winds exact.
glm::dvec2 steady_direction(double heading_deg) {
    const glm::dvec2 d = direction_of(heading_deg);
    return {std::nearbyint(d.x * 1e9) * 1e-9, std::nearbyint(d.y * 1e9) * 1e-9};
}

double share_up(double across, double ramp_m) {
    return ramp_m > 0.0 ? std::clamp(across / ramp_m + 0.5, 0.0, 1.0) : (across >= 0.0 ? 1.0 : 0.0);
}

// Directions worked out once, for many places.
class Surface {
public:
    explicit Surface(const Terrain& terrain)
        : terrain_(terrain), fall_(terrain.slope_percent / 100.0 * steady_direction(terrain.slope_toward_deg)) {
        up_.reserve(terrain.steps.size());
        for (const GroundStep& step : terrain.steps) {
            up_.push_back(steady_direction(step.toward_deg));
        }
        zero_ = bare(terrain.zero_m) + pads(terrain.zero_m);
    }
    double height(const glm::dvec2& p) const { return bare(p) + pads(p) - zero_; }
    double height_without_pads(const glm::dvec2& p) const { return bare(p) - zero_; }

private:
    double bare(const glm::dvec2& p) const {
        double z = -glm::dot(fall_, p);
        for (std::size_t i = 0; i < up_.size(); ++i) {
            const GroundStep& step = terrain_.steps[i];
            z += step.rise_m * share_up(glm::dot(p - step.place_m, up_[i]), step.ramp_m);
        }
        return z;
    }
    double pads(const glm::dvec2& p) const {
        double z = 0.0;
        for (const Pad& pad : terrain_.pads) {
            z += contains(pad.outline_m, p) ? pad.rise_m : 0.0;
        }
        return z;
    }

    const Terrain& terrain_;
    glm::dvec2 fall_;
    std::vector<glm::dvec2> up_;
    double zero_ = 0.0;
};

} // namespace

bool is_flat(const Terrain& terrain) {
    return terrain.slope_percent == 0.0 && terrain.steps.empty() && terrain.pads.empty();
}

double height_m(const Terrain& terrain, const glm::dvec2& place_m) {
    return is_flat(terrain) ? 0.0 : Surface(terrain).height(place_m);
}

double height_without_pads_m(const Terrain& terrain, const glm::dvec2& place_m) {
    return is_flat(terrain) ? 0.0 : Surface(terrain).height_without_pads(place_m);
}

Terrain counted_from(Terrain terrain, const glm::dvec2& place_m) {
    terrain.zero_m = place_m;
    return terrain;
}

bool is_wall(const GroundStep& step) {
    return std::abs(step.rise_m) > highest_stride_m && std::abs(step.rise_m) > step.ramp_m;
}

double across_m(const GroundStep& step, const glm::dvec2& place_m) {
    return glm::dot(place_m - step.place_m, steady_direction(step.toward_deg));
}

bool at_wall(const Terrain& terrain, const glm::dvec2& place_m, double radius_m) {
    return std::ranges::any_of(terrain.steps, [&](const GroundStep& step) {
        return is_wall(step) && std::abs(across_m(step, place_m)) < 0.5 * step.ramp_m + radius_m;
    });
}

std::optional<std::pair<glm::dvec2, glm::dvec2>> line_in_yard(const GroundStep& step, double shift_m, double width_m,
                                                              double length_m) {
    const glm::dvec2 up = steady_direction(step.toward_deg);
    const glm::dvec2 along{up.y, -up.x};
    const glm::dvec2 place = step.place_m + shift_m * up;
    double from = -1e3;
    double to = 1e3;
    for (const auto& [at, rate, side] :
         {std::tuple{place.x, along.x, width_m}, std::tuple{place.y, along.y, length_m}}) {
        if (rate == 0.0) {
            if (at < 0.0 || at > side) {
                return std::nullopt;
            }
            continue;
        }
        const double one = -at / rate;
        const double other = (side - at) / rate;
        from = std::max(from, std::min(one, other));
        to = std::min(to, std::max(one, other));
    }
    if (from >= to) {
        return std::nullopt;
    }
    return std::pair{place + from * along, place + to * along};
}

// ---- Contours ----

namespace {

struct Corner {
    glm::dvec2 place;
    double z;
};

// A level through a triangle: where it crosses two of the three sides.
void cut(const std::array<Corner, 3>& t, double interval_m, std::vector<ContourPiece>& out) {
    const auto [low, high] = std::minmax({t[0].z, t[1].z, t[2].z});
    const auto last = static_cast<int>(std::floor(high / interval_m));
    for (auto k = static_cast<int>(std::floor(low / interval_m)) + 1; k <= last; ++k) { // low < level <= high
        const double level = k * interval_m;
        std::array<glm::dvec2, 2> ends{};
        std::size_t found = 0;
        for (std::size_t i = 0; i < 3 && found < 2; ++i) {
            const Corner& a = t[i];
            const Corner& b = t[(i + 1) % 3];
            if ((a.z < level) != (b.z < level)) {
                ends[found++] = a.place + (b.place - a.place) * ((level - a.z) / (b.z - a.z));
            }
        }
        if (found == 2) {
            out.push_back({level, ends[0], ends[1]});
        }
    }
}

} // namespace

// Each cell as two triangles: no saddles, and a plane is cut exactly.
std::vector<ContourPiece> contours(const Terrain& terrain, const glm::dvec2& low_m, const glm::dvec2& high_m,
                                   double cell_m, double interval_m) {
    std::vector<ContourPiece> out;
    const glm::dvec2 size = high_m - low_m;
    if (is_flat(terrain) || !(cell_m > 0.0) || !(interval_m > 0.0) || !(size.x > 0.0) || !(size.y > 0.0)) {
        return out;
    }
    const Surface surface(terrain);
    const int columns = std::max(1, static_cast<int>(std::ceil(size.x / cell_m)));
    const int rows = std::max(1, static_cast<int>(std::ceil(size.y / cell_m)));
    const auto node = [&](int x, int y) {
        const glm::dvec2 p = low_m + size * glm::dvec2{static_cast<double>(x) / columns, static_cast<double>(y) / rows};
        return Corner{p, surface.height_without_pads(p)};
    };
    std::vector<Corner> below;
    std::vector<Corner> above;
    for (int x = 0; x <= columns; ++x) {
        above.push_back(node(x, 0));
    }
    for (int y = 1; y <= rows; ++y) {
        below.swap(above);
        above.clear();
        for (int x = 0; x <= columns; ++x) {
            above.push_back(node(x, y));
        }
        for (std::size_t x = 0; x + 1 < above.size(); ++x) {
            cut({below[x], below[x + 1], above[x + 1]}, interval_m, out);
            cut({below[x], above[x + 1], above[x]}, interval_m, out);
        }
    }
    return out;
}

double relief_m(const Terrain& terrain, double width_m, double length_m) {
    if (is_flat(terrain)) {
        return 0.0;
    }
    const Surface surface(terrain);
    double low = 1e9;
    double high = -1e9;
    constexpr int parts = 32;
    for (int i = 0; i <= parts; ++i) {
        for (int k = 0; k <= parts; ++k) {
            const double z = surface.height_without_pads({width_m * i / parts, length_m * k / parts});
            low = std::min(low, z);
            high = std::max(high, z);
        }
    }
    return high - low;
}

double contour_interval_m(double relief_m) { return relief_m <= small_relief_m ? 0.25 : 0.5; }

// ---- Faults ----

std::vector<std::string> faults(const Terrain& terrain, double width_m, double length_m) {
    std::vector<std::string> found;
    const auto in_range = [](double value, double low, double high) { return value >= low && value <= high; };
    if (!in_range(terrain.slope_percent, 0.0, steepest_slope_percent) || !std::isfinite(terrain.slope_toward_deg)) {
        found.push_back(fmt::format("the ground's slope is {} % toward {} deg; 0 to {} % is allowed",
                                    terrain.slope_percent, terrain.slope_toward_deg, steepest_slope_percent));
    }
    if (!std::isfinite(terrain.zero_m.x) || !std::isfinite(terrain.zero_m.y)) {
        found.emplace_back("the place where the ground is z = 0 is no number");
    }
    for (const GroundStep& step : terrain.steps) {
        if (!in_range(step.rise_m, -highest_step_m, highest_step_m) || !in_range(step.ramp_m, 0.0, widest_ramp_m) ||
            !std::isfinite(step.toward_deg)) {
            found.push_back(
                fmt::format("a step of the ground rises {} m over {} m; up to {} m over 0 to {} m is allowed",
                            step.rise_m, step.ramp_m, highest_step_m, widest_ramp_m));
        } else if (!(in_range(step.place_m.x, 0.0, width_m) && in_range(step.place_m.y, 0.0, length_m))) {
            found.push_back(fmt::format("a step of the ground stands at ({}, {}), outside the yard", step.place_m.x,
                                        step.place_m.y));
        }
    }
    for (const Pad& pad : terrain.pads) {
        if (pad.outline_m.size() < 3) {
            found.emplace_back("the outline of a raised pad has fewer than three corners");
        } else if (!in_range(pad.rise_m, -highest_pad_m, highest_pad_m)) {
            found.push_back(fmt::format("a pad is raised by {} m; up to {} m is allowed", pad.rise_m, highest_pad_m));
        }
    }
    return found;
}

} // namespace sondeyard::field
