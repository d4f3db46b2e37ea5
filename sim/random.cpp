#include "sim/random.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace sondeyard::sim {

namespace {

constexpr std::array<std::uint32_t, 2> multiplier = {0xD2511F53U, 0xCD9E8D57U};
constexpr std::array<std::uint32_t, 2> weyl = {0x9E3779B9U, 0xBB67AE85U};

double unit_interval(std::uint32_t high, std::uint32_t low) {
    const std::uint64_t bits = (static_cast<std::uint64_t>(high) << 32U) | low;
    return static_cast<double>(bits >> 11U) * 0x1.0p-53;
}

} // namespace

std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key) {
    for (int round = 0; round < 10; ++round) {
        const std::uint64_t p0 = static_cast<std::uint64_t>(multiplier[0]) * counter[0];
        const std::uint64_t p1 = static_cast<std::uint64_t>(multiplier[1]) * counter[2];
        counter = {static_cast<std::uint32_t>(p1 >> 32U) ^ counter[1] ^ key[0], static_cast<std::uint32_t>(p1),
                   static_cast<std::uint32_t>(p0 >> 32U) ^ counter[3] ^ key[1], static_cast<std::uint32_t>(p0)};
        key[0] += weyl[0];
        key[1] += weyl[1];
    }
    return counter;
}

std::array<double, 2> uniform_pair(std::uint64_t seed, std::uint64_t stream, std::uint64_t counter) {
    const auto word = philox4x32({static_cast<std::uint32_t>(counter), static_cast<std::uint32_t>(counter >> 32U),
                                  static_cast<std::uint32_t>(stream), static_cast<std::uint32_t>(stream >> 32U)},
                                 {static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32U)});
    return {unit_interval(word[0], word[1]), unit_interval(word[2], word[3])};
}

std::array<double, 2> normal_pair(std::uint64_t seed, std::uint64_t stream, std::uint64_t counter) {
    const auto u = uniform_pair(seed, stream, counter);
    const double radius = std::sqrt(-2.0 * std::log(1.0 - u[0])); // 1 - u: u may be 0, its log may not
    const double angle = 2.0 * std::numbers::pi * u[1];
    return {radius * std::cos(angle), radius * std::sin(angle)};
}

double Draws::uniform(double low, double high) {
    return low + (high - low) * uniform_pair(seed_, stream_, counter_++)[0];
}

double Draws::normal(double mean, double sd) { return mean + sd * normal_pair(seed_, stream_, counter_++)[0]; }

int Draws::integer(int low, int high) {
    const int drawn = low + static_cast<int>(std::floor(uniform(0.0, 1.0) * (high - low + 1)));
    return std::min(drawn, high);
}

bool Draws::chance(double probability) { return uniform(0.0, 1.0) < probability; }

} // namespace sondeyard::sim
