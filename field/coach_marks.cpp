// Findings from the marks: what was taken for the sonde, and which spot for which.
#include "field/coach_case.hpp"
#include "field/debrief_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace sondeyard::field::coaching {

namespace {

// ---- Another source ----

struct Source {
    std::string name;
    double off_m = 0.0; // of the locate, in plan
    double own_dbpt = 0.0;
};

double dbpt_of(const sim::Phasor3& field) { return sim::dbpt(std::max(sim::magnitude(field), 1e-15)); }

std::string owned_line(const BuriedLine& line) {
    return fmt::format("the {} line of {}", name_of(line.kind), line.owner.empty() ? "the property" : line.owner);
}

// The nearest other source of the frequency listened to, as near as its own field reaches.
std::optional<Source> source_at(const Case& c, const Mark& mark, const glm::dvec3& antenna_m) {
    const World& world = c.setting.world;
    std::optional<Source> nearest;
    const auto offer = [&](std::string name, double off_m, double reach_m, const sim::Phasor3& field) {
        if (off_m <= reach_m && off_m < c.off_m && (!nearest || off_m < nearest->off_m)) {
            nearest = Source{std::move(name), off_m, dbpt_of(field)};
        }
    };
    const auto listened_to = [&](double hz) { return std::abs(hz - mark.frequency_hz) < same_frequency_hz; };
    for (std::size_t i = 0; i < world.other_sondes.size(); ++i) {
        const SondeTruth& other = world.other_sondes[i].sonde;
        if (listened_to(other.frequency_hz)) {
            offer("another crew's sonde", glm::distance(mark.place_m, plan(other.position_m)),
                  transmitter_reach_share * depth_m(world, other.position_m),
                  sim::emission_field_t(c.scene.emissions[1 + i], antenna_m));
        }
    }
    const sim::Emission& own = c.scene.emissions.front();
    std::size_t bonded = 0;
    for (const BuriedLine& line : world.yard.lines) {
        const std::vector<glm::dvec2> in_plan = plan(line.points_m);
        const double off_m = distance_to_line_m(mark.place_m, in_plan);
        const double down_m = std::max(antenna_m.z - line.points_m.front().z, 0.0);
        const double reach_m = std::max(line_reach_m, line_reach_share * down_m);
        if (line.connection == LineConnection::bonded && bonded < own.currents.size()) {
            const sim::LineCurrent& induced = own.currents[bonded++];
            if (listened_to(own.frequency_hz)) {
                offer(owned_line(line), off_m, reach_m, sim::currents_field_t({induced}, antenna_m));
            }
        }
        if (line.clamp_current_a > 0.0 && listened_to(line.clamp_frequency_hz)) {
            offer(owned_line(line) + ", which carries a transmitter's current", off_m, reach_m,
                  sim::currents_field_t({{line.points_m, line.clamp_current_a}}, antenna_m));
        }
    }
    return nearest;
}

} // namespace

bool add_coupling_finding(const Case& c, Findings& out) {
    if (!c.locate_judged || c.position_lost <= 0.0) {
        return false;
    }
    const World& world = c.setting.world;
    const glm::dvec3 antenna_m{c.locate->place_m,
                               height_m(world.yard.terrain, c.locate->place_m) + world.receiver.tip_to_antenna_m};
    const std::optional<Source> source = source_at(c, *c.locate, antenna_m);
    if (!source) {
        return false;
    }
    sim::Emission sonde = c.scene.emissions.front();
    sonde.currents.clear();
    const bool tuned = std::abs(sonde.frequency_hz - c.locate->frequency_hz) < same_frequency_hz;
    const double sonde_dbpt = dbpt_of(sim::emission_field_t(sonde, antenna_m));
    if (tuned && source->own_dbpt < sonde_dbpt + own_peak_from_db) {
        return false; // what was heard there was the sonde
    }
    Finding f = finding("coupling", *c.locate);
    f.title = "Marked another source, not the sonde";
    f.evidence =
        fmt::format("The locate ({}) stands {} {}, and {} from the sonde. There that source alone gives {:.0f} "
                    "dBpT, {}.",
                    clock_text(c.locate->tick), source->off_m < over_m ? "over" : c.length(source->off_m) + " from",
                    source->name, c.length(c.off_m), source->own_dbpt,
                    tuned ? fmt::format("the sonde {:.0f}", sonde_dbpt)
                          : std::string("and the receiver did not listen to the sonde's frequency"));
    f.next_time =
        c.setting.cable.has_run
            ? c.setting.world.other_sondes.empty()
                  ? "Before marking, check that the signal falls off on all four sides and that the spot fits "
                    "cable out and pipe; along a line it does not fall."
                  : in_units("Before marking, ask the cable hand to pull {1 m}: only the own sonde's signal moves.",
                             c.units)
            : std::string("Before marking, check that the signal falls off on all four sides; along a line it "
                          "does not fall.");
    f.cost = c.misplaced();
    f.question =
        asked(fmt::format("The locate was marked at {}. What is nearest to that place?", clock_text(c.locate->tick)),
              {fmt::format("{}, {} off", source->name, c.small(source->off_m)),
               fmt::format("the sonde, {} off", c.small(source->off_m)),
               "the sonde: the loudest place in a yard is always over it"},
              c.locate->tick);
    out.push_back(std::move(f));
    return true;
}

// ---- What the locate rests on ----

namespace {

enum class Base { none, peak, level, midpoint };

struct Rests {
    Base on = Base::none;
    glm::dvec2 place_m{0.0};
    std::int64_t tick = 0;
    bool marked = true; // by a mark; else only the locate stands there
};

bool far_enough_apart(const Case& c, const Mark& a, const Mark& b) {
    return glm::distance(a.place_m, b.place_m) > 0.5 * c.spots.scale_m;
}

// The mark, or the middle of two plumb marks, that the locate stands on.
Rests what_it_rests_on(const Case& c) {
    const double reach_m = std::max(rests_on_least_m, rests_on_share * c.spots.scale_m);
    Rests best;
    double nearest_m = reach_m;
    const auto offer = [&](Base on, const glm::dvec2& place_m, std::int64_t tick) {
        const double off_m = glm::distance(c.locate->place_m, place_m);
        if (off_m <= nearest_m) {
            nearest_m = off_m;
            best = {on, place_m, tick};
        }
    };
    for (const Mark& mark : c.marks) {
        if (mark.kind == MarkKind::peak || mark.kind == MarkKind::level) {
            offer(mark.kind == MarkKind::peak ? Base::peak : Base::level, mark.place_m, mark.tick);
        }
        if (mark.kind != MarkKind::plumb) {
            continue;
        }
        for (const Mark& other : c.marks) {
            if (other.kind == MarkKind::plumb && other.tick < mark.tick && far_enough_apart(c, mark, other)) {
                offer(Base::midpoint, 0.5 * (mark.place_m + other.place_m), mark.tick);
            }
        }
    }
    const bool peak_marked = std::ranges::any_of(c.marks, [](const Mark& m) { return m.kind == MarkKind::peak; });
    if (best.on == Base::none && !peak_marked &&
        glm::distance(c.locate->place_m, c.spots.at(c.spots.peak_m)) < reach_m) {
        best = {Base::peak, c.locate->place_m, c.locate->tick, false};
    }
    return best;
}

// Where a spot lies along the track under level ground, in free space: metres for a depth of scale_m (physics of a dipole
// in tests/reference/locate_facts.csv).
double under_level_ground_m(const Case& c, Base on) {
    const double tilt = sim::radians(std::min(c.tilt_deg, on_end_above_deg));
    const double t = std::tan(tilt);
    switch (on) {
    case Base::level:
        return t > 0.0 ? c.spots.scale_m * (3.0 - std::sqrt(9.0 + 8.0 * t * t)) / (2.0 * t) : 0.0;
    case Base::midpoint:
        return -0.75 * t * c.spots.scale_m;
    case Base::peak:
    case Base::none:
        break;
    }
    double best = 0.0; // of the total field, which grows with (1 + 3 cos^2) / r^6
    double most = 0.0;
    for (int i = 0; i <= 100; ++i) {
        const double x = 0.005 * i;
        const double square = 1.0 + x * x;
        const double along = x * std::cos(tilt) + std::sin(tilt);
        const double strength = (1.0 + 3.0 * along * along / square) / (square * square * square);
        if (strength > most) {
            most = strength;
            best = x;
        }
    }
    return best * c.spots.scale_m;
}

// The ground moved the spot farther than tilt alone would have.
bool slope_did_it(const Case& c, Base on, double spot_m) {
    const double tilt_m = under_level_ground_m(c, on);
    return !is_flat(c.setting.world.yard.terrain) && std::abs(spot_m - tilt_m) > std::abs(tilt_m);
}

std::string_view raised_text(double along_m) {
    return along_m > 0.0 ? "towards its raised end" : "towards its lowered end";
}

// Why the spot was not over the sonde: tilt, the ground, or both.
std::string lay_text(const Case& c) {
    std::string text = c.tilt_deg < 0.5 ? std::string("The sonde lay level")
                                        : fmt::format("The sonde was tilted {:.0f} deg, its {} end raised", c.tilt_deg,
                                                      compass_word(heading_of(c.spots.ahead)));
    return is_flat(c.setting.world.yard.terrain) ? text : text + ", under ground that is not level";
}

// On end the level line is a ring, 1.41 depths round the sonde.
void add_ring(const Case& c, const Rests& rests, Findings& out) {
    const double off_m = glm::distance(rests.place_m, c.spots.sonde_m);
    if (std::abs(off_m - std::numbers::sqrt2 * c.spots.scale_m) > peak_along_share * c.spots.scale_m) {
        return;
    }
    Finding f = finding("trusted_level_line", rests);
    f.title = "Took the level line of a sonde on end for the sonde";
    f.evidence = fmt::format(
        "The sonde stood on end ({:.0f} deg): its level line is a ring round it, here about {} away. The "
        "locate stands on the level line's mark ({}), {} off.",
        c.tilt_deg, c.length(std::numbers::sqrt2 * c.spots.scale_m), clock_text(rests.tick), c.length(c.off_m));
    f.next_time = "Where the field stands plumb at the strongest place the sonde is on end: mark there.";
    f.cost = c.misplaced();
    f.question = asked("The sonde stood on end. What did its field show straight over it?",
                       {"plumb, and the peak in the same place", "level, and the peak in the same place",
                        "level, with a peak on either side"},
                       rests.tick);
    out.push_back(std::move(f));
}

// What is said of a spot that a locate rests on.
struct TrustedSpot {
    std::string_view key;
    std::string_view title;
    std::string_view next_time;
    std::string_view next_time_on_slope; // where the level ground's rules do not hold
    std::string_view name;
    std::string_view mark; // where the locate then stands
};

constexpr TrustedSpot trusted_peak = {
    "trusted_peak",
    "Took the peak of a tilted sonde for the sonde",
    "Find the level line as well: apart from the peak it tells of tilt, and the sonde lies between them.",
    "Find the level line as well: where it lies apart from the peak, go by neither of them alone.",
    "its peak",
    "on the peak mark"};
constexpr TrustedSpot trusted_level_line = {
    "trusted_level_line",
    "Took the level line of a tilted sonde for the sonde",
    "Compare with the peak: the more it is stronger than the level line, the nearer to the peak lies the sonde (half way "
    "up to 5 dB, three quarters up to 10).",
    "On a slope mark the peak as well, and put the locate between it and the level line.",
    "its level line",
    "on the level line's mark"};
constexpr TrustedSpot trusted_midpoint = {
    "trusted_midpoint",
    "Took the middle of the plumb points of a tilted sonde for the sonde",
    "Compare the two plumb points' signals: where one is clearly stronger the sonde lies nearer to that one.",
    "Compare the two plumb points' signals, and mark the level line: on a slope the middle is no place of its own.",
    "the middle of its plumb points",
    "midway between the plumb marks"};

const TrustedSpot& trusted(Base on) {
    return on == Base::peak ? trusted_peak : on == Base::level ? trusted_level_line : trusted_midpoint;
}

// Where along the track the spot lay that the locate rests on; nothing where there is no such spot.
std::optional<double> spot_along_m(const TrackSpots& spots, Base on) {
    switch (on) {
    case Base::peak:
        return spots.peak_m;
    case Base::level:
        return spots.level_m;
    case Base::midpoint:
        return spots.plumb_ahead_m && spots.plumb_behind_m
                   ? std::optional(0.5 * (*spots.plumb_ahead_m + *spots.plumb_behind_m))
                   : std::nullopt;
    case Base::none:
        break;
    }
    return std::nullopt;
}

// Under a slope peak and plumb points are moved though the sonde lies level; its level line stays over it.
void add_slope(const Case& c, const Rests& rests, double spot_m, Findings& out) {
    const TrustedSpot& spot = trusted(rests.on);
    const auto off_text = [&](double m) {
        return std::abs(m) < over_sonde_m ? std::string("straight over it") : c.small(std::abs(m)) + " from it";
    };
    const bool level_nearer = c.spots.level_m && std::abs(*c.spots.level_m) < 0.5 * std::abs(spot_m);
    const glm::dvec2 place = c.spots.at(spot_m);
    Finding f = finding(spot.key, rests);
    f.title = rests.on == Base::peak ? "Took the peak on a slope for the sonde"
                                     : "Took the middle of the plumb points on a slope for the sonde";
    f.evidence = fmt::format(
        "{}: {} lies {} of it; under level ground it would lie {}.{} The locate stands {} ({}), and is {} off.",
        lay_text(c), spot.name, c.way(c.spots.sonde_m, place), off_text(under_level_ground_m(c, rests.on)),
        c.spots.level_m ? fmt::format(" The level line crosses the track {}.", off_text(*c.spots.level_m))
                        : std::string(),
        rests.marked ? spot.mark : "at the peak", clock_text(rests.tick), c.small(c.off_m));
    f.next_time = level_nearer
                      ? "On a slope mark the level line and locate by it: it runs over a sonde that lies level, "
                        "however the ground slopes."
                      : "On a slope mark the level line as well as the peak, and do not go by one of them alone.";
    f.cost = c.misplaced();
    f.question =
        asked(fmt::format("{}, {} deep. Where did {} lie?", lay_text(c), c.length(c.score.true_depth_m), spot.name),
              {fmt::format("{} of it", c.way(c.spots.sonde_m, place)),
               fmt::format("{} of it", c.way(c.spots.sonde_m, c.spots.at(-spot_m))), "straight over it"},
              rests.tick);
    out.push_back(std::move(f));
}

void add_trusted(const Case& c, const Rests& rests, Findings& out) {
    if (rests.on == Base::level && c.tilt_deg > on_end_above_deg) {
        add_ring(c, rests, out);
        return;
    }
    const std::optional<double> spot_m = spot_along_m(c.spots, rests.on);
    const double wanted_m = misleads_share_of_band * c.score.full_band_m;
    const bool level_in_level = c.tilt_deg < least_tilt_deg && is_flat(c.setting.world.yard.terrain);
    if (!spot_m || std::abs(*spot_m) < wanted_m || level_in_level) {
        return;
    }
    const double along_m = c.spots.along_m(rests.place_m);
    if (along_m * *spot_m <= 0.0 || std::abs(along_m) < 0.5 * std::abs(*spot_m) ||
        std::abs(along_m - *spot_m) > peak_along_share * c.spots.scale_m ||
        c.spots.across_m(rests.place_m) > peak_along_share * c.spots.scale_m) {
        return; // off, but not because of where that spot lies
    }
    if (rests.on != Base::level && slope_did_it(c, rests.on, *spot_m)) {
        add_slope(c, rests, *spot_m, out);
        return;
    }
    const TrustedSpot& spot = trusted(rests.on);
    Finding f = finding(spot.key, rests);
    f.title = spot.title;
    f.next_time = is_flat(c.setting.world.yard.terrain) ? spot.next_time : spot.next_time_on_slope;
    f.evidence = fmt::format("{}: {} lies {} of it, {}. The locate stands {} ({}), and is {} off.", lay_text(c),
                             spot.name, c.way(c.spots.sonde_m, c.spots.at(*spot_m)), raised_text(*spot_m),
                             rests.marked ? spot.mark : "at the peak", clock_text(rests.tick), c.small(c.off_m));
    f.cost = c.misplaced();
    f.question =
        asked(fmt::format("{}, {} deep. Where did {} lie?", lay_text(c), c.length(c.score.true_depth_m), spot.name),
              {fmt::format("{} of it, {}", c.way(c.spots.sonde_m, c.spots.at(*spot_m)), raised_text(*spot_m)),
               fmt::format("{} of it, {}", c.way(c.spots.sonde_m, c.spots.at(-*spot_m)), raised_text(-*spot_m)),
               "straight over it"},
              rests.tick);
    out.push_back(std::move(f));
}

} // namespace

bool rests_on_a_mark(const Case& c) {
    const Rests rests = what_it_rests_on(c);
    return rests.on != Base::none && rests.marked;
}

void add_mark_findings(const Case& c, bool elsewhere, Findings& out) {
    const bool tuned =
        c.locate == nullptr || std::abs(c.locate->frequency_hz - c.sonde.frequency_hz) < same_frequency_hz;
    if (elsewhere || !tuned) {
        return; // its marks are not the sonde's
    }
    if (!add_mistaken_spots(c, out) && c.locate_judged && c.position_lost > 0.0) {
        const Rests rests = what_it_rests_on(c);
        if (sim::shows_dial(c.setting.world.receiver.kind) || rests.on == Base::midpoint) {
            add_trusted(c, rests, out);
        }
    }
}

} // namespace sondeyard::field::coaching
