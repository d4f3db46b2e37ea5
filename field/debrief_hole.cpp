#include "field/debrief_parts.hpp"

#include <fmt/format.h>

namespace sondeyard::field {

namespace {

// Does the box lie over the pipe somewhere, though not over the fault?
bool over_the_run(const World& world, const DigBox& box) {
    if (!world.run) {
        return false;
    }
    const std::vector<glm::dvec2> line = plan(world.run->centreline_m);
    const Polygon outline = rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m);
    return distance_to_polyline_m(outline, line) <= 0.5 * world.run->inside_diameter_m;
}

std::string small_box_sentence(const DigBox& box) {
    const bool deep = box.depth_m > deep_box_from_m;
    const double width_m = deep ? least_deep_width_m : least_box_m;
    const double length_m = deep ? least_deep_length_m : least_box_m;
    return fmt::format("Your hole could not be dug as drawn: {} is too small to work in at {} deep, which takes {}.",
                       box_text(box.length_m, box.width_m), metres(box.depth_m), box_text(length_m, width_m));
}

std::string beside_sentence(const World& world, const DigBox& box, double gap_m) {
    const std::string gap = at_least_a_cm(gap_m);
    if (!world.run) { // no pipe is known here but the spot itself
        return fmt::format("Your hole would have missed the fault: the box stops {} beside it.", gap);
    }
    if (over_the_run(world, box)) {
        return fmt::format(
            "Your hole would have missed the fault: the box lies over the pipe, but stops {} short of it.", gap);
    }
    return fmt::format("Your hole would have missed the pipe: the box stops {} beside the fault.", gap);
}

std::string hit_sentence(const DigBox& box, const Score& score) {
    if (score.rising_pipe_m) {
        return fmt::format("Your hole would have reached the pipe at the fault, going round it from {} down.",
                           metres(*score.rising_pipe_m));
    }
    const double above_m = score.pipe_top_depth_m - box.depth_m;
    if (above_m > nearly_m) {
        // The last bit over a pipe is nobody's machine's; who digs by hand or vacuum just goes on.
        return fmt::format("Your hole would have come down over the pipe at the fault and stopped {} above it; {}.",
                           metres(above_m),
                           box.method == DigMethod::hand     ? "go on down to it by hand"
                           : box.method == DigMethod::vacuum ? "go on down to it by vacuum"
                                                             : "the rest is hand work");
    }
    return "Your hole would have exposed the pipe at the fault.";
}

} // namespace

std::string hole_sentence(const World& world, const Notebook& notebook, const Score& score) {
    if (score.dig_outcome == DigOutcome::none || !notebook.dig) {
        return notebook.dig ? "The dig box has no depth, so nothing would have been opened."
                            : "No dig was proposed, so nothing would have been opened.";
    }
    const DigBox& box = *notebook.dig;
    switch (score.dig_outcome) {
    case DigOutcome::through_a_line:
        return fmt::format("Your hole would have gone through {}{}.", score.line_hit,
                           box.method == DigMethod::machine
                               ? ", with the machine"
                               : "; no way of digging was said, so it is judged as a machine's");
    case DigOutcome::too_small:
        return small_box_sentence(box);
    case DigOutcome::too_large:
        return fmt::format("Your box opens {}, more than the {} allowed; {}.", area_text(box.length_m * box.width_m),
                           fmt::format("{{{} m2|{} sq ft}}", fixed(largest_box_m2, 2),
                                       fixed(largest_box_m2 / (metres_per_foot * metres_per_foot), 1)),
                           score.target_gap_m > 0.0
                               ? fmt::format("even so it stops {} beside the fault", at_least_a_cm(score.target_gap_m))
                               : std::string("the fault lies within it"));
    case DigOutcome::beside:
        return beside_sentence(world, box, score.target_gap_m);
    case DigOutcome::shallow:
        return fmt::format("Your hole would have stopped {} above the pipe.",
                           metres(score.pipe_top_depth_m - box.depth_m));
    case DigOutcome::into_the_pipe:
        if (score.rising_pipe_m && box.depth_m <= score.springline_depth_m) {
            return fmt::format(
                "Your machine would have gone into the pipe: in the box the drain comes up to {} below the "
                "ground.",
                metres(*score.rising_pipe_m));
        }
        return fmt::format("Your hole would have gone into the pipe: its bottom lies {} below the pipe's springline.",
                           at_least_a_cm(box.depth_m - score.springline_depth_m));
    case DigOutcome::on_the_pipe:
        return hit_sentence(box, score);
    case DigOutcome::none:
        break;
    }
    return {};
}

} // namespace sondeyard::field
