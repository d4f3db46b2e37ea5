// Deliberate errors of physics, for one test-only build of this folder.
//
// A test that passes whatever the physics says proves nothing. In the build with SONDEYARD_MUTATIONS defined, one error
// at a time is switched on at run time and the test suite must turn red. In every other build `mutated` is a constant
// false and costs nothing.
#pragma once

#include <array>
#include <string_view>

namespace sondeyard::sim {

enum class Mutation {
    none,
    mu0_twice,
    no_four_pi,
    moment_term_sign,
    axis_z_sign,
    x_and_y_swapped,
    heading_anticlockwise,
    heading_from_east,
    r5_becomes_r3,
    r3_becomes_r2,
    line_current_sign,
    line_inductance_dropped,
    line_hertz_for_radians,
    line_field_halved,
    line_ends_ignored,
    line_diameter_for_radius,
    line_end_term_dropped,
    bessel_logarithm_dropped,
    wall_permeability_dropped,
    wall_permeability_not_in_k,
    wall_axes_swapped,
    wall_gain_for_loss,
    wall_diameter_for_radius,
    wall_hertz_for_radians,
    wall_time_sign,
    wall_moment_not_split,
    wall_guard_at_70_db,
    degrees_for_radians,
    peak_for_rms,
    depth_ratio_inverted,
    cube_root_becomes_square_root,
    tip_offset_dropped,
    depth_times_cos_lean,
    enbw_twice,
    two_axes_of_three,
    dip_sign,
    needle_mirrored,
    nanotesla_for_picotesla,
    ten_log_for_twenty,
    tuning_ignored,
    spacing_halved,
    level_coil_upright,
    twin_coils_total_field,
    twin_coils_across,
    lean_ignored,
    lean_mirrored,
    batch_along_once,
    batch_held_unmoved,
    ground_time_sign,
    ground_u_and_l_swapped,
    ground_added_twice,
    ground_depth_and_height_swapped,
    settling_twice,
};

inline constexpr auto mutation_names = std::to_array<std::string_view>({
    "none",
    "mu0_twice",
    "no_four_pi",
    "moment_term_sign",
    "axis_z_sign",
    "x_and_y_swapped",
    "heading_anticlockwise",
    "heading_from_east",
    "r5_becomes_r3",
    "r3_becomes_r2",
    "line_current_sign",
    "line_inductance_dropped",
    "line_hertz_for_radians",
    "line_field_halved",
    "line_ends_ignored",
    "line_diameter_for_radius",
    "line_end_term_dropped",
    "bessel_logarithm_dropped",
    "wall_permeability_dropped",
    "wall_permeability_not_in_k",
    "wall_axes_swapped",
    "wall_gain_for_loss",
    "wall_diameter_for_radius",
    "wall_hertz_for_radians",
    "wall_time_sign",
    "wall_moment_not_split",
    "wall_guard_at_70_db",
    "degrees_for_radians",
    "peak_for_rms",
    "depth_ratio_inverted",
    "cube_root_becomes_square_root",
    "tip_offset_dropped",
    "depth_times_cos_lean",
    "enbw_twice",
    "two_axes_of_three",
    "dip_sign",
    "needle_mirrored",
    "nanotesla_for_picotesla",
    "ten_log_for_twenty",
    "tuning_ignored",
    "spacing_halved",
    "level_coil_upright",
    "twin_coils_total_field",
    "twin_coils_across",
    "lean_ignored",
    "lean_mirrored",
    "batch_along_once",
    "batch_held_unmoved",
    "ground_time_sign",
    "ground_u_and_l_swapped",
    "ground_added_twice",
    "ground_depth_and_height_swapped",
    "settling_twice",
});

#ifdef SONDEYARD_MUTATIONS
inline Mutation active_mutation = Mutation::none;
inline bool mutated(Mutation m) { return active_mutation == m; }
#else
constexpr bool mutated(Mutation /*m*/) { return false; }
#endif

} // namespace sondeyard::sim
