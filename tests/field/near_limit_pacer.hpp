// The operator of near_limit_operators.cpp: it knows where the spots of the sonde lie under flat ground, goes straight to
// them, and does exactly what its orders say.
#pragma once

#include "field/operator_script.hpp"

#include <optional>

namespace sondeyard::test {

// In depths below the antenna, towards the raised end. The formulas are those of tests/reference/locate_facts.csv.
struct Spots {
    double plumb_behind = 0.0;
    double plumb_ahead = 0.0;
    double level = 0.0;
    double peak = 0.0;
};

Spots spots_of(double tilt_deg);

struct Orders { // shares are of the depth below the antenna
    bool marks_level = true;
    bool goes_ahead = true;       // to the plumb point ahead, marks it
    double plumb_ahead_off = 0.0; // that mark, share along the track from its plumb point
    double peak_off = 0.0;        // the peak's mark, the same
    std::optional<double> passes; // the plumb point ahead, share across from it, and makes no mark
    double mark_tip_up_m = 0.0;   // at the plumb mark behind
    std::optional<double> wait_s; // there, come by hand from 0.6 m aside, instead of until the display has settled
    double read_tip_up_m = 0.0;
    double lean_deg = 0.0; // at the readings, across the track
    double read_aside = 0.0;
    double turn_deg = 180.0;     // between the two readings
    double second_aside_m = 0.0; // of the second
    bool puts_right = false;     // then straightens the mast, sets the tip down and reads a pair again
    double locate_along = 0.0;   // share
    double locate_across = 0.0;
    bool calls_level = false;
    bool retunes = false; // to another frequency and back, before the first mark
    field::DigMethod method = field::DigMethod::vacuum;
};

class Pacer final : public field::Script {
public:
    Pacer(const field::Setting& setting, const Orders& orders);

    glm::dvec2 at(double along, double across = 0.0) const;
    const Spots& spots() const { return spots_; }
    double d_m() const { return d_m_; }
    double apart() const { return apart_; } // the pair as it was shown, |a - b| / mean
    double called_m() const { return called_m_; }

private:
    void work() override;
    void wrap_up() override { command(field::Finish{}); }

    void mark_behind();
    void lean_to(double forward_deg);
    void read_pair();
    void locate_and_call();

    const field::World& world_;
    Orders orders_;
    Spots spots_;
    double d_m_;
    double called_m_ = 1.2;
    double apart_ = 0.0;
};

} // namespace sondeyard::test
