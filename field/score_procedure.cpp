// The procedure, point by point, each with its evidence.
#include "field/score_parts.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double approach_share = 2.0; // of the depth
constexpr double raised_tip_m = 0.20;  // held out, not on the ground
constexpr double plumb_dip_deg = 80.0;
// Two plumb points of one sonde are never nearer to each other than 1.41 depths; two marks at one spot are one point.
constexpr double plumb_apart_share = 0.5;
constexpr double sqrt_two = 1.4142135623730951;

double seconds(std::int64_t ticks) { return static_cast<double>(ticks) * tick_s; }

double part_of(int whole, double share) { return share * static_cast<double>(whole); }

ProcedureItem ticket_item(const World& world, const ExerciseState& state) {
    ProcedureItem item = new_item("ticket_checked", "ticket read",
                                  "The ticket says whose lines have been marked and whether a machine may dig at all.");
    item.done = state.ticket_read_tick.has_value();
    item.tick = state.ticket_read_tick;
    item.evidence = item.done ? fmt::format("ticket {} ({}) read at {}", world.sheet.ticket.number,
                                            name_of(world.sheet.ticket.state), clock_text(*state.ticket_read_tick))
                              : "the ticket was not looked at";
    return item;
}

ProcedureItem frequency_item(const ExerciseState& state) {
    ProcedureItem item = new_item(
        "frequency_checked", "frequency checked at the truck",
        "A receiver on another frequency hears next to nothing, and the sheet can be wrong; once the sonde is in the "
        "pipe it cannot be looked at.");
    item.evidence = "no check was made at the truck";
    for (const TruckCheckResult& check : state.truck_checks) {
        const std::string read =
            check.depth_m ? either(*check.depth_m) : fmt::format("{:.1f} dBpT and no depth", check.signal_dbpt);
        if (item.done) {
            break;
        }
        item.done = check.heard && check.frequency_hz == state.frequency_hz;
        item.tick = item.done ? std::optional(check.tick) : std::nullopt;
        item.evidence = fmt::format("{} read {} at {}", frequency_text(check.frequency_hz), read,
                                    either("2.0 m", truck_distance_m));
        if (!check.heard) {
            item.evidence += ": not the sonde's";
        } else if (!item.done) {
            item.evidence += fmt::format(", but the receiver was then set to {}", frequency_text(state.frequency_hz));
        }
    }
    return item;
}

ProcedureItem approach_item(const Setting& setting, const ExerciseState& state) {
    ProcedureItem item = new_item(
        "approached", "approached with the tip held out",
        "Sweeping with the tip held out finds the strong part of the yard before time is spent on the ground.");
    double limit_m = approach_share * depth_m(setting.world);
    std::optional<double> nearest_m;
    for (const TrailPoint& point : state.trail) {
        if (state.first_mark_tick && point.tick >= *state.first_mark_tick) {
            break;
        }
        if (point.tip_height_m < raised_tip_m) {
            continue;
        }
        const SondeTruth sonde = sonde_at(setting, state, point.tick);
        limit_m = approach_share * depth_m(setting.world, sonde.position_m);
        const double distance_m = glm::distance(point.tip_m, plan(sonde.position_m));
        nearest_m = std::min(nearest_m.value_or(distance_m), distance_m);
        if (distance_m <= limit_m) {
            item.done = true;
            item.tick = point.tick;
            item.evidence = fmt::format("tip {} up, {} from the sonde (limit {}) at {}", either(point.tip_height_m),
                                        either(distance_m), either(limit_m), clock_text(point.tick));
            return item;
        }
    }
    const std::string_view before = state.first_mark_tick ? " before the first mark" : "";
    item.evidence = nearest_m ? fmt::format("with the tip raised no nearer than {}{} (limit {})", either(*nearest_m),
                                            before, either(limit_m))
                              : fmt::format("the tip was not held out{}", before);
    return item;
}

// How far from level the true field of the sonde alone stood at a mark, at the height that the tip had.
double true_dip_deg(const Setting& setting, const ExerciseState& state, const sim::Scene& scene, const Mark& mark) {
    double tip_height_m = 0.0;
    for (const TrailPoint& point : state.trail) {
        if (std::abs(point.tick - mark.tick) < trail_every_ticks + 1) {
            tip_height_m = point.tip_height_m;
            break;
        }
    }
    const double ground_m = height_m(setting.world.yard.terrain, mark.place_m);
    const glm::dvec3 coil{mark.place_m, ground_m + tip_height_m + setting.world.receiver.tip_to_antenna_m};
    const glm::dvec3 field = sim::major_axis(sim::emission_field_t(scene.emissions.front(), coil));
    return sim::degrees(std::atan2(std::abs(field.z), std::hypot(field.x, field.y)));
}

// How far from level the field stood at marks. A field dial showed it; level coils cannot, but one along the sonde
// falls silent where the field stands plumb, so those nulls are its plumb points, and to judge them the true field at
// the coil is taken. The scene is made once for all marks of one place of the sonde.
class Dips {
public:
    Dips(const Setting& setting, const ExerciseState& state) : setting_(setting), state_(state) {}

    std::optional<double> at_deg(const Mark& mark, double sonde_m) {
        if (sim::shows_dial(setting_.world.receiver.kind)) {
            return mark.dip_deg;
        }
        if (!scene_ || made_for_m_ != sonde_m) {
            made_for_m_ = sonde_m;
            scene_ = scene_of(setting_.world, setting_.ground, sonde_lying(setting_.world, setting_.cable, sonde_m));
        }
        return true_dip_deg(setting_, state_, *scene_, mark);
    }

private:
    const Setting& setting_;
    const ExerciseState& state_;
    std::optional<sim::Scene> scene_;
    double made_for_m_ = 0.0;
};

// Plumb marks at which the field really stood plumb, of places that can be two points of one sonde as it lay; in the
// order they were made. Where the cable was moved between marks, the most that belong to one place of the sonde.
std::vector<Mark> plumb_points_of(const Setting& setting, const ExerciseState& state) {
    struct Lying {
        double sonde_m = 0.0;
        double depth_m = 0.0;
        std::vector<Mark> good;
    };
    std::vector<Lying> places;
    Dips dips(setting, state);
    for (const Mark& mark : state.notebook.marks) {
        if (mark.kind != MarkKind::plumb) {
            continue;
        }
        const double sonde_m = place_at(state.cable, mark.tick).sonde_m;
        auto here =
            std::ranges::find_if(places, [&](const Lying& p) { return std::abs(p.sonde_m - sonde_m) < lay_still_m; });
        if (here == places.end()) {
            const SondeTruth sonde = sonde_lying(setting.world, setting.cable, sonde_m);
            here = places.insert(places.end(), {sonde_m, depth_m(setting.world, sonde.position_m), {}});
        }
        const std::optional<double> dip_deg = dips.at_deg(mark, sonde_m);
        const bool apart = std::ranges::all_of(here->good, [&](const Mark& other) {
            return glm::distance(other.place_m, mark.place_m) >= plumb_apart_share * here->depth_m;
        });
        if (dip_deg && *dip_deg > plumb_dip_deg && apart) {
            here->good.push_back(mark);
            here->good.back().dip_deg = dip_deg;
        }
    }
    const auto most = std::ranges::max_element(places, {}, [](const Lying& p) { return p.good.size(); });
    return most == places.end() ? std::vector<Mark>{} : most->good;
}

ProcedureItem plumb_item(const Setting& setting, const ExerciseState& state, const std::vector<Mark>& good) {
    ProcedureItem item = new_item(
        "plumb_points", "plumb points marked",
        "The sonde lies between its plumb points; the peak alone is off by a quarter of the depth at a few degrees of "
        "tilt.");
    const TiltCall call = state.notebook.tilt_call;
    const bool one_will_do = call == TiltCall::tilted || call == TiltCall::on_end;
    const auto marked = std::ranges::count(state.notebook.marks, MarkKind::plumb, &Mark::kind);
    item.done = good.size() >= 2 || (good.size() == 1 && one_will_do);
    if (item.done) {
        item.tick = good.size() >= 2 ? std::max(good[0].tick, good[1].tick) : good[0].tick;
    }
    const bool coil = !sim::shows_dial(setting.world.receiver.kind);
    const std::string_view dip = coil ? "true dip" : "dip";
    if (good.size() >= 2) {
        item.evidence = fmt::format("{} {:.1f} and {:.1f} deg at two marks {} apart", dip, *good[0].dip_deg,
                                    *good[1].dip_deg, either(glm::distance(good[0].place_m, good[1].place_m)));
    } else if (good.size() == 1) {
        item.evidence = fmt::format("{} {:.1f} deg at one mark, called {}", dip, *good[0].dip_deg, name_of(call));
    } else if (marked == 0) {
        item.evidence = "no plumb point was marked";
    } else {
        item.evidence =
            fmt::format("{} marked, the field stood over {:.0f} deg at none of them", marked, plumb_dip_deg);
    }
    return item;
}

ProcedureItem tip_item(const ExerciseState& state) {
    ProcedureItem item = new_item(
        "tip_down_and_plumb", "tip down and mast plumb",
        "Depth is reckoned from the tip and down the mast: a raised tip adds its height, a leaning mast adds error.");
    item.evidence = "no depth was read";
    for (const Reading& r : state.all_readings) {
        if (!r.depth_m) {
            continue;
        }
        item.done = r.tip_height_m < tip_down_m && r.lean_deg < plumb_lean_deg;
        item.evidence = fmt::format("{} read with the tip {} up and the mast {:.1f} deg off plumb at {}",
                                    either(*r.depth_m), either(fmt::format("{:.3f} m", r.tip_height_m), r.tip_height_m),
                                    r.lean_deg, clock_text(r.tick));
        if (item.done) {
            item.tick = r.tick;
            break;
        }
    }
    return item;
}

struct FacingPair {
    const Reading* first = nullptr;
    const Reading* second = nullptr;
};

std::vector<FacingPair> facing_pairs(const std::vector<Reading>& readings) {
    std::vector<FacingPair> pairs;
    for (const Reading& r : readings) {
        const auto first = std::ranges::find(readings, r.facing_reading_of, &Reading::id);
        if (r.facing_reading_of != 0 && r.agreement && first != readings.end() && r.counts && first->counts) {
            pairs.push_back({&*first, &r});
        }
    }
    return pairs;
}

// A second facing pair at the same spot, a quarter turn from the first.
bool crosses(const FacingPair& a, const FacingPair& b) {
    const double turn_deg = std::abs(sim::wrap_180(b.first->facing_deg - a.first->facing_deg));
    return glm::distance(a.first->place_m, b.first->place_m) <= pair_distance_m &&
           std::abs(turn_deg - 90.0) <= pair_turn_deg;
}

ProcedureItem pair_item(const World& world, const ExerciseState& state) {
    ProcedureItem item =
        new_item("paired_reading", "facing pair of depths",
                 "Turning half round shows a leaning mast and antennas mounted askew, which one reading hides.");
    const std::vector<FacingPair> pairs = facing_pairs(state.all_readings);
    item.evidence = "no depth was read a second time after turning half round";
    for (std::size_t i = 0; i < pairs.size() && !item.done; ++i) {
        const FacingPair& pair = pairs[i];
        const bool agrees = *pair.second->agreement <= world.rubric.pair_share + edge;
        const bool crossed = std::any_of(pairs.begin(), pairs.begin() + static_cast<std::ptrdiff_t>(i),
                                         [&](const FacingPair& other) { return crosses(other, pair); });
        item.done = agrees || crossed;
        item.evidence = fmt::format("pair {} and {}, {} {:.1f} %, {:.1f} s apart", either(*pair.first->depth_m),
                                    either(*pair.second->depth_m), agrees ? "agree" : "disagree by",
                                    100.0 * *pair.second->agreement, seconds(pair.second->tick - pair.first->tick));
        if (!agrees) {
            item.evidence += crossed ? ", a cross pair" : ", no cross pair";
        }
        if (item.done) {
            item.tick = pair.second->tick;
        }
    }
    return item;
}

ProcedureItem lift_item(const ExerciseState& state) {
    ProcedureItem item = new_item(
        "lift_check", "lift check",
        "Raising the tip has to add as much to the depth; where it does not, the field is not the sonde's alone.");
    Notebook all;
    all.readings = state.all_readings;
    const std::optional<LiftCheck> lift = find_lift_check(all);
    if (!lift) {
        item.evidence = "no depth was read with the tip raised {0.5 m} over a reading on the ground";
        return item;
    }
    item.done = lift->holds;
    item.evidence = fmt::format("raised {}, the depth reading grew {}", either(lift->raised_m), either(lift->grew_m));
    if (item.done) {
        item.tick = std::max(find_reading(all, lift->low_id)->tick, find_reading(all, lift->high_id)->tick);
    }
    return item;
}

// With one coil the depth is worked from the two plumb points, and this takes the place of readings.
ProcedureItem spacing_item(const World& world, const ExerciseState& state, const std::vector<Mark>& good) {
    ProcedureItem item =
        new_item("depth_from_spacing", "depth worked from the plumb points",
                 "One coil reads no depth; over a level sonde the plumb points are 1.414 depths apart.");
    if (good.size() < 2) {
        item.evidence = "fewer than two plumb points to measure between";
        return item;
    }
    const double spacing_m = glm::distance(good[0].place_m, good[1].place_m);
    const double worked_m = spacing_m / sqrt_two;
    item.evidence = fmt::format("{} / 1.414 = {}", either(spacing_m), either(worked_m));
    if (!state.notebook.depth_call_m) {
        item.evidence += ", no depth called";
        return item;
    }
    item.done = std::abs(*state.notebook.depth_call_m - worked_m) <= world.rubric.depth_share * worked_m + edge;
    item.evidence += fmt::format(", called {}", either(*state.notebook.depth_call_m));
    if (item.done) {
        item.tick = std::max(good[0].tick, good[1].tick);
    }
    return item;
}

} // namespace

ProcedureItem new_item(std::string_view key, std::string_view title, std::string_view why) {
    ProcedureItem item;
    item.key = key;
    item.title = title;
    item.why = why;
    return item;
}

void score_procedure(const Setting& setting, const ExerciseState& state, Score& out) {
    const World& world = setting.world;
    const std::vector<Mark> plumb_points = plumb_points_of(setting, state);
    out.procedure = {ticket_item(world, state),     frequency_item(state),
                     approach_item(setting, state), plumb_item(setting, state, plumb_points),
                     walk_item(setting, state),     tip_item(state),
                     pair_item(world, state),       lift_item(state)};
    if (!sim::reads_depth(world.receiver.kind)) {
        for (ProcedureItem& item : out.procedure) {
            if (item.key == "tip_down_and_plumb" || item.key == "paired_reading" || item.key == "lift_check") {
                item.applies = false;
                item.done = false;
                item.tick.reset();
                item.evidence = "does not apply: a single coil reads no depth";
            }
        }
        out.procedure.push_back(spacing_item(world, state, plumb_points));
    }
    const auto applying = std::ranges::count(out.procedure, true, &ProcedureItem::applies);
    const auto done = std::ranges::count(out.procedure, true, &ProcedureItem::done);
    out.procedure_points = static_cast<int>(
        std::floor(part_of(full_procedure_points, static_cast<double>(done) / static_cast<double>(applying)) + edge));
}

} // namespace sondeyard::field
