#include "field/debrief_parts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

namespace {

Figure position_figure(const Score& score) {
    Figure figure{"position", "not marked", {}, false};
    const Held held = held_against(score.horizontal_error_m, std::array{score.full_band_m, score.half_band_m});
    figure.tolerance = fmt::format("{} for full points, {} to pass", held.bands[0], held.bands[1]);
    if (score.horizontal_error_m) {
        figure.value = fmt::format("{}, {} % of depth", held.error,
                                   fixed(100.0 * *score.horizontal_error_m / score.true_depth_m, 0));
        figure.good = *score.horizontal_error_m <= score.half_band_m + 1e-9;
    }
    return figure;
}

std::string signed_error(double error_m, bool to_the_millimetre) {
    const std::string feet =
        to_the_millimetre ? fixed(error_m / metres_per_inch, 1) + " in" : length_text(error_m, Units::feet);
    return fmt::format("{{{} cm|{}{}}}", signed_text(100.0 * error_m, to_the_millimetre ? 1 : 0),
                       error_m > 0.0 && feet != "0 in" ? "+" : "", feet);
}

Figure depth_figure(const Score& score) {
    Figure figure{"depth", fmt::format("not called, was {}", metres(score.depth_at_mark_m)), {}, score.depth_within};
    const std::optional<double> off_m =
        score.depth_error_m ? std::optional(std::abs(*score.depth_error_m)) : std::nullopt;
    const Held held = held_against(off_m, std::array{score.depth_band_m});
    figure.tolerance =
        fmt::format("{}, {} %", held.bands[0], fixed(100.0 * score.depth_band_m / score.depth_at_mark_m, 0));
    if (score.depth_call_m) {
        figure.value = fmt::format(
            "{} for {}, {}, {} %",
            fmt::format("{{{}|{}}}", fixed(*score.depth_call_m, 2), length_text(*score.depth_call_m, Units::feet)),
            metres(score.depth_at_mark_m), signed_error(*score.depth_error_m, held.close),
            signed_text(*score.depth_error_percent, 1));
    }
    return figure;
}

Figure tilt_figure(const Notebook& notebook, const Score& score) {
    const TiltScore& tilt = score.tilt;
    const bool has_raised_end =
        tilt.true_tilt_deg >= least_raised_deg && tilt.true_tilt_deg <= on_end_above_deg + tilt_slack_deg;
    std::string truth = fmt::format("was {} deg", fixed(tilt.true_tilt_deg, 1));
    if (has_raised_end) {
        truth += fmt::format(", {} end raised", compass_word(tilt.true_raised_heading_deg));
    }
    std::string called = "not called";
    if (tilt.called) {
        called = fmt::format("called {}", name_of(notebook.tilt_call));
        if (notebook.tilt_call == TiltCall::tilted) {
            called += fmt::format(", {} end raised", compass_word(notebook.raised_heading_deg));
        }
        if (tilt.tilt_error_deg) {
            called += fmt::format(", {} deg ({} deg off)", fixed(*notebook.tilt_angle_call_deg, 0),
                                  signed_text(*tilt.tilt_error_deg, 1));
        }
    }
    return {"tilt", called + "; " + truth,
            fmt::format("level under {} deg, on end over {}, {} deg either way", fixed(level_below_deg, 0),
                        fixed(on_end_above_deg, 0), fixed(tilt_slack_deg, 0)),
            tilt.right};
}

Figure dig_figure(const Score& score) {
    if (score.dig_outcome == DigOutcome::none) {
        return {"dig", "none", "on the pipe", false};
    }
    return {"dig",
            fmt::format("{}; box's middle {} from the fault", name_of(score.dig_outcome),
                        error_words(score.target_distance_m)),
            fmt::format("the fault in the box, its bottom {} to {} down",
                        fmt::format("{{{}|{}}}", fixed(std::max(score.pipe_top_depth_m - above_pipe_m, 0.0), 2),
                                    length_text(std::max(score.pipe_top_depth_m - above_pipe_m, 0.0), Units::feet)),
                        metres(score.springline_depth_m)),
            score.dig_outcome == DigOutcome::on_the_pipe};
}

Figure volume_figure(const Score& score) {
    return {"volume", volume_text(score.dig_volume_m3), volume_text(free_volume_m3) + " without loss of points",
            score.dig_volume_m3 <= free_volume_m3 + 1e-9};
}

Figure procedure_figure(const Score& score) {
    const auto applying = std::ranges::count(score.procedure, true, &ProcedureItem::applies);
    const auto done = std::ranges::count(score.procedure, true, &ProcedureItem::done);
    return {"procedure", fmt::format("{} of {} done", done, applying), "all of them", done == applying};
}

Figure safety_figure(const Score& score) {
    std::string failed;
    for (const SafetyItem& item : score.safety) {
        if (item.failed) {
            failed += (failed.empty() ? "" : "; ") + std::string(item.key == "machine_without_clearance"
                                                                     ? "machine without a cleared ticket"
                                                                     : "machine inside a tolerance zone");
        }
    }
    return {"safety", failed.empty() ? "nothing failed" : failed, "nothing may fail", failed.empty()};
}

} // namespace

std::vector<Figure> debrief_figures(const Notebook& notebook, const Score& score) {
    std::vector<Figure> figures = {position_figure(score), depth_figure(score), tilt_figure(notebook, score),
                                   dig_figure(score)};
    if (score.dig_outcome != DigOutcome::none) {
        figures.push_back(volume_figure(score));
    }
    if (notebook.dig) {
        figures.push_back(safety_figure(score));
    }
    figures.push_back(procedure_figure(score));
    return figures;
}

} // namespace sondeyard::field
