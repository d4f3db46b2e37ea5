// From signal to tone: the law of pitch and loudness, and the synthesiser that follows it without clicks.
//
// Pitch: 150 Hz at 0 dBpT and one semitone up for every 2.75 dB, so an octave for 33 dB, up to 2400 Hz at 132 dBpT.
// The ear hears equal ratios of frequency as equal steps, and a decibel is a ratio too: the same gain of signal is the
// same musical step, far off as well as over the sonde. Halving the distance to a dipole (18 dB) is six and a half
// semitones. The range lies where small loudspeakers still sound and where hearing does not yet tire.
//
// Loudness: full from 10 dBpT up; below that it falls one decibel for one decibel, and there is silence from -40 dBpT
// down. So the bare noise floor (about 0 dBpT at 512 Hz) is a low, quiet hum that a real signal stands out of. Below
// 0 dBpT, where the pitch stands still, the falling loudness tells what the pitch no longer can.
#pragma once

#include <cstdint>
#include <limits>
#include <span>

namespace sondeyard::audio {

inline constexpr double kLowestHz = 150.0;         // at kLowestPitchDbpt and below
inline constexpr double kLowestPitchDbpt = 0.0;    // decibels above 1 pT RMS
inline constexpr double kHighestPitchDbpt = 132.0; // four octaves up: 2400 Hz
inline constexpr double kDbPerSemitone = 2.75;

inline constexpr double kFullLoudnessDbpt = 10.0;
inline constexpr double kSilenceDbpt = -40.0;

// Peak of the sine at volume 1, of a full scale of 1. Half of the scale is kept for other voices in the same block.
inline constexpr double kFullAmplitude = 0.5;

// How long a change of pitch or loudness takes, in seconds: short to the hand that sweeps, too long to be a click.
inline constexpr double kGlideS = 0.030;

// The second voice, mains hum as it is before the receiver's filter: soft, and far below the tone, so that one hears
// both. It carries twice, three and four times the mains frequency: small loudspeakers sound there, as a transformer
// does.
inline constexpr double kHumHeardDbpt = 40.0; // softer than this is silence
inline constexpr double kHumFullDbpt = 100.0; // and from here on it is as loud as it gets
inline constexpr double kHumAmplitude = 0.12; // peak at volume 1, of a full scale of 1

// What the tone follows. A signal that is not finite means "no signal"; so does a volume that is not finite.
struct ToneSetting {
    double signal_dbpt = -std::numeric_limits<double>::infinity();
    double volume = 0.5; // 0 silent to 1 full; outside it the nearer end counts
    bool muted = false;
    double hum_dbpt = -std::numeric_limits<double>::infinity();
    double mains_hz = 60.0;
};

// The frequency `semitones` equal-tempered semitones above `hz` (below it, if negative): hz * 2^(semitones / 12).
[[nodiscard]] double raise_by_semitones(double hz, double semitones);

// Pitch in Hz by the law above; kLowestHz for a signal that is not finite. Never falls as the signal rises.
[[nodiscard]] double tone_frequency_hz(double signal_dbpt);

// Loudness by the law above as a factor on amplitude, 0 to 1; 0 for a signal that is not finite.
[[nodiscard]] double signal_loudness(double signal_dbpt);

// Peak of the sine, 0 to kFullAmplitude. The volume counts squared: the ear follows ratios, so a plain factor would
// crowd nearly the whole change into the bottom of the slider.
[[nodiscard]] double tone_amplitude(const ToneSetting& setting);

// Peak of the hum, 0 to kHumAmplitude: in equal differences for equal decibels, the volume squared as above.
[[nodiscard]] double hum_amplitude(const ToneSetting& setting);

// A number on its way to another in equal steps.
struct Glide {
    double value = 0.0;
    double target = 0.0;
    double step = 0.0;
    std::int64_t left = 0; // samples until value is target

    void go_to(double new_target, std::int64_t samples);
    void jump_to(double new_value);
    bool advance(); // one sample on; false when there was nothing to do
};

// What a voice is to sound like: its pitch, and its peak of a full scale of 1 (0: silence).
struct Sound {
    double hz = 0.0;
    double amplitude = 0.0;
};

// A wave whose phase runs on from block to block, and whose frequency and amplitude never step: each glides over
// kGlideS, the frequency in equal ratios, the amplitude in equal differences.
// While it fades to silence it holds its pitch, and out of silence it starts at the new one: no chirp either way.
class Voice {
public:
    using Law = Sound (*)(const ToneSetting&);
    using Waveform = double (*)(double phase_rad); // of period 2 pi, at most 1 in size

    Voice(double sample_rate_hz, Law law, Waveform waveform);

    // What to glide to from the next sample on.
    void set(const ToneSetting& setting);

    // Adds the voice to `block` (does not overwrite it), so that others can share the block.
    void add_to(std::span<float> block);

    // Drops to silence at once; only for when nothing of this voice is being heard (after a gap in the output).
    void restart_silent();

    // True when the voice is off and stays off until set() asks for sound.
    [[nodiscard]] bool silent() const { return amplitude_.value == 0.0 && amplitude_.target == 0.0; }

private:
    double sample_rate_hz_;
    Law law_;
    Waveform waveform_;
    std::int64_t glide_samples_;
    Glide octaves_; // of the frequency, above 1 Hz
    Glide amplitude_;
    double phase_rad_ = 0.0;
    double phase_step_rad_ = 0.0;
};

Voice tone_voice(double sample_rate_hz); // a sine by the laws of pitch and loudness above
Voice hum_voice(double sample_rate_hz);  // the mains' harmonics, at the mains' pitch

} // namespace sondeyard::audio
