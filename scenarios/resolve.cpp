// From a checked scenario and a seed to a World. Every key draws from its own stream, named after it, so that adding a
// distribution to one key changes nothing that another one draws.
#include "field/exercise.hpp"
#include "field/geometry.hpp"
#include "scenarios/drape.hpp"
#include "scenarios/generator.hpp"
#include "scenarios/schema.hpp"
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

constexpr int most_redraws = 200;      // of a normal distribution that leaves the allowed range
constexpr int most_yards = 60;         // tried round a run given by its points
constexpr int most_grounds = 60;       // yards tried on ground with a shape
constexpr int most_refused = 5;        // of these, that the generator gives up on
constexpr double clear_of_run_m = 0.5; // houses and trees keep this far from such a run
constexpr double most_slack = 1.03; // the cable lies in curves: its counter shows up to 3 % more than the pipe's length

// A world is brought to this grid before anything is made of it, so that its decimal text is exact and two machines
// whose sines differ in the last digit build the same one.
double micro(double value) { return std::round(value * 1e6) / 1e6; }
void to_grid(double& value) { value = micro(value) + 0.0; }

template <int N>
void to_grid(glm::vec<N, double, glm::defaultp>& p) {
    for (int i = 0; i < N; ++i) {
        to_grid(p[i]);
    }
}

template <typename Point>
void to_grid(std::vector<Point>& points) {
    for (Point& p : points) {
        to_grid(p);
    }
}

// Angles that were brought into [0, 360) before may round up to 360.
void heading_to_grid(double& heading_deg) {
    to_grid(heading_deg);
    if (heading_deg >= 360.0) {
        heading_deg -= 360.0;
    }
}

void world_to_grid(field::World& world) {
    to_grid(world.yard.width_m);
    to_grid(world.yard.length_m);
    for (field::Area& area : world.yard.areas) {
        to_grid(area.outline_m);
    }
    for (field::Clue& clue : world.yard.clues) {
        to_grid(clue.place_m);
    }
    for (field::BuriedLine& line : world.yard.lines) {
        to_grid(line.points_m);
        to_grid(line.paint_m);
        to_grid(line.width_m);
    }
    for (field::OverheadLine& line : world.yard.overhead) {
        to_grid(line.points_m);
    }
    for (field::OtherSonde& other : world.other_sondes) {
        to_grid(other.sonde.position_m);
        heading_to_grid(other.sonde.heading_deg);
    }
    if (world.run) {
        to_grid(world.run->centreline_m);
        to_grid(world.run->inside_diameter_m);
        if (world.run->slack_m) {
            to_grid(*world.run->slack_m);
        }
        to_grid(world.run->wall_m);
    }
    to_grid(world.sonde.position_m);
    heading_to_grid(world.sonde.heading_deg);
    to_grid(world.sonde.tilt_deg);
    if (world.sheet.cleanout_m) {
        to_grid(*world.sheet.cleanout_m);
    }
    if (world.sheet.counter_m) {
        to_grid(*world.sheet.counter_m);
    }
    world.sheet.truck_signal_dbpt = std::round(world.sheet.truck_signal_dbpt * 1e3) / 1e3;
    to_grid(world.habits.lean_deg);
    to_grid(world.habits.lean_toward_deg);
    to_grid(world.start_m);
    heading_to_grid(world.start_facing_deg);
}

// What a table holds, with every distribution drawn.
class Values {
public:
    Values(const Content& content, const Entries& entries, std::uint64_t seed)
        : content_(content), entries_(entries), seed_(seed) {}

    const Entry* find(std::string_view key) const {
        const auto at = entries_.find(key);
        return at == entries_.end() ? nullptr : &at->second;
    }

    std::optional<double> number(std::string_view key) const {
        const Entry* entry = find(key);
        return entry == nullptr
                   ? std::nullopt
                   : std::optional(draw(*entry, key, std::string(key), std::get<std::vector<Number>>(entry->value)[0]));
    }
    double number(std::string_view key, double standard) const { return number(key).value_or(standard); }

    std::optional<glm::dvec2> place(std::string_view key) const {
        const Entry* entry = find(key);
        if (entry == nullptr) {
            return std::nullopt;
        }
        const auto& both = std::get<std::vector<Number>>(entry->value);
        return glm::dvec2{draw(*entry, key, fmt::format("{}.x", key), both[0]),
                          draw(*entry, key, fmt::format("{}.y", key), both[1])};
    }

    std::string text(std::string_view key) const {
        const Entry* entry = find(key);
        return entry == nullptr ? std::string{} : std::get<std::string>(entry->value);
    }
    bool yes(std::string_view key, bool standard) const {
        const Entry* entry = find(key);
        return entry == nullptr ? standard : std::get<bool>(entry->value);
    }
    std::uint64_t whole(std::string_view key, std::uint64_t standard) const { // counts, seeds and the index of a word
        const Entry* entry = find(key);
        return entry == nullptr ? standard : std::get<std::uint64_t>(entry->value);
    }
    template <typename Enumeration>
    Enumeration word(std::string_view key, Enumeration standard) const {
        return static_cast<Enumeration>(whole(key, static_cast<std::uint64_t>(standard)));
    }

    std::vector<glm::dvec2> places(std::string_view key) const {
        std::vector<glm::dvec2> out;
        for (const auto& p : std::get<Points>(find(key)->value)) {
            out.emplace_back(p[0], p[1]);
        }
        return out;
    }
    std::vector<glm::dvec3> places_3d(std::string_view key) const {
        std::vector<glm::dvec3> out;
        for (const auto& p : std::get<Points>(find(key)->value)) {
            out.emplace_back(p[0], p[1], p[2]);
        }
        return out;
    }

    [[noreturn]] void refuse(std::string_view key, std::string_view text) const {
        const Entry* entry = find(key);
        throw ScenarioError({message_at(content_, entry != nullptr ? entry->spot : Spot{}, key, text)});
    }

    std::uint64_t seed() const { return seed_; }
    const Content& content() const { return content_; }

private:
    double draw(const Entry& entry, std::string_view key, const std::string& stream, const Number& number) const {
        if (content_.resolved) {
            return number.values.front(); // given to the last digit already
        }
        sim::Draws draws(seed_, "scenario." + stream);
        const auto& v = number.values;
        switch (number.form) {
        case Number::Form::fixed:
            return micro(v[0]);
        case Number::Form::uniform:
            return micro(draws.uniform(v[0], v[1]));
        case Number::Form::choice:
            return micro(v[static_cast<std::size_t>(draws.integer(0, static_cast<int>(v.size()) - 1))]);
        case Number::Form::normal:
            break;
        }
        // The tails of a normal distribution reach outside any range: draw again, since moving the value to the range's
        // edge would heap cases up there.
        const KeyRow& row = *find_row(key);
        double drawn = 0.0;
        for (int i = 0; i < most_redraws; ++i) {
            drawn = micro(draws.normal(v[0], v[1]));
            if (drawn <= row.high && (row.low_excluded ? drawn > row.low : drawn >= row.low)) {
                return drawn;
            }
        }
        throw ScenarioError(
            {message_at(content_, entry.spot, key,
                        fmt::format("found {} drawn from the distribution with seed {}, and {} draws all outside "
                                    "the range; allowed: {}",
                                    drawn, seed_, most_redraws, allowed_text(row)))});
    }

    const Content& content_;
    const Entries& entries_;
    std::uint64_t seed_;
};

// ---- The parts that both forms share ----

void fill_front_end(const Values& v, sim::ReceiverSpec& spec) {
    const auto set = [&](std::string_view key, double& value) { value = v.number(key, value); };
    if (v.find("receiver.coil_turns") != nullptr) {
        spec.coil.emplace();
        set("receiver.coil_turns", spec.coil->turns);
        set("receiver.coil_core_diameter_m", spec.coil->core_diameter_m);
        set("receiver.coil_mu_eff", spec.coil->mu_eff);
        set("receiver.coil_resistance_ohm", spec.coil->resistance_ohm);
        set("receiver.coil_amplifier_nv_per_rthz", spec.coil->amplifier_nv_per_rthz);
    }
    spec.has_wide = v.yes("receiver.has_wide", spec.has_wide);
    set("receiver.wide_settling_tau_s", spec.wide_settling_tau_s);
    set("receiver.wide_band_half_width_hz", spec.wide_band_half_width_hz);
    set("receiver.full_scale_dbpt", spec.front_end.full_scale_dbpt);
    set("receiver.gain_step_db", spec.front_end.gain_step_db);
    spec.front_end.gain_steps = static_cast<int>(v.whole("receiver.gain_steps", 0));
    spec.front_end.converter_bits = static_cast<int>(v.whole("receiver.converter_bits", 0));
    set("receiver.gain_error_sd_percent", spec.gain_error_sd_percent);
    set("receiver.mast_bend_sd_deg", spec.mast_bend_sd_deg);
}

void fill_receiver(const Values& v, sim::ReceiverSpec& spec) {
    spec.kind = v.word("receiver.kind", spec.kind);
    const auto set = [&](std::string_view key, double& value) { value = v.number(key, value); };
    set("receiver.antenna_spacing_m", spec.antenna_spacing_m);
    set("receiver.tip_to_antenna_m", spec.tip_to_antenna_m);
    set("receiver.side_offset_sd_m", spec.side_offset_sd_m);
    set("receiver.axis_error_sd_deg", spec.axis_error_sd_deg);
    set("receiver.settling_tau_s", spec.settling_tau_s);
    set("receiver.band_half_width_hz", spec.band_half_width_hz);
    set("receiver.signal_resolution_db", spec.signal_resolution_db);
    set("receiver.depth_resolution_m", spec.depth_resolution_m);
    set("receiver.noise_floor_pt_per_rthz", spec.noise_floor_pt_per_rthz);
    set("receiver.noise_at_512_pt_per_rthz", spec.noise_at_512_pt_per_rthz);
    fill_front_end(v, spec);
}

void fill_rubric(const Values& v, field::Rubric& rubric) {
    const auto set = [&](std::string_view key, double& value) { value = v.number(key, value); };
    set("rubric.full_m", rubric.full.least_m);
    set("rubric.full_share", rubric.full.share_of_depth);
    set("rubric.half_m", rubric.half.least_m);
    set("rubric.half_share", rubric.half.share_of_depth);
    set("rubric.quarter_m", rubric.quarter.least_m);
    set("rubric.quarter_share", rubric.quarter.share_of_depth);
    set("rubric.depth_share", rubric.depth_share);
    set("rubric.tolerance_zone_m", rubric.tolerance_zone_m);
    set("rubric.pair_share", rubric.pair_share);
    set("rubric.protection_depth_m", rubric.protection_depth_m);
    rubric.solvable_by_level_line = v.yes("rubric.solvable_by_level_line", rubric.solvable_by_level_line);
}

void fill_lesson(const Values& v, field::Lesson& lesson) {
    lesson = {v.text("lesson.different"), v.text("lesson.tell"), v.text("lesson.act")};
}

// Cast iron is drawn from where grey iron may lie, unless the scenario says.
field::PipeMetal metal_of(const Values& v, field::PipeMaterial material) {
    field::PipeMetal metal = field::usual_metal(material);
    if (metal.conductivity_s_per_m <= 0.0) {
        return metal;
    }
    if (material == field::PipeMaterial::cast_iron && !v.content().resolved) {
        sim::Draws draws(v.seed(), "scenario.run.iron");
        metal.relative_permeability = std::round(draws.uniform(60.0, 150.0));
    }
    metal.relative_permeability = v.number("run.relative_permeability", metal.relative_permeability);
    if (const auto given = v.number("run.conductivity_MS_per_m")) {
        metal.conductivity_s_per_m = micro(*given) * 1e6;
    }
    return metal;
}

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

void fill_texts(const Values& v, field::JobSheet& sheet) {
    sheet.title = v.text("title");
    sheet.caller = v.text("caller");
    sheet.camera = v.text("camera");
    sheet.news = v.text("news");
    sheet.ground = v.text("sheet.ground");
}

// The signal that belongs on the job sheet: what a receiver without mounting errors, on the sonde's own frequency,
// hears at the truck with the sonde broadside.
double truck_signal_dbpt(const field::World& world) {
    const sim::Instrument instrument = sim::perfect_instrument(world.receiver);
    const double f = world.sonde.frequency_hz;
    const auto signals = sim::truck_check_signals_t(instrument, field::truck_distance_m, world.sonde.moment_am2, f, f);
    return sim::dbpt(sim::measure(instrument, signals, f, 0.0, sim::CoilAttitude::level).signal_t);
}

// ---- A resolved scenario ----

void read_lists(const Content& content, field::World& world) {
    const auto each = [&](std::string_view name, const auto& take) {
        const auto list = content.lists.find(name);
        if (list != content.lists.end()) {
            for (const Entries& entries : list->second) {
                take(Values(content, entries, world.seed));
            }
        }
    };
    each("area", [&](const Values& v) {
        world.yard.areas.push_back(
            {v.word("area.kind", field::AreaKind::slab), v.places("area.outline_m"), v.text("area.name")});
    });
    each("clue", [&](const Values& v) {
        world.yard.clues.push_back({v.word("clue.kind", field::ClueKind::gas_meter), *v.place("clue.place_m")});
    });
    each("line", [&](const Values& v) {
        field::BuriedLine line{v.word("line.kind", field::LineKind::water),
                               v.text("line.owner"),
                               v.places_3d("line.points_m"),
                               *v.number("line.width_m"),
                               v.yes("line.private", false),
                               v.places("line.paint_m")};
        line.connection = v.word("line.connection", line.connection);
        line.resistance_ohm = v.number("line.resistance_ohm", line.resistance_ohm);
        line.clamp_current_a = v.number("line.clamp_current_A", line.clamp_current_a);
        line.clamp_frequency_hz = v.number("line.clamp_frequency_hz", line.clamp_frequency_hz);
        line.mains_current_a = v.number("line.mains_current_A", line.mains_current_a);
        world.yard.lines.push_back(std::move(line));
    });
    each("overhead", [&](const Values& v) {
        world.yard.overhead.push_back({v.places_3d("overhead.points_m"), *v.number("overhead.mains_current_A")});
    });
    each("transmitter", [&](const Values& v) {
        const glm::dvec2 place = *v.place("transmitter.position_m");
        world.other_sondes.push_back({v.text("transmitter.owner"),
                                      {*v.number("transmitter.frequency_hz"),
                                       *v.number("transmitter.moment_A_m2"),
                                       {place, -*v.number("transmitter.depth_m")},
                                       *v.number("transmitter.heading_deg"),
                                       *v.number("transmitter.tilt_deg")}});
    });
    each("step", [&](const Values& v) {
        world.yard.terrain.steps.push_back({*v.place("step.place_m"), *v.number("step.toward_deg"),
                                            *v.number("step.rise_m"), *v.number("step.ramp_m")});
    });
    each("pad", [&](const Values& v) {
        world.yard.terrain.pads.push_back({v.places("pad.outline_m"), *v.number("pad.rise_m")});
    });
    each("response", [&](const Values& v) {
        world.sheet.ticket.responses.push_back(
            {v.text("response.owner"), v.word("response.kind", field::LineKind::water), v.text("response.answer")});
    });
}

void read_ground(const Values& v, const glm::dvec2& sonde_m, field::World& world) {
    field::Terrain& terrain = world.yard.terrain;
    terrain.slope_percent = v.number("ground.slope_percent", 0.0);
    terrain.slope_toward_deg = v.number("ground.slope_toward_deg", 0.0);
    if (field::is_flat(terrain)) {
        terrain = {}; // which way it does not fall means nothing
        return;
    }
    terrain.zero_m = v.place("ground.zero_m").value_or(sonde_m);
    // The file has its depth; z lies on the grid, which takes out the last digit of the difference.
    world.sonde.position_m.z = micro(field::height_m(terrain, sonde_m) - *v.number("sonde.depth_m"));
}

field::World read_world(const Content& content) {
    const Values v(content, content.entries, 0);
    field::World world;
    world.seed = v.whole("seed", 0);
    world.yard.width_m = *v.number("yard.width_m");
    world.yard.length_m = *v.number("yard.length_m");
    world.yard.resistivity_ohm_m = v.number("ground.resistivity_ohm_m");
    world.yard.mains_hz = v.number("hum.mains_hz", world.yard.mains_hz);
    const glm::dvec2 place = *v.place("sonde.position_m");
    world.sonde = {*v.number("sonde.frequency_hz"),
                   *v.number("sonde.moment_A_m2"),
                   {place, -*v.number("sonde.depth_m")},
                   *v.number("sonde.heading_deg"),
                   *v.number("sonde.tilt_deg")};
    if (v.find("run.points_m") != nullptr) {
        world.run = field::Run{v.places_3d("run.points_m"), v.word("run.material", field::PipeMaterial::pvc),
                               *v.number("run.inside_diameter_m"), *v.number("run.wall_m")};
        world.run->metal = metal_of(v, world.run->material);
        world.run->slack_m = v.number("run.slack_m");
    }
    fill_receiver(v, world.receiver);
    fill_rubric(v, world.rubric);
    fill_lesson(v, world.lesson);
    world.habits = {*v.number("operator.lean_deg"), *v.number("operator.lean_toward_deg")};
    world.start_m = *v.place("start.position_m");
    world.start_facing_deg = *v.number("start.facing_deg");

    field::JobSheet& sheet = world.sheet;
    fill_texts(v, sheet);
    sheet.frequency_hz = *v.number("sheet.frequency_hz");
    sheet.truck_signal_dbpt = *v.number("sheet.truck_signal_dbpt");
    sheet.cleanout_m = v.place("sheet.cleanout_m");
    sheet.counter_zero = v.word("sheet.counter_zero", sheet.counter_zero);
    sheet.counter_m = v.number("sheet.counter_m");
    sheet.material = v.word("sheet.material", sheet.material);
    sheet.inside_diameter_m = *v.number("sheet.inside_diameter_m");
    sheet.wall_m = *v.number("sheet.wall_m");
    sheet.sonde_above_invert_m = *v.number("sonde.above_invert_m");
    sheet.sonde_to_lens_m = *v.number("sheet.sonde_to_lens_m");
    sheet.lens_to_fault_m = *v.number("sheet.lens_to_fault_m");
    sheet.ticket.number = v.text("sheet.ticket_number");
    sheet.ticket.state = v.word("sheet.ticket_state", sheet.ticket.state);
    read_lists(content, world);
    read_ground(v, place, world);
    for (field::OtherSonde& other : world.other_sondes) { // so far counted from the surface
        glm::dvec3& at = other.sonde.position_m;
        at.z = micro(field::height_m(world.yard.terrain, field::plan(at)) + at.z);
    }
    return world;
}

// ---- A scenario with something left to draw ----

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
    std::vector<glm::dvec2> track;
    track.reserve(run.centreline_m.size());
    for (const glm::dvec3& p : run.centreline_m) {
        track.push_back(field::plan(p));
    }
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
    world_to_grid(world);
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
