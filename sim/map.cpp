#include "sim/map.hpp"

#include "sim/ground.hpp"
#include "sim/mutation.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <string>
#include <utility>

namespace sondeyard::sim {

namespace {

constexpr std::size_t longest_stretch = 256; // places: with their fields 20 KB, so that all of it stays in L1

double share_of(const MapShares& shares, std::size_t emission) {
    return emission < shares.emissions.size() ? shares.emissions[emission] : 1.0;
}

// From the point over the dipole to the farthest corner of the grid.
double reach_m(const MapGrid& grid, const glm::dvec3& from) {
    const double east = grid.west_m + grid.step_m * (grid.columns - 1);
    const double north = grid.south_m + grid.step_m * (grid.rows - 1);
    return std::hypot(std::max(std::abs(grid.west_m - from.x), std::abs(east - from.x)),
                      std::max(std::abs(grid.south_m - from.y), std::abs(north - from.y)));
}

} // namespace

MapShares shares_heard(const Scene& scene, const ReceiverSpec& receiver, double frequency_hz) {
    MapShares shares;
    shares.emissions.reserve(scene.emissions.size());
    for (const Emission& emission : scene.emissions) {
        shares.emissions.push_back(tuning_response(receiver, emission.frequency_hz - frequency_hz));
    }
    double square = 0.0;
    if (!scene.hums.empty()) {
        for (int n = 1; n <= 40; ++n) {
            const double offset_hz = n * scene.hums.front().mains_hz - frequency_hz; // all hang on one supply
            const double heard = harmonic_share(n) * tuning_response(receiver, offset_hz);
            square += heard * heard;
        }
    }
    shares.hum = std::sqrt(square) / all_harmonics_share();
    return shares;
}

double whole_field_t(const Scene& scene, const MapShares& shares, const glm::dvec3& place_m) {
    const double hum = shares.hum * hum_t(scene, place_m);
    double square = hum * hum;
    for (std::size_t i = 0; i < scene.emissions.size(); ++i) {
        const double b = share_of(shares, i) * magnitude(emission_field_t(scene.emissions[i], place_m));
        square += b * b;
    }
    return std::sqrt(square);
}

struct SceneMap::Buffers {
    using Row = std::array<double, longest_stretch>;
    struct alignas(64) Fields {
        std::array<Row, 6> row;
    };
    alignas(64) std::array<Row, 3> place;
    alignas(64) std::array<Row, 3> unit;
    std::vector<Fields> groups;
    std::size_t n = 0;

    explicit Buffers(std::size_t group_count) : groups(group_count) {}

    std::span<double> first_n(Row& row) const { return std::span(row).first(n); }
    PlacesSoA places() { return {first_n(place[0]), first_n(place[1]), first_n(place[2])}; }
    FieldsSoA unit_fields() { return {first_n(unit[0]), first_n(unit[1]), first_n(unit[2])}; }
    PhasorsSoA fields(std::size_t group) {
        std::array<Row, 6>& row = groups[group].row;
        return {{first_n(row[0]), first_n(row[1]), first_n(row[2])},
                {first_n(row[3]), first_n(row[4]), first_n(row[5])}};
    }
};

SceneMap::SceneMap(const Scene& scene, const MapGrid& grid, double lowest_z_m, double highest_z_m,
                   const MapShares& shares)
    : grid_(grid) {
    if (grid.columns < 1 || grid.rows < 1 || !(grid.step_m > 0.0) || !(lowest_z_m <= highest_z_m)) {
        throw std::invalid_argument("map of " + std::to_string(grid.columns) + " x " + std::to_string(grid.rows) +
                                    " places " + std::to_string(grid.step_m) +
                                    " m apart: asks for one place and more, a step above 0 and heights in order");
    }
    for (std::size_t i = 0; i < scene.emissions.size(); ++i) {
        if (share_of(shares, i) == 0.0) {
            continue;
        }
        first_heard_ = first_heard_ || i == 0;
        for (const GroundedDipole& source : scene.emissions[i].dipoles) {
            const glm::dvec3& at = source.dipole.position_m;
            Source& made = sources_.emplace_back(
                Source{shares_.size(), source.dipole, {at.x, at.y, source.surface_z_m}, std::nullopt});
            if (source.ground) {
                made.sheet.emplace(*source.ground, source.surface_z_m - at.z, lowest_z_m - source.surface_z_m,
                                   highest_z_m - source.surface_z_m, std::max(reach_m(grid, at), grid.step_m));
            }
        }
        for (const LineCurrent& line : scene.emissions[i].currents) {
            add_line(shares_.size(), line);
        }
        shares_.push_back(share_of(shares, i));
    }
    if (shares.hum != 0.0 && !scene.hums.empty()) {
        for (const Hum& hum : scene.hums) {
            for (const LineCurrent& line : hum.fundamental) {
                add_line(shares_.size(), line);
            }
        }
        shares_.push_back(shares.hum * all_harmonics_share());
    }
}

void SceneMap::add_line(std::size_t group, const LineCurrent& line) {
    if (line.current_a == 0.0) {
        return;
    }
    auto same = std::ranges::find(lines_, line.points_m, &Line::points_m);
    if (same == lines_.end()) {
        same = lines_.insert(lines_.end(), Line{line.points_m, {}});
    }
    same->currents_a.emplace_back(group, line.current_a);
}

void SceneMap::rows_t(int first_row, std::span<const double> z_m, std::span<double> out_t,
                      std::span<float> dip_deg) const {
    const auto columns = static_cast<std::size_t>(grid_.columns);
    const std::size_t rows = out_t.size() / columns;
    if (first_row < 0 || first_row > grid_.rows || rows * columns != out_t.size() ||
        rows > static_cast<std::size_t>(grid_.rows - first_row) || (z_m.size() != out_t.size() && z_m.size() != 1)) {
        throw std::invalid_argument("rows of a map: " + std::to_string(out_t.size()) + " places from row " +
                                    std::to_string(first_row) + ", " + std::to_string(z_m.size()) +
                                    " heights: asks for whole rows of the grid, and one height or one a place");
    }
    if (!dip_deg.empty() && (dip_deg.size() != out_t.size() || !first_heard_)) {
        throw std::invalid_argument("dips of a map: asks for one a place, and a first emission that is heard");
    }
    Buffers at(shares_.size());
    for (std::size_t begin = 0; begin < out_t.size(); begin += at.n) {
        const std::size_t row = begin / columns;
        const std::size_t column = begin % columns;
        at.n = std::min(longest_stretch, columns - column);
        for (std::size_t i = 0; i < at.n; ++i) {
            at.place[0][i] = grid_.west_m + grid_.step_m * static_cast<double>(column + i);
            at.place[1][i] = grid_.south_m + grid_.step_m * (first_row + static_cast<double>(row));
            at.place[2][i] = z_m.size() == 1 ? z_m.front() : z_m[begin + i];
        }
        stretch_t(at, out_t.subspan(begin, at.n));
        if (!dip_deg.empty()) {
            dips_deg(at, dip_deg.subspan(begin, at.n));
        }
    }
}

// Of the ellipse's major axis, as major_axis() has it, without its angles: with s = B.B and m = |s|, the square of its
// length is (|B|^2 + m) / 2 and the square of its upright part (re_z^2 (1 + c) + im_z^2 (1 - c)) / 2 + re_z im_z q,
// c + i q = s / m.
void SceneMap::dips_deg(const Buffers& at, std::span<float> out_deg) {
    const std::array<Buffers::Row, 6>& row = at.groups.front().row;
    for (std::size_t i = 0; i < out_deg.size(); ++i) {
        const double re = row[0][i] * row[0][i] + row[1][i] * row[1][i] + row[2][i] * row[2][i];
        const double im = row[3][i] * row[3][i] + row[4][i] * row[4][i] + row[5][i] * row[5][i];
        const double both = row[0][i] * row[3][i] + row[1][i] * row[4][i] + row[2][i] * row[5][i];
        const double m = std::sqrt((re - im) * (re - im) + 4.0 * both * both);
        const bool one_part = !(m > 0.0) || mutated(Mutation::map_dip_of_one_part);
        const double c = one_part ? 1.0 : (re - im) / m;
        const double q = one_part ? 0.0 : 2.0 * both / m;
        const double upright =
            0.5 * (row[2][i] * row[2][i] * (1.0 + c) + row[5][i] * row[5][i] * (1.0 - c)) + row[2][i] * row[5][i] * q;
        const double whole = 0.5 * (re + im + m);
        const auto sine = static_cast<float>(whole > 0.0 ? std::sqrt(std::clamp(upright / whole, 0.0, 1.0)) : 0.0);
        out_deg[i] = std::asin(sine) * static_cast<float>(180.0 / std::numbers::pi);
    }
}

void SceneMap::stretch_t(Buffers& at, std::span<double> out_t) const {
    const PlacesSoA places = at.places();
    for (Buffers::Fields& fields : at.groups) {
        for (Buffers::Row& row : fields.row) {
            std::fill_n(row.begin(), at.n, 0.0);
        }
    }
    for (const Source& source : sources_) {
        const PhasorsSoA fields = at.fields(source.group);
        add_dipole_fields_t(source.dipole, places, fields);
        if (source.sheet) {
            add_ground_fields_t(*source.sheet, source.surface_m, source.dipole.moment_am2, places, fields);
        }
    }
    for (const Line& line : lines_) {
        line_unit_fields_t(line.points_m, places, at.unit_fields());
        for (const auto& [group, current_a] : line.currents_a) {
            add_times_t(at.unit_fields(), current_a, at.fields(group));
        }
    }
    std::ranges::fill(out_t, 0.0);
    for (std::size_t group = 0; group < shares_.size(); ++group) {
        const double share = shares_[group] * shares_[group];
        const std::array<Buffers::Row, 6>& row = at.groups[group].row;
        for (std::size_t i = 0; i < at.n; ++i) {
            out_t[i] += share * (row[0][i] * row[0][i] + row[1][i] * row[1][i] + row[2][i] * row[2][i] +
                                 row[3][i] * row[3][i] + row[4][i] * row[4][i] + row[5][i] * row[5][i]);
        }
    }
    for (double& power : out_t) {
        power = std::sqrt(power);
    }
}

} // namespace sondeyard::sim
