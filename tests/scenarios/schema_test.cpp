// The schema: what a scenario may say, how its values are drawn, and that a World written down reads back as itself.
#include "field/cable.hpp"
#include "field/geometry.hpp"
#include "same_world.hpp"
#include "scenarios/schema.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <locale>
#include <set>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

constexpr std::string_view head = "format = 1\ntitle = \"t\"\n";

field::World made(std::string_view text, std::uint64_t seed = 1) {
    return resolve(parse_scenario(std::string(head) + std::string(text), "ok.toml"), seed);
}

// A scenario that builds everywhere and quickly: a sonde in the ground and no run.
std::string with_depth(std::string_view value) {
    return fmt::format(
        "[yard]\nwidth_m = 44\nlength_m = 44\nline_count = 0\n[sonde]\nposition_m = [22, 12]\nheading_deg = 0\n"
        "tilt_deg = 0\ndepth_m = {}\n",
        value);
}

field::World round_trip(const field::World& world) {
    return resolve(parse_scenario(to_toml(world), "again.toml"), 12345); // any seed: the text carries its own
}

struct CommaNumbers : std::numpunct<char> {
    char do_decimal_point() const override { return ','; }
    char do_thousands_sep() const override { return '.'; }
    std::string do_grouping() const override { return "\3"; }
};

} // namespace

TEST_CASE("a world written down and read again is the same world, field by field, and gives the same text") {
    for (const std::string& name : bundled_names()) {
        for (const std::uint64_t seed : {0ULL, 1ULL, 77ULL, 0x7fffffffffffffffULL}) {
            CAPTURE(name);
            CAPTURE(seed);
            const field::World world = resolve(bundled(name), seed);
            const std::string text = to_toml(world);
            const field::World again = round_trip(world);
            test::check_same_world(world, again);
            CHECK(to_toml(again) == text);
        }
    }
}

TEST_CASE("odd texts, a seed of 64 bits, and a world without run, cleanout or lines all survive the round trip") {
    field::World world = made(with_depth("1.234567"));
    REQUIRE_FALSE(world.run.has_value());
    world.seed = 0xffffffffffffffffULL;
    world.sheet.title = "Quote \" back\\slash";
    world.sheet.caller = "two\nlines, = [x] # no comment, \xC3\xA4 \xE6\xB0\xB4 '''";
    world.sheet.camera = "";
    world.sheet.cleanout_m.reset();
    world.sheet.counter_m.reset();
    world.yard.areas.clear();
    world.yard.lines.clear();
    world.yard.clues.clear();
    world.sheet.ticket.responses.clear();
    world.sonde.heading_deg = -0.0;
    world.sonde.moment_am2 = 0.1 + 0.2; // 0.30000000000000004: not on any grid
    world.start_m.x += 1.0 / 3.0e6;
    CHECK(to_toml(world).find("seed = \"18446744073709551615\"") != std::string::npos);
    const field::World again = round_trip(world);
    test::check_same_world(world, again);
    CHECK(to_toml(again) == to_toml(world));

    world.seed = 0x7fffffffffffffffULL; // the largest whole number of TOML
    CHECK(to_toml(world).find("seed = 9223372036854775807\n") != std::string::npos);
    CHECK(round_trip(world).seed == world.seed);
    world.seed = 0x8000000000000000ULL;
    CHECK(to_toml(world).find("seed = \"9223372036854775808\"\n") != std::string::npos);
    CHECK(round_trip(world).seed == world.seed);
}

TEST_CASE(
    "the cable's slack is as the scenario says, and a resolved form that lacks it draws the same one from the seed") {
    const std::string run = "[run]\nshape = \"drop\"\n";
    const field::World given = made(run + "slack_m = 0.123\n", 4);
    CHECK(given.run->slack_m == 0.123);
    CHECK(round_trip(given).run->slack_m == 0.123);
    const field::World left = made(run, 4);
    CHECK_FALSE(left.run->slack_m);
    CHECK(to_toml(left).find("slack_m") ==
          std::string::npos); // as every resolved form was written before there was one
    CHECK(field::cable_limits_of(round_trip(left)).slack_m == field::cable_limits_of(left).slack_m);
    CHECK_THROWS_AS(made(run + "slack_m = -0.1\n", 4), ScenarioError);
}

TEST_CASE("numbers are written with a point and without grouping whatever the locale") {
    const field::World world = made(with_depth("1.5"));
    const std::string text = to_toml(world);
    const std::locale before = std::locale::global(std::locale(std::locale::classic(), new CommaNumbers));
    const std::string other = to_toml(world);
    const field::World again = round_trip(world);
    std::locale::global(before);
    CHECK(other == text);
    CHECK(depth_m(again) == 1.5);
}

TEST_CASE("the same seed gives the same world and another seed another yard") {
    const Scenario scenario = bundled("two-percent");
    CHECK(to_toml(resolve(scenario, 5)) == to_toml(resolve(scenario, 5)));
    std::set<std::string> outlines;
    for (std::uint64_t seed = 0; seed < 10; ++seed) {
        const field::World world = resolve(scenario, seed);
        std::string outline = fmt::format("{} areas, {} lines;", world.yard.areas.size(), world.yard.lines.size());
        for (const field::Area& area : world.yard.areas) {
            outline += fmt::format(" {} {}", field::name_of(area.kind), area.outline_m.size());
        }
        outlines.insert(outline);
    }
    CHECK(outlines.size() >= 4); // what stands in the yard differs, not only where
}

TEST_CASE("a resolved world lies on the grid of a millionth of a metre and of a degree") {
    const auto on_grid = [](double value) { return std::round(value * 1e6) / 1e6 == value; };
    const field::World world = resolve(bundled("steep-branch"), 9);
    REQUIRE(world.run.has_value());
    for (const glm::dvec3& p : world.run->centreline_m) {
        CHECK(on_grid(p.x));
        CHECK(on_grid(p.y));
        CHECK(on_grid(p.z));
    }
    for (const field::Area& area : world.yard.areas) {
        for (const glm::dvec2& p : area.outline_m) {
            CHECK(on_grid(p.x));
            CHECK(on_grid(p.y));
        }
    }
    CHECK(on_grid(world.sonde.position_m.z));
    CHECK(on_grid(world.sonde.heading_deg));
    CHECK(on_grid(world.sonde.tilt_deg));
    CHECK(on_grid(world.habits.lean_toward_deg));
    CHECK(on_grid(world.start_m.x));
    CHECK(on_grid(*world.sheet.counter_m));
}

TEST_CASE("a uniform value stays in its range and has the mean and the spread of a uniform one") {
    // Mean (a + b) / 2 and variance (b - a)^2 / 12; the mean of n draws lies within 4 sd / sqrt(n) (central limit
    // theorem).
    const Scenario scenario = parse_scenario(std::string(head) + with_depth("{ uniform = [1, 3] }"), "ok.toml");
    constexpr int n = 600;
    double sum = 0.0;
    double squares = 0.0;
    for (int i = 0; i < n; ++i) {
        const double d = depth_m(resolve(scenario, static_cast<std::uint64_t>(i)));
        REQUIRE(d >= 1.0);
        REQUIRE(d <= 3.0);
        sum += d;
        squares += (d - 2.0) * (d - 2.0);
    }
    const double sd = 2.0 / std::sqrt(12.0);
    CHECK(std::abs(sum / n - 2.0) < 4.0 * sd / std::sqrt(double(n)));
    CHECK(squares / n == doctest::Approx(sd * sd).epsilon(0.12));
}

TEST_CASE("a normal value has its mean and deviation, and is drawn again where it would leave the allowed range") {
    const Scenario scenario = parse_scenario(std::string(head) + with_depth("{ normal = [2, 0.25] }"), "ok.toml");
    constexpr int n = 600;
    double sum = 0.0;
    double squares = 0.0;
    for (int i = 0; i < n; ++i) {
        const double d = depth_m(resolve(scenario, static_cast<std::uint64_t>(i)));
        sum += d;
        squares += (d - 2.0) * (d - 2.0);
    }
    CHECK(std::abs(sum / n - 2.0) < 4.0 * 0.25 / std::sqrt(double(n)));
    CHECK(std::sqrt(squares / n) == doctest::Approx(0.25).epsilon(0.12));

    // Half of this one lies below 0: none may come out, and none may be heaped at the edge.
    const Scenario edge =
        parse_scenario(std::string(head) + with_depth("1") + "[operator]\nlean_deg = { normal = [0, 4] }\n", "ok.toml");
    int near_edge = 0;
    for (std::uint64_t seed = 0; seed < 300; ++seed) {
        const double lean_deg = resolve(edge, seed).habits.lean_deg;
        REQUIRE(lean_deg >= 0.0);
        near_edge += lean_deg < 0.4 ? 1 : 0;
    }
    CHECK(near_edge < 50); // 8 % of a half normal: 24 expected, sd 4.7
}

TEST_CASE("a choice hits each of its values about equally often, and nothing else") {
    const Scenario scenario = parse_scenario(
        std::string(head) + with_depth("1") + "frequency_hz = { choice = [512, 640, 8192] }\n", "ok.toml");
    std::map<double, int> hits;
    for (std::uint64_t seed = 0; seed < 600; ++seed) {
        ++hits[resolve(scenario, seed).sonde.frequency_hz];
    }
    REQUIRE(hits.size() == 3);
    for (const auto& [frequency, count] : hits) { // 200 expected, sd sqrt(600 / 3 * 2 / 3) = 11.5
        CAPTURE(frequency);
        CHECK(count > 150);
        CHECK(count < 250);
    }
}

TEST_CASE("a distribution on one key changes nothing that another key draws") {
    const std::string base = with_depth("{ uniform = [1, 3] }");
    const field::World without = made(base, 42);
    const field::World with =
        made(base + "moment_A_m2 = { uniform = [0.05, 0.2] }\n[operator]\nlean_deg = { normal = [4, 1] }\n", 42);
    CHECK(with.sonde.moment_am2 != without.sonde.moment_am2);
    CHECK((with.sonde.position_m == without.sonde.position_m));
    test::check_same_yard(with.yard, without.yard);
    CHECK((with.start_m == without.start_m));
}

TEST_CASE("what a scenario says outright is what the world holds") {
    const field::World world =
        made("news = \"n\"\ncaller = \"c\"\ncamera = \"k\"\n"
             "[yard]\nwidth_m = 41\nlength_m = 37\n"
             "[sonde]\nfrequency_hz = 640\nmoment_A_m2 = 0.07\nposition_m = [20, 18]\ndepth_m = 1.75\n"
             "heading_deg = 123\ntilt_deg = -12\nabove_invert_m = 0.03\n"
             "[run]\nmaterial = \"clay\"\ninside_diameter_m = 0.15\nwall_m = 0.018\n"
             "[receiver]\nantenna_spacing_m = 0.5\ntip_to_antenna_m = 0.08\nside_offset_sd_m = 0.001\n"
             "axis_error_sd_deg = 0.5\nsettling_tau_s = 0.2\nband_half_width_hz = 8\n"
             "signal_resolution_db = 0.2\ndepth_resolution_m = 0.02\nnoise_floor_pt_per_rthz = 0.03\n"
             "noise_at_512_pt_per_rthz = 0.6\n"
             "[sheet]\nfrequency_hz = 512\ncounter_zero = \"pipe_mouth\"\nsonde_to_lens_m = 0.35\n"
             "lens_to_fault_m = 0.2\nticket_state = \"expired\"\nticket_number = \"NV-7\"\n"
             "[rubric]\nfull_m = 0.1\nhalf_share = 0.3\ndepth_share = 0.2\ntolerance_zone_m = 0.6\n"
             "pair_share = 0.12\nprotection_depth_m = 1.2\nsolvable_by_level_line = false\n"
             "[operator]\nlean_deg = 3\nlean_toward_deg = -20\n");
    CHECK(world.sheet.news == "n");
    CHECK(world.sheet.caller == "c");
    CHECK(world.sheet.camera == "k");
    CHECK(world.yard.width_m == 41.0);
    CHECK(world.yard.length_m == 37.0);
    CHECK(world.sonde.frequency_hz == 640.0);
    CHECK(world.sonde.moment_am2 == 0.07);
    CHECK((world.sonde.position_m == glm::dvec3{20.0, 18.0, -1.75}));
    CHECK(world.sonde.heading_deg == 123.0);
    CHECK(world.sonde.tilt_deg == -12.0);
    CHECK_FALSE(world.run.has_value()); // a place and no run: nothing near it
    CHECK(world.sheet.material == field::PipeMaterial::clay);
    CHECK(world.sheet.inside_diameter_m == 0.15);
    CHECK(world.sheet.wall_m == 0.018);
    CHECK(world.sheet.sonde_above_invert_m == 0.03);
    CHECK(world.receiver.antenna_spacing_m == 0.5);
    CHECK(world.receiver.tip_to_antenna_m == 0.08);
    CHECK(world.receiver.noise_at_512_pt_per_rthz == 0.6);
    CHECK(world.receiver.band_half_width_hz == 8.0);
    CHECK(world.sheet.frequency_hz == 512.0);
    CHECK(world.sheet.counter_zero == field::CounterZero::pipe_mouth);
    CHECK(world.sheet.sonde_to_lens_m == 0.35);
    CHECK(world.sheet.lens_to_fault_m == 0.2);
    CHECK(world.sheet.ticket.state == field::TicketState::expired);
    CHECK(world.sheet.ticket.number == "NV-7");
    CHECK(world.rubric.full.least_m == 0.1);
    CHECK(world.rubric.half.share_of_depth == 0.3);
    CHECK(world.rubric.depth_share == 0.2);
    CHECK(world.rubric.tolerance_zone_m == 0.6);
    CHECK(world.rubric.pair_share == 0.12);
    CHECK(world.rubric.protection_depth_m == 1.2);
    CHECK_FALSE(world.rubric.solvable_by_level_line);
    CHECK(world.habits.lean_deg == 3.0);
    CHECK(world.habits.lean_toward_deg == -20.0);
}

TEST_CASE("a sonde in a run given by its points takes depth, heading and tilt from the pipe") {
    // Falling 1 in 10 due north; the centre line passes (15, 15) at z = -1.5.
    const std::string run = "[run]\npoints_m = [[15, 10, -1], [15, 20, -2]]\n";
    const field::World world = made("[yard]\nwidth_m = 30\nlength_m = 30\n[sonde]\nposition_m = [15, 15]\n" + run);
    REQUIRE(world.run.has_value());
    CHECK((world.run->centreline_m == std::vector<glm::dvec3>{{15, 10, -1}, {15, 20, -2}}));
    CHECK(world.sonde.heading_deg == 0.0);
    CHECK(world.sonde.tilt_deg == doctest::Approx(5.710593).epsilon(1e-6)); // atan 0.1
    // The sonde rides 25 mm over the invert of a 100 mm pipe: 25 mm below its axis, square to the run.
    CHECK(depth_m(world) == doctest::Approx(1.5 + 0.025 * std::cos(std::atan(0.1))).epsilon(2e-3));
    CHECK((field::plan(world.sonde.position_m) == glm::dvec2{15.0, 15.0}));
    // From the cleanout's rim: 1 m down and 5 m level, 0.5 m fall along; and up to 3 % slack.
    const double straight_m = 1.0 + std::hypot(5.0, 0.5);
    CHECK(*world.sheet.counter_m >= straight_m - 1e-3);
    CHECK(*world.sheet.counter_m <= 1.03 * straight_m + 1e-3);
    CHECK((*world.sheet.cleanout_m == glm::dvec2{15.0, 10.0}));

    const field::World drawn = made("[yard]\nwidth_m = 30\nlength_m = 30\n" + run, 8);
    CHECK(field::project(*drawn.run, drawn.sonde.position_m).distance_m < 0.05);
    CHECK(made("[yard]\nwidth_m = 30\nlength_m = 30\n" + run, 9).sonde.position_m.y != drawn.sonde.position_m.y);
    CHECK(made("[sonde]\nposition_m = [15, 15]\ntilt_deg = 8\nheading_deg = 350\n" + run).sonde.tilt_deg == 8.0);
    CHECK(made("[sonde]\nposition_m = [15.04, 15]\n" + run).sonde.position_m.x == 15.04); // 40 mm off: inside the pipe
}

TEST_CASE("the signal on the job sheet is that of the sonde at 2 m, broadside, whatever frequency the sheet says") {
    // Independent of the code: 1e-7 m / r^3 with r = 2.0 + 0.05 m is 1.16e-9 T = 61.3 dB above 1 pT.
    const double expected = 20.0 * std::log10(1e-7 * 0.1 / std::pow(2.05, 3) / 1e-12);
    CHECK(made(with_depth("1")).sheet.truck_signal_dbpt == doctest::Approx(expected).epsilon(1e-5));
    CHECK(made(with_depth("1") + "[sheet]\nfrequency_hz = 640\n").sheet.truck_signal_dbpt ==
          doctest::Approx(expected).epsilon(1e-5));
    CHECK(made(with_depth("1") + "[receiver]\nkind = \"single-coil\"\n").sheet.truck_signal_dbpt ==
          doctest::Approx(expected).epsilon(1e-5));
    CHECK(made(with_depth("1") + "moment_A_m2 = 0.2\n").sheet.truck_signal_dbpt ==
          doctest::Approx(expected + 6.0206).epsilon(1e-4));
}

TEST_CASE("a scenario with nothing but a title is drawn whole") {
    for (std::uint64_t seed = 0; seed < 5; ++seed) {
        const field::World world = made("", seed);
        CHECK(world.run.has_value());
        CHECK(field::faults(world).empty());
        CHECK(world.sheet.frequency_hz == world.sonde.frequency_hz);
    }
}

TEST_CASE("the words of the schema stand in the order of the enumerations") {
    const auto same = [](std::string_view word, std::string_view name) {
        std::string spaced(word);
        std::ranges::replace(spaced, '_', ' ');
        CHECK(spaced == name);
    };
    for (std::size_t i = 0; i < area_words.size(); ++i) {
        same(area_words[i], field::name_of(static_cast<field::AreaKind>(i)));
    }
    for (std::size_t i = 0; i < clue_words.size(); ++i) {
        same(clue_words[i], field::name_of(static_cast<field::ClueKind>(i)));
    }
    for (std::size_t i = 0; i < line_words.size(); ++i) {
        same(line_words[i], field::name_of(static_cast<field::LineKind>(i)));
    }
    for (std::size_t i = 0; i < ticket_words.size(); ++i) {
        same(ticket_words[i], field::name_of(static_cast<field::TicketState>(i)));
    }
    for (std::size_t i = 0; i < counter_words.size(); ++i) {
        same(counter_words[i], field::name_of(static_cast<field::CounterZero>(i)));
    }
    for (std::size_t i = 0; i < material_words.size(); ++i) {
        same(material_words[i], field::name_of(static_cast<field::PipeMaterial>(i)));
    }
    for (std::size_t i = 0; i < receiver_words.size(); ++i) {
        same(receiver_words[i], sim::name_of(static_cast<sim::ReceiverKind>(i)));
    }
}

TEST_CASE("the table of keys tells the truth about what holds when a key is left out") {
    const field::World world = made(with_depth("1"));
    const std::string text = to_toml(world);
    std::string table;
    std::size_t compared = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = text.find('\n', at);
        const std::string line = text.substr(at, end - at);
        at = end + 1;
        if (line.starts_with("[")) {
            table = line.starts_with("[[") ? "" : line.substr(1, line.size() - 2) + ".";
            continue;
        }
        const auto equals = line.find(" = ");
        const KeyRow* row = equals == std::string::npos ? nullptr : find_row(table + line.substr(0, equals));
        const bool drawn = row == nullptr || row->kind != Kind::number || row->standard.empty() ||
                           row->standard.find_first_not_of("0123456789.") != std::string_view::npos;
        if (!drawn) {
            CAPTURE(row->key);
            CHECK(line.substr(equals + 3) == row->standard);
            ++compared;
        }
    }
    CHECK(compared >= 20);
}

TEST_CASE("the manual's table has a line for every key, with a meaning and what is allowed") {
    const std::string manual = key_table_markdown();
    for (const KeyRow& row : key_table) {
        CAPTURE(row.key);
        CHECK_FALSE(row.meaning.empty());
        CHECK(manual.find(fmt::format("| {} |", row.meaning)) != std::string::npos);
        CHECK(find_row(row.key) == &row); // no key twice
    }
    CHECK(std::ranges::count(manual, '\n') == static_cast<std::ptrdiff_t>(key_table.size()) + 2);
    CHECK(manual.find("| `[sonde] depth_m` | a number above 0.15 and at most 10 m | drawn |") != std::string::npos);
}

TEST_CASE("a receiver's front end is what the scenario says, is written back, and is plain when left out") {
    const field::World world =
        made(with_depth("1") + "[receiver]\nkind = \"twin-coil\"\ncoil_turns = 1200\ncoil_core_diameter_m = 0.012\n"
                               "coil_mu_eff = 40\ncoil_resistance_ohm = 80\ncoil_amplifier_nv_per_rthz = 1.5\n"
                               "has_wide = true\nwide_settling_tau_s = 0.04\nwide_band_half_width_hz = 25\n"
                               "full_scale_dbpt = 110\ngain_steps = 4\ngain_step_db = 10\nconverter_bits = 16\n"
                               "gain_error_sd_percent = 1.5\nmast_bend_sd_deg = 0.5\n");
    const sim::ReceiverSpec& spec = world.receiver;
    CHECK(spec.kind == sim::ReceiverKind::twin_coil);
    REQUIRE(spec.coil.has_value());
    CHECK(spec.coil->turns == 1200.0);
    CHECK(spec.coil->core_diameter_m == 0.012);
    CHECK(spec.coil->mu_eff == 40.0);
    CHECK(spec.coil->resistance_ohm == 80.0);
    CHECK(spec.coil->amplifier_nv_per_rthz == 1.5);
    CHECK(spec.has_wide);
    CHECK(spec.wide_settling_tau_s == 0.04);
    CHECK(spec.wide_band_half_width_hz == 25.0);
    CHECK(spec.front_end.full_scale_dbpt == 110.0);
    CHECK(spec.front_end.gain_steps == 4);
    CHECK(spec.front_end.gain_step_db == 10.0);
    CHECK(spec.front_end.converter_bits == 16);
    CHECK(spec.gain_error_sd_percent == 1.5);
    CHECK(spec.mast_bend_sd_deg == 0.5);
    sondeyard::test::check_same_world(resolve(parse_scenario(to_toml(world), "again.toml"), 1), world);

    const field::World plain = made(with_depth("1"));
    CHECK_FALSE(plain.receiver.coil);
    CHECK_FALSE(plain.receiver.has_wide);
    CHECK(plain.receiver.front_end.gain_steps == 0);
    for (const char* const key : {"coil_", "wide", "gain_", "full_scale", "bend"}) {
        CHECK(to_toml(plain).find(key) == std::string::npos);
    }
}
