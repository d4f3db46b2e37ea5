// From a checked scenario and a seed to a World. Every key draws from its own stream, named after it, so that adding a
// distribution to one key changes nothing that another one draws.
#include "field/exercise.hpp"
#include "field/geometry.hpp"
#include "scenarios/drape.hpp"
#include "scenarios/generator.hpp"
#include "scenarios/grid.hpp"
#include "scenarios/world_parts.hpp"
#include "sim/random.hpp"
#include "sim/units.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace sondeyard::scenarios {

namespace {

using Content = Scenario::Content;

constexpr int most_yards = 60;         // tried round a run given by its points
constexpr int most_grounds = 60;       // yards tried on ground with a shape
constexpr int most_refused = 5;        // of these, that the generator gives up on
constexpr double clear_of_run_m = 0.5; // houses and trees keep this far from such a run
constexpr double most_slack = 1.03; // the cable lies in curves: its counter shows up to 3 % more than the pipe's length

// Iron drains are cast thick, steel ones rolled; of ordinary size, from memory.
double usual_wall_m(field::PipeMaterial material, double standard_m) {
    switch (material) {
    case field::PipeMaterial::cast_iron:
        return 0.006;
    case field::PipeMaterial::steel:
        return 0.004;
    case field::PipeMaterial::stainless:
        return 0.002;
    case field::PipeMaterial::pvc:
    case field::PipeMaterial::clay:
        break;
    }
    return standard_m;
}

// The signal that belongs on the job sheet: what a receiver without mounting errors, on the sonde's own frequency,
// hears at the truck with the sonde broadside.
double truck_signal_dbpt(const field::World& world) {
    const sim::Instrument instrument = sim::perfect_instrument(world.receiver);
    const double f = world.sonde.frequency_hz;
    const auto signals = sim::truck_check_signals_t(instrument, field::truck_distance_m, world.sonde.moment_am2, f, f);
    return sim::dbpt(sim::measure(instrument, signals, f, 0.0, sim::CoilAttitude::level).signal_t);
}

// What else is to be in the yard: a line near the sonde, another crew, mains.
void fill_company(const Values& v, Wanted& w) {
    if (v.content().tables.contains("neighbour")) {
        Neighbour n;
        n.kind = v.word("neighbour.kind", n.kind);
        n.connection = v.word("neighbour.connection", n.connection);
        n.across = v.whole("neighbour.lies", 0) == 1;
        n.offset_m = v.number("neighbour.offset_m", n.offset_m);
        n.depth_m = v.number("neighbour.depth_m", n.depth_m);
        n.width_m = v.number("neighbour.width_m", n.width_m);
        n.resistance_ohm = v.number("neighbour.resistance_ohm", n.resistance_ohm);
        n.marked = v.yes("neighbour.marked", n.marked);
        n.clamp_current_a = micro(1e-3 * v.number("neighbour.clamp_current_mA", 0.0));
        n.clamp_frequency_hz = v.number("neighbour.clamp_frequency_hz", n.clamp_frequency_hz);
        w.neighbour = n;
    }
    if (v.find("other_sonde.distance_m") != nullptr) {
        OtherCrew crew;
        crew.frequency_hz = v.number("other_sonde.frequency_hz", w.frequency_hz);
        crew.moment_am2 = v.number("other_sonde.moment_A_m2", crew.moment_am2);
        crew.distance_m = v.number("other_sonde.distance_m", crew.distance_m);
        crew.depth_m = v.number("other_sonde.depth_m");
        crew.tilt_deg = v.number("other_sonde.tilt_deg", crew.tilt_deg);
        w.other_crew = crew;
    }
    const double current_a = v.number("hum.current_A", 0.0);
    if (current_a > 0.0) {
        w.supply = Supply{current_a, v.whole("hum.supply", 0) == 1};
    }
}

Wanted wanted_of(const Values& v) {
    const Wanted standard;
    Wanted w;
    w.seed = v.seed();
    w.width_m = v.number("yard.width_m");
    w.length_m = v.number("yard.length_m");
    w.empty_lawn = v.whole("yard.layout", 0) == 1;
    w.position_m = v.place("sonde.position_m");
    w.shape = v.word("run.shape", w.position_m || v.find("run.points_m") != nullptr ? RunShape::none : RunShape::fall);
    w.fall_percent = v.number("run.fall_percent");
    w.branch_tilt_deg = v.number("run.branch_tilt_deg");
    w.depth_m = v.number("sonde.depth_m");
    w.heading_deg = v.number("sonde.heading_deg");
    w.tilt_deg = v.number("sonde.tilt_deg");
    w.frequency_hz = v.number("sonde.frequency_hz", standard.frequency_hz);
    w.moment_am2 = v.number("sonde.moment_A_m2", standard.moment_am2);
    w.material = v.word("run.material", standard.material);
    w.inside_diameter_m = v.number("run.inside_diameter_m", standard.inside_diameter_m);
    w.wall_m = v.number("run.wall_m", usual_wall_m(w.material, standard.wall_m));
    w.sonde_above_invert_m = v.number("sonde.above_invert_m", standard.sonde_above_invert_m);
    w.sonde_to_lens_m = v.number("sheet.sonde_to_lens_m", standard.sonde_to_lens_m);
    w.lens_to_fault_m = v.number("sheet.lens_to_fault_m", standard.lens_to_fault_m);
    w.counter_zero = v.word("sheet.counter_zero", standard.counter_zero);
    w.second_drain = v.yes("run.second_drain", standard.second_drain);
    fill_company(v, w);
    if (v.find("yard.line_count") != nullptr) {
        w.line_count = static_cast<int>(v.whole("yard.line_count", 0));
    }
    if (v.find("sheet.ticket_state") != nullptr) {
        w.ticket_state = v.word("sheet.ticket_state", field::TicketState::cleared);
    }
    return w;
}

void check_drawn(const Values& v, const Wanted& w) {
    if (w.sonde_above_invert_m >= w.inside_diameter_m) {
        v.refuse("sonde.above_invert_m",
                 fmt::format("found {} in a pipe of {} m; allowed: less than its inside diameter",
                             w.sonde_above_invert_m, w.inside_diameter_m));
    }
    if (w.position_m && (w.position_m->x > w.width_m.value_or(60.0) || w.position_m->y > w.length_m.value_or(60.0))) {
        v.refuse("sonde.position_m",
                 fmt::format(
                     "found ({}, {}) drawn with seed {}, outside the yard; allowed: 0 to {} m east, 0 to {} m north",
                     w.position_m->x, w.position_m->y, v.seed(), w.width_m.value_or(60.0), w.length_m.value_or(60.0)));
    }
}

bool run_is_clear(const field::World& world, const field::Run& run) {
    const std::vector<glm::dvec2> track = field::plan(run.centreline_m);
    return std::ranges::none_of(world.yard.areas, [&](const field::Area& area) {
        return !field::walkable(area.kind) && area.kind != field::AreaKind::planting &&
               area.kind != field::AreaKind::fence &&
               field::distance_to_polyline_m(area.outline_m, track) < clear_of_run_m;
    });
}

// A run given by its points: the sonde is placed in it, and yards are drawn round it until one leaves it clear.
field::World build_round_run(const Values& v, Wanted wanted) {
    const std::uint64_t first_seed = wanted.seed;
    field::Run run{v.places_3d("run.points_m"), wanted.material, wanted.inside_diameter_m, wanted.wall_m};
    to_grid(run.centreline_m);
    sim::Draws draws(v.seed(), "scenario.run.points_m");
    const double along_m = field::length_m(run) * draws.uniform(0.25, 0.75);
    const double slack = draws.uniform(1.0, most_slack);
    const Lying lying = wanted.position_m
                            ? lie_in_run(run, *wanted.position_m, wanted.depth_m, wanted.sonde_above_invert_m)
                            : lie_in_run(run, along_m, wanted.sonde_above_invert_m);
    if (!lying.fault.empty()) {
        v.refuse("sonde.position_m", lying.fault);
    }
    const field::RunAttitude pipe = field::attitude_at(run, lying.along_m);
    wanted.position_m = field::plan(lying.position_m);
    wanted.depth_m = -lying.position_m.z;
    wanted.heading_deg = wanted.heading_deg.value_or(pipe.heading_deg);
    wanted.tilt_deg = wanted.tilt_deg.value_or(pipe.tilt_deg);
    wanted.shape = RunShape::none;
    wanted.run = run;
    if (const std::string fault = neighbour_fault(wanted); !fault.empty()) {
        v.refuse(v.find("neighbour.depth_m") != nullptr ? "neighbour.depth_m" : "neighbour.kind", fault);
    }
    const auto widest = [&](auto axis) { return std::ranges::max(run.centreline_m, {}, axis).*axis + 1.0; };
    wanted.width_m = wanted.width_m.value_or(std::max(30.0, std::ceil(widest(&glm::dvec3::x))));
    wanted.length_m = wanted.length_m.value_or(std::max(30.0, std::ceil(widest(&glm::dvec3::y))));
    wanted.width_m = std::min(*wanted.width_m, 60.0);
    wanted.length_m = std::min(*wanted.length_m, 60.0);
    int refused = 0;
    for (int attempt = 0; attempt < most_yards; ++attempt) {
        // Philox decorrelates neighbouring seeds; the odd constant (2^64 / golden ratio) keeps clear of seeds that
        // people type.
        wanted.seed = first_seed + static_cast<std::uint64_t>(attempt) * 0x9E3779B97F4A7C15ULL;
        field::World world;
        try {
            world = generate(wanted);
        } catch (const CannotBuild&) { // another yard may fit; one that never will is not tried for long
            if (++refused > most_refused) {
                throw;
            }
            continue;
        }
        world.sonde.position_m = lying.position_m;
        world.run = run;
        world.sheet.cleanout_m = field::plan(run.centreline_m.front());
        const double down_m =
            wanted.counter_zero == field::CounterZero::cleanout_rim ? -run.centreline_m.front().z : 0.0;
        world.sheet.counter_m = (down_m + lying.along_m) * slack;
        if (run_is_clear(world, run)) {
            return world;
        }
    }
    throw CannotBuild(fmt::format("none of {} yards leaves the run given by run.points_m clear", most_yards));
}

GroundWish ground_of(const Values& v) {
    GroundWish wish;
    wish.slope_percent = v.number("ground.slope_percent", wish.slope_percent);
    wish.slope_toward_deg = v.number("ground.slope_toward_deg");
    wish.step_rise_m = v.number("ground.step_rise_m", wish.step_rise_m);
    wish.step_ramp_m = v.number("ground.step_ramp_m", wish.step_ramp_m);
    wish.step_offset_m = v.number("ground.step_offset_m");
    wish.step_toward_deg = v.number("ground.step_toward_deg");
    wish.pad_rise_m = v.number("ground.pad_rise_m", wish.pad_rise_m);
    wish.pad_offset_m = v.number("ground.pad_offset_m");
    wish.pad_toward_deg = v.number("ground.pad_toward_deg");
    return wish;
}

field::World build_level(const Values& v, const Wanted& wanted) {
    return v.find("run.points_m") != nullptr ? build_round_run(v, wanted) : generate(wanted);
}

// Yards are drawn on level ground and laid over the wanted shape until one takes it.
field::World build_yard(const Values& v, Wanted wanted) {
    const GroundWish wish = ground_of(v);
    if (!shaped(wish)) {
        return build_level(v, wanted);
    }
    const bool run_is_given = v.find("run.points_m") != nullptr;
    std::string why;
    for (int attempt = 0; attempt < most_grounds; ++attempt) {
        wanted.seed = v.seed() + static_cast<std::uint64_t>(attempt) * 0xD1B54A32D192ED03ULL; // odd, for other yards
        field::World world = build_level(v, wanted);
        world.sonde.heading_deg = sim::wrap_360(wanted.heading_deg.value_or(world.sonde.heading_deg));
        world.sonde.tilt_deg = wanted.tilt_deg.value_or(world.sonde.tilt_deg);
        if (drape(world, wish, wanted.seed, run_is_given, why)) {
            return world;
        }
    }
    const auto table = v.content().tables.find("ground");
    throw ScenarioError({message_at(
        v.content(), table != v.content().tables.end() ? table->second : Spot{}, "ground",
        fmt::format("found a shape that none of {} yards takes with seed {}; in the last one {}; allowed: a gentler "
                    "shape, another place for it, a deeper sonde or another seed",
                    most_grounds, v.seed(), why))});
}

field::World build_world(const Values& v) {
    const Wanted wanted = wanted_of(v);
    check_drawn(v, wanted);
    field::World world = build_yard(v, wanted);
    world.seed = v.seed();
    world.yard.resistivity_ohm_m = v.number("ground.resistivity_ohm_m");
    world.yard.mains_hz = v.number("hum.mains_hz", world.yard.mains_hz);
    fill_lesson(v, world.lesson);
    if (world.run) {
        world.run->metal = metal_of(v, world.run->material);
        world.run->slack_m = v.number("run.slack_m");
    }
    world.sonde.frequency_hz = wanted.frequency_hz;
    world.sonde.moment_am2 = wanted.moment_am2;
    world.sonde.heading_deg = sim::wrap_360(wanted.heading_deg.value_or(world.sonde.heading_deg));
    world.sonde.tilt_deg = wanted.tilt_deg.value_or(world.sonde.tilt_deg);
    fill_receiver(v, world.receiver);
    fill_rubric(v, world.rubric);
    world.habits.lean_deg = v.number("operator.lean_deg", world.habits.lean_deg);
    world.habits.lean_toward_deg = v.number("operator.lean_toward_deg", world.habits.lean_toward_deg);
    world.start_facing_deg = sim::wrap_360(world.start_facing_deg);

    field::JobSheet& sheet = world.sheet;
    fill_texts(v, sheet);
    sheet.frequency_hz = v.number("sheet.frequency_hz", wanted.frequency_hz);
    sheet.counter_zero = wanted.counter_zero;
    sheet.material = wanted.material;
    sheet.inside_diameter_m = wanted.inside_diameter_m;
    sheet.wall_m = wanted.wall_m;
    sheet.sonde_above_invert_m = wanted.sonde_above_invert_m;
    if (world.run) {
        const double along_m = field::project(*world.run, world.sonde.position_m).along_m;
        sheet.sonde_above_invert_m = field::centre_above_invert_m(*world.run, along_m, wanted.sonde_above_invert_m);
    }
    sheet.sonde_to_lens_m = wanted.sonde_to_lens_m;
    sheet.lens_to_fault_m = wanted.lens_to_fault_m;
    if (v.find("sheet.ticket_number") != nullptr) {
        sheet.ticket.number = v.text("sheet.ticket_number");
    }
    sheet.truck_signal_dbpt = truck_signal_dbpt(world);
    to_grid(world);
    return world;
}

void check_world(const Content& content, const field::World& world) {
    std::vector<std::string> messages;
    field::World level = world;
    level.yard.terrain = {};
    const std::vector<std::string> whatever_the_ground = field::faults(level);
    const auto table = content.tables.find("ground");
    const Spot ground = table != content.tables.end() ? table->second : Spot{};
    for (const std::string& fault : field::faults(world)) {
        const bool of_ground = std::ranges::find(whatever_the_ground, fault) == whatever_the_ground.end();
        messages.push_back(message_at(content, of_ground ? ground : Spot{}, of_ground ? "ground" : "yard",
                                      fmt::format("found with seed {}: {}", world.seed, fault)));
    }
    const field::Rubric& rubric = world.rubric;
    if (rubric.full.least_m > rubric.half.least_m || rubric.half.least_m > rubric.quarter.least_m ||
        rubric.full.share_of_depth > rubric.half.share_of_depth ||
        rubric.half.share_of_depth > rubric.quarter.share_of_depth) {
        messages.push_back(
            message_at(content, {}, "rubric", "found bands out of order; allowed: full <= half <= quarter"));
    }
    if (!messages.empty()) {
        throw ScenarioError(std::move(messages));
    }
}

} // namespace

Lying lie_in_run(const field::Run& run, double along_m, double above_invert_m) {
    return {field::sonde_centre_m(run, along_m, above_invert_m), along_m, {}};
}

Lying lie_in_run(const field::Run& run, const glm::dvec2& place_m, std::optional<double> depth_m,
                 double above_invert_m) {
    const double radius_m = 0.5 * run.inside_diameter_m;
    Lying lying;
    double off_m = std::numeric_limits<double>::infinity();
    if (depth_m) {
        lying.position_m = {place_m, -*depth_m};
        const field::RunProjection projection = field::project(run, lying.position_m);
        lying.along_m = projection.along_m;
        off_m = projection.distance_m;
    } else { // no depth: that of the pipe under the place, half way down where the pipe is upright
        double before_m = 0.0;
        for (std::size_t i = 1; i < run.centreline_m.size(); ++i) {
            const glm::dvec3 a = run.centreline_m[i - 1];
            const glm::dvec3 step = run.centreline_m[i] - a;
            const double level2 = step.x * step.x + step.y * step.y;
            const double t = level2 > 1e-12
                                 ? std::clamp(glm::dot(place_m - field::plan(a), field::plan(step)) / level2, 0.0, 1.0)
                                 : 0.5;
            const double off = glm::distance(place_m, field::plan(a + t * step));
            if (off < off_m) {
                off_m = off;
                lying.along_m = before_m + t * glm::length(step);
            }
            before_m += glm::length(step);
        }
        lying.position_m = {place_m, field::sonde_centre_m(run, lying.along_m, above_invert_m).z};
    }
    if (off_m > radius_m + 1e-6) {
        lying.fault =
            depth_m
                ? fmt::format("found ({}, {}) at depth {}, {:.3f} m off the run; allowed: at most the pipe's inside "
                              "radius, {} m",
                              place_m.x, place_m.y, *depth_m, off_m, radius_m)
                : fmt::format("found ({}, {}), {:.3f} m off the run in plan; allowed: at most the pipe's inside "
                              "radius, {} m",
                              place_m.x, place_m.y, off_m, radius_m);
    }
    return lying;
}

field::World resolve(const Scenario& scenario, std::uint64_t seed) {
    const Content& content = scenario.content();
    try {
        field::World world =
            content.resolved ? read_world(content) : build_world(Values(content, content.entries, seed));
        check_world(content, world);
        return world;
    } catch (const CannotBuild& e) {
        throw ScenarioError({message_at(content, {}, "yard",
                                        fmt::format("found nothing that fits with seed {}: {}; allowed: another "
                                                    "seed, a larger yard or fewer demands",
                                                    seed, e.what()))});
    }
}

} // namespace sondeyard::scenarios
