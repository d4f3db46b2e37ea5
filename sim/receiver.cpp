#include "sim/receiver.hpp"

#include "sim/random.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>
#include <glm/matrix.hpp>

#include <algorithm>

namespace sondeyard::sim {

namespace {

glm::dmat3 small_rotation(const glm::dvec3& angles_rad) {
    const double angle = glm::length(angles_rad);
    if (angle <= 0.0) {
        return glm::dmat3{1.0};
    }
    // Rodrigues' formula, written out: glm's rotate works in 4x4.
    const glm::dvec3 k = angles_rad / angle;
    const double c = std::cos(angle);
    const double s = std::sin(angle);
    const auto column = [&](const glm::dvec3& v) {
        return v * c + glm::cross(k, v) * s + k * (glm::dot(k, v) * (1.0 - c));
    };
    return {column({1.0, 0.0, 0.0}), column({0.0, 1.0, 0.0}), column({0.0, 0.0, 1.0})};
}

AntennaSet mount(const ReceiverSpec& spec, double height_m, std::uint64_t seed, std::string_view stream) {
    Draws draws(seed, stream);
    const double right = draws.normal(0.0, spec.side_offset_sd_m);
    const double forward = draws.normal(0.0, spec.side_offset_sd_m);
    const double sd_rad = radians(spec.axis_error_sd_deg);
    const double about_right = draws.normal(0.0, sd_rad);
    const double about_forward = draws.normal(0.0, sd_rad);
    const double about_mast = draws.normal(0.0, sd_rad);
    return {{right, forward, height_m}, small_rotation({about_right, about_forward, about_mast})};
}

// The mast is bent at the lower antennas: everything above swings over.
void bend(Instrument& instrument, std::uint64_t seed) {
    Draws draws(seed, "instrument.bend");
    const double sd_rad = mutated(Mutation::mast_bend_ignored) ? 0.0 : radians(instrument.spec.mast_bend_sd_deg);
    const double about_right = draws.normal(0.0, sd_rad);
    const double about_forward = draws.normal(0.0, sd_rad);
    if (sd_rad > 0.0) {
        const glm::dmat3 turn = small_rotation({about_right, about_forward, 0.0});
        const glm::dvec3 hinge{0.0, 0.0, instrument.spec.tip_to_antenna_m};
        instrument.upper.offset_m = hinge + turn * (instrument.upper.offset_m - hinge);
        instrument.upper.axes = turn * instrument.upper.axes;
    }
}

void mismatch(AntennaSet& set, const ReceiverSpec& spec, std::uint64_t seed, std::string_view stream) {
    Draws draws(seed, stream);
    for (int axis = 0; axis < 3; ++axis) {
        const double error = draws.normal(0.0, 0.01 * spec.gain_error_sd_percent);
        set.axes[axis] *= 1.0 + (mutated(Mutation::gain_errors_ignored) ? 0.0 : error);
    }
}

// Density of antenna and converter together, T per square root of Hz.
double density_t(const ReceiverSpec& spec, double frequency_hz, int gain) {
    const double converter_t = converter_noise_t(spec.front_end, gain);
    const double antenna_t = noise_density_t(spec, frequency_hz);
    return converter_t > 0.0 ? std::hypot(antenna_t, converter_t) : antenna_t;
}

double spacing_in_use_m(const ReceiverSpec& spec) {
    return mutated(Mutation::spacing_halved) ? 0.5 * spec.antenna_spacing_m : spec.antenna_spacing_m;
}

Phasor3 phasor_of(const AntennaSignals& s, std::size_t first) {
    return {{s[first].real(), s[first + 1].real(), s[first + 2].real()},
            {s[first].imag(), s[first + 1].imag(), s[first + 2].imag()}};
}

} // namespace

std::string_view name_of(ReceiverKind kind) {
    static constexpr std::array<std::string_view, 3> names = {"tri-axis", "single-coil", "twin-coil"};
    return names[static_cast<std::size_t>(kind)];
}

std::string_view name_of(Bandwidth bandwidth) { return bandwidth == Bandwidth::wide ? "wide" : "narrow"; }

double noise_density_t(const ReceiverSpec& spec, double frequency_hz) {
    const double antenna_pt = spec.coil ? 1e12 * coil_noise_t(*spec.coil, frequency_hz)
                                        : spec.noise_at_512_pt_per_rthz * 512.0 / frequency_hz;
    return 1e-12 * std::max(spec.noise_floor_pt_per_rthz, antenna_pt);
}

ReceiverSpec in_bandwidth(const ReceiverSpec& spec, Bandwidth bandwidth) {
    ReceiverSpec used = spec;
    if (bandwidth == Bandwidth::wide && spec.has_wide && !mutated(Mutation::wide_band_ignored)) {
        used.settling_tau_s = spec.wide_settling_tau_s;
        used.band_half_width_hz = spec.wide_band_half_width_hz;
    }
    return used;
}

double noise_bandwidth_hz(const ReceiverSpec& spec) {
    return (mutated(Mutation::enbw_twice) ? 2.0 : 1.0) / (4.0 * spec.settling_tau_s);
}

Instrument make_instrument(const ReceiverSpec& spec, std::uint64_t seed) {
    Instrument instrument{spec, mount(spec, spec.tip_to_antenna_m, seed, "instrument.lower"),
                          mount(spec, spec.tip_to_antenna_m + spec.antenna_spacing_m, seed, "instrument.upper")};
    bend(instrument, seed);
    mismatch(instrument.lower, spec, seed, "instrument.lower.gain");
    mismatch(instrument.upper, spec, seed, "instrument.upper.gain");
    return instrument;
}

Instrument perfect_instrument(const ReceiverSpec& spec) {
    return {spec, {{0.0, 0.0, spec.tip_to_antenna_m}}, {{0.0, 0.0, spec.tip_to_antenna_m + spec.antenna_spacing_m}}};
}

glm::dmat3 mast_frame(const Pose& pose) {
    const double h = radians(pose.facing_deg);
    const glm::dvec3 level_forward{std::sin(h), std::cos(h), 0.0};
    const glm::dvec3 level_right{std::cos(h), -std::sin(h), 0.0};
    double forward_deg = pose.lean_forward_deg;
    double right_deg = pose.lean_right_deg;
    if (mutated(Mutation::lean_ignored)) {
        forward_deg = right_deg = 0.0;
    }
    if (mutated(Mutation::lean_mirrored)) {
        forward_deg = -forward_deg;
    }
    const glm::dvec3 up = glm::normalize(glm::dvec3{0.0, 0.0, 1.0} + std::tan(radians(forward_deg)) * level_forward +
                                         std::tan(radians(right_deg)) * level_right);
    const glm::dvec3 forward = glm::normalize(level_forward - glm::dot(level_forward, up) * up);
    return {glm::cross(forward, up), forward, up};
}

double lean_deg(const Pose& pose) {
    const double forward = std::tan(radians(pose.lean_forward_deg));
    const double right = std::tan(radians(pose.lean_right_deg));
    return degrees(std::atan(std::hypot(forward, right)));
}

namespace {

// Gain and overload for this tick; true while the front end is blanked.
bool adjust_gain(Detector& detector, const FrontEnd& front_end, double largest_t, double dt_s) {
    const int gain = next_gain(front_end, detector.gain, largest_t);
    if (detector.primed && gain != detector.gain && !mutated(Mutation::gain_blank_dropped)) {
        detector.blanked_s = gain_blank_s;
    }
    detector.gain = gain;
    const double clears = detector.overload ? std::pow(10.0, -overload_clears_db / 20.0) : 1.0;
    detector.overload = largest_t > clears * full_scale_t(front_end, 0) && !mutated(Mutation::overload_ignored);
    if (detector.blanked_s < 0.5 * dt_s) { // to the nearest tick
        detector.blanked_s = 0.0;
        return false;
    }
    detector.blanked_s -= dt_s;
    return true;
}

} // namespace

double detector_share(const ReceiverSpec& spec, double dt_s) {
    const double tau_s = spec.settling_tau_s * (mutated(Mutation::settling_twice) ? 2.0 : 1.0);
    return -std::expm1(-dt_s / tau_s);
}

double noise_out_t(const ReceiverSpec& spec, double frequency_hz, int gain) {
    return density_t(spec, frequency_hz, gain) * std::sqrt(noise_bandwidth_hz(spec));
}

double noise_in_t(const ReceiverSpec& spec, double frequency_hz, int gain, double dt_s) {
    // White noise of this deviation each tick leaves the filter with sd_out: var_out = var_in step / (2 - step).
    const double step = detector_share(spec, dt_s);
    return noise_out_t(spec, frequency_hz, gain) * std::sqrt((2.0 - step) / step);
}

void detect(Detector& detector, const Instrument& instrument, const AntennaSignals& signals, double frequency_hz,
            double dt_s, std::uint64_t seed, std::uint64_t tick) {
    const ReceiverSpec& spec = instrument.spec;
    const std::size_t channels = reads_depth(spec.kind) ? 6 : 3;
    double largest_t = 0.0;
    for (std::size_t i = 0; i < channels; ++i) {
        const bool used =
            spec.kind == ReceiverKind::tri_axis || i % 3 == 1 || (spec.kind == ReceiverKind::single_coil && i == 2);
        largest_t = used ? std::max(largest_t, std::abs(signals[i])) : largest_t;
    }
    if (adjust_gain(detector, spec.front_end, largest_t, dt_s)) {
        return;
    }
    const double step = detector_share(spec, dt_s);
    const double sd_in = detector.primed ? noise_in_t(spec, frequency_hz, detector.gain, dt_s)
                                         : noise_out_t(spec, frequency_hz, detector.gain);
    const double most_t = full_scale_t(spec.front_end, 0);
    static constexpr std::uint64_t noise_stream = stream_of("detector.noise");
    for (std::size_t i = 0; i < channels; ++i) {
        const auto n = normal_pair(seed, noise_stream + i, tick);
        const std::complex<double> signal =
            detector.overload && std::abs(signals[i]) > most_t ? std::polar(most_t, std::arg(signals[i])) : signals[i];
        const std::complex<double> heard = signal + sd_in * std::complex<double>{n[0], n[1]};
        detector.filtered[i] += (detector.primed ? step : 1.0) * (heard - detector.filtered[i]);
    }
    detector.primed = true;
}

std::optional<double> depth_from_ratio_m(double lower_t, double upper_t, double spacing_m, double tip_to_antenna_m) {
    if (mutated(Mutation::depth_ratio_inverted)) {
        std::swap(lower_t, upper_t);
    }
    if (!(lower_t > upper_t) || !(upper_t > 0.0)) {
        return std::nullopt;
    }
    const double ratio = lower_t / upper_t;
    const double root = mutated(Mutation::cube_root_becomes_square_root) ? std::sqrt(ratio) : std::cbrt(ratio);
    const double offset = mutated(Mutation::tip_offset_dropped) ? 0.0 : tip_to_antenna_m;
    return spacing_m / (root - 1.0) - offset;
}

namespace {

// Dip and needle, and depth, are given over so many times noise_t, of one part of one channel.
Measurement measure_over(const Instrument& instrument, const AntennaSignals& signals, double noise_t,
                         double lean_of_mast_deg, CoilAttitude attitude) {
    const ReceiverSpec& spec = instrument.spec;
    Measurement m;
    if (spec.kind == ReceiverKind::single_coil) {
        const bool level = (attitude == CoilAttitude::level) != mutated(Mutation::level_coil_upright);
        m.signal_t = std::abs(signals[level ? 1 : 2]);
        return m;
    }
    const Phasor3 lower = phasor_of(signals, 0);
    if (spec.kind == ReceiverKind::twin_coil && !mutated(Mutation::twin_coils_total_field)) {
        const std::size_t coil = mutated(Mutation::twin_coils_across) ? 0 : 1; // across the way he faces, or along it
        m.signal_t = std::abs(signals[coil]);
        m.upper_t = std::abs(signals[3 + coil]);
    } else {
        m.signal_t = magnitude(lower);
        m.upper_t = magnitude(phasor_of(signals, 3));
    }
    if (shows_dial(spec.kind) && m.signal_t > axis_times_noise * noise_t) {
        glm::dvec3 axis = major_axis(lower);
        if (axis.y < 0.0) {
            axis = -axis;
        }
        const double side = mutated(Mutation::needle_mirrored) ? -1.0 : 1.0;
        const double down = mutated(Mutation::dip_sign) ? -1.0 : 1.0;
        m.needle_deg = degrees(std::atan2(side * axis.x, axis.y));
        m.dip_deg = degrees(std::atan2(-down * axis.z, std::hypot(axis.x, axis.y)));
    }
    if (m.upper_t > depth_times_noise * noise_t) {
        m.depth_m = depth_from_ratio_m(m.signal_t, m.upper_t, spacing_in_use_m(spec), spec.tip_to_antenna_m);
        if (m.depth_m && mutated(Mutation::depth_times_cos_lean)) {
            *m.depth_m *= std::cos(radians(lean_of_mast_deg));
        }
    }
    return m;
}

} // namespace

Measurement measure(const Instrument& instrument, const AntennaSignals& signals, double frequency_hz,
                    double lean_of_mast_deg, CoilAttitude attitude) {
    const double noise_t =
        noise_density_t(instrument.spec, frequency_hz) * std::sqrt(noise_bandwidth_hz(instrument.spec));
    return measure_over(instrument, signals, noise_t, lean_of_mast_deg, attitude);
}

Measurement measure(const Instrument& instrument, const Detector& detector, double frequency_hz,
                    double lean_of_mast_deg, CoilAttitude attitude) {
    const ReceiverSpec& spec = instrument.spec;
    if (detector.overload) {
        Measurement m;
        m.overload = true;
        m.signal_t = full_scale_t(spec.front_end, 0);
        return m;
    }
    const double noise_t = noise_out_t(spec, frequency_hz, detector.gain);
    return measure_over(instrument, detector.filtered, noise_t, lean_of_mast_deg, attitude);
}

AntennaSignals truck_check_signals_t(const Instrument& instrument, double distance_m, double moment_am2,
                                     double sonde_frequency_hz, double receiver_frequency_hz) {
    // The same geometry stood on end: a level sonde distance_m under a plumb mast.
    const Dipole sonde = make_sonde({0.0, 0.0, -distance_m}, 0.0, 0.0, moment_am2, sonde_frequency_hz);
    return antenna_signals_t(instrument, Pose{}, {&sonde, 1}, receiver_frequency_hz);
}

} // namespace sondeyard::sim
