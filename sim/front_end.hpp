// The receiver's front end, between antenna and detector: the noise of a coil and its amplifier, the converter's, gain
// that is switched in steps, and the level beyond which it overloads.
//
// Left out: amplifier current noise and core loss (the stated floor stands for both), hum and other tones outside the
// band as a load on the front end, and distortion before it overloads.
#pragma once

#include <optional>

namespace sondeyard::sim {

// An antenna coil on a core, and the amplifier behind it.
struct Coil {
    double turns = 1500.0;
    double core_diameter_m = 0.010;
    double mu_eff = 50.0;          // of the core as it is, its demagnetisation counted in
    double resistance_ohm = 100.0; // of the winding
    double amplifier_nv_per_rthz = 2.0;
};
inline constexpr double boltzmann_j_per_k = 1.380649e-23; // CODATA 2018, exact
inline constexpr double coil_temperature_k = 300.0;       // an assumption: a warm day

// Volts a tesla RMS gives at a frequency: omega N A mu_eff (Faraday). 1.9e4 V/T at 512 Hz with the coil above.
double coil_volts_per_t(const Coil& coil, double frequency_hz);

// Voltage noise of winding and amplifier together, V per square root of Hz, one-sided: sqrt(4 k T R + amplifier^2)
// (Johnson 1928, Nyquist 1928; from memory).
double coil_noise_v(const Coil& coil);

// The same as a field, T per square root of Hz: it falls as 1/f. 0.125 pT at 512 Hz with the coil above.
double coil_noise_t(const Coil& coil, double frequency_hz);

// ---- Range ----

struct FrontEnd {
    double full_scale_dbpt = 120.0; // RMS, of one antenna at the lowest gain: 1 uT
    double gain_step_db = 20.0;     // each further gain has its full scale so much lower
    int gain_steps = 0;             // 0: one gain
    int converter_bits = 0;         // 0: so many that they do not matter
};
inline constexpr double converter_samples_hz = 96000.0;
inline constexpr double gain_blank_s = 0.1;     // after a step the filters ring; what comes out meanwhile is held back
inline constexpr double gain_headroom_db = 6.0; // more gain only when so far below that gain's full scale
inline constexpr double overload_clears_db = 1.0; // below full scale

double full_scale_t(const FrontEnd& front_end, int gain); // gain 0 is the lowest

// Noise of rounding to the converter's steps, T per square root of Hz, one-sided: step / sqrt(6 samples_hz), the step
// being 2 sqrt(2) full scales (RMS) over 2^bits (Bennett 1948, from memory). 0 without converter_bits. Holds while
// antenna noise moves the signal over several steps; a still smaller signal is not modelled.
double converter_noise_t(const FrontEnd& front_end, int gain);

// The gain that automatic control chooses next, the largest antenna signal (T RMS) being what it is: down as soon as
// that is over full scale, up only with headroom, so that it does not hunt.
int next_gain(const FrontEnd& front_end, int gain, double largest_t);

} // namespace sondeyard::sim
