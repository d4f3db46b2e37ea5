// The best-fit operator: ranked against level-line, which knows the same, over lawns drawn by seed.
#include "tests/field/model_operator_runs.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <vector>

using namespace sondeyard;

namespace {

double median(std::vector<double> values) {
    std::ranges::sort(values);
    return values[values.size() / 2];
}

} // namespace

TEST_CASE("best-fit comes nearer than level-line at every tilt, and does all that the procedure asks") {
    const int seeds = test::seeds(6, 1);
    for (const double tilt_deg : {0.0, 15.0, 40.0, 70.0, 90.0}) {
        std::vector<double> best_fit;
        std::vector<double> level_line;
        for (int i = 1; i <= seeds; ++i) {
            CAPTURE(tilt_deg);
            CAPTURE(i);
            const field::Setting setting(
                test::drawn_lawn(static_cast<std::uint64_t>(300 + i), 0.7 + 0.4 * i, tilt_deg, 0.1));
            const field::Score by_fit = field::score(setting, test::operate(setting, "best-fit"));
            const field::Score by_line = field::score(setting, test::operate(setting, "level-line"));
            CHECK(by_fit.finished);
            REQUIRE(by_fit.horizontal_error_m);
            REQUIRE(by_line.horizontal_error_m);
            best_fit.push_back(*by_fit.horizontal_error_m / by_fit.true_depth_m);
            level_line.push_back(*by_line.horizontal_error_m / by_fit.true_depth_m);
            CHECK(best_fit.back() < 0.02);
            CHECK(std::abs(by_fit.depth_error_percent.value_or(99.0)) < 2.0);
            CHECK(by_fit.tilt.right);
            CHECK(by_fit.dig_outcome == field::DigOutcome::on_the_pipe);
            CHECK_MESSAGE(test::undone(by_fit).empty(), test::undone(by_fit));
        }
        fmt::print("tilt {:2.0f} deg, median error in depths: best-fit {:.4f}, level-line {:.4f}\n", tilt_deg,
                   median(best_fit), median(level_line));
        CHECK(median(best_fit) <= median(level_line));
    }
}

TEST_CASE("best-fit does the same again, finds a weak sonde deep down, and is level-line with level coils") {
    const field::Setting setting(test::drawn_lawn(11, 1.4, 25.0, 0.1));
    CHECK(test::operate(setting, "best-fit").digest == test::operate(setting, "best-fit").digest);

    const field::Setting deep(test::drawn_lawn(12, 4.0, 20.0, 0.02));
    const field::Score score = field::score(deep, test::operate(deep, "best-fit"));
    CHECK(score.horizontal_error_m.value_or(99.0) < 0.3);

    const field::Setting coils(test::drawn_lawn(13, 1.2, 10.0, 0.1, sim::ReceiverKind::twin_coil));
    CHECK(test::operate(coils, "best-fit").digest == test::operate(coils, "level-line").digest);
}
