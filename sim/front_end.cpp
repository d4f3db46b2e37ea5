#include "sim/front_end.hpp"

#include "sim/mutation.hpp"

#include <cmath>
#include <numbers>

namespace sondeyard::sim {

double coil_volts_per_t(const Coil& coil, double frequency_hz) {
    const double radius_m =
        mutated(Mutation::coil_diameter_for_radius) ? coil.core_diameter_m : 0.5 * coil.core_diameter_m;
    const double omega =
        mutated(Mutation::coil_hertz_for_radians) ? frequency_hz : 2.0 * std::numbers::pi * frequency_hz;
    const double mu = mutated(Mutation::coil_core_dropped) ? 1.0 : coil.mu_eff;
    return omega * coil.turns * std::numbers::pi * radius_m * radius_m * mu;
}

double coil_noise_v(const Coil& coil) {
    const double amplifier_v = mutated(Mutation::amplifier_noise_dropped) ? 0.0 : 1e-9 * coil.amplifier_nv_per_rthz;
    const double four = mutated(Mutation::nyquist_two_for_four) ? 2.0 : 4.0;
    return std::sqrt(four * boltzmann_j_per_k * coil_temperature_k * coil.resistance_ohm + amplifier_v * amplifier_v);
}

double coil_noise_t(const Coil& coil, double frequency_hz) {
    return coil_noise_v(coil) / coil_volts_per_t(coil, frequency_hz);
}

double full_scale_t(const FrontEnd& front_end, int gain) {
    const double dbpt = front_end.full_scale_dbpt - gain * front_end.gain_step_db;
    return 1e-12 * std::pow(10.0, dbpt / 20.0);
}

double converter_noise_t(const FrontEnd& front_end, int gain) {
    if (front_end.converter_bits <= 0 || mutated(Mutation::converter_noise_dropped)) {
        return 0.0;
    }
    const double step_t =
        std::ldexp(2.0 * std::numbers::sqrt2 * full_scale_t(front_end, gain), -front_end.converter_bits);
    return step_t / std::sqrt(6.0 * converter_samples_hz);
}

int next_gain(const FrontEnd& front_end, int gain, double largest_t) {
    while (gain > 0 && largest_t > full_scale_t(front_end, gain)) {
        --gain;
    }
    const double headroom = mutated(Mutation::gain_headroom_dropped) ? 1.0 : std::pow(10.0, gain_headroom_db / 20.0);
    while (gain < front_end.gain_steps && headroom * largest_t < full_scale_t(front_end, gain + 1)) {
        ++gain;
    }
    return gain;
}

} // namespace sondeyard::sim
