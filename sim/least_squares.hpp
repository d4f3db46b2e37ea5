// Weighted nonlinear least squares, and what a set of measurements says about its parameters.
//
// The caller's function gives residuals already divided by their standard deviations, (model - measured) / sd, and
// their derivatives. With weights of 1 instead of known deviations, chi_square / degrees_of_freedom estimates the
// variance of one measurement, and the covariance is to be multiplied by it.
//
// Method: Levenberg and Marquardt, the damping scaled by the norms of the columns, of which a larger one of before is
// forgotten by half each step (More 1978 keeps the largest for good), and steered by how well the linear model foretold
// the step (Nielsen 1999; both from memory). Each step is solved by QR of the Jacobian, not by its normal equations, so
// that half the digits are not lost. Checked against the nonlinear regression sets of NIST's Statistical Reference
// Datasets (tests/sim/least_squares_test.cpp).
#pragma once

#include <Eigen/Core>

#include <functional>
#include <string_view>

namespace sondeyard::sim {

// Fills residuals (m of them, the same number each time) and, unless it is null, the m x n Jacobian, residual by
// parameter. A place where the model says nothing may give anything that is not finite: the step is then not taken.
using ResidualFunction =
    std::function<void(const Eigen::VectorXd& parameters, Eigen::VectorXd& residuals, Eigen::MatrixXd* jacobian)>;

struct LeastSquaresOptions {
    int most_steps = 200;           // tried, taken or not
    double step_tolerance = 1e-9;   // of every parameter: a full step no larger than this is the end,
    double offset_tolerance = 1e-8; // and so is a residual this nearly square to the model's tangent plane (Bates and
                                    // Watts 1981, from memory): what is left to gain, in standard deviations
};

enum class FitVerdict {
    converged,
    out_of_steps, // most_steps tried
    stuck,        // no step makes it better, yet none is small enough
    not_finite    // the start itself gives no finite residuals
};
std::string_view name_of(FitVerdict verdict); // "converged", "out of steps", ...

struct LeastSquaresFit {
    Eigen::VectorXd parameters;
    Eigen::MatrixXd covariance;  // (J^T J)^-1 at the parameters; empty when the Jacobian has not full rank there
    double chi_square = 0.0;     // sum of squared residuals
    long degrees_of_freedom = 0; // m - n
    double condition = 0.0;      // of J^T J, its columns scaled to one length; infinite without full rank
    int steps = 0;               // tried
    FitVerdict verdict = FitVerdict::not_finite;
};

// From a start. Throws std::invalid_argument when there are no parameters or fewer residuals than parameters.
LeastSquaresFit fit_least_squares(const ResidualFunction& function, const Eigen::VectorXd& start,
                                  const LeastSquaresOptions& options = {});

// The covariance that belongs to an information matrix (Fisher's, n x n, symmetric): its inverse, by LDLT of the matrix
// scaled to a diagonal of 1. Not determined when the scaled matrix's condition is over most_condition or it is not
// positive definite: then the measurements do not fix all parameters.
inline constexpr double most_condition = 1e12;
struct InvertedInformation {
    bool determined = false;
    double condition =
        0.0; // largest over smallest eigenvalue of the scaled matrix; infinite when not positive definite
    Eigen::MatrixXd covariance; // empty unless determined
};
InvertedInformation inverse_of_information(const Eigen::MatrixXd& information);

} // namespace sondeyard::sim
