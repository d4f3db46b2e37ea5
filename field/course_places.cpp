// True places over a sonde, found by walking along its track.
#include "field/course.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

// Along the track at x, z over the sonde: the field's level and upright parts, in any unit.
struct OnTrack {
    double x = 0.0;
    double flat = 0.0;
    double up = 0.0;
};

double share_between(double a, double b) { return a == b ? 0.5 : a / (a - b); } // of the way to where it is zero

} // namespace

// Jackson's dipole, in the plane of axis and plumb: B ~ 3 r (m.r) / R^5 - m / R^3 with m towards the raised end.
TruePlaces true_places(const World& world, const SondeTruth& sonde) {
    TruePlaces places;
    places.sonde_m = plan(sonde.position_m);
    places.depth_m = depth_m(world, sonde.position_m);
    places.ahead = direction_of(sonde.heading_deg + (sonde.tilt_deg > 0.0 ? 180.0 : 0.0));
    const double c = std::cos(sim::radians(std::abs(sonde.tilt_deg)));
    const double s = std::sin(sim::radians(std::abs(sonde.tilt_deg)));
    const double step_m = places.depth_m / 400.0;
    const auto at = [&](int i) {
        const double x = step_m * i;
        const glm::dvec2 place = places.sonde_m + x * places.ahead;
        const double z = height_m(world.yard.terrain, place) + world.receiver.tip_to_antenna_m - sonde.position_m.z;
        const double square = x * x + z * z;
        const double along = 3.0 * (x * c + z * s) / square;
        const double fade = 1.0 / (square * std::sqrt(square));
        return OnTrack{x, (along * x - c) * fade, (along * z - s) * fade};
    };
    const auto place = [&](double x) { return places.sonde_m + x * places.ahead; };
    constexpr int reach = 900; // 2.25 depths: beyond the far plumb point up to 50 deg of tilt
    double strongest = -1.0;
    double nearest_level = 1e9;
    OnTrack before_last = at(-reach - 1);
    OnTrack last = at(-reach);
    for (int i = 1 - reach; i <= reach; ++i) {
        const OnTrack now = at(i);
        if (const double power = now.flat * now.flat + now.up * now.up; power > strongest) {
            strongest = power;
            places.peak_m = place(now.x);
        }
        if ((last.up < 0.0) != (now.up < 0.0)) {
            const double x = last.x + share_between(last.up, now.up) * (now.x - last.x);
            if (std::abs(x) < nearest_level) {
                nearest_level = std::abs(x);
                places.level_m = place(x);
            }
        }
        if ((last.flat < 0.0) != (now.flat < 0.0)) {
            places.plumb_m.push_back(place(last.x + share_between(last.flat, now.flat) * (now.x - last.x)));
        }
        // Between the plumb points the level part points one way, beyond them the other: its tops there are the ghosts.
        if (last.flat > before_last.flat && last.flat >= now.flat && last.flat > 0.0) {
            places.ghost_m.push_back(place(last.x));
        }
        before_last = last;
        last = now;
    }
    return places;
}

} // namespace sondeyard::field
