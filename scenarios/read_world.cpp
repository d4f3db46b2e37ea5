#include "scenarios/grid.hpp"
#include "scenarios/world_parts.hpp"

namespace sondeyard::scenarios {

namespace {

using Content = Scenario::Content;

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

} // namespace

field::World read_world(const Scenario::Content& content) {
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
} // namespace sondeyard::scenarios
