// Depth by reading: facing pair and lift check, for every receiver that has an upper antenna.
#include "field/operator_script.hpp"

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

// ---- Prove ----

namespace {

// How many readings a side: the weaker the signal, the more a single one scatters.
int readings_for(double over_floor_db, double depth_m, double spacing_m) {
    constexpr double wanted = 0.015; // of the depth
    constexpr double noise_to_floor = 0.7;
    const double scatter = (1.0 + depth_m / spacing_m) / 3.0 * noise_to_floor * std::pow(10.0, -over_floor_db / 20.0);
    return std::clamp(static_cast<int>(std::ceil(scatter * scatter / (wanted * wanted))), 1, 12);
}

} // namespace

void Script::prove_depth(const glm::dvec2& peak_m, double about_m, std::function<void(double)> use) {
    walk_to(peak_m, 0.0);
    hold_plumb();
    settle();
    decide([=, this, use = std::move(use)] {
        const std::size_t before = notebook().readings.size();
        const int count = readings_for(seen().signal_dbpt - floor_dbpt(), about_m, brief().antenna_spacing_m);
        read_depth(count);
        turn_by(180.0);
        read_depth(count);
        decide([this] { second_pair_if_needed(); });
        decide([=, this] {
            double sum = 0.0; // of one over distance: that is what the ratio of the antennas scatters evenly in
            int used = 0;
            const auto& readings = notebook().readings;
            for (std::size_t i = before; i < readings.size(); ++i) {
                if (readings[i].counts) {
                    sum += 1.0 / (*readings[i].depth_m + brief().tip_to_antenna_m);
                    ++used;
                }
            }
            if (used > 0) {
                use(used / sum - brief().tip_to_antenna_m);
            }
            hold_height(lift_m);
            read_lifted(2 * count);
            hold_height(0.0);
        });
    });
}

// Deep down one reading scatters by more than the half metre that is looked for: read again until two agree.
void Script::read_lifted(int most) {
    constexpr int even_when_strong = 4;
    for (int i = 0; i < std::max(most, even_when_strong); ++i) {
        decide([this] {
            const std::optional<LiftCheck> lift = find_lift_check(notebook());
            if (!lift || !lift->holds) {
                read_depth(1);
            }
        });
    }
}

// A cross pair; a quarter turn lays level coils across the sonde, where they hear next to nothing, so with them the
// same pair once more.
void Script::second_pair_if_needed() {
    const bool agrees = std::ranges::any_of(
        notebook().readings, [this](const Reading& r) { return r.agreement && *r.agreement <= brief().pair_share; });
    if (!agrees) {
        if (sim::shows_dial(brief().receiver_kind)) {
            turn_by(90.0);
        }
        read_depth(2);
        turn_by(180.0);
        read_depth(2);
    }
}

} // namespace sondeyard::field
