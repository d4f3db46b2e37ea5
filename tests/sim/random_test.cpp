// Counter-based randomness.
//
// | checked                           | against                                                                       |
// | ---                               | ---                                                                           |
// | the bare generator                | the three known answers published with Philox4x32-10 (kat_vectors, from memory)
// | | stream numbers                    | published FNV-1a values of "", "a" and "foobar" (from memory) | | uniform and
// normal draws          | their moments, to five standard errors                                        | | where seed,
// stream, counter go    | the third known answer: old logs must keep their numbers                      |
#include "sim/random.hpp"
#include "tests/sim/support.hpp"

#include <array>
#include <map>

using namespace sondeyard::sim;
using sondeyard::test::off;
using Words4 = std::array<std::uint32_t, 4>;

TEST_CASE("Philox gives the published answers") {
    CHECK(philox4x32({0, 0, 0, 0}, {0, 0}) == Words4{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8});
    CHECK(philox4x32({0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff}, {0xffffffff, 0xffffffff}) ==
          Words4{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd});
    CHECK(philox4x32({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}) ==
          Words4{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1});
}

TEST_CASE("A stream's number is the FNV-1a hash of its name") {
    CHECK(stream_of("") == 0xcbf29ce484222325ULL);
    CHECK(stream_of("a") == 0xaf63dc4c8601ec8cULL);
    CHECK(stream_of("foobar") == 0x85944171f73967e8ULL);
}

TEST_CASE("Seed is the key, counter and stream are the counter, and 53 bits are kept") {
    const auto u = uniform_pair(0x299f31d0a4093822ULL, 0x0370734413198a2eULL, 0x85a308d3243f6a88ULL);
    CHECK(u[0] == static_cast<double>(0xd16cfe0994fdccebULL >> 11U) / 9007199254740992.0);
    CHECK(u[1] == static_cast<double>(0x5001e42024126ea1ULL >> 11U) / 9007199254740992.0);
}

TEST_CASE("A draw depends on seed, stream and counter and on nothing else") {
    const auto first = normal_pair(7, stream_of("lean"), 12);
    CHECK(normal_pair(8, stream_of("lean"), 12) != first);
    CHECK(normal_pair(7, stream_of("noise"), 12) != first);
    CHECK(normal_pair(7, stream_of("lean"), 13) != first);
    CHECK(normal_pair(7, stream_of("lean"), 12) == first);
    // Both halves of the seed and of the counter count.
    CHECK(uniform_pair(7 + (1ULL << 40U), 1, 12) != uniform_pair(7, 1, 12));
    CHECK(uniform_pair(7, 1, 12 + (1ULL << 40U)) != uniform_pair(7, 1, 12));
    CHECK(uniform_pair(7, 1 + (1ULL << 40U), 12) != uniform_pair(7, 1, 12));
}

TEST_CASE("Uniform draws fill the range from 0 to 1 evenly and never reach 1") {
    constexpr int n = 50000;
    std::array<int, 20> bins{};
    double sum = 0.0;
    double products = 0.0;
    for (std::uint64_t i = 0; i < n; ++i) {
        const auto u = uniform_pair(42, stream_of("test"), i);
        for (const double x : u) {
            REQUIRE(x >= 0.0);
            REQUIRE(x < 1.0);
            ++bins[static_cast<std::size_t>(x * 20.0)];
            sum += x;
        }
        products += (u[0] - 0.5) * (u[1] - 0.5);
    }
    CHECK(std::abs(sum / (2 * n) - 0.5) <= 5.0 * std::sqrt(1.0 / 12.0 / (2 * n)));
    CHECK(std::abs(products / n) <= 5.0 / 12.0 / std::sqrt(n));
    for (const int count : bins) {
        CHECK(std::abs(count - 5000) <= 5.0 * std::sqrt(5000.0));
    }
}

TEST_CASE("Normal draws have the moments of a normal, and the two of a pair are independent") {
    constexpr int n = 100000;
    double m1 = 0.0;
    double m2 = 0.0;
    double m3 = 0.0;
    double m4 = 0.0;
    double cross = 0.0;
    double cross_of_squares = 0.0;
    int beyond_two = 0;
    for (std::uint64_t i = 0; i < n; ++i) {
        const auto z = normal_pair(42, stream_of("test"), i);
        for (const double x : z) {
            m1 += x;
            m2 += x * x;
            m3 += x * x * x;
            m4 += x * x * x * x;
            beyond_two += std::abs(x) > 2.0 ? 1 : 0;
        }
        cross += z[0] * z[1];
        cross_of_squares += (z[0] * z[0] - 1.0) * (z[1] * z[1] - 1.0);
    }
    constexpr double count = 2.0 * n;
    const double root = std::sqrt(count);
    CHECK(std::abs(m1 / count) <= 5.0 / root);
    CHECK(std::abs(m2 / count - 1.0) <= 5.0 * std::sqrt(2.0) / root);
    CHECK(std::abs(m3 / count) <= 5.0 * std::sqrt(15.0) / root);
    CHECK(std::abs(m4 / count - 3.0) <= 5.0 * std::sqrt(96.0) / root);
    CHECK(std::abs(cross / n) <= 5.0 / std::sqrt(n));
    CHECK(std::abs(cross_of_squares / n) <= 5.0 * 2.0 / std::sqrt(n));
    CHECK(off(beyond_two / count, 0.0455003) <= 0.05);
}

TEST_CASE("A stream read in order repeats for the same seed and name only") {
    Draws a(5, "yard.house");
    Draws b(5, "yard.house");
    Draws other_name(5, "yard.trees");
    Draws other_seed(6, "yard.house");
    int same_as_name = 0;
    int same_as_seed = 0;
    for (int i = 0; i < 100; ++i) {
        const double x = a.uniform(-2.0, 3.0);
        CHECK(x >= -2.0);
        CHECK(x < 3.0);
        CHECK(x == b.uniform(-2.0, 3.0));
        same_as_name += x == other_name.uniform(-2.0, 3.0) ? 1 : 0;
        same_as_seed += x == other_seed.uniform(-2.0, 3.0) ? 1 : 0;
    }
    CHECK(same_as_name == 0);
    CHECK(same_as_seed == 0);
}

TEST_CASE("Normal draws of a stream have the mean and deviation asked for") {
    Draws draws(11, "test");
    constexpr int n = 40000;
    double sum = 0.0;
    double squares = 0.0;
    for (int i = 0; i < n; ++i) {
        const double x = draws.normal(3.0, 0.5);
        sum += x;
        squares += (x - 3.0) * (x - 3.0);
    }
    CHECK(std::abs(sum / n - 3.0) <= 5.0 * 0.5 / std::sqrt(n));
    CHECK(off(std::sqrt(squares / n), 0.5) <= 5.0 / std::sqrt(2.0 * n));
}

TEST_CASE("Whole numbers reach both ends and no further, each as often as the next") {
    Draws draws(3, "test");
    std::map<int, int> seen;
    for (int i = 0; i < 10000; ++i) {
        const int x = draws.integer(-2, 2);
        REQUIRE(x >= -2);
        REQUIRE(x <= 2);
        ++seen[x];
    }
    CHECK(seen.size() == 5);
    for (const auto& [x, count] : seen) {
        CAPTURE(x);
        CHECK(std::abs(count - 2000) <= 5.0 * std::sqrt(2000.0));
    }
    CHECK(draws.integer(7, 7) == 7);
}

TEST_CASE("A chance comes true as often as it says") {
    Draws draws(9, "test");
    int hits = 0;
    for (int i = 0; i < 20000; ++i) {
        hits += draws.chance(0.3) ? 1 : 0;
        CHECK(!draws.chance(0.0));
        CHECK(draws.chance(1.0));
    }
    CHECK(std::abs(hits / 20000.0 - 0.3) <= 5.0 * std::sqrt(0.21 / 20000.0));
}
