#include "audio/tone.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace sondeyard::audio {

double raise_by_semitones(double hz, double semitones) { return hz * std::exp2(semitones / 12.0); }

double tone_frequency_hz(double signal_dbpt) {
    if (!std::isfinite(signal_dbpt)) {
        return kLowestHz;
    }
    const double clamped = std::clamp(signal_dbpt, kLowestPitchDbpt, kHighestPitchDbpt);
    return raise_by_semitones(kLowestHz, (clamped - kLowestPitchDbpt) / kDbPerSemitone);
}

double signal_loudness(double signal_dbpt) {
    if (!std::isfinite(signal_dbpt)) {
        return 0.0;
    }
    // The line of one decibel for one decibel never reaches zero by itself; taking its value at the silent end away
    // makes it do so without a step.
    const double floor = std::pow(10.0, (kSilenceDbpt - kFullLoudnessDbpt) / 20.0);
    const double line = std::pow(10.0, (std::min(signal_dbpt, kFullLoudnessDbpt) - kFullLoudnessDbpt) / 20.0);
    return std::max(0.0, (line - floor) / (1.0 - floor));
}

double tone_amplitude(const ToneSetting& setting) {
    if (setting.muted || !std::isfinite(setting.volume)) {
        return 0.0;
    }
    const double volume = std::clamp(setting.volume, 0.0, 1.0);
    return kFullAmplitude * volume * volume * signal_loudness(setting.signal_dbpt);
}

double hum_amplitude(const ToneSetting& setting) {
    if (setting.muted || !std::isfinite(setting.volume) || !std::isfinite(setting.hum_dbpt)) {
        return 0.0;
    }
    const double share = std::clamp((setting.hum_dbpt - kHumHeardDbpt) / (kHumFullDbpt - kHumHeardDbpt), 0.0, 1.0);
    const double volume = std::clamp(setting.volume, 0.0, 1.0);
    return kHumAmplitude * volume * volume * share;
}

void Glide::go_to(double new_target, std::int64_t samples) {
    if (new_target == target) {
        return; // a glide under way keeps its course and arrives
    }
    target = new_target;
    left = samples;
    step = (target - value) / static_cast<double>(samples);
}

void Glide::jump_to(double new_value) {
    value = target = new_value;
    left = 0;
}

bool Glide::advance() {
    if (left == 0) {
        return false;
    }
    --left;
    value = left == 0 ? target : value + step; // arrive exactly, whatever the rounding on the way
    return true;
}

namespace {

Sound tone_sound(const ToneSetting& setting) {
    return {tone_frequency_hz(setting.signal_dbpt), tone_amplitude(setting)};
}

Sound hum_sound(const ToneSetting& setting) { return {setting.mains_hz, hum_amplitude(setting)}; }

double tone_wave(double phase_rad) { return std::sin(phase_rad); }

double hum_wave(double phase_rad) {
    return 0.5 * std::sin(2.0 * phase_rad) + 0.3 * std::sin(3.0 * phase_rad) + 0.2 * std::sin(4.0 * phase_rad);
}

} // namespace

Voice::Voice(double sample_rate_hz, Law law, Waveform waveform)
    : sample_rate_hz_(sample_rate_hz), law_(law), waveform_(waveform),
      glide_samples_(std::max<std::int64_t>(1, std::llround(kGlideS * sample_rate_hz))) {}

void Voice::set(const ToneSetting& setting) {
    const Sound sound = law_(setting);
    if (sound.amplitude > 0.0) {
        const double octaves = std::log2(sound.hz);
        if (amplitude_.value == 0.0) {
            octaves_.jump_to(octaves);
            phase_rad_ = 0.0;
            phase_step_rad_ = 2.0 * std::numbers::pi * std::exp2(octaves) / sample_rate_hz_;
        } else {
            octaves_.go_to(octaves, glide_samples_);
        }
    }
    amplitude_.go_to(sound.amplitude, glide_samples_);
}

void Voice::add_to(std::span<float> block) {
    if (silent()) {
        return;
    }
    constexpr double kTurn = 2.0 * std::numbers::pi;
    for (float& sample : block) {
        sample += static_cast<float>(amplitude_.value * waveform_(phase_rad_));
        if (octaves_.advance()) {
            phase_step_rad_ = kTurn * std::exp2(octaves_.value) / sample_rate_hz_;
        }
        amplitude_.advance();
        phase_rad_ += phase_step_rad_;
        if (phase_rad_ >= kTurn) {
            phase_rad_ -= kTurn; // small phases keep their digits through a long exercise
        }
    }
}

void Voice::restart_silent() { amplitude_.jump_to(0.0); }

Voice tone_voice(double sample_rate_hz) { return {sample_rate_hz, tone_sound, tone_wave}; }

Voice hum_voice(double sample_rate_hz) { return {sample_rate_hz, hum_sound, hum_wave}; }

} // namespace sondeyard::audio
