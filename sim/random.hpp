// Counter-based random numbers: a draw is a function of (seed, stream, counter) and of nothing else, so no draw
// depends on the order of calls, and the same seed gives the same world on every machine.
//
// Generator: Philox4x32-10 (Salmon, Moraes, Dror, Shaw: Parallel random numbers: as easy as 1, 2, 3; SC11, 2011).
// Gaussians: Box and Muller 1958.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace sondeyard::sim {

// The bare generator: 128 bits out of a 128-bit counter and a 64-bit key. Words as in the publication.
std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key);

// A stream is a name for one use of randomness ("lean", "noise", "yard.house"); its number is the FNV-1a hash of the
// name.
constexpr std::uint64_t stream_of(std::string_view name) {
    std::uint64_t h = 0xcbf29ce484222325ULL;
    for (const char c : name) {
        h ^= static_cast<std::uint8_t>(c);
        h *= 0x100000001b3ULL;
    }
    return h;
}

// Two independent draws in [0, 1), 53 bits each.
std::array<double, 2> uniform_pair(std::uint64_t seed, std::uint64_t stream, std::uint64_t counter);

// Two independent standard normal draws.
std::array<double, 2> normal_pair(std::uint64_t seed, std::uint64_t stream, std::uint64_t counter);

// A stream read in order, for building a world: counter 0, 1, 2, ...
class Draws {
public:
    Draws(std::uint64_t seed, std::string_view stream) : seed_(seed), stream_(stream_of(stream)) {}

    double uniform(double low, double high); // [low, high)
    double normal(double mean, double sd);
    int integer(int low, int high); // low..high, both possible; high >= low
    bool chance(double probability);

private:
    std::uint64_t seed_;
    std::uint64_t stream_;
    std::uint64_t counter_ = 0;
};

} // namespace sondeyard::sim
