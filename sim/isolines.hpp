// Lines of equal value over a rectangle of places, by marching squares (W. E. Lorensen and H. E. Cline's marching cubes
// of 1987, in the plane; from memory). Plain arithmetic, the same on every machine.
#pragma once

#include <glm/vec2.hpp>
#include <glm/vec3.hpp>

#include <functional>
#include <span>
#include <vector>

namespace sondeyard::sim {

// Place (column, row) is at west + column step, south + row step, metres; row 0 is the southernmost. Values over a grid
// stand row after row from west to east.
struct MapGrid {
    double west_m = 0.0;
    double south_m = 0.0;
    double step_m = 0.02;
    int columns = 1024;
    int rows = 1024;
};

// One line in one piece: from one edge of the grid to another, or once round.
struct Isoline {
    double level = 0.0;
    bool closed = false;              // the first point is then repeated at the end
    std::vector<glm::dvec2> points_m; // at least two
};

// All lines of these levels, which rise; level by level. Values are taken as straight between neighbours; one that is
// not finite counts as under every level (NaN) or as what it is (infinities). Where two lines of a level could be
// joined in two ways inside a square, the mean of its corners decides. Throws std::invalid_argument when the number of
// values is not that of the grid's places, or the levels do not rise.
std::vector<Isoline> isolines(const MapGrid& grid, std::span<const float> values, std::span<const double> levels);

// The whole multiples of `every` from the lowest to the highest finite value, at most `most` of them from the top down.
std::vector<double> whole_levels(std::span<const float> values, double every, int most = 40);

// Where undirected axes lie level (z = 0): unit vectors, their signs arbitrary; a zero vector says that there is none,
// and no line passes beside it. `level` of the lines is 0. With `axis_at` every point is improved on the side of the
// square that it was found on, until the axis there is level. Between neighbours an axis may turn by less than a
// quarter turn.
std::vector<Isoline> level_lines(const MapGrid& grid, std::span<const glm::dvec3> axes,
                                 const std::function<glm::dvec3(const glm::dvec2&)>& axis_at = {});

} // namespace sondeyard::sim
