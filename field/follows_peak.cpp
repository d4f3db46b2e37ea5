// The naive baseline: walks to where the receiver is loudest and digs there. It looks for no plumb point, so a tilted
// sonde takes it a quarter of the depth aside; it proves nothing.
#include "field/operator_script.hpp"

#include <algorithm>

namespace sondeyard::field {

namespace {

class FollowsPeak final : public Script {
public:
    explicit FollowsPeak(const Brief& brief) : Script(brief) {}

private:
    void work() override;
    void wrap_up() override;
    void depth_by_reading();
    void depth_by_fall();
    void step_out(double heading_deg, double out_m);
    void finish();

    double depth_m_ = 1.5; // stands when nothing better is found
    std::vector<double> half_signal_m_;
};

void FollowsPeak::work() {
    paperwork();
    come_near();
    decide([this] { walk_to(best_m_, 0.0); });
    hold_plumb();
    decide([this] {
        constexpr double first_step_m = 0.6;
        constexpr double last_step_m = 0.07;
        best_m_ = seen().tip_m;
        climb_on_ground(first_step_m, last_step_m);
    });
    decide([this] { mark_at(best_m_, MarkKind::peak); });
    decide([this] {
        if (sim::reads_depth(brief().receiver_kind)) {
            depth_by_reading();
        } else {
            depth_by_fall();
        }
    });
    decide([this] { finish(); });
}

void FollowsPeak::wrap_up() { finish(); }

void FollowsPeak::depth_by_reading() {
    read_depth(1);
    decide([this] {
        if (!notebook().readings.empty() && notebook().readings.back().depth_m) {
            depth_m_ = *notebook().readings.back().depth_m;
        }
    });
}

// One coil reads no depth, and this operator knows no plumb points. A guess by how far out the signal has halved: over
// a level sonde at 0.77 of the depth across and 1.09 along, 0.93 on the middle of both. Good to a fifth at best.
void FollowsPeak::depth_by_fall() {
    constexpr double step_m = 0.25;
    for (const double heading_deg : {0.0, 90.0, 180.0, 270.0}) {
        decide([this, heading_deg] { step_out(heading_deg, step_m); });
    }
    decide([this] {
        constexpr double halves_at = 0.93;
        double sum = 0.0;
        for (const double m : half_signal_m_) {
            sum += m;
        }
        if (!half_signal_m_.empty()) {
            depth_m_ = sum / static_cast<double>(half_signal_m_.size()) / halves_at;
        }
    });
}

void FollowsPeak::step_out(double heading_deg, double out_m) {
    constexpr double half_db = 6.0;
    constexpr double farthest_m = 6.0;
    const glm::dvec2 place = best_m_ + out_m * direction_of(heading_deg);
    if (out_m > farthest_m || !walkway().can_hold(place)) {
        return;
    }
    strength_at(place, 0.0, [=, this](const Sample& s) {
        if (s.signal_dbpt <= best_dbpt_ - half_db) {
            half_signal_m_.push_back(out_m);
        } else {
            step_out(heading_deg, 1.25 * out_m);
        }
    });
}

void FollowsPeak::finish() {
    mark_at(best_m_, MarkKind::locate);
    decide([this] {
        command(CallDepth{depth_m_});
        white_line_and_finish(best_m_, depth_m_, std::nullopt);
    });
}

} // namespace

std::unique_ptr<ModelOperator> make_follows_peak(const Brief& brief) { return std::make_unique<FollowsPeak>(brief); }

} // namespace sondeyard::field
