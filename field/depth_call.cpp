#include "field/depth_call.hpp"

#include "field/lengths.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

std::string why_none(const Notebook& notebook) {
    if (notebook.readings.empty()) {
        return "no reading yet";
    }
    const Reading& last = notebook.readings.back();
    const std::string why = !last.depth_m ? std::string("the last was too weak to read")
                            : last.tip_height_m >= tip_down_m
                                ? fmt::format("the tip was {} up", either(last.tip_height_m))
                                : fmt::format("the mast leaned {:.0f} deg", last.lean_deg);
    return "no reading that counts: " + why;
}

const Reading* nearest_to(const Notebook& notebook, const Mark& peak) {
    const Reading* nearest = nullptr;
    for (const Reading& r : notebook.readings) {
        const bool here = r.counts && same_counter(r.counter_m, peak.counter_m);
        if (here && (nearest == nullptr ||
                     glm::distance(r.place_m, peak.place_m) <= glm::distance(nearest->place_m, peak.place_m))) {
            nearest = &r; // of two at one spot the later
        }
    }
    return nearest;
}

// The other one of its facing pair, if that counts too.
const Reading* partner_of(const Notebook& notebook, const Reading& reading) {
    const auto found = std::ranges::find_if(notebook.readings, [&](const Reading& r) {
        return r.counts && (r.id == reading.facing_reading_of || r.facing_reading_of == reading.id);
    });
    return found == notebook.readings.end() ? nullptr : &*found;
}

} // namespace

DepthOffer depth_offer(const Notebook& notebook) {
    const Mark* peak = find_last(notebook, MarkKind::peak);
    const Reading* best = peak != nullptr ? nearest_to(notebook, *peak) : nullptr;
    if (best == nullptr) {
        peak = nullptr; // what was read elsewhere is not measured by it
        const auto last =
            std::ranges::find(notebook.readings.rbegin(), notebook.readings.rend(), true, &Reading::counts);
        if (last == notebook.readings.rend()) {
            return {std::nullopt, why_none(notebook), std::nullopt};
        }
        best = &*last;
    }
    const std::optional<double> off_m =
        peak != nullptr ? std::optional(glm::distance(best->place_m, peak->place_m)) : std::nullopt;
    const std::string where = !off_m                    ? std::string("the last that counts")
                              : *off_m <= at_the_peak_m ? std::string("at the peak")
                                                        : fmt::format("{} from the peak", either(*off_m));
    const Reading* other = partner_of(notebook, *best);
    if (other == nullptr) {
        return {best->depth_m, fmt::format("reading {}, {}", best->id, where), off_m};
    }
    return {std::round(50.0 * (*best->depth_m + *other->depth_m)) / 100.0,
            fmt::format("readings {} and {}, {}", std::min(best->id, other->id), std::max(best->id, other->id), where),
            off_m};
}

} // namespace sondeyard::field
