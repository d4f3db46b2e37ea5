// The way out: tone and hum streamed through OpenAL Soft. Having no sound card is no error; one goes on in silence.
#pragma once

#include "audio/tone.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace sondeyard::audio {

inline constexpr int kSampleRateHz = 48000;
inline constexpr std::size_t kBlockSamples = 1024; // 21 ms
inline constexpr std::size_t kBlockCount = 4;      // 85 ms ahead: what the thread may oversleep, and the tone's delay

// One OpenAL source with its queue of blocks, and the tone that fills them. Works on whatever context is current, a
// sound card's or a loopback device's, so that what is measured is what is heard. Not thread-safe.
class ToneStream {
public:
    // A context must be current, and the same one for the whole life of the stream.
    // Throws std::runtime_error if OpenAL refuses a source, buffers or samples as 32-bit floats.
    ToneStream();
    ~ToneStream();
    ToneStream(const ToneStream&) = delete;
    ToneStream& operator=(const ToneStream&) = delete;

    // Refills every block that has been played, following `setting`, and sees to it that the source plays.
    // To be called at least every few milliseconds; if the source ran dry it is started again out of silence and the
    // underrun counted.
    void top_up(const ToneSetting& setting);

    // True when the tone is off and every block that still had some of it has been played, here and (as far as a second
    // queue's length of silence can tell) by the sound card, which takes its samples in advance: stopping is not heard.
    [[nodiscard]] bool drained() const { return silent_blocks_ > 2 * kBlockCount; }

    // Stops at once and empties the queue; top_up() starts again.
    void stop();

    // How often the source ran dry so far.
    [[nodiscard]] std::uint64_t underruns() const { return underruns_; }

private:
    void queue_block(unsigned buffer, const ToneSetting& setting);

    unsigned source_ = 0;
    std::array<unsigned, kBlockCount> buffers_{};
    std::vector<float> block_;
    Voice tone_;
    Voice hum_;
    bool started_ = false;
    std::size_t silent_blocks_ = 0; // blocks queued in a row with nothing in them
    std::uint64_t underruns_ = 0;
};

// A sound device with a tone on it, fed by a thread of its own. At most one at a time in a process, since OpenAL's
// current context belongs to the process. All calls are thread-safe except construction and destruction.
class Speaker {
public:
    // Opens `device_name`, or the default device if null, and is running; there is silence until the first set().
    // Never throws for want of sound: see status(). Standard error is shut off for the moment of opening, because the
    // sound libraries below write there when there is no card.
    explicit Speaker(const char* device_name = nullptr);

    // Fades out (a quarter of a second, half a second at most), stops and closes.
    ~Speaker();
    Speaker(const Speaker&) = delete;
    Speaker& operator=(const Speaker&) = delete;

    // The tone to make from now on; heard about a tenth of a second later. Cheap: call it every frame.
    void set(const ToneSetting& setting);

    // false fades to silence, then lets thread and device rest until true is given. set() is remembered meanwhile.
    void set_running(bool running);

    // True while a device is open: not without a sound card, and no longer once it was unplugged.
    [[nodiscard]] bool has_device() const;

    // One sentence for the user: what sound is played through, or why there is none.
    [[nodiscard]] std::string status() const;

    // How often the tone was cut because this program was late, since the start.
    [[nodiscard]] std::uint64_t underruns() const;

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

} // namespace sondeyard::audio
