// What a locator finds on the ground, found with the receiver: every search below sees only antenna signals and what
// the display makes of them, as a trainee does.
//
// | checked                                                     | against                                             |
// | ---                                                         | ---                                                 |
// | every row of locate_facts.csv: plumb points, level line,    | the table: root finding and maximisation in another |
// | peak, ghosts, widths, depths, leans, facing pairs, tilt fix | program, closed forms where there are any           |
// | the numbers that the lessons quote                          | the same numbers written out                        |
//
// Each fact is tried twice: at depth 1 m along east through the origin, and at 2.3 m along a crooked track elsewhere,
// so that places must scale with depth and nothing depends on where the yard lies.
#include "sim/receiver.hpp"
#include "tests/sim/support.hpp"

#include <cstdlib>
#include <map>

using namespace sondeyard::sim;
using sondeyard::test::Curve;
using sondeyard::test::highest;
using sondeyard::test::rad;
using sondeyard::test::root_between;

namespace {

// A sonde under a track. Places on the track are in depths, counted towards its RAISED end; left of that is positive y.
struct Lie {
    double depth_m = 1.0;
    double tilt_deg = 0.0;
    double track_heading_deg = 90.0; // the way the raised end points
    glm::dvec3 above_m{0.0};         // on the ground, straight above the sonde
    double spacing = 0.4;            // of the antennas, in depths

    Dipole sonde() const {
        // The heading of a sonde is that of the end that points down.
        return make_sonde(above_m - glm::dvec3{0.0, 0.0, depth_m}, track_heading_deg + 180.0, tilt_deg, 1.0, 512.0);
    }
    glm::dvec3 place(double x, double y) const {
        const glm::dvec3 along{std::sin(rad(track_heading_deg)), std::cos(rad(track_heading_deg)), 0.0};
        const glm::dvec3 left{-along.y, along.x, 0.0};
        return above_m + depth_m * (x * along + y * left);
    }
    Instrument instrument(ReceiverKind kind) const {
        ReceiverSpec spec;
        spec.kind = kind;
        spec.antenna_spacing_m = spacing * depth_m;
        spec.tip_to_antenna_m = 0.0;
        return perfect_instrument(spec);
    }
    AntennaSignals signals(double x, double y = 0.0, double forward_deg = 0.0, double right_deg = 0.0,
                           double turned_deg = 0.0) const {
        const Dipole s = sonde();
        const Pose pose{place(x, y), track_heading_deg + turned_deg, forward_deg, right_deg};
        return antenna_signals_t(instrument(ReceiverKind::tri_axis), pose, {&s, 1}, 512.0);
    }
    double along(double x) const { return signals(x)[1].real(); } // the level antenna along the track
    double upright(double x, double y = 0.0) const { return signals(x, y)[2].real(); }
    double total(double x, double y = 0.0) const {
        return measure(instrument(ReceiverKind::tri_axis), signals(x, y), 512.0, 0.0, CoilAttitude::level).signal_t;
    }
    double coil(double x, CoilAttitude attitude) const {
        const Instrument one = instrument(ReceiverKind::single_coil);
        const Dipole s = sonde();
        const Pose pose{place(x, 0.0), track_heading_deg, 0.0, 0.0};
        return measure(one, antenna_signals_t(one, pose, {&s, 1}, 512.0), 512.0, 0.0, attitude).signal_t;
    }
    // Depth read, over true depth.
    double depth_ratio(const AntennaSignals& s, double lean = 0.0) const {
        const auto m = measure(instrument(ReceiverKind::tri_axis), s, 512.0, lean, CoilAttitude::level);
        return m.depth_m.value_or(std::nan("")) / depth_m;
    }
    double level_coil_depth_ratio(double x) const {
        const AntennaSignals s = signals(x);
        return depth_from_ratio_m(std::abs(s[1]), std::abs(s[4]), spacing * depth_m, 0.0).value_or(std::nan("")) /
               depth_m;
    }
};

struct PlumbPoints {
    double low = std::nan("");
    double high = std::nan("");
};

PlumbPoints plumb_points(const Lie& scene) {
    const auto found = sondeyard::test::roots([&](double x) { return scene.along(x); }, -8.003, 8.0, 500);
    return found.size() == 2 ? PlumbPoints{found[0], found[1]} : PlumbPoints{};
}

// Of the two places on the track where the field lies level, the one near the sonde.
double level_line(const Lie& scene, double y = 0.0) {
    return root_between([&](double x) { return scene.upright(x, y); }, -1.6, 0.6);
}

double peak(const Lie& scene) {
    return highest([&](double x) { return scene.total(x); }, -1.0, 1.0);
}

double own_peak(const Lie& scene) {
    return highest([&](double x) { return std::abs(scene.along(x)); }, -0.7, 1.0);
}

double width(const Lie& scene, bool along, double part) {
    const double top = scene.total(0.0);
    return 2.0 * root_between([&](double r) { return (along ? scene.total(r) : scene.total(0.0, r)) - part * top; },
                              0.0, 3.0);
}

double facing_pair_percent(const Lie& scene, double lean_right_deg) {
    const double one = scene.depth_ratio(scene.signals(0.2, 0.2, 0.0, lean_right_deg), lean_right_deg);
    const double two = scene.depth_ratio(scene.signals(0.2, 0.2, 0.0, lean_right_deg, 180.0), lean_right_deg);
    return 100.0 * std::abs(one - two) / (0.5 * (one + two));
}

// Centre and radius of the level line from three of its points.
struct Circle {
    double centre;
    double radius;
};
Circle level_circle(const Lie& scene) {
    const double y = 0.5;
    const double on_track = level_line(scene);
    const double beside = level_line(scene, y);
    const double centre = (beside * beside + y * y - on_track * on_track) / (2.0 * (beside - on_track));
    return {centre, std::abs(centre - on_track)};
}

double tilt_from_spacing_deg(double spacing, double depth) {
    return std::atan(std::sqrt(4.0 * spacing * spacing / (depth * depth) - 8.0) / 3.0) / rad(1.0);
}

double ratio_slope(const Lie& scene) {
    AntennaSignals s = scene.signals(0.0);
    const double change = 1e-6;
    for (std::size_t i = 0; i < 3; ++i) {
        s[i] *= 1.0 + change;
    }
    return (1.0 - scene.depth_ratio(s)) / change;
}

using Finder = std::function<double(const Lie&, double number)>;

// How to find each fact. A `#` in a name stands for a number that is handed to the finder; scene.spacing is set by
// `_s#`.
const std::map<std::string, Finder>& finders() {
    static const auto weak_over_strong = [](const Lie& s) {
        const PlumbPoints p = plumb_points(s);
        return std::abs(s.upright(p.low)) / std::abs(s.upright(p.high));
    };
    static const std::map<std::string, Finder> all = {
        {"plumb_point_low", [](const Lie& s, double) { return plumb_points(s).low; }},
        {"plumb_point_high", [](const Lie& s, double) { return plumb_points(s).high; }},
        {"plumb_spacing", [](const Lie& s, double) { return plumb_points(s).high - plumb_points(s).low; }},
        {"plumb_midpoint", [](const Lie& s, double) { return 0.5 * (plumb_points(s).high + plumb_points(s).low); }},
        {"plumb_product", [](const Lie& s, double) { return plumb_points(s).high * plumb_points(s).low; }},
        {"depth_over_read_of_spacing_by_sqrt2",
         [](const Lie& s, double) {
             return 100.0 * ((plumb_points(s).high - plumb_points(s).low) / std::sqrt(2.0) - 1.0);
         }},
        {"plumb_field_ratio_weak_to_strong", [](const Lie& s, double) { return weak_over_strong(s); }},
        {"level_line_on_track", [](const Lie& s, double) { return level_line(s); }},
        {"level_line_circle_centre", [](const Lie& s, double) { return level_circle(s).centre; }},
        {"level_line_circle_radius", [](const Lie& s, double) { return level_circle(s).radius; }},
        {"total_peak_on_track", [](const Lie& s, double) { return peak(s); }},
        {"depth_ratio_total_at_peak_s#", [](const Lie& s, double) { return s.depth_ratio(s.signals(peak(s))); }},
        {"depth_ratio_total_at_level_line_s#",
         [](const Lie& s, double) { return s.depth_ratio(s.signals(level_line(s))); }},
        {"depth_ratio_level_coil_at_total_peak_s#",
         [](const Lie& s, double) { return s.level_coil_depth_ratio(peak(s)); }},
        {"depth_ratio_level_coil_at_its_own_peak_s#",
         [](const Lie& s, double) { return s.level_coil_depth_ratio(own_peak(s)); }},
        {"depth_ratio_off_track_y#", [](const Lie& s, double y) { return s.depth_ratio(s.signals(0.0, y)); }},
        {"depth_ratio_mast_lean_along_#deg",
         [](const Lie& s, double a) { return s.depth_ratio(s.signals(0.0, 0.0, a, 0.0), a); }},
        {"depth_ratio_mast_lean_across_#deg",
         [](const Lie& s, double a) { return s.depth_ratio(s.signals(0.0, 0.0, 0.0, a), a); }},
        {"facing_pair_disagreement_lean_#deg_off_0.2",
         [](const Lie& s, double a) { return facing_pair_percent(s, a); }},
        {"depth_error_per_ratio_error_s#", [](const Lie& s, double) { return ratio_slope(s); }},
        {"level_total_width_along_at_#", [](const Lie& s, double part) { return width(s, true, part); }},
        {"level_total_width_across_at_#", [](const Lie& s, double part) { return width(s, false, part); }},
        {"level_coil_ghost_peak",
         [](const Lie& s, double) {
             return highest([&](double x) { return s.coil(x, CoilAttitude::level); }, 0.8, 3.0);
         }},
        {"level_coil_ghost_peak_height",
         [](const Lie& s, double) {
             return 100.0 * s.coil(std::sqrt(1.5), CoilAttitude::level) / s.coil(0.0, CoilAttitude::level);
         }},
        {"upright_coil_peak",
         [](const Lie& s, double) {
             return highest([&](double x) { return s.coil(x, CoilAttitude::upright); }, 0.0, 3.0);
         }},
        {"upright_coil_peak_height",
         [](const Lie& s, double) { return 100.0 * s.coil(0.5, CoilAttitude::upright) / s.total(0.0); }},
        {"on_end_upright_null",
         [](const Lie& s, double) { return root_between([&](double x) { return s.upright(x); }, 0.5, 1.9); }},
        {"on_end_upright_ghost_peak",
         [](const Lie& s, double) {
             return highest([&](double x) { return s.coil(x, CoilAttitude::upright); }, 1.5, 4.0);
         }},
        {"on_end_upright_ghost_height",
         [](const Lie& s, double) {
             return 100.0 * s.coil(2.0, CoilAttitude::upright) / s.coil(0.0, CoilAttitude::upright);
         }},
        {"tilt_fix_result",
         [](const Lie& s, double) {
             const PlumbPoints p = plumb_points(s);
             return tilt_from_spacing_deg(p.high - p.low, s.depth_ratio(s.signals(peak(s))));
         }},
        {"tilt_fix_error_for_spacing_error_#",
         [](const Lie& s, double error) {
             const PlumbPoints p = plumb_points(s);
             return tilt_from_spacing_deg((1.0 + error) * (p.high - p.low), 1.0) - s.tilt_deg;
         }},
    };
    return all;
}

// Facts that are about magnitude and not about places; tested in dipole_test.cpp.
bool of_magnitude(const std::string& fact) {
    return fact.rfind("geomagnetic_", 0) == 0 || fact.rfind("broadside_", 0) == 0 || fact.rfind("axial_", 0) == 0;
}

struct Fact {
    std::string name;
    std::string pattern; // its number replaced by #
    double number = 0.0;
    double tilt_deg = 0.0;
    double value = 0.0;
};

// The finder for a row: by its name, or by its name with one run of digits made a #.
Fact fact_of(const std::vector<std::string>& row) {
    Fact fact{row.at(0), row.at(0), 0.0, std::strtod(row.at(1).c_str(), nullptr),
              std::strtod(row.at(2).c_str(), nullptr)};
    for (const auto& [pattern, finder] : finders()) {
        const auto mark = pattern.find('#');
        if (mark == std::string::npos || fact.name.compare(0, mark, pattern, 0, mark) != 0) {
            continue;
        }
        char* end = nullptr;
        const double number = std::strtod(fact.name.c_str() + mark, &end);
        if (end != fact.name.c_str() + mark && pattern.substr(mark + 1) == end) {
            fact.pattern = pattern;
            fact.number = number;
        }
    }
    return fact;
}

std::vector<Fact> facts() {
    std::vector<Fact> all;
    for (const auto& row : sondeyard::test::reference_rows("locate_facts.csv")) {
        all.push_back(fact_of(row));
    }
    return all;
}

std::vector<Lie> scenes_for(const Fact& fact) {
    Lie plain;
    plain.tilt_deg = fact.tilt_deg;
    if (fact.pattern.size() > 3 && fact.pattern.compare(fact.pattern.size() - 3, 3, "_s#") == 0) {
        plain.spacing = fact.number;
    }
    Lie crooked = plain;
    crooked.depth_m = 2.3;
    crooked.track_heading_deg = 203.0;
    crooked.above_m = {31.0, -7.5, 0.0};
    return {plain, crooked};
}

// Six digits are printed. The place of a maximum that is flat to fourth order is not known better than this.
double tolerance(const Fact& fact) {
    if (fact.tilt_deg == 0.0 &&
        (fact.name == "total_peak_on_track" || fact.name == "depth_ratio_level_coil_at_total_peak_s0.2" ||
         fact.name == "depth_ratio_level_coil_at_total_peak_s0.4")) {
        return 5e-4;
    }
    return 1e-5 * std::max(std::abs(fact.value), 0.1);
}

// Checks every row whose pattern begins so; returns how many there were.
int check_facts(const std::string& beginning) {
    int checked = 0;
    for (const Fact& fact : facts()) {
        if (fact.pattern.rfind(beginning, 0) != 0 || of_magnitude(fact.name)) {
            continue;
        }
        ++checked;
        for (const Lie& scene : scenes_for(fact)) {
            const double found = finders().at(fact.pattern)(scene, fact.number);
            INFO(fact.name, " at tilt ", fact.tilt_deg, ", depth ", scene.depth_m, ": found ", found, ", table ",
                 fact.value);
            CHECK(std::abs(found - fact.value) <= tolerance(fact));
        }
    }
    return checked;
}

} // namespace

TEST_CASE("Every row of the table of locate facts is known to a test") {
    int known = 0;
    for (const Fact& fact : facts()) {
        const bool is_known = finders().count(fact.pattern) == 1 || of_magnitude(fact.name);
        CHECK_MESSAGE(is_known, fact.name);
        known += is_known ? 1 : 0;
    }
    CHECK(known >= 325);
}

TEST_CASE("Plumb points, their spacing, midpoint, product and strengths are those of the table") {
    CHECK(check_facts("plumb_") == 14 * 6);
    CHECK(check_facts("depth_over_read_of_spacing_by_sqrt2") == 14);
}

TEST_CASE("The level line is the table's: on the track and as a circle") {
    CHECK(check_facts("level_line_") == 15 + 13 * 2);
}

TEST_CASE("The peak is the table's, towards the raised end") { CHECK(check_facts("total_peak_") == 15); }

TEST_CASE("Depth read at the peak, at the level line, by level coils and beside the track is the table's") {
    CHECK(check_facts("depth_ratio_total_") == 58);
    CHECK(check_facts("depth_ratio_level_coil_") == 56);
    CHECK(check_facts("depth_ratio_off_track_") == 4);
    CHECK(check_facts("depth_error_per_ratio_error_") == 3);
}

TEST_CASE("A leaning mast misreads depth as in the table, and a facing pair shows it off the spot") {
    CHECK(check_facts("depth_ratio_mast_lean_") == 6);
    CHECK(check_facts("facing_pair_disagreement_") == 3);
}

TEST_CASE("Ghost peaks of one coil and the breadth of the peak are the table's") {
    CHECK(check_facts("level_coil_ghost_") == 2);
    CHECK(check_facts("upright_coil_") == 2);
    CHECK(check_facts("on_end_") == 3);
    CHECK(check_facts("level_total_width_") == 8);
}

TEST_CASE("A tilt fix from plumb points and depth comes out as in the table") {
    CHECK(check_facts("tilt_fix_") == 7 + 18);
}

TEST_CASE("What the lessons say of a level sonde") {
    const Lie scene{1.8, 0.0, 40.0, {5.0, 6.0, 0.0}, 0.4};
    const PlumbPoints p = plumb_points(scene);
    CHECK(p.low == doctest::Approx(-0.70711).epsilon(1e-5));
    CHECK(p.high == doctest::Approx(0.70711).epsilon(1e-5));
    CHECK((p.high - p.low) / 1.4142136 == doctest::Approx(1.0).epsilon(1e-6));
    const auto level = [&](double x) { return scene.coil(x, CoilAttitude::level); };
    CHECK(highest(level, 0.8, 3.0) == doctest::Approx(1.2247).epsilon(1e-4));
    CHECK(highest(level, -3.0, -0.8) == doctest::Approx(-1.2247).epsilon(1e-4));
    CHECK(level(1.2247) / level(0.0) == doctest::Approx(0.2024).epsilon(1e-3));
    // Upright the coil hears nothing straight above and has two peaks half a depth fore and aft.
    const auto upright = [&](double x) { return scene.coil(x, CoilAttitude::upright); };
    CHECK(upright(0.0) <= 1e-12 * level(0.0));
    CHECK(highest(upright, 0.0, 2.0) == doctest::Approx(0.5).epsilon(1e-4));
    CHECK(highest(upright, -2.0, 0.0) == doctest::Approx(-0.5).epsilon(1e-4));
    CHECK(upright(0.5) / level(0.0) == doctest::Approx(0.859).epsilon(1e-3));
}

TEST_CASE("Peak and level line lie on opposite sides of a tilted sonde") {
    for (const double tilt : {1.0, 5.0, 12.5, 30.0, 60.0}) {
        for (const double heading : {0.0, 77.0, 190.0}) {
            const Lie scene{1.4, tilt, heading, {2.0, 3.0, 0.0}, 0.4};
            CHECK(peak(scene) > 0.05);         // towards the raised end
            CHECK(level_line(scene) < -0.005); // towards the lowered
            const PlumbPoints p = plumb_points(scene);
            CHECK(scene.total(p.high) > scene.total(p.low));
        }
    }
}

TEST_CASE("The display says so too: dip 0 on the level line, 90 at the plumb points") {
    const Lie scene{1.4, 12.5, 77.0, {2.0, 3.0, 0.0}, 0.4};
    const Instrument instrument = scene.instrument(ReceiverKind::tri_axis);
    const auto dip = [&](double x) {
        return measure(instrument, scene.signals(x), 512.0, 0.0, CoilAttitude::level).dip_deg.value();
    };
    CHECK(std::abs(dip(-0.146)) < 0.1);
    CHECK(std::abs(dip(plumb_points(scene).high)) > 89.9999);
    CHECK(std::abs(dip(plumb_points(scene).low)) > 89.9999);
    // He faces the raised end, beyond the sonde: the lines come down before him there and rise behind him.
    CHECK(dip(0.3) > 10.0);
    CHECK(dip(-0.5) < -10.0);
}

TEST_CASE("On end the peak is the plumb point and the sonde, and the level line is a ring") {
    const Lie scene{2.0, 90.0, 30.0, {4.0, 4.0, 0.0}, 0.4};
    CHECK(std::abs(peak(scene)) <= 1e-6);
    for (int i = 0; i < 12; ++i) {
        const double a = rad(30.0 * i);
        const Curve out = [&](double r) { return scene.upright(r * std::cos(a), r * std::sin(a)); };
        CHECK(root_between(out, 0.5, 1.9) == doctest::Approx(1.414214).epsilon(1e-5));
    }
}

TEST_CASE("Depth at the peak is at most 0.9 % low at any tilt") {
    for (int i = 0; i <= 36; ++i) {
        const Lie scene{1.5, 2.5 * i, 10.0, {0.0, 0.0, 0.0}, 0.4};
        const double ratio = scene.depth_ratio(scene.signals(peak(scene)));
        CHECK(ratio <= 1.0 + 1e-6);
        CHECK(ratio >= 0.991);
    }
}

TEST_CASE("A facing pair over the sonde agrees: it finds lean off the spot, not lean alone") {
    const Lie scene{1.5, 0.0, 10.0, {0.0, 0.0, 0.0}, 0.4};
    const double one = scene.depth_ratio(scene.signals(0.0, 0.0, 0.0, 5.0), 5.0);
    const double two = scene.depth_ratio(scene.signals(0.0, 0.0, 0.0, 5.0, 180.0), 5.0);
    CHECK(std::abs(one - two) <= 1e-9);
    CHECK(facing_pair_percent(scene, 0.0) <= 1e-9); // a plumb mast off the spot agrees too
    CHECK(facing_pair_percent(scene, 5.0) == doctest::Approx(2.511).epsilon(1e-3));
}

TEST_CASE("Twin coils read the depth at their own peak turned along the sonde, and nowhere else") {
    const auto read = [](const Lie& scene, double x, double turned_deg) {
        const Instrument twin = scene.instrument(ReceiverKind::twin_coil);
        const AntennaSignals s = scene.signals(x, 0.0, 0.0, 0.0, turned_deg);
        return measure(twin, s, 512.0, 0.0, CoilAttitude::level).depth_m.value_or(std::nan("")) / scene.depth_m;
    };
    const auto tilted = [](double tilt_deg) { return Lie{1.7, tilt_deg, 77.0, {2.0, 3.0, 0.0}, 0.4}; };
    // The numbers of the table of facts, here with the instrument itself: -.04 % at 5 deg, -1.2 % at 30, and +19 % at
    // the peak of the total field.
    CHECK(read(tilted(5.0), own_peak(tilted(5.0)), 0.0) == doctest::Approx(1.0 - 0.0004).epsilon(5e-5));
    CHECK(read(tilted(30.0), own_peak(tilted(30.0)), 0.0) == doctest::Approx(1.0 - 0.0123).epsilon(5e-4));
    CHECK(read(tilted(5.0), peak(tilted(5.0)), 0.0) == doctest::Approx(1.188).epsilon(1e-3));
    CHECK(read(tilted(5.0), own_peak(tilted(5.0)), 180.0) == // a plumb mast: both ways round the same
          doctest::Approx(read(tilted(5.0), own_peak(tilted(5.0)), 0.0)).epsilon(1e-12));
    // Ghost peaks at 1.2247 depths, 20.24 % of the main one (closed form: sqrt(3/2), 2.5^-2.5 x 2).
    const Lie level = tilted(0.0);
    const double ghost = highest([&](double x) { return std::abs(level.along(x)); }, 0.8, 2.0);
    CHECK(ghost == doctest::Approx(std::sqrt(1.5)).epsilon(1e-6));
    CHECK(std::abs(level.along(ghost) / level.along(0.0)) == doctest::Approx(2.0 * std::pow(2.5, -2.5)).epsilon(1e-9));
    // A ghost taken for the peak reads far too shallow: level parts (2 x^2 - z^2) / R^5 at x^2 = 1.5, z = 1 and 1.4,
    // are 2 / 2.5^2.5 and 1.04 / 3.46^2.5. The flank of the main peak reads too deep, its level parts going the other
    // way.
    const double ghost_ratio = (2.0 / std::pow(2.5, 2.5)) / (1.04 / std::pow(3.46, 2.5));
    CHECK(read(level, ghost, 0.0) == doctest::Approx(0.4 / (std::cbrt(ghost_ratio) - 1.0)).epsilon(1e-6));
    CHECK(read(level, ghost, 0.0) == doctest::Approx(0.635).epsilon(1e-3));
    CHECK(read(level, 0.4, 0.0) > 1.3);
}
