// The model operators ranked: how far off they mark, in shares of the depth.
//
// On bare lawns, by tilt over several depths and seeds, the order is due; in yards with coupling, other crews' sondes
// or hum it is printed and not judged: there a plain dipole is the wrong model, and the more one leans on it the worse.
#include "scenarios/scenario.hpp"
#include "tests/field/model_operator_runs.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

constexpr std::array<std::string_view, 4> ranked = {"follows-peak", "level-line", "three-point", "best-fit"};
constexpr std::array depths_m = {0.8, 1.5, 2.5, 3.5};

double median(std::vector<double> values) {
    std::ranges::sort(values);
    const std::size_t half = values.size() / 2;
    return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

double off_in_depths(const World& world, std::string_view name) {
    const Setting setting(world);
    const ExerciseState state = test::operate(setting, name);
    const Score result = score(setting, state);
    REQUIRE(result.horizontal_error_m); // each of them ends with a mark, whatever it is worth
    return *result.horizontal_error_m / depth_m(world);
}

void print_head(std::string_view what) {
    fmt::print("{:16}", what);
    for (const std::string_view name : ranked) {
        fmt::print(" {:>13}", name);
    }
    fmt::print("   (median error in depths)\n");
}

} // namespace

TEST_CASE("best-fit, three-point, level-line: in this order from 15 deg on, without coupling") {
    const int runs = test::seeds(8, 1); // a depth: with half as many the medians still swing by a third
    print_head("tilt, deg");
    for (const double tilt_deg : {5.0, 15.0, 20.0, 30.0, 45.0}) {
        std::map<std::string_view, double> medians;
        fmt::print("{:<16}", tilt_deg);
        for (const std::string_view name : ranked) {
            std::vector<double> off;
            for (int i = 0; i < runs; ++i) {
                for (const double depth : depths_m) {
                    const auto seed =
                        7000 + 100 * static_cast<std::uint64_t>(depth * 10.0) + static_cast<std::uint64_t>(i);
                    off.push_back(off_in_depths(test::drawn_lawn(seed, depth, tilt_deg, 0.1), name));
                }
            }
            medians[name] = median(off);
            fmt::print(" {:13.4f}", medians[name]);
        }
        fmt::print("\n");
        constexpr double judged_from_deg = 15.0;
        if (tilt_deg >= judged_from_deg && test::seeds(1, 0) == 1) {
            CHECK(medians["three-point"] <= medians["level-line"]);
            CHECK(medians["level-line"] <= medians["follows-peak"]);
            CHECK(medians["best-fit"] <= medians["three-point"]);
        }
    }
}

TEST_CASE("with coupling, hum or a second sonde the operators are printed, not ranked") {
    const int runs = test::seeds(2, 1);
    print_head("exercise");
    for (const std::string_view exercise : {"line-across", "clamped-line"}) {
        fmt::print("{:16}", exercise);
        for (const std::string_view name : ranked) {
            std::vector<double> off;
            for (int seed = 1; seed <= runs; ++seed) {
                off.push_back(off_in_depths(
                    scenarios::resolve(scenarios::bundled(exercise), static_cast<std::uint64_t>(seed)), name));
            }
            fmt::print(" {:13.4f}", median(off));
        }
        fmt::print("\n");
    }
}
