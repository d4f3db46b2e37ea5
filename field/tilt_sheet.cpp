#include "field/tilt_sheet.hpp"

#include "field/depth_call.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

// The last mark of a kind that belongs with another one, and, with `apart_m`, does not lie nearer to it.
const Mark* last_with(const Notebook& notebook, MarkKind kind, const Mark& other, double apart_m) {
    const auto found = std::find_if(notebook.marks.rbegin(), notebook.marks.rend(), [&](const Mark& m) {
        return m.kind == kind && m.id != other.id && same_counter(m.counter_m, other.counter_m) &&
               glm::distance(m.place_m, other.place_m) >= apart_m;
    });
    return found == notebook.marks.rend() ? nullptr : &*found;
}

// Three axes hear the whole field. One coil hears it at a plumb point when it is upright; held level it is silent
// there.
bool hears_whole_field(const Brief& brief, const Mark& m) {
    return brief.receiver_kind == sim::ReceiverKind::tri_axis ||
           (sim::turns_coil(brief.receiver_kind) && m.coil == sim::CoilAttitude::upright);
}

// How far the ground on the way lies off the straight line between both ends.
double uneven_m(const Terrain& terrain, const glm::dvec2& a_m, const glm::dvec2& b_m) {
    constexpr int pieces = 16;
    const double from_m = height_m(terrain, a_m);
    const double rise_m = height_m(terrain, b_m) - from_m;
    double most_m = 0.0;
    for (int i = 1; i < pieces; ++i) {
        const double share = static_cast<double>(i) / pieces;
        const double height = height_m(terrain, a_m + share * (b_m - a_m));
        most_m = std::max(most_m, std::abs(height - from_m - share * rise_m));
    }
    return most_m;
}

void fill_marks(TiltSheet& sheet, const Brief& brief, const Mark& a, const Mark& b) {
    sheet.a_id = a.id;
    const glm::dvec2 way = b.place_m - a.place_m;
    sheet.spacing_m = glm::length(way);
    sheet.heading_deg = heading_of(way);
    if (hears_whole_field(brief, a) && hears_whole_field(brief, b) && a.frequency_hz == b.frequency_hz) {
        sheet.signal_a_db = a.signal_dbpt;
        sheet.signal_b_db = b.signal_dbpt;
    }
    constexpr double well_plumb_deg = 85.0;
    for (const auto& [letter, mark] : {std::pair{'A', &a}, std::pair{'B', &b}}) {
        if (mark->dip_deg && *mark->dip_deg < well_plumb_deg) {
            sheet.remarks.push_back(
                fmt::format("At {} the field dips {:.0f}°, not 90: each degree is about 1 % of the depth.", letter,
                            *mark->dip_deg));
        }
    }
    sheet.rise_m = height_m(brief.terrain, b.place_m) - height_m(brief.terrain, a.place_m);
    constexpr double level_grade = 0.03;
    if (std::abs(sheet.rise_m) > level_grade * *sheet.spacing_m) {
        sheet.remarks.push_back(
            fmt::format("The ground {} {{{:.2f} m}} from A to B. That is counted in, as an even slope.",
                        sheet.rise_m > 0.0 ? "rises" : "falls", std::abs(sheet.rise_m)));
    }
    const double uneven = uneven_m(brief.terrain, a.place_m, b.place_m);
    constexpr double even_enough = 0.02; // of the spacing: about 3 % of the depth
    if (uneven > even_enough * *sheet.spacing_m) {
        sheet.remarks.push_back(fmt::format(
            "Between A and B the ground is off an even slope by {{{:.2f} m}}, which is not counted in. Take the tilt for "
            "a hint: mark between level line and peak, and read the depth there.",
            uneven));
    }
}

void fill_level(TiltSheet& sheet, const Mark& a, const Mark& b, const Mark& level) {
    const double along_m = glm::dot(level.place_m - a.place_m, glm::normalize(b.place_m - a.place_m));
    if (along_m > 0.0 && along_m < *sheet.spacing_m) {
        sheet.level_from_a_m = along_m;
    } else {
        sheet.remarks.emplace_back("The level line is not marked between A and B; it is left out.");
    }
}

void fill_depth(TiltSheet& sheet, const Brief& brief, const Notebook& notebook) {
    const DepthOffer offer = depth_offer(notebook);
    sheet.depth_m = offer.depth_m;
    if (!sheet.depth_m) {
        sheet.depth_m = notebook.depth_call_m;
        sheet.depth_is_call = notebook.depth_call_m.has_value();
        if (!sheet.depth_is_call) {
            sheet.remarks.emplace_back(sim::reads_depth(brief.receiver_kind)
                                           ? "No depth yet: read it at the peak, tip down, mast plumb."
                                           : "No depth: this receiver reads none. Type one in if you know it.");
        }
        return;
    }
    if (offer.off_peak_m.value_or(0.0) > at_the_peak_m) {
        sheet.remarks.push_back(fmt::format(
            "The depth was read {{{:.2f} m}} from the peak mark; it should be read at the peak.", *offer.off_peak_m));
    }
}

} // namespace

TiltSheet tilt_sheet(const Brief& brief, const Notebook& notebook) {
    TiltSheet sheet;
    const Mark* b = find_last(notebook, MarkKind::plumb);
    const Mark* a = b == nullptr ? nullptr : last_with(notebook, MarkKind::plumb, *b, least_apart_m);
    if (b != nullptr) {
        sheet.b_id = b->id;
    }
    if (a == nullptr) {
        sheet.remarks.emplace_back(b == nullptr
                                       ? "No plumb points marked yet: it takes both."
                                       : "One plumb point marked: it takes the other one too. If there is none, the "
                                         "sonde is on end, under this one.");
    } else {
        fill_marks(sheet, brief, *a, *b);
        if (const Mark* level = last_with(notebook, MarkKind::level, *b, 0.0)) {
            fill_level(sheet, *a, *b, *level);
        }
    }
    fill_depth(sheet, brief, notebook);
    return sheet;
}

TiltFixInput input_for(const Brief& brief, const TiltSheet& sheet) {
    TiltFixInput in;
    in.antenna_spacing_m = brief.antenna_spacing_m;
    in.tip_to_antenna_m = brief.tip_to_antenna_m;
    in.rise_m = sheet.rise_m;
    // Level coils read true, within a hundredth, at their own peak; a depth that was called has been thought over.
    const bool at_peak = brief.receiver_kind == sim::ReceiverKind::tri_axis && !sheet.depth_is_call;
    in.depth_read_at = at_peak ? DepthReadAt::peak : DepthReadAt::over_sonde;
    return in;
}

std::vector<Command> calls_of(const TiltSheet& sheet, const TiltFix& fix) {
    constexpr double level_to_deg = 5.0; // and on end from so much: as the score takes them
    constexpr double on_end_from_deg = 75.0;
    const double tilt_deg = std::round(fix.tilt_deg.value);
    const bool level = fix.trust == TiltTrust::level_within_error || tilt_deg < level_to_deg;
    if (!trusted(fix.trust) || (!level && fix.raised == PlumbSide::unknown)) {
        return {};
    }
    const double raised_deg = sim::wrap_360(sheet.heading_deg + (fix.raised == PlumbSide::a ? 180.0 : 0.0));
    std::vector<Command> calls;
    calls.emplace_back(CallDepth{std::round(100.0 * fix.depth_m.value) / 100.0});
    if (level) {
        calls.emplace_back(CallTilt{TiltCall::level, 0.0, tilt_deg});
    } else if (tilt_deg > on_end_from_deg) {
        calls.emplace_back(CallTilt{TiltCall::on_end, 0.0, tilt_deg});
    } else {
        calls.emplace_back(CallTilt{TiltCall::tilted, std::round(raised_deg), tilt_deg});
    }
    return calls;
}

} // namespace sondeyard::field
