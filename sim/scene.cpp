#include "sim/scene.hpp"

#include "sim/ground.hpp"
#include "sim/mutation.hpp"
#include "sim/random.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace sondeyard::sim {

Phasor3 currents_field_t(const std::vector<LineCurrent>& currents, const glm::dvec3& place_m) {
    Phasor3 sum;
    for (const LineCurrent& line : currents) {
        const glm::dvec3 unit = unit_current_field_t(line.points_m, place_m);
        sum += {line.current_a.real() * unit, line.current_a.imag() * unit};
    }
    return sum;
}

Phasor3 emission_field_t(const Emission& emission, const glm::dvec3& place_m) {
    Phasor3 sum;
    for (const GroundedDipole& source : emission.dipoles) {
        sum += dipole_field_t(source.dipole, place_m);
        if (source.ground) {
            const glm::dvec3& at = source.dipole.position_m;
            sum += source.ground->secondary_t(source.dipole.moment_am2,
                                              place_m - glm::dvec3{at.x, at.y, source.surface_z_m});
        }
    }
    return sum + currents_field_t(emission.currents, place_m);
}

double harmonic_share(int n) {
    constexpr double even_share = 0.15;
    const double share =
        mutated(Mutation::hum_without_harmonics) && n > 1 ? 0.0 : 1.0 / (n * std::sqrt(static_cast<double>(n)));
    return n % 2 == 0 ? even_share * share : share;
}

double all_harmonics_share() {
    static const double share = [] {
        double square = 0.0;
        for (int n = 1; n <= 40; ++n) {
            square += harmonic_share(n) * harmonic_share(n);
        }
        return std::sqrt(square);
    }();
    return share;
}

MainsPhase mains_at(const Hum& hum, double time_s) {
    static constexpr std::uint64_t stream = stream_of("mains.drift");
    constexpr std::array<double, 2> slowest_hz = {0.004, 0.02}; // a wave each, up to twice as fast
    constexpr std::array<double, 2> part = {0.6, 0.4};
    MainsPhase mains{hum.mains_hz, 0.0};
    for (std::size_t i = 0; i < part.size(); ++i) {
        const auto drawn = uniform_pair(hum.seed, stream, i);
        const double rate = 2.0 * std::numbers::pi * slowest_hz[i] * (1.0 + drawn[0]);
        const double phase = 2.0 * std::numbers::pi * drawn[1];
        mains.frequency_hz += mains_drift_hz * part[i] * std::sin(rate * time_s + phase);
        mains.extra_turns += mains_drift_hz * part[i] * (std::cos(phase) - std::cos(rate * time_s + phase)) / rate;
    }
    return mains;
}

double hum_t(const Scene& scene, const glm::dvec3& place_m) {
    Phasor3 sum;
    for (const Hum& hum : scene.hums) {
        sum += currents_field_t(hum.fundamental, place_m);
    }
    return all_harmonics_share() * magnitude(sum);
}

} // namespace sondeyard::sim
