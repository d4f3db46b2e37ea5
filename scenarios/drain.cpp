// How the drain falls, and where the sonde comes to lie in it.
#include "scenarios/yard_plan.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

constexpr double least_cover_m = 0.45; // of the centre line, anywhere
constexpr double level_reach_m = 3.2;  // a level drain is level for at least this far on either side
constexpr double from_bend_m = 0.9;    // the sonde lies at least this far from a bend
constexpr double lawn_m = 6.0;         // empty_lawn: this far round the sonde
constexpr double root_half = 0.7071067811865476;

double plan_length(const Route& points) {
    double sum = 0.0;
    for (std::size_t i = 1; i < points.size(); ++i) {
        sum += glm::distance(points[i - 1], points[i]);
    }
    return sum;
}

struct OnRoute {
    glm::dvec2 place{0.0};
    glm::dvec2 direction{0.0};
    double to_bend_m = 0.0; // to the nearer end of this straight piece
};
OnRoute on_route(const Route& points, double s) {
    double before = 0.0;
    for (std::size_t i = 1; i < points.size(); ++i) {
        const double length = glm::distance(points[i - 1], points[i]);
        if (s <= before + length || i + 1 == points.size()) {
            const glm::dvec2 direction = (points[i] - points[i - 1]) / length;
            return {points[i - 1] + (s - before) * direction, direction, std::min(s - before, before + length - s)};
        }
        before += length;
    }
    return {};
}

double chainage_of(const Route& points, const glm::dvec2& place) {
    double before = 0.0;
    double best = 0.0;
    double nearest = 1e9;
    for (std::size_t i = 1; i < points.size(); ++i) {
        const double length = glm::distance(points[i - 1], points[i]);
        const glm::dvec2 direction = (points[i] - points[i - 1]) / length;
        const double t = std::clamp(glm::dot(place - points[i - 1], direction), 0.0, length);
        const double off = glm::distance(place, points[i - 1] + t * direction);
        if (off < nearest) {
            nearest = off;
            best = before + t;
        }
        before += length;
    }
    return best;
}

// How the run falls: level distance against drop, as pieces that begin at a chainage; and one vertical drop at most.
struct Profile {
    struct Piece {
        double from_s = 0.0;
        double slope = 0.0;
    };
    std::vector<Piece> pieces;
    double drop_s = -1.0;
    double drop_m = 0.0;
    double sonde_s = 0.0;
    double in_drop_m = 0.0; // sonde below the drop's upper end
};

double slope_at(const Profile& profile, double s) {
    double slope = 0.0;
    for (const Profile::Piece& piece : profile.pieces) {
        if (piece.from_s <= s + 0.011) { // a station nearer than a centimetre to the last is left out
            slope = piece.slope;
        }
    }
    return slope;
}

// Plan points with z from 0 at the first, and the developed length at which the sonde lies.
struct Laid {
    std::vector<glm::dvec3> points;
    double along_m = 0.0;
};
Laid lay(const Route& route, const Profile& profile) {
    std::vector<double> stations;
    double s = 0.0;
    for (std::size_t i = 0; i < route.size(); ++i) {
        s += i == 0 ? 0.0 : glm::distance(route[i - 1], route[i]);
        stations.push_back(s);
    }
    const double end = stations.back();
    for (const Profile::Piece& piece : profile.pieces) {
        if (piece.from_s != profile.drop_s) {
            stations.push_back(piece.from_s);
        }
    }
    stations.push_back(profile.drop_s);
    std::ranges::sort(stations);
    Laid laid;
    double z = 0.0;
    double before = 0.0;
    double developed = 0.0;
    for (const double at : stations) {
        if (at < 0.0 || at > end + 1e-9 || (!laid.points.empty() && at - before < 0.01 && at != profile.drop_s)) {
            continue; // a centimetre's piece is nothing that is laid
        }
        if (!laid.points.empty()) {
            const double slope = slope_at(profile, before);
            const double lower = z - slope * (at - before);
            if (profile.drop_s < 0.0 && profile.sonde_s >= before && profile.sonde_s < at) {
                laid.along_m = developed + (profile.sonde_s - before) * std::sqrt(1.0 + slope * slope);
            }
            const glm::dvec3 next{on_route(route, at).place, lower};
            developed += glm::distance(laid.points.back(), next);
            z = lower;
            laid.points.push_back(next);
        } else {
            laid.points.emplace_back(route.front(), 0.0);
        }
        before = at;
        if (at == profile.drop_s) {
            laid.along_m = developed + profile.in_drop_m;
            developed += profile.drop_m;
            z -= profile.drop_m;
            laid.points.emplace_back(field::plan(laid.points.back()), z);
        }
    }
    return laid;
}

// Upstream of the sonde a drain may lie flatter than wanted where it would come out of the ground otherwise.
double eased(double slope, double rise_allowed, double length) {
    return length > 0.0 ? std::clamp(rise_allowed / length, 0.0, slope) : slope;
}

struct Falls { // drawn or wanted, as slopes
    double ordinary = 0.02;
    double branch = 0.5;
};

std::optional<Profile> profile_for(const Site& site, const Falls& falls, double s, double end, sim::Draws& draws) {
    const double d = site.depth_m;
    const double head_room = d - least_cover_m - 0.02;
    Profile profile;
    profile.sonde_s = s;
    if (site.wanted.shape == RunShape::steep_branch) {
        const double half = std::clamp(0.55 * d, 0.5, 1.4);
        const double up = std::min(half, 0.9 * head_room / falls.branch);
        if (up < 0.3 || s - up < 0.5 || s + half > end - 0.5) {
            return std::nullopt;
        }
        const double rise = head_room - up * falls.branch;
        profile.pieces = {
            {0.0, eased(falls.ordinary, rise, s - up)}, {s - up, falls.branch}, {s + half, falls.ordinary}};
        return profile;
    }
    if (site.wanted.shape == RunShape::drop) {
        profile.drop_m = to_cm(draws.uniform(1.0, 1.6));
        profile.in_drop_m = std::min(0.5 * profile.drop_m, head_room - 0.02);
        profile.drop_s = s;
        if (profile.in_drop_m < 0.15) {
            return std::nullopt;
        }
        profile.pieces = {{0.0, eased(falls.ordinary, head_room - profile.in_drop_m, s)}, {s, falls.ordinary}};
        return profile;
    }
    if (falls.ordinary == 0.0) {
        const double elsewhere = to_cm(draws.uniform(0.5, 1.5)) / 100.0;
        const double back = std::max(0.0, s - level_reach_m);
        profile.pieces = {{0.0, eased(elsewhere, head_room, back)}, {back, 0.0}, {s + level_reach_m, elsewhere}};
        return profile;
    }
    const double back = std::max(0.0, s - 2.0);
    const double rise = head_room - falls.ordinary * (s - back);
    if (rise < 0.0) {
        return std::nullopt;
    }
    profile.pieces = {{0.0, eased(falls.ordinary, rise, back)}, {back, falls.ordinary}};
    return profile;
}

// Sets the laid pipe at the wanted depth (and place), in the yard's frame.
Drain set_in_yard(const Site& site, const Route& corners, const Laid& laid) {
    const Wanted& wanted = site.wanted;
    Drain drain;
    drain.run = {laid.points, wanted.material, wanted.inside_diameter_m, wanted.wall_m};
    for (glm::dvec3& p : drain.run.centreline_m) {
        p = {site.placement.to_yard(field::plan(p)), p.z};
    }
    drain.along_m = laid.along_m;
    const glm::dvec3 lies = field::sonde_centre_m(drain.run, drain.along_m, wanted.sonde_above_invert_m);
    glm::dvec3 shift{0.0, 0.0, -site.depth_m - lies.z};
    if (wanted.position_m) {
        shift.x = wanted.position_m->x - lies.x;
        shift.y = wanted.position_m->y - lies.y;
    }
    for (glm::dvec3& p : drain.run.centreline_m) {
        p += shift;
    }
    const glm::dvec2 cleanout = site.placement.to_yard(corners.front());
    drain.cleanout_m = cleanout + glm::dvec2{shift.x, shift.y};
    const field::RunAttitude attitude = field::attitude_at(drain.run, drain.along_m);
    drain.sonde = {wanted.frequency_hz, wanted.moment_am2, lies + shift, attitude.heading_deg, attitude.tilt_deg};
    drain.sonde.position_m.z = -site.depth_m;
    if (wanted.position_m) {
        drain.sonde.position_m.x = wanted.position_m->x;
        drain.sonde.position_m.y = wanted.position_m->y;
    }
    if (wanted.heading_deg && wanted.shape != RunShape::drop) {
        const double h = std::fmod(*wanted.heading_deg, 360.0);
        drain.sonde.heading_deg = h < 0.0 ? h + 360.0 : h;
    }
    return drain;
}

// Nothing in the way that cannot be taken out: cheap, before anything is walked.
bool spot_will_do(const Site& site, const glm::dvec2& lot_place) {
    const Lot& lot = site.lot;
    const double round = site.wanted.empty_lawn ? lawn_m : 1.2;
    if (!in_lot(lot, lot_place, 1.3) || lot_place.y < lot.street_m + (site.wanted.empty_lawn ? lawn_m : 0.9)) {
        return false;
    }
    const field::Polygon spot = {lot_place, lot_place + glm::dvec2{1e-4, 0.0}, lot_place + glm::dvec2{0.0, 1e-4}};
    return std::ranges::all_of(lot.areas, [&](const field::Area& area) {
        switch (area.kind) {
        case field::AreaKind::house:
        case field::AreaKind::fence:
            return apart(spot, area.outline_m, round);
        case field::AreaKind::street:
            return apart(spot, area.outline_m, site.wanted.empty_lawn ? lawn_m : 0.8);
        case field::AreaKind::drive:
            return !site.wanted.empty_lawn || apart(spot, area.outline_m, lawn_m);
        default:
            return true;
        }
    });
}

Falls draw_falls(const Wanted& wanted, sim::Draws& draws) {
    Falls falls;
    const double percent = to_cm(draws.uniform(1.0, 3.0));
    const double branch_deg = std::floor(draws.uniform(20.0, 40.0) + 0.5);
    falls.ordinary = wanted.fall_percent.value_or(percent) / 100.0;
    falls.branch = std::tan(sim::radians(wanted.branch_tilt_deg.value_or(wanted.tilt_deg.value_or(branch_deg))));
    if (wanted.shape == RunShape::fall && wanted.tilt_deg && !wanted.fall_percent) {
        falls.ordinary = std::tan(sim::radians(std::abs(*wanted.tilt_deg)));
    }
    return falls;
}

// A place for the sonde on this route, laid to its depth; empty when this draw does not fit.
std::optional<Drain> draw_sonde(const Site& site, const Route& corners, const Falls& falls,
                                std::optional<glm::dvec2> lot_place, sim::Draws& draws) {
    const Route points = with_sweeps(corners);
    const double end = plan_length(points);
    const double ahead = site.wanted.sonde_to_lens_m + site.wanted.lens_to_fault_m;
    const double most = end - 1.0 - ahead;
    const double s = lot_place ? chainage_of(points, *lot_place) : to_cm(draws.uniform(2.2, std::max(2.3, most)));
    const OnRoute at = on_route(points, s);
    const bool steep = site.wanted.shape == RunShape::steep_branch;
    const double straight = steep ? std::clamp(0.55 * site.depth_m, 0.5, 1.4) : from_bend_m;
    if (s > most || s < 1.2 || at.to_bend_m < straight || !spot_will_do(site, at.place)) {
        return std::nullopt;
    }
    const std::optional<Profile> profile = profile_for(site, falls, s, end, draws);
    if (!profile) {
        return std::nullopt;
    }
    return set_in_yard(site, corners, lay(points, *profile));
}

} // namespace

bool place_drain(Site& site, std::string& why) {
    sim::Draws draws(site.seed, "yard.drain");
    const Wanted& wanted = site.wanted;
    const Falls falls = draw_falls(wanted, draws);
    std::optional<glm::dvec2> place;
    if (wanted.position_m) {
        place = site.placement.to_lot(*wanted.position_m);
        if (!spot_will_do(site, *place)) {
            why = "house, fence, street or edge is too near to the wanted place";
            return false;
        }
    }
    why = "no drain could be laid from the house to the main past a place that will do";
    for (int i = 0; i < 120; ++i) {
        Route route;
        std::optional<glm::dvec2> at = place;
        if (!place && !wanted.heading_deg) {
            route = draw_route(site.lot, draws);
        } else {
            if (!at) {
                at = glm::dvec2{to_cm(draws.uniform(2.0, site.lot.width_m - 2.0)),
                                to_cm(draws.uniform(site.lot.street_m + 1.0, site.lot.depth_m - 2.0))};
            }
            static constexpr std::array<glm::dvec2, 5> usual = {
                glm::dvec2{0.0, -1.0}, {root_half, -root_half}, {-root_half, -root_half}, {1.0, 0.0}, {-1.0, 0.0}};
            const glm::dvec2 drawn = usual[static_cast<std::size_t>(draws.integer(0, 4))];
            const glm::dvec2 direction =
                wanted.heading_deg ? site.placement.turned_to_lot(field::direction_of(*wanted.heading_deg)) : drawn;
            const double straight = wanted.shape == RunShape::steep_branch ? 2.1 : 1.4;
            route = route_through(site.lot, *at, direction, straight, straight, draws);
        }
        if (route.empty()) {
            continue;
        }
        for (int k = 0; k < (at ? 1 : 6); ++k) {
            site.drain = draw_sonde(site, route, falls, at, draws);
            if (site.drain) {
                site.sonde = site.drain->sonde;
                return true;
            }
        }
    }
    return false;
}

bool place_bare_sonde(Site& site, std::string& why) {
    const Wanted& wanted = site.wanted;
    sim::Draws draws(site.seed, "yard.sonde");
    const double heading = std::floor(draws.uniform(0.0, 360.0));
    for (int i = 0; i < 40; ++i) {
        const glm::dvec2 drawn{to_cm(draws.uniform(2.0, site.lot.width_m - 2.0)),
                               to_cm(draws.uniform(site.lot.street_m + 1.0, site.lot.depth_m - 2.0))};
        const glm::dvec2 place = wanted.position_m ? site.placement.to_lot(*wanted.position_m) : drawn;
        if (spot_will_do(site, place)) {
            const glm::dvec2 at = wanted.position_m.value_or(site.placement.to_yard(place));
            site.sonde = {wanted.frequency_hz,
                          wanted.moment_am2,
                          {at, -site.depth_m},
                          wanted.heading_deg.value_or(heading),
                          wanted.tilt_deg.value_or(0.0)};
            return true;
        }
        if (wanted.position_m) {
            break;
        }
    }
    why = "house, fence, street or edge is too near to the wanted place";
    return false;
}

bool clear_round_sonde(Site& site, std::string& why) {
    const double round = site.wanted.empty_lawn ? lawn_m + 0.01 : 1.3;
    const glm::dvec2 at = field::plan(site.sonde.position_m);
    const field::Polygon spot = {at, at + glm::dvec2{1e-4, 0.0}, at + glm::dvec2{0.0, 1e-4}};
    for (std::size_t i = site.yard.areas.size(); i-- > 0;) {
        const field::Area& area = site.yard.areas[i];
        const bool in_way = !apart(spot, area.outline_m, round);
        const bool paving = field::walkable(area.kind);
        if (!in_way || (paving && !site.wanted.empty_lawn)) {
            continue;
        }
        if (area.kind == field::AreaKind::house || area.kind == field::AreaKind::fence ||
            area.kind == field::AreaKind::street || area.kind == field::AreaKind::drive) {
            why = "what cannot be taken out stands too near to the sonde";
            return false;
        }
        site.yard.areas.erase(site.yard.areas.begin() + static_cast<std::ptrdiff_t>(i));
        site.lot.areas.erase(site.lot.areas.begin() + static_cast<std::ptrdiff_t>(i));
    }
    return true;
}

} // namespace sondeyard::scenarios
