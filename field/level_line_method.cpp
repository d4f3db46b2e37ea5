#include "field/level_line.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace sondeyard::field {

namespace {

// A dipole of this tilt in free space, depth 1: how much stronger the peak is than the level line (dB), where between
// them the sonde lies, and the strong ghost peak of a level coil along the track over the weak one (dB), each taken
// 0.37 of the plumb points' spacing beyond its null.
struct Row {
    double tilt_deg;
    double peak_over_level_db;
    double share;
    double strong_ghost_db;
};
constexpr std::array<Row, 18> rows = {{
    {0.0, 0.000, 0.000, 0.00},
    {1.0, 0.055, 0.071, 0.56},
    {2.0, 0.136, 0.112, 1.11},
    {3.5, 0.284, 0.161, 1.95},
    {5.0, 0.451, 0.204, 2.79},
    {7.0, 0.695, 0.254, 3.91},
    {10.0, 1.097, 0.320, 5.60},
    {14.0, 1.678, 0.397, 7.88},
    {20.0, 2.619, 0.495, 11.40},
    {25.0, 3.452, 0.566, 14.40},
    {30.0, 4.319, 0.629, 17.50},
    {37.0, 5.586, 0.705, 22.10},
    {45.0, 7.106, 0.778, 27.70},
    {52.0, 8.498, 0.832, 33.00},
    {60.0, 10.167, 0.882, 39.30},
    {70.0, 12.380, 0.933, 47.40},
    {80.0, 14.755, 0.971, 54.20},
    {90.0, 17.324, 1.000, 120.00},
}};

// Between the rows in a straight line; the ends hold beyond them. `x` rises along the rows.
double interpolated(double value, double Row::* x, double Row::* y) {
    for (std::size_t i = 1; i < rows.size(); ++i) {
        if (value < rows[i].*x) {
            const double part = std::max(0.0, (value - rows[i - 1].*x) / (rows[i].*x - rows[i - 1].*x));
            return rows[i - 1].*y + part * (rows[i].*y - rows[i - 1].*y);
        }
    }
    return rows.back().*y;
}

// Least squares polynomial of `count` coefficients; empty when the samples do not fix it.
std::vector<double> fitted(std::span<const TrackSample> samples, double middle_m, double unit_m, std::size_t count) {
    std::vector<std::vector<double>> rows_of(count, std::vector<double>(count + 1, 0.0));
    for (const TrackSample& s : samples) {
        std::vector<double> power(count, 1.0);
        for (std::size_t i = 1; i < count; ++i) {
            power[i] = power[i - 1] * (s.along_m - middle_m) / unit_m;
        }
        for (std::size_t i = 0; i < count; ++i) {
            for (std::size_t j = 0; j < count; ++j) {
                rows_of[i][j] += power[i] * power[j];
            }
            rows_of[i][count] += power[i] * s.dbpt;
        }
    }
    for (std::size_t i = 0; i < count; ++i) { // Gauss and Jordan, largest pivot first
        const auto pivot =
            std::max_element(rows_of.begin() + static_cast<std::ptrdiff_t>(i), rows_of.end(),
                             [i](const auto& a, const auto& b) { return std::abs(a[i]) < std::abs(b[i]); });
        std::iter_swap(rows_of.begin() + static_cast<std::ptrdiff_t>(i), pivot);
        if (std::abs(rows_of[i][i]) < 1e-9) {
            return {};
        }
        for (std::size_t k = 0; k < count; ++k) {
            const double factor = k == i ? 0.0 : rows_of[k][i] / rows_of[i][i];
            for (std::size_t j = i; j <= count && k != i; ++j) {
                rows_of[k][j] -= factor * rows_of[i][j];
            }
        }
    }
    std::vector<double> coefficients(count);
    for (std::size_t i = 0; i < count; ++i) {
        coefficients[i] = rows_of[i][count] / rows_of[i][i];
    }
    return coefficients;
}

double value_at(const std::vector<double>& coefficients, double x) {
    double sum = 0.0;
    for (auto c = coefficients.rbegin(); c != coefficients.rend(); ++c) {
        sum = sum * x + *c;
    }
    return sum;
}

} // namespace

double share_from_level_to_peak(double peak_over_level_db) {
    return interpolated(std::max(peak_over_level_db, 0.0), &Row::peak_over_level_db, &Row::share);
}

double share_by_rule_of_thumb(double peak_over_level_db) {
    return peak_over_level_db < 0.5 ? 0.0 : peak_over_level_db < 5.0 ? 0.5 : peak_over_level_db < 10.0 ? 0.75 : 1.0;
}

double tilt_from_peak_over_level_deg(double peak_over_level_db) {
    return interpolated(std::max(peak_over_level_db, 0.0), &Row::peak_over_level_db, &Row::tilt_deg);
}

double tilt_from_ghosts_deg(double strong_over_weak_db) {
    return interpolated(std::max(strong_over_weak_db, 0.0), &Row::strong_ghost_db, &Row::tilt_deg);
}

TrackPeak peak_on_track(std::span<const TrackSample> samples, double reach_m) {
    const auto strongest = std::ranges::max_element(samples, {}, &TrackSample::dbpt);
    const auto middle = std::ranges::min_element(samples, {}, [](const TrackSample& s) { return std::abs(s.along_m); });
    TrackPeak peak{strongest->along_m, strongest->dbpt, middle->dbpt};
    std::vector<TrackSample> near;
    std::ranges::copy_if(samples, std::back_inserter(near),
                         [&](const TrackSample& s) { return std::abs(s.along_m - strongest->along_m) <= reach_m; });
    // Above a level sonde the signal is flat to the fourth order, so the curve needs that order too.
    const std::size_t order = near.size() >= 7 ? 5 : 3;
    const std::vector<double> curve =
        near.size() >= 4 ? fitted(near, strongest->along_m, reach_m, order) : std::vector<double>{};
    if (curve.empty()) {
        return peak;
    }
    const auto [low, high] = std::ranges::minmax(near, {}, &TrackSample::along_m);
    constexpr int pieces = 400;
    peak.dbpt = -1e9;
    for (int i = 0; i <= pieces; ++i) {
        const double along = low.along_m + (high.along_m - low.along_m) * i / pieces;
        const double dbpt = value_at(curve, (along - strongest->along_m) / reach_m);
        if (dbpt > peak.dbpt) {
            peak.along_m = along;
            peak.dbpt = dbpt;
        }
    }
    if (low.along_m < 0.0 && high.along_m > 0.0) {
        peak.level_dbpt = value_at(curve, -strongest->along_m / reach_m);
    }
    return peak;
}

} // namespace sondeyard::field
