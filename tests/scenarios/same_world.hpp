// Two worlds compared field by field with ==, so that a failing test names the field.
#pragma once

#include "field/world.hpp"

#include <doctest/doctest.h>

namespace sondeyard::test {

inline void check_same_yard(const field::Yard& a, const field::Yard& b) {
    CHECK(a.width_m == b.width_m);
    CHECK(a.length_m == b.length_m);
    REQUIRE(a.areas.size() == b.areas.size());
    for (std::size_t i = 0; i < a.areas.size(); ++i) {
        CHECK(a.areas[i].kind == b.areas[i].kind);
        CHECK(a.areas[i].name == b.areas[i].name);
        CHECK((a.areas[i].outline_m == b.areas[i].outline_m));
    }
    REQUIRE(a.clues.size() == b.clues.size());
    for (std::size_t i = 0; i < a.clues.size(); ++i) {
        CHECK(a.clues[i].kind == b.clues[i].kind);
        CHECK((a.clues[i].place_m == b.clues[i].place_m));
    }
    REQUIRE(a.lines.size() == b.lines.size());
    for (std::size_t i = 0; i < a.lines.size(); ++i) {
        CHECK(a.lines[i].kind == b.lines[i].kind);
        CHECK(a.lines[i].owner == b.lines[i].owner);
        CHECK((a.lines[i].points_m == b.lines[i].points_m));
        CHECK(a.lines[i].width_m == b.lines[i].width_m);
        CHECK(a.lines[i].is_private == b.lines[i].is_private);
        CHECK((a.lines[i].paint_m == b.lines[i].paint_m));
        CHECK(a.lines[i].connection == b.lines[i].connection);
        CHECK(a.lines[i].clamp_current_a == b.lines[i].clamp_current_a);
        CHECK(a.lines[i].mains_current_a == b.lines[i].mains_current_a);
        if (a.lines[i].connection != field::LineConnection::none) { // else of no consequence, and not written
            CHECK(a.lines[i].resistance_ohm == b.lines[i].resistance_ohm);
        }
        if (a.lines[i].clamp_current_a > 0.0) {
            CHECK(a.lines[i].clamp_frequency_hz == b.lines[i].clamp_frequency_hz);
        }
    }
    REQUIRE(a.overhead.size() == b.overhead.size());
    for (std::size_t i = 0; i < a.overhead.size(); ++i) {
        CHECK((a.overhead[i].points_m == b.overhead[i].points_m));
        CHECK(a.overhead[i].mains_current_a == b.overhead[i].mains_current_a);
    }
    CHECK((a.resistivity_ohm_m == b.resistivity_ohm_m));
    CHECK(a.mains_hz == b.mains_hz);
}

inline void check_same_sonde(const field::SondeTruth& a, const field::SondeTruth& b) {
    CHECK(a.frequency_hz == b.frequency_hz);
    CHECK(a.moment_am2 == b.moment_am2);
    CHECK((a.position_m == b.position_m));
    CHECK(a.heading_deg == b.heading_deg);
    CHECK(a.tilt_deg == b.tilt_deg);
}

inline void check_same_ground(const field::Terrain& a, const field::Terrain& b) {
    CHECK(a.slope_percent == b.slope_percent);
    CHECK(a.slope_toward_deg == b.slope_toward_deg);
    CHECK((a.zero_m == b.zero_m));
    REQUIRE(a.steps.size() == b.steps.size());
    for (std::size_t i = 0; i < a.steps.size(); ++i) {
        CHECK((a.steps[i].place_m == b.steps[i].place_m));
        CHECK(a.steps[i].toward_deg == b.steps[i].toward_deg);
        CHECK(a.steps[i].rise_m == b.steps[i].rise_m);
        CHECK(a.steps[i].ramp_m == b.steps[i].ramp_m);
    }
    REQUIRE(a.pads.size() == b.pads.size());
    for (std::size_t i = 0; i < a.pads.size(); ++i) {
        CHECK((a.pads[i].outline_m == b.pads[i].outline_m));
        CHECK(a.pads[i].rise_m == b.pads[i].rise_m);
    }
}

inline void check_same_sheet(const field::JobSheet& a, const field::JobSheet& b) {
    CHECK(a.title == b.title);
    CHECK(a.caller == b.caller);
    CHECK(a.camera == b.camera);
    CHECK(a.news == b.news);
    CHECK(a.frequency_hz == b.frequency_hz);
    CHECK(a.truck_signal_dbpt == b.truck_signal_dbpt);
    CHECK((a.cleanout_m == b.cleanout_m));
    CHECK(a.counter_zero == b.counter_zero);
    CHECK((a.counter_m == b.counter_m));
    CHECK(a.material == b.material);
    CHECK(a.ground == b.ground);
    CHECK(a.inside_diameter_m == b.inside_diameter_m);
    CHECK(a.wall_m == b.wall_m);
    CHECK(a.sonde_above_invert_m == b.sonde_above_invert_m);
    CHECK(a.sonde_to_lens_m == b.sonde_to_lens_m);
    CHECK(a.lens_to_fault_m == b.lens_to_fault_m);
    CHECK(a.ticket.number == b.ticket.number);
    CHECK(a.ticket.state == b.ticket.state);
    REQUIRE(a.ticket.responses.size() == b.ticket.responses.size());
    for (std::size_t i = 0; i < a.ticket.responses.size(); ++i) {
        CHECK(a.ticket.responses[i].owner == b.ticket.responses[i].owner);
        CHECK(a.ticket.responses[i].kind == b.ticket.responses[i].kind);
        CHECK(a.ticket.responses[i].answer == b.ticket.responses[i].answer);
    }
}

inline void check_same_receiver(const sim::ReceiverSpec& a, const sim::ReceiverSpec& b) {
    CHECK(a.kind == b.kind);
    CHECK(a.antenna_spacing_m == b.antenna_spacing_m);
    CHECK(a.tip_to_antenna_m == b.tip_to_antenna_m);
    CHECK(a.side_offset_sd_m == b.side_offset_sd_m);
    CHECK(a.axis_error_sd_deg == b.axis_error_sd_deg);
    CHECK(a.settling_tau_s == b.settling_tau_s);
    CHECK(a.band_half_width_hz == b.band_half_width_hz);
    CHECK(a.signal_resolution_db == b.signal_resolution_db);
    CHECK(a.depth_resolution_m == b.depth_resolution_m);
    CHECK(a.noise_floor_pt_per_rthz == b.noise_floor_pt_per_rthz);
    CHECK(a.noise_at_512_pt_per_rthz == b.noise_at_512_pt_per_rthz);
    REQUIRE(a.coil.has_value() == b.coil.has_value());
    if (a.coil) {
        CHECK(a.coil->turns == b.coil->turns);
        CHECK(a.coil->core_diameter_m == b.coil->core_diameter_m);
        CHECK(a.coil->mu_eff == b.coil->mu_eff);
        CHECK(a.coil->resistance_ohm == b.coil->resistance_ohm);
        CHECK(a.coil->amplifier_nv_per_rthz == b.coil->amplifier_nv_per_rthz);
    }
    CHECK(a.has_wide == b.has_wide);
    CHECK(a.wide_settling_tau_s == b.wide_settling_tau_s);
    CHECK(a.wide_band_half_width_hz == b.wide_band_half_width_hz);
    CHECK(a.front_end.full_scale_dbpt == b.front_end.full_scale_dbpt);
    CHECK(a.front_end.gain_step_db == b.front_end.gain_step_db);
    CHECK(a.front_end.gain_steps == b.front_end.gain_steps);
    CHECK(a.front_end.converter_bits == b.front_end.converter_bits);
    CHECK(a.gain_error_sd_percent == b.gain_error_sd_percent);
    CHECK(a.mast_bend_sd_deg == b.mast_bend_sd_deg);
}

inline void check_same_rubric(const field::Rubric& a, const field::Rubric& b) {
    const auto check_band = [](const field::Band& x, const field::Band& y) {
        CHECK(x.least_m == y.least_m);
        CHECK(x.share_of_depth == y.share_of_depth);
    };
    check_band(a.full, b.full);
    check_band(a.half, b.half);
    check_band(a.quarter, b.quarter);
    CHECK(a.depth_share == b.depth_share);
    CHECK(a.tolerance_zone_m == b.tolerance_zone_m);
    CHECK(a.pair_share == b.pair_share);
    CHECK(a.protection_depth_m == b.protection_depth_m);
    CHECK(a.solvable_by_level_line == b.solvable_by_level_line);
}

inline void check_same_world(const field::World& a, const field::World& b) {
    CHECK(a.seed == b.seed);
    check_same_yard(a.yard, b.yard);
    check_same_ground(a.yard.terrain, b.yard.terrain);
    REQUIRE(a.run.has_value() == b.run.has_value());
    if (a.run) {
        CHECK((a.run->centreline_m == b.run->centreline_m));
        CHECK(a.run->material == b.run->material);
        CHECK(a.run->inside_diameter_m == b.run->inside_diameter_m);
        CHECK(a.run->wall_m == b.run->wall_m);
        CHECK(a.run->metal.conductivity_s_per_m == b.run->metal.conductivity_s_per_m);
        CHECK(a.run->metal.relative_permeability == b.run->metal.relative_permeability);
    }
    check_same_sonde(a.sonde, b.sonde);
    REQUIRE(a.other_sondes.size() == b.other_sondes.size());
    for (std::size_t i = 0; i < a.other_sondes.size(); ++i) {
        CHECK(a.other_sondes[i].owner == b.other_sondes[i].owner);
        check_same_sonde(a.other_sondes[i].sonde, b.other_sondes[i].sonde);
    }
    CHECK(a.lesson.different == b.lesson.different);
    CHECK(a.lesson.tell == b.lesson.tell);
    CHECK(a.lesson.act == b.lesson.act);
    check_same_receiver(a.receiver, b.receiver);
    check_same_sheet(a.sheet, b.sheet);
    check_same_rubric(a.rubric, b.rubric);
    CHECK(a.habits.lean_deg == b.habits.lean_deg);
    CHECK(a.habits.lean_toward_deg == b.habits.lean_toward_deg);
    CHECK((a.start_m == b.start_m));
    CHECK(a.start_facing_deg == b.start_facing_deg);
}

} // namespace sondeyard::test
