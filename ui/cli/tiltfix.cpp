// sondeyard tiltfix: the tilt fix for a locate made with a pencil and a tape.
#include "field/lengths.hpp"
#include "field/tilt_fix.hpp"
#include "ui/cli/commands.hpp"
#include "ui/cli/print.hpp"

#include <cmath>
#include <string>

namespace sondeyard::ui {

namespace {

using field::PlumbSide;
using field::Range;

// Lines are laid out by hand: formulas do not wrap.
constexpr std::string_view derivation =
    R"(How the tilt fix works

A sonde is a dipole. Take its depth d below the antenna as 1 and count x along the track, from above
the sonde towards its raised end; T is the tangent of its tilt. Its field there, up to a factor:
    Bx = (2 x^2 + 3 T x - 1) / (1 + x^2)^(5/2)        along the track
    Bz = (3 x + 2 T - T x^2) / (1 + x^2)^(5/2)        upright
The field stands plumb where Bx = 0 (two places) and lies level where Bz = 0:
    plumb points   x = (-3T - sqrt(9 T^2 + 8)) / 4  and  (-3T + sqrt(9 T^2 + 8)) / 4
    level line     x = (3 - sqrt(9 + 8 T^2)) / (2 T)
So the plumb points are L = d sqrt(9 T^2 + 8) / 2 apart, which gives
    T = sqrt(4 L^2 / d^2 - 8) / 3
Their middle lies 3 T d / 4 from the sonde, away from the raised end: the sonde lies L/2 - 3 T d / 4
from the stronger plumb point, which is on the raised side, and L/2 + 3 T d / 4 from the weaker one.

Level:     L = 1.414 d. Shorter than that there is no tilt to find: level within the error.
Blunt:     near level L hardly changes. 2 % of L is 6.8 deg at 5, 3.4 at 15, 1.7 at 30 deg.
Signals:   at a plumb point the signal goes as |1/x - T| / (1 + x^2)^(3/2). The weak one over the
           strong one is 0.78 (-2.1 dB) at 5 deg, 0.47 (-6.5 dB) at 15, 0.21 (-13.6 dB) at 30: steep
           where the spacing is blunt. Give them whenever you have them.
At the peak, which lies up to a quarter of the depth towards the raised end, two antennas read up to
0.9 % low. That alone makes a tilt by spacing 1.6 deg too large at 15; it is corrected here.

What is worked out is the least-squares fit of place, depth and tilt to everything given, each
weighed by its uncertainty; a range ends where the sum of squares is 1 above the least.

Slope:     x above is a direction from the sonde: T of the tilt and the tangent of a ray. On ground that
           rises by g to a length on the level, towards the raised end, the ray x comes out at
           x / (1 - g x), and 1 / (1 - g x) times as high above the sonde; the signal there is weaker by
           the cube of that. With --rise, g = rise / L; lengths are those of a tape held level.
It holds for a dipole in free space under even ground. Currents in lines, a second source, a step or
conducting ground are not in it; numbers that do not fit each other are the only sign of them.
)";

constexpr std::string_view disclaimer =
    "Arithmetic for a dipole under even ground, away from lines. It licenses nobody to dig.";

std::optional<double> length_of(const char* option, const std::optional<std::string>& text, field::Units units) {
    if (!text) {
        return std::nullopt;
    }
    const std::optional<double> length_m = field::parse_length(*text, units);
    if (!length_m) {
        throw BadInput(
            fmt::format("{}: found \"{}\"; allowed: a length such as {}", option, *text, field::lengths_allowed));
    }
    return length_m;
}

double needed_length_of(const char* option, const std::optional<std::string>& text, field::Units units) {
    const std::optional<double> length_m = length_of(option, text, units);
    if (!length_m) {
        throw BadInput(fmt::format("{} is missing: a length such as {}", option, field::lengths_allowed));
    }
    return *length_m;
}

// Signals in any way they can be known: both in decibels, or the weaker over the stronger.
std::optional<double> a_over_b_db(const TiltFixOptions& o, PlumbSide stronger) {
    if (o.signal_a_db.has_value() != o.signal_b_db.has_value()) {
        throw BadInput("--signal-a and --signal-b belong together: give both, or --ratio with --stronger");
    }
    if (o.ratio && o.signal_a_db) {
        throw BadInput("--ratio and --signal-a say the same thing: give one of them");
    }
    if (o.signal_a_db) {
        return *o.signal_a_db - *o.signal_b_db;
    }
    if (!o.ratio) {
        return std::nullopt;
    }
    if (!(*o.ratio > 0.0 && *o.ratio <= 1.0)) {
        throw BadInput(
            fmt::format("--ratio: found {:.4g}; allowed: more than 0, at most 1 (the weaker signal over the stronger, "
                        "not in decibels)",
                        *o.ratio));
    }
    if (stronger == PlumbSide::unknown) {
        throw BadInput("--ratio needs --stronger A or --stronger B");
    }
    return (stronger == PlumbSide::a ? -20.0 : 20.0) * std::log10(*o.ratio);
}

field::TiltFixInput input_of(const TiltFixOptions& o, field::Units units) {
    field::TiltFixInput in;
    in.spacing_m = needed_length_of("--spacing", o.spacing, units);
    in.depth_m = needed_length_of("--depth", o.depth, units);
    in.depth_read_at = o.read_at == "sonde" ? field::DepthReadAt::over_sonde : field::DepthReadAt::peak;
    in.stronger = o.stronger == "A" ? PlumbSide::a : o.stronger == "B" ? PlumbSide::b : PlumbSide::unknown;
    in.a_over_b_db = a_over_b_db(o, in.stronger);
    in.level_from_a_m = length_of("--level-from-a", o.level_from_a, units);
    in.antenna_spacing_m = length_of("--antenna-spacing", o.antenna_spacing, units).value_or(in.antenna_spacing_m);
    in.tip_to_antenna_m = length_of("--antenna-above-tip", o.antenna_above_tip, units).value_or(in.tip_to_antenna_m);
    in.rise_m = length_of("--rise", o.rise, units).value_or(0.0);
    in.mark_sd_m = length_of("--mark-error", o.mark_error, units);
    if (const std::optional<double> sure_m = length_of("--spacing-error", o.spacing_error, units)) {
        if (in.mark_sd_m) {
            throw BadInput("--mark-error and --spacing-error say the same thing: give one of them");
        }
        in.mark_sd_m = field::mark_sd_of_spacing_sd_m(*sure_m);
    }
    in.depth_sd_m = length_of("--depth-error", o.depth_error, units);
    in.signal_sd_db = o.signal_error_db;
    const std::vector<std::string> wrong = faults(in);
    if (!wrong.empty()) {
        std::string all;
        for (const std::string& each : wrong) {
            all += (all.empty() ? "" : "\n") + field::in_units(each, units);
        }
        throw BadInput(all);
    }
    return in;
}

Json range_json(const Range& range) { return {{"value", range.value}, {"low", range.low}, {"high", range.high}}; }
std::string_view letter(PlumbSide side) { return side == PlumbSide::a ? "A" : side == PlumbSide::b ? "B" : "unknown"; }

void print_document(const field::TiltFixInput& in, const field::TiltFix& fix) {
    const Json document = {{"trusted", trusted(fix.trust)},
                           {"verdict", name_of(fix.trust)},
                           {"reason", reason_of(fix.trust)},
                           {"tilt_deg", range_json(fix.tilt_deg)},
                           {"raised_side", letter(fix.raised)},
                           {"from_a_m", range_json(fix.from_a_m)},
                           {"from_b_m", range_json(fix.from_b_m)},
                           {"other_from_a_m", or_null(fix.other_from_a_m)},
                           {"depth_m", range_json(fix.depth_m)},
                           {"depth_correction_m", fix.depth_correction_m},
                           {"tilt_by_spacing_deg", or_null(fix.tilt_by_spacing_deg)},
                           {"tilt_by_signals_deg", or_null(fix.tilt_by_signals_deg)},
                           {"rise_m", in.rise_m},
                           {"mark_sd_m", mark_sd_m(in)},
                           {"spacing_sd_m", spacing_sd_m(in)},
                           {"depth_sd_m", depth_sd_m(in)},
                           {"signal_sd_db", signal_sd_db(in)}};
    print_json(document);
}

constexpr std::size_t indent = 16;

void print_table(const field::TiltFixInput& in, const field::TiltFix& fix, field::Units units) {
    const auto row = [](std::string_view what, const std::string& value) { print_row(indent, what, value); };
    const auto length = [units](double m) { return field::length_text(m, units); };
    const auto spread = [&](const Range& r) { return fmt::format("({} to {})", length(r.low), length(r.high)); };
    row("verdict", std::string(name_of(fix.trust)));
    if (!trusted(fix.trust)) {
        row("", "Not to be trusted. " + std::string(reason_of(fix.trust)));
    } else if (!reason_of(fix.trust).empty()) {
        row("", std::string(reason_of(fix.trust)));
    }
    std::string alone;
    if (fix.tilt_by_signals_deg) {
        alone = fmt::format("; by the signals alone {:.1f}, by the spacing alone {}", *fix.tilt_by_signals_deg,
                            fix.tilt_by_spacing_deg ? fmt::format("{:.1f}", *fix.tilt_by_spacing_deg) : "none");
    }
    row("tilt",
        fmt::format("{:.1f} deg ({:.1f} to {:.1f}){}", fix.tilt_deg.value, fix.tilt_deg.low, fix.tilt_deg.high, alone));
    row("raised end", fix.raised == PlumbSide::unknown ? std::string("not known")
                                                       : fmt::format("on the side of {}{}", letter(fix.raised),
                                                                     in.rise_m == 0.0 ? ", the stronger one" : ""));
    row("sonde", fmt::format("{} from A towards B {}", length(fix.from_a_m.value), spread(fix.from_a_m)));
    row("", fmt::format("{} from B towards A {}", length(fix.from_b_m.value), spread(fix.from_b_m)));
    if (fix.other_from_a_m) {
        row("",
            fmt::format("or, with the raised end at A, {} from A; the stronger one tells: say which with --stronger",
                        length(*fix.other_from_a_m)));
    }
    row("depth there", fmt::format("{} {}", length(fix.depth_m.value), spread(fix.depth_m)));
    constexpr double worth_saying_m = 0.005; // less is 0 cm
    if (std::abs(fix.depth_correction_m) > worth_saying_m) {
        row("",
            fmt::format("of which {} for reading it at the peak", field::error_text(fix.depth_correction_m, units)));
    }
    row("taken for sure",
        fmt::format("the spacing within {}, the depth within {}, the difference of the signals within {:.2g} dB",
                    field::error_text(spacing_sd_m(in), units), field::error_text(depth_sd_m(in), units),
                    signal_sd_db(in)));
    fmt::print("In brackets: where the true value lies two times in three.\n{}\n", disclaimer);
}

} // namespace

int tiltfix(const TiltFixOptions& options) {
    if (options.derivation) {
        fmt::print("{}", derivation);
        return 0;
    }
    const std::optional<field::Units> units = field::units_named(options.units);
    if (!units) {
        throw BadInput(fmt::format("--units: found \"{}\"; allowed: {}", options.units, field::units_allowed));
    }
    const field::TiltFixInput in = input_of(options, *units);
    const field::TiltFix fix = tilt_fix(in);
    if (options.json) {
        print_document(in, fix);
    } else {
        print_table(in, fix, *units);
    }
    return trusted(fix.trust) ? 0 : 1;
}

} // namespace sondeyard::ui
