#include "field/known.hpp"

#include "sim/scene.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <functional>

namespace sondeyard::field {

namespace {

std::vector<Sounding> soundings_of(const ExerciseState& state, const SondeTruth& sonde, double along_m) {
    constexpr double same_place_m = 0.002;
    std::vector<Sounding> some;
    std::ranges::copy_if(state.soundings, std::back_inserter(some), [&](const Sounding& s) {
        return std::abs(static_cast<double>(s.frequency_hz) - sonde.frequency_hz) < 0.01 &&
               std::abs(static_cast<double>(s.sonde_along_m) - along_m) < same_place_m;
    });
    return some;
}

// Where along the cable's way the sonde that counts lay.
double along_m_of(const ExerciseState& state, const Score& score) {
    if (score.located.at_stop) {
        return 0.0;
    }
    const Mark* locate = find_last(state.notebook, MarkKind::locate);
    return locate != nullptr ? place_at(state.cable, locate->tick).sonde_m : state.cable.now.sonde_m;
}

glm::dvec3 one_phase(const sim::Phasor3& moment) { // the major half axis
    const glm::dvec3 axis = sim::major_axis(moment);
    return std::hypot(glm::dot(axis, moment.re), glm::dot(axis, moment.im)) * axis;
}

// ---- What else was in the soundings ----

double harmonics_heard(const sim::ReceiverSpec& spec, double mains_hz, double receiver_hz) {
    double square = 0.0;
    for (int n = 1; n * mains_hz < receiver_hz + 8.0 * spec.band_half_width_hz; ++n) {
        square += std::pow(sim::harmonic_share(n) * sim::tuning_response(spec, n * mains_hz - receiver_hz), 2);
    }
    return std::sqrt(square);
}

// Fields squared, of the sonde alone and of each other thing, over the soundings, each by its weight.
struct Powers {
    double sonde = 0.0, ground = 0.0, lines = 0.0, others = 0.0, hum = 0.0;
};

Powers powers_of(const Setting& setting, const sim::Scene& scene, const std::vector<Sounding>& soundings) {
    constexpr std::size_t most = 80;
    const sim::Emission& own = scene.emissions.front();
    const sim::Dipole& sonde = own.dipoles.front().dipole;
    const sim::ReceiverSpec& spec = setting.world.receiver;
    Powers sum;
    for (std::size_t i = 0; i < std::min(most, soundings.size()); ++i) {
        const Sounding& s = soundings[i * soundings.size() / std::min(most, soundings.size())];
        const glm::dvec3 place = channels_of(s, setting.instrument).all[0].place_m;
        const double weight = 1.0 / (static_cast<double>(s.noise_pt) * static_cast<double>(s.noise_pt));
        const sim::Phasor3 plain = sim::dipole_field_t(sonde, place);
        const sim::Phasor3 lines = sim::currents_field_t(own.currents, place);
        const sim::Phasor3 whole = sim::emission_field_t(own, place);
        const sim::Phasor3 ground = whole + (-1.0 * plain) + (-1.0 * lines);
        sum.sonde += weight * std::pow(sim::magnitude(plain), 2);
        sum.lines += weight * std::pow(sim::magnitude(lines), 2);
        sum.ground += weight * std::pow(sim::magnitude(ground), 2);
        for (std::size_t e = 1; e < scene.emissions.size(); ++e) {
            const double heard = sim::tuning_response(spec, scene.emissions[e].frequency_hz - sonde.frequency_hz);
            sum.others +=
                weight * std::pow(heard * sim::magnitude(sim::emission_field_t(scene.emissions[e], place)), 2);
        }
        for (const sim::Hum& hum : scene.hums) {
            const double heard = harmonics_heard(spec, hum.mains_hz, sonde.frequency_hz);
            sum.hum += weight * std::pow(heard * sim::magnitude(sim::currents_field_t(hum.fundamental, place)), 2);
        }
    }
    return sum;
}

std::vector<Disturbance> disturbances_of(const Setting& setting, const SondeTruth& sonde, const WhatCouldBeKnown& w) {
    constexpr double worth_saying = 0.001;
    const sim::Scene scene = scene_of(setting.world, setting.ground, sonde);
    const Powers p = powers_of(setting, scene, w.soundings);
    std::vector<Disturbance> found;
    const auto add = [&](std::string what, double power) {
        const double share = p.sonde > 0.0 ? std::sqrt(power / p.sonde) : 0.0;
        if (share > worth_saying) {
            found.push_back({std::move(what), share});
        }
    };
    add("currents that the sonde drives in metal lines beside it", p.lines);
    add("currents that it drives in the ground", p.ground);
    add("another transmitter", p.others);
    add("mains hum", p.hum);
    const glm::dvec3 own = sim::axis_of(sonde.heading_deg, sonde.tilt_deg);
    const double turned =
        std::sqrt(std::max(0.0, 1.0 - std::pow(glm::dot(own, glm::normalize(w.truth.moment_am2)), 2)));
    add("the metal pipe, which lets one direction of the sonde's field out better than another",
        p.sonde * turned * turned);
    std::ranges::sort(found, std::greater<>{}, &Disturbance::share);
    return found;
}

} // namespace

WhatCouldBeKnown what_could_be_known(const Setting& setting, const ExerciseState& state, const Score& score) {
    WhatCouldBeKnown w;
    const SondeTruth& sonde = score.located.sonde;
    w.trainee = {score.horizontal_error_m, score.depth_error_m, score.tilt.tilt_error_deg};
    w.soundings = soundings_of(state, sonde, along_m_of(state, score));
    w.truth = {sonde.position_m, one_phase(dipole_seen(setting.world, setting.ground, sonde).moment_am2)};
    if (!(glm::length(w.truth.moment_am2) > 0.0)) {
        w.soundings.clear();
    }
    w.bound = knowable(w.soundings, setting.instrument, w.truth);
    w.any = w.bound.soundings > 0;
    if (!w.any) {
        return w;
    }
    w.bound_as_mounted = knowable(w.soundings, setting.instrument, w.truth, mounting_prior_of(setting.world.receiver));
    w.shrank = knowable_over_time(w.soundings, setting.instrument, w.truth, shrink_points);
    w.fit = best_fit(w.soundings, setting.instrument);
    if (w.fit.found) {
        w.fit_errors = {glm::distance(plan(w.fit.dipole.position_m), plan(sonde.position_m)),
                        sonde.position_m.z - w.fit.dipole.position_m.z,
                        w.fit.attitude.tilt_deg - std::abs(sonde.tilt_deg)};
    }
    w.disturbances = disturbances_of(setting, sonde, w);
    return w;
}

} // namespace sondeyard::field
