// The keys of a scenario file in one table: it drives the reader's checks, its messages, and the table in the manual.
// Private to this folder and its tests.
#pragma once

#include "scenarios/scenario.hpp"

#include <array>
#include <map>
#include <optional>
#include <span>
#include <variant>

namespace sondeyard::scenarios {

inline constexpr std::size_t largest_file_bytes = 1'000'000;
inline constexpr std::int64_t scenario_format = 1;

// ---- What may stand behind a key ----

enum class Kind {
    text,      // one line or several
    number,    // a number or a distribution
    count,     // a whole number
    yes_no,    // true or false
    word,      // one of a few words
    place,     // [x, y], each a number or a distribution
    places,    // [[x, y], ..]
    places_3d, // [[x, y, z], ..], z from the datum: 0 is the ground over the sonde, below negative
    seed,      // a whole number from 0, or its digits as a text when above 2^63 - 1 (whole numbers of TOML end there)
};

enum class Form { either, authored, resolved }; // in which form of the file a key may stand
enum class Need { no, always, when_resolved };

struct KeyRow {
    std::string_view
        key; // "table.key"; the tables that may stand several times over (list_names) hold theirs the same way
    Kind kind = Kind::number;
    std::string_view unit;
    double low =
        0.0; // numbers: allowed range, low_excluded: more than low. Texts: most characters in `high`. Lists: fewest
    double high = 0.0;
    bool low_excluded = false;
    std::span<const std::string_view> words;
    Form form = Form::either;
    Need need = Need::no;
    std::string_view standard; // what holds when the key is left out, as the manual prints it
    std::string_view meaning;
};

// Words, in the order of the enumerations that they stand for.
inline constexpr std::array<std::string_view, 4> shape_words = {"none", "fall", "steep_branch", "drop"};
inline constexpr std::array<std::string_view, 5> material_words = {"pvc", "clay", "cast_iron", "steel",
                                                                   "stainless_steel"};
inline constexpr std::array<std::string_view, 2> counter_words = {"cleanout_rim", "pipe_mouth"};
inline constexpr std::array<std::string_view, 3> ticket_words = {"requested", "all positive responses", "expired"};
inline constexpr std::array<std::string_view, 3> receiver_words = {"tri-axis", "single-coil", "twin-coil"};
inline constexpr std::array<std::string_view, 2> layout_words = {"ordinary", "empty_lawn"};
inline constexpr std::array<std::string_view, 9> area_words = {"house",    "shed", "slab", "drive", "street",
                                                               "planting", "pond", "tree", "fence"};
inline constexpr std::array<std::string_view, 7> clue_words = {
    "gas_meter", "water_meter", "electric_meter", "pedestal", "grill", "lit_outbuilding", "irrigation_valve"};
inline constexpr std::array<std::string_view, 3> connection_words = {"none", "isolated", "bonded"};
inline constexpr std::array<std::string_view, 2> lies_words = {"beside", "across"};
inline constexpr std::array<std::string_view, 2> supply_words = {"buried", "overhead"};
inline constexpr std::array<std::string_view, 6> line_words = {"electric",        "gas",  "communication", "water",
                                                               "reclaimed_water", "sewer"};

namespace rows {

constexpr KeyRow number(std::string_view key, std::string_view unit, double low, double high, std::string_view standard,
                        std::string_view meaning) {
    return {key, Kind::number, unit, low, high, false, {}, Form::either, Need::when_resolved, standard, meaning};
}
constexpr KeyRow above(KeyRow row) {
    row.low_excluded = true;
    return row;
}
constexpr KeyRow text(std::string_view key, double most, std::string_view standard, std::string_view meaning) {
    return {key, Kind::text, "", 0.0, most, false, {}, Form::either, Need::when_resolved, standard, meaning};
}
constexpr KeyRow word(std::string_view key, std::span<const std::string_view> words, std::string_view standard,
                      std::string_view meaning) {
    return {key, Kind::word, "", 0.0, 0.0, false, words, Form::either, Need::when_resolved, standard, meaning};
}
constexpr KeyRow yes_no(std::string_view key, std::string_view standard, std::string_view meaning) {
    return {key, Kind::yes_no, "", 0.0, 0.0, false, {}, Form::either, Need::when_resolved, standard, meaning};
}
constexpr KeyRow place(std::string_view key, std::string_view standard, std::string_view meaning) {
    return {key, Kind::place, "m", 0.0, 60.0, false, {}, Form::either, Need::when_resolved, standard, meaning};
}
constexpr KeyRow places(std::string_view key, Kind kind, double fewest, std::string_view meaning) {
    return {key, kind, "m", fewest, 0.0, false, {}, Form::resolved, Need::always, "", meaning};
}
constexpr KeyRow optional(KeyRow row) {
    row.need = Need::no;
    return row;
}
constexpr KeyRow always(KeyRow row) {
    row.need = Need::always;
    return row;
}
constexpr KeyRow authored(KeyRow row) {
    row.form = Form::authored;
    row.need = Need::no;
    return row;
}
constexpr KeyRow resolved(KeyRow row) {
    row.form = Form::resolved;
    return row;
}

} // namespace rows

// Ranges are those of ordinary practice, wide enough for odd jobs and narrow enough to catch a slipped decimal point or
// unit.
inline constexpr std::array key_table = {
    KeyRow{"format", Kind::count, "", 1.0, 1.0, false, {}, Form::either, Need::always, "", "version of this format"},
    rows::always(rows::text("title", 80.0, "", "what the exercise is called")),
    rows::optional(rows::text("story", 200.0, "empty", "one line for the list of exercises")),
    rows::text("news", 200.0, "empty", "what is new in it, one line"),
    rows::text("caller", 2000.0, "empty", "the caller's words"),
    rows::text("camera", 2000.0, "empty", "what the camera saw"),
    rows::optional(rows::yes_no("resolved", "false", "true: all truth is given here and nothing is drawn")),
    KeyRow{"seed",
           Kind::seed,
           "",
           0.0,
           0.0,
           false,
           {},
           Form::resolved,
           Need::when_resolved,
           "",
           "what the yard was drawn from, and all noise is; above 2^63 - 1 its digits in quotes"},

    rows::number("yard.width_m", "m", 20.0, 60.0, "drawn", "east-west side"),
    rows::number("yard.length_m", "m", 20.0, 60.0, "drawn", "north-south side"),
    rows::authored(
        rows::word("yard.layout", layout_words, "ordinary", "empty_lawn: nothing but grass round the sonde")),
    rows::authored(KeyRow{"yard.line_count",
                          Kind::count,
                          "",
                          0.0,
                          8.0,
                          false,
                          {},
                          Form::authored,
                          Need::no,
                          "drawn 2 to 5",
                          "buried lines besides the drain"}),

    rows::optional(rows::number("ground.slope_percent", "%", 0.0, 30.0, "0, level", "fall of the ground as a whole")),
    rows::optional(rows::number("ground.slope_toward_deg", "deg", -360.0, 360.0, "drawn: to the street",
                                "the way it falls, clockwise from north")),
    rows::optional(rows::resolved(rows::place("ground.zero_m", "the sonde's place", "where the ground is z = 0"))),
    rows::authored(rows::number("ground.step_rise_m", "m", -3.0, 3.0, "no step",
                                "a kerb, wall or bank: the ground beyond it is so much higher, lower for less than 0")),
    rows::authored(
        rows::number("ground.step_ramp_m", "m", 0.0, 20.0, "0.1", "foot to top in plan: small a wall, large a bank")),
    rows::authored(rows::number("ground.step_offset_m", "m", -20.0, 20.0, "drawn 1.5 to 4",
                                "from the sonde to the middle of its ramp")),
    rows::authored(rows::number("ground.step_toward_deg", "deg", -360.0, 360.0, "drawn: up away from the street",
                                "the way from the sonde to the step, square to it")),
    rows::authored(
        rows::number("ground.pad_rise_m", "m", 0.02, 0.5, "no slab", "a raised slab beside or over the sonde")),
    rows::authored(rows::number("ground.pad_offset_m", "m", -2.0, 10.0, "drawn 0.2 to 0.8",
                                "from the sonde to its near edge; less than 0: the sonde lies under it")),
    rows::authored(
        rows::number("ground.pad_toward_deg", "deg", -360.0, 360.0, "drawn", "the way from the sonde to the slab")),

    rows::number("sonde.frequency_hz", "Hz", 50.0, 100e3, "512", "what the sonde really transmits"),
    rows::number("sonde.moment_A_m2", "A m2", 1e-4, 10.0, "0.1", "magnetic moment, RMS"),
    rows::place("sonde.position_m", "drawn", "east and north of the yard's south-west corner, of the sonde's centre"),
    rows::above(rows::number("sonde.depth_m", "m", 0.15, 10.0, "drawn", "ground surface straight down to its centre")),
    rows::number("sonde.heading_deg", "deg", -360.0, 360.0, "the pipe's",
                 "clockwise from north, of the end that tilts down for tilt_deg > 0"),
    rows::number("sonde.tilt_deg", "deg", -90.0, 90.0, "the pipe's", "from level; 90 on end"),
    rows::number("sonde.above_invert_m", "m", 0.0, 0.5, "0.025", "its centre above the pipe's invert"),

    rows::authored(
        rows::word("run.shape", shape_words, "fall; none with sonde.position_m",
                   "none: no pipe near the sonde; fall: an ordinary drain; steep_branch and drop: as named")),
    rows::authored(rows::number("run.fall_percent", "%", 0.0, 10.0, "drawn 1 to 3", "fall of the drain; 0 is level")),
    rows::authored(
        rows::number("run.branch_tilt_deg", "deg", 20.0, 40.0, "drawn", "fall of a steep branch, from level")),
    rows::authored(rows::yes_no("run.second_drain", "false", "another drain in the yard, with no sonde in it")),
    KeyRow{"run.points_m",
           Kind::places_3d,
           "m",
           2.0,
           0.0,
           false,
           {},
           Form::either,
           Need::no,
           "drawn",
           "centre line from the cleanout's foot downstream: [x, y, z], z = 0 the ground over the sonde, never rising"},
    rows::optional(rows::word("run.material", material_words, "pvc", "of the pipe")),
    rows::optional(rows::number("run.inside_diameter_m", "m", 0.03, 1.0, "0.1", "of the pipe")),
    rows::optional(rows::number("run.wall_m", "m", 5e-4, 0.1, "0.003; iron 0.006, steel 0.004, stainless 0.002",
                                "thickness of the pipe's wall")),
    rows::optional(rows::number("run.slack_m", "m", 0.0, 1.0, "drawn 0.03 to 0.3",
                                "of the cable: how far the counter runs before the sonde follows, turned round")),
    rows::optional(rows::number("run.relative_permeability", "", 1.0, 5000.0, "the metal's; cast iron drawn 60 to 150",
                                "of a metal pipe's wall")),
    rows::optional(
        rows::number("run.conductivity_MS_per_m", "MS/m", 0.01, 70.0, "the metal's", "of a metal pipe's wall")),

    rows::optional(rows::number("ground.resistivity_ohm_m", "ohm m", 1.0, 100e3, "none: as in free space",
                                "of the ground; wet clay 5 to 30, dry gravel 500 to 5000")),

    rows::optional(rows::number("hum.mains_hz", "Hz", 45.0, 65.0, "60", "of the supply")),
    rows::authored(rows::number("hum.current_A", "A", 0.0, 100.0, "0: no hum",
                                "supply current that comes back through the ground, RMS")),
    rows::authored(rows::word("hum.supply", supply_words, "buried", "a cable in the yard, or wires over its edge")),

    rows::authored(rows::word("neighbour.kind", line_words, "none", "a metal line laid near the sonde")),
    rows::authored(
        rows::word("neighbour.connection", connection_words, "bonded",
                   "bonded: earthed at both ends; isolated: the sonde drives no current in it; none: plastic")),
    rows::authored(rows::word("neighbour.lies", lies_words, "beside",
                              "along the run or across it; one beside a level sonde hardly couples with it")),
    rows::authored(rows::number("neighbour.offset_m", "m", 0.0, 10.0, "0.6", "from the sonde in plan")),
    rows::authored(rows::number("neighbour.depth_m", "m", 0.2, 5.0, "0.6", "of its centre")),
    rows::authored(rows::number("neighbour.width_m", "m", 0.005, 1.0, "0.025", "across")),
    rows::authored(
        rows::number("neighbour.resistance_ohm", "ohm", 0.1, 10e3, "10", "both earthings and the metal, in series")),
    rows::authored(rows::yes_no("neighbour.marked", "true", "painted by its owner")),
    rows::authored(rows::number("neighbour.clamp_current_mA", "mA", 0.0, 5000.0, "0: no transmitter on it",
                                "of a transmitter clamped to it, RMS")),
    rows::authored(rows::number("neighbour.clamp_frequency_hz", "Hz", 50.0, 100e3, "512", "of that transmitter")),

    rows::authored(
        rows::number("other_sonde.frequency_hz", "Hz", 50.0, 100e3, "the sonde's", "of another crew's sonde")),
    rows::authored(rows::number("other_sonde.moment_A_m2", "A m2", 1e-4, 10.0, "0.1", "magnetic moment, RMS")),
    rows::authored(
        rows::number("other_sonde.distance_m", "m", 1.0, 40.0, "none: no other crew", "from the sonde in plan")),
    rows::authored(rows::number("other_sonde.depth_m", "m", 0.2, 10.0, "the sonde's", "of its centre")),
    rows::authored(rows::number("other_sonde.tilt_deg", "deg", -90.0, 90.0, "0", "from level")),

    rows::word("receiver.kind", receiver_words, "tri-axis",
               "two three-axis antenna sets, one coil, or two level coils"),
    rows::number("receiver.antenna_spacing_m", "m", 0.05, 1.5, "0.4", "lower to upper antenna centre"),
    rows::number("receiver.tip_to_antenna_m", "m", 0.0, 1.0, "0.05", "lower antenna's centre above the tip"),
    rows::number("receiver.side_offset_sd_m", "m", 0.0, 0.05, "0.005", "how far antennas sit off the mast's axis, sd"),
    rows::number("receiver.axis_error_sd_deg", "deg", 0.0, 10.0, "1", "how far they are turned about each axis, sd"),
    rows::number("receiver.settling_tau_s", "s", 0.02, 2.0, "0.15", "time constant of the display"),
    rows::number("receiver.band_half_width_hz", "Hz", 1.0, 100.0, "10", "3 dB point of the band filter"),
    rows::number("receiver.signal_resolution_db", "dB", 0.001, 3.0, "0.1", "smallest step of the signal shown"),
    rows::number("receiver.depth_resolution_m", "m", 0.001, 0.1, "0.01", "smallest step of the depth shown"),
    rows::number("receiver.noise_floor_pt_per_rthz", "pT/Hz^1/2", 0.0, 100.0, "0.02", "never quieter than this"),
    rows::number("receiver.noise_at_512_pt_per_rthz", "pT/Hz^1/2", 0.0, 100.0, "0.5",
                 "noise at 512 Hz; falls as 1/f above; not used with coil_turns"),
    rows::optional(rows::number("receiver.coil_turns", "", 1.0, 1e6, "none: noise as stated",
                                "the antenna's turns: its noise at any frequency then follows from the coil")),
    rows::optional(rows::number("receiver.coil_core_diameter_m", "m", 0.001, 0.5, "0.01", "of the coil's core")),
    rows::optional(rows::number("receiver.coil_mu_eff", "", 1.0, 1000.0, "50", "of the core as it is; 1 is air")),
    rows::optional(rows::number("receiver.coil_resistance_ohm", "ohm", 0.0, 1e5, "100", "of the winding")),
    rows::optional(
        rows::number("receiver.coil_amplifier_nv_per_rthz", "nV/Hz^1/2", 0.0, 1000.0, "2", "noise of the amplifier")),
    rows::optional(rows::yes_no("receiver.has_wide", "false", "a wide and quick setting for the trainee to choose")),
    rows::optional(rows::number("receiver.wide_settling_tau_s", "s", 0.02, 2.0, "0.05", "time constant in that")),
    rows::optional(rows::number("receiver.wide_band_half_width_hz", "Hz", 1.0, 100.0, "30",
                                "3 dB point of the band filter in that")),
    rows::optional(rows::number("receiver.full_scale_dbpt", "dBpT", 60.0, 200.0, "120",
                                "of one antenna at the lowest gain; above it the display says overload")),
    rows::optional(rows::number("receiver.gain_step_db", "dB", 8.0, 40.0, "20", "between two gains")),
    rows::optional(KeyRow{"receiver.gain_steps",
                          Kind::count,
                          "",
                          0.0,
                          8.0,
                          false,
                          {},
                          Form::either,
                          Need::no,
                          "0",
                          "further gains, chosen by the receiver itself; 0: one gain"}),
    rows::optional(KeyRow{"receiver.converter_bits",
                          Kind::count,
                          "",
                          0.0,
                          32.0,
                          false,
                          {},
                          Form::either,
                          Need::no,
                          "0",
                          "of its converter; 0: so many that they do not matter"}),
    rows::optional(
        rows::number("receiver.gain_error_sd_percent", "%", 0.0, 20.0, "0", "how unlike its antennas are in gain, sd")),
    rows::optional(rows::number("receiver.mast_bend_sd_deg", "deg", 0.0, 10.0, "0",
                                "how far the mast is bent above the lower antennas, each way, sd")),

    rows::number("sheet.frequency_hz", "Hz", 50.0, 100e3, "the sonde's", "as printed on the job sheet"),
    rows::word("sheet.counter_zero", counter_words, "cleanout_rim", "where the cable counter was set to zero"),
    rows::number("sheet.sonde_to_lens_m", "m", 0.0, 3.0, "0", "along the cable, onward"),
    rows::number("sheet.lens_to_fault_m", "m", 0.0, 10.0, "0", "along the pipe, onward"),
    rows::word("sheet.ticket_state", ticket_words, "all positive responses", "of the one-call ticket"),
    rows::optional(rows::text("sheet.ground", 80.0, "empty", "the ground, as a caller would know it")),
    rows::text("sheet.ticket_number", 40.0, "drawn", "of the one-call ticket"),
    rows::optional(rows::resolved(rows::place("sheet.cleanout_m", "none", "where the cleanout is"))),
    rows::optional(rows::resolved(rows::number("sheet.counter_m", "m", 0.0, 500.0, "none", "cable out from the zero"))),
    rows::resolved(
        rows::number("sheet.truck_signal_dbpt", "dBpT", -100.0, 250.0, "", "signal to expect at the truck check")),
    rows::resolved(rows::word("sheet.material", material_words, "", "of the pipe, as printed")),
    rows::resolved(rows::number("sheet.inside_diameter_m", "m", 0.03, 1.0, "", "of the pipe, as printed")),
    rows::resolved(rows::number("sheet.wall_m", "m", 5e-4, 0.1, "", "of the pipe, as printed")),

    rows::number("rubric.full_m", "m", 0.0, 5.0, "0.15", "full points within the larger of this"),
    rows::number("rubric.full_share", "of depth", 0.0, 2.0, "0.15", "and of this share of the true depth"),
    rows::number("rubric.half_m", "m", 0.0, 5.0, "0.25", "half the points, in the same way"),
    rows::number("rubric.half_share", "of depth", 0.0, 2.0, "0.25", "half the points"),
    rows::number("rubric.quarter_m", "m", 0.0, 5.0, "0.5", "a quarter of the points"),
    rows::number("rubric.quarter_share", "of depth", 0.0, 2.0, "0.4", "a quarter of the points"),
    rows::number("rubric.depth_share", "of depth", 0.0, 1.0, "0.15",
                 "depth reported within this share of the true depth"),
    rows::number("rubric.tolerance_zone_m", "m", 0.0, 3.0, "0.457", "each side of a line, beyond half its width"),
    rows::number("rubric.pair_share", "of mean", 0.01, 1.0, "0.1",
                 "a facing pair of depth readings agrees within this"),
    rows::number("rubric.protection_depth_m", "m", 0.5, 10.0, "1.5", "a dig this deep or deeper needs protection"),
    rows::yes_no("rubric.solvable_by_level_line", "true", "the level-line operator reaches the half band"),

    rows::optional(rows::text("lesson.different", 600.0, "empty", "what is different in this yard")),
    rows::optional(rows::text("lesson.tell", 600.0, "empty", "how one can tell")),
    rows::optional(rows::text("lesson.act", 600.0, "empty", "what to do")),

    rows::number("operator.lean_deg", "deg", 0.0, 15.0, "drawn 2 to 8", "how far the mast leans until he corrects it"),
    rows::number("operator.lean_toward_deg", "deg", -360.0, 360.0, "drawn",
                 "which way, clockwise from the way he faces"),

    rows::resolved(rows::place("start.position_m", "", "where the operator stands at first")),
    rows::resolved(rows::number("start.facing_deg", "deg", -360.0, 360.0, "", "which way he faces then")),

    rows::resolved(rows::always(rows::word("area.kind", area_words, "", "what covers the ground"))),
    rows::resolved(rows::optional(rows::text("area.name", 80.0, "empty", "as printed on the plan"))),
    rows::places("area.outline_m", Kind::places, 3.0, "its corners [x, y]"),

    rows::resolved(rows::always(rows::word("clue.kind", clue_words, "", "what betrays a buried line"))),
    rows::resolved(rows::always(rows::place("clue.place_m", "", "where it stands"))),

    rows::resolved(rows::always(rows::word("line.kind", line_words, "", "what is buried"))),
    rows::resolved(rows::always(rows::text("line.owner", 80.0, "", "whose it is"))),
    rows::resolved(rows::always(rows::number("line.width_m", "m", 0.001, 5.0, "", "across"))),
    rows::resolved(rows::always(rows::yes_no("line.private", "", "past the meter: on nobody's ticket"))),
    rows::places("line.points_m", Kind::places_3d, 2.0, "its centre [x, y, z]"),
    rows::places("line.paint_m", Kind::places, 0.0, "marks on the ground; empty when it is not marked"),

    rows::resolved(rows::optional(rows::word("line.connection", connection_words, "none",
                                             "plastic; metal earthed at one end at most; metal earthed at both"))),
    rows::resolved(rows::optional(
        rows::number("line.resistance_ohm", "ohm", 0.1, 10e3, "10", "both earthings and the metal, in series"))),
    rows::resolved(rows::optional(
        rows::number("line.clamp_current_A", "A", 0.0, 5.0, "0", "of a transmitter clamped to it, RMS"))),
    rows::resolved(
        rows::optional(rows::number("line.clamp_frequency_hz", "Hz", 50.0, 100e3, "512", "of that transmitter"))),
    rows::resolved(rows::optional(rows::number("line.mains_current_A", "A", 0.0, 100.0, "0",
                                               "supply current that comes back through the ground, RMS"))),

    rows::resolved(rows::always(rows::place("step.place_m", "", "a point of the middle of a step's ramp"))),
    rows::resolved(rows::always(
        rows::number("step.toward_deg", "deg", -360.0, 360.0, "", "the way the ground goes up, square to the step"))),
    rows::resolved(rows::always(rows::number("step.rise_m", "m", -3.0, 3.0, "", "how high; down for less than 0"))),
    rows::resolved(rows::always(rows::number("step.ramp_m", "m", 0.0, 20.0, "", "foot to top in plan"))),

    rows::places("pad.outline_m", Kind::places, 3.0, "corners [x, y] of ground that is raised as a whole"),
    rows::resolved(rows::always(rows::number("pad.rise_m", "m", -0.5, 0.5, "", "by how much"))),

    rows::places("overhead.points_m", Kind::places_3d, 2.0, "wires overhead [x, y, z]"),
    rows::resolved(rows::always(rows::number("overhead.mains_current_A", "A", 0.0, 100.0, "",
                                             "supply current that comes back through the ground, RMS"))),

    rows::resolved(rows::always(rows::text("transmitter.owner", 80.0, "", "whose sonde it is"))),
    rows::resolved(
        rows::always(rows::number("transmitter.frequency_hz", "Hz", 50.0, 100e3, "", "another crew's sonde"))),
    rows::resolved(
        rows::always(rows::number("transmitter.moment_A_m2", "A m2", 1e-4, 10.0, "", "magnetic moment, RMS"))),
    rows::resolved(rows::always(rows::place("transmitter.position_m", "", "of its centre"))),
    rows::resolved(
        rows::always(rows::above(rows::number("transmitter.depth_m", "m", 0.15, 10.0, "", "of its centre")))),
    rows::resolved(rows::always(rows::number("transmitter.heading_deg", "deg", -360.0, 360.0, "",
                                             "of the end that tilts down for tilt_deg > 0"))),
    rows::resolved(rows::always(rows::number("transmitter.tilt_deg", "deg", -90.0, 90.0, "", "from level"))),

    rows::resolved(rows::always(rows::text("response.owner", 80.0, "", "who was asked"))),
    rows::resolved(rows::always(rows::word("response.kind", line_words, "", "for what"))),
    rows::resolved(rows::always(rows::text("response.answer", 80.0, "", "marked, clear, no answer yet"))),
};

// Tables written [[name]], as often as needed; only in a resolved scenario.
inline constexpr std::array<std::string_view, 8> list_names = {"area", "clue",     "line",        "step",
                                                               "pad",  "overhead", "transmitter", "response"};

const KeyRow* find_row(std::string_view key); // nullptr when there is none
std::string allowed_text(const KeyRow& row);  // "a number from 20 to 60 m"
std::string key_table_markdown();             // for the manual: key, value, unit, range, when left out, meaning

// ---- A file as read ----

struct Spot { // in the file, from 1
    std::uint32_t line = 1;
    std::uint32_t column = 1;
};

struct Number {
    enum class Form { fixed, uniform, normal, choice };
    Form form = Form::fixed;
    std::vector<double> values{0.0}; // fixed: itself; uniform: low, high; normal: mean, sd; choice: all
};

using Points = std::vector<std::vector<double>>;

struct Entry {
    Spot spot;
    std::variant<bool, std::uint64_t, std::string, std::vector<Number>, Points> value;
};

using Entries = std::map<std::string, Entry, std::less<>>; // full keys, "sonde.depth_m"

struct Scenario::Content {
    std::string source;
    bool resolved = false;
    Entries entries;
    std::map<std::string, Spot, std::less<>> tables;                // where [name] stands
    std::map<std::string, std::vector<Entries>, std::less<>> lists; // rows of [[name]], keys "name.key"
};

// TOML to Content, checked by the table and by what must fit together. Throws ScenarioError with every fault found.
Scenario::Content read_content(std::string_view text, std::string_view source);

// The number when it is a plain one; for checks that need no seed.
std::optional<double> fixed_number(const Entries& entries, std::string_view key);
std::optional<glm::dvec2> fixed_place(const Entries& entries, std::string_view key);

// "file:line:column: key: text"
std::string message_at(const Scenario::Content& content, const Spot& spot, std::string_view key, std::string_view text);

// Where the sonde comes to lie in a run given by its points, or why it cannot.
struct Lying {
    glm::dvec3 position_m{0.0};
    double along_m = 0.0;
    std::string fault; // empty: it fits
};
Lying lie_in_run(const field::Run& run, double along_m, double above_invert_m);
Lying lie_in_run(const field::Run& run, const glm::dvec2& place_m, std::optional<double> depth_m,
                 double above_invert_m);

struct BundledFile {
    std::string_view name;
    std::string_view text;
};
std::span<const BundledFile> bundled_files(); // generated at build time from library/

} // namespace sondeyard::scenarios
