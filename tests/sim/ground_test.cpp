// What conducting ground adds.
#include "sim/dipole.hpp"
#include "sim/ground.hpp"
#include "tests/sim/support.hpp"

#include <cstdlib>

using namespace sondeyard::sim;
using sondeyard::test::norm;

TEST_CASE("Direct quadrature and static dipole make the half-space field of the reference table") {
    const auto rows = sondeyard::test::reference_rows("halfspace_reference.csv");
    REQUIRE(rows.size() >= 1800);
    double worst = 0.0;
    for (const auto& row : rows) {
        const auto number = [&](std::size_t column) { return std::strtod(row.at(column).c_str(), nullptr); };
        const Dipole sonde = make_sonde({0.0, 0.0, -number(2)}, number(3), number(4), 1.0, number(0));
        const glm::dvec3 place{number(5), number(6), number(7)};
        const Phasor3 b =
            dipole_field_t(sonde, place) + ground_secondary_t(sonde.moment_am2, number(0), number(1), number(2), place);
        const Phasor3 truth{{number(8), number(10), number(12)}, {number(9), number(11), number(13)}};
        worst = std::max(worst, norm(b + (-1.0) * truth) / norm(truth));
    }
    CHECK(worst <= 1e-8);
}
