#include "sim/isolines.hpp"

#include "sim/mutation.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <stdexcept>
#include <string>

namespace sondeyard::sim {

namespace {

// A side of a square, by the place it starts at: 2 place eastward, 2 place + 1 northward.
using Side = std::uint32_t;

struct Piece { // of a line within one square
    Side from = 0;
    Side to = 0;
};

void check_size(const MapGrid& grid, std::size_t values) {
    if (grid.columns < 1 || grid.rows < 1 || !(grid.step_m > 0.0) ||
        values != static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows)) {
        throw std::invalid_argument("isolines: " + std::to_string(values) + " values for " +
                                    std::to_string(grid.columns) + " x " + std::to_string(grid.rows) +
                                    " places: asks for one value a place and a step above 0");
    }
}

// The squares' four sides in turn: south, east, north, west.
std::array<Side, 4> sides_of(const MapGrid& grid, std::size_t south_west) {
    const std::size_t north_west = south_west + static_cast<std::size_t>(grid.columns);
    return {static_cast<Side>(2 * south_west), static_cast<Side>(2 * (south_west + 1) + 1),
            static_cast<Side>(2 * north_west), static_cast<Side>(2 * south_west + 1)};
}

// The pieces of one square, given which of its sides a line crosses. `cut_south_west`: with all four crossed, whether
// the corners south-west and north-east are cut off, or the other two.
void add_pieces(const std::array<Side, 4>& sides, const std::array<bool, 4>& crossed, bool cut_south_west,
                std::vector<Piece>& pieces) {
    const auto count = std::ranges::count(crossed, true);
    if (count == 4) {
        pieces.push_back(cut_south_west ? Piece{sides[0], sides[3]} : Piece{sides[0], sides[1]});
        pieces.push_back(cut_south_west ? Piece{sides[1], sides[2]} : Piece{sides[2], sides[3]});
    } else if (count == 2) {
        const auto first = std::ranges::find(crossed, true);
        const auto second = std::find(first + 1, crossed.end(), true);
        pieces.push_back({sides[static_cast<std::size_t>(first - crossed.begin())],
                          sides[static_cast<std::size_t>(second - crossed.begin())]});
    }
}

glm::dvec2 place_of(const MapGrid& grid, std::size_t place) {
    const auto columns = static_cast<std::size_t>(grid.columns);
    const std::size_t row = place / columns;
    return {grid.west_m + grid.step_m * static_cast<double>(place % columns),
            grid.south_m + grid.step_m * static_cast<double>(row)};
}

struct SideEnds {
    std::size_t from = 0;
    std::size_t to = 0;
};
SideEnds ends_of(const MapGrid& grid, Side side) {
    const std::size_t from = side / 2;
    return {from, from + (side % 2 == 0 ? 1 : static_cast<std::size_t>(grid.columns))};
}

// Pieces joined end to end. Its memory of sides is as large as the grid, so it is made once for all levels.
class Joiner {
public:
    explicit Joiner(const MapGrid& grid)
        : grid_(grid),
          at_side_(2 * static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows), {-1, -1}) {}

    // share_at(side): where on the side, 0 to 1, the line crosses it.
    template <typename ShareAt>
    void join(double level, const std::vector<Piece>& pieces, const ShareAt& share_at, std::vector<Isoline>& out) {
        for (std::size_t k = 0; k < pieces.size(); ++k) {
            note(pieces[k].from, static_cast<std::int32_t>(k));
            note(pieces[k].to, static_cast<std::int32_t>(k));
        }
        std::vector<bool> done(pieces.size(), false);
        const auto walk = [&](std::size_t piece, Side from) {
            Isoline line{level, false, {point(from, share_at)}};
            Side at = from;
            for (std::int32_t next = static_cast<std::int32_t>(piece); next >= 0;) {
                const auto k = static_cast<std::size_t>(next);
                done[k] = true;
                at = pieces[k].from == at ? pieces[k].to : pieces[k].from;
                line.points_m.push_back(point(at, share_at));
                const std::array<std::int32_t, 2>& here = at_side_[at];
                next = here[0] == next ? here[1] : here[0];
                next = next >= 0 && done[static_cast<std::size_t>(next)] ? -1 : next;
            }
            line.closed = at == from;
            out.push_back(std::move(line));
        };
        for (std::size_t k = 0; k < pieces.size(); ++k) { // those that end somewhere, from their ends
            for (const Side end : {pieces[k].from, pieces[k].to}) {
                if (!done[k] && at_side_[end][1] < 0) {
                    walk(k, end);
                }
            }
        }
        for (std::size_t k = 0; k < pieces.size(); ++k) {
            if (!done[k]) {
                walk(k, pieces[k].from);
            }
        }
        for (const Piece& piece : pieces) {
            at_side_[piece.from] = at_side_[piece.to] = {-1, -1};
        }
    }

private:
    void note(Side side, std::int32_t piece) {
        std::array<std::int32_t, 2>& here = at_side_[side];
        here[here[0] < 0 ? 0 : 1] = piece;
    }
    template <typename ShareAt>
    glm::dvec2 point(Side side, const ShareAt& share_at) const {
        const SideEnds ends = ends_of(grid_, side);
        const glm::dvec2 from = place_of(grid_, ends.from);
        return from + (place_of(grid_, ends.to) - from) * share_at(side);
    }

    MapGrid grid_;
    std::vector<std::array<std::int32_t, 2>> at_side_; // the pieces that end on it, -1: none
};

} // namespace

std::vector<double> whole_levels(std::span<const float> values, double every, int most) {
    float low = std::numeric_limits<float>::infinity();
    float high = -low;
    for (const float v : values) {
        if (std::isfinite(v)) {
            low = std::min(low, v);
            high = std::max(high, v);
        }
    }
    std::vector<double> levels;
    if (!(every > 0.0) || low > high) {
        return levels;
    }
    const double top = std::floor(static_cast<double>(high) / every);
    const double bottom = std::max(std::ceil(static_cast<double>(low) / every), top - most + 1);
    for (int k = 0; bottom + k <= top; ++k) {
        levels.push_back((bottom + k) * every);
    }
    return levels;
}

std::vector<Isoline> isolines(const MapGrid& grid, std::span<const float> values, std::span<const double> levels) {
    check_size(grid, values.size());
    if (std::ranges::adjacent_find(levels, std::greater_equal{}) != levels.end()) {
        throw std::invalid_argument("isolines: the levels have to rise");
    }
    std::vector<Isoline> out;
    if (levels.empty() || grid.columns < 2 || grid.rows < 2) {
        return out;
    }
    // How many levels a value reaches: a square is cut by those that some of its corners reach and others do not.
    const std::vector<float> bounds(levels.begin(), levels.end());
    std::vector<std::uint16_t> reached(values.size());
    std::ranges::transform(values, reached.begin(), [&bounds](float v) {
        return static_cast<std::uint16_t>(std::ranges::count_if(bounds, [v](float level) { return v >= level; }));
    });
    const auto columns = static_cast<std::size_t>(grid.columns);
    std::vector<std::vector<Piece>> pieces(levels.size());
    for (std::size_t row = 0; row + 1 < static_cast<std::size_t>(grid.rows); ++row) {
        for (std::size_t column = 0; column + 1 < columns; ++column) {
            const std::size_t at = row * columns + column;
            const std::array<std::size_t, 4> corners = {at, at + 1, at + columns + 1, at + columns};
            const std::array<int, 4> n = {reached[corners[0]], reached[corners[1]], reached[corners[2]],
                                          reached[corners[3]]};
            const auto [least, most] = std::ranges::minmax(n);
            for (int k = least; k < most; ++k) {
                const auto above = [&](std::size_t corner) { return n[corner] > k; };
                const std::array<bool, 4> crossed = {above(0) != above(1), above(1) != above(2), above(2) != above(3),
                                                     above(3) != above(0)};
                const float mean =
                    0.25F * (values[corners[0]] + values[corners[1]] + values[corners[2]] + values[corners[3]]);
                const auto level = static_cast<std::size_t>(k);
                const bool cut = (above(0) != (mean >= bounds[level])) != mutated(Mutation::isoline_saddle_joined);
                add_pieces(sides_of(grid, at), crossed, cut, pieces[level]);
            }
        }
    }
    Joiner joiner(grid);
    for (std::size_t k = 0; k < levels.size(); ++k) {
        joiner.join(
            levels[k], pieces[k],
            [&](Side side) {
                const SideEnds ends = ends_of(grid, side);
                const double a = values[ends.from];
                const double b = values[ends.to];
                const double rise = mutated(Mutation::isoline_share_backwards) ? b - levels[k] : levels[k] - a;
                return std::isfinite(a) && std::isfinite(b) ? std::clamp(rise / (b - a), 0.0, 1.0) : 0.5;
            },
            out);
    }
    return out;
}

// ---- Axes ----

namespace {

// The same axis with its upper end taken: two such neighbours look apart when one of the axes was turned over on the
// way, and that is where it passed level.
glm::dvec3 upper_end(const glm::dvec3& axis) {
    return axis.z < 0.0 && !mutated(Mutation::level_line_axis_not_turned) ? -axis : axis;
}

double level_share(const glm::dvec3& a, const glm::dvec3& b) {
    const double sum = std::abs(a.z) + std::abs(b.z);
    return sum > 0.0 ? std::abs(a.z) / sum : 0.5;
}

} // namespace

std::vector<Isoline> level_lines(const MapGrid& grid, std::span<const glm::dvec3> axes,
                                 const std::function<glm::dvec3(const glm::dvec2&)>& axis_at) {
    check_size(grid, axes.size());
    std::vector<Isoline> out;
    if (grid.columns < 2 || grid.rows < 2) {
        return out;
    }
    const auto apart = [&](std::size_t a, std::size_t b) {
        return glm::dot(upper_end(axes[a]), upper_end(axes[b])) < 0.0;
    };
    const auto columns = static_cast<std::size_t>(grid.columns);
    std::vector<Piece> pieces;
    for (std::size_t row = 0; row + 1 < static_cast<std::size_t>(grid.rows); ++row) {
        for (std::size_t column = 0; column + 1 < columns; ++column) {
            const std::size_t sw = row * columns + column;
            const std::size_t nw = sw + columns;
            add_pieces(sides_of(grid, sw), {apart(sw, sw + 1), apart(sw + 1, nw + 1), apart(nw, nw + 1), apart(sw, nw)},
                       false, pieces);
        }
    }
    const auto share_at = [&](Side side) {
        const SideEnds ends = ends_of(grid, side);
        double low = 0.0;
        double high = 1.0;
        glm::dvec3 a = upper_end(axes[ends.from]);
        glm::dvec3 b = -upper_end(axes[ends.to]); // of the end that was up at a, now below level
        double share = level_share(a, b);
        const glm::dvec2 from = place_of(grid, ends.from);
        const glm::dvec2 way = place_of(grid, ends.to) - from;
        for (int k = 0; axis_at && k < 8; ++k) {
            glm::dvec3 here = axis_at(from + way * share);
            here = glm::dot(here, a) + glm::dot(here, b) < 0.0 ? -here : here;
            if (std::abs(here.z) < 1e-7) {
                break;
            }
            (here.z > 0.0 ? a : b) = here;
            (here.z > 0.0 ? low : high) = share;
            // By the chord, but never stuck at one end.
            const double chord = low + (high - low) * level_share(a, b);
            share = std::clamp(chord, low + 0.05 * (high - low), high - 0.05 * (high - low));
        }
        return share;
    };
    Joiner(grid).join(0.0, pieces, share_at, out);
    return out;
}

} // namespace sondeyard::sim
