// What the antennas pick up: sources that stand still for a comparison, or a whole scene in one tick.
#include "sim/random.hpp"
#include "sim/receiver.hpp"
#include "sim/units.hpp"

#include <glm/matrix.hpp>

namespace sondeyard::sim {

namespace {

void add_signals(AntennaSignals& sum, std::size_t first, double weight, const Phasor3& b) {
    for (int axis = 0; axis < 3; ++axis) {
        sum[first + static_cast<std::size_t>(axis)] += weight * std::complex<double>{b.re[axis], b.im[axis]};
    }
}

// Beyond this many half widths the four-pole filter leaves less than -70 dB.
constexpr double heard_half_widths = 8.0;
constexpr double inaudible = 1e-9; // -180 dB: not worth its field

double band_response(const ReceiverSpec& spec, double offset_hz) { // four-pole Butterworth
    const double in_band = offset_hz / spec.band_half_width_hz;
    const double square = in_band * in_band;
    const double fourth = square * square;
    return 1.0 / std::sqrt(1.0 + fourth * fourth);
}

double turns_in_circle(double turns) { return turns - std::floor(turns); }

struct Heard { // one source as it counts in this tick
    std::complex<double> weight;
    const Emission* emission = nullptr;
    const Hum* hum = nullptr;
};

std::vector<Heard> heard_in_tick(const ReceiverSpec& spec, const Scene& scene, double receiver_hz, std::int64_t tick,
                                 double dt_s, bool settled) {
    // Ticks count from 1 and this one began where the one before it ended; products of whole numbers stay exact.
    const double before = static_cast<double>(tick - 1);
    std::vector<Heard> heard;
    for (const Emission& emission : scene.emissions) {
        const double offset_hz = emission.frequency_hz - receiver_hz;
        const double turns = turns_in_circle(offset_hz * before * dt_s);
        heard.push_back({tone_weight(spec, offset_hz, turns, dt_s, settled), &emission, nullptr});
    }
    static constexpr std::uint64_t phase_stream = stream_of("mains.phase");
    for (const Hum& hum : scene.hums) {
        const MainsPhase mains = mains_at(hum, before * dt_s);
        const double reach_hz = heard_half_widths * spec.band_half_width_hz;
        const int first = std::max(1, static_cast<int>(std::ceil((receiver_hz - reach_hz) / mains.frequency_hz)));
        const int last = static_cast<int>(std::floor((receiver_hz + reach_hz) / mains.frequency_hz));
        std::complex<double> weight{0.0};
        for (int n = first; n <= last; ++n) {
            const double phase = uniform_pair(hum.seed, phase_stream, static_cast<std::uint64_t>(n))[0];
            const double turns = turns_in_circle((n * hum.mains_hz - receiver_hz) * before * dt_s) +
                                 turns_in_circle(n * mains.extra_turns) + phase;
            weight += harmonic_share(n) * tone_weight(spec, n * mains.frequency_hz - receiver_hz, turns, dt_s, settled);
        }
        heard.push_back({weight, nullptr, &hum});
    }
    return heard;
}

Phasor3 field_of(const Heard& source, const glm::dvec3& place_m) {
    if (source.emission != nullptr) {
        return emission_field_t(*source.emission, place_m);
    }
    return currents_field_t(source.hum->fundamental, place_m);
}

} // namespace

double tuning_response(const ReceiverSpec& spec, double offset_hz) {
    if (mutated(Mutation::tuning_ignored)) {
        return 1.0;
    }
    const double pole = 2.0 * std::numbers::pi * offset_hz * spec.settling_tau_s;
    return band_response(spec, offset_hz) / std::sqrt(1.0 + pole * pole);
}

AntennaSignals antenna_signals_t(const Instrument& instrument, const Pose& pose, std::span<const Dipole> sources,
                                 double receiver_frequency_hz) {
    const glm::dmat3 frame = mast_frame(pose);
    AntennaSignals sum{};
    const auto pick_up = [&](const AntennaSet& set, std::size_t first) {
        const glm::dvec3 place = pose.tip_m + frame * set.offset_m;
        const glm::dmat3 to_antennas = glm::transpose(frame * set.axes);
        for (const Dipole& source : sources) {
            const double weight = tuning_response(instrument.spec, source.frequency_hz - receiver_frequency_hz);
            add_signals(sum, first, weight, to_antennas * dipole_field_t(source, place));
        }
    };
    pick_up(instrument.lower, 0);
    if (reads_depth(instrument.spec.kind)) {
        pick_up(instrument.upper, 3);
    }
    return sum;
}

std::complex<double> tone_weight(const ReceiverSpec& spec, double offset_hz, double start_turns, double dt_s,
                                 bool settled) {
    if (offset_hz == 0.0) {
        return start_turns == 0.0 ? 1.0 : std::polar(1.0, 2.0 * std::numbers::pi * start_turns);
    }
    const double band = mutated(Mutation::tuning_ignored) ? 1.0 : band_response(spec, offset_hz);
    const double way = mutated(Mutation::tone_backwards) ? -1.0 : 1.0;
    const double rate = way * 2.0 * std::numbers::pi * offset_hz;
    const std::complex<double> pole{1.0, mutated(Mutation::tone_pole_dropped) ? 0.0 : rate * spec.settling_tau_s};
    const std::complex<double> at_start = std::polar(band, way * 2.0 * std::numbers::pi * start_turns);
    const std::complex<double> turned = std::polar(1.0, rate * dt_s);
    if (settled) {
        return at_start * turned / pole;
    }
    const double kept = std::exp(-dt_s / spec.settling_tau_s);
    return at_start * (turned - kept) / (pole * (1.0 - kept));
}

AntennaSignals antenna_signals_t(const Instrument& instrument, const Pose& pose, const Scene& scene,
                                 double receiver_frequency_hz, std::int64_t tick, double dt_s, bool settled) {
    const glm::dmat3 frame = mast_frame(pose);
    const std::vector<Heard> heard = heard_in_tick(instrument.spec, scene, receiver_frequency_hz, tick, dt_s, settled);
    AntennaSignals sum{};
    const auto pick_up = [&](const AntennaSet& set, std::size_t first) {
        const glm::dvec3 place = pose.tip_m + frame * set.offset_m;
        const glm::dmat3 to_antennas = glm::transpose(frame * set.axes);
        for (const Heard& source : heard) {
            if (std::norm(source.weight) > inaudible * inaudible) {
                add_signals(sum, first, 1.0, to_antennas * (source.weight * field_of(source, place)));
            }
        }
    };
    pick_up(instrument.lower, 0);
    if (reads_depth(instrument.spec.kind)) {
        pick_up(instrument.upper, 3);
    }
    return sum;
}

} // namespace sondeyard::sim
