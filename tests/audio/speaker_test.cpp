// The speaker and its thread, on a device that plays in real time into nothing, and on none at all.
#include "audio/speaker.hpp"
#include "tests/audio/measure.hpp"

#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <limits>
#include <span>
#include <stop_token>
#include <string>
#include <system_error>
#include <thread>
#include <vector>

#if defined(__SANITIZE_THREAD__)
// OpenAL Soft is not built for the thread sanitiser, which cannot see the fences of the library's lock-free queue and
// now and then takes its two ends, both inside the library, for a race. Races in this program's code are still
// reported.
extern "C" const char* __tsan_default_suppressions() { // NOLINT(bugprone-reserved-identifier): the sanitiser's name
    return "race:libopenal.so";
}
#endif

using namespace sondeyard::audio;
using namespace std::chrono_literals;

namespace {

// OpenAL Soft reads this once, at its first call in the process; so it is chosen before main. A value given from
// outside is kept: see run_child().
[[maybe_unused]] const int kNullDriverChosen = ::setenv("ALSOFT_DRIVERS", "null", 0);

constexpr const char* kChild = "SONDEYARD_AUDIO_TEST_CHILD"; // set, to `how`, in a test case run by run_child()
constexpr const char* kNoSuchDevice = "a device of this name does not exist";

double process_cpu_s() {
    timespec now{};
    ::clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

double seconds_since(std::chrono::steady_clock::time_point start) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

// Runs one test case of this program by itself, with other settings of the environment; returns all that it printed.
std::string run_child(const std::string& environment, const std::string& test_case, const std::string& how = "1") {
    char self[4096] = {};
    REQUIRE(::readlink("/proc/self/exe", self, sizeof self - 1) > 0);
    const std::string command =
        std::string(kChild) + "=" + how + " " + environment + " '" + self + "' \"--test-case=" + test_case + "\" 2>&1";
    std::FILE* pipe = ::popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::string said;
    for (int c = std::fgetc(pipe); c != EOF; c = std::fgetc(pipe)) {
        said += static_cast<char>(c);
    }
    const int code = ::pclose(pipe);
    INFO(said);
    CHECK(WIFEXITED(code));
    CHECK(WEXITSTATUS(code) == 0);
    return said;
}

struct TemporaryFolder {
    std::string path = (std::filesystem::temp_directory_path() / "sondeyard-audio-XXXXXX").string();
    TemporaryFolder() { REQUIRE(::mkdtemp(path.data()) != nullptr); }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
};

// Samples of a RIFF file with one channel of 32-bit floats at kSampleRateHz; little-endian machines only, like the
// program's packages.
std::vector<float> read_mono_float_wave(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
    const auto number = [&bytes](std::size_t at, std::size_t size) {
        std::uint32_t value = 0;
        REQUIRE(at + size <= bytes.size());
        std::memcpy(&value, bytes.data() + at, size);
        return value;
    };
    const std::size_t format = bytes.find("fmt ");
    const std::size_t data = bytes.find("data");
    REQUIRE(format != std::string::npos);
    REQUIRE(data != std::string::npos);
    REQUIRE(number(format + 10, 2) == 1); // channels
    REQUIRE(number(format + 12, 4) == std::uint32_t{kSampleRateHz});
    REQUIRE(number(format + 22, 2) == 32); // bits
    std::vector<float> samples((bytes.size() - data - 8) / sizeof(float));
    std::memcpy(samples.data(), bytes.data() + data + 8, samples.size() * sizeof(float));
    return samples;
}

void use_in_every_way(Speaker& speaker) {
    constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
    constexpr double kInf = std::numeric_limits<double>::infinity();
    for (const double signal : {69.1, -500.0, 500.0, kNan, kInf, -kInf, 20.0}) {
        for (const double volume : {0.5, -1.0, 2.0, kNan, kInf}) {
            for (const bool muted : {false, true}) {
                speaker.set({.signal_dbpt = signal, .volume = volume, .muted = muted});
            }
        }
    }
    speaker.set_running(false);
    speaker.set_running(false);
    speaker.set_running(true);
    speaker.set_running(true);
}

} // namespace

TEST_CASE("a speaker without a device says so in a sentence and is harmless") {
    const auto start = std::chrono::steady_clock::now();
    {
        Speaker speaker(kNoSuchDevice);
        CHECK_FALSE(speaker.has_device());
        CHECK(speaker.status() == "No sound device could be opened, so the tone stays silent; everything else works.");
        use_in_every_way(speaker);
        CHECK(speaker.underruns() == 0);
    }
    CHECK(seconds_since(start) < 1.0);
}

TEST_CASE("on a machine without a sound card the default device is missing, and nothing is printed about it") {
    if (std::getenv(kChild) != nullptr) {
        const Speaker speaker;
        std::printf("status: %s\n", speaker.status().c_str());
        return;
    }
    // ALSA with an empty configuration knows no card, and complains at length on the standard error.
    const std::string said =
        run_child("ALSOFT_DRIVERS=alsa ALSA_CONFIG_PATH=/dev/null", "on a machine without a sound card*");
    CAPTURE(said);
    CHECK(said.find("status: No sound device could be opened") != std::string::npos);
    CHECK(said.find("ALSA") == std::string::npos);
    CHECK(said.find("AL lib") == std::string::npos);
}

TEST_CASE("what the speaker's own thread sends to a device has no click at start, mute, rest and end") {
    // The library's wave writer stands for the card. It begins its file anew after a rest, so the rest comes last.
    if (const char* how = std::getenv(kChild); how != nullptr) {
        Speaker speaker;
        std::printf("has device: %d\n", speaker.has_device() ? 1 : 0);
        for (int i = 0; i < 6; ++i) {
            speaker.set(
                {.signal_dbpt = 10.0, .volume = 1.0, .muted = i % 2 == 1}); // low and loud, where a click shows most
            std::this_thread::sleep_for(200ms + i * 7ms);
        }
        speaker.set({.signal_dbpt = 10.0, .volume = 1.0, .muted = false});
        std::this_thread::sleep_for(300ms);
        if (std::string(how) == "rest") {
            speaker.set_running(false);
            std::this_thread::sleep_for(400ms);
        }
        std::printf("underruns: %d\n", static_cast<int>(speaker.underruns()));
        return; // otherwise it ends in the middle of the tone
    }
    for (const std::string how : {"rest", "end"}) {
        CAPTURE(how);
        const TemporaryFolder folder;
        const std::string wave = folder.path + "/tone.wav";
        const std::string conf = folder.path + "/openal.conf";
        std::ofstream(conf) << "[general]\nfrequency=48000\nchannels=mono\nsample-type=float32\nhrtf=false\n"
                            << "output-limiter=false\ndither=false\n[wave]\nfile=" << wave << "\n";
        std::string said;
        for (int round = 0; round < 3 && said.find("underruns: 0\n") == std::string::npos; ++round) {
            said = run_child("ALSOFT_DRIVERS=wave ALSOFT_CONF='" + conf + "'", "what the speaker's own thread*", how);
        }
        CAPTURE(said);
        REQUIRE(said.find("has device: 1") != std::string::npos);
        REQUIRE(said.find("underruns: 0\n") != std::string::npos); // a crowded machine gets three tries
        const std::vector<float> sound = read_mono_float_wave(wave);
        REQUIRE(sound.size() > std::size_t{kSampleRateHz});
        measure::check_no_click(sound, 150.0 * std::exp2(10.0 / 33.0), 0.5);
        CHECK(measure::peak(sound) == doctest::Approx(0.5).epsilon(0.005));
        CHECK(measure::peak(std::span(sound).last(1024)) == 0.0);
    }
}

TEST_CASE("a speaker plays a second without running dry") {
    // The thread may oversleep 85 ms before the tone is cut, which a crowded machine can bring about: one clean second
    // of three is asked for.
    std::uint64_t fewest = std::numeric_limits<std::uint64_t>::max();
    for (int round = 0; round < 3 && fewest > 0; ++round) {
        Speaker speaker;
        REQUIRE_MESSAGE(speaker.has_device(), speaker.status());
        CHECK(speaker.status().starts_with("The tone plays through "));
        for (int frame = 0; frame < 60; ++frame) {
            speaker.set({.signal_dbpt = 20.0 + frame, .volume = 0.7, .muted = frame % 20 == 19});
            std::this_thread::sleep_for(17ms);
        }
        fewest = std::min(fewest, speaker.underruns());
    }
    CHECK(fewest == 0);
}

TEST_CASE("a resting speaker takes no processor time, and plays again when told") {
    Speaker speaker;
    REQUIRE(speaker.has_device());
    speaker.set({.signal_dbpt = 60.0, .volume = 0.7, .muted = false});
    std::this_thread::sleep_for(200ms);
    speaker.set_running(false);
    std::this_thread::sleep_for(400ms); // the fade
    const double resting_from = process_cpu_s();
    std::this_thread::sleep_for(500ms);
    CHECK(process_cpu_s() - resting_from < 0.0005);
    speaker.set_running(true);
    const double playing_from = process_cpu_s();
    std::this_thread::sleep_for(500ms);
    CHECK(process_cpu_s() - playing_from > 0.0015);
}

TEST_CASE("settings may come from any thread while the tone starts and stops") {
    for (int round = 0; round < 5; ++round) {
        Speaker speaker;
        REQUIRE(speaker.has_device());
        const auto busy = [&speaker](const std::stop_token& stop) {
            while (!stop.stop_requested()) {
                use_in_every_way(speaker);
                static_cast<void>(speaker.status());
                static_cast<void>(speaker.underruns());
                std::this_thread::sleep_for(1ms);
            }
        };
        const std::jthread one(busy);
        const std::jthread two(busy);
        std::this_thread::sleep_for(std::chrono::milliseconds(20 * round + 5));
    }
    CHECK(true); // reached: nothing locked up; a thread sanitiser sees the rest
}

TEST_CASE("closing a speaker is quick whether it plays or rests") {
    for (const bool running : {true, false}) {
        CAPTURE(running);
        auto start = std::chrono::steady_clock::now();
        {
            Speaker speaker;
            speaker.set({.signal_dbpt = 60.0, .volume = 1.0, .muted = false});
            speaker.set_running(running);
            std::this_thread::sleep_for(100ms);
            start = std::chrono::steady_clock::now();
        }
        CHECK(seconds_since(start) < 1.0);
    }
}
