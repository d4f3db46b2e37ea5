#include "ui/window/section_sheet.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

// The plan direction of the run near a length; a vertical drop borrows it from the pipe after it, or before.
glm::dvec2 plan_direction(const field::Run& run, double along_m) {
    const double whole = field::length_m(run);
    for (const double step : {0.0, 0.3, 0.8, -0.3, -0.8, 2.0, -2.0, 5.0, -5.0}) {
        const glm::dvec3 d = field::at_length(run, std::clamp(along_m + step, 0.0, whole)).direction;
        const glm::dvec2 flat{d.x, d.y};
        if (glm::length(flat) > 0.2) {
            return glm::normalize(flat);
        }
    }
    return {0.0, 1.0};
}

} // namespace

Profile profile_of(const field::World& world) {
    Profile profile;
    profile.terrain = &world.yard.terrain;
    profile.origin_m = field::plan(world.sonde.position_m);
    profile.outside_m = world.sheet.inside_diameter_m + 2.0 * world.sheet.wall_m;
    profile.inside_m = world.sheet.inside_diameter_m;
    profile.ahead = field::direction_of(world.sonde.heading_deg);
    if (!world.run || world.run->centreline_m.size() < 2) {
        return profile;
    }
    const field::Run& run = *world.run;
    profile.outside_m = run.inside_diameter_m + 2.0 * run.wall_m;
    profile.inside_m = run.inside_diameter_m;
    const double along = field::project(run, world.sonde.position_m).along_m;
    profile.ahead = plan_direction(run, along);
    double flat = 0.0;
    double walked = 0.0;
    double flat_at_sonde = 0.0;
    profile.pipe.push_back({0.0, run.centreline_m.front().z});
    profile.track_m = field::plan(run.centreline_m);
    for (std::size_t i = 0; i + 1 < run.centreline_m.size(); ++i) {
        const glm::dvec3 piece = run.centreline_m[i + 1] - run.centreline_m[i];
        const double whole = glm::length(piece);
        const double flat_piece = glm::length(glm::dvec2{piece.x, piece.y});
        if (along >= walked && whole > 0.0) {
            flat_at_sonde = flat + flat_piece * std::min(1.0, (along - walked) / whole);
        }
        walked += whole;
        flat += flat_piece;
        profile.pipe.push_back({flat, run.centreline_m[i + 1].z});
    }
    for (ProfilePoint& p : profile.pipe) {
        p.s -= flat_at_sonde;
    }
    return profile;
}
Facts facts_of(const field::World& world, const field::Notebook& notebook, const field::LocatedSonde& located,
               const Profile& profile) {
    Facts facts;
    facts.sonde_s = profile.s_of(field::plan(located.sonde.position_m));
    facts.sonde_t = located.sonde.position_m.z;
    if (located_apart(located)) {
        facts.other_s = profile.s_of(field::plan((located.at_stop ? located.then : world.sonde).position_m));
    }
    facts.target = field::dig_target(world);
    facts.target_s = profile.s_of(field::plan(facts.target.centre_m));
    facts.surface_t = profile.ground_t(notebook.dig ? notebook.dig->centre_m : field::plan(facts.target.centre_m));
    const double higher_m = facts.surface_t - profile.ground_t(field::plan(facts.target.centre_m));
    facts.target.pipe_top_depth_m += higher_m;
    facts.target.springline_depth_m += higher_m;
    facts.sonde_top_t = profile.ground_t(field::plan(located.sonde.position_m));
    if (const field::Mark* locate = field::find_last(notebook, field::MarkKind::locate)) {
        facts.locate_s = profile.s_of(locate->place_m);
        facts.locate_t = profile.ground_t(locate->place_m);
    }
    facts.call_m = notebook.depth_call_m;
    if (notebook.dig) {
        facts.dig = true;
        facts.dig_depth_m = notebook.dig->depth_m;
        facts.dig_low_s = 1e9;
        facts.dig_high_s = -1e9;
        double least_aside = 1e9;
        double most_aside = -1e9;
        for (const glm::dvec2& p : field::rectangle(notebook.dig->centre_m, notebook.dig->heading_deg,
                                                    notebook.dig->length_m, notebook.dig->width_m)) {
            facts.dig_low_s = std::min(facts.dig_low_s, profile.s_of(p));
            facts.dig_high_s = std::max(facts.dig_high_s, profile.s_of(p));
            least_aside = std::min(least_aside, profile.aside_of(p));
            most_aside = std::max(most_aside, profile.aside_of(p));
        }
        facts.dig_aside_m = std::max({0.0, least_aside, -most_aside});
    }
    return facts;
}

void choose_scale(SectionSheet& sheet, const Profile& profile, const Facts& facts, bool with_field) {
    double low_s = std::min(-0.9, facts.target_s - 0.4);
    double high_s = std::max(0.9, facts.target_s + 0.4);
    const auto include = [&](double s, double margin) {
        if (std::abs(s) <= farthest_shown_m) {
            low_s = std::min(low_s, s - margin);
            high_s = std::max(high_s, s + margin);
        }
    };
    if (facts.locate_s) {
        include(*facts.locate_s, 0.5);
    }
    include(facts.sonde_s, 0.4);
    if (facts.other_s) {
        include(*facts.other_s, 0.4);
    }
    if (facts.dig) {
        include(facts.dig_low_s, 0.3);
        include(facts.dig_high_s, 0.3);
    }
    if (with_field) {
        const double wide_m = std::min(1.3 * (facts.sonde_top_t - facts.sonde_t), 0.75 * farthest_shown_m);
        include(facts.sonde_s, wide_m);
    }
    const double deepest = std::max({-facts.sonde_t, facts.target.springline_depth_m - facts.surface_t,
                                     facts.dig_depth_m - facts.surface_t, facts.call_m.value_or(0.0) - facts.locate_t});
    for (int k = 0; k <= 40 && !profile.flat(); ++k) {
        sheet.ground_high_t = std::max(sheet.ground_high_t, profile.ground_t(low_s + (high_s - low_s) * k / 40.0));
    }
    sheet.ground_high_t = std::min(sheet.ground_high_t, 4.0);
    const double high_t = sheet.ground_high_t + (with_field ? receiver_room_m : 0.30);
    const double low_t = -std::min(deepest, 8.0) - 0.35;
    const double width = sheet.drawing.high.x - sheet.drawing.low.x;
    const double height = sheet.drawing.high.y - sheet.drawing.low.y;
    sheet.px_per_m = std::min({width / (high_s - low_s), height / (high_t - low_t), 320.0});
    sheet.s_left = 0.5 * (low_s + high_s) - 0.5 * width / sheet.px_per_m;
    sheet.t_top = high_t;
}
} // namespace sondeyard::ui
