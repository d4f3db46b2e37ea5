#include "audio/speaker.hpp"

#include <AL/al.h>
#include <AL/alc.h>
#include <AL/alext.h>
#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdio>
#include <mutex>
#include <stdexcept>
#include <stop_token>
#include <thread>
#include <utility>

namespace sondeyard::audio {

namespace {

using namespace std::chrono_literals;

constexpr auto kTopUpEvery = 5ms;
constexpr auto kLongestFade = 500ms; // a stuck device must not hold up the end of the program

// Points file descriptor 2 at nothing while it lives. The sound libraries write to the descriptor itself, so that
// nothing less keeps their lines off the terminal.
class StderrShut {
public:
    StderrShut() {
        std::fflush(stderr);
        const int nothing = ::open("/dev/null", O_WRONLY | O_CLOEXEC);
        if (nothing < 0) {
            return;
        }
        saved_ = ::fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
        if (saved_ >= 0) {
            ::dup2(nothing, STDERR_FILENO);
        }
        ::close(nothing);
    }
    ~StderrShut() {
        if (saved_ < 0) {
            return;
        }
        std::fflush(stderr);
        ::dup2(saved_, STDERR_FILENO);
        ::close(saved_);
    }
    StderrShut(const StderrShut&) = delete;
    StderrShut& operator=(const StderrShut&) = delete;

private:
    int saved_ = -1;
};

void require_al(const char* doing) {
    if (alGetError() != AL_NO_ERROR) {
        throw std::runtime_error(std::string("the sound library refused ") + doing);
    }
}

struct DeviceCloser {
    void operator()(ALCdevice* device) const { alcCloseDevice(device); }
};
struct ContextCloser {
    void operator()(ALCcontext* context) const {
        alcMakeContextCurrent(nullptr);
        alcDestroyContext(context);
    }
};

} // namespace

ToneStream::ToneStream() : block_(kBlockSamples), tone_(tone_voice(kSampleRateHz)), hum_(hum_voice(kSampleRateHz)) {
    if (alIsExtensionPresent("AL_EXT_FLOAT32") != AL_TRUE) {
        throw std::runtime_error("the sound library takes no samples as 32-bit floats");
    }
    alGetError();
    alGenSources(1, &source_);
    require_al("a source");
    alGenBuffers(static_cast<ALsizei>(kBlockCount), buffers_.data());
    if (alGetError() != AL_NO_ERROR) {
        alDeleteSources(1, &source_);
        throw std::runtime_error("the sound library refused buffers");
    }
    alSourcei(source_, AL_SOURCE_RELATIVE, AL_TRUE); // the tone is in the ear, not at a place
}

ToneStream::~ToneStream() {
    stop();
    alDeleteSources(1, &source_);
    alDeleteBuffers(static_cast<ALsizei>(kBlockCount), buffers_.data());
}

void ToneStream::top_up(const ToneSetting& setting) {
    if (!started_) {
        for (const unsigned buffer : buffers_) {
            queue_block(buffer, setting);
        }
        alSourcePlay(source_);
        started_ = true;
        return;
    }
    ALint state = AL_PLAYING;
    alGetSourcei(source_, AL_SOURCE_STATE, &state);
    const bool ran_dry = state != AL_PLAYING;
    if (ran_dry) {
        ++underruns_;
        hum_.restart_silent();
        tone_.restart_silent(); // the gap has cut the tone already: let it come back softly
    }
    ALint played = 0;
    alGetSourcei(source_, AL_BUFFERS_PROCESSED, &played);
    for (; played > 0; --played) {
        ALuint buffer = 0;
        alSourceUnqueueBuffers(source_, 1, &buffer);
        queue_block(buffer, setting);
    }
    if (ran_dry) {
        alSourcePlay(source_);
    }
}

void ToneStream::queue_block(unsigned buffer, const ToneSetting& setting) {
    tone_.set(setting);
    hum_.set(setting);
    silent_blocks_ = tone_.silent() && hum_.silent() ? silent_blocks_ + 1 : 0;
    std::fill(block_.begin(), block_.end(), 0.0F);
    tone_.add_to(block_);
    hum_.add_to(block_);
    alBufferData(buffer, AL_FORMAT_MONO_FLOAT32, block_.data(), static_cast<ALsizei>(block_.size() * sizeof(float)),
                 kSampleRateHz);
    alSourceQueueBuffers(source_, 1, &buffer);
}

void ToneStream::stop() {
    alSourceStop(source_);
    alSourcei(source_, AL_BUFFER, 0); // lets go of the whole queue
    tone_.restart_silent();
    hum_.restart_silent();
    started_ = false;
    silent_blocks_ = 0;
}

struct Speaker::Impl {
    std::unique_ptr<ALCdevice, DeviceCloser> device;
    std::unique_ptr<ALCcontext, ContextCloser> context;
    std::unique_ptr<ToneStream> stream; // the thread's own once it runs
    LPALCDEVICEPAUSESOFT pause_device = nullptr;
    LPALCDEVICERESUMESOFT resume_device = nullptr;

    // Read one by one: a block with the new signal and the old volume is heard by nobody.
    std::atomic<double> signal_dbpt{ToneSetting{}.signal_dbpt};
    std::atomic<double> volume{ToneSetting{}.volume};
    std::atomic<bool> muted{false};
    std::atomic<double> hum_dbpt{ToneSetting{}.hum_dbpt};
    std::atomic<double> mains_hz{ToneSetting{}.mains_hz};
    std::atomic<std::uint64_t> underruns{0};
    std::atomic<bool> has_device{false};

    mutable std::mutex mutex; // guards the two below
    bool running = true;
    std::string status;
    std::condition_variable_any changed;

    std::jthread thread; // last, so that it is joined before anything it uses goes

    void open(const char* device_name);
    void run(const std::stop_token& stop);
    bool play_until_told(const std::stop_token& stop);
    void fade_out();
    void top_up(const ToneSetting& setting);
    [[nodiscard]] bool unplugged() const;
    void say(std::string sentence);
};

void Speaker::Impl::open(const char* device_name) {
    const StderrShut shut;
    device.reset(alcOpenDevice(device_name));
    if (!device) {
        say("No sound device could be opened, so the tone stays silent; everything else works.");
        return;
    }
    const ALCint wanted[] = {ALC_FREQUENCY, kSampleRateHz, 0};
    context.reset(alcCreateContext(device.get(), wanted));
    if (!context || alcMakeContextCurrent(context.get()) != ALC_TRUE) {
        say("The sound device could not be set up, so the tone stays silent; everything else works.");
        return;
    }
    try {
        stream = std::make_unique<ToneStream>();
    } catch (const std::runtime_error& error) {
        say(std::string("The tone stays silent, because ") + error.what() + "; everything else works.");
        return;
    }
    if (alcIsExtensionPresent(device.get(), "ALC_SOFT_pause_device") == ALC_TRUE) {
        pause_device = reinterpret_cast<LPALCDEVICEPAUSESOFT>(alcGetProcAddress(device.get(), "alcDevicePauseSOFT"));
        resume_device = reinterpret_cast<LPALCDEVICERESUMESOFT>(alcGetProcAddress(device.get(), "alcDeviceResumeSOFT"));
    }
    const char* name = alcGetString(device.get(), ALC_ALL_DEVICES_SPECIFIER);
    say(std::string("The tone plays through ") + (name != nullptr ? name : "the default sound device") + ".");
    has_device = true;
}

void Speaker::Impl::run(const std::stop_token& stop) {
    while (!stop.stop_requested()) {
        {
            std::unique_lock lock(mutex);
            if (!changed.wait(lock, stop, [this] { return running; })) {
                return;
            }
        }
        if (resume_device != nullptr) {
            resume_device(device.get());
        }
        if (!play_until_told(stop)) {
            has_device = false;
            say("The sound device was unplugged, so the tone stays silent; everything else works.");
            return;
        }
        fade_out();
        stream->stop();
        if (pause_device != nullptr) {
            pause_device(device.get()); // else the library goes on mixing nothing
        }
    }
}

// False if the device went away.
bool Speaker::Impl::play_until_told(const std::stop_token& stop) {
    while (!stop.stop_requested()) {
        if (unplugged()) {
            return false;
        }
        top_up(
            {.signal_dbpt = signal_dbpt, .volume = volume, .muted = muted, .hum_dbpt = hum_dbpt, .mains_hz = mains_hz});
        std::unique_lock lock(mutex);
        if (changed.wait_for(lock, stop, kTopUpEvery, [this] { return !running; })) {
            return true;
        }
    }
    return true;
}

void Speaker::Impl::fade_out() {
    const auto latest = std::chrono::steady_clock::now() + kLongestFade;
    while (!stream->drained() && std::chrono::steady_clock::now() < latest) {
        top_up({.muted = true});
        std::this_thread::sleep_for(kTopUpEvery);
    }
}

void Speaker::Impl::top_up(const ToneSetting& setting) {
    stream->top_up(setting);
    underruns = stream->underruns();
}

bool Speaker::Impl::unplugged() const {
    ALCint connected = ALC_TRUE;
    if (alcIsExtensionPresent(device.get(), "ALC_EXT_disconnect") == ALC_TRUE) {
        alcGetIntegerv(device.get(), ALC_CONNECTED, 1, &connected);
    }
    return connected != ALC_TRUE;
}

void Speaker::Impl::say(std::string sentence) {
    const std::lock_guard lock(mutex);
    status = std::move(sentence);
}

Speaker::Speaker(const char* device_name) : impl_(std::make_unique<Impl>()) {
    impl_->open(device_name);
    if (impl_->has_device) {
        impl_->thread = std::jthread([impl = impl_.get()](const std::stop_token& stop) { impl->run(stop); });
    }
}

Speaker::~Speaker() = default;

void Speaker::set(const ToneSetting& setting) {
    impl_->signal_dbpt = setting.signal_dbpt;
    impl_->volume = setting.volume;
    impl_->muted = setting.muted;
    impl_->hum_dbpt = setting.hum_dbpt;
    impl_->mains_hz = setting.mains_hz;
}

void Speaker::set_running(bool running) {
    {
        const std::lock_guard lock(impl_->mutex);
        impl_->running = running;
    }
    impl_->changed.notify_all();
}

bool Speaker::has_device() const { return impl_->has_device; }

std::string Speaker::status() const {
    const std::lock_guard lock(impl_->mutex);
    return impl_->status;
}

std::uint64_t Speaker::underruns() const { return impl_->underruns; }

} // namespace sondeyard::audio
