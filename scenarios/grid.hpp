// A world is brought to a grid of 1e-6 before anything is made of it, so that its decimal text is exact and two
// machines whose sines differ in the last digit build the same one.
#pragma once

#include "field/world.hpp"

#include <cmath>
#include <vector>

namespace sondeyard::scenarios {

inline double micro(double value) { return std::round(value * 1e6) / 1e6 + 0.0; } // never -0
inline void to_grid(double& value) { value = micro(value); }

template <int N>
void to_grid(glm::vec<N, double, glm::defaultp>& p) {
    for (int i = 0; i < N; ++i) {
        to_grid(p[i]);
    }
}

template <typename Point>
void to_grid(std::vector<Point>& points) {
    for (Point& p : points) {
        to_grid(p);
    }
}

inline glm::dvec2 micro(glm::dvec2 p) {
    to_grid(p);
    return p;
}

void to_grid(field::World& world); // all of it

} // namespace sondeyard::scenarios
