#include "field/tilt_fix.hpp"

#include "field/score.hpp"
#include "sim/mutation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <span>
#include <stdexcept>

namespace sondeyard::field {

namespace {

using sim::mutated;
using sim::Mutation;

constexpr double steepest_deg = 85.0; // looked at
constexpr double blunt_below_deg = 15.0;

} // namespace

// ---- Input ----

double mark_sd_m(const TiltFixInput& input) { return input.mark_sd_m.value_or(std::max(0.03, 0.03 * input.depth_m)); }
double spacing_sd_m(const TiltFixInput& input) { return mark_sd_m(input) * std::numbers::sqrt2; }
double mark_sd_of_spacing_sd_m(double spacing_sd_m) { return spacing_sd_m / std::numbers::sqrt2; }
double depth_sd_m(const TiltFixInput& input) { return input.depth_sd_m.value_or(std::max(0.02, 0.03 * input.depth_m)); }
double signal_sd_db(const TiltFixInput& input) { return input.signal_sd_db.value_or(0.5); }

std::vector<std::string> faults(const TiltFixInput& input) {
    std::vector<std::string> all;
    const auto in_m = [](double value_m) {
        return std::isfinite(value_m) ? fmt::format("{{{:.4g} m}}", value_m) : std::string("no number");
    };
    const auto length = [&](std::string_view what, double value_m, double least_m, double most_m) {
        if (!(value_m >= least_m && value_m <= most_m)) { // also when it is no number
            all.push_back(
                fmt::format("{}: found {}; allowed: {} to {}", what, in_m(value_m), in_m(least_m), in_m(most_m)));
        }
    };
    const auto number = [&](std::string_view what, double value, double least, double most, std::string_view unit) {
        if (!(value >= least && value <= most)) {
            all.push_back(fmt::format("{}: found {:.4g}; allowed: {} to {} {}", what, value, least, most, unit));
        }
    };
    length("spacing of the plumb points", input.spacing_m, least_length_m, most_length_m);
    length("depth", input.depth_m, least_length_m, most_length_m);
    length("antenna spacing", input.antenna_spacing_m, 0.05, 2.0);
    length("antenna above the tip", input.tip_to_antenna_m, 0.0, 1.0);
    if (!all.empty()) {
        return all; // the rest is measured by these
    }
    constexpr double longest_in_depths = 20.0; // 85 deg: 17
    if (input.spacing_m > longest_in_depths * (input.depth_m + input.tip_to_antenna_m)) {
        all.push_back(
            fmt::format("spacing of the plumb points: found {} for a depth of {}; over no sonde do they lie so far "
                        "apart, allowed: up to {} depths",
                        in_m(input.spacing_m), in_m(input.depth_m), longest_in_depths));
    }
    const double most_rise_m = steepest_grade * input.spacing_m;
    length("rise of the ground from A to B", input.rise_m, -most_rise_m, most_rise_m);
    if (input.a_over_b_db) {
        number("difference of the signals", *input.a_over_b_db, -100.0, 100.0, "dB");
    }
    if (input.a_over_b_db && ((input.stronger == PlumbSide::a && *input.a_over_b_db < 0.0) ||
                              (input.stronger == PlumbSide::b && *input.a_over_b_db > 0.0))) {
        all.emplace_back("stronger plumb point: the signals say the other one; give either, or make them agree");
    }
    if (input.level_from_a_m && !(*input.level_from_a_m > 0.0 && *input.level_from_a_m < input.spacing_m)) {
        all.push_back(
            fmt::format("level line: found {} from A; it crosses between the plumb points, allowed: more than 0 "
                        "and less than {}",
                        in_m(*input.level_from_a_m), in_m(input.spacing_m)));
    }
    length("uncertainty of a mark", mark_sd_m(input), 0.001, input.spacing_m);
    length("uncertainty of the depth", depth_sd_m(input), 0.001, input.depth_m);
    number("uncertainty of the signals", signal_sd_db(input), 0.01, 20.0, "dB");
    return all;
}

// ---- The fix ----

namespace {

// The best place and depth for one tilt. Tilt below 0: A's side is raised. Depth is below the lower antenna.
struct AtTilt {
    double squares = 0.0; // weighted, of what is left over
    double sonde_from_a_m = 0.0;
    double depth_m = 0.0;
    double place_variance = 0.0;
    double depth_variance = 0.0;
};

// How much of a ray's length over level ground is left where it meets the slope, the other way up. No ray runs along
// the ground: what comes near to it fits nothing.
double left_of_ray(double x, double grade) {
    constexpr double least = 0.02;
    return std::max(1.0 - grade * x, least);
}

struct Weighing {
    const TiltFixInput& input;
    bool with_signals;

    double grade() const {
        return (mutated(Mutation::tilt_slope_mirrored) ? -input.rise_m : input.rise_m) / input.spacing_m;
    }

    double read(double tilt_deg) const { // what the receiver reads for a depth of 1
        if (input.depth_read_at == DepthReadAt::over_sonde || mutated(Mutation::tilt_peak_correction_dropped)) {
            return 1.0;
        }
        const double spacing = input.antenna_spacing_m / (input.depth_m + input.tip_to_antenna_m);
        return grade() == 0.0 ? depth_read_at_peak(std::abs(tilt_deg), spacing)
                              : depth_read_at_peak(tilt_deg, spacing, grade());
    }

    // Of a negative tilt: mirrored, the weak one still at A's side.
    TrackPlaces places(double tilt_deg) const {
        TrackPlaces p = places_on_track(tilt_deg);
        for (double* x : {&p.plumb_weak, &p.plumb_strong, &p.level_line}) {
            *x /= left_of_ray(*x, grade());
        }
        return p;
    }

    // What the slope alone puts between the signals at A and B: the lower of them is the nearer to the sonde.
    double a_over_b_by_slope_db(double tilt_deg) const {
        const TrackPlaces p = places_on_track(tilt_deg);
        return 60.0 * std::log10(left_of_ray(p.plumb_weak, grade()) / left_of_ray(p.plumb_strong, grade()));
    }
    double a_over_b_db(double tilt_deg) const {
        const double weak_db = weak_over_strong_db(std::abs(tilt_deg));
        return (tilt_deg > 0.0 ? weak_db : -weak_db) + a_over_b_by_slope_db(tilt_deg);
    }

    AtTilt at(double tilt_deg) const {
        const TrackPlaces p = places(tilt_deg);
        struct Row { // unit * place + slope * depth = value
            double place, depth, value, sd;
        };
        const double mark = mark_sd_m(input);
        std::array<Row, 4> rows = {{{1.0, p.plumb_weak, 0.0, mark},
                                    {1.0, p.plumb_strong, input.spacing_m, mark},
                                    {0.0, read(tilt_deg), input.depth_m + input.tip_to_antenna_m, depth_sd_m(input)},
                                    {1.0, p.level_line, input.level_from_a_m.value_or(0.0), mark}}};
        const std::span<const Row> used(rows.data(), input.level_from_a_m ? 4 : 3);
        double pp = 0.0, pd = 0.0, dd = 0.0, pv = 0.0, dv = 0.0;
        for (const Row& r : used) {
            const double w = 1.0 / (r.sd * r.sd);
            pp += w * r.place * r.place, pd += w * r.place * r.depth, dd += w * r.depth * r.depth;
            pv += w * r.place * r.value, dv += w * r.depth * r.value;
        }
        const double det = pp * dd - pd * pd;
        AtTilt out;
        out.sonde_from_a_m = (dd * pv - pd * dv) / det;
        out.depth_m = (pp * dv - pd * pv) / det;
        out.place_variance = dd / det;
        out.depth_variance = pp / det;
        for (const Row& r : used) {
            const double left = (r.place * out.sonde_from_a_m + r.depth * out.depth_m - r.value) / r.sd;
            out.squares += left * left;
        }
        if (with_signals && input.a_over_b_db && !mutated(Mutation::tilt_signals_ignored)) {
            const double left = (a_over_b_db(tilt_deg) - *input.a_over_b_db) / signal_sd_db(input);
            out.squares += left * left;
        }
        return out;
    }
};

struct TiltRange { // deg, signed
    Range tilt_deg;
    double least_squares = 0.0;
};

// Least squares between two tilts, and where it is 1 above that: a net first, since there may be two dips.
TiltRange best_tilt(const Weighing& weighing, double from_deg, double to_deg) {
    constexpr double step_deg = 1.0;
    const int steps = static_cast<int>(std::lround((to_deg - from_deg) / step_deg));
    const auto squares = [&](double t) { return weighing.at(t).squares; };
    std::vector<double> net;
    net.reserve(static_cast<std::size_t>(steps) + 1);
    for (int i = 0; i <= steps; ++i) {
        net.push_back(squares(from_deg + i * step_deg));
    }
    const int best = static_cast<int>(std::ranges::min_element(net) - net.begin());
    double low = from_deg + std::max(best - 1, 0) * step_deg;
    double high = from_deg + std::min(best + 1, steps) * step_deg;
    constexpr double third = 1.0 / 3.0;
    for (int i = 0; i < 40; ++i) {
        const double a = low + third * (high - low);
        const double b = high - third * (high - low);
        (squares(a) < squares(b) ? high : low) = squares(a) < squares(b) ? b : a;
    }
    constexpr double rounding = 1e-9;
    TiltRange out;
    out.tilt_deg.value = 0.5 * (low + high);
    for (const double edge : {from_deg, to_deg}) { // when the dip lies at one
        out.tilt_deg.value = squares(edge) <= squares(out.tilt_deg.value) + rounding ? edge : out.tilt_deg.value;
    }
    out.least_squares = squares(out.tilt_deg.value);
    const double bound = out.least_squares + (mutated(Mutation::tilt_range_halved) ? 0.25 : 1.0);
    int first = std::max(best - 1, 0); // the dip lies between these
    int last = std::min(best + 1, steps);
    while (first > 0 && net[static_cast<std::size_t>(first)] < bound) {
        --first;
    }
    while (last < steps && net[static_cast<std::size_t>(last)] < bound) {
        ++last;
    }
    const auto over = [&](double t) { return squares(t) - bound; };
    const double first_deg = from_deg + first * step_deg;
    const double last_deg = from_deg + last * step_deg;
    out.tilt_deg.low = over(first_deg) > 0.0 ? root_of_falling(over, first_deg, out.tilt_deg.value) : first_deg;
    out.tilt_deg.high = over(last_deg) > 0.0
                            ? root_of_falling([&](double t) { return -over(t); }, out.tilt_deg.value, last_deg)
                            : last_deg;
    return out;
}

// The side of the raised end by ear. On level ground that is where the stronger plumb point lies; on a slope the lower
// one gains, and it is said only when the tilt that fits on one side alone makes what was heard.
PlumbSide raised_by_ear(const Weighing& weighing) {
    const PlumbSide heard = weighing.input.stronger;
    if (heard == PlumbSide::unknown || weighing.grade() == 0.0) {
        return heard;
    }
    const auto makes_it = [&](double from_deg, double to_deg) {
        const double tilt_deg = best_tilt(weighing, from_deg, to_deg).tilt_deg.value;
        return (weighing.a_over_b_db(tilt_deg) > 0.0) == (heard == PlumbSide::a);
    };
    const bool a = makes_it(-steepest_deg, 0.0);
    const bool b = makes_it(0.0, steepest_deg);
    return a == b ? PlumbSide::unknown : a ? PlumbSide::a : PlumbSide::b;
}

// A value at the best tilt, at both ends of the tilt's range, and its own variance at a given tilt.
Range spread(double value, double at_low, double at_high, double variance) {
    const double down = value - std::min({value, at_low, at_high});
    const double up = std::max({value, at_low, at_high}) - value;
    return {value, value - std::sqrt(variance + down * down), value + std::sqrt(variance + up * up)};
}

// Sum of squares that chance exceeds once in a hundred, by how many measurements there are beyond place, depth and
// tilt.
double most_squares(int left_over) {
    return left_over < 2 ? 6.63 : 9.21; // chi square of one and two
}

TiltTrust trust_of(const TiltFixInput& input, const TiltRange& found) {
    constexpr double too_wide_deg = 30.0;
    const Range& tilt = found.tilt_deg;
    const bool signals = input.a_over_b_db.has_value();
    const bool may_be_level = tilt.low <= 0.0 && tilt.high >= 0.0;
    const int left_over = (signals ? 1 : 0) + (input.level_from_a_m ? 1 : 0);
    // By spacing alone all fits, unless it is shorter than over a level sonde: by a little, that is level.
    if (found.least_squares > most_squares(left_over)) {
        return TiltTrust::does_not_fit;
    }
    if (std::abs(tilt.value) > on_end_above_deg) {
        return TiltTrust::too_steep;
    }
    // The spacing hardly changes near level, so that alone it tells level from a tilt only where its whole range does.
    const double least_deg = may_be_level ? 0.0 : std::min(std::abs(tilt.low), std::abs(tilt.high));
    const double most_deg = std::max(std::abs(tilt.low), std::abs(tilt.high));
    if (signals ? may_be_level : most_deg < level_below_deg) {
        return TiltTrust::level_within_error;
    }
    if (!signals && least_deg < blunt_below_deg) {
        return TiltTrust::spacing_too_blunt;
    }
    return tilt.high - tilt.low > too_wide_deg ? TiltTrust::too_wide : TiltTrust::holds;
}

} // namespace

TiltFix tilt_fix(const TiltFixInput& input) {
    if (const std::vector<std::string> wrong = faults(input); !wrong.empty()) {
        throw std::invalid_argument(fmt::format("{}", fmt::join(wrong, "\n")));
    }
    const bool signals = input.a_over_b_db.has_value();
    const Weighing weighing{input, signals};
    const PlumbSide by_ear = signals ? PlumbSide::unknown : raised_by_ear(weighing);
    const bool a_raised = by_ear == PlumbSide::a;
    const TiltRange found =
        best_tilt(weighing, signals || a_raised ? -steepest_deg : 0.0, a_raised ? 0.0 : steepest_deg);
    const Range signed_deg = found.tilt_deg;
    const AtTilt best = weighing.at(signed_deg.value);
    const AtTilt low = weighing.at(signed_deg.low);
    const AtTilt high = weighing.at(signed_deg.high);
    TiltFix fix;
    fix.trust = trust_of(input, found);
    const bool over_level = signed_deg.low < 0.0 && signed_deg.high > 0.0;
    const double size_low = std::min(std::abs(signed_deg.low), std::abs(signed_deg.high));
    fix.tilt_deg = {std::abs(signed_deg.value), over_level ? 0.0 : size_low,
                    std::max(std::abs(signed_deg.low), std::abs(signed_deg.high))};
    const bool said = signals || by_ear != PlumbSide::unknown;
    if (said && signed_deg.value != 0.0 && !over_level) {
        const bool b_side = (signed_deg.value > 0.0) != mutated(Mutation::tilt_raised_side_swapped);
        fix.raised = b_side ? PlumbSide::b : PlumbSide::a;
    }
    fix.from_a_m = spread(best.sonde_from_a_m, low.sonde_from_a_m, high.sonde_from_a_m, best.place_variance);
    fix.from_b_m = {input.spacing_m - fix.from_a_m.value, input.spacing_m - fix.from_a_m.high,
                    input.spacing_m - fix.from_a_m.low};
    if (!said && signed_deg.value != 0.0) {
        const TiltRange mirrored = best_tilt(weighing, -steepest_deg, 0.0);
        fix.other_from_a_m = weighing.at(mirrored.tilt_deg.value).sonde_from_a_m;
    }
    fix.depth_m = spread(best.depth_m, low.depth_m, high.depth_m, best.depth_variance);
    for (double* each : {&fix.depth_m.value, &fix.depth_m.low, &fix.depth_m.high}) {
        *each -= input.tip_to_antenna_m;
    }
    const double read_m = input.depth_m + input.tip_to_antenna_m;
    fix.depth_correction_m = read_m / weighing.read(signed_deg.value) - read_m;
    if (signals) {
        const double by_tilt_db = *input.a_over_b_db - weighing.a_over_b_by_slope_db(signed_deg.value);
        fix.tilt_by_signals_deg = tilt_from_plumb_points_deg(-std::abs(by_tilt_db));
    }
    const TrackPlaces level = weighing.places(0.0);
    if (input.spacing_m * weighing.read(0.0) >= (level.plumb_strong - level.plumb_weak) * read_m) {
        TiltFixInput alone = input;
        alone.level_from_a_m.reset();
        const bool a_side = signed_deg.value < 0.0;
        const TiltRange by_spacing =
            best_tilt({alone, false}, a_side ? -steepest_deg : 0.0, a_side ? 0.0 : steepest_deg);
        fix.tilt_by_spacing_deg = std::abs(by_spacing.tilt_deg.value);
    }
    return fix;
}

bool trusted(TiltTrust trust) { return trust == TiltTrust::holds || trust == TiltTrust::level_within_error; }

std::string_view name_of(TiltTrust trust) {
    switch (trust) {
    case TiltTrust::holds:
        return "holds";
    case TiltTrust::level_within_error:
        return "level within the error";
    case TiltTrust::spacing_too_blunt:
        return "too flat for the spacing";
    case TiltTrust::does_not_fit:
        return "does not fit";
    case TiltTrust::too_steep:
        return "as good as on end";
    case TiltTrust::too_wide:
        return "too uncertain";
    }
    return "";
}

std::string_view reason_of(TiltTrust trust) {
    switch (trust) {
    case TiltTrust::holds:
        return "";
    case TiltTrust::level_within_error:
        return "A level sonde would have given these numbers as well. It then lies midway between the plumb points.";
    case TiltTrust::spacing_too_blunt:
        return "Near level the spacing hardly changes with tilt: under 15° 2 % of it is 3 to 7°, and a level sonde may have "
               "given these numbers as well. Compare the signals at the plumb points instead: half a decibel is a "
               "degree.";
    case TiltTrust::does_not_fit:
        return "No dipole gives these numbers together. Look again at the marks and at the depth; if they stand, another "
               "source or a line is near, or the ground has a step, and no arithmetic mends that.";
    case TiltTrust::too_steep:
        return "So steep the weak plumb point lies far out and says little. Take it as on end: the sonde is under the "
               "plumb point by the peak.";
    case TiltTrust::too_wide:
        return "The input leaves a wide range. Mark and read more closely, or compare the signals at the plumb points.";
    }
    return "";
}

} // namespace sondeyard::field
