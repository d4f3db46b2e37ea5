#include "field/level_line_operator.hpp"
#include "sim/random.hpp"
#include "tests/field/faulty_parts.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

namespace sondeyard::test {

using namespace sondeyard::field;

void work_on(const Setting& setting, ModelOperator& who, ExerciseState& state, bool finish) {
    Observation seen = observe(setting, state);
    while (!state.finished_tick && state.tick < an_hour_ticks) {
        const Action action = who.act(seen, state.notebook, state.truck_checks);
        if (!finish && action.command && std::holds_alternative<Finish>(*action.command)) {
            return;
        }
        seen = step(setting, state, action);
    }
}

bool off_band(const World& world, const ExerciseState& state) {
    const Mark* locate = find_last(state.notebook, MarkKind::locate);
    const double band_m = world.rubric.full.width_m(depth_m(world));
    return locate != nullptr && glm::distance(locate->place_m, plan(world.sonde.position_m)) > band_m;
}

namespace {

struct Fix { // what level-line has found
    glm::dvec2 level_m{0.0};
    glm::dvec2 peak_m{0.0};
    glm::dvec2 locate_m{0.0};
    double depth_m = 1.5;
    double tilt_deg = 0.0;
    std::optional<double> raised_deg;
    double along_deg = 0.0;
    bool level_found = false;
    bool track_known = false;
    bool steep = false;
    double downhill = 0.0;
};

class Fixer final : public LevelLine {
public:
    explicit Fixer(const Brief& brief) : LevelLine(brief) {}
    Fix found() const {
        return {origin_m_,  peak_m_,      locate_m_,    depth_m_, tilt_deg_,          raised_deg_,
                along_deg_, level_found_, track_known_, steep_,   downhill_evidence()};
    }

private:
    void work() override {
        paperwork();
        come_near();
        rough_peak();
        rough_depth();
        find_level_line();
        straighten_track();
        scan_track();
        find_plumb_points();
        mark_what_was_found();
    }
};

// The rest of the exercise, from the marks on.
class Ending final : public Script {
public:
    Ending(const Setting& setting, Fix fix, std::set<Fault> faults)
        : Script(setting.brief), world_(setting.world), fix_(std::move(fix)), faults_(std::move(faults)),
          draws_(setting.world.seed, "test.faulty") {
        latest_tick_ = an_hour_ticks;
    }

    bool able() const { return able_; } // to do the fault where he was
    // Of a pair read with a fault, as it was shown: |a - b| / mean.
    double pair_apart() const { return pair_apart_; }

private:
    bool has(Fault fault) const { return faults_.contains(fault); }

    void work() override {
        decide([this] { spoil_marks(); });
        decide([this] { depth(); });
        decide([this] { locate_and_call(); });
        decide([this] { dig(); });
    }
    void wrap_up() override { command(Finish{}); }

    std::vector<Mark> marked(MarkKind kind) const {
        std::vector<Mark> marks;
        std::ranges::copy_if(notebook().marks, std::back_inserter(marks),
                             [&](const Mark& m) { return m.kind == kind; });
        return marks;
    }

    void again(const Mark& mark, double tip_height_m) {
        walk_to(mark.place_m, tip_height_m);
        settle();
        command(MoveMark{mark.id});
    }

    void spoil_marks() {
        const std::vector<Mark> plumb = marked(MarkKind::plumb);
        if (has(Fault::drops_plumb_point)) {
            command(TakeBack{MarkKind::plumb});
        }
        if (has(Fault::peak_at_plumb_point) && !plumb.empty()) {
            command(TakeBack{MarkKind::peak});
            const glm::dvec2 there = plumb.front().place_m;
            fix_.locate_m = there;
            mark_at(there, MarkKind::peak);
        }
        if (has(Fault::plumb_at_peak)) {
            command(TakeBack{MarkKind::plumb});
            mark_at(fix_.peak_m, MarkKind::plumb);
        }
        if (has(Fault::marks_tip_up)) {
            for (const Mark& mark : plumb) {
                again(mark, draws_.uniform(0.17, 0.6));
            }
        }
        if (has(Fault::marks_in_passing)) {
            for (const Mark& mark : plumb) {
                const bool apart = glm::distance(fix_.peak_m, mark.place_m) > 0.4;
                walk_to(apart ? fix_.peak_m : mark.place_m + 0.7 * direction_of(draws_.uniform(0.0, 360.0)), 0.0);
                walk_to(mark.place_m, 0.0);
                command(MoveMark{mark.id});
            }
        }
    }

    void lean(double forward_deg) {
        const int ticks = static_cast<int>(std::abs(forward_deg) / lean_speed_deg_s / tick_s);
        then([left = ticks, forward_deg](Action& action) mutable {
            action.move.lean_forward = forward_deg > 0.0 ? 1.0 : -1.0;
            return left-- > 0 ? Is::busy : Is::done;
        });
    }

    bool clear(const glm::dvec2& place_m) { // with room to walk round it
        bool all = true;
        for (int i = 0; i < 8; ++i) {
            all = all && walkway().can_hold(place_m + 1.0 * direction_of(45.0 * i));
        }
        return all;
    }

    void pair_here() {
        read_depth(1);
        turn_by(180.0);
        read_depth(1);
        decide([this] {
            const std::vector<Reading>& all = notebook().readings;
            if (all.size() >= 2 && all[all.size() - 2].depth_m && all.back().depth_m) {
                const double a_m = *all[all.size() - 2].depth_m;
                const double b_m = *all.back().depth_m;
                pair_apart_ = std::abs(a_m - b_m) / (0.5 * (a_m + b_m));
            }
            take_last();
        });
    }

    void take_last() {
        for (auto r = notebook().readings.rbegin(); r != notebook().readings.rend(); ++r) {
            if (r->depth_m && r->tip_height_m < 0.35) {
                fix_.depth_m = *r->depth_m;
                return;
            }
        }
    }

    void depth() {
        const glm::dvec2 right = direction_of(fix_.along_deg + 90.0);
        const bool own = has(Fault::reads_once) || has(Fault::reads_leaning) || has(Fault::reads_tip_up) ||
                         has(Fault::ignores_pair) || has(Fault::reads_beside);
        if (!own) {
            prove_depth(fix_.peak_m, fix_.depth_m, [this](double depth_m) { fix_.depth_m = depth_m; });
            return;
        }
        glm::dvec2 place = fix_.peak_m;
        if (has(Fault::ignores_pair) || has(Fault::reads_beside)) {
            const double share = has(Fault::ignores_pair) ? draws_.uniform(0.45, 0.55) : draws_.uniform(0.42, 0.7);
            const std::array<glm::dvec2, 2> sides = {place + share * fix_.depth_m * right,
                                                     place - share * fix_.depth_m * right};
            const bool first = clear(sides[0]);
            able_ = first || clear(sides[1]);
            place = able_ ? sides[first ? 0 : 1] : place;
        }
        walk_to(place, 0.0);
        hold_plumb();
        if (has(Fault::reads_tip_up)) {
            hold_height(draws_.uniform(0.035, 0.25));
        }
        settle();
        if (has(Fault::reads_once)) {
            read_depth(1);
            decide([this] { take_last(); });
            return;
        }
        if (has(Fault::reads_leaning) || has(Fault::ignores_pair)) {
            if (has(Fault::ignores_pair)) {
                turn_by(90.0);
            }
            lean(has(Fault::ignores_pair) ? 14.0 : draws_.uniform(5.4, 14.0)); // a hand holds plumb to 0.3 deg
            settle();
        }
        pair_here();
    }

    void locate_and_call() {
        if (has(Fault::mistuned)) {
            const double hz = world_.sonde.frequency_hz == 512.0 ? 640.0 : 512.0;
            command(SetFrequency{hz});
            for (const Mark& mark : marked(MarkKind::peak)) {
                again(mark, 0.0);
            }
        }
        glm::dvec2 place = fix_.locate_m;
        if (has(Fault::locate_at_peak)) {
            place = fix_.peak_m;
        } else if (has(Fault::locate_at_level_line)) {
            place = fix_.level_m;
        } else if (has(Fault::locate_at_midpoint)) {
            const std::vector<Mark> plumb = marked(MarkKind::plumb);
            place = 0.5 * (plumb.front().place_m + plumb.back().place_m);
        } else if (has(Fault::locate_adrift)) {
            place = adrift(draws_.uniform(0.6, 0.9));
        } else if (has(Fault::locate_aside)) {
            place = adrift(draws_.uniform(0.28, 0.36));
        }
        const glm::dvec2 about{draws_.uniform(-0.02, 0.02), draws_.uniform(-0.02, 0.02)};
        mark_at(place + about, MarkKind::locate);
        command(CallDepth{fix_.depth_m});
        if (has(Fault::calls_level) || ((fix_.tilt_deg < 5.0 || !fix_.raised_deg) && !fix_.steep)) {
            command(CallTilt{TiltCall::level, 0.0, std::nullopt});
        } else if (fix_.tilt_deg > 75.0 || !fix_.raised_deg) {
            command(CallTilt{TiltCall::on_end, 0.0, std::nullopt});
        } else {
            command(CallTilt{TiltCall::tilted, *fix_.raised_deg, fix_.tilt_deg});
        }
    }

    // Away from every mark; from the sonde farther than the peak is.
    glm::dvec2 adrift(double share) {
        const double away_m = share * (fix_.depth_m + world_.receiver.tip_to_antenna_m);
        const glm::dvec2 sonde = plan(world_.sonde.position_m);
        for (int i = 0; i < 16; ++i) {
            const glm::dvec2 place = fix_.peak_m + away_m * direction_of(fix_.along_deg + 67.5 + 22.5 * i);
            const bool lonely = std::ranges::all_of(
                notebook().marks, [&](const Mark& m) { return glm::distance(m.place_m, place) > 0.25 * fix_.depth_m; });
            if (lonely && clear(place) && glm::distance(place, sonde) > glm::distance(fix_.peak_m, sonde) + 0.1) {
                return place;
            }
        }
        able_ = false;
        return fix_.locate_m;
    }

    void dig() {
        DigBox box;
        box.centre_m = fix_.locate_m;
        box.heading_deg = fix_.along_deg;
        box.depth_m = std::max(pipe_top_depth_m(fix_.depth_m, brief().sheet) - 0.1, 0.1);
        box.method = DigMethod::vacuum;
        if (has(Fault::machine_at_paint)) {
            box.method = DigMethod::machine;
            box.centre_m = nearest_paint_m(fix_.locate_m);
        }
        if (has(Fault::machine_at_once)) {
            box.method = DigMethod::machine;
        }
        command(ProposeDig{box});
        command(Finish{});
    }

    glm::dvec2 nearest_paint_m(const glm::dvec2& from) const {
        glm::dvec2 best = from;
        double best_m = 1e9;
        for (const PaintedLine& line : brief().paint) {
            for (std::size_t i = 1; i < line.paint_m.size(); ++i) {
                const glm::dvec2 way = line.paint_m[i] - line.paint_m[i - 1];
                const double share = std::clamp(
                    glm::dot(from - line.paint_m[i - 1], way) / std::max(glm::dot(way, way), 1e-9), 0.0, 1.0);
                const glm::dvec2 place = line.paint_m[i - 1] + share * way;
                if (glm::distance(place, from) < best_m) {
                    best_m = glm::distance(place, from);
                    best = place;
                }
            }
        }
        return best;
    }

    const World& world_;
    Fix fix_;
    std::set<Fault> faults_;
    sim::Draws draws_;
    bool able_ = true;
    double pair_apart_ = 0.0;
};

// By the paint, which is all that can be kept away from; or with the line in the box.
bool box_in_zone(const World& world, const DigBox& box) {
    const Polygon outline = rectangle(box.centre_m, box.heading_deg, box.length_m, box.width_m);
    return std::ranges::any_of(world.yard.lines, [&](const BuriedLine& line) {
        const double zone_m = world.rubric.tolerance_zone_m + 0.5 * line.width_m;
        return distance_to_polyline_m(outline, plan(line.points_m)) < 0.5 * line.width_m ||
               (!line.paint_m.empty() && distance_to_polyline_m(outline, line.paint_m) < zone_m);
    });
}

// Whether the tip came from more than 0.08 of the depth off within the 0.3 s before a plumb mark: the display's own
// filter takes half that time.
bool came_running(const Setting& setting, const ExerciseState& state) {
    const double off_m = std::max(0.08, 0.08 * depth_m(setting.world));
    return std::ranges::any_of(state.notebook.marks, [&](const Mark& mark) {
        return mark.kind == MarkKind::plumb && std::ranges::any_of(state.trail, [&](const TrailPoint& p) {
                   return p.tick <= mark.tick && p.tick >= mark.tick - 18 &&
                          glm::distance(p.tip_m, mark.place_m) > off_m;
               });
    });
}

// Whether the depth called is off by more than is allowed, from the ground where the locate stands.
bool depth_off(const World& world, const ExerciseState& state) {
    const Mark* locate = find_last(state.notebook, MarkKind::locate);
    const std::optional<double> called_m = state.notebook.depth_call_m;
    if (locate == nullptr || !called_m) {
        return false;
    }
    const double true_m = height_m(world.yard.terrain, locate->place_m) - world.sonde.position_m.z;
    return std::abs(*called_m - true_m) > world.rubric.depth_share * true_m;
}

// Which findings a fault ought to bring, by what came of it: one that cost nothing is not counted.
void add_built_in(const Setting& setting, const ExerciseState& state, Fault fault, double pair_apart,
                  std::set<std::string_view>& keys) {
    const World& world = setting.world;
    const bool misplaced = off_band(world, state);
    const bool tilted = std::abs(world.sonde.tilt_deg) > 5.0; // a level one has its level line over it
    const auto when = [&](bool is, std::string_view key) {
        if (is) {
            keys.insert(key);
        }
    };
    switch (fault) {
    case Fault::locate_at_peak:
        return when(misplaced, "trusted_peak");
    case Fault::locate_at_level_line:
        return when(misplaced && tilted, "trusted_level_line");
    case Fault::locate_at_midpoint:
        return when(misplaced && tilted, "trusted_midpoint");
    case Fault::locate_adrift:
        return when(misplaced, "unproved_locate");
    case Fault::locate_aside: // what is due of it nobody can say
        return;
    case Fault::peak_at_plumb_point:
        return when(true, "plumb_for_peak");
    case Fault::plumb_at_peak: // and so the second plumb point has no mark
        when(true, "missed_plumb_point");
        return when(true, "peak_for_plumb");
    case Fault::drops_plumb_point:
        return when(true, "missed_plumb_point");
    case Fault::marks_in_passing:
        return when(came_running(setting, state), "too_fast");
    case Fault::reads_tip_up:
    case Fault::marks_tip_up:
        return when(true, "tip_off_ground");
    case Fault::reads_leaning:
        return when(true, "mast_leaning");
    case Fault::reads_once:
        return when(true, "one_reading");
    case Fault::ignores_pair:
        when(true, "mast_leaning");
        when(depth_off(world, state), "read_beside"); // the pair is read aside
        return when(pair_apart > world.rubric.pair_share, "pair_ignored");
    case Fault::reads_beside:
        return when(depth_off(world, state), "read_beside");
    case Fault::calls_level:
        return when(std::abs(world.sonde.tilt_deg) > level_below_deg + tilt_slack_deg, "tilt_not_called");
    case Fault::machine_at_paint:
    case Fault::machine_at_once:
        when(world.sheet.ticket.state != TicketState::cleared, "no_clearance");
        return when(box_in_zone(world, *state.notebook.dig), "tolerance_zone");
    case Fault::mistuned:
        return when(true, "wrong_frequency");
    }
}

std::size_t plumb_marks(const ExerciseState& state) {
    return static_cast<std::size_t>(std::ranges::count(state.notebook.marks, MarkKind::plumb, &Mark::kind));
}

} // namespace

std::vector<Faulty> worked_with_faults(const Setting& setting, const std::string& what) {
    Fixer fixer(setting.brief);
    ExerciseState base = start(setting);
    work_on(setting, fixer, base, false);
    const Fix fix = fixer.found();
    const double tilt_deg = std::abs(setting.world.sonde.tilt_deg);
    const bool two = plumb_marks(base) == 2;
    const bool tilted = tilt_deg > 15.0 && tilt_deg < 45.0;
    const bool apart =
        two && std::ranges::all_of(base.notebook.marks, [&](const Mark& m) { // plumb points and peak
            return m.kind != MarkKind::plumb || glm::distance(m.place_m, fix.peak_m) > 0.35 * fix.depth_m;
        });
    using F = Fault;
    struct Plan {
        std::string name;
        std::set<Fault> faults;
        bool possible = true;
    };
    const std::vector<Plan> plans = {
        {"nothing wrong", {}},
        {"locate at peak", {F::locate_at_peak, F::reads_once}},
        {"locate at level line", {F::locate_at_level_line}, fix.level_found},
        {"locate at midpoint", {F::locate_at_midpoint}, two && tilt_deg < 45.0},
        {"locate adrift", {F::locate_adrift}},
        {"locate aside", {F::locate_aside}},
        {"peak at plumb point", {F::peak_at_plumb_point}, apart},
        {"plumb at peak", {F::plumb_at_peak}, apart},
        {"drops plumb point", {F::drops_plumb_point}, two && tilt_deg < 45.0},
        {"marks in passing", {F::marks_in_passing}, plumb_marks(base) > 0},
        {"reads tip up", {F::reads_tip_up}},
        {"marks tip up", {F::marks_tip_up}, plumb_marks(base) > 0},
        {"reads leaning", {F::reads_leaning}},
        {"reads once", {F::reads_once}},
        {"ignores pair", {F::ignores_pair}},
        {"reads beside", {F::reads_beside}},
        {"calls level", {F::calls_level, F::locate_at_peak}, two && tilted},
        {"machine at paint", {F::machine_at_paint}, !setting.brief.paint.empty()},
        {"machine at once", {F::machine_at_once}, setting.world.sheet.ticket.state != TicketState::cleared},
        {"mistuned", {F::mistuned}},
    };
    std::vector<Faulty> all;
    for (const Plan& plan : plans) {
        if (!plan.possible) {
            continue;
        }
        Faulty one{what + ": " + plan.name, base, {}};
        Ending ending(setting, fix, plan.faults);
        work_on(setting, ending, one.state, true);
        if (!ending.able()) {
            continue;
        }
        for (const Fault fault : plan.faults) {
            add_built_in(setting, one.state, fault, ending.pair_apart(), one.built_in);
        }
        if (plan.faults.contains(F::locate_aside) && off_band(setting.world, one.state)) {
            one.innocent.insert("unproved_locate");
        }
        all.push_back(std::move(one));
    }
    return all;
}

} // namespace sondeyard::test
