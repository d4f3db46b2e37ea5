#include "field/sounding.hpp"

#include "field/body.hpp"
#include "sim/units.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr double pt_in_t = 1e12;

void forget(Sounder& sounder) {
    sounder.ticks = 0;
    sounder.tip_sum_m = glm::dvec3{0.0};
    sounder.mast_sum = glm::dmat3{0.0};
    sounder.heard_sum_t = {};
}

bool set_as_before(const Sounder& sounder, const HeardTick& heard) {
    return sounder.frequency_hz == heard.frequency_hz && sounder.coil == heard.coil &&
           sounder.bandwidth == heard.bandwidth && sounder.gain == heard.after->gain;
}

bool took_in(const HeardTick& heard) {
    return heard.before->primed && heard.before->blanked_s < 0.5 * tick_s && !heard.after->overload &&
           heard.before->gain == heard.after->gain && !heard.cable_moving;
}

bool moved_on(const Sounder& sounder, const HeardTick& heard, const glm::dmat3& mast) {
    const double top_m =
        std::max(heard.instrument->lower.offset_m.z, heard.instrument->upper.offset_m.z); // the farther out, the more
    const glm::dvec3 tip_m = heard.pose.tip_m - sounder.first_tip_m;
    const glm::dvec3 upper_m = tip_m + top_m * (mast[2] - sounder.first_mast[2]);
    const double turn =
        std::max({glm::length(mast[0] - sounder.first_mast[0]), glm::length(mast[1] - sounder.first_mast[1]),
                  glm::length(mast[2] - sounder.first_mast[2])});
    return std::max(glm::length(tip_m), glm::length(upper_m)) > sounding_spread_m ||
           turn > sim::radians(sounding_turn_deg);
}

Sounding mean_of(const Sounder& sounder, const HeardTick& heard) {
    const double n = sounder.ticks;
    Sounding sounding;
    sounding.tick = heard.tick;
    sounding.tip_m = sounder.tip_sum_m / n;
    sounding.mast = glm::mat3(sounder.mast_sum / n);
    for (std::size_t i = 0; i < sounding.heard_pt.size(); ++i) {
        sounding.heard_pt[i] = std::complex<float>(sounder.heard_sum_t[i] * (pt_in_t / n));
    }
    const double noise_t =
        sim::noise_in_t(heard.instrument->spec, heard.frequency_hz, heard.after->gain, tick_s) / std::sqrt(n);
    sounding.noise_pt = static_cast<float>(noise_t * pt_in_t);
    sounding.frequency_hz = static_cast<float>(heard.frequency_hz);
    sounding.sonde_along_m = static_cast<float>(heard.sonde_along_m);
    sounding.ticks = static_cast<std::uint8_t>(std::min(sounder.ticks, 255));
    sounding.coil = heard.coil;
    return sounding;
}

} // namespace

void listen(Sounder& sounder, std::vector<Sounding>& soundings, const HeardTick& heard) {
    if (!set_as_before(sounder, heard)) {
        forget(sounder);
    }
    sounder.frequency_hz = heard.frequency_hz;
    sounder.coil = heard.coil;
    sounder.bandwidth = heard.bandwidth;
    sounder.gain = heard.after->gain;
    const double window_s = sounding_taus * heard.instrument->spec.settling_tau_s;
    const bool complete = static_cast<double>(heard.tick - sounder.begun_tick) * tick_s >= window_s - 0.5 * tick_s;
    if (took_in(heard)) {
        const glm::dmat3 mast = sim::mast_frame(heard.pose);
        if (sounder.ticks > 0 && moved_on(sounder, heard, mast)) {
            forget(sounder);
        }
        if (sounder.ticks == 0) {
            sounder.first_tip_m = heard.pose.tip_m;
            sounder.first_mast = mast;
        }
        const double share = sim::detector_share(heard.instrument->spec, tick_s);
        for (std::size_t i = 0; i < sounder.heard_sum_t.size(); ++i) {
            sounder.heard_sum_t[i] += (heard.after->filtered[i] - (1.0 - share) * heard.before->filtered[i]) / share;
        }
        sounder.tip_sum_m += heard.pose.tip_m;
        sounder.mast_sum += mast;
        ++sounder.ticks;
        if (complete) {
            soundings.push_back(mean_of(sounder, heard));
        }
    } else {
        forget(sounder);
    }
    if (complete) {
        forget(sounder);
        sounder.begun_tick = heard.tick;
    }
}

Channels channels_of(const Sounding& sounding, const sim::Instrument& instrument) {
    const glm::dmat3 mast(sounding.mast);
    Channels channels;
    const auto add = [&](const sim::AntennaSet& set, int axis, bool upper) {
        const int number = axis + (upper ? 3 : 0);
        channels.all[static_cast<std::size_t>(channels.count++)] = {
            sounding.tip_m + mast * set.offset_m, mast * set.axes[axis],
            std::complex<double>(sounding.heard_pt[static_cast<std::size_t>(number)]) / pt_in_t, upper, number};
    };
    const sim::ReceiverKind kind = instrument.spec.kind;
    if (kind == sim::ReceiverKind::single_coil) {
        add(instrument.lower, sounding.coil == sim::CoilAttitude::level ? 1 : 2, false);
        return channels;
    }
    for (const bool upper : {false, true}) {
        for (int axis = 0; axis < 3; ++axis) {
            if (kind == sim::ReceiverKind::tri_axis || axis == 1) {
                add(upper ? instrument.upper : instrument.lower, axis, upper);
            }
        }
    }
    return channels;
}

} // namespace sondeyard::field
