// The best-fit operator: probes a rosette of places round the peak, fits a plain dipole to what the display showed
// there (signal, dip and needle at known places), and marks and calls what the fit says: the ceiling for people with
// such a display. It knows nothing that they do not: the ground's shape by eye, how a receiver's antennas may be turned
// in their mounts (three more unknowns), how much a display rounds.
//
// It looks for level line, peak and plumb points where the fitted dipole has them, proves and digs like the level-line
// operator, and falls back to that method when no dipole fits.
#include "field/level_line_operator.hpp"
#include "sim/least_squares.hpp"
#include "sim/units.hpp"

#include <Eigen/Core>
#include <glm/geometric.hpp>
#include <glm/matrix.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

struct Probe {
    glm::dvec3 antenna_m{0.0};
    double facing_deg = 0.0;
    double dbpt = 0.0;
    glm::dvec3 axis{0.0}; // as shown
    double noise = 0.0;   // over signal
};

// The level frame of somebody who faces that way: right, forward, up.
glm::dmat3 frame_of(double facing_deg) { return sim::mast_frame({glm::dvec3{0.0}, facing_deg}); }

constexpr double moment_unit_am2 = 0.1; // parameters of one size: metres, tenths of an A m2, radians
constexpr int unknowns = 9;
constexpr int rows_each = 4;

// Four residuals a probe: signal in dB, and the three parts of the cross product of the axes as shown and as it should
// be shown; then how far the mounts are turned, in deviations of what a maker allows.
Eigen::VectorXd residuals_at(const std::vector<Probe>& probes, const Eigen::VectorXd& p) {
    constexpr double display_db = 0.04; // rounding to a tenth, and small errors of gain
    constexpr double axis_rad = 0.004;  // what is left of leaning and swaying
    constexpr double mount_rad = 0.0175;
    const auto count = static_cast<Eigen::Index>(probes.size());
    Eigen::VectorXd r(rows_each * count + 3);
    const sim::Dipole dipole{{p[0], p[1], p[2]}, {moment_unit_am2 * glm::dvec3{p[3], p[4], p[5]}, glm::dvec3{0.0}}};
    const glm::dvec3 turned{p[6], p[7], p[8]};
    Eigen::Index row = 0;
    for (const Probe& probe : probes) {
        const glm::dvec3 field_t = sim::dipole_field_t(dipole, probe.antenna_m).re;
        const double size_t = std::max(glm::length(field_t), 1e-18);
        r[row++] = (sim::dbpt(size_t) - probe.dbpt) / std::hypot(display_db, 8.7 * probe.noise);
        const glm::dmat3 frame = frame_of(probe.facing_deg);
        const glm::dvec3 in_mast = glm::transpose(frame) * (field_t / size_t);
        const glm::dvec3 shown = frame * glm::normalize(in_mast - glm::cross(turned, in_mast));
        const glm::dvec3 off = glm::cross(shown, probe.axis) / std::hypot(axis_rad, probe.noise);
        for (int k = 0; k < 3; ++k) {
            r[row++] = off[k];
        }
    }
    for (int k = 0; k < 3; ++k) {
        r[row++] = turned[k] / mount_rad;
    }
    return r;
}

sim::ResidualFunction residuals_of(const std::vector<Probe>& probes) {
    return [&probes](const Eigen::VectorXd& p, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
        constexpr double step = 1e-5;
        r = residuals_at(probes, p);
        if (jacobian == nullptr) {
            return;
        }
        jacobian->resize(r.size(), p.size());
        for (Eigen::Index k = 0; k < p.size(); ++k) {
            Eigen::VectorXd there = p;
            there[k] += step;
            const Eigen::VectorXd ahead = residuals_at(probes, there);
            there[k] -= 2.0 * step;
            jacobian->col(k) = (ahead - residuals_at(probes, there)) / (2.0 * step);
        }
    };
}

struct Fitted {
    glm::dvec3 place_m{0.0};
    glm::dvec3 moment_am2{0.0};
    double misfit = 1e9; // RMS residual, in what was expected of it
};

// From several depths and places along the needle of the strongest probe.
std::optional<Fitted> fitted(const std::vector<Probe>& probes, double depth_m) {
    constexpr std::size_t fewest = 6;
    if (probes.size() < fewest) {
        return std::nullopt;
    }
    const Probe& strongest = *std::ranges::max_element(probes, {}, &Probe::dbpt);
    const glm::dvec2 along =
        glm::length(plan(strongest.axis)) > 1e-3 ? glm::normalize(plan(strongest.axis)) : glm::dvec2{0.0, 1.0};
    const double signal_t = 1e-12 * std::pow(10.0, strongest.dbpt / 20.0);
    Fitted best;
    for (const double deep : {0.75, 1.0, 1.3}) {
        for (const double ahead : {0.0, 0.25, -0.25, 0.6, -0.6}) {
            const glm::dvec3 place = strongest.antenna_m + depth_m * glm::dvec3(ahead * along, -deep);
            const glm::dvec3 r = strongest.antenna_m - place;
            const double range = glm::length(r);
            const glm::dvec3 u = r / range;
            const glm::dvec3 moment = 1e7 * range * range * range * signal_t *
                                      (1.5 * glm::dot(u, strongest.axis) * u - strongest.axis) / moment_unit_am2;
            Eigen::VectorXd start = Eigen::VectorXd::Zero(unknowns);
            start.head(6) << place.x, place.y, place.z, moment.x, moment.y, moment.z;
            const sim::LeastSquaresFit fit = sim::fit_least_squares(
                residuals_of(probes), start, {.most_steps = 60, .step_tolerance = 1e-7, .offset_tolerance = 1e-4});
            const double misfit = std::sqrt(fit.chi_square / static_cast<double>(fit.degrees_of_freedom));
            const glm::dvec3 found{fit.parameters[0], fit.parameters[1], fit.parameters[2]};
            if (fit.verdict != sim::FitVerdict::not_finite && misfit < best.misfit &&
                found.z < strongest.antenna_m.z - 0.2) {
                best = {found, moment_unit_am2 * glm::dvec3{fit.parameters[3], fit.parameters[4], fit.parameters[5]},
                        misfit};
            }
        }
    }
    return best.misfit < 1e8 ? std::optional(best) : std::nullopt;
}

class BestFitOperator final : public LevelLine {
public:
    explicit BestFitOperator(const Brief& brief) : LevelLine(brief) {}

private:
    void work() override;
    void wrap_up() override;
    void survey(const glm::dvec2& middle_m, const std::vector<double>& rings);
    void fit_and_look_again(int times_left);
    void by_the_other_method();
    void take_over();
    void look_along_track();
    void mark_plumb_points();
    glm::dvec3 field_on_ground(const glm::dvec2& place_m) const;

    std::vector<Probe> probes_;
    std::optional<Fitted> fit_;
    std::vector<double> plumb_along_m_;
};

void BestFitOperator::work() {
    paperwork();
    come_near();
    rough_peak();
    rough_depth();
    decide([this] { survey(best_m_, {0.0, 0.35, 0.8, 1.3}); });
    decide([this] { fit_and_look_again(2); });
    decide([this] {
        if (!fit_) {
            by_the_other_method();
            return;
        }
        take_over();
        mark_plumb_points();
        mark_what_was_found();
        decide([this] { plumb_ = {}; }); // the fit knows better which end is down
        prove();
        walk_off();
        decide([this] { depth_m_ = height_m(brief().terrain, peak_m_) - fit_->place_m.z; });
        call();
    });
}

void BestFitOperator::wrap_up() {
    decide([this] {
        fit_ = fitted(probes_, depth_m_);
        if (fit_) {
            take_over();
            plumb_ = {};
            depth_m_ = height_m(brief().terrain, peak_m_) - fit_->place_m.z;
            call();
        } else {
            LevelLine::wrap_up();
        }
    });
}

void BestFitOperator::by_the_other_method() {
    find_level_line();
    locate_here();
    call();
}

// Probes on rings about a place, in depths; six to a ring, each turned against the last. Where nobody can stand is left
// out.
void BestFitOperator::survey(const glm::dvec2& middle_m, const std::vector<double>& rings) {
    constexpr int bearings = 6;
    constexpr double loud_enough_db = 12.0;
    double first_deg = 0.0;
    for (const double ring : rings) {
        for (int i = 0; i < (ring > 0.0 ? bearings : 1); ++i) {
            const glm::dvec2 place = middle_m + ring * depth_m_ * direction_of(first_deg + 360.0 / bearings * i);
            if (!walkway().can_hold(place)) {
                continue;
            }
            probe(place, [this](const Sample& s) {
                if (!s.axis || s.signal_dbpt < floor_dbpt() + loud_enough_db) {
                    return;
                }
                const double antenna_z =
                    height_m(brief().terrain, s.place_m) + seen().tip_height_m + brief().tip_to_antenna_m;
                probes_.push_back({{s.place_m, antenna_z},
                                   seen().facing_deg,
                                   s.signal_dbpt,
                                   *s.axis,
                                   0.3 * std::pow(10.0, (floor_dbpt() - s.signal_dbpt) / 20.0)});
            });
        }
        first_deg += 180.0 / bearings;
    }
}

// The rosette lay about the peak, of which a tilted sonde lies aside: more probes about where the fit puts it.
void BestFitOperator::fit_and_look_again(int times_left) {
    constexpr double hardly_a_dipole = 12.0;
    constexpr double farthest = 3.0; // of the depth that was read, from the peak
    fit_ = fitted(probes_, depth_m_);
    if (fit_ && (fit_->misfit > hardly_a_dipole || glm::distance(plan(fit_->place_m), best_m_) > farthest * depth_m_)) {
        fit_.reset();
    }
    if (!fit_ || times_left == 0) {
        return;
    }
    depth_m_ = std::clamp(height_m(brief().terrain, plan(fit_->place_m)) - fit_->place_m.z, 0.3, 8.0);
    survey(plan(fit_->place_m), times_left > 1 ? std::vector<double>{0.0, 0.6} : std::vector<double>{0.9});
    decide([this, times_left] { fit_and_look_again(times_left - 1); });
}

glm::dvec3 BestFitOperator::field_on_ground(const glm::dvec2& place_m) const {
    const glm::dvec3 antenna{place_m, height_m(brief().terrain, place_m) + brief().tip_to_antenna_m};
    return sim::dipole_field_t({fit_->place_m, {fit_->moment_am2, glm::dvec3{0.0}}}, antenna).re;
}

// What the level-line method finds with its feet, from the fit: the track runs over the sonde, ahead is where it falls.
void BestFitOperator::take_over() {
    const glm::dvec3 down = fit_->moment_am2.z > 0.0 ? -fit_->moment_am2 : fit_->moment_am2;
    tilt_deg_ = sim::degrees(std::atan2(-down.z, std::hypot(down.x, down.y)));
    along_deg_ = heading_of(plan(down));
    raised_deg_ = sim::wrap_360(along_deg_ + 180.0);
    track_known_ = true;
    locate_m_ = origin_m_ = peak_m_ = plan(fit_->place_m);
    depth_m_ = height_m(brief().terrain, locate_m_) - fit_->place_m.z;
    look_along_track();
}

void BestFitOperator::look_along_track() {
    constexpr int steps = 240; // from 1.8 depths behind to as many ahead
    constexpr double reach = 1.8;
    constexpr double level_within = 1.0; // of the depth
    const glm::dvec2 middle = plan(fit_->place_m);
    const glm::dvec2 ahead = direction_of(along_deg_);
    plumb_along_m_.clear();
    double strongest_t = 0.0;
    double level_m = 0.0;
    level_found_ = false;
    glm::dvec3 before{0.0};
    for (int i = 0; i <= steps; ++i) {
        const double along_m = depth_m_ * reach * (2.0 * i / steps - 1.0);
        const glm::dvec3 field_t = field_on_ground(middle + along_m * ahead);
        if (glm::length(field_t) > strongest_t) {
            strongest_t = glm::length(field_t);
            peak_m_ = middle + along_m * ahead;
        }
        const double level_part = glm::dot(plan(field_t), ahead);
        if (i > 0 && level_part * glm::dot(plan(before), ahead) < 0.0) {
            plumb_along_m_.push_back(along_m);
        }
        if (i > 0 && field_t.z * before.z < 0.0 && std::abs(along_m) < level_within * depth_m_) {
            level_found_ = true;
            level_m = along_m;
        }
        before = field_t;
    }
    if (level_found_) {
        origin_m_ = middle + level_m * ahead;
    }
}

void BestFitOperator::mark_plumb_points() {
    for (const double along_m : plumb_along_m_) {
        const glm::dvec2 place = plan(fit_->place_m) + along_m * direction_of(along_deg_);
        probe(place, [this, along_m](const Sample& s) {
            if (there_ && s.axis) {
                take_plumb(along_m, s, 1);
            }
        });
    }
}

} // namespace

std::unique_ptr<ModelOperator> make_best_fit(const Brief& brief) { return std::make_unique<BestFitOperator>(brief); }

} // namespace sondeyard::field
