// What a dig box would find: other people's lines, its own pipe, and what it costs.
#include "field/cautions.hpp"
#include "field/score_parts.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

double gap_to_box_m(const DigBox& box, const glm::dvec2& place_m) {
    const glm::dvec2 from_centre = place_m - box.centre_m;
    const double along = std::abs(glm::dot(from_centre, direction_of(box.heading_deg)));
    const double across = std::abs(glm::dot(from_centre, direction_of(box.heading_deg + 90.0)));
    const double gap = std::hypot(std::max(along - 0.5 * box.length_m, 0.0), std::max(across - 0.5 * box.width_m, 0.0));
    return gap < edge ? 0.0 : gap;
}

namespace {

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

// Where a buried line's top is shallowest inside the box: its depth from the surface at the box's middle, as that of
// the bottom. Empty when no part of it lies in the box above its bottom.
struct TopInBox {
    double depth_m = 0.0;
    glm::dvec2 place_m{0.0};
};
std::optional<TopInBox> top_in_box(const std::vector<glm::dvec3>& centre_m, double radius_m, const DigBox& box,
                                   double surface_m) {
    const glm::dvec2 along = direction_of(box.heading_deg);
    const glm::dvec2 right = direction_of(box.heading_deg + 90.0);
    const Polygon outline = rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m);
    std::optional<TopInBox> shallowest;
    for (std::size_t i = 1; i < centre_m.size(); ++i) {
        const glm::dvec3& a = centre_m[i - 1];
        const glm::dvec3& b = centre_m[i];
        const double top_a_m = surface_m - a.z - radius_m;
        const double top_b_m = surface_m - b.z - radius_m;
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
        const double top_from_m = top_a_m + from * (top_b_m - top_a_m);
        const double top_to_m = top_a_m + to * (top_b_m - top_a_m);
        const TopInBox top = top_from_m <= top_to_m ? TopInBox{top_from_m, part[0]} : TopInBox{top_to_m, part[1]};
        if (!shallowest || top.depth_m < shallowest->depth_m) {
            shallowest = top;
        }
    }
    return shallowest;
}

// One line as seen from the dig box. Distances in plan, from the box's edge to the line's (or the paint's) centre.
struct NearLine {
    double true_m = 0.0;
    std::optional<double> paint_m;
    double zone_m = 0.0; // half its width and the tolerance
    bool known = false;
    std::optional<double> depth_in_box_m; // from the surface over it

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
    const double surface_m = height_m(world.yard.terrain, box.centre_m);
    if (const auto top = top_in_box(line.points_m, 0.5 * line.width_m, box, surface_m)) {
        near.depth_in_box_m = top->depth_m + (height_m(world.yard.terrain, top->place_m) - surface_m);
    }
    return near;
}

std::string line_text(const BuriedLine& line, const NearLine& near) {
    std::string text = fmt::format("{}, {}, ", name_of(line.kind), line.owner.empty() ? "private" : line.owner);
    if (near.depth_in_box_m) {
        text += fmt::format("in the box, {} down", either(*near.depth_in_box_m));
    } else if (near.true_m <= edge) {
        text += "under the box";
    } else {
        text += fmt::format("{} from the box", either(near.true_m));
    }
    if (near.paint_m) {
        text +=
            fmt::format(" (its paint {})",
                        *near.paint_m <= edge ? "crosses the box" : fmt::format("{} from it", either(*near.paint_m)));
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
            out.line_hit = fmt::format("the {} line of {}, {} down", name_of(line.kind),
                                       line.owner.empty() ? "the property" : line.owner, either(*shallowest_m));
        }
        if (out.by_machine && (near.inside_by_rule() || near.depth_in_box_m)) {
            zone.failed = true;
            zone.evidence += fmt::format("{}{}, tolerance zone {} from its centre", zone.evidence.empty() ? "" : "; ",
                                         line_text(line, near), either(near.zone_m));
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

// Where the drain itself comes up within the box, as in a drop or a steep branch: the springline's depth at its
// highest, when that is more than an ordinary fall above the fault's and above the bottom of the box.
std::optional<double> rising_pipe_m(const World& world, const DigBox& box, const DigTarget& target) {
    if (!world.run) {
        return std::nullopt;
    }
    const double radius_m = 0.5 * world.run->inside_diameter_m + world.run->wall_m;
    const auto top = top_in_box(world.run->centreline_m, radius_m, box, height_m(world.yard.terrain, box.centre_m));
    if (!top || top->depth_m + radius_m > target.springline_depth_m - rising_pipe_from_m ||
        top->depth_m + radius_m > box.depth_m) {
        return std::nullopt;
    }
    return top->depth_m + radius_m;
}

int volume_points(double volume_m3) {
    const double steps = std::ceil((volume_m3 - free_volume_m3) / volume_step_m3 - edge);
    return static_cast<int>(std::clamp(steps, 0.0, static_cast<double>(most_volume_points)));
}

SafetyItem clearance_item(const Ticket& ticket, bool by_machine) {
    const bool cleared = ticket.state == TicketState::cleared;
    return {"machine_without_clearance", true, by_machine && !cleared,
            fmt::format("ticket {}: {}, {}", ticket.number, name_of(ticket.state),
                        by_machine ? "machine digging"
                        : cleared  ? "no machine digging"
                                   : "no machine; by hand or vacuum too the dig waits for every owner's answer")};
}

} // namespace

void score_dig(const World& world, const Notebook& notebook, Score& out) {
    DigTarget target = dig_target(world);
    if (notebook.dig) { // its bottom is level, and everything in it counts from the surface at its middle
        const double middle_m = height_m(world.yard.terrain, notebook.dig->centre_m);
        const double higher_m = middle_m - height_m(world.yard.terrain, plan(target.centre_m));
        target.pipe_top_depth_m += higher_m;
        target.springline_depth_m += higher_m;
    }
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
    out.deep_dig = is_deep(deepest_side_m(world.yard.terrain, box), world.rubric.protection_depth_m);
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

} // namespace sondeyard::field
