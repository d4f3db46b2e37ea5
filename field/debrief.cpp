#include "field/cautions.hpp"
#include "field/debrief_parts.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double worth_telling_share = 0.03; // of the depth, for a reading taken beside the spot
constexpr double read_off_m = 0.05;          // a depth call this near a reading rests on it
constexpr double blunt_along_share = 2.0;    // error along over error across, to tell of it

void add_position_notes(const World& world, const Score& score, const Mark* locate, Notes& notes) {
    if (locate == nullptr) {
        notes.emplace_back("No locate was marked, so no position could be scored.");
        return;
    }
    if (*score.horizontal_error_m <= score.full_band_m || score.tilt.true_tilt_deg > on_end_above_deg) {
        return;
    }
    const SondeTruth& sonde = score.located.sonde;
    const glm::dvec2 off = locate->place_m - plan(sonde.position_m);
    const double along_m = std::abs(glm::dot(off, direction_of(sonde.heading_deg)));
    const double across_m = std::abs(glm::dot(off, direction_of(sonde.heading_deg + 90.0)));
    const double ghost_m = std::sqrt(1.5) * (score.true_depth_m + world.receiver.tip_to_antenna_m);
    if (!sim::shows_dial(world.receiver.kind) && score.tilt.true_tilt_deg < level_below_deg &&
        std::hypot(along_m - ghost_m, across_m) <= spot_share * score.true_depth_m) {
        notes.push_back(
            fmt::format("The locate stands where a level coil has a ghost peak, 1.22 depths along the sonde: a fifth "
                        "of the main peak, {} from it.",
                        metres(*score.horizontal_error_m)));
    }
    std::string text =
        fmt::format("Of the error {} is along the sonde and {} across it.", metres(along_m), metres(across_m));
    if (along_m > blunt_along_share * across_m) {
        text +=
            " Across the track the signal is sharp, along it blunt; plumb points and level line fix the spot along it.";
    }
    notes.push_back(std::move(text));
}

// The reading that the depth call rests on.
const Reading* reading_called(const Notebook& notebook) {
    const Reading* best = nullptr;
    double least = read_off_m;
    for (const Reading& r : notebook.readings) {
        const double off = r.depth_m && notebook.depth_call_m ? std::abs(*r.depth_m - *notebook.depth_call_m) : 1e9;
        if (r.counts && off <= least) {
            least = off;
            best = &r;
        }
    }
    return best;
}

void add_depth_notes(const Setting& setting, const Notebook& notebook, const Cable& cable, const Score& score,
                     Notes& notes) {
    const sim::ReceiverSpec& spec = setting.world.receiver;
    notes.push_back(fmt::format("Depths: the sonde's centre {}, the pipe's top {} at the fault, its springline {}.",
                                metres(score.true_depth_m), metres(score.pipe_top_depth_m),
                                metres(score.springline_depth_m)));
    if (score.rising_pipe_m) {
        notes.push_back(
            fmt::format("In the box the drain comes up to {}: from there down the hole goes round the pipe, "
                        "by hand or vacuum, to reach the fault.",
                        metres(*score.rising_pipe_m)));
    }
    if (!score.depth_call_m) {
        notes.emplace_back("No depth was called, so none could be scored.");
    }
    const Reading* reading = reading_called(notebook);
    if (reading == nullptr) {
        return;
    }
    const CablePlace then = place_at(cable, reading->tick);
    const double ground_m = height_m(setting.world.yard.terrain, reading->place_m);
    const SondeTruth sonde = sonde_lying(setting.world, setting.cable, then.sonde_m); // as it lay when it was read
    const double true_m = ground_m - sonde.position_m.z;
    // The same instrument without its own errors and without noise, plumb, at the same place and turned the same way.
    sim::ReceiverSpec quiet = spec;
    quiet.noise_floor_pt_per_rthz = quiet.noise_at_512_pt_per_rthz = 0.0;
    quiet.coil.reset();
    const sim::Instrument plumb = sim::perfect_instrument(quiet);
    sim::Scene alone = scene_of(setting.world, setting.ground, sonde);
    alone.emissions.resize(1);
    alone.hums.clear();
    const double frequency_hz = setting.world.sonde.frequency_hz;
    const auto reads = [&](const sim::Scene& scene) {
        const sim::AntennaSignals signals = sim::antenna_signals_t(
            plumb, {{reading->place_m, ground_m}, reading->facing_deg, 0.0, 0.0}, scene, frequency_hz, 1, tick_s, true);
        return sim::measure(plumb, signals, frequency_hz, 0.0, sim::CoilAttitude::level).depth_m;
    };
    const std::optional<double> with_lines_m = reads(alone);
    alone.emissions.front().currents.clear();
    const std::optional<double> expected_m = reads(alone);
    if (with_lines_m && expected_m && std::abs(*with_lines_m - *expected_m) > worth_telling_share * true_m) {
        notes.push_back(
            fmt::format("The current that the sonde drives in the metal beside it makes a plumb receiver read {} where "
                        "the reading of {} was taken; without that metal it would read {}.",
                        metres(*with_lines_m), metres(*reading->depth_m), metres(*expected_m)));
    }
    if (expected_m && std::abs(*expected_m - true_m) > worth_telling_share * true_m) {
        notes.push_back(fmt::format(
            "The reading of {} was taken {} from the sonde in plan; a plumb receiver reads {} there, "
            "for the true {}. Depth is read at the peak{}.",
            metres(*reading->depth_m), metres(glm::distance(reading->place_m, plan(sonde.position_m))),
            metres(*expected_m), metres(true_m), sim::shows_dial(spec.kind) ? "" : ", turned along the sonde"));
    }
}

void add_fault_note(const World& world, Notes& notes) {
    const JobSheet& sheet = world.sheet;
    double ahead_m = sheet.sonde_to_lens_m + sheet.lens_to_fault_m;
    if (world.run) { // as it came to lie: the run may end before
        ahead_m = project(*world.run, dig_target(world).centre_m).along_m -
                  project(*world.run, world.sonde.position_m).along_m;
    }
    if (std::abs(ahead_m) < nearly_m) {
        notes.emplace_back(
            "Sonde and fault are at one place here: the locate is scored against the sonde, the dig against "
            "the fault.");
        return;
    }
    notes.push_back(
        fmt::format("The locate is scored against the sonde, the dig against the fault, which lies {} {} (job "
                    "sheet: sonde to lens {}, lens to fault {}).",
                    metres(std::abs(ahead_m)),
                    world.run ? (ahead_m > 0.0 ? "farther down the run" : "back up the run") : "from it along its axis",
                    metres(sheet.sonde_to_lens_m), metres(sheet.lens_to_fault_m)));
}

// Which sonde the locate and the depth were held against, when the cable hand was asked for anything.
void add_cable_note(const World& world, const Mark* locate, const LocatedSonde& located, Notes& notes) {
    if (!located.asked) {
        return;
    }
    const double sonde_m = located.cable.sonde_m;
    const auto way = [](double by_m) {
        return std::abs(by_m) < nearly_m ? std::string("where it had stopped")
                                         : fmt::format("{} {} where it had stopped", metres(std::abs(by_m)),
                                                       by_m < 0.0 ? "back from" : "on from");
    };
    std::string text = fmt::format("The cable hand was asked. {} the sonde lay {}",
                                   locate != nullptr ? "When the locate was marked" : "At the end", way(sonde_m));
    if (std::abs(located.cable.out_m - sonde_m) >= nearly_m) {
        text +=
            fmt::format("; the counter had gone {} {}, {} more than the sonde", metres(std::abs(located.cable.out_m)),
                        located.cable.out_m < 0.0 ? "back" : "on", metres(std::abs(located.cable.out_m - sonde_m)));
    }
    text += ".";
    if (locate != nullptr && std::abs(sonde_m) >= nearly_m) {
        text += located.at_stop
                    ? " The mark is nearer to the stop, so locate and depth are counted against the sonde there: "
                      "carried on by counter and pipe heading."
                    : " The mark is nearer to where it lay then, so locate and depth are counted against that.";
    }
    notes.push_back(std::move(text));
    notes.push_back(fmt::format("Its cable had {} of slack: pulled back, the counter ran so far before the sonde "
                                "followed. Pulled past a place and pushed on to it again, counter and sonde agree.",
                                metres(located.slack_m)));
    if (!world.other_sondes.empty()) {
        notes.emplace_back(
            "Other transmitters in the yard did not follow the counter: that is how they are told apart.");
    }
}

void add_frequency_notes(const World& world, const ExerciseState& state, Notes& notes) {
    const double sent_hz = world.sonde.frequency_hz;
    if (world.sheet.frequency_hz != sent_hz) {
        notes.push_back(fmt::format("The job sheet says {}, the sonde sends {}: the check at the truck shows it.",
                                    frequency_text(world.sheet.frequency_hz), frequency_text(sent_hz)));
    }
    if (state.frequency_hz != sent_hz) {
        notes.push_back(
            fmt::format("The receiver was set to {} at the end and the sonde sends {}: on another frequency it "
                        "picks up next to nothing of it.",
                        frequency_text(state.frequency_hz), frequency_text(sent_hz)));
    }
}

void add_line_notes(const World& world, const Notebook& notebook, const Score& score, Notes& notes, Notes& cautions) {
    if (const std::string waits = waiting_words(world.sheet.ticket); !waits.empty()) {
        notes.push_back(waits + (notebook.dig ? " The dig proposed here waits for that." : ""));
        cautions.push_back(notes.back());
    }
    for (const std::string& line : score.lines_in_box) {
        notes.push_back(fmt::format("A line's tolerance zone reaches the box: {}.", line));
    }
    const bool dug = score.dig_outcome != DigOutcome::none;
    if (dug && !score.by_machine && !score.line_hit.empty()) {
        notes.push_back(
            fmt::format("Dug with care by hand or vacuum, the hole exposes {}, which then has to be supported and "
                        "protected.",
                        score.line_hit));
    }
    if (dug && score.lines_in_box.empty() && !world.yard.lines.empty()) {
        notes.emplace_back("No other line's tolerance zone reaches the box.");
    }
    const auto unmarked = std::ranges::count_if(
        world.yard.lines, [](const BuriedLine& line) { return line.is_private && line.paint_m.empty(); });
    if (unmarked > 0) {
        notes.push_back(
            fmt::format("{} in this yard {} private and unmarked: past the meter no ticket covers it, and only the "
                        "yard's own clues tell of it.",
                        unmarked == 1 ? "One line" : fmt::format("{} lines", unmarked), unmarked == 1 ? "is" : "are"));
    }
    if (dug && notebook.dig && notebook.dig->method == DigMethod::none) {
        notes.emplace_back("No way of digging was said, so the dig is judged as a machine's.");
    }
    if (score.dig_volume_m3 > free_volume_m3 + 1e-9) {
        notes.push_back(fmt::format("The hole takes out {}; beyond {} digging costs points.",
                                    volume_text(score.dig_volume_m3), volume_text(free_volume_m3)));
    }
    if (score.deep_dig) {
        notes.push_back(
            deep_hole_words(deepest_side_m(world.yard.terrain, *notebook.dig), world.rubric.protection_depth_m));
        cautions.push_back(notes.back());
    }
}

std::vector<LessonPart> lesson_parts(const Lesson& lesson) {
    std::vector<LessonPart> parts;
    const auto add = [&parts](std::string_view title, const std::string& text) {
        if (!text.empty()) {
            parts.push_back({std::string(title), text});
        }
    };
    add("What is different", lesson.different);
    add("How one can tell", lesson.tell);
    add("What to do", lesson.act);
    return parts;
}

void say_in(Units units, Debrief& out) {
    const auto say = [units](std::string& text) { text = in_units(text, units); };
    say(out.hole);
    std::ranges::for_each(out.notes, say);
    std::ranges::for_each(out.cautions, say);
    for (Figure& figure : out.figures) {
        say(figure.value);
        say(figure.tolerance);
    }
    for (LessonPart& part : out.lesson) {
        say(part.text);
    }
}

} // namespace

Debrief debrief(const Setting& setting, const ExerciseState& state, const Score& score, Units units) {
    const Mark* locate = find_last(state.notebook, MarkKind::locate);
    Debrief out;
    out.hole = hole_sentence(setting.world, state.notebook, score);
    if (!score.finished) {
        out.notes.emplace_back("The exercise was not finished, so it is not passed.");
    }
    add_fault_note(setting.world, out.notes);
    add_cable_note(setting.world, locate, score.located, out.notes);
    add_position_notes(setting.world, score, locate, out.notes);
    add_tilt_notes(setting, score, locate, out.notes);
    add_depth_notes(setting, state.notebook, state.cable, score, out.notes);
    add_frequency_notes(setting.world, state, out.notes);
    add_line_notes(setting.world, state.notebook, score, out.notes, out.cautions);
    out.figures = debrief_figures(state.notebook, score);
    out.lesson = lesson_parts(setting.world.lesson);
    out.disclaimer = "Training here licenses nobody to locate or to dig. In the field the one-call centre, the owners' "
                     "marks, local codes and licensed practice decide.";
    say_in(units, out);
    return out;
}

} // namespace sondeyard::field
