#include "scenarios/world_parts.hpp"

#include "scenarios/grid.hpp"
#include "sim/random.hpp"

#include <cmath>

namespace sondeyard::scenarios {

namespace {

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

} // namespace

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

void fill_texts(const Values& v, field::JobSheet& sheet) {
    sheet.title = v.text("title");
    sheet.caller = v.text("caller");
    sheet.camera = v.text("camera");
    sheet.news = v.text("news");
    sheet.ground = v.text("sheet.ground");
}
} // namespace sondeyard::scenarios
