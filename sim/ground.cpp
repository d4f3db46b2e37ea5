#include "sim/ground.hpp"

#include "sim/units.hpp"

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/bessel.hpp>

#include <algorithm>
#include <complex>
#include <sstream>
#include <stdexcept>
#include <string>

namespace sondeyard::sim {

namespace {

using Complex = std::complex<double>;

constexpr double two_mu0_over_4pi = 2.0 * mu0_over_4pi; // mu0 / 2 pi
constexpr double least_proof_depth_m = 0.01;            // of the direct quadrature: what limits its time

// Boost would go to long double for half a digit more.
using InDouble = boost::math::policies::policy<boost::math::policies::promote_double<false>>;
double bessel_j0(double x) { return boost::math::cyl_bessel_j(0, x, InDouble{}); }
double bessel_j1(double x) { return boost::math::cyl_bessel_j(1, x, InDouble{}); }

void require_between(const char* what, double value, double low, double high, const char* unit) {
    if (!(value >= low && value <= high)) {
        std::ostringstream text;
        text << what << " is " << value << " " << unit << "; allowed is " << low << " to " << high << " " << unit;
        throw std::invalid_argument(text.str());
    }
}

// omega mu0 / rho, 1/m2.
double wave_number_squared(double frequency_hz, double resistivity_ohm_m) {
    require_between("frequency in the ground", frequency_hz, ground_least_frequency_hz, ground_most_frequency_hz, "Hz");
    require_between("ground resistivity", resistivity_ohm_m, ground_least_resistivity_ohm_m,
                    ground_most_resistivity_ohm_m, "ohm m");
    const double mu0 = 4.0 * std::numbers::pi * mu0_over_4pi;
    return 2.0 * std::numbers::pi * frequency_hz * mu0 / resistivity_ohm_m;
}

// e^x - 1 without cancellation for small x.
Complex expm1(Complex x) {
    const double s = std::sin(0.5 * x.imag());
    const double c = std::cos(0.5 * x.imag());
    const double e = std::expm1(x.real());
    return {e - 2.0 * s * s * (e + 1.0), 2.0 * s * c * (e + 1.0)};
}

// std::complex goes a long way round for infinities, which cannot come here.
Complex times(Complex p, Complex q) {
    return {p.real() * q.real() - p.imag() * q.imag(), p.real() * q.imag() + p.imag() * q.real()};
}

// The secondary kernels over the static one, at a radial wave number.
struct Kernels {
    Complex upright;
    Complex level;
};

Kernels kernels(double wave_number, double k_squared, double depth_m, double height_m) {
    // u = sqrt(L^2 + i k^2) and D = u - L = i k^2 / (u + L), in real arithmetic: complex roots and divisions cost more
    // than all the rest.
    const double square = wave_number * wave_number;
    const double u_re = std::sqrt(0.5 * (std::sqrt(square * square + k_squared * k_squared) + square));
    const double u_im = 0.5 * k_squared / u_re;
    const double a = u_re + wave_number;
    const double scale = k_squared / (a * a + u_im * u_im);
    const Complex d{scale * u_im, scale * a};

    const double decay_m = mutated(Mutation::ground_depth_and_height_swapped) ? height_m : depth_m;
    const Complex e = expm1(-decay_m * d);
    const double b = 2.0 * wave_number + d.real();
    const Complex inverse = Complex{b, -d.imag()} / (b * b + d.imag() * d.imag());
    const Complex le = 2.0 * wave_number * e;
    Kernels k{times(le - d, inverse), times(le + 2.0 * times(d, e) + d, inverse)};
    if (mutated(Mutation::ground_u_and_l_swapped)) {
        k.level = k.upright;
    }
    if (mutated(Mutation::ground_time_sign)) {
        k.upright = std::conj(k.upright);
        k.level = std::conj(k.level);
    }
    return k;
}

// The five integrals that all fields are made of, from the secondary kernels.
struct Sums {
    Complex upright_z; // Int Kv L J0
    Complex upright_r; // Int Kv L J1
    Complex level_p;   // Int Kh J1/r
    Complex level_0;   // Int Kh L J0; Int Kh L J2 is 2 level_p - level_0
    Complex level_z;   // Int Kh L J1

    // The kernels times what goes with L J0, L J1 and J1/r.
    void add(const Kernels& k, double l_j0, double l_j1, double j1_over_r) {
        upright_z += l_j0 * k.upright;
        upright_r += l_j1 * k.upright;
        level_p += j1_over_r * k.level;
        level_0 += l_j0 * k.level;
        level_z += l_j1 * k.level;
    }
};

Phasor3 field_of(const Sums& sums, double scale, const Phasor3& m, double cosine, double sine) {
    const Complex mz{m.re.z, m.im.z};
    const Complex mx{m.re.x, m.im.x};
    const Complex my{m.re.y, m.im.y};
    const Complex mr = cosine * mx + sine * my;
    const Complex q = 2.0 * sums.level_p - sums.level_0;
    const Complex out = times(q, mr) + times(sums.upright_r, mz);
    const Complex bx = cosine * out - times(sums.level_p, mx);
    const Complex by = sine * out - times(sums.level_p, my);
    const Complex bz = times(sums.upright_z, mz) + times(sums.level_z, mr);
    return {scale * glm::dvec3{bx.real(), by.real(), bz.real()}, scale * glm::dvec3{bx.imag(), by.imag(), bz.imag()}};
}

constexpr double longest_exponent = 36.0; // e^-36 is 2e-16

using Rule = boost::math::quadrature::gauss<double, 16>;

// Point i of 16 on -1 to 1, and its weight.
double rule_point(std::size_t i) { return i % 2 == 0 ? Rule::abscissa()[i / 2] : -Rule::abscissa()[i / 2]; }
double rule_weight(std::size_t i) { return Rule::weights()[i / 2]; }

// The sums times s^3, at r/s = ratio, by composite Gauss-Legendre in q = L s: panels that grow geometrically from 0,
// where the kernel may bend sharply, and are never longer than 8 radians of the Bessel functions.
Sums direct_sums(double ratio, double s, double k_squared, double depth_m) {
    const double longest = ratio > 8.0 ? 8.0 / ratio : 1.0;
    Sums sums{};
    double from = 0.0;
    double to = 1e-3 * longest;
    while (from < longest_exponent) {
        for (std::size_t i = 0; i < 16; ++i) {
            const double q = 0.5 * (from + to) + 0.5 * (to - from) * rule_point(i);
            const double weight = 0.5 * (to - from) * rule_weight(i) * 0.5 * q * std::exp(-q);
            const Kernels k = kernels(q / s, k_squared, depth_m, s - depth_m);
            const double j0 = bessel_j0(q * ratio);
            const double j1 = bessel_j1(q * ratio);
            const double j1_over_ratio = q * ratio < 1e-8 ? 0.5 * q : j1 / ratio;
            sums.add(k, weight * q * j0, weight * q * j1, weight * j1_over_ratio);
        }
        from = to;
        to = std::min({1.6 * to, to + longest, longest_exponent});
    }
    return sums;
}

// Unit vector outward; any will do straight above.
struct Outward {
    double distance;
    double cosine;
    double sine;
};
Outward outward(const glm::dvec3& p) {
    const double r = std::sqrt(p.x * p.x + p.y * p.y);
    return r == 0.0 ? Outward{0.0, 1.0, 0.0} : Outward{r, p.x / r, p.y / r};
}

// --- Tables ---
//
// The sums times R (R^2 + 1/k^2), R^2 = r^2 + (d+z)^2, change gently: in weak ground they fall as 1/R, in strong ground
// as 1/R^3. They are smooth in asinh(r / least depth), in z/(z + 2d) and in log d. A table of one depth has a row for
// each step of the first, interpolated by cubics, of Chebyshev series in the second. All depths and heights share the
// rows' radii, so that what happens where r is about a skin depth stays in its row.

constexpr double cell = 0.08;    // of asinh(r / least depth)
constexpr int height_terms = 10; // of a Chebyshev series in height
constexpr int sum_parts = 10;    // real and imaginary parts of the five sums
constexpr int row_size = height_terms * sum_parts;

// The point j of n Chebyshev points (roots) on -1 to 1.
double chebyshev_point(int j, int n) { return std::cos(std::numbers::pi * (j + 0.5) / n); }

// What each of n Chebyshev points counts in the value of their polynomial at x.
std::vector<double> chebyshev_weights(double x, int n) {
    std::vector<double> weights(static_cast<std::size_t>(n), 1.0 / n);
    for (int j = 0; j < n; ++j) {
        const double twice = 2.0 * x;
        double before = 1.0;
        double term = x;
        for (int k = 1; k < n; ++k) {
            weights[static_cast<std::size_t>(j)] += 2.0 / n * term * std::cos(std::numbers::pi * k * (j + 0.5) / n);
            const double next = twice * term - before;
            before = term;
            term = next;
        }
    }
    return weights;
}

double height_share_at(double height_m, double depth_m) { return height_m / (height_m + 2.0 * depth_m); }

double height_of_share(double share, double depth_m) { return 2.0 * depth_m * share / (1.0 - share); }

// Depth points that carry a range: few for a ratio of 3, more for a wide one.
int depth_points(double least_m, double most_m) {
    return most_m > least_m ? 4 + static_cast<int>(std::ceil(1.5 * std::log(most_m / least_m))) : 1;
}

double depth_at(double x, double least_m, double most_m) {
    return least_m * std::exp(0.5 * (1.0 + x) * std::log(most_m / least_m));
}

// Quadrature nodes in the radial wave number L for all rows of radii up to a bound.
struct NodeSet {
    double most_radius_m = 0.0;
    std::vector<double> wave_number;
    std::vector<double> weight; // with the static kernel's L/2, and the taper
};

// Up to this many least depths from the source the integrals are taken to where e^{-L s} is spent. Beyond it the Bessel
// functions swing far too often for that, and a smooth taper stands in for the rest: over many swings of J, what it
// cuts off cancels all but exactly.
constexpr double untapered_radius = 4.0;

NodeSet make_node_set(int group, double least_depth_m) {
    // Panel edges: L times the least depth, and L times the least radius of the group.
    static constexpr std::array untapered = {0.0, 0.15, 0.5, 1.2, 2.5, 4.5, 7.0, 10.5, 14.5, 19.0, 24.0, 30.0, 36.0};
    static constexpr std::array tapered = {0.0,  0.15, 0.5,  1.3,  3.0,  6.0,  12.0, 22.0,
                                           32.0, 42.0, 52.0, 62.0, 72.0, 82.0, 92.0, 102.0};
    constexpr double taper_middle = 50.0;
    constexpr double taper_width = 10.0;

    NodeSet set;
    set.most_radius_m = untapered_radius * least_depth_m * std::ldexp(1.0, group);
    const double length = group > 0 ? 0.5 * set.most_radius_m : least_depth_m;
    const double* edges = group > 0 ? tapered.data() : untapered.data();
    const std::size_t panels = (group > 0 ? tapered.size() : untapered.size()) - 1;
    for (std::size_t p = 0; p < panels; ++p) {
        for (std::size_t i = 0; i < 16; ++i) {
            const double half = 0.5 * (edges[p + 1] - edges[p]);
            const double t = edges[p] + half * (1.0 + rule_point(i));
            const double taper = group > 0 ? 0.5 * std::erfc((t - taper_middle) / taper_width) : 1.0;
            set.wave_number.push_back(t / length);
            set.weight.push_back(half * rule_weight(i) / length * taper * 0.5 * t / length);
        }
    }
    return set;
}

// What stands beside the kernels at every node, for the radius of one row.
struct BesselRow {
    int row = 0;
    double radius_m = 0.0;
    std::vector<std::array<double, 3>> factor; // weight times L J0, L J1, J1/r
};

BesselRow make_bessel_row(const NodeSet& set, int row, double radius_m) {
    BesselRow made{row, radius_m, {}};
    made.factor.reserve(set.weight.size());
    for (std::size_t i = 0; i < set.weight.size(); ++i) {
        const double l = set.wave_number[i];
        const double j0 = bessel_j0(l * radius_m);
        const double j1 = bessel_j1(l * radius_m);
        made.factor.push_back(
            {set.weight[i] * l * j0, set.weight[i] * l * j1, set.weight[i] * (row == 0 ? 0.5 * l : j1 / radius_m)});
    }
    return made;
}

// Values at the height points into a Chebyshev series; two rows more than cells + 1 (one at each end) carry the cubics.
// rows[(row + 1) * row_size + term * sum_parts + part]
void add_series(std::vector<double>& rows, int row, int height_point, const Sums& sums, double scale) {
    const std::array<Complex, 5> parts = {sums.upright_z, sums.upright_r, sums.level_p, sums.level_0, sums.level_z};
    for (int term = 0; term < height_terms; ++term) {
        const double share = scale * (term == 0 ? 1.0 : 2.0) / height_terms *
                             std::cos(std::numbers::pi * term * (height_point + 0.5) / height_terms);
        double* to = rows.data() + (row + 1) * row_size + term * sum_parts;
        for (std::size_t part = 0; part < parts.size(); ++part) {
            to[2 * part] += share * parts[part].real();
            to[2 * part + 1] += share * parts[part].imag();
        }
    }
}

// The row before r = 0 is the one after it: even in r, the radial field of an upright moment and the vertical one of a
// level moment odd.
void mirror_first_row(std::vector<double>& rows) {
    for (int k = 0; k < row_size; ++k) {
        const int part = k % sum_parts / 2;
        const double sign = part == 1 || part == 4 ? -1.0 : 1.0;
        rows.data()[k] = sign * rows.data()[2 * row_size + k];
    }
}

// The rows of one group into the table of one depth.
void add_rows(std::vector<double>& table, const NodeSet& set, const std::vector<BesselRow>& bessel, double k_squared,
              double depth_m) {
    std::vector<Kernels> at_nodes(set.weight.size());
    const double whole = height_share_at(ground_most_height_m, depth_m);
    for (int j = 0; j < height_terms; ++j) {
        const double height = height_of_share(0.5 * whole * (1.0 + chebyshev_point(j, height_terms)), depth_m);
        const double s = depth_m + height;
        std::size_t nodes = 0;
        for (; nodes < at_nodes.size() && set.wave_number[nodes] * s < longest_exponent; ++nodes) {
            const double l = set.wave_number[nodes];
            const double decay = std::exp(-l * s);
            const Kernels k = kernels(l, k_squared, depth_m, height);
            at_nodes[nodes] = {decay * k.upright, decay * k.level};
        }
        for (const BesselRow& b : bessel) {
            Sums sums{};
            for (std::size_t i = 0; i < nodes; ++i) {
                sums.add(at_nodes[i], b.factor[i][0], b.factor[i][1], b.factor[i][2]);
            }
            const double range = std::sqrt(b.radius_m * b.radius_m + s * s);
            add_series(table, b.row, j, sums, range * (range * range + 1.0 / k_squared));
        }
    }
}

std::vector<std::vector<double>> make_tables(double k_squared, const std::vector<double>& depths_m,
                                             double least_depth_m, int last_cell) {
    const int last_row = last_cell + 2;
    std::vector<std::vector<double>> tables(
        depths_m.size(), std::vector<double>(static_cast<std::size_t>(last_row + 2) * row_size, 0.0));
    for (int group = 0, row = 0; row <= last_row; ++group) {
        const NodeSet set = make_node_set(group, least_depth_m);
        std::vector<BesselRow> bessel;
        for (; row <= last_row && least_depth_m * std::sinh(cell * row) <= set.most_radius_m; ++row) {
            bessel.push_back(make_bessel_row(set, row, least_depth_m * std::sinh(cell * row)));
        }
        for (std::size_t i = 0; i < tables.size(); ++i) {
            add_rows(tables[i], set, bessel, k_squared, depths_m[i]);
        }
    }
    for (std::vector<double>& table : tables) {
        mirror_first_row(table);
    }
    return tables;
}

} // namespace

Phasor3 ground_secondary_t(const Phasor3& moment_am2, double frequency_hz, double resistivity_ohm_m, double depth_m,
                           const glm::dvec3& from_surface_m) {
    const double k_squared = wave_number_squared(frequency_hz, resistivity_ohm_m);
    require_between("depth in the ground", depth_m, least_proof_depth_m, ground_most_depth_m, "m");
    const double s = depth_m + std::max(from_surface_m.z, 0.0);
    const Outward out = outward(from_surface_m);
    const double twice = mutated(Mutation::ground_added_twice) ? 2.0 : 1.0;
    return field_of(direct_sums(out.distance / s, s, k_squared, depth_m), twice * two_mu0_over_4pi / (s * s * s),
                    moment_am2, out.cosine, out.sine);
}

Phasor3 GroundTable::secondary_t(const Phasor3& moment_am2, const glm::dvec3& from_surface_m) const {
    if (!values_) {
        return {};
    }
    const double height = std::clamp(from_surface_m.z, 0.0, ground_most_height_m);
    const double s = depth_m_ + height;
    const Outward out = outward(from_surface_m);
    const double range = std::sqrt(out.distance * out.distance + s * s);

    // Cubic through the four rows around.
    const double scaled = out.distance * per_radius_;
    const double along = std::log(scaled + std::sqrt(scaled * scaled + 1.0)) * (1.0 / cell);
    const double at = along < last_cell_ + 1.0 ? along : last_cell_ + 1.0; // beyond the rim, and for a NaN
    const int row = std::min(static_cast<int>(at), last_cell_);
    const double f = at - row;
    const std::array<double, 4> across = {f * (f - 1.0) * (2.0 - f) / 6.0, (f * f - 1.0) * (f - 2.0) / 2.0,
                                          f * (f + 1.0) * (2.0 - f) / 2.0, f * (f * f - 1.0) / 6.0};
    // Chebyshev polynomials of the height, by halves so that they do not wait for one another.
    const double x = 2.0 * height_share_at(height, depth_m_) / height_share_at(ground_most_height_m, depth_m_) - 1.0;
    std::array<double, height_terms> up{1.0, x};
    for (std::size_t k = 2; k < up.size(); ++k) {
        up[k] = 2.0 * up[k / 2] * up[k - k / 2] - (k % 2 == 0 ? 1.0 : x);
    }

    std::array<double, sum_parts> v{};
    const double* from = values_->data() + static_cast<std::ptrdiff_t>(row) * row_size;
    for (const double a : across) {
        std::array<double, sum_parts> w{};
        for (const double t : up) {
            for (std::size_t part = 0; part < sum_parts; ++part) {
                w[part] += t * from[part];
            }
            from += sum_parts;
        }
        for (std::size_t part = 0; part < sum_parts; ++part) {
            v[part] += a * w[part];
        }
    }
    const Sums sums{{v[0], v[1]}, {v[2], v[3]}, {v[4], v[5]}, {v[6], v[7]}, {v[8], v[9]}};
    const double twice = mutated(Mutation::ground_added_twice) ? 2.0 : 1.0;
    return field_of(sums, twice * two_mu0_over_4pi / (range * (range * range + per_k_squared_)), moment_am2, out.cosine,
                    out.sine);
}

GroundTables::GroundTables(double frequency_hz, double resistivity_ohm_m, double least_depth_m, double most_depth_m)
    : least_depth_m_(least_depth_m), most_depth_m_(most_depth_m), per_k_squared_(0.0), last_cell_(0) {
    const double k_squared = wave_number_squared(frequency_hz, resistivity_ohm_m);
    per_k_squared_ = 1.0 / k_squared;
    require_between("least depth in the ground", least_depth_m, ground_least_depth_m, ground_most_depth_m, "m");
    require_between("most depth in the ground", most_depth_m, least_depth_m, ground_most_depth_m, "m");
    const int points = depth_points(least_depth_m, most_depth_m);
    std::vector<double> depths;
    depths.reserve(static_cast<std::size_t>(points));
    for (int j = 0; j < points; ++j) {
        depths.push_back(points == 1 ? least_depth_m
                                     : depth_at(chebyshev_point(j, points), least_depth_m, most_depth_m));
    }
    last_cell_ = static_cast<int>(std::asinh(ground_most_radius_m / least_depth_m) / cell);
    by_depth_ = std::make_shared<const std::vector<std::vector<double>>>(
        make_tables(k_squared, depths, least_depth_m, last_cell_));
}

GroundTable GroundTables::at_depth(double depth_m) const {
    require_between("depth in the ground tables", depth_m, least_depth_m_, most_depth_m_, "m");
    const int points = static_cast<int>(by_depth_->size());
    const double x =
        points == 1 ? 0.0 : 2.0 * std::log(depth_m / least_depth_m_) / std::log(most_depth_m_ / least_depth_m_) - 1.0;
    const std::vector<double> weights = chebyshev_weights(x, points);
    // Four points at a time: the time goes into passes over memory.
    auto values = std::make_shared<std::vector<double>>(by_depth_->front().size(), 0.0);
    for (std::size_t j = 0; j < weights.size(); j += 4) {
        const auto weight = [&](std::size_t k) { return k < weights.size() ? weights[k] : 0.0; };
        const auto from = [&](std::size_t k) { return (*by_depth_)[std::min(k, weights.size() - 1)].data(); };
        const std::array<double, 4> w = {weight(j), weight(j + 1), weight(j + 2), weight(j + 3)};
        const std::array<const double*, 4> p = {from(j), from(j + 1), from(j + 2), from(j + 3)};
        double* to = values->data();
        for (std::size_t k = 0; k < values->size(); ++k) {
            to[k] += (w[0] * p[0][k] + w[1] * p[1][k]) + (w[2] * p[2][k] + w[3] * p[3][k]);
        }
    }
    GroundTable table;
    table.depth_m_ = depth_m;
    table.per_k_squared_ = per_k_squared_;
    table.per_radius_ = 1.0 / least_depth_m_;
    table.last_cell_ = last_cell_;
    table.values_ = std::move(values);
    return table;
}

} // namespace sondeyard::sim
