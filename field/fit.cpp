#include "field/fit.hpp"

#include "sim/least_squares.hpp"
#include "sim/mutation.hpp"

#include <Eigen/Core>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

using sim::mutated;
using sim::Mutation;

struct Measured {
    Channels channels;
    double noise_t = 0.0;
    double strength = 0.0; // signal over noise
};
using Record = std::vector<Measured>;

Record strong_ones(std::span<const Sounding> soundings, const sim::Instrument& instrument) {
    Record record;
    record.reserve(soundings.size());
    for (const Sounding& s : soundings) {
        Measured m{channels_of(s, instrument), 1e-12 * static_cast<double>(s.noise_pt), 0.0};
        if (strong_enough(m.channels, m.noise_t)) {
            for (const Channel& c : m.channels) {
                m.strength += std::norm(c.heard_t / m.noise_t);
            }
            m.strength = std::sqrt(m.strength);
            record.push_back(m);
        }
    }
    return record;
}

PlainDipole dipole_of(const Eigen::VectorXd& p) { return {{p[0], p[1], p[2]}, {p[3], p[4], p[5]}}; }

Eigen::VectorXd parameters_of(const PlainDipole& d) {
    Eigen::VectorXd p(6);
    p << d.position_m.x, d.position_m.y, d.position_m.z, d.moment_am2.x, d.moment_am2.y, d.moment_am2.z;
    return p;
}

// The phase factor that turns what was heard to the model, conjugated.
std::complex<double> turn_to(const Channels& channels, const std::array<ModelRow, 6>& rows) {
    std::complex<double> sum{0.0};
    for (int i = 0; i < channels.count; ++i) {
        const auto at = static_cast<std::size_t>(i);
        sum += channels.all[at].heard_t * rows[at].signal_t;
    }
    const double size = std::abs(sum);
    return size > 0.0 && !mutated(Mutation::fit_phase_ignored) ? std::conj(sum) / size : 1.0;
}

long values_in(const Record& record) {
    long values = 0;
    for (const Measured& m : record) {
        values += m.channels.count;
    }
    return values;
}

sim::ResidualFunction residuals_of(const Record& record) {
    return
        [&record, values = values_in(record)](const Eigen::VectorXd& p, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
            r.resize(values);
            if (jacobian != nullptr) {
                jacobian->resize(values, 6);
            }
            const PlainDipole dipole = dipole_of(p);
            Eigen::Index row = 0;
            for (const Measured& m : record) {
                const std::array<ModelRow, 6> rows = model_of(m.channels, dipole);
                const std::complex<double> turn = turn_to(m.channels, rows);
                for (int i = 0; i < m.channels.count; ++i, ++row) {
                    const auto at = static_cast<std::size_t>(i);
                    r[row] = (rows[at].signal_t - (turn * m.channels.all[at].heard_t).real()) / m.noise_t;
                    for (int k = 0; jacobian != nullptr && k < 3; ++k) {
                        (*jacobian)(row, k) = rows[at].by_position[k] / m.noise_t;
                        (*jacobian)(row, 3 + k) = rows[at].by_moment[k] / m.noise_t;
                    }
                }
            }
        };
}

// Both parts of every channel.
double whole_chi_square(const Record& record, const PlainDipole& dipole) {
    double sum = 0.0;
    for (const Measured& m : record) {
        const std::array<ModelRow, 6> rows = model_of(m.channels, dipole);
        const std::complex<double> turn = turn_to(m.channels, rows);
        for (int i = 0; i < m.channels.count; ++i) {
            const auto at = static_cast<std::size_t>(i);
            sum += std::norm((turn * m.channels.all[at].heard_t - rows[at].signal_t) / m.noise_t);
        }
    }
    return sum;
}

// ---- Starts ----

constexpr std::size_t rough_soundings = 120;
constexpr std::size_t refined_starts = 6;

// Evenly out of all that were at least a tenth as strong as the strongest, or out of all when those are few.
Record thinned(const Record& record) {
    const double most = std::ranges::max_element(record, {}, &Measured::strength)->strength;
    Record strong;
    std::ranges::copy_if(record, std::back_inserter(strong),
                         [&](const Measured& m) { return m.strength > 0.1 * most; });
    const Record& from = strong.size() >= 20 ? strong : record;
    Record some;
    const std::size_t count = std::min(rough_soundings, from.size());
    some.reserve(count);
    for (std::size_t i = 0; i < count; ++i) {
        some.push_back(from[i * from.size() / count]);
    }
    return some;
}

// What was heard by the lower set, turned to one phase: the field up to its sign, if three antennas were there.
std::optional<glm::dvec3> field_heard(const Channels& channels) {
    if (channels.count < 6) {
        return std::nullopt;
    }
    std::complex<double> square{0.0};
    for (int i = 0; i < 3; ++i) {
        square += std::pow(channels.all[static_cast<std::size_t>(i)].heard_t, 2);
    }
    const std::complex<double> turn = std::polar(1.0, -0.5 * std::arg(square));
    glm::dvec3 field{0.0};
    for (int i = 0; i < 3; ++i) {
        const Channel& c = channels.all[static_cast<std::size_t>(i)];
        field += (turn * c.heard_t).real() * c.axis;
    }
    return field;
}

// The moment at a place that makes a field elsewhere: B = 1e-7 (3 u u^T - 1) m / R^3, turned round.
glm::dvec3 moment_that_makes(const glm::dvec3& field_t, const glm::dvec3& from_m, const glm::dvec3& at_m) {
    const glm::dvec3 r = at_m - from_m;
    const double range = glm::length(r);
    const glm::dvec3 u = r / range;
    return 1e7 * range * range * range * (1.5 * glm::dot(u, field_t) * u - field_t);
}

// As large as suits all soundings best.
PlainDipole scaled(const Record& record, PlainDipole dipole) {
    double across = 0.0;
    double square = 0.0;
    for (const Measured& m : record) {
        const std::array<ModelRow, 6> rows = model_of(m.channels, dipole);
        const std::complex<double> turn = turn_to(m.channels, rows);
        for (int i = 0; i < m.channels.count; ++i) {
            const auto at = static_cast<std::size_t>(i);
            const double weight = 1.0 / (m.noise_t * m.noise_t);
            across += weight * rows[at].signal_t * (turn * m.channels.all[at].heard_t).real();
            square += weight * rows[at].signal_t * rows[at].signal_t;
        }
    }
    dipole.moment_am2 *= square > 0.0 ? across / square : 1.0;
    return dipole;
}

struct Start {
    PlainDipole dipole;
    double chi_square = 0.0;
};

std::vector<Start> starts_for(const Record& record) {
    const Measured& strongest = *std::ranges::max_element(record, {}, &Measured::strength);
    const Channel& antenna = strongest.channels.all[0];
    const std::optional<glm::dvec3> field = field_heard(strongest.channels);
    std::vector<glm::dvec3> attitudes; // when the field does not say it
    if (!field) {
        for (const double heading_deg : {0.0, 45.0, 90.0, 135.0}) {
            for (const double tilt_deg : {-35.0, 0.0, 35.0}) {
                attitudes.push_back(sim::axis_of(heading_deg, tilt_deg));
            }
        }
        attitudes.push_back(sim::axis_of(0.0, 90.0));
    }
    std::vector<Start> starts;
    for (const double depth_m : {0.6, 1.2, 2.2, 3.5}) {
        for (int bearing = -1; bearing < 8; ++bearing) { // straight below, and round it
            const double angle = 0.25 * 3.141592653589793 * bearing;
            const double out_m = bearing < 0 ? 0.0 : 0.7 * depth_m;
            const glm::dvec3 place =
                antenna.place_m + glm::dvec3{out_m * std::sin(angle), out_m * std::cos(angle), -depth_m};
            if (field) {
                starts.push_back({{place, moment_that_makes(*field, place, antenna.place_m)}, 0.0});
            }
            for (const glm::dvec3& attitude : attitudes) {
                starts.push_back({{place, 0.1 * attitude}, 0.0});
            }
        }
    }
    for (Start& start : starts) {
        start.dipole = scaled(record, start.dipole);
        start.chi_square = whole_chi_square(record, start.dipole);
    }
    return starts;
}

bool same_place(const PlainDipole& a, const PlainDipole& b) {
    constexpr double apart_m = 0.02;
    return glm::distance(a.position_m, b.position_m) < apart_m;
}

// The best few, each fitted to a part of the soundings; best first, no place twice.
std::vector<Start> refined(const Record& record, std::vector<Start> starts) {
    constexpr double farthest_m = 30.0; // a dipole from beyond has run away
    std::ranges::sort(starts, {}, &Start::chi_square);
    const sim::ResidualFunction residuals = residuals_of(record);
    std::vector<Start> good;
    const std::size_t most = mutated(Mutation::fit_one_start) ? 1 : refined_starts;
    for (std::size_t i = 0; i < std::min(starts.size(), most); ++i) {
        const sim::LeastSquaresFit fit =
            sim::fit_least_squares(residuals, parameters_of(starts[i].dipole),
                                   {.most_steps = 40, .step_tolerance = 1e-6, .offset_tolerance = 1e-3});
        const PlainDipole dipole = dipole_of(fit.parameters);
        if (fit.verdict == sim::FitVerdict::not_finite ||
            glm::distance(dipole.position_m, record.front().channels.all[0].place_m) > farthest_m ||
            std::ranges::any_of(good, [&](const Start& s) { return same_place(s.dipole, dipole); })) {
            continue;
        }
        good.push_back({dipole, fit.chi_square});
    }
    std::ranges::sort(good, {}, &Start::chi_square);
    return good;
}

// The same dipole seen in the upright plane through the soundings' middle, along their longest extent.
PlainDipole mirrored(const Record& record, const PlainDipole& dipole) {
    glm::dvec2 mean{0.0};
    for (const Measured& m : record) {
        mean += glm::dvec2(m.channels.all[0].place_m) / static_cast<double>(record.size());
    }
    double xx = 0.0;
    double xy = 0.0;
    double yy = 0.0;
    for (const Measured& m : record) {
        const glm::dvec2 off = glm::dvec2(m.channels.all[0].place_m) - mean;
        xx += off.x * off.x;
        xy += off.x * off.y;
        yy += off.y * off.y;
    }
    const double angle = 0.5 * std::atan2(2.0 * xy, xx - yy);
    const glm::dvec3 normal{-std::sin(angle), std::cos(angle), 0.0};
    PlainDipole image = dipole;
    image.position_m -= 2.0 * glm::dot(dipole.position_m - glm::dvec3(mean, 0.0), normal) * normal;
    image.moment_am2 -= 2.0 * glm::dot(dipole.moment_am2, normal) * normal;
    return image;
}

} // namespace

BestFit best_fit(std::span<const Sounding> soundings, const sim::Instrument& instrument) {
    constexpr double as_good = 12.0; // of chi-square: three and a half deviations
    BestFit best;
    const Record record = strong_ones(soundings, instrument);
    if (record.size() < static_cast<std::size_t>(fewest_soundings_to_fit)) {
        return best;
    }
    const Record rough = thinned(record);
    std::vector<Start> starts = starts_for(rough);
    best.starts = static_cast<int>(starts.size());
    std::vector<Start> good = refined(rough, std::move(starts));
    if (good.empty()) {
        return best;
    }
    for (const Start& image : refined(rough, {{mirrored(rough, good.front().dipole), 0.0}})) {
        if (!same_place(image.dipole, good.front().dipole) && !mutated(Mutation::fit_mirror_forgotten)) {
            good.insert(good.begin() + 1, image);
        }
    }
    const double near = good.front().chi_square + as_good; // what a part of the soundings cannot tell apart, all may
    const sim::ResidualFunction residuals = residuals_of(record);
    std::vector<std::pair<sim::LeastSquaresFit, PlainDipole>> fits;
    for (std::size_t i = 0; i < std::min<std::size_t>(good.size(), 2); ++i) {
        if (i == 0 || good[i].chi_square < near) {
            sim::LeastSquaresFit fit =
                sim::fit_least_squares(residuals, parameters_of(good[i].dipole),
                                       {.most_steps = 200, .step_tolerance = 1e-9, .offset_tolerance = 1e-4});
            const PlainDipole dipole = dipole_of(fit.parameters);
            fits.emplace_back(std::move(fit), dipole);
        }
    }
    std::ranges::sort(fits, {}, [](const auto& f) { return f.first.chi_square; });
    const auto& [fit, dipole] = fits.front();
    if (fit.covariance.size() == 0 || fit.verdict == sim::FitVerdict::out_of_steps) {
        return best;
    }
    best.found = true;
    best.dipole = dipole;
    best.attitude = attitude_of(dipole.moment_am2);
    best.spread = knowable(soundings, instrument, dipole);
    best.chi_square = whole_chi_square(record, dipole);
    best.degrees_of_freedom = 2 * values_in(record) - static_cast<long>(record.size()) - 6;
    const double n = static_cast<double>(best.degrees_of_freedom);
    best.misfit = n > 0.0 ? std::sqrt(best.chi_square / n) : 0.0;
    best.dipole_explains = n > 0.0 && best.chi_square / n < 1.05 + 5.0 * std::sqrt(2.0 / n);
    for (const auto& [other, place] : fits) {
        if (!best.other && !same_place(place, dipole) && other.chi_square < fit.chi_square + as_good) {
            best.other = place;
        }
    }
    return best;
}

} // namespace sondeyard::field
