#include "field/coach_reading.hpp"

#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <cmath>

namespace sondeyard::field::coaching {

namespace {

std::optional<double> difference(const std::optional<double>& a, const std::optional<double>& b) {
    return a && b ? std::optional(*a - *b) : std::nullopt;
}

struct Lean {
    double forward_deg = 0.0;
    double right_deg = 0.0;
};

// A reading says how far the mast leaned, the sounding taken at the same moment says which way.
std::optional<Lean> lean_of(const Case& c, const Reading& r) {
    constexpr std::int64_t same_moment_ticks = 45;
    constexpr double same_place_m = 0.03;
    const auto age = [&](const Sounding& s) { return std::abs(s.tick - r.tick); };
    const Sounding* nearest = nullptr;
    for (const Sounding& s : c.state.soundings) {
        if (age(s) <= same_moment_ticks && glm::distance(plan(s.tip_m), r.place_m) <= same_place_m &&
            (nearest == nullptr || age(s) < age(*nearest))) {
            nearest = &s;
        }
    }
    if (nearest == nullptr) {
        return std::nullopt;
    }
    const glm::dvec3 up(nearest->mast[2]);
    const glm::dvec2 forward = direction_of(r.facing_deg);
    const glm::dvec2 right = direction_of(r.facing_deg + 90.0);
    return Lean{sim::degrees(std::atan2(glm::dot(plan(up), forward), up.z)),
                sim::degrees(std::atan2(glm::dot(plan(up), right), up.z))};
}

} // namespace

std::optional<double> ReadOtherwise::place_makes_m() const { return difference(plumb_m, true_m); }
std::optional<double> ReadOtherwise::lean_makes_m() const { return difference(as_held_m, plumb_m); }

ReadOtherwise read_otherwise(const Case& c, const Reading& r) {
    const sim::Scene alone{{c.scene.emissions.front()}, {}};
    const Terrain& terrain = c.setting.world.yard.terrain;
    const auto read = [&](const glm::dvec2& place_m, double facing_deg, const Lean& lean) {
        const sim::Pose pose{
            {place_m, height_m(terrain, place_m) + r.tip_height_m}, facing_deg, lean.forward_deg, lean.right_deg};
        const sim::AntennaSignals signals =
            sim::antenna_signals_t(c.setting.instrument, pose, alone, c.sonde.frequency_hz, r.tick, tick_s, true);
        return sim::measure(c.setting.instrument, signals, c.sonde.frequency_hz, sim::lean_deg(pose),
                            sim::CoilAttitude::level)
            .depth_m;
    };
    ReadOtherwise other;
    other.true_m = height_m(terrain, r.place_m) + r.tip_height_m - c.sonde.position_m.z;
    other.plumb_m = read(r.place_m, r.facing_deg, {});
    other.along_m = read(r.place_m, c.sonde.heading_deg, {});
    if (const std::optional<Lean> lean = lean_of(c, r)) {
        other.as_held_m = read(r.place_m, r.facing_deg, *lean);
        other.turned_m = read(r.place_m, r.facing_deg + 180.0, *lean);
    }
    return other;
}

} // namespace sondeyard::field::coaching
