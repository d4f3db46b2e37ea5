#include "field/debrief.hpp"

#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr int json_format = 1;
constexpr double nearly_m = 0.005;           // shorter than this is 0.00 m in print
constexpr double worth_telling_m = 0.02;     // of what a slope does
constexpr double worth_telling_share = 0.03; // of the depth, for a reading taken beside the spot
constexpr double spot_share = 0.15;          // of the depth: a mark this near an expected spot stands on it
constexpr double read_off_m = 0.05;          // a depth call this near a reading rests on it
constexpr double level_enough_deg = 0.5;     // peak and level line are less than a hand apart below this
constexpr double own_peak_per_deg = 0.0058;  // of the antenna's height over the sonde, a degree of tilt, to 45 deg
constexpr double own_peak_to_deg = 45.0;
constexpr double blunt_along_share = 2.0; // error along over error across, to tell of it

// Rounded for print, without "-0.00".
std::string fixed(double value, int decimals) {
    std::string text = fmt::format("{:.{}f}", value, decimals);
    const bool zero = text.find_first_not_of("-0.") == std::string::npos;
    return zero && text.front() == '-' ? text.substr(1) : text;
}
std::string metres(double value_m) { return fixed(value_m, 2) + " m"; }
std::string at_least_a_cm(double value_m) { return value_m < nearly_m ? "less than 1 cm" : metres(value_m); }
std::string area_text(double value_m2) { return fixed(value_m2, value_m2 < largest_box_m2 + 0.005 ? 3 : 2); }
// An error: in centimetres while one would measure it with a hand's rule, in metres beyond.
std::string error_text(double value_m) {
    return std::abs(value_m) < 1.0 ? fixed(100.0 * value_m, 0) + " cm" : metres(value_m);
}
std::string tolerance_text(double value_m) { // to a millimetre, so that a figure just outside does not look inside
    std::string text = fixed(100.0 * value_m, 1);
    return (text.ends_with(".0") ? text.substr(0, text.size() - 2) : text) + " cm";
}
std::string signed_text(double value, int decimals) {
    std::string text = fixed(value, decimals);
    return value > 0.0 && text.find_first_not_of("0.") != std::string::npos ? "+" + text : text;
}

std::string_view compass_word(double heading_deg) {
    static constexpr std::array<std::string_view, 8> words = {"north", "north-east", "east", "south-east",
                                                              "south", "south-west", "west", "north-west"};
    return words[static_cast<std::size_t>(std::lround(sim::wrap_360(heading_deg) / 45.0)) % words.size()];
}

// ---- The hole ----

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
    return fmt::format("Your hole could not be dug as drawn: {} x {} m is too small to work in at {} deep, which takes "
                       "{} x {} m.",
                       fixed(box.length_m, 2), fixed(box.width_m, 2), metres(box.depth_m), fixed(length_m, 2),
                       fixed(width_m, 2));
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
        return fmt::format(
            "Your hole would have come down on the pipe at the fault and stopped {} above it, where the rest "
            "is hand work.",
            metres(above_m));
    }
    return "Your hole would have exposed the pipe at the fault.";
}

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
        return fmt::format("Your box opens {} m2, more than the {} m2 allowed; {}.",
                           area_text(box.length_m * box.width_m), fixed(largest_box_m2, 2),
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

// ---- What explains it ----

// Where the peak of the total field and the level line cross the track over a tilted sonde, from the sonde, towards its
// raised end. antenna_height_m is over the sonde. The level line is in closed form; the peak is found to a thousandth
// of the height on the side where it must be.
struct Spots {
    double peak_m = 0.0;
    double level_line_m = 0.0;
    std::array<double, 2> plumb_m{}; // the nearest one on either side, over a sonde that lies level
};
Spots expected_spots(double tilt_deg, double antenna_height_m) {
    const double c = std::cos(sim::radians(tilt_deg));
    const double s = std::sin(sim::radians(tilt_deg));
    double best = 0.0;
    double strongest = -1.0;
    for (int i = 0; i <= 400; ++i) {
        const double x = 0.001 * i;
        const double square = 1.0 + x * x;
        const double along = x * c + s;
        const double power = (3.0 * along * along / square + 1.0) / (square * square * square);
        if (power > strongest) {
            strongest = power;
            best = x;
        }
    }
    const double t = s / c;
    const double level = t < 1e-9 ? 0.0 : (3.0 - std::sqrt(9.0 + 8.0 * t * t)) / (2.0 * t);
    const double plumb_m = std::sqrt(0.5) * antenna_height_m;
    return {best * antenna_height_m, level * antenna_height_m, {plumb_m, -plumb_m}};
}

// The same where the ground rises or falls, walked over in steps of 2 mm: along the sonde, its field in the plane of axis and
// plumb, x towards the raised end and z up.
Spots spots_on(const World& world, const glm::dvec3& sonde_m, double raised_heading_deg, double tilt_deg) {
    const glm::dvec2 sonde = plan(sonde_m);
    const glm::dvec2 ahead = direction_of(raised_heading_deg);
    const double c = std::cos(sim::radians(tilt_deg));
    const double s = std::sin(sim::radians(tilt_deg));
    constexpr double step_m = 0.002;
    const int steps = static_cast<int>(2.0 * depth_m(world, sonde_m) / step_m);
    struct Seen {
        double flat, up;
    };
    const auto seen_at = [&](int i) {
        const double x = step_m * i;
        const double z = height_m(world.yard.terrain, sonde + x * ahead) + world.receiver.tip_to_antenna_m - sonde_m.z;
        const double square = x * x + z * z;
        const double along = 3.0 * (x * c + z * s) / square;
        const double fade = 1.0 / (square * std::sqrt(square));
        return Seen{(along * x - c) * fade, (along * z - s) * fade};
    };
    Spots spots;
    double strongest = -1.0;
    double level_off = 1e9;
    std::array<double, 2> plumb_off = {1e9, 1e9};
    Seen before = seen_at(-steps);
    for (int i = 1 - steps; i <= steps; ++i) {
        const Seen now = seen_at(i);
        const double x = step_m * (i - 0.5);
        if (const double power = now.flat * now.flat + now.up * now.up; power > strongest) {
            strongest = power;
            spots.peak_m = step_m * i;
        }
        if ((before.up < 0.0) != (now.up < 0.0) && std::abs(x) < level_off) {
            level_off = std::abs(x);
            spots.level_line_m = x;
        }
        const std::size_t side = x > 0.0 ? 0 : 1;
        if ((before.flat < 0.0) != (now.flat < 0.0) && std::abs(x) < plumb_off[side]) {
            plumb_off[side] = std::abs(x);
            spots.plumb_m[side] = x;
        }
        before = now;
    }
    return spots;
}

using Notes = std::vector<std::string>;

std::string place_along(double along_m, double heading_deg) { // "0.25 m west of it"
    return std::abs(along_m) < 0.005 ? std::string("over it")
                                     : fmt::format("{} {} of it", metres(std::abs(along_m)),
                                                   compass_word(along_m < 0.0 ? heading_deg + 180.0 : heading_deg));
}

// Where the ground over the sonde is not level: what that does to the marks. True: it was said of a level sonde.
bool add_slope_note(const World& world, const Score& score, double raised_heading_deg, Notes& notes) {
    const Spots spots = spots_on(world, score.located.sonde.position_m, raised_heading_deg, score.tilt.true_tilt_deg);
    const bool worth_it = score.tilt.true_tilt_deg < level_enough_deg && spots.plumb_m[0] != 0.0 &&
                          spots.plumb_m[1] != 0.0 && std::abs(spots.plumb_m[0] + spots.plumb_m[1]) > worth_telling_m;
    if (worth_it) {
        notes.push_back(fmt::format(
            "The ground is not level here: the plumb points are {} {} and {} {} of the sonde, the farther one uphill, and "
            "the peak is {}. It is not midway between the plumb points; the level line still runs over a level sonde.",
            metres(spots.plumb_m[0]), compass_word(raised_heading_deg), metres(-spots.plumb_m[1]),
            compass_word(raised_heading_deg + 180.0), place_along(spots.peak_m, raised_heading_deg)));
    }
    if (score.depth_call_m && std::abs(score.depth_at_mark_m - score.true_depth_m) > worth_telling_m) {
        notes.push_back(fmt::format("Depth counts from the surface at the mark: {} there, {} over the sonde.",
                                    metres(score.depth_at_mark_m), metres(score.true_depth_m)));
    }
    return worth_it;
}

void add_tilt_notes(const Setting& setting, const Score& score, const Mark* locate, Notes& notes) {
    const World& world = setting.world;
    const TiltScore& tilt = score.tilt;
    const bool coil = !sim::shows_dial(world.receiver.kind);
    if (tilt.true_tilt_deg > on_end_above_deg) {
        notes.push_back(
            fmt::format("The sonde stood on end or nearly so ({} deg): peak and plumb point stand together, within a "
                        "tenth of its depth of it, and that is the mark; there is no second plumb point near.",
                        fixed(tilt.true_tilt_deg, 0)));
        return;
    }
    const bool uneven = !is_flat(world.yard.terrain);
    if (uneven && add_slope_note(world, score, tilt.true_raised_heading_deg, notes)) {
        return;
    }
    if (tilt.true_tilt_deg < level_enough_deg) {
        notes.push_back(fmt::format("The sonde lay level: its plumb points are {} fore and aft of it, and it is midway "
                                    "between them.",
                                    metres(std::sqrt(0.5) * (score.true_depth_m + world.receiver.tip_to_antenna_m))));
        return;
    }
    const double antenna_m = score.true_depth_m + world.receiver.tip_to_antenna_m;
    const Spots spots =
        uneven ? spots_on(world, score.located.sonde.position_m, tilt.true_raised_heading_deg, tilt.true_tilt_deg)
               : expected_spots(tilt.true_tilt_deg, antenna_m);
    const std::string_view raised = compass_word(tilt.true_raised_heading_deg);
    if (coil) {
        notes.push_back(fmt::format("The sonde was tilted {} deg, its {} end raised: its plumb points are not the same "
                                    "distance from it, the near one on the raised side.",
                                    fixed(tilt.true_tilt_deg, 1), raised));
        if (sim::reads_depth(world.receiver.kind) && !uneven && tilt.true_tilt_deg <= own_peak_to_deg) {
            notes.push_back(fmt::format(
                "Turned along it, level coils are loudest {} from it towards the lowered end; the middle of their nulls "
                "lies {} off the same way.",
                at_least_a_cm(own_peak_per_deg * tilt.true_tilt_deg * antenna_m),
                at_least_a_cm(0.75 * std::tan(sim::radians(tilt.true_tilt_deg)) * antenna_m)));
        }
        return;
    }
    if (uneven) {
        notes.push_back(fmt::format(
            "The sonde was tilted {} deg, its {} end raised. With this ground over it the peak is {} and the level line {}.",
            fixed(tilt.true_tilt_deg, 1), raised, place_along(spots.peak_m, tilt.true_raised_heading_deg),
            place_along(spots.level_line_m, tilt.true_raised_heading_deg)));
    } else {
        notes.push_back(
            fmt::format("The sonde was tilted {} deg, its {} end raised. Over such a sonde the peak is {} towards "
                        "the raised end and the level line {} the other way: the sonde lies between them.",
                        fixed(tilt.true_tilt_deg, 1), raised, metres(spots.peak_m), metres(-spots.level_line_m)));
    }
    if (locate == nullptr || *score.horizontal_error_m <= score.full_band_m) {
        return;
    }
    const glm::dvec2 sonde = plan(score.located.sonde.position_m);
    const glm::dvec2 to_raised = direction_of(tilt.true_raised_heading_deg);
    const double from_peak_m = glm::distance(locate->place_m, sonde + spots.peak_m * to_raised);
    const double from_level_m = glm::distance(locate->place_m, sonde + spots.level_line_m * to_raised);
    const double near_m = spot_share * score.true_depth_m;
    if (std::min(from_peak_m, from_level_m) <= near_m) {
        const bool peak = from_peak_m <= from_level_m;
        notes.push_back(fmt::format("The locate stands {} from where this sonde's {} is, and {} from the sonde: with "
                                    "tilt, the {} alone is not the mark.",
                                    metres(std::min(from_peak_m, from_level_m)), peak ? "peak" : "level line",
                                    metres(*score.horizontal_error_m), peak ? "peak" : "level line"));
    }
}

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

void add_line_notes(const World& world, const Notebook& notebook, const Score& score, Notes& notes) {
    const Ticket& ticket = world.sheet.ticket;
    if (ticket.state != TicketState::cleared) {
        notes.push_back(
            fmt::format("Ticket {} stands at \"{}\": no machine digs before every owner has answered and the "
                        "ticket is in force.",
                        ticket.number, name_of(ticket.state)));
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
        notes.push_back(fmt::format("The hole takes out {} m3; beyond {} m3 digging costs points.",
                                    fixed(score.dig_volume_m3, 2), fixed(free_volume_m3, 2)));
    }
    if (score.deep_dig) {
        // 29 CFR 1926.652(a)(1): from 5 ft (1.52 m) on, unless the excavation is entirely in stable rock; shallower
        // ones too unless a competent person finds no indication of a cave-in. From memory of the text; not quoted.
        notes.push_back(
            fmt::format("The hole is {} deep, over {} m: the protective-system rule for trenches of 5 ft and more "
                        "applies (29 CFR 1926.652: sloping, shoring or a shield unless all of it is stable rock), "
                        "and local codes besides.",
                        metres(notebook.dig->depth_m), fixed(world.rubric.protection_depth_m, 1)));
    }
}

// ---- Figures ----

Figure position_figure(const Score& score) {
    Figure figure{"position", "not marked", {}, false};
    figure.tolerance = fmt::format("{} for full points, {} to pass", tolerance_text(score.full_band_m),
                                   tolerance_text(score.half_band_m));
    if (score.horizontal_error_m) {
        figure.value = fmt::format("{}, {} % of depth", error_text(*score.horizontal_error_m),
                                   fixed(100.0 * *score.horizontal_error_m / score.true_depth_m, 0));
        figure.good = *score.horizontal_error_m <= score.half_band_m + 1e-9;
    }
    return figure;
}

Figure depth_figure(const Score& score) {
    Figure figure{"depth", fmt::format("not called, was {}", metres(score.depth_at_mark_m)), {}, score.depth_within};
    figure.tolerance = fmt::format("{}, {} %", tolerance_text(score.depth_band_m),
                                   fixed(100.0 * score.depth_band_m / score.depth_at_mark_m, 0));
    if (score.depth_call_m) {
        figure.value =
            fmt::format("{} for {}, {} cm, {} %", fixed(*score.depth_call_m, 2), metres(score.depth_at_mark_m),
                        signed_text(100.0 * *score.depth_error_m, 0), signed_text(*score.depth_error_percent, 1));
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
                        error_text(score.target_distance_m)),
            fmt::format("the fault in the box, its bottom {} to {} down",
                        fixed(std::max(score.pipe_top_depth_m - above_pipe_m, 0.0), 2),
                        metres(score.springline_depth_m)),
            score.dig_outcome == DigOutcome::on_the_pipe};
}

Figure volume_figure(const Score& score) {
    return {"volume", fixed(score.dig_volume_m3, 2) + " m3", fixed(free_volume_m3, 2) + " m3 without loss of points",
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

namespace {

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

} // namespace

Debrief debrief(const Setting& setting, const ExerciseState& state, const Score& score, Units units) {
    (void)units;
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
    add_line_notes(setting.world, state.notebook, score, out.notes);
    out.figures = {position_figure(score), depth_figure(score), tilt_figure(state.notebook, score), dig_figure(score)};
    if (score.dig_outcome != DigOutcome::none) {
        out.figures.push_back(volume_figure(score));
    }
    if (state.notebook.dig) {
        out.figures.push_back(safety_figure(score));
    }
    out.figures.push_back(procedure_figure(score));
    out.lesson = lesson_parts(setting.world.lesson);
    out.disclaimer = "Training here licenses nobody to locate or to dig. In the field the one-call centre, the owners' "
                     "marks, local codes and licensed practice decide.";
    return out;
}

// ---- For programs ----

namespace {

using Json = nlohmann::ordered_json;

template <class T>
Json or_null(const std::optional<T>& value) {
    return value ? Json(*value) : Json(nullptr);
}

Json procedure_json(const Score& score) {
    Json procedure = Json::object();
    for (const ProcedureItem& item : score.procedure) {
        procedure[std::string(item.key)] = item.applies ? Json(item.done) : Json(nullptr);
    }
    return procedure;
}

Json evidence_json(const Score& score) {
    Json evidence = Json::object();
    for (const ProcedureItem& item : score.procedure) {
        evidence[std::string(item.key)] = {
            {"applies", item.applies}, {"tick", or_null(item.tick)}, {"seen", item.evidence}};
    }
    return evidence;
}

Json safety_json(const Score& score) {
    Json safety = Json::object();
    for (const SafetyItem& item : score.safety) {
        safety[std::string(item.key)] = {{"judged", item.judged}, {"failed", item.failed}, {"seen", item.evidence}};
    }
    return safety;
}

Json tilt_json(const TiltScore& tilt) {
    const bool has_raised_end = tilt.true_tilt_deg >= least_raised_deg;
    return {{"called", tilt.called},
            {"right", tilt.right},
            {"true_tilt_deg", tilt.true_tilt_deg},
            {"true_raised_heading_deg", has_raised_end ? Json(tilt.true_raised_heading_deg) : Json(nullptr)}};
}

// Null when nobody asked the cable hand.
Json cable_json(const LocatedSonde& located) {
    if (!located.asked) {
        return nullptr;
    }
    return {{"counted_at_stop", located.at_stop},
            {"counter_by_m", located.cable.out_m},
            {"sonde_by_m", located.cable.sonde_m},
            {"slack_m", located.slack_m}};
}

} // namespace

std::string score_json(const Score& score, int indent) {
    Json out;
    out["format"] = json_format;
    out["finished"] = score.finished;
    out["passed"] = score.passed;
    out["points"] = score.points;
    out["points_by_part"] = {{"position", score.position_points},
                             {"depth", score.depth_points},
                             {"tilt", score.tilt_points},
                             {"dig", score.dig_points},
                             {"procedure", score.procedure_points}};
    out["horizontal_error_m"] = or_null(score.horizontal_error_m);
    out["depth_error_m"] = or_null(score.depth_error_m);
    out["depth_error_percent"] = or_null(score.depth_error_percent);
    out["tilt_error_deg"] = or_null(score.tilt.tilt_error_deg);
    out["dig_outcome"] = name_of(score.dig_outcome);
    out["true_depth_m"] = score.true_depth_m;
    out["depth_at_mark_m"] = score.depth_at_mark_m;
    out["depth_call_m"] = or_null(score.depth_call_m);
    out["depth_within"] = score.depth_within;
    out["tilt"] = tilt_json(score.tilt);
    out["bands"] = {{"full_m", score.full_band_m},
                    {"half_m", score.half_band_m},
                    {"quarter_m", score.quarter_band_m},
                    {"depth_m", score.depth_band_m}};
    out["cable"] = cable_json(score.located);
    const bool dug = score.dig_outcome != DigOutcome::none;
    out["dig"] = {{"volume_m3", dug ? Json(score.dig_volume_m3) : Json(nullptr)},
                  {"target_distance_m", dug ? Json(score.target_distance_m) : Json(nullptr)},
                  {"target_gap_m", dug ? Json(score.target_gap_m) : Json(nullptr)},
                  {"pipe_top_depth_m", score.pipe_top_depth_m},
                  {"springline_depth_m", score.springline_depth_m},
                  {"deep", score.deep_dig},
                  {"by_machine", dug ? Json(score.by_machine) : Json(nullptr)},
                  {"line_in_box", score.line_hit.empty() ? Json(nullptr) : Json(score.line_hit)},
                  {"lines_in_tolerance", score.lines_in_box}};
    out["procedure"] = procedure_json(score);
    out["procedure_evidence"] = evidence_json(score);
    out["safety"] = safety_json(score);
    return out.dump(indent, ' ', false, Json::error_handler_t::replace);
}

} // namespace sondeyard::field
