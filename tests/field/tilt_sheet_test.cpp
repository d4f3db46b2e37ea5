// The tilt worksheet's lines out of a notebook that was filled by working, and what of the fix is called.
//
//  what                          | against
//  tilt, place, depth, calls     | the truth of the world; plumb points and peak sought where the dipole has them
//  which marks make A and B      | notebooks made by hand
#include "field/tilt_sheet.hpp"
#include "sim/units.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace sondeyard;
using namespace sondeyard::field;

namespace {

// A sonde 1.5 m deep under (15, 15), 20 deg from level, its raised end towards the west.
World tilted_yard() { return test::empty_yard(1.5, 90.0, 20.0); }

Mark mark(int id, MarkKind kind, double east_m, double dbpt = 50.0) {
    Mark m;
    m.id = id;
    m.kind = kind;
    m.place_m = {east_m, 15.0};
    m.signal_dbpt = dbpt;
    m.dip_deg = kind == MarkKind::plumb ? 89.0 : 1.0;
    return m;
}

Notebook noted(std::vector<Mark> marks) {
    Notebook notebook;
    notebook.marks = std::move(marks);
    return notebook;
}

bool says(const TiltSheet& sheet, std::string_view what) {
    for (const std::string& remark : sheet.remarks) {
        if (remark.find(what) != std::string::npos) {
            return true;
        }
    }
    return false;
}

} // namespace

TEST_CASE("a notebook filled at plumb points, level line and peak gives tilt, place and depth, and its calls") {
    World world = tilted_yard();
    world.receiver.axis_error_sd_deg = 0.2; // well mounted, so that the places of the dipole are those of the dial
    const Setting setting(world);
    ExerciseState state = start(setting);
    const double antenna_m = 1.5 + world.receiver.tip_to_antenna_m;
    const TrackPlaces places = places_on_track(20.0);
    const auto go = [&](double toward_raised) {
        test::go_to(setting, state, {15.0 - toward_raised * antenna_m, 15.0});
    };
    go(places.plumb_weak);
    test::command(setting, state, PlaceMark{MarkKind::plumb});
    go(places.level_line);
    test::command(setting, state, PlaceMark{MarkKind::level});
    go(total_peak_on_track(20.0));
    test::command(setting, state, PlaceMark{MarkKind::peak});
    test::command(setting, state, ReadDepth{});
    go(places.plumb_strong);
    test::command(setting, state, PlaceMark{MarkKind::plumb});

    const TiltSheet sheet = tilt_sheet(setting.brief, state.notebook);
    REQUIRE(sheet.spacing_m);
    REQUIRE(sheet.depth_m);
    REQUIRE(sheet.signal_a_db);
    REQUIRE(sheet.level_from_a_m);
    CHECK(sheet.heading_deg == doctest::Approx(270.0).epsilon(0.001));
    CHECK(sheet.remarks.empty());
    TiltFixInput in = input_for(setting.brief, sheet);
    in.spacing_m = *sheet.spacing_m;
    in.depth_m = *sheet.depth_m;
    in.a_over_b_db = *sheet.signal_a_db - *sheet.signal_b_db;
    in.level_from_a_m = sheet.level_from_a_m;
    CHECK(in.depth_read_at == DepthReadAt::peak);
    const TiltFix fix = tilt_fix(in);
    CHECK(fix.trust == TiltTrust::holds);
    CHECK(std::abs(fix.tilt_deg.value - 20.0) < 1.5);
    CHECK(std::abs(fix.from_b_m.value - places.plumb_strong * antenna_m) < 0.05);
    CHECK(std::abs(fix.depth_m.value - 1.5) < 0.05);
    const std::vector<Command> calls = calls_of(sheet, fix);
    REQUIRE(calls.size() == 2);
    CHECK(std::abs(std::get<CallDepth>(calls[0]).depth_m - 1.5) < 0.05);
    const auto tilt = std::get<CallTilt>(calls[1]);
    CHECK(tilt.call == TiltCall::tilted);
    CHECK(tilt.raised_heading_deg == 270.0);
    CHECK(tilt.tilt_deg == std::round(fix.tilt_deg.value));
}

TEST_CASE("A and B are the last two plumb marks that lie apart and belong to one place of the sonde") {
    const Setting setting(tilted_yard());
    Notebook notebook =
        noted({mark(1, MarkKind::plumb, 13.0), mark(2, MarkKind::plumb, 15.6), mark(3, MarkKind::plumb, 15.7)});
    TiltSheet sheet = tilt_sheet(setting.brief, notebook);
    CHECK(sheet.a_id == 1); // the third corrects the second
    CHECK(sheet.b_id == 3);
    CHECK(*sheet.spacing_m == doctest::Approx(2.7));
    for (Mark& m : notebook.marks) {
        m.counter_m = 12.0;
    }
    notebook.marks.back().counter_m = 11.0; // the cable has been pulled since
    sheet = tilt_sheet(setting.brief, notebook);
    CHECK(sheet.a_id == 0);
    CHECK_FALSE(sheet.spacing_m);
    CHECK(says(sheet, "One plumb point marked"));
    CHECK(says(tilt_sheet(setting.brief, Notebook{}), "No plumb points marked yet"));
}

TEST_CASE("a line that is doubtful says why, and one that would mislead is left out") {
    World world = tilted_yard();
    Notebook notebook =
        noted({mark(1, MarkKind::plumb, 13.0), mark(2, MarkKind::level, 12.0), mark(3, MarkKind::plumb, 15.7)});
    notebook.marks.front().dip_deg = 81.0;
    Reading reading;
    reading.id = 4;
    reading.place_m = {15.0, 15.6};
    reading.depth_m = 1.5;
    reading.counts = true;
    notebook.readings = {reading};
    notebook.marks.push_back(mark(5, MarkKind::peak, 15.0));
    const Setting setting(world);
    const TiltSheet sheet = tilt_sheet(setting.brief, notebook);
    CHECK(says(sheet, "At A the field dips 81°"));
    CHECK(says(sheet, "not marked between A and B"));
    CHECK_FALSE(sheet.level_from_a_m);
    CHECK(says(sheet, "read {0.60 m} from the peak mark"));
    CHECK_FALSE(says(sheet, "The ground"));
    world.yard.terrain.slope_percent = 10.0;
    world.yard.terrain.slope_toward_deg = 270.0;
    const Setting sloping(world);
    const TiltSheet on_slope = tilt_sheet(sloping.brief, notebook);
    CHECK(says(on_slope, "The ground rises {0.27 m} from A to B. That is counted in"));
    CHECK(on_slope.rise_m == doctest::Approx(0.27));
    CHECK(input_for(sloping.brief, on_slope).rise_m == on_slope.rise_m);
    CHECK_FALSE(says(on_slope, "off an even slope"));
    world.yard.terrain.steps.push_back({{14.0, 15.0}, 90.0, 0.3, 0.1});
    const Setting stepped(world);
    CHECK(says(tilt_sheet(stepped.brief, notebook), "which is not counted in"));
}

TEST_CASE("signals count only where the receiver hears the whole field") {
    World world = tilted_yard();
    world.receiver.kind = sim::ReceiverKind::single_coil;
    const Setting setting(world);
    Notebook notebook = noted({mark(1, MarkKind::plumb, 13.0), mark(2, MarkKind::plumb, 15.6)});
    CHECK_FALSE(tilt_sheet(setting.brief, notebook).signal_a_db); // a level coil is silent there
    for (Mark& m : notebook.marks) {
        m.coil = sim::CoilAttitude::upright;
    }
    CHECK(tilt_sheet(setting.brief, notebook).signal_a_db);
    CHECK(says(tilt_sheet(setting.brief, notebook), "this receiver reads none"));
}

TEST_CASE("a facing pair counts as its mean, and a call only where no reading does") {
    Notebook notebook;
    notebook.depth_call_m = 1.3;
    Reading one;
    one.id = 1;
    one.depth_m = 1.50;
    one.counts = true;
    Reading two = one;
    two.id = 2;
    two.depth_m = 1.56;
    two.facing_reading_of = 1;
    const Setting setting(tilted_yard());
    TiltSheet sheet = tilt_sheet(setting.brief, notebook);
    CHECK(sheet.depth_is_call);
    CHECK(sheet.depth_m == 1.3);
    CHECK(input_for(setting.brief, sheet).depth_read_at == DepthReadAt::over_sonde);
    notebook.readings = {one, two};
    sheet = tilt_sheet(setting.brief, notebook);
    CHECK_FALSE(sheet.depth_is_call);
    CHECK(*sheet.depth_m == doctest::Approx(1.53));
}

TEST_CASE("what cannot be trusted, or does not say which end is raised, is not called") {
    TiltSheet sheet;
    sheet.heading_deg = 30.0;
    TiltFix fix;
    fix.depth_m = {1.234, 1.2, 1.3};
    fix.tilt_deg = {22.4, 20.0, 25.0};
    fix.raised = PlumbSide::a;
    REQUIRE(calls_of(sheet, fix).size() == 2);
    CHECK(std::get<CallDepth>(calls_of(sheet, fix)[0]).depth_m == doctest::Approx(1.23));
    CHECK(std::get<CallTilt>(calls_of(sheet, fix)[1]).raised_heading_deg == 210.0);
    fix.raised = PlumbSide::unknown;
    CHECK(calls_of(sheet, fix).empty());
    fix.tilt_deg = {3.0, 0.0, 5.0};
    fix.trust = TiltTrust::level_within_error;
    CHECK(std::get<CallTilt>(calls_of(sheet, fix)[1]).call == TiltCall::level);
    fix.trust = TiltTrust::does_not_fit;
    CHECK(calls_of(sheet, fix).empty());
}
