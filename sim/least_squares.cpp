#include "sim/least_squares.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/QR>
#include <Eigen/SVD>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace sondeyard::sim {

namespace {

constexpr double endless = std::numeric_limits<double>::infinity();

// The linear problem at the present parameters, reduced to n equations: R step = -c.
struct Reduced {
    Eigen::MatrixXd r; // upper triangle of the Jacobian's QR
    Eigen::VectorXd c; // first n of Q^T residuals
};

Reduced reduced(const Eigen::MatrixXd& jacobian, const Eigen::VectorXd& residuals) {
    const Eigen::Index n = jacobian.cols();
    const Eigen::HouseholderQR<Eigen::MatrixXd> qr(jacobian);
    const Eigen::VectorXd turned = qr.householderQ().adjoint() * residuals;
    return {qr.matrixQR().topRows(n).triangularView<Eigen::Upper>(), turned.head(n)};
}

// The step that makes |J step + residuals|^2 + damping |scale step|^2 least. Solved for scale step: columns of one
// size.
Eigen::VectorXd damped_step(const Reduced& problem, const Eigen::VectorXd& scale, double damping) {
    const Eigen::Index n = problem.r.cols();
    const Eigen::VectorXd inverse_scale = scale.cwiseInverse();
    Eigen::MatrixXd stacked = Eigen::MatrixXd::Zero(2 * n, n);
    stacked.topRows(n) = problem.r * inverse_scale.asDiagonal();
    stacked.bottomRows(n).diagonal().setConstant(std::sqrt(damping));
    Eigen::VectorXd right = Eigen::VectorXd::Zero(2 * n);
    right.head(n) = -problem.c;
    const Eigen::VectorXd scaled_step = Eigen::HouseholderQR<Eigen::MatrixXd>(stacked).solve(right);
    return inverse_scale.cwiseProduct(scaled_step);
}

bool all_finite(const Eigen::VectorXd& residuals) { return std::isfinite(residuals.squaredNorm()); }

void take_covariance(LeastSquaresFit& fit, const Eigen::MatrixXd& r) {
    const Eigen::VectorXd scale = r.colwise().norm();
    fit.condition = endless;
    if (!(scale.minCoeff() > 0.0)) {
        return;
    }
    const Eigen::MatrixXd scaled = r * scale.cwiseInverse().asDiagonal();
    const Eigen::VectorXd singular = Eigen::JacobiSVD<Eigen::MatrixXd>(scaled).singularValues();
    const double least = singular[singular.size() - 1];
    if (!(least > std::numeric_limits<double>::epsilon() * singular[0])) {
        return;
    }
    fit.condition = std::pow(singular[0] / least, 2.0);
    const Eigen::MatrixXd inverse =
        scale.cwiseInverse().asDiagonal() *
        scaled.triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(r.cols(), r.cols()));
    fit.covariance = inverse * inverse.transpose();
}

// A fit on its way.
struct Search {
    Eigen::VectorXd residuals;
    Eigen::MatrixXd jacobian;
    Eigen::VectorXd scale; // norms of the columns; what was larger before is halved each step
    Reduced problem;
    double damping = 30.0; // short first steps: from far off a full one can end where nothing pulls back
    double growth = 2.0;   // of the damping after a step in vain, doubled each time

    void look(LeastSquaresFit& fit) {
        const Eigen::VectorXd norms = jacobian.colwise().norm();
        scale = scale.size() == 0 ? norms : Eigen::VectorXd((0.5 * scale).cwiseMax(norms));
        for (Eigen::Index i = 0; i < scale.size(); ++i) {
            scale[i] = scale[i] > 0.0 ? scale[i] : 1.0;
        }
        problem = reduced(jacobian, residuals);
        fit.chi_square = residuals.squaredNorm();
    }

    // Part of the residuals in the tangent plane against the part square to it, each a degree of freedom.
    double offset(const LeastSquaresFit& fit) const {
        const double inside = problem.c.squaredNorm();
        const double outside = std::max(fit.chi_square - inside, 0.0);
        const double n = static_cast<double>(problem.c.size());
        const double m = static_cast<double>(fit.degrees_of_freedom);
        return m > 0.0 && outside > 0.0 ? std::sqrt(inside / n / (outside / m)) : std::sqrt(inside);
    }
};

bool small(const Eigen::VectorXd& step, const Eigen::VectorXd& parameters, double tolerance) {
    for (Eigen::Index i = 0; i < step.size(); ++i) {
        if (std::abs(step[i]) > tolerance * std::abs(parameters[i]) && std::abs(step[i]) > 1e-300) {
            return false;
        }
    }
    return true;
}

} // namespace

std::string_view name_of(FitVerdict verdict) {
    static constexpr std::array<std::string_view, 4> names = {"converged", "out of steps", "stuck", "not finite"};
    return names[static_cast<std::size_t>(verdict)];
}

LeastSquaresFit fit_least_squares(const ResidualFunction& function, const Eigen::VectorXd& start,
                                  const LeastSquaresOptions& options) {
    constexpr double least_damping = 1e-20; // of columns of length 1: nothing
    constexpr double most_damping = 1e30;
    LeastSquaresFit fit;
    fit.parameters = start;
    Search now;
    function(fit.parameters, now.residuals, &now.jacobian);
    fit.degrees_of_freedom = now.residuals.size() - start.size();
    if (start.size() == 0 || fit.degrees_of_freedom < 0) {
        throw std::invalid_argument("least squares: needs parameters, and at least as many residuals as parameters");
    }
    if (!all_finite(now.residuals) || !now.jacobian.allFinite()) {
        return fit;
    }
    now.look(fit);
    fit.verdict = FitVerdict::out_of_steps;
    Search next;
    while (fit.steps < options.most_steps) {
        if (now.offset(fit) <= options.offset_tolerance) {
            fit.verdict = FitVerdict::converged;
            break;
        }
        ++fit.steps;
        const Eigen::VectorXd step = damped_step(now.problem, now.scale, now.damping);
        const Eigen::VectorXd there = fit.parameters + step;
        const bool last = small(step, fit.parameters, options.step_tolerance);
        function(there, next.residuals, &next.jacobian);
        const double gained = all_finite(next.residuals) && next.jacobian.allFinite()
                                  ? fit.chi_square - next.residuals.squaredNorm()
                                  : -endless;
        // What the linear model foretold; always positive.
        const double foretold =
            -2.0 * step.dot(now.problem.r.transpose() * now.problem.c) - (now.problem.r * step).squaredNorm();
        if (gained > 0.0 && foretold > 0.0) {
            const double share = gained / foretold;
            fit.parameters = there;
            std::swap(now.residuals, next.residuals);
            std::swap(now.jacobian, next.jacobian);
            now.look(fit);
            const double eased = std::max(1.0 / 3.0, 1.0 - std::pow(2.0 * std::min(share, 1.0) - 1.0, 3.0));
            now.damping = std::max(now.damping * eased, least_damping);
            now.growth = 2.0;
        } else {
            now.damping *= now.growth;
            now.growth *= 2.0;
        }
        if (last && (gained >= 0.0 || now.damping < 1.0)) { // small by itself, not because it was held back
            fit.verdict = FitVerdict::converged;
            break;
        }
        if (now.damping > most_damping) {
            fit.verdict = FitVerdict::stuck;
            break;
        }
    }
    take_covariance(fit, now.problem.r);
    return fit;
}

InvertedInformation inverse_of_information(const Eigen::MatrixXd& information) {
    InvertedInformation result;
    result.condition = endless;
    const Eigen::VectorXd diagonal = information.diagonal();
    if (diagonal.size() == 0 || !(diagonal.minCoeff() > 0.0) || !information.allFinite()) {
        return result;
    }
    const Eigen::VectorXd scale = diagonal.cwiseSqrt().cwiseInverse();
    const Eigen::MatrixXd scaled = scale.asDiagonal() * information * scale.asDiagonal();
    const Eigen::VectorXd values =
        Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(scaled, Eigen::EigenvaluesOnly).eigenvalues();
    const double least = values[0];
    const double most = values[values.size() - 1];
    if (!(least > 0.0)) {
        return result;
    }
    result.condition = most / least;
    result.determined = result.condition <= most_condition;
    if (result.determined) {
        const Eigen::MatrixXd inverse =
            scaled.ldlt().solve(Eigen::MatrixXd::Identity(information.rows(), information.cols()));
        result.covariance = scale.asDiagonal() * inverse * scale.asDiagonal();
    }
    return result;
}

} // namespace sondeyard::sim
