// What could be known, in words and as a document.
#include "field/known.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

using Sentences = std::vector<std::string>;
constexpr double two_sided_95 = 1.96;
constexpr double by_hand_m = 0.02; // nearer than this nobody sets a tip or a mark; an estimate

std::string fine_tilt(double deg) { return deg < 0.1 ? "less than 0.1 deg" : fmt::format("{:.1f} deg", deg); }

std::string within(const Knowable& bound, Units units) {
    return fmt::format("place within {}, depth within {}, tilt within {:.1f} deg",
                       fine_text(ellipse_95 * bound.ellipse.major_m, units),
                       fine_text(two_sided_95 * bound.depth_sd_m, units),
                       std::max(0.1, two_sided_95 * bound.tilt_sd_deg));
}

void say_bound(Sentences& say, const WhatCouldBeKnown& w, Units units) {
    if (!w.bound.known) {
        say.emplace_back(
            "Not yet knowable: these readings leave place, depth or tilt open, however well one works them "
            "out. Readings from more sides, and nearer, settle it.");
        return;
    }
    const char* plural = w.bound.soundings == 1 ? "" : "s";
    if (w.bound_as_mounted.known) {
        say.push_back(fmt::format(
            "From {} sounding{} on your way, with antennas mounted within what their maker allows and the readings used "
            "to work the mounting out: {}, each 95 times in 100. Readings from more sides and half turns narrow that.",
            w.bound.soundings, plural, within(w.bound_as_mounted, units)));
        say.push_back(fmt::format("If nothing but noise were wrong: {}. That takes every antenna to sit where its "
                                  "drawing has it.",
                                  within(w.bound, units)));
    } else {
        say.push_back(
            fmt::format("From {} sounding{} on your way, if nothing but noise were wrong: {}, each 95 times in "
                        "100. That takes every antenna to sit where its drawing has it.",
                        w.bound.soundings, plural, within(w.bound, units)));
    }
    if (ellipse_95 * w.bound.ellipse.major_m < by_hand_m) {
        say.push_back(
            fmt::format("Nobody sets a tip or a mark nearer than {}: what is less is how much the signal holds, "
                        "and no aim for the work.",
                        error_text(by_hand_m, units)));
    }
    if (w.trainee.position_m) {
        const double limit_m =
            std::max(by_hand_m, ellipse_95 * std::max(w.bound.ellipse.major_m, w.bound_as_mounted.ellipse.major_m));
        constexpr double says_little_m = 0.5;
        const bool wide = limit_m > says_little_m;
        const bool near = *w.trainee.position_m <= limit_m;
        const bool noise_alone =
            w.fit.found && w.fit.dipole_explains; // else the bound is no measure of what was possible
        say.push_back(fmt::format("The locate is {} off{}.", fine_text(*w.trainee.position_m, units),
                                  near && wide
                                      ? ": these readings leave more open than that, readings from nearer would not"
                                  : near        ? ": as near as readings and a mark by hand allow"
                                  : noise_alone ? ": what the antennas took in would have allowed better"
                                                : ""));
    }
}

void say_fit(Sentences& say, const WhatCouldBeKnown& w, Units units) {
    const BestFit& fit = w.fit;
    if (!fit.found) {
        say.emplace_back(w.bound.soundings < fewest_soundings_to_fit
                             ? "No dipole could be fitted to these readings: too few were strong enough."
                             : "No dipole could be fitted to these readings.");
    } else {
        say.push_back(fmt::format(
            "A dipole fitted to the same soundings, with place, lean and mounting of the antennas known, lies {} from the "
            "sonde, {} off in depth, {} off in tilt.",
            fine_text(*w.fit_errors.position_m, units), fine_text(std::abs(*w.fit_errors.depth_m), units),
            fine_tilt(std::abs(*w.fit_errors.tilt_deg))));
        if (fit.other) {
            say.emplace_back("Another place fits these readings as well: the path does not tell left from right. A few "
                             "readings off to one side would.");
        }
        if (!fit.dipole_explains) {
            say.push_back(fmt::format("A plain dipole does not explain them: what is left over is {:.1f} times the "
                                      "noise. So the fit is biased, and more readings do not help.",
                                      fit.misfit));
        }
    }
    for (const Disturbance& d : w.disturbances) {
        const std::string much = d.share < 1.0 ? fmt::format("{:.1f} % of it", 100.0 * d.share)
                                               : fmt::format("{:.0f} times as strong", d.share);
        say.push_back(fmt::format("In it besides the sonde's plain field: {}, {}.", d.what, much));
    }
    if (fit.found && fit.dipole_explains && w.disturbances.empty()) {
        say.emplace_back("A plain dipole explains them down to the noise: nothing else in this yard's field came to a "
                         "thousandth of it.");
    }
}

using Json = nlohmann::ordered_json;

Json bound_json(const Knowable& b) {
    if (!b.known) {
        return nullptr;
    }
    return {{"east_sd_m", b.east_sd_m},
            {"north_sd_m", b.north_sd_m},
            {"ellipse_sd_m", {b.ellipse.major_m, b.ellipse.minor_m}},
            {"ellipse_heading_deg", b.ellipse.heading_deg},
            {"depth_sd_m", b.depth_sd_m},
            {"tilt_sd_deg", b.tilt_sd_deg}};
}

Json value(const std::optional<double>& x) { return x ? Json(*x) : Json(); }

Json fit_json(const WhatCouldBeKnown& w) {
    if (!w.fit.found) {
        return nullptr;
    }
    const glm::dvec3& p = w.fit.dipole.position_m;
    return {{"position_m", {p.x, p.y, p.z}},
            {"tilt_deg", w.fit.attitude.tilt_deg},
            {"raised_heading_deg", w.fit.attitude.raised_heading_deg},
            {"position_error_m", value(w.fit_errors.position_m)},
            {"depth_error_m", value(w.fit_errors.depth_m)},
            {"tilt_error_deg", value(w.fit_errors.tilt_deg)},
            {"misfit", w.fit.misfit},
            {"dipole_explains", w.fit.dipole_explains},
            {"another_place_fits", w.fit.other.has_value()}};
}

} // namespace

std::string fine_text(double length_m, Units units) {
    if (units == Units::feet) {
        const double inches = length_m / metres_per_inch;
        return inches < 0.004  ? "less than 0.004 in"
               : inches < 0.95 ? fmt::format("{:.{}f} in", inches,
                                             inches < 0.0095  ? 3
                                             : inches < 0.095 ? 2
                                                              : 1)
                               : error_text(length_m, units);
    }
    if (length_m < 0.0001) {
        return "less than 0.1 mm";
    }
    if (length_m < 0.00095) {
        return fmt::format("{:.1f} mm", 1000.0 * length_m);
    }
    return length_m < 0.0095 ? fmt::format("{:.0f} mm", 1000.0 * length_m) : error_text(length_m, units);
}

std::vector<std::string> known_sentences(const WhatCouldBeKnown& known, Units units) {
    if (!known.any) {
        return {"No reading of this sonde was strong enough, on its frequency, to say anything from."};
    }
    Sentences say;
    say_bound(say, known, units);
    say_fit(say, known, units);
    return say;
}

std::string known_json(const WhatCouldBeKnown& known) {
    Json disturbances = Json::array();
    for (const Disturbance& d : known.disturbances) {
        disturbances.push_back({{"what", d.what}, {"share", d.share}});
    }
    const Json document = {{"soundings", known.bound.soundings},
                           {"knowable", bound_json(known.bound)},
                           {"as_mounted", bound_json(known.bound_as_mounted)},
                           {"best_fit", fit_json(known)},
                           {"disturbances", disturbances},
                           {"sentences", known_sentences(known)}};
    return document.dump();
}

} // namespace sondeyard::field
