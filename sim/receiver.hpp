// The receiver: antennas on a mast, a narrow-band detector behind each, and what its display makes of them.
//
// Mast frame: x to the right of whoever holds it, y forward (the way he faces), z up along the mast from the tip,
// metres. There is no phase reference, so nothing here changes when every source is multiplied by e^{i phi}: dip and
// needle are those of an undirected axis.
#pragma once

#include "sim/front_end.hpp"
#include "sim/scene.hpp"

#include <array>
#include <complex>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

namespace sondeyard::sim {

enum class ReceiverKind {
    tri_axis,    // two sets of three crossed antennas on the mast: total field, dip, field heading, depth
    single_coil, // one coil near the tip, turned level or upright: signal only
    twin_coil    // two coils fixed level, along the way he faces: signal of the lower, depth from their ratio, no dial
};
std::string_view name_of(ReceiverKind kind); // "tri-axis", "single-coil", "twin-coil"

// What follows from the kind, so that nobody else need ask for kinds by name.
constexpr bool reads_depth(ReceiverKind kind) { return kind != ReceiverKind::single_coil; } // has an upper antenna
constexpr bool shows_dial(ReceiverKind kind) { return kind == ReceiverKind::tri_axis; }     // dip and needle
constexpr bool turns_coil(ReceiverKind kind) { return kind == ReceiverKind::single_coil; }

enum class Bandwidth { narrow, wide };         // narrow hears less noise, wide settles sooner
std::string_view name_of(Bandwidth bandwidth); // "narrow", "wide"

enum class CoilAttitude { level, upright }; // level: along the way he faces; upright: along the mast

struct ReceiverSpec {
    ReceiverKind kind = ReceiverKind::tri_axis;
    double antenna_spacing_m = 0.40;    // lower to upper antenna centre; not single-coil
    double tip_to_antenna_m = 0.05;     // lower antenna's centre above the tip
    double side_offset_sd_m = 0.005;    // each antenna set sits this much off the mast's axis, right and forward
    double axis_error_sd_deg = 1.0;     // and is turned by this much about each of three axes
    double gain_error_sd_percent = 0.0; // each antenna's signal comes out this much too large or too small
    double mast_bend_sd_deg = 0.0;      // upper set out of line with the lower, right and forward, turned with the mast
    double settling_tau_s = 0.15;       // of the single-pole low-pass behind the mixer; settles to 1 % in 4.6 tau
    double band_half_width_hz = 10.0;   // 3 dB point of the four-pole band filter before the mixer (an assumption)
    double signal_resolution_db = 0.1;
    double depth_resolution_m = 0.01;
    double noise_floor_pt_per_rthz = 0.02; // never quieter than this
    double noise_at_512_pt_per_rthz =
        0.5;                  // falls as 1/f above; a suggestion of ordinary size, not measured on any instrument
    std::optional<Coil> coil; // given: the noise follows from it, and noise_at_512 does not count; the floor does
    FrontEnd front_end;
    bool has_wide = false; // a second setting, for the trainee to choose
    double wide_settling_tau_s = 0.05;
    double wide_band_half_width_hz = 30.0;
};

// The spec with tau and band filter of that setting; narrow is the spec itself. Without has_wide there is only narrow.
ReceiverSpec in_bandwidth(const ReceiverSpec& spec, Bandwidth bandwidth);

// Noise density of one antenna, T per square root of Hz, one-sided; the converter's is apart (converter_noise_t).
double noise_density_t(const ReceiverSpec& spec, double frequency_hz);

// Equivalent noise bandwidth of the single-pole detector, Hz: 1 / (4 tau). The band filter before it takes off another
// 7 % of the noise power (0.3 dB) with the standard values, and delays by 42 ms; the model leaves both out. A detector
// run sample by sample is compared with it in tests/sim.
double noise_bandwidth_hz(const ReceiverSpec& spec);

// Amplitude response to a source offset_hz away from the frequency the receiver is set to: a four-pole Butterworth band
// filter and the detector's single pole. 1 at 0, -130 dB at 128 Hz.
double tuning_response(const ReceiverSpec& spec, double offset_hz);

// One set of three crossed antennas as it is really mounted (mast frame).
struct AntennaSet {
    glm::dvec3 offset_m{0.0}; // centre from the tip
    glm::dmat3 axes{1.0};     // columns: the three antenna axes, as long as their gain; the identity when all is true
};

// One instrument: a spec with its own errors of mounting and gain. The single coil uses the lower set's forward or
// upright antenna, the twin coils the forward antennas of both sets.
struct Instrument {
    ReceiverSpec spec;
    AntennaSet lower;
    AntennaSet upper;
};
Instrument make_instrument(const ReceiverSpec& spec, std::uint64_t seed); // same spec and seed, same instrument
Instrument perfect_instrument(const ReceiverSpec& spec);                  // no mounting error, for comparisons

// How the mast is held. lean_*: the mast's top leans this far forward / to the right of plumb.
struct Pose {
    glm::dvec3 tip_m{0.0};
    double facing_deg = 0.0; // clockwise from north
    double lean_forward_deg = 0.0;
    double lean_right_deg = 0.0;
};
glm::dmat3 mast_frame(const Pose& pose); // columns: right, forward, up the mast, as unit vectors of the yard's frame
double lean_deg(const Pose& pose);       // angle between mast and plumb

// What each antenna picks up, tesla RMS: lower x, y, z, then upper x, y, z in each set's own axes.
using AntennaSignals = std::array<std::complex<double>, 6>;

// Noise-free signals of all sources, each through the tuning response to the receiver's frequency.
AntennaSignals antenna_signals_t(const Instrument& instrument, const Pose& pose, std::span<const Dipole> sources,
                                 double receiver_frequency_hz);

// How a tone offset_hz away from the receiver's frequency counts in the tick of dt_s that begins with its phase at
// start_turns: the constant input that would move the detector as much. The detector's pole is integrated exactly over
// the tick, so that tones many times farther off than a tick can follow are still right. `settled`: as if it had been
// there for long, for the tick that fills an empty detector.
std::complex<double> tone_weight(const ReceiverSpec& spec, double offset_hz, double start_turns, double dt_s,
                                 bool settled);

// Noise-free signals of a whole scene in a tick: every emission and every harmonic near enough, turning as its
// frequency asks against the receiver's. Input for detect() of the same tick and dt_s.
AntennaSignals antenna_signals_t(const Instrument& instrument, const Pose& pose, const Scene& scene,
                                 double receiver_frequency_hz, std::int64_t tick, double dt_s, bool settled);

// The detector's memory. Part of an exercise's state: saved, compared and replayed with it.
struct Detector {
    AntennaSignals filtered{};
    bool primed = false;
    int gain = 0;           // of the front end, from FrontEnd; the lowest is 0
    double blanked_s = 0.0; // what is left of the blank after a step of gain
    bool overload = false;  // an antenna signal is over full scale at the lowest gain
};

// Advances the detector by dt_s with this tick's antenna signals and noise. Gain follows the largest signal of all
// antennas it has (a single coil's other attitude counts as one); a step of it holds the detector still for
// gain_blank_s. Signals over full scale come out at full scale. The noise is a function of (seed, tick);
// each of a channel's real and imaginary parts comes out with variance density^2 x bandwidth. The first call fills
// the filter.
void detect(Detector& detector, const Instrument& instrument, const AntennaSignals& signals, double frequency_hz,
            double dt_s, std::uint64_t seed, std::uint64_t tick);

// The share of the way to what the antennas hear that a detector goes in a tick of dt_s: 1 - e^(-dt / tau).
double detector_share(const ReceiverSpec& spec, double dt_s);

// Standard deviation of the noise that each part of each channel carries, T: as it comes out of the detector, and as a
// tick of dt_s takes it in, where it is independent from tick to tick.
double noise_out_t(const ReceiverSpec& spec, double frequency_hz, int gain);
double noise_in_t(const ReceiverSpec& spec, double frequency_hz, int gain, double dt_s);

// What the display can be made of. Unrounded.
struct Measurement {
    double signal_t = 0.0;            // tri-axis: total field at the lower set; else of the (lower) coil
    double upper_t = 0.0;             // tri-axis: total field at the upper set; twin-coil: of the upper coil
    std::optional<double> dip_deg;    // -90..90, positive when the end towards the operator's front lies below level
    std::optional<double> needle_deg; // -90..90 clockwise from the way he faces, of that end
    bool overload = false;            // the signal is the full scale then, and there is nothing else
    std::optional<double> depth_m;    // from the tip down the mast; empty when too weak or the ratio makes no sense
};

// Dip and needle are given from this many times the noise of one channel upward, depth from depth_times_noise.
inline constexpr double axis_times_noise = 3.0;
inline constexpr double depth_times_noise = 6.0;

Measurement measure(const Instrument& instrument, const AntennaSignals& signals, double frequency_hz,
                    double lean_of_mast_deg, CoilAttitude attitude);

// The same of what a detector holds, with its gain's noise and its overload.
Measurement measure(const Instrument& instrument, const Detector& detector, double frequency_hz,
                    double lean_of_mast_deg, CoilAttitude attitude);

// Depth below the tip from the signals of two antennas spacing_m apart, the lower tip_to_antenna_m above the tip:
//     spacing / ((lower / upper)^(1/3) - 1) - tip_to_antenna
// Total fields: exact straight above a dipole at any tilt. Two level coils: along a level sonde at their own peak; with
// the sonde tilted they read 0.04 % low at 5 deg and 1.2 % at 30, and at the peak of the total field 19 % high at 5 deg
// (spacing 0.4 of the depth). Empty unless lower > upper > 0.
std::optional<double> depth_from_ratio_m(double lower_t, double upper_t, double spacing_m, double tip_to_antenna_m);

// The check at the truck: sonde on the ground, square to the mast, which is laid on the ground pointing at it with
// the tip distance_m away. What the antennas pick up then; measure() of it should read a depth of distance_m.
AntennaSignals truck_check_signals_t(const Instrument& instrument, double distance_m, double moment_am2,
                                     double sonde_frequency_hz, double receiver_frequency_hz);

} // namespace sondeyard::sim
