// The level-line method with two level coils and no dial. Turned along the track they fall silent at the plumb points,
// are loudest within a tenth of the depth of the sonde, and read its depth there; how the two ghost peaks compare
// tells how the sonde lies.
//
// A dipole in free space, on its track, in depths below the coils, tilt t: own peak 0.0058 t(deg) towards the lowered
// end, to 45 deg and within 0.002 to 30; middle of the silences 0.75 tan t the same way; ghost peaks 0.56 dB apart a
// degree to 15 deg, the stronger on the raised side. Computed from the dipole formula; tests/field checks them.
#include "field/level_line_coil.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

class TwinCoil final : public CoilMethod {
public:
    explicit TwinCoil(const Brief& brief) : CoilMethod(brief) {}

private:
    void work() override;
    void wrap_up() override;

    void find_own_peak(int tries_left);
    void rule_out_ghost();
    void hear_ghosts();
    void work_out();
    void mark_all();
    void prove();

    double working_depth_m() const { return depth_read_m_.value_or(depth_m_); }

    std::array<std::optional<double>, 2> ghost_dbpt_; // ahead, behind
    std::optional<double> depth_read_m_;
};

void TwinCoil::work() {
    find_track();
    decide([this] { find_own_peak(3); });
    decide([this] { rule_out_ghost(); });
    scan_track();
    hear_ghosts();
    decide([this] { work_out(); });
    mark_all();
    prove();
    decide([this] { depth_m_ = working_depth_m(); });
    walk_off();
    call();
}

void TwinCoil::wrap_up() {
    decide([this] {
        work_out();
        depth_m_ = working_depth_m();
    });
    call();
}

// Along the track the signal goes as 1 - 4.5 (x/d)^2 about its peak: three places make a parabola.
void TwinCoil::find_own_peak(int tries_left) {
    const double half_m = 0.25 * scale_m_;
    const auto heard = std::make_shared<std::vector<double>>();
    for (const double side : {-1.0, 0.0, 1.0}) {
        coil_at(side * half_m, sim::CoilAttitude::level, [heard](const Sample& s) { heard->push_back(s.signal_dbpt); });
    }
    decide([=, this] {
        const double bend = 2.0 * (*heard)[1] - (*heard)[0] - (*heard)[2];
        const double rise = (*heard)[2] - (*heard)[0];
        constexpr double clear_bend_db = 0.5;
        const double shift_m = bend > clear_bend_db ? 0.5 * half_m * rise / bend : (rise > 0.0 ? half_m : -half_m);
        origin_m_ = at(std::clamp(shift_m, -half_m, half_m));
        if (std::abs(shift_m) > 0.5 * half_m && tries_left > 0) {
            find_own_peak(tries_left - 1);
        }
    });
}

// The level part of the field is nearly flat over a ghost peak, so a climb can end there. The main peak is 14 dB louder
// and lies 1.22 depths off: look fore and aft before believing this one.
void TwinCoil::rule_out_ghost() {
    const auto here = std::make_shared<double>(0.0);
    const auto louder_m = std::make_shared<std::optional<glm::dvec2>>();
    coil_at(0.0, sim::CoilAttitude::level, [here](const Sample& s) { *here = amplitude(s); });
    for (const double along_m : {1.0, 2.0, 3.0, -1.0, -2.0, -3.0}) {
        decide([=, this] {
            constexpr double clearly = 1.4;
            if (!*louder_m && walkway().can_hold(at(along_m))) {
                coil_at(along_m, sim::CoilAttitude::level, [=](const Sample& s) {
                    if (amplitude(s) > clearly * *here) {
                        *louder_m = s.place_m;
                    }
                });
            }
        });
    }
    decide([=, this] {
        if (*louder_m) {
            walk_to(**louder_m, 0.0);
            climb_to_track();
            decide([this] { find_own_peak(3); });
        }
    });
}

// A ghost peak lies 0.52 depths beyond its silence over a level sonde, and is flat enough for that to do over others.
void TwinCoil::hear_ghosts() {
    constexpr double beyond_null = 0.52 / 1.414; // of the spacing of the silences
    for (const std::size_t i : {0U, 1U}) {
        decide([=, this] {
            if (!both_nulls()) {
                return;
            }
            const double side = i == 0 ? 1.0 : -1.0;
            const double ghost_m = *plumb_along_m_[i] + side * beyond_null * null_spacing_m();
            if (walkway().can_hold(at(ghost_m))) {
                coil_at(ghost_m, sim::CoilAttitude::level, [this, i](const Sample& s) {
                    constexpr double clear_of_floor_db = 12.0;
                    if (there_ && s.signal_dbpt > floor_dbpt() + clear_of_floor_db) {
                        ghost_dbpt_[i] = s.signal_dbpt;
                    }
                });
            }
        });
    }
}

void TwinCoil::work_out() {
    constexpr double peak_off_per_deg = 0.0058; // of the depth
    if (!take_loudest()) {
        return;
    }
    double side = 1.0; // of the raised end
    if (ghost_dbpt_[0] && ghost_dbpt_[1]) {
        const double ahead_db = *ghost_dbpt_[0] - *ghost_dbpt_[1];
        tilt_deg_ = tilt_from_ghosts_deg(std::abs(ahead_db));
        side = ahead_db > 0.0 ? 1.0 : -1.0;
        constexpr double chance_db = 0.25;
        downhill_evidence_ = -ahead_db / chance_db;
    } else { // the peak lies from the middle of the silences towards the raised end, 0.42 tan t
        const double apart = (peak_along_m_ - middle_of_nulls_m()) / (null_spacing_m() / std::sqrt(2.0));
        tilt_deg_ = sim::degrees(std::atan(std::abs(apart) / 0.42));
        side = apart > 0.0 ? 1.0 : -1.0;
        constexpr double chance = 0.02;
        downhill_evidence_ = -apart / chance;
    }
    const double from_antenna_m = take_depth_from_spacing(side);
    locate_m_ = at(peak_along_m_ + side * peak_off_per_deg * tilt_deg_ * from_antenna_m);
}

void TwinCoil::mark_all() {
    mark_plumb_points();
    decide([this] {
        coil_at(peak_along_m_, sim::CoilAttitude::level, [](const Sample&) {});
        command(PlaceMark{MarkKind::peak});
    });
}

void TwinCoil::prove() {
    decide([this] {
        walk_to(at(peak_along_m_), 0.0);
        face_along();
        prove_depth(at(peak_along_m_), depth_m_, [this](double depth_m) { depth_read_m_ = depth_m; });
    });
}

} // namespace

std::unique_ptr<ModelOperator> make_level_line_twin_coil(const Brief& brief) {
    return std::make_unique<TwinCoil>(brief);
}

} // namespace sondeyard::field
