// Soundings: what the antennas took in, kept as independent measurements with known noise, so that afterwards it can be
// worked out what could have been known.
//
// A display lags behind a receiver that moves: its detector goes only a share of the way to the new signal in each
// tick. That share is known, so what a tick took in is got back exactly, (after - (1 - share) before) / share, and with
// it noise that is independent from tick to tick. A sounding is the mean of such ticks over at most two time constants
// of the filter, without any lag, and no two soundings have noise in common.
//
// What a mean over a moving receiver smears is not modelled but kept out: as soon as an antenna has moved more than
// sounding_spread_m, or the mast turned more than sounding_turn_deg, since the first tick of the mean, it begins anew.
// The smear left is at most half the square of (spread / range), 1.3e-5 at 0.6 m, no more than the noise there. So a
// receiver that stands still gives means of all ticks, one that is walked with gives single ticks, once every two time
// constants: less information than there was, never wrong information. Left out besides: ticks in which the front end
// was blanked or overloaded or changed its gain, the cable moved, or the receiver was set otherwise than in the tick
// before.
#pragma once

#include "sim/receiver.hpp"

#include <vector>

namespace sondeyard::field {

inline constexpr double sounding_taus = 2.0; // of the filter, from the start of one sounding to the next
inline constexpr double sounding_spread_m = 0.003;
inline constexpr double sounding_turn_deg = 0.3;

// About 150 bytes, three a second with the standard filter.
struct Sounding {
    std::int64_t tick = 0;                         // of the last tick in it
    glm::dvec3 tip_m{0.0};                         // mean
    glm::mat3 mast{1.0F};                          // mean of sim::mast_frame
    std::array<std::complex<float>, 6> heard_pt{}; // mean of what each antenna took in, pT RMS, as AntennaSignals
    float noise_pt = 0.0F;                         // standard deviation of each part of each channel
    float frequency_hz = 512.0F;                   // the receiver's
    float sonde_along_m = 0.0F;                    // where the cable held the sonde: CablePlace::sonde_m
    std::uint8_t ticks = 0;                        // in the mean
    sim::CoilAttitude coil = sim::CoilAttitude::level;
};

// One tick of a receiver at work, as listen() wants it. The pointers need live for the call only.
struct HeardTick {
    std::int64_t tick = 0;
    const sim::Instrument* instrument = nullptr; // in the bandwidth in use
    const sim::Detector* before = nullptr;
    const sim::Detector* after = nullptr;
    sim::Pose pose;
    double frequency_hz = 512.0;
    sim::CoilAttitude coil = sim::CoilAttitude::level;
    sim::Bandwidth bandwidth = sim::Bandwidth::narrow;
    double sonde_along_m = 0.0;
    bool cable_moving = false;
};

// A sounding in the making.
struct Sounder {
    std::int64_t begun_tick = 0; // of these two time constants
    int ticks = 0;               // in the sums; 0: begun anew
    glm::dvec3 first_tip_m{0.0};
    glm::dmat3 first_mast{1.0};
    glm::dvec3 tip_sum_m{0.0};
    glm::dmat3 mast_sum{0.0};
    sim::AntennaSignals heard_sum_t{};
    double frequency_hz = 0.0; // how the receiver was set in the tick before
    sim::CoilAttitude coil = sim::CoilAttitude::level;
    sim::Bandwidth bandwidth = sim::Bandwidth::narrow;
    int gain = 0;
};

// Takes in a tick, and adds a sounding whenever one is complete. Ticks come in order, each once.
void listen(Sounder& sounder, std::vector<Sounding>& soundings, const HeardTick& heard);

// ---- What a sounding says of the field ----

// One antenna in it: where it was, the way it points (as long as its gain), what it took in.
struct Channel {
    glm::dvec3 place_m{0.0};
    glm::dvec3 axis{0.0};
    std::complex<double> heard_t;
    bool upper = false;
    int number = 0; // of AntennaSignals, 0..5
};

// The antennas that the receiver's kind uses: six, or the two forward ones of twin coils, or a single coil's one.
struct Channels {
    std::array<Channel, 6> all;
    int count = 0;
    const Channel* begin() const { return all.data(); }
    const Channel* end() const { return all.data() + count; }
};
Channels channels_of(const Sounding& sounding, const sim::Instrument& instrument);

} // namespace sondeyard::field
