// Least squares against NIST's Statistical Reference Datasets, and the inversion of information matrices.
//
// | checked                                     | against                                                              |
// | ---                                         | ---                                                                  |
// | parameters, standard deviations, residuals  | certified values of 17 sets, from both starting points each (tests/reference/nist_strd) |
// | a straight line with known noise            | closed form (Kay 1993, example 3.7, from memory)                     |
// | covariance, condition                       | 2 x 2 by hand; a matrix without full rank                            |
#include "sim/least_squares.hpp"
#include "tests/sim/support.hpp"

#include <Eigen/LU>

#include <algorithm>
#include <complex>
#include <limits>
#include <map>

using namespace sondeyard;
using Number = std::complex<double>;
using Numbers = std::vector<Number>;
using Model = std::function<Number(const Numbers& b, double x)>;

namespace {

struct NistSet {
    std::vector<Eigen::VectorXd> starts;
    Eigen::VectorXd certified, deviations;
    double residual_sum = 0.0;
    std::vector<double> x, y;
};

NistSet read_set(const std::string& name) {
    std::ifstream in(std::string(SONDEYARD_TEST_DATA) + "/reference/nist_strd/" + name + ".dat");
    REQUIRE_MESSAGE(in.good(), "tests/reference/nist_strd/" << name << ".dat cannot be read");
    std::vector<std::vector<double>> rows;
    NistSet set;
    int data_lines_seen = 0; // "Data:" heads the description, and later the table
    for (std::string line; std::getline(in, line);) {
        std::istringstream words(line);
        std::string first;
        std::string sign;
        words >> first;
        if (first.size() >= 2 && first[0] == 'b' && words >> sign && sign == "=") {
            std::vector<double> row(4);
            words >> row[0] >> row[1] >> row[2] >> row[3];
            REQUIRE(words);
            rows.push_back(row);
        } else if (line.rfind("Residual Sum of Squares:", 0) == 0) {
            set.residual_sum = std::stod(line.substr(line.find(':') + 1));
        } else if (first == "Data:") {
            ++data_lines_seen;
        } else if (data_lines_seen == 2 && !first.empty()) {
            set.y.push_back(std::stod(first));
            double x = 0.0;
            words >> x;
            set.x.push_back(x);
        }
    }
    const auto column = [&](std::size_t c) {
        Eigen::VectorXd v(static_cast<Eigen::Index>(rows.size()));
        for (std::size_t i = 0; i < rows.size(); ++i) {
            v[static_cast<Eigen::Index>(i)] = rows[i][c];
        }
        return v;
    };
    set.starts = {column(0), column(1)};
    set.certified = column(2);
    set.deviations = column(3);
    REQUIRE(set.x.size() > rows.size());
    return set;
}

// Residuals with weight 1; derivatives by a step along the imaginary axis, exact to rounding.
sim::ResidualFunction residuals_of(const NistSet& set, const Model& model) {
    return [&set, &model](const Eigen::VectorXd& p, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
        constexpr double step = 1e-100;
        const auto m = static_cast<Eigen::Index>(set.x.size());
        r.resize(m);
        jacobian->resize(m, p.size());
        Numbers b(p.data(), p.data() + p.size());
        for (Eigen::Index i = 0; i < m; ++i) {
            const auto at = static_cast<std::size_t>(i);
            r[i] = model(b, set.x[at]).real() - set.y[at];
            for (Eigen::Index j = 0; j < p.size(); ++j) {
                b[static_cast<std::size_t>(j)] += Number{0.0, step};
                (*jacobian)(i, j) = model(b, set.x[at]).imag() / step;
                b[static_cast<std::size_t>(j)] = p[j];
            }
        }
    };
}

Number gauss(Number height, double x, Number middle, Number width) {
    const Number u = (x - middle) / width;
    return height * std::exp(-u * u);
}

Number three_decays(const Numbers& b, double x) {
    return b[0] * std::exp(-b[1] * x) + b[2] * std::exp(-b[3] * x) + b[4] * std::exp(-b[5] * x);
}

Number cubic_over_cubic(const Numbers& b, double x) {
    return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])));
}

Number rise_to_limit(const Numbers& b, double x) { return b[0] * (1.0 - std::exp(-b[1] * x)); }

// As each set's file states it.
const std::map<std::string, Model>& models() {
    static const std::map<std::string, Model> all = {
        {"Misra1a", rise_to_limit},
        {"BoxBOD", rise_to_limit},
        {"Misra1d", [](const Numbers& b, double x) { return b[0] * b[1] * x / (1.0 + b[1] * x); }},
        {"Chwirut2", [](const Numbers& b, double x) { return std::exp(-b[0] * x) / (b[1] + b[2] * x); }},
        {"Lanczos3", three_decays},
        {"Gauss1",
         [](const Numbers& b, double x) {
             return b[0] * std::exp(-b[1] * x) + gauss(b[2], x, b[3], b[4]) + gauss(b[5], x, b[6], b[7]);
         }},
        {"DanWood", [](const Numbers& b, double x) { return b[0] * std::exp(b[1] * std::log(x)); }},
        {"Kirby2",
         [](const Numbers& b, double x) { return (b[0] + x * (b[1] + x * b[2])) / (1.0 + x * (b[3] + x * b[4])); }},
        {"Hahn1", cubic_over_cubic},
        {"Thurber", cubic_over_cubic},
        {"MGH17",
         [](const Numbers& b, double x) { return b[0] + b[1] * std::exp(-x * b[3]) + b[2] * std::exp(-x * b[4]); }},
        {"MGH09", [](const Numbers& b, double x) { return b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]); }},
        {"Rat42", [](const Numbers& b, double x) { return b[0] / (1.0 + std::exp(b[1] - b[2] * x)); }},
        {"Rat43",
         [](const Numbers& b, double x) { return b[0] * std::exp(-std::log(1.0 + std::exp(b[1] - b[2] * x)) / b[3]); }},
        {"MGH10", [](const Numbers& b, double x) { return b[0] * std::exp(b[1] / (x + b[2])); }},
        {"Eckerle4",
         [](const Numbers& b, double x) {
             const Number u = (x - b[2]) / b[1];
             return b[0] / b[1] * std::exp(-0.5 * u * u);
         }},
        {"Bennett5", [](const Numbers& b, double x) { return b[0] * std::exp(-std::log(b[1] + x) / b[2]); }},
    };
    return all;
}

} // namespace

TEST_CASE("Least squares: NIST's certified values from both starting points, 6 digits and 4 of deviations") {
    CHECK(models().size() >= 8);
    for (const auto& [name, model] : models()) {
        const NistSet set = read_set(name);
        for (std::size_t from = 0; from < 2; ++from) {
            CAPTURE(name);
            CAPTURE(from + 1);
            sim::LeastSquaresOptions options;
            options.most_steps = 20000; // MGH10 from its first start takes some thousand
            const sim::LeastSquaresFit fit = fit_least_squares(residuals_of(set, model), set.starts[from], options);
            CAPTURE(fit.steps);
            CAPTURE(name_of(fit.verdict));
            CHECK(fit.verdict == sim::FitVerdict::converged);
            CHECK(fit.degrees_of_freedom == static_cast<long>(set.x.size()) - set.certified.size());
            CHECK(test::off(fit.chi_square, set.residual_sum) < 1e-6);
            REQUIRE(fit.covariance.size() > 0);
            const double variance = fit.chi_square / static_cast<double>(fit.degrees_of_freedom);
            for (Eigen::Index i = 0; i < set.certified.size(); ++i) {
                CAPTURE(i + 1);
                CHECK(test::off(fit.parameters[i], set.certified[i]) < 1e-6);
                CHECK(test::off(std::sqrt(variance * fit.covariance(i, i)), set.deviations[i]) < 1e-4);
            }
        }
    }
}

TEST_CASE("Least squares: a start without finite residuals, and too few residuals, are said") {
    const auto nowhere = [](const Eigen::VectorXd& p, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
        r = Eigen::VectorXd::Constant(3, std::numeric_limits<double>::quiet_NaN());
        *j = Eigen::MatrixXd::Ones(3, p.size());
    };
    CHECK(sim::fit_least_squares(nowhere, Eigen::VectorXd::Ones(2)).verdict == sim::FitVerdict::not_finite);
    CHECK_THROWS_AS((void)sim::fit_least_squares(nowhere, Eigen::VectorXd::Ones(4)), std::invalid_argument);
    CHECK_THROWS_AS((void)sim::fit_least_squares(nowhere, Eigen::VectorXd(0)), std::invalid_argument);
}

// x[n] = A + B n + w[n], n = 0 .. N - 1, sd s: var A >= 2 (2N - 1) s^2 / (N (N + 1)), var B >= 12 s^2 / (N (N^2 - 1)).
TEST_CASE("Information: the bound of a straight line in white noise, as Kay's textbook has it") {
    for (const int count : {3, 10, 101}) {
        const double sd = 0.37;
        Eigen::MatrixXd information = Eigen::MatrixXd::Zero(2, 2);
        for (int i = 0; i < count; ++i) {
            const Eigen::Vector2d row(1.0, i);
            information += row * row.transpose() / (sd * sd);
        }
        const sim::InvertedInformation bound = sim::inverse_of_information(information);
        const double n = count;
        REQUIRE(bound.determined);
        CHECK(test::off(bound.covariance(0, 0), 2.0 * (2.0 * n - 1.0) * sd * sd / (n * (n + 1.0))) < 1e-12);
        CHECK(test::off(bound.covariance(1, 1), 12.0 * sd * sd / (n * (n * n - 1.0))) < 1e-12);
    }
}

TEST_CASE("Information: condition and covariance by hand; without full rank nothing is claimed") {
    Eigen::MatrixXd f(2, 2);
    f << 4.0, 1e6 * 1.0, 1e6 * 1.0, 1e12; // scaled: 1, 0.5, 0.5, 1: eigenvalues 1.5 and 0.5
    const sim::InvertedInformation known = sim::inverse_of_information(f);
    REQUIRE(known.determined);
    CHECK(test::off(known.condition, 3.0) < 1e-12);
    CHECK((known.covariance - f.inverse()).norm() < 1e-12 * known.covariance.norm());

    f << 1.0, 1.0, 1.0, 1.0 + 1e-13;
    CHECK_FALSE(sim::inverse_of_information(f).determined);
    f << 1.0, 0.0, 0.0, 0.0;
    CHECK_FALSE(sim::inverse_of_information(f).determined);
    CHECK(sim::inverse_of_information(f).condition > sim::most_condition);
    CHECK_FALSE(sim::inverse_of_information(Eigen::MatrixXd()).determined);
}
