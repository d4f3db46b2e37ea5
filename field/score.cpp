#include "field/score.hpp"

#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

namespace {

// A limit itself is inside: 0.60 m is wide enough, 15 % is within 15 %. This keeps the last digit of a sum of decimal
// fractions from deciding.
constexpr double edge = 1e-9;

constexpr double walk_near_share = 0.8; // of the depth, from the peak
constexpr double walk_far_share = 1.5;
constexpr double walk_fall_db = 3.0;
constexpr double walk_apart_deg = 60.0;
constexpr std::size_t walk_directions = 4;
constexpr double walk_low_tip_m = 0.10; // raising the tip lowers the signal by itself, so a high one proves nothing
constexpr double approach_share = 2.0;  // of the depth
constexpr double raised_tip_m = 0.20;   // held out, not on the ground
constexpr double plumb_dip_deg = 80.0;
// Two plumb points of one sonde are never nearer to each other than 1.41 depths; two marks at one spot are one point.
constexpr double plumb_apart_share = 0.5;
constexpr double sqrt_two = 1.4142135623730951;

double seconds(std::int64_t ticks) { return static_cast<double>(ticks) * tick_s; }

double part_of(int whole, double share) { return share * static_cast<double>(whole); }

} // namespace

std::string_view name_of(DigOutcome outcome) {
    static constexpr std::array<std::string_view, 8> names = {
        "none", "on the pipe", "short", "beside", "into the pipe", "too large", "too small", "through a line"};
    return names[static_cast<std::size_t>(outcome)];
}

std::string clock_text(std::int64_t ticks) {
    const std::int64_t tenths = ticks / trail_every_ticks; // six ticks of 1/60 s are a tenth of a second
    return fmt::format("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10);
}

double gap_to_box_m(const DigBox& box, const glm::dvec2& place_m) {
    const glm::dvec2 from_centre = place_m - box.centre_m;
    const double along = std::abs(glm::dot(from_centre, direction_of(box.heading_deg)));
    const double across = std::abs(glm::dot(from_centre, direction_of(box.heading_deg + 90.0)));
    const double gap = std::hypot(std::max(along - 0.5 * box.length_m, 0.0), std::max(across - 0.5 * box.width_m, 0.0));
    return gap < edge ? 0.0 : gap;
}

// ---- Position, depth, tilt ----

namespace {

void score_position(const World& world, const Notebook& notebook, Score& out) {
    out.true_depth_m = depth_m(world.sonde);
    out.full_band_m = world.rubric.full.width_m(out.true_depth_m);
    out.half_band_m = world.rubric.half.width_m(out.true_depth_m);
    out.quarter_band_m = world.rubric.quarter.width_m(out.true_depth_m);
    const Mark* locate = find_last(notebook, MarkKind::locate);
    if (locate == nullptr) {
        return;
    }
    const double error_m = glm::distance(locate->place_m, plan(world.sonde.position_m));
    out.horizontal_error_m = error_m;
    if (error_m <= out.full_band_m + edge) {
        out.position_points = full_position_points;
    } else if (error_m <= out.half_band_m + edge) {
        out.position_points = full_position_points / 2;
    } else if (error_m <= out.quarter_band_m + edge) {
        out.position_points = full_position_points / 4;
    }
}

void score_depth(const World& world, const Notebook& notebook, Score& out) {
    out.depth_band_m = world.rubric.depth_share * out.true_depth_m;
    out.depth_call_m = notebook.depth_call_m;
    if (!notebook.depth_call_m) {
        return;
    }
    out.depth_error_m = *notebook.depth_call_m - out.true_depth_m;
    out.depth_error_percent = 100.0 * *out.depth_error_m / out.true_depth_m;
    out.depth_within = std::abs(*out.depth_error_m) <= out.depth_band_m + edge;
    out.depth_points = out.depth_within ? full_depth_points : 0;
}

// The category may be this far outside its limits; `tilted` also has to name the raised end within a quarter turn.
bool tilt_call_fits(const Notebook& notebook, double true_tilt_deg, double true_raised_heading_deg) {
    switch (notebook.tilt_call) {
    case TiltCall::level:
        return true_tilt_deg <= level_below_deg + tilt_slack_deg + edge;
    case TiltCall::tilted:
        return true_tilt_deg >= std::max(level_below_deg - tilt_slack_deg, least_raised_deg) - edge &&
               true_tilt_deg <= on_end_above_deg + tilt_slack_deg + edge &&
               std::abs(sim::wrap_180(notebook.raised_heading_deg - true_raised_heading_deg)) <= 90.0 + edge;
    case TiltCall::on_end:
        return true_tilt_deg >= on_end_above_deg - tilt_slack_deg - edge;
    case TiltCall::none:
        break;
    }
    return false;
}

void score_tilt(const World& world, const Notebook& notebook, Score& out) {
    TiltScore& tilt = out.tilt;
    tilt.true_tilt_deg = std::abs(world.sonde.tilt_deg);
    // The heading is that of the end which points down for tilt > 0; for tilt < 0 it is the raised one itself.
    tilt.true_raised_heading_deg = sim::wrap_360(world.sonde.heading_deg + (world.sonde.tilt_deg < 0.0 ? 0.0 : 180.0));
    tilt.called = notebook.tilt_call != TiltCall::none;
    tilt.right = tilt_call_fits(notebook, tilt.true_tilt_deg, tilt.true_raised_heading_deg);
    if (tilt.called && notebook.tilt_angle_call_deg) {
        tilt.tilt_error_deg = *notebook.tilt_angle_call_deg - tilt.true_tilt_deg;
    }
    out.tilt_points = tilt.right ? full_tilt_points : 0;
}

// ---- Lines near the dig box ----

bool betrays(ClueKind clue, LineKind line) {
    switch (clue) {
    case ClueKind::gas_meter:
    case ClueKind::grill:
        return line == LineKind::gas;
    case ClueKind::water_meter:
    case ClueKind::irrigation_valve:
        return line == LineKind::water || line == LineKind::reclaimed_water;
    case ClueKind::electric_meter:
    case ClueKind::lit_outbuilding:
        return line == LineKind::electric;
    case ClueKind::pedestal:
        return line == LineKind::communication || line == LineKind::electric;
    }
    return false;
}

// Could he have known of it: painted, an owner's line that the ticket is about, or betrayed by something in the yard.
bool knowable(const Yard& yard, const BuriedLine& line) {
    return !line.paint_m.empty() || !line.is_private ||
           std::ranges::any_of(yard.clues, [&](const Clue& c) { return betrays(c.kind, line.kind); });
}

// Keeps of [from, to] the part in which the linear function with value at_0 at 0 and at_1 at 1 is at most 0.
void keep_below_zero(double at_0, double at_1, double& from, double& to) {
    const double slope = at_1 - at_0;
    if (slope == 0.0) {
        if (at_0 > 0.0) {
            to = from - 1.0;
        }
        return;
    }
    const double root = -at_0 / slope;
    if (slope > 0.0) {
        to = std::min(to, root);
    } else {
        from = std::max(from, root);
    }
}

// Depth of a buried line's top where it is shallowest inside the box; empty when no part of it lies in the box above its
// bottom.
std::optional<double> top_in_box_m(const std::vector<glm::dvec3>& centre_m, double radius_m, const DigBox& box) {
    const glm::dvec2 along = direction_of(box.heading_deg);
    const glm::dvec2 right = direction_of(box.heading_deg + 90.0);
    const Polygon outline = rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m);
    std::optional<double> shallowest_m;
    for (std::size_t i = 1; i < centre_m.size(); ++i) {
        const glm::dvec3& a = centre_m[i - 1];
        const glm::dvec3& b = centre_m[i];
        const double top_a_m = -a.z - radius_m;
        const double top_b_m = -b.z - radius_m;
        double from = 0.0;
        double to = 1.0;
        for (const auto& [axis, half_m] : {std::pair{along, 0.5 * box.length_m}, std::pair{right, 0.5 * box.width_m}}) {
            const double at_a = glm::dot(plan(a) - box.centre_m, axis);
            const double at_b = glm::dot(plan(b) - box.centre_m, axis);
            keep_below_zero(at_a - half_m - radius_m, at_b - half_m - radius_m, from, to);
            keep_below_zero(-at_a - half_m - radius_m, -at_b - half_m - radius_m, from, to);
        }
        keep_below_zero(top_a_m - box.depth_m, top_b_m - box.depth_m, from, to);
        if (from >= to) {
            continue;
        }
        const std::array<glm::dvec2, 2> part = {plan(a + from * (b - a)), plan(a + to * (b - a))};
        if (distance_to_polyline_m(outline, part) >= radius_m) {
            continue; // passes a corner of the box without touching it
        }
        const double top_m = std::min(top_a_m + from * (top_b_m - top_a_m), top_a_m + to * (top_b_m - top_a_m));
        shallowest_m = std::min(shallowest_m.value_or(top_m), top_m);
    }
    return shallowest_m;
}

// One line as seen from the dig box. Distances in plan, from the box's edge to the line's (or the paint's) centre.
struct NearLine {
    double true_m = 0.0;
    std::optional<double> paint_m;
    double zone_m = 0.0; // half its width and the tolerance
    bool known = false;
    std::optional<double> depth_in_box_m;

    // The rule is about what is marked on the ground, since the paint is all that can be kept away from; it may lie off
    // the line by up to the tolerance, which is what the zone is for. A line that nobody marked counts where it really
    // is, if anything showed that it is there.
    bool inside_by_rule() const { return paint_m ? *paint_m < zone_m - edge : (known && true_m < zone_m - edge); }
    bool inside() const { return true_m < zone_m - edge || inside_by_rule(); }
};

NearLine near_line(const World& world, const BuriedLine& line, const DigBox& box) {
    const Polygon outline = rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m);
    const std::vector<glm::dvec2> centre_line = plan(line.points_m);
    NearLine near;
    near.true_m = distance_to_polyline_m(outline, centre_line);
    if (!line.paint_m.empty()) {
        near.paint_m = distance_to_polyline_m(outline, line.paint_m);
    }
    near.zone_m = 0.5 * line.width_m + world.rubric.tolerance_zone_m;
    near.known = knowable(world.yard, line);
    near.depth_in_box_m = top_in_box_m(line.points_m, 0.5 * line.width_m, box);
    return near;
}

std::string line_text(const BuriedLine& line, const NearLine& near) {
    std::string text = fmt::format("{}, {}, ", name_of(line.kind), line.owner.empty() ? "private" : line.owner);
    if (near.depth_in_box_m) {
        text += fmt::format("in the box, {:.2f} m down", *near.depth_in_box_m);
    } else if (near.true_m <= edge) {
        text += "under the box";
    } else {
        text += fmt::format("{:.2f} m from the box", near.true_m);
    }
    if (near.paint_m) {
        text += fmt::format(" (its paint {})",
                            *near.paint_m <= edge ? "crosses the box" : fmt::format("{:.2f} m from it", *near.paint_m));
    } else {
        text += " (not marked)";
    }
    return text;
}

void score_lines(const World& world, const DigBox& box, Score& out) {
    SafetyItem zone{"machine_in_tolerance_zone", true, false, {}};
    std::optional<double> shallowest_m;
    for (const BuriedLine& line : world.yard.lines) {
        const NearLine near = near_line(world, line, box);
        if (near.inside()) {
            out.lines_in_box.push_back(line_text(line, near));
        }
        if (near.depth_in_box_m && (!shallowest_m || *near.depth_in_box_m < *shallowest_m)) {
            shallowest_m = near.depth_in_box_m;
            out.line_hit = fmt::format("the {} line of {}, {:.2f} m down", name_of(line.kind),
                                       line.owner.empty() ? "the property" : line.owner, *shallowest_m);
        }
        if (out.by_machine && (near.inside_by_rule() || near.depth_in_box_m)) {
            zone.failed = true;
            zone.evidence += fmt::format("{}{}, tolerance zone {:.2f} m from its centre",
                                         zone.evidence.empty() ? "" : "; ", line_text(line, near), near.zone_m);
        }
    }
    if (!zone.failed) {
        if (out.lines_in_box.empty()) {
            zone.evidence = "no line's tolerance zone reaches the box";
        } else if (out.by_machine) {
            zone.evidence = "a line's tolerance zone reaches the box, but nothing in the yard showed it";
        } else {
            zone.evidence = "inside a tolerance zone, dug with care by hand or vacuum";
        }
    }
    out.safety.push_back(std::move(zone));
}

// ---- The dig ----

DigOutcome outcome_of(const DigBox& box, const Score& so_far) {
    const double narrow_m = std::min(box.length_m, box.width_m);
    const double long_m = std::max(box.length_m, box.width_m);
    const bool deep = box.depth_m > deep_box_from_m + edge;
    if (so_far.by_machine && !so_far.line_hit.empty()) {
        return DigOutcome::through_a_line;
    }
    if (narrow_m < least_box_m - edge ||
        (deep && (narrow_m < least_deep_width_m - edge || long_m < least_deep_length_m - edge))) {
        return DigOutcome::too_small;
    }
    if (box.length_m * box.width_m > largest_box_m2 + edge) {
        return DigOutcome::too_large;
    }
    if (so_far.target_gap_m > 0.0) {
        return DigOutcome::beside;
    }
    if (box.depth_m < so_far.pipe_top_depth_m - above_pipe_m - edge) {
        return DigOutcome::shallow;
    }
    const bool through_the_rise = so_far.by_machine && so_far.rising_pipe_m;
    return through_the_rise || box.depth_m > so_far.springline_depth_m + edge ? DigOutcome::into_the_pipe
                                                                              : DigOutcome::on_the_pipe;
}

// Where the drain itself comes up within the box, as in a drop or a steep branch: the springline's depth at its highest,
// when that is more than an ordinary fall above the fault's and above the bottom of the box.
std::optional<double> rising_pipe_m(const World& world, const DigBox& box, const DigTarget& target) {
    if (!world.run) {
        return std::nullopt;
    }
    const double radius_m = 0.5 * world.run->inside_diameter_m + world.run->wall_m;
    const std::optional<double> top_m = top_in_box_m(world.run->centreline_m, radius_m, box);
    if (!top_m || *top_m + radius_m > target.springline_depth_m - rising_pipe_from_m ||
        *top_m + radius_m > box.depth_m) {
        return std::nullopt;
    }
    return *top_m + radius_m;
}

int volume_points(double volume_m3) {
    const double steps = std::ceil((volume_m3 - free_volume_m3) / volume_step_m3 - edge);
    return static_cast<int>(std::clamp(steps, 0.0, static_cast<double>(most_volume_points)));
}

SafetyItem clearance_item(const Ticket& ticket, bool by_machine) {
    const bool cleared = ticket.state == TicketState::cleared;
    return {"machine_without_clearance", true, by_machine && !cleared,
            fmt::format("ticket {}: {}, {}", ticket.number, name_of(ticket.state),
                        by_machine ? "machine digging" : "no machine digging")};
}

void score_dig(const World& world, const Notebook& notebook, Score& out) {
    const DigTarget target = dig_target(world);
    out.pipe_top_depth_m = target.pipe_top_depth_m;
    out.springline_depth_m = target.springline_depth_m;
    if (!notebook.dig) {
        out.safety.push_back({"machine_in_tolerance_zone", false, false, "no dig proposed"});
        out.safety.push_back({"machine_without_clearance", false, false, "no dig proposed"});
        return;
    }
    const DigBox& box = *notebook.dig;
    // A box with no method said would be dug with whatever turns up: judged as a machine.
    out.by_machine = box.method == DigMethod::machine || box.method == DigMethod::none;
    out.dig_volume_m3 = box.length_m * box.width_m * box.depth_m;
    out.target_distance_m = glm::distance(box.centre_m, plan(target.centre_m));
    out.target_gap_m = gap_to_box_m(box, plan(target.centre_m));
    out.deep_dig = box.depth_m > world.rubric.protection_depth_m + edge;
    score_lines(world, box, out);
    out.safety.push_back(clearance_item(world.sheet.ticket, out.by_machine));
    out.rising_pipe_m = rising_pipe_m(world, box, target);
    // No depth said: nothing that could be dug, though where and how can be judged.
    out.dig_outcome = box.depth_m > 0.0 ? outcome_of(box, out) : DigOutcome::none;
    const bool safe = std::ranges::none_of(out.safety, &SafetyItem::failed);
    if (out.dig_outcome == DigOutcome::on_the_pipe && safe) {
        out.dig_points = full_dig_points - volume_points(out.dig_volume_m3);
    }
}

// ---- Procedure ----

ProcedureItem new_item(std::string_view key, std::string_view title, std::string_view why) {
    ProcedureItem item;
    item.key = key;
    item.title = title;
    item.why = why;
    return item;
}

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
        const std::string read = check.depth_m ? fmt::format("{:.2f} m", *check.depth_m)
                                               : fmt::format("{:.1f} dBpT and no depth", check.signal_dbpt);
        if (item.done) {
            break;
        }
        item.done = check.heard && check.frequency_hz == state.frequency_hz;
        item.tick = item.done ? std::optional(check.tick) : std::nullopt;
        item.evidence =
            fmt::format("{} read {} at {:.1f} m", frequency_text(check.frequency_hz), read, truck_distance_m);
        if (!check.heard) {
            item.evidence += ": not the sonde's";
        } else if (!item.done) {
            item.evidence += fmt::format(", but the receiver was then set to {}", frequency_text(state.frequency_hz));
        }
    }
    return item;
}

ProcedureItem approach_item(const World& world, const ExerciseState& state, double true_depth_m) {
    ProcedureItem item = new_item(
        "approached", "approached with the tip held out",
        "Sweeping with the tip held out finds the strong part of the yard before time is spent on the ground.");
    const double limit_m = approach_share * true_depth_m;
    std::optional<double> nearest_m;
    for (const TrailPoint& point : state.trail) {
        if (state.first_mark_tick && point.tick >= *state.first_mark_tick) {
            break;
        }
        if (point.tip_height_m < raised_tip_m) {
            continue;
        }
        const double distance_m = glm::distance(point.tip_m, plan(world.sonde.position_m));
        nearest_m = std::min(nearest_m.value_or(distance_m), distance_m);
        if (distance_m <= limit_m) {
            item.done = true;
            item.tick = point.tick;
            item.evidence = fmt::format("tip {:.2f} m up, {:.2f} m from the sonde (limit {:.2f} m) at {}",
                                        point.tip_height_m, distance_m, limit_m, clock_text(point.tick));
            return item;
        }
    }
    const std::string_view before = state.first_mark_tick ? " before the first mark" : "";
    item.evidence = nearest_m ? fmt::format("with the tip raised no nearer than {:.2f} m{} (limit {:.2f} m)",
                                            *nearest_m, before, limit_m)
                              : fmt::format("the tip was not held out{}", before);
    return item;
}

// How far from plumb or level the field stood at a mark. A tri-axis receiver showed it; a single coil cannot, so for it
// the true field at the coil is taken, at the height that the tip had.
std::optional<double> dip_at_mark_deg(const Setting& setting, const ExerciseState& state, const Mark& mark) {
    if (setting.world.receiver.kind == sim::ReceiverKind::tri_axis) {
        return mark.dip_deg;
    }
    double tip_height_m = 0.0;
    for (const TrailPoint& point : state.trail) {
        if (std::abs(point.tick - mark.tick) < trail_every_ticks + 1) {
            tip_height_m = point.tip_height_m;
            break;
        }
    }
    const glm::dvec3 coil{mark.place_m, tip_height_m + setting.world.receiver.tip_to_antenna_m};
    const glm::dvec3 field = sim::major_axis(sim::dipole_field_t(setting.sonde, coil));
    return sim::degrees(std::atan2(std::abs(field.z), std::hypot(field.x, field.y)));
}

// Plumb marks at which the field really stood plumb, of places that can be two points; in the order they were made.
std::vector<Mark> plumb_points_of(const Setting& setting, const ExerciseState& state) {
    std::vector<Mark> good;
    for (const Mark& mark : state.notebook.marks) {
        const std::optional<double> dip_deg =
            mark.kind == MarkKind::plumb ? dip_at_mark_deg(setting, state, mark) : std::nullopt;
        const bool apart = std::ranges::all_of(good, [&](const Mark& other) {
            return glm::distance(other.place_m, mark.place_m) >= plumb_apart_share * depth_m(setting.world.sonde);
        });
        if (dip_deg && *dip_deg > plumb_dip_deg && apart) {
            good.push_back(mark);
            good.back().dip_deg = dip_deg;
        }
    }
    return good;
}

ProcedureItem plumb_item(const Setting& setting, const ExerciseState& state) {
    ProcedureItem item = new_item(
        "plumb_points", "plumb points marked",
        "The sonde lies between its plumb points; the peak alone is off by a quarter of the depth at a few degrees of "
        "tilt.");
    const TiltCall call = state.notebook.tilt_call;
    const bool one_will_do = call == TiltCall::tilted || call == TiltCall::on_end;
    const std::vector<Mark> good = plumb_points_of(setting, state);
    const auto marked = std::ranges::count(state.notebook.marks, MarkKind::plumb, &Mark::kind);
    item.done = good.size() >= 2 || (good.size() == 1 && one_will_do);
    if (item.done) {
        item.tick = good.size() >= 2 ? std::max(good[0].tick, good[1].tick) : good[0].tick;
    }
    const bool coil = setting.world.receiver.kind == sim::ReceiverKind::single_coil;
    const std::string_view dip = coil ? "true dip" : "dip";
    if (good.size() >= 2) {
        item.evidence = fmt::format("{} {:.1f} and {:.1f} deg at two marks {:.2f} m apart", dip, *good[0].dip_deg,
                                    *good[1].dip_deg, glm::distance(good[0].place_m, good[1].place_m));
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

// The depth he can go by when he walks off: his call, else his last reading that counts; 0 when he has neither.
double working_depth_m(const ExerciseState& state) {
    if (state.notebook.depth_call_m && *state.notebook.depth_call_m > 0.0) {
        return *state.notebook.depth_call_m;
    }
    for (auto r = state.notebook.readings.rbegin(); r != state.notebook.readings.rend(); ++r) {
        if (r->counts && r->depth_m) {
            return *r->depth_m;
        }
    }
    return 0.0;
}

struct WalkSample {
    double bearing_deg = 0.0; // from the peak
    std::int64_t tick = 0;
    double fall_db = 0.0;
};

// The most samples, up to four, that are all at least 60 deg from each other. From each first one the nearest allowed
// next one is taken, which is the best that can be done with that start.
std::vector<WalkSample> spread_out(std::vector<WalkSample> samples) {
    std::ranges::sort(samples, {}, [](const WalkSample& s) { return std::pair{s.bearing_deg, s.tick}; });
    std::vector<WalkSample> best;
    for (std::size_t first = 0; first < samples.size() && best.size() < walk_directions; ++first) {
        std::vector<WalkSample> chosen = {samples[first]};
        const double last_allowed_deg = samples[first].bearing_deg + 360.0 - walk_apart_deg + edge;
        auto next = samples.begin() + static_cast<std::ptrdiff_t>(first);
        while (chosen.size() < walk_directions) {
            next = std::ranges::lower_bound(next, samples.end(), chosen.back().bearing_deg + walk_apart_deg - edge, {},
                                            &WalkSample::bearing_deg);
            if (next == samples.end() || next->bearing_deg > last_allowed_deg) {
                break;
            }
            chosen.push_back(*next);
        }
        if (chosen.size() > best.size()) {
            best = std::move(chosen);
        }
    }
    return best;
}

std::vector<WalkSample> walk_samples(const ExerciseState& state, const Mark& peak, double walk_depth_m) {
    std::vector<WalkSample> samples;
    for (const TrailPoint& point : state.trail) {
        const double distance_m = glm::distance(point.tip_m, peak.place_m);
        const double fall_db = peak.signal_dbpt - point.signal_dbpt;
        if (state.first_mark_tick && point.tick >= *state.first_mark_tick && point.tip_height_m <= walk_low_tip_m &&
            distance_m >= walk_near_share * walk_depth_m - edge && distance_m <= walk_far_share * walk_depth_m + edge &&
            fall_db >= walk_fall_db - edge && point.frequency_hz == peak.frequency_hz && point.coil == peak.coil) {
            samples.push_back({heading_of(point.tip_m - peak.place_m), point.tick, fall_db});
        }
    }
    return samples;
}

ProcedureItem walk_item(const ExerciseState& state, double true_depth_m) {
    ProcedureItem item = new_item(
        "walked_off", "walked off in four directions",
        "At the true peak the signal falls whichever way one walks; where it does not, something else is heard.");
    const Mark* peak = find_last(state.notebook, MarkKind::peak);
    if (peak == nullptr) {
        item.evidence = "no peak was marked to walk off from";
        return item;
    }
    const std::string ring = fmt::format("{:.2f} to {:.2f} m from the peak, at least {:.0f} dB down",
                                         walk_near_share * true_depth_m, walk_far_share * true_depth_m, walk_fall_db);
    std::vector<WalkSample> samples = walk_samples(state, *peak, true_depth_m);
    std::vector<WalkSample> chosen = spread_out(samples);
    item.done = chosen.size() >= walk_directions;
    item.evidence = fmt::format("in {} of {} directions ({})", chosen.size(), walk_directions, ring);
    if (!item.done) {
        return item;
    }
    // When the fourth direction was reached: the fewest samples, in time, that still hold four.
    std::size_t enough = samples.size();
    for (std::size_t low = 0; low < enough;) {
        const std::size_t middle = (low + enough) / 2;
        const auto begin = samples.begin();
        std::vector<WalkSample> part(begin, begin + static_cast<std::ptrdiff_t>(middle));
        const bool four = spread_out(std::move(part)).size() >= walk_directions;
        (four ? enough : low) = four ? middle : middle + 1;
    }
    samples.resize(enough);
    chosen = spread_out(samples);
    item.tick = std::ranges::max(chosen, {}, &WalkSample::tick).tick;
    item.evidence += fmt::format(", the least {:.1f} dB", std::ranges::min(chosen, {}, &WalkSample::fall_db).fall_db);
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
        item.evidence = fmt::format("{:.2f} m read with the tip {:.3f} m up and the mast {:.1f} deg off plumb at {}",
                                    *r.depth_m, r.tip_height_m, r.lean_deg, clock_text(r.tick));
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
        item.evidence = fmt::format("pair {:.2f} m and {:.2f} m, {} {:.1f} %, {:.1f} s apart", *pair.first->depth_m,
                                    *pair.second->depth_m, agrees ? "agree" : "disagree by",
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
        "Raising the tip half a metre has to add half a metre; where it does not, the field is not the sonde's alone.");
    Notebook all;
    all.readings = state.all_readings;
    const std::optional<LiftCheck> lift = find_lift_check(all);
    if (!lift) {
        item.evidence = "no depth was read with the tip raised 0.5 m over a reading on the ground";
        return item;
    }
    item.done = lift->holds;
    item.evidence = fmt::format("raised {:.2f} m, the depth reading grew {:.2f} m", lift->raised_m, lift->grew_m);
    if (item.done) {
        item.tick = std::max(find_reading(all, lift->low_id)->tick, find_reading(all, lift->high_id)->tick);
    }
    return item;
}

// With one coil the depth is worked from the two plumb points, and this takes the place of readings.
ProcedureItem spacing_item(const Setting& setting, const ExerciseState& state) {
    ProcedureItem item =
        new_item("depth_from_spacing", "depth worked from the plumb points",
                 "One coil reads no depth; over a level sonde the plumb points are 1.414 depths apart.");
    const std::vector<Mark> good = plumb_points_of(setting, state);
    if (good.size() < 2) {
        item.evidence = "fewer than two plumb points to measure between";
        return item;
    }
    const double spacing_m = glm::distance(good[0].place_m, good[1].place_m);
    const double worked_m = spacing_m / sqrt_two;
    item.evidence = fmt::format("{:.2f} m / 1.414 = {:.2f} m", spacing_m, worked_m);
    if (!state.notebook.depth_call_m) {
        item.evidence += ", no depth called";
        return item;
    }
    item.done = std::abs(*state.notebook.depth_call_m - worked_m) <= setting.world.rubric.depth_share * worked_m + edge;
    item.evidence += fmt::format(", called {:.2f} m", *state.notebook.depth_call_m);
    if (item.done) {
        item.tick = std::max(good[0].tick, good[1].tick);
    }
    return item;
}

void score_procedure(const Setting& setting, const ExerciseState& state, Score& out) {
    const World& world = setting.world;
    out.procedure = {ticket_item(world, state),
                     frequency_item(state),
                     approach_item(world, state, out.true_depth_m),
                     plumb_item(setting, state),
                     walk_item(state, out.true_depth_m),
                     tip_item(state),
                     pair_item(world, state),
                     lift_item(state)};
    if (world.receiver.kind == sim::ReceiverKind::single_coil) {
        for (ProcedureItem& item : out.procedure) {
            if (item.key == "tip_down_and_plumb" || item.key == "paired_reading" || item.key == "lift_check") {
                item.applies = false;
                item.done = false;
                item.tick.reset();
                item.evidence = "does not apply: a single coil reads no depth";
            }
        }
        out.procedure.push_back(spacing_item(setting, state));
    }
    const auto applying = std::ranges::count(out.procedure, true, &ProcedureItem::applies);
    const auto done = std::ranges::count(out.procedure, true, &ProcedureItem::done);
    out.procedure_points = static_cast<int>(
        std::floor(part_of(full_procedure_points, static_cast<double>(done) / static_cast<double>(applying)) + edge));
}

} // namespace

Score score(const Setting& setting, const ExerciseState& state) {
    Score out;
    out.finished = state.finished_tick.has_value();
    score_position(setting.world, state.notebook, out);
    score_depth(setting.world, state.notebook, out);
    score_tilt(setting.world, state.notebook, out);
    score_dig(setting.world, state.notebook, out);
    score_procedure(setting, state, out);
    out.points = out.position_points + out.depth_points + out.tilt_points + out.dig_points + out.procedure_points;
    const bool near_enough = out.horizontal_error_m && *out.horizontal_error_m <= out.half_band_m + edge;
    const bool safe = std::ranges::none_of(out.safety, &SafetyItem::failed);
    out.passed = out.finished && near_enough && out.depth_within && out.dig_outcome == DigOutcome::on_the_pipe && safe;
    return out;
}

WalkOff walked_off(const ExerciseState& state) {
    const Mark* peak = find_last(state.notebook, MarkKind::peak);
    const double radius_m = working_depth_m(state);
    if (peak == nullptr || radius_m <= 0.0) {
        return {};
    }
    return {radius_m, static_cast<int>(spread_out(walk_samples(state, *peak, radius_m)).size())};
}

} // namespace sondeyard::field
