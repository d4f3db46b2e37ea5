// The level-line method with one coil. Held level along the track it falls silent at the plumb points, held upright on
// the level line.
#include "field/level_line_coil.hpp"
#include "field/tilt_fix.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

class SingleCoil final : public CoilMethod {
public:
    explicit SingleCoil(const Brief& brief) : CoilMethod(brief) {}

private:
    void work() override;
    void wrap_up() override;

    void find_level_line();
    void seek_quiet(double side, double along_m, double before, int steps_left);
    void find_level_line_between();
    void weigh_plumb_points();
    void work_out();
    void mark_all();

    std::array<double, 2> plumb_dbpt_{}; // upright coil there
    std::optional<double> level_along_m_;
};

void SingleCoil::work() {
    find_track();
    // From the level line once more: there the whole field lies along the track.
    decide([this] { find_level_line(); });
    scan_track();
    find_level_line_between();
    weigh_plumb_points();
    decide([this] { work_out(); });
    mark_all();
    walk_off();
    call();
}

void SingleCoil::wrap_up() {
    command(TurnCoil{sim::CoilAttitude::level});
    decide([this] { work_out(); });
    call();
}

// ---- Along the track ----

constexpr double quiet_step = 0.2; // of the scale

// The upright coil grows quieter towards the level line: a step ahead tells which way that is.
void SingleCoil::find_level_line() {
    const auto here = std::make_shared<double>(0.0);
    coil_at(0.0, sim::CoilAttitude::upright, [here](const Sample& s) { *here = amplitude(s); });
    coil_at(quiet_step * scale_m_, sim::CoilAttitude::upright, [=, this](const Sample& s) {
        constexpr int most_steps = 6;
        if (there_ && amplitude(s) < *here) {
            seek_quiet(1.0, quiet_step * scale_m_, amplitude(s), most_steps);
        } else {
            seek_quiet(-1.0, 0.0, *here, most_steps);
        }
    });
}

void SingleCoil::seek_quiet(double side, double along_m, double before, int steps_left) {
    const double next_m = along_m + side * quiet_step * scale_m_;
    if (steps_left == 0 || !walkway().can_hold(at(next_m))) {
        return;
    }
    coil_at(next_m, sim::CoilAttitude::upright, [=, this](const Sample& s) {
        if (amplitude(s) < before) {
            seek_quiet(side, next_m, amplitude(s), steps_left - 1);
        } else {
            close_in_on_null(along_m, sim::CoilAttitude::upright, 2, [this](double null_m) { origin_m_ = at(null_m); });
        }
    });
}

void SingleCoil::find_level_line_between() {
    decide([this] {
        if (both_nulls()) {
            close_in_on_null(middle_of_nulls_m(), sim::CoilAttitude::upright, 2,
                             [this](double along_m) { level_along_m_ = along_m; });
        }
    });
}

// Upright coil at both plumb points: there it hears the whole field, and the stronger side is the raised one.
void SingleCoil::weigh_plumb_points() {
    for (const std::size_t i : {0U, 1U}) {
        decide([this, i] {
            if (both_nulls()) {
                coil_at(*plumb_along_m_[i], sim::CoilAttitude::upright,
                        [this, i](const Sample& s) { plumb_dbpt_[i] = s.signal_dbpt; });
            }
        });
    }
}

// The tilt fix (tilt_fix.hpp) by the signals alone, and the depth from the spacing.
void SingleCoil::work_out() {
    if (!take_loudest()) {
        return;
    }
    const double ahead_db = plumb_dbpt_[0] - plumb_dbpt_[1];
    tilt_deg_ = tilt_from_plumb_points_deg(-std::abs(ahead_db));
    const double side = ahead_db > 0.0 ? 1.0 : -1.0;
    const double from_antenna_m = take_depth_from_spacing(side);
    const double slope = std::tan(sim::radians(std::min(tilt_deg_, steepest_worked_deg)));
    locate_m_ = at(middle_of_nulls_m() + side * 0.75 * slope * from_antenna_m);
    constexpr double chance_db = 0.25;
    downhill_evidence_ = -ahead_db / chance_db;
}

void SingleCoil::mark_all() {
    mark_plumb_points();
    decide([this] {
        if (level_along_m_) {
            coil_at(*level_along_m_, sim::CoilAttitude::upright, [](const Sample&) {});
            command(PlaceMark{MarkKind::level});
        }
        coil_at(peak_along_m_, sim::CoilAttitude::level, [](const Sample&) {});
        command(PlaceMark{MarkKind::peak});
    });
}

} // namespace

std::unique_ptr<ModelOperator> make_level_line_single_coil(const Brief& brief) {
    return std::make_unique<SingleCoil>(brief);
}

} // namespace sondeyard::field
