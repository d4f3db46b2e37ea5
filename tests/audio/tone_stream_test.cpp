// The tone as a sound card would get it: the shipped queueing code, rendered and measured through a loopback device.
#include "audio/speaker.hpp"
#include "audio/tone.hpp"
#include "tests/audio/measure.hpp"

#include <AL/al.h>
#include <AL/alc.h>
#include <AL/alext.h>
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <numbers>
#include <span>
#include <stdexcept>
#include <vector>

using namespace sondeyard::audio;
using namespace sondeyard::audio::measure;

namespace {

constexpr std::size_t kChunk = 256; // 5.3 ms, about how often the thread tops up

// A loopback device with a stream on it. Without the extension nothing here can be measured, so that is a failure.
class Rig {
public:
    Rig() {
        if (alcIsExtensionPresent(nullptr, "ALC_SOFT_loopback") != ALC_TRUE) {
            throw std::runtime_error("ALC_SOFT_loopback is missing: the tone cannot be measured on this machine");
        }
        const auto open =
            reinterpret_cast<LPALCLOOPBACKOPENDEVICESOFT>(alcGetProcAddress(nullptr, "alcLoopbackOpenDeviceSOFT"));
        render_ = reinterpret_cast<LPALCRENDERSAMPLESSOFT>(alcGetProcAddress(nullptr, "alcRenderSamplesSOFT"));
        if (open == nullptr || render_ == nullptr) {
            throw std::runtime_error("the loopback calls are missing");
        }
        device_ = open(nullptr);
        // Without its limiter the library leaves levels alone.
        const ALCint wanted[] = {ALC_FORMAT_CHANNELS_SOFT,
                                 ALC_MONO_SOFT,
                                 ALC_FORMAT_TYPE_SOFT,
                                 ALC_FLOAT_SOFT,
                                 ALC_FREQUENCY,
                                 kSampleRateHz,
                                 ALC_HRTF_SOFT,
                                 ALC_FALSE,
                                 ALC_OUTPUT_LIMITER_SOFT,
                                 ALC_FALSE,
                                 0};
        context_ = alcCreateContext(device_, wanted);
        if (context_ == nullptr || alcMakeContextCurrent(context_) != ALC_TRUE) {
            throw std::runtime_error("the loopback device could not be set up");
        }
        stream = std::make_unique<ToneStream>();
    }
    ~Rig() {
        stream.reset();
        alcMakeContextCurrent(nullptr);
        alcDestroyContext(context_);
        alcCloseDevice(device_);
    }
    Rig(const Rig&) = delete;
    Rig& operator=(const Rig&) = delete;

    // Plays on by `samples`, topping up the queue as the thread does, and keeps what came out.
    void play(std::size_t samples, const ToneSetting& setting) {
        for (std::size_t done = 0; done < samples; done += kChunk) {
            stream->top_up(setting);
            starve(kChunk);
        }
    }

    // Plays on without topping up.
    void starve(std::size_t samples) {
        out.resize(out.size() + samples);
        render_(device_, out.data() + (out.size() - samples), static_cast<ALCsizei>(samples));
    }

    // As the speaker comes to rest.
    void fade_out() {
        for (int i = 0; i < 200 && !stream->drained(); ++i) {
            play(kChunk, {.muted = true});
        }
    }

    std::unique_ptr<ToneStream> stream;
    std::vector<float> out;

private:
    LPALCRENDERSAMPLESSOFT render_ = nullptr;
    ALCdevice* device_ = nullptr;
    ALCcontext* context_ = nullptr;
};

constexpr std::size_t seconds(double s) { return static_cast<std::size_t>(s * kSampleRateHz); }

// How long after a change of setting the sound is all at the new one: the queue, one block, the glide.
constexpr std::size_t kSettled = (kBlockCount + 1) * kBlockSamples + seconds(kGlideS) + kChunk;

std::span<const float> last(const Rig& rig, std::size_t samples) { return std::span(rig.out).last(samples); }

// By upward zero crossings, each placed between its two samples by a straight line.
double frequency_hz(std::span<const float> sound) {
    double first = -1.0;
    double final = -1.0;
    int crossings = 0;
    for (std::size_t i = 1; i < sound.size(); ++i) {
        const double before = sound[i - 1];
        const double after = sound[i];
        if (!(before < 0.0 && after >= 0.0)) {
            continue;
        }
        final = static_cast<double>(i - 1) + before / (before - after);
        if (first < 0.0) {
            first = final;
        }
        ++crossings;
    }
    return crossings < 2 ? 0.0 : (crossings - 1) * kSampleRateHz / (final - first);
}

// How far `sound` is from being one unbroken sine: every sine obeys x[n+1] = 2 cos(w) x[n] - x[n-1] exactly, so that a
// shift of phase, a step of gain or a lost sample anywhere shows at full size, and only rounding is left otherwise.
double largest_break(std::span<const float> sound, double hz) {
    const double two_cos = 2.0 * std::cos(2.0 * std::numbers::pi * hz / kSampleRateHz);
    double most = 0.0;
    for (std::size_t i = 2; i < sound.size(); ++i) {
        most = std::max(most, std::abs(static_cast<double>(sound[i]) - two_cos * sound[i - 1] + sound[i - 2]));
    }
    return most;
}

std::size_t longest_run_of_zeros(std::span<const float> sound) {
    std::size_t most = 0;
    std::size_t run = 0;
    for (const float sample : sound) {
        run = sample == 0.0F ? run + 1 : 0;
        most = std::max(most, run);
    }
    return most;
}

constexpr double kRounding = 4e-7; // a few units in the last place of floats up to 0.5

} // namespace

TEST_CASE("the rendered frequency is within 1 % of the stated law, also after a sudden change") {
    // Worked out by hand from 150 Hz * 2^(dB / 33), not by the code under test.
    struct Point {
        double signal_dbpt, hz;
    };
    constexpr Point kPoints[] = {{0.0, 150.0},   {20.0, 228.31}, {132.0, 2400.0}, {33.0, 300.0},
                                 {69.1, 640.40}, {-12.0, 150.0}, {110.0, 1511.9}, {200.0, 2400.0}};
    Rig rig;
    for (const Point& point : kPoints) {
        CAPTURE(point.signal_dbpt);
        const ToneSetting setting{.signal_dbpt = point.signal_dbpt, .volume = 0.8};
        rig.play(kSettled, setting);
        rig.play(seconds(0.4), setting);
        CHECK(frequency_hz(last(rig, seconds(0.4))) == doctest::Approx(point.hz).epsilon(0.001));
    }
    CHECK(rig.stream->underruns() == 0);
}

TEST_CASE("a steady tone is one unbroken sine over many blocks") {
    for (const double signal : {20.0, 69.1, 110.0}) {
        CAPTURE(signal);
        Rig rig;
        const ToneSetting setting{.signal_dbpt = signal, .volume = 1.0};
        rig.play(kSettled, setting);
        rig.play(seconds(2.0), setting); // 93 borders
        const auto steady = last(rig, seconds(2.0));
        CHECK(largest_break(steady, 150.0 * std::exp2(signal / 33.0)) < kRounding);
        CHECK(peak(steady) == doctest::Approx(0.5).epsilon(0.005));
        CHECK(longest_run_of_zeros(steady) <= 1);
        CHECK(rig.stream->underruns() == 0);
    }
}

TEST_CASE("the tone starts and stops without a click and stops altogether") {
    for (const double signal : {0.0, 10.0, 33.0, 110.0}) {
        CAPTURE(signal);
        Rig rig;
        const ToneSetting setting{.signal_dbpt = signal, .volume = 1.0};
        for (int round = 0; round < 3; ++round) {
            rig.play(seconds(0.31), setting);
            rig.fade_out();
            REQUIRE(rig.stream->drained());
            rig.stream->stop();
            rig.starve(kChunk);
            CHECK(peak(last(rig, kChunk)) == 0.0);
        }
        check_no_click(rig.out, 150.0 * std::exp2(signal / 33.0), 0.5);
        CHECK(peak(rig.out) > 0.5 * std::pow(10.0, -11.0 / 20.0));
        CHECK(rig.stream->underruns() == 0);
    }
}

TEST_CASE("mute and volume act without a click") {
    Rig rig;
    const ToneSetting loud{.signal_dbpt = 10.0, .volume = 1.0}; // low and loud, where a click shows most
    const ToneSetting soft{.signal_dbpt = 10.0, .volume = 0.3};
    const ToneSetting muted{.signal_dbpt = 10.0, .volume = 1.0, .muted = true};
    // Lengths that are no multiple of the period or the block, so that changes fall everywhere in the wave.
    for (int i = 0; i < 12; ++i) {
        rig.play(seconds(0.15) + 300U * static_cast<unsigned>(i), loud);
        rig.play(seconds(0.12) + 200U * static_cast<unsigned>(i), muted);
        rig.play(seconds(0.03), loud);
        rig.play(seconds(0.02), soft);
    }
    check_no_click(rig.out, 150.0 * std::exp2(10.0 / 33.0), 0.5);

    rig.play(kSettled, soft);
    rig.play(seconds(0.2), soft);
    CHECK(peak(last(rig, seconds(0.2))) == doctest::Approx(0.5 * 0.3 * 0.3).epsilon(0.005));
    rig.play(kSettled, muted);
    rig.play(seconds(0.2), muted);
    CHECK(peak(last(rig, seconds(0.2))) == 0.0);
    CHECK(rig.stream->underruns() == 0);
}

TEST_CASE("the tone follows a sweeping and a jumping signal without a click or a drop-out") {
    Rig rig;
    rig.play(kSettled, {.signal_dbpt = 10.0, .volume = 1.0});
    const std::size_t from = rig.out.size();
    for (int i = 0; i < 600; ++i) { // up and down between 10 and 60 dBpT, with a jump now and then
        const double sweep = 35.0 + 25.0 * std::sin(0.05 * i);
        rig.play(kChunk, {.signal_dbpt = i % 97 < 9 ? 12.0 : sweep, .volume = 1.0});
    }
    const auto sound = std::span<const float>(rig.out).subspan(from);
    check_no_click(sound, 150.0 * std::exp2(60.0 / 33.0), 0.5);
    CHECK(longest_run_of_zeros(sound) <= 1);
    // Each quarter of the longest period (5.4 ms at 12 dBpT) has some sound in it.
    for (std::size_t at = 0; at + 240 <= sound.size(); at += 240) {
        REQUIRE(peak(sound.subspan(at, 240)) > 0.3);
    }
    CHECK(rig.stream->underruns() == 0);
}

TEST_CASE("a glide takes the stated time and passes through the pitches between") {
    Voice synth = tone_voice(kSampleRateHz);
    std::vector<float> sound(9600, 0.0F);
    synth.set({.signal_dbpt = 66.0, .volume = 1.0});
    synth.add_to(sound);
    synth.set({.signal_dbpt = 132.0, .volume = 1.0});
    sound.assign(9600, 0.0F);
    synth.add_to(sound);
    const std::span<const float> after(sound);
    CHECK(frequency_hz(after.subspan(600, 240)) == doctest::Approx(1200.0).epsilon(0.05)); // half way, by ratio
    CHECK(frequency_hz(after.subspan(1450, 4800)) == doctest::Approx(2400.0).epsilon(0.001));
}

TEST_CASE("coming out of silence the tone starts at its pitch, and going into it the pitch holds") {
    Rig rig;
    rig.play(seconds(0.3), {.signal_dbpt = 10.0, .volume = 1.0});
    rig.play(seconds(0.3), {.signal_dbpt = 110.0, .volume = 1.0, .muted = true});
    check_no_click(rig.out, 150.0 * std::exp2(10.0 / 33.0), 0.5); // a chirp towards 1512 Hz would step by more
    rig.out.clear();
    rig.play(seconds(0.4), {.signal_dbpt = 99.0, .volume = 1.0});
    const auto sounding = std::find_if(rig.out.begin(), rig.out.end(), [](float x) { return x != 0.0F; });
    REQUIRE(rig.out.end() - sounding > 1440);
    CHECK(frequency_hz(std::span<const float>(sounding, 1440)) == doctest::Approx(1200.0).epsilon(0.005));
}

TEST_CASE("stopping in the middle of a tone empties the queue, and starting again begins softly") {
    Rig rig;
    const ToneSetting setting{.signal_dbpt = 10.0, .volume = 1.0};
    rig.play(seconds(0.3), setting);
    rig.stream->stop();
    rig.starve(2 * kBlockSamples);
    CHECK(peak(last(rig, kBlockSamples)) == 0.0);
    const std::size_t from = rig.out.size() - 1; // with the last sample of the silence
    rig.play(seconds(0.3), setting);
    check_no_click(std::span<const float>(rig.out).subspan(from), 150.0 * std::exp2(10.0 / 33.0), 0.5);
    CHECK(peak(last(rig, seconds(0.1))) == doctest::Approx(0.5).epsilon(0.005));
    CHECK(rig.stream->underruns() == 0);
}

TEST_CASE("a signal that is no number fades to silence and back") {
    constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
    constexpr double kInf = std::numeric_limits<double>::infinity();
    for (const ToneSetting& bad :
         {ToneSetting{.signal_dbpt = kNan, .volume = 1.0}, ToneSetting{.signal_dbpt = kInf, .volume = 1.0},
          ToneSetting{.signal_dbpt = -kInf, .volume = 1.0}, ToneSetting{.signal_dbpt = 10.0, .volume = kNan},
          ToneSetting{.signal_dbpt = 10.0, .volume = kInf}}) {
        CAPTURE(bad.signal_dbpt);
        CAPTURE(bad.volume);
        Rig rig;
        const ToneSetting good{.signal_dbpt = 10.0, .volume = 1.0};
        rig.play(seconds(0.3), good);
        rig.play(kSettled, bad);
        rig.play(seconds(0.1), bad);
        CHECK(peak(last(rig, seconds(0.1))) == 0.0);
        rig.play(kSettled, good);
        rig.play(seconds(0.2), good);
        CHECK(peak(last(rig, seconds(0.2))) == doctest::Approx(0.5).epsilon(0.005));
        CHECK(std::all_of(rig.out.begin(), rig.out.end(), [](float x) { return std::isfinite(x); }));
        check_no_click(rig.out, 150.0 * std::exp2(10.0 / 33.0), 0.5);
    }
}

TEST_CASE("a source that ran dry is counted, started again softly and plays on") {
    Rig rig;
    const ToneSetting setting{.signal_dbpt = 20.0, .volume = 1.0};
    for (std::uint64_t round = 1; round <= 4; ++round) {
        rig.play(seconds(0.3) + 500 * round, setting);
        rig.starve((kBlockCount + 2) * kBlockSamples);
        CHECK(peak(last(rig, kBlockSamples)) == 0.0); // it did run dry
        CHECK(rig.stream->underruns() == round - 1);
        const std::size_t from = rig.out.size() - 1; // with the last sample of the silence
        rig.play(seconds(0.5), setting);
        CHECK(rig.stream->underruns() == round);
        check_no_click(std::span<const float>(rig.out).subspan(from), 228.31, 0.5);
        CHECK(frequency_hz(last(rig, seconds(0.3))) == doctest::Approx(228.31).epsilon(0.001));
        CHECK(peak(last(rig, seconds(0.3))) == doctest::Approx(0.5).epsilon(0.005));
    }
}

TEST_CASE("a tone adds to what is in the block already") {
    Voice synth = tone_voice(kSampleRateHz);
    synth.set({.signal_dbpt = 33.0, .volume = 1.0});
    std::vector<float> with(kBlockSamples, 0.25F);
    synth.add_to(with);
    Voice same = tone_voice(kSampleRateHz);
    same.set({.signal_dbpt = 33.0, .volume = 1.0});
    std::vector<float> alone(kBlockSamples, 0.0F);
    same.add_to(alone);
    for (std::size_t i = 0; i < kBlockSamples; ++i) {
        REQUIRE(with[i] == doctest::Approx(0.25F + alone[i]));
    }
    CHECK(peak(alone) > 0.3);
}
