#include "sim/batch.hpp"
#include "sim/dipole.hpp"
#include "sim/units.hpp"

#include <stdexcept>

namespace sondeyard::sim {

void check_lengths(const PlacesSoA& places, const FieldsSoA& out) {
    const std::size_t n = places.x_m.size();
    if (places.y_m.size() != n || places.z_m.size() != n || out.x_t.size() != n || out.y_t.size() != n ||
        out.z_t.size() != n) {
        throw std::invalid_argument("places and fields must be arrays of one length");
    }
}

void plain_dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                           const FieldsSoA& out) {
    check_lengths(places, out);
    for (std::size_t i = 0; i < places.x_m.size(); ++i) {
        double x = places.x_m[i] - position_m.x;
        double y = places.y_m[i] - position_m.y;
        double z = places.z_m[i] - position_m.z;
        double square = x * x + y * y + z * z;
        if (square < closest_range_m * closest_range_m) {
            const bool at = square == 0.0;
            const double outward = at ? 1.0 : closest_range_m / std::sqrt(square);
            x *= outward;
            y *= outward;
            z = at ? closest_range_m : z * outward;
            square = closest_range_m * closest_range_m;
        }
        const double q = 1.0 / square;
        const double s = mu0_over_4pi * q / std::sqrt(square);
        const double g = 3.0 * q * (moment_am2.x * x + moment_am2.y * y + moment_am2.z * z);
        out.x_t[i] = s * (g * x - moment_am2.x);
        out.y_t[i] = s * (g * y - moment_am2.y);
        out.z_t[i] = s * (g * z - moment_am2.z);
    }
}

} // namespace sondeyard::sim
