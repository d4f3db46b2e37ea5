#include "field/knowable.hpp"

#include "sim/least_squares.hpp"
#include "sim/mutation.hpp"
#include "sim/units.hpp"

#include <Eigen/Core>
#include <Eigen/Eigenvalues>
#include <glm/geometric.hpp>

#include <cmath>

namespace sondeyard::field {

namespace {

using sim::mutated;
using sim::Mutation;

constexpr int dipole_parameters = 6;
constexpr int set_parameters = 8; // offsets right and forward, turns about three axes, three gains
constexpr int all_parameters = dipole_parameters + 2 * set_parameters;
using Information = Eigen::MatrixXd;
using Row = Eigen::Matrix<double, 1, Eigen::Dynamic, Eigen::RowMajor, 1, all_parameters>;

sim::DipoleDerivatives derivatives(const PlainDipole& dipole, const glm::dvec3& place_m) {
    return sim::dipole_derivatives(dipole.position_m, dipole.moment_am2, place_m);
}

// The parameters of an antenna's set in a row, in units of their priors.
void fill_mounting(Row& row, const Channel& channel, const Sounding& sounding, const PlainDipole& dipole,
                   const MountingPrior& prior) {
    const sim::DipoleDerivatives d = derivatives(dipole, channel.place_m);
    const glm::dmat3 mast(sounding.mast);
    const int first = dipole_parameters + (channel.upper ? set_parameters : 0);
    for (int axis = 0; axis < 2; ++axis) {
        row[first + axis] = prior.offset_sd_m * glm::dot(channel.axis, d.by_place * mast[axis]);
    }
    for (int axis = 0; axis < 3; ++axis) {
        row[first + 2 + axis] =
            sim::radians(prior.axis_sd_deg) * glm::dot(glm::cross(mast[axis], channel.axis), d.field_t);
    }
    row[first + 5 + channel.number % 3] = prior.gain_sd * glm::dot(channel.axis, d.field_t);
}

// Adds a sounding; false when it is too weak to count.
bool add(Information& information, const Sounding& sounding, const sim::Instrument& instrument,
         const PlainDipole& dipole, const MountingPrior* prior) {
    const Channels channels = channels_of(sounding, instrument);
    const double noise_t = 1e-12 * static_cast<double>(sounding.noise_pt);
    if (!strong_enough(channels, noise_t)) {
        return false;
    }
    const std::array<ModelRow, 6> rows = model_of(channels, dipole);
    std::size_t i = 0;
    for (const Channel& channel : channels) {
        const ModelRow& model = rows[i++];
        Row row = Row::Zero(information.cols());
        for (int k = 0; k < 3; ++k) {
            row[k] = model.by_position[k];
            row[3 + k] = model.by_moment[k];
        }
        if (prior != nullptr && !mutated(Mutation::bound_mounting_known)) {
            fill_mounting(row, channel, sounding, dipole, *prior);
        }
        row /= mutated(Mutation::bound_noise_of_both_parts) ? 1.4142 * noise_t : noise_t;
        information.noalias() += row.transpose() * row;
    }
    return true;
}

double tilt_sd_deg(const Eigen::Matrix3d& covariance, const glm::dvec3& m) {
    const double level = std::hypot(m.x, m.y);
    const double square = glm::dot(m, m);
    if (level < 1e-6 * std::sqrt(square)) { // on end: any way off it counts
        return sim::degrees(std::sqrt((covariance(0, 0) + covariance(1, 1)) / square));
    }
    const Eigen::Vector3d slope = Eigen::Vector3d(m.z * m.x / level, m.z * m.y / level, -level) / square;
    return sim::degrees(std::sqrt(slope.dot(covariance * slope)));
}

Knowable read_off(const Information& information, const PlainDipole& truth, int soundings) {
    Knowable bound;
    bound.soundings = soundings;
    const sim::InvertedInformation inverse = sim::inverse_of_information(information);
    bound.condition = inverse.condition;
    bound.known = inverse.determined;
    if (!bound.known) {
        return bound;
    }
    const Eigen::MatrixXd& c = inverse.covariance;
    bound.east_sd_m = std::sqrt(c(0, 0));
    bound.north_sd_m = std::sqrt(c(1, 1));
    bound.depth_sd_m = std::sqrt(c(2, 2));
    bound.tilt_sd_deg = tilt_sd_deg(c.block<3, 3>(3, 3), truth.moment_am2);
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(c.topLeftCorner<2, 2>());
    const Eigen::Vector2d major = axes.eigenvectors().col(mutated(Mutation::bound_ellipse_turned) ? 0 : 1);
    bound.ellipse.minor_m = std::sqrt(std::max(axes.eigenvalues()[0], 0.0));
    bound.ellipse.major_m = std::sqrt(std::max(axes.eigenvalues()[1], 0.0));
    bound.ellipse.heading_deg = std::fmod(sim::wrap_360(sim::degrees(std::atan2(major[0], major[1]))), 180.0);
    return bound;
}

} // namespace

Attitude attitude_of(const glm::dvec3& moment_am2) {
    const glm::dvec3 up = moment_am2.z < 0.0 ? -moment_am2 : moment_am2; // the raised end
    return {sim::degrees(std::atan2(up.z, std::hypot(up.x, up.y))),
            sim::wrap_360(sim::degrees(std::atan2(up.x, up.y)))};
}

bool strong_enough(const Channels& channels, double noise_t) {
    double square = 0.0;
    for (const Channel& c : channels) {
        square += std::norm(c.heard_t);
    }
    return square > std::pow(least_signal_to_noise * noise_t, 2.0);
}

std::array<ModelRow, 6> model_of(const Channels& channels, const PlainDipole& dipole) {
    std::array<ModelRow, 6> rows;
    sim::DipoleDerivatives d;
    for (int i = 0; i < channels.count; ++i) {
        const Channel& c = channels.all[static_cast<std::size_t>(i)];
        if (i == 0 || c.upper != channels.all[static_cast<std::size_t>(i - 1)].upper) { // one place a set
            d = derivatives(dipole, c.place_m);
        }
        rows[static_cast<std::size_t>(i)] = {glm::dot(c.axis, d.field_t), -(d.by_place * c.axis), d.by_moment * c.axis};
    }
    return rows;
}

MountingPrior mounting_prior_of(const sim::ReceiverSpec& spec) {
    return {spec.side_offset_sd_m, spec.axis_error_sd_deg, 0.01 * spec.gain_error_sd_percent};
}

Knowable knowable(std::span<const Sounding> soundings, const sim::Instrument& instrument, const PlainDipole& truth,
                  const MountingPrior& prior) {
    const bool exact = prior.offset_sd_m == 0.0 && prior.axis_sd_deg == 0.0 && prior.gain_sd == 0.0;
    const int size = exact ? dipole_parameters : all_parameters;
    Information information = Information::Zero(size, size);
    for (int i = dipole_parameters; i < size; ++i) {
        information(i, i) = 1.0; // the prior itself: each of these is counted in its own deviation
    }
    int count = 0;
    for (const Sounding& s : soundings) {
        count += add(information, s, instrument, truth, exact ? nullptr : &prior) ? 1 : 0;
    }
    return read_off(information, truth, count);
}

std::vector<KnowableThen> knowable_over_time(std::span<const Sounding> soundings, const sim::Instrument& instrument,
                                             const PlainDipole& truth, int most) {
    std::vector<KnowableThen> series;
    if (soundings.empty() || most < 1) {
        return series;
    }
    series.reserve(static_cast<std::size_t>(most));
    Information information = Information::Zero(dipole_parameters, dipole_parameters);
    int count = 0;
    const std::int64_t last = soundings.back().tick;
    auto next = soundings.begin();
    for (int i = 1; i <= most; ++i) {
        const std::int64_t tick = last * i / most;
        for (; next != soundings.end() && next->tick <= tick; ++next) {
            count += add(information, *next, instrument, truth, nullptr) ? 1 : 0;
        }
        series.push_back({tick, read_off(information, truth, count)});
    }
    return series;
}

} // namespace sondeyard::field
