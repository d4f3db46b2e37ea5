// The debrief's sentences and figures: true of the score they are built from, in every case.
#include "score_fixture.hpp"
#include "sim/random.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <numeric>

using namespace score_fixture;

namespace {

Debrief debriefed(const World& world, const ExerciseState& state) {
    const Setting setting(world);
    return debrief(setting, state, score(setting, state));
}

std::string hole_of(const DigBox& proposed, const World& world = yard()) {
    ExerciseState state = worked_well();
    state.notebook.dig = proposed;
    return debriefed(world, state).hole;
}

std::string all_text(const Debrief& d) {
    std::string text = d.hole + "\n" + d.disclaimer + "\n";
    for (const std::string& note : d.notes) {
        text += note + "\n";
    }
    for (const Figure& f : d.figures) {
        text += f.title + "|" + f.value + "|" + f.tolerance + "\n";
    }
    return text;
}

bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }
bool notes_have(const Debrief& d, std::string_view part) {
    return std::ranges::any_of(d.notes, [&](const std::string& n) { return has(n, part); });
}

const Figure& figure(const Debrief& d, std::string_view title) {
    return *std::ranges::find(d.figures, title, &Figure::title);
}

} // namespace

TEST_CASE("the first line says what the hole would have found") {
    CHECK(hole_of(box(1.2, 0.8, 1.45)) == "Your hole would have exposed the pipe at the fault.");
    const std::string above = "Your hole would have come down over the pipe at the fault and stopped 0.12 m above it; ";
    CHECK(hole_of(box(1.2, 0.8, 1.30, DigMethod::machine)) == above + "the rest is hand work.");
    CHECK(hole_of(box(1.2, 0.8, 1.30, DigMethod::hand)) == above + "go on down to it by hand.");
    CHECK(hole_of(box(1.2, 0.8, 1.30, DigMethod::vacuum)) == above + "go on down to it by vacuum.");
    CHECK(hole_of(box(1.2, 0.8, 1.07)) == "Your hole would have stopped 0.35 m above the pipe."); // 1.422 - 1.07
    CHECK(hole_of(box(1.2, 0.8, 1.602)) ==
          "Your hole would have gone into the pipe: its bottom lies 0.13 m below the pipe's springline."); // 1.475
    CHECK(hole_of(box(1.2, 0.8, 1.476)) ==
          "Your hole would have gone into the pipe: its bottom lies less than 1 cm below the pipe's springline.");
    CHECK(hole_of(box(1.2, 0.8, 1.45, DigMethod::machine, spot + glm::dvec2{0.82, 0.0})) ==
          "Your hole would have missed the pipe: the box stops 0.42 m beside the fault.");
    CHECK(hole_of(box(1.2, 0.8, 1.45, DigMethod::machine, spot + glm::dvec2{0.0, 1.02})) ==
          "Your hole would have missed the fault: the box lies over the pipe, but stops 0.42 m short of it.");
    CHECK(
        hole_of(box(0.5, 0.6, 0.9)) ==
        "Your hole could not be dug as drawn: 0.50 x 0.60 m is too small to work in at 0.90 m deep, which takes 0.60 x "
        "0.60 m.");
    CHECK(
        hole_of(box(0.7, 0.7, 1.45)) ==
        "Your hole could not be dug as drawn: 0.70 x 0.70 m is too small to work in at 1.45 m deep, which takes 1.20 x "
        "0.80 m.");
    CHECK(hole_of(box(2.4, 2.0, 1.4)) ==
          "Your box opens 4.80 m2, more than the 4.00 m2 allowed; the fault lies within it.");
    CHECK(hole_of(box(2.4, 2.0, 1.4, DigMethod::machine, spot + glm::dvec2{1.5, 0.0})) ==
          "Your box opens 4.80 m2, more than the 4.00 m2 allowed; even so it stops 0.50 m beside the fault.");
    CHECK(hole_of(box(1.2, 0.8, 0.0)) == "The dig box has no depth, so nothing would have been opened.");
    World no_run = yard();
    no_run.run.reset();
    CHECK(hole_of(box(1.2, 0.8, 1.45, DigMethod::machine, spot + glm::dvec2{0.82, 0.0}), no_run) ==
          "Your hole would have missed the fault: the box stops 0.42 m beside it.");
    World lined = yard();
    lined.yard.lines = {line_north(15.2, 0.62)};
    CHECK(hole_of(box(1.2, 0.8, 1.45), lined) ==
          "Your hole would have gone through the gas line of Vale Gas, 0.59 m down, with the machine.");
    CHECK(has(hole_of(box(1.2, 0.8, 1.45, DigMethod::none), lined), "no way of digging was said"));
}

TEST_CASE("nothing done and nothing finished is said as it is") {
    const Debrief d = debriefed(yard(), ExerciseState{});
    CHECK(d.hole == "No dig was proposed, so nothing would have been opened.");
    CHECK(notes_have(d, "The exercise was not finished"));
    CHECK(notes_have(d, "No locate was marked"));
    CHECK(notes_have(d, "No depth was called"));
    CHECK(figure(d, "position").value == "not marked");
    CHECK(!figure(d, "position").good);
    CHECK(figure(d, "depth").value == "not called, was 1.50 m");
    CHECK(figure(d, "dig").value == "none");
    CHECK(figure(d, "procedure").value == "0 of 8 done");
    CHECK(!notes_have(debriefed(yard(), worked_well()), "not finished"));
}

TEST_CASE("every figure stands beside its tolerance, errors in centimetres and percent") {
    World world = yard_at(1.58);
    world.sonde.tilt_deg = 14.0;
    ExerciseState state = worked_well();
    state.notebook.marks.back().place_m = spot + glm::dvec2{0.18, 0.0};
    state.notebook.depth_call_m = 1.49;
    state.notebook.tilt_call = TiltCall::level;
    const Debrief d = debriefed(world, state);
    CHECK(figure(d, "position").value == "18 cm, 11 % of depth");
    CHECK(figure(d, "position").tolerance == "24 cm for full points, 40 cm to pass"); // 15 and 25 %
    CHECK(figure(d, "position").good);
    CHECK(figure(d, "depth").value == "1.49 for 1.58 m, -9 cm, -5.7 %");
    CHECK(figure(d, "depth").tolerance == "24 cm, 15 %");
    CHECK(figure(d, "depth").good);
    CHECK(figure(d, "tilt").value == "called level; was 14.0 deg, north end raised");
    CHECK(!figure(d, "tilt").good);
    // A hair over what is allowed must not look as if it were allowed.
    ExerciseState over = state;
    over.notebook.marks.back().place_m = spot + glm::dvec2{0.239, 0.0};
    over.notebook.depth_call_m = 1.341;
    CHECK(figure(debriefed(world, over), "position").value == "23.9 cm, 15 % of depth");
    CHECK(figure(debriefed(world, over), "position").tolerance == "23.7 cm for full points, 39.5 cm to pass");
    CHECK(figure(debriefed(world, over), "depth").value == "1.34 for 1.58 m, -23.9 cm, -15.1 %");
    CHECK(figure(debriefed(world, over), "depth").tolerance == "23.7 cm, 15 %");
    state.notebook.depth_call_m = 1.58;
    CHECK(figure(debriefed(world, state), "depth").value == "1.58 for 1.58 m, 0 cm, 0.0 %");
    state.notebook.tilt_call = TiltCall::tilted;
    state.notebook.raised_heading_deg = 45.0;
    state.notebook.tilt_angle_call_deg = 20.0;
    CHECK(figure(debriefed(world, state), "tilt").value ==
          "called tilted, north-east end raised, 20 deg (+6.0 deg off); was 14.0 deg, north end raised");
    for (const Figure& f : d.figures) {
        CHECK(!f.tolerance.empty());
    }
}

TEST_CASE("the note on tilt says where peak and level line are") {
    // Computed table of the dipole's field, per depth below the antenna: at 10 deg the peak is 0.248 towards the raised
    // end and the level line 0.117 the other way, at 30 deg 0.212 and 0.360. The antenna is 0.05 m up: 2.00 m here.
    World world = yard_at(1.95);
    world.sonde.tilt_deg = 10.0;
    CHECK(notes_have(
        debriefed(world, worked_well()),
        "tilted 10.0 deg, its north end raised. Over such a sonde the peak is 0.50 m towards the raised end and "
        "the level line 0.23 m the other way"));
    world.sonde.tilt_deg = -30.0;
    CHECK(notes_have(
        debriefed(world, worked_well()),
        "tilted 30.0 deg, its south end raised. Over such a sonde the peak is 0.42 m towards the raised end and "
        "the level line 0.72 m the other way"));
    world.sonde.tilt_deg = 88.0;
    CHECK(notes_have(debriefed(world, worked_well()), "on end or nearly so (88 deg)"));
    world.sonde.tilt_deg = 0.0;
    CHECK(notes_have(debriefed(world, worked_well()), "The sonde lay level: its plumb points are 1.41 m fore and aft"));
}

TEST_CASE("a locate on the tilted sonde's peak is told from one on its level line") {
    World world = yard_at(1.95);
    world.sonde.tilt_deg = 10.0; // north end raised: peak 0.50 m north; full band 0.29 m
    ExerciseState state = worked_well();
    state.notebook.marks.back().place_m = spot + glm::dvec2{0.0, 0.48};
    CHECK(notes_have(debriefed(world, state), "0.02 m from where this sonde's peak is, and 0.48 m from the sonde"));
    CHECK(notes_have(debriefed(world, state), "0.48 m is along the sonde and 0.00 m across it. Across the track"));
    state.notebook.marks.back().place_m = spot + glm::dvec2{0.9, 0.0};
    CHECK(!notes_have(debriefed(world, state), "alone is not the mark"));
    CHECK(notes_have(debriefed(world, state), "0.00 m is along the sonde and 0.90 m across it."));
    CHECK(!notes_have(debriefed(world, state), "Across the track"));
    world.sonde.tilt_deg = 30.0; // level line 0.72 m south
    state.notebook.marks.back().place_m = spot - glm::dvec2{0.0, 0.70};
    CHECK(notes_have(debriefed(world, state), "0.02 m from where this sonde's level line is"));
    state.notebook.marks.back().place_m = spot;
    CHECK(!notes_have(debriefed(world, state), "The locate stands"));
}

TEST_CASE("a single coil's ghost peak is named where one stands on it") {
    World world = yard();
    world.receiver.kind = sim::ReceiverKind::single_coil;
    ExerciseState state = worked_well();
    state.notebook.marks.back().place_m = spot + glm::dvec2{0.0, 1.2247 * 1.55};
    CHECK(notes_have(debriefed(world, state), "ghost peak"));
    state.notebook.marks.back().place_m = spot + glm::dvec2{1.2247 * 1.55, 0.0}; // across there is none
    CHECK(!notes_have(debriefed(world, state), "ghost peak"));
    CHECK(!notes_have(debriefed(yard(), state), "ghost peak"));
}

TEST_CASE("a depth read beside the track is explained") {
    ExerciseState state = worked_well();
    CHECK(!notes_have(debriefed(yard(), state), "a plumb receiver reads"));
    // Half the antenna's depth across the track a plumb receiver reads about 21 % high (computed for an antenna spacing
    // of 0.4 depths; 0.40 m here is 0.26 of 1.55 m, which is a little less).
    for (Reading& r : state.notebook.readings) {
        r.place_m.x += 0.78;
        r.depth_m = 1.85;
    }
    state.notebook.depth_call_m = 1.85;
    const Debrief d = debriefed(yard(), state);
    const auto note =
        std::ranges::find_if(d.notes, [](const std::string& n) { return has(n, "a plumb receiver reads"); });
    REQUIRE(note != d.notes.end());
    CHECK(has(*note, "The reading of 1.85 m was taken 0.78 m from the sonde"));
    const double says_m = std::stod(note->substr(note->find("receiver reads ") + 15));
    CHECK(says_m > 1.50 * 1.15);
    CHECK(says_m < 1.50 * 1.27);
    state.notebook.depth_call_m = 1.50; // rests on none of these readings
    CHECK(!notes_have(debriefed(yard(), state), "a plumb receiver reads"));
}

TEST_CASE("the debrief says which is meant, the sonde or the fault") {
    World world = yard();
    CHECK(notes_have(debriefed(world, worked_well()), "Sonde and fault are at one place here"));
    world.sheet.sonde_to_lens_m = 0.3;
    world.sheet.lens_to_fault_m = 0.5;
    CHECK(notes_have(
        debriefed(world, worked_well()),
        "the dig against the fault, which lies 0.80 m farther down the run (job sheet: sonde to lens 0.30 m, lens "
        "to fault 0.50 m)"));
    world.sheet.lens_to_fault_m = -0.7;
    CHECK(notes_have(debriefed(world, worked_well()), "0.40 m back up the run"));
}

TEST_CASE("both depths are told") {
    CHECK(notes_have(debriefed(yard(), worked_well()),
                     "the sonde's centre 1.50 m, the pipe's top 1.42 m at the fault, its springline 1.4"));
}

TEST_CASE("wrong frequencies are named") {
    World world = yard();
    CHECK(!notes_have(debriefed(world, worked_well()), "512 Hz"));
    world.sonde.frequency_hz = 640.0;
    const Debrief d = debriefed(world, worked_well());
    CHECK(notes_have(d, "The job sheet says 512 Hz, the sonde sends 640 Hz"));
    CHECK(notes_have(d, "The receiver was set to 512 Hz at the end and the sonde sends 640 Hz"));
    ExerciseState state = worked_well();
    state.frequency_hz = 640.0;
    CHECK(!notes_have(debriefed(world, state), "next to nothing"));
}

TEST_CASE("a deep hole names the protective-system rule and local codes, a shallower one does not") {
    ExerciseState state = worked_well();
    state.notebook.dig->depth_m = 1.50;
    CHECK(notes_have(debriefed(yard(), state), "29 CFR 1926.652"));
    CHECK(notes_have(debriefed(yard(), state), "local codes"));
    REQUIRE(debriefed(yard(), state).cautions.size() == 1);
    CHECK(debriefed(yard(), state).cautions[0].starts_with("The hole is 1.50 m deep, 1.5 m (5 ft) or more"));
    state.notebook.dig->depth_m = 1.49;
    CHECK(!notes_have(debriefed(yard(), state), "1926.652"));
    CHECK(debriefed(yard(), state).cautions.empty());
}

TEST_CASE("ticket, lines and volume are told when they matter") {
    World world = yard();
    CHECK(!notes_have(debriefed(world, worked_well()), "Ticket"));
    world.sheet.ticket.state = TicketState::expired;
    CHECK(notes_have(debriefed(world, worked_well()), "Ticket T-1 stands at \"expired\""));
    CHECK(figure(debriefed(world, worked_well()), "safety").value == "machine without a cleared ticket");
    world = yard();
    world.yard.lines = {line_north(15.6, 0.6)};
    CHECK(notes_have(
        debriefed(world, worked_well()),
        "A line's tolerance zone reaches the box: gas, Vale Gas, 0.20 m from the box (its paint 0.20 m from it)."));
    world.yard.lines = {line_north(25.0, 0.6)};
    CHECK(notes_have(debriefed(world, worked_well()), "No other line's tolerance zone reaches the box."));
    CHECK(!notes_have(debriefed(world, worked_well()), "unmarked"));
    world.yard.lines[0].paint_m.clear();
    world.yard.lines[0].is_private = true;
    CHECK(notes_have(debriefed(world, worked_well()), "One line in this yard is private and unmarked"));
    world.yard.lines = {line_north(15.2, 0.6)};
    ExerciseState state = worked_well();
    state.notebook.dig->method = DigMethod::vacuum;
    CHECK(notes_have(debriefed(world, state), "exposes the gas line of Vale Gas"));
    state.notebook.dig->method = DigMethod::machine;
    CHECK(!notes_have(debriefed(world, state), "exposes"));
    state = worked_well();
    CHECK(!notes_have(debriefed(yard(), state), "takes out"));
    state.notebook.dig->length_m = 2.0;
    CHECK(notes_have(debriefed(yard(), state), "The hole takes out 2.32 m3")); // 2.0 x 0.8 x 1.45
}

TEST_CASE("the debrief licenses nobody and defers to those who decide") {
    const std::string text = debriefed(yard(), worked_well()).disclaimer;
    for (const std::string_view word : {"licenses nobody", "one-call centre", "local codes", "licensed practice"}) {
        CHECK(has(text, word));
    }
}

TEST_CASE("no sentence ever holds an empty value, a minus nought or a number that is none") {
    for (std::uint64_t seed = 0; seed < 3000; ++seed) {
        sim::Draws draw(seed, "debrief test");
        World world = yard_at(draw.uniform(0.3, 5.0));
        world.sonde.tilt_deg = draw.chance(0.2) ? 0.0 : draw.uniform(-90.0, 90.0);
        world.sonde.heading_deg = draw.uniform(0.0, 360.0);
        world.sonde.frequency_hz = draw.chance(0.5) ? 512.0 : 8192.0;
        world.sheet.sonde_to_lens_m = draw.chance(0.5) ? 0.0 : draw.uniform(-1.0, 1.0);
        world.sheet.ticket.state = static_cast<TicketState>(draw.integer(0, 2));
        if (draw.chance(0.3)) {
            world.run.reset();
        }
        if (draw.chance(0.3)) {
            world.receiver.kind = sim::ReceiverKind::single_coil;
        }
        for (int i = draw.integer(0, 2); i > 0; --i) {
            world.yard.lines.push_back(line_north(draw.uniform(13.0, 17.0), draw.uniform(0.2, 2.0)));
            if (draw.chance(0.5)) {
                world.yard.lines.back().paint_m.clear();
            }
        }
        ExerciseState state = draw.chance(0.1) ? ExerciseState{} : worked_well();
        if (draw.chance(0.2)) {
            state.finished_tick.reset();
        }
        for (Mark& m : state.notebook.marks) {
            m.place_m += glm::dvec2{draw.uniform(-1.0, 1.0), draw.uniform(-1.0, 1.0)};
        }
        state.notebook.tilt_call = static_cast<TiltCall>(draw.integer(0, 3));
        if (draw.chance(0.8)) {
            state.notebook.dig = box(draw.uniform(0.3, 2.5), draw.uniform(0.3, 2.5), draw.uniform(0.0, 3.0),
                                     static_cast<DigMethod>(draw.integer(0, 3)),
                                     spot + glm::dvec2{draw.uniform(-1.0, 1.0), draw.uniform(-1.0, 1.0)});
        }
        const Setting setting(world);
        const Score s = score(setting, state);
        const Debrief d = debrief(setting, state, s);
        const std::string text = all_text(d);
        CAPTURE(seed);
        CAPTURE(text);
        CHECK(!d.hole.empty());
        CHECK(d.hole.back() == '.');
        for (const std::string_view bad : {"nan", "inf", "{}", "  ", "-0 ", "-0.0 ", "-0.00", ", ,", ".."}) {
            CHECK(!has(text, bad));
        }
        for (const std::string& note : d.notes) {
            CHECK(note.back() == '.');
        }
        CHECK(s.points == s.position_points + s.depth_points + s.tilt_points + s.dig_points + s.procedure_points);
        CHECK(s.points >= 0);
        CHECK(s.points <= 100);
        CHECK((!s.passed || s.dig_outcome == DigOutcome::on_the_pipe));
        CHECK(nlohmann::json::accept(score_json(s)));
    }
}

TEST_CASE("the score as JSON has the stable keys with their types") {
    const auto json = nlohmann::json::parse(score_json(scored(yard(), worked_well())));
    CHECK(json.at("format") == 1);
    for (const char* key : {"horizontal_error_m", "depth_error_m", "depth_error_percent"}) {
        CAPTURE(key);
        CHECK(json.at(key).is_number());
    }
    CHECK(json.at("tilt_error_deg").is_null()); // no angle was called
    CHECK(json.at("dig_outcome") == "on the pipe");
    CHECK(json.at("points") == 100);
    CHECK(json.at("passed") == true);
    CHECK(json.at("procedure").size() == 8);
    for (const auto& [key, value] : json.at("procedure").items()) {
        CAPTURE(key);
        CHECK(value == true);
        CHECK(json.at("procedure_evidence").at(key).at("tick").is_number_integer());
        CHECK(!json.at("procedure_evidence").at(key).at("seen").get<std::string>().empty());
    }
    CHECK(json.at("bands").at("full_m").get<double>() == doctest::Approx(0.225));
    CHECK(json.at("bands").at("half_m").get<double>() == doctest::Approx(0.375));
    CHECK(json.at("bands").at("quarter_m").get<double>() == doctest::Approx(0.60));
    CHECK(json.at("safety").at("machine_in_tolerance_zone").at("failed") == false);
    int sum = 0;
    for (const auto& [key, value] : json.at("points_by_part").items()) {
        sum += value.get<int>();
    }
    CHECK(sum == 100);
}

TEST_CASE("what is unknown is null in JSON") {
    const auto json = nlohmann::json::parse(score_json(scored(yard(), ExerciseState{})));
    for (const char* key :
         {"horizontal_error_m", "depth_error_m", "depth_error_percent", "tilt_error_deg", "depth_call_m"}) {
        CAPTURE(key);
        CHECK(json.at(key).is_null());
    }
    CHECK(json.at("dig_outcome") == "none");
    CHECK(json.at("procedure").at("walked_off") == false);
    CHECK(json.at("procedure_evidence").at("walked_off").at("tick").is_null());
    World world = yard();
    world.receiver.kind = sim::ReceiverKind::single_coil;
    const auto coil = nlohmann::json::parse(score_json(scored(world, worked_well())));
    CHECK(coil.at("procedure").at("lift_check").is_null()); // does not apply
    CHECK(coil.at("procedure").at("depth_from_spacing").is_boolean());
    CHECK(score_json(scored(world, worked_well()), -1).find('\n') == std::string::npos);
}

TEST_CASE("of twin coils the debrief tells their own peak, their ghosts, and a depth read beside it") {
    World world = yard();
    world.receiver.kind = sim::ReceiverKind::twin_coil;
    ExerciseState state = worked_well();
    state.notebook.marks.back().place_m = spot + glm::dvec2{0.0, 1.2247 * 1.55};
    CHECK(notes_have(debriefed(world, state), "ghost peak"));
    world.sonde.tilt_deg = 10.0;
    // Own peak 0.058 depths off at 10 deg, middle of the nulls 0.75 tan 10 = 0.132; antennas 1.55 m over the sonde.
    CHECK(notes_have(debriefed(world, state), "loudest 0.09 m from it towards the lowered end"));
    CHECK(notes_have(debriefed(world, state), "lies 0.20 m off the same way"));
    world.sonde.tilt_deg = 0.0;
    // At 0.4 depths along the track two level coils read a third high and more.
    for (Reading& r : state.notebook.readings) {
        r.place_m += 0.4 * 1.55 * direction_of(world.sonde.heading_deg);
        r.facing_deg = world.sonde.heading_deg;
        r.depth_m = 2.2;
    }
    state.notebook.depth_call_m = 2.2;
    CHECK(notes_have(debriefed(world, state), "a plumb receiver reads"));
    CHECK(notes_have(debriefed(world, state), "Depth is read at the peak, turned along the sonde."));
}
