// What must fit together in a scenario file.
#include "field/geometry.hpp"
#include "scenarios/reader.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>

namespace sondeyard::scenarios {

namespace {

const Entry* find(const Entries& entries, std::string_view key) {
    const auto at = entries.find(key);
    return at == entries.end() ? nullptr : &at->second;
}

std::uint64_t word_or(const Entries& entries, std::string_view key, std::uint64_t standard) {
    const Entry* entry = find(entries, key);
    return entry != nullptr ? std::get<std::uint64_t>(entry->value) : standard;
}
void check_shape(FaultList& faults, const Scenario::Content& content) {
    const Entries& entries = content.entries;
    const Entry* shape = find(entries, "run.shape");
    const Entry* points = find(entries, "run.points_m");
    const Entry* fall = find(entries, "run.fall_percent");
    const Entry* branch = find(entries, "run.branch_tilt_deg");
    const bool placed = find(entries, "sonde.position_m") != nullptr;
    const Entry* depth = find(entries, "sonde.depth_m");
    if (points != nullptr && depth != nullptr && !placed) {
        faults.add(
            depth->spot, "sonde.depth_m",
            "found beside run.points_m without sonde.position_m; allowed: with a place, or none (the pipe's depth)");
    }
    if (shape != nullptr && points != nullptr) {
        faults.add(shape->spot, "run.shape", "found beside run.points_m; allowed: one of the two");
    }
    const std::uint64_t is = word_or(entries, "run.shape", placed ? 0 : 1);
    if (shape != nullptr && is == 0 && !placed) {
        faults.add(shape->spot, "run.shape",
                   "found \"none\" without a place for the sonde; allowed: with sonde.position_m, or another shape");
    }
    if (fall != nullptr && (points != nullptr || is == 0)) {
        faults.add(fall->spot, "run.fall_percent",
                   "found where no run is drawn; allowed with run.shape \"fall\", \"steep_branch\" or \"drop\"");
    }
    if (branch != nullptr && (points != nullptr || is != 2)) {
        faults.add(branch->spot, "run.branch_tilt_deg",
                   "found without a steep branch; allowed with run.shape \"steep_branch\"");
    }
    if (content.resolved && points != nullptr) {
        for (const std::string_view key : {"run.material", "run.inside_diameter_m", "run.wall_m"}) {
            if (find(entries, key) == nullptr) {
                faults.add(points->spot, key, "missing; allowed: " + allowed_text(*find_row(key)));
            }
        }
    }
}

// Has the ground a shape, as far as the file says without being drawn?
bool is_shaped(const Scenario::Content& content) {
    return std::ranges::any_of(std::array{"ground.slope_percent", "ground.step_rise_m", "ground.pad_rise_m"},
                               [&](const char* key) { return find(content.entries, key) != nullptr; }) ||
           content.lists.contains("step") || content.lists.contains("pad");
}

// A key that means nothing without another.
void check_needs(FaultList& faults, const Scenario::Content& content, std::string_view key, std::string_view other) {
    const Entry* entry = find(content.entries, key);
    if (entry != nullptr && find(content.entries, other) == nullptr) {
        faults.add(entry->spot, key, fmt::format("found without {}; allowed: together with it", other));
    }
}

void check_receiver(FaultList& faults, const Scenario::Content& content) {
    for (const std::string_view key : {"receiver.coil_core_diameter_m", "receiver.coil_mu_eff",
                                       "receiver.coil_resistance_ohm", "receiver.coil_amplifier_nv_per_rthz"}) {
        check_needs(faults, content, key, "receiver.coil_turns");
    }
    for (const std::string_view key : {"receiver.wide_settling_tau_s", "receiver.wide_band_half_width_hz"}) {
        check_needs(faults, content, key, "receiver.has_wide");
    }
    check_needs(faults, content, "receiver.gain_step_db", "receiver.gain_steps");
}

void check_ground(FaultList& faults, const Scenario::Content& content) {
    const auto needs = [&](std::string_view key, std::string_view other) { check_needs(faults, content, key, other); };
    needs("ground.slope_toward_deg", "ground.slope_percent");
    for (const std::string_view key : {"ground.step_ramp_m", "ground.step_offset_m", "ground.step_toward_deg"}) {
        needs(key, "ground.step_rise_m");
    }
    for (const std::string_view key : {"ground.pad_offset_m", "ground.pad_toward_deg"}) {
        needs(key, "ground.pad_rise_m");
    }
    if (content.resolved) { // nothing is drawn here
        needs("ground.slope_percent", "ground.slope_toward_deg");
    }
}

// Tables of what else is in the yard: each says the one thing without which it would mean nothing.
void check_company(FaultList& faults, const Scenario::Content& content) {
    const Entries& entries = content.entries;
    const auto needs = [&](std::string_view group, std::string_view key, std::string_view why) {
        const auto table = content.tables.find(group);
        if (table != content.tables.end() && find(entries, key) == nullptr && !content.resolved) {
            faults.add(table->second, key, fmt::format("missing, {}; allowed: {}", why, allowed_text(*find_row(key))));
        }
    };
    needs("neighbour", "neighbour.kind", "so that no line can be laid");
    needs("other_sonde", "other_sonde.distance_m", "so that no other crew can be placed");
    const Entry* supply = find(entries, "hum.supply");
    if (supply != nullptr && find(entries, "hum.current_A") == nullptr) {
        faults.add(supply->spot, "hum.supply", "found without hum.current_A; allowed: with a current");
    }
    const std::uint64_t material = word_or(entries, "run.material", 0);
    const bool metal = field::usual_metal(static_cast<field::PipeMaterial>(material)).conductivity_s_per_m > 0.0;
    for (const std::string_view key : {"run.relative_permeability", "run.conductivity_MS_per_m"}) {
        const Entry* entry = find(entries, key);
        if (entry != nullptr && !metal) {
            faults.add(entry->spot, key,
                       fmt::format("found beside a pipe of {}; allowed: with a metal", material_words[material]));
        }
    }
    const std::uint64_t connection = word_or(entries, "neighbour.connection", 2);
    const Entry* clamp = find(entries, "neighbour.clamp_current_mA");
    if (clamp != nullptr && connection == 0) {
        faults.add(clamp->spot, "neighbour.clamp_current_mA",
                   "found on a line that is not of metal; allowed: with connection \"bonded\" or \"isolated\"");
    }
}

std::optional<field::Run> fixed_run(const Entries& entries) {
    const Entry* points = find(entries, "run.points_m");
    const auto diameter = fixed_number(entries, "run.inside_diameter_m");
    if (points == nullptr || (!diameter && find(entries, "run.inside_diameter_m") != nullptr)) {
        return std::nullopt;
    }
    field::Run run;
    run.inside_diameter_m = diameter.value_or(run.inside_diameter_m);
    for (const auto& p : std::get<Points>(points->value)) {
        run.centreline_m.emplace_back(p[0], p[1], p[2]);
    }
    return run;
}

bool check_run_points(FaultList& faults, const Scenario::Content& content, const field::Run& run) {
    const Spot spot = find(content.entries, "run.points_m")->spot;
    const auto width = fixed_number(content.entries, "yard.width_m").value_or(60.0);
    const auto length = fixed_number(content.entries, "yard.length_m").value_or(60.0);
    for (std::size_t i = 0; i < run.centreline_m.size(); ++i) {
        const glm::dvec3& p = run.centreline_m[i];
        std::string text;
        if (p.x < 0.0 || p.y < 0.0 || p.x > width || p.y > length) {
            text = fmt::format("found point {} outside the yard at ({}, {}); allowed: 0 to {} m east, 0 to {} m north",
                               i + 1, p.x, p.y, width, length);
        } else if (p.z >= 0.0 && !is_shaped(content)) { // else looked at with the ground over it
            text = fmt::format("found point {} at z = {}; allowed: below the ground, z < 0", i + 1, p.z);
        } else if (i > 0 && p.z > run.centreline_m[i - 1].z) {
            text = fmt::format("found point {} higher than the one before; allowed: a drain never rises", i + 1);
        } else if (i > 0 && glm::distance(p, run.centreline_m[i - 1]) < 0.001) {
            text = fmt::format("found point {} on top of the one before; allowed: 1 mm apart or more", i + 1);
        }
        if (!text.empty()) {
            faults.add(spot, "run.points_m", text);
            return false;
        }
    }
    return true;
}

void check_place(FaultList& faults, const Scenario::Content& content) {
    const Entries& entries = content.entries;
    const auto place = fixed_place(entries, "sonde.position_m");
    const auto run = fixed_run(entries);
    const bool run_holds = !run || check_run_points(faults, content, *run);
    const auto above_invert = fixed_number(entries, "sonde.above_invert_m");
    const double diameter = fixed_number(entries, "run.inside_diameter_m").value_or(field::Run{}.inside_diameter_m);
    if (above_invert && *above_invert >= diameter) {
        faults.add(
            find(entries, "sonde.above_invert_m")->spot, "sonde.above_invert_m",
            fmt::format("found {} in a pipe of {} m; allowed: less than its inside diameter", *above_invert, diameter));
    }
    if (!place) {
        return;
    }
    const Spot spot = find(entries, "sonde.position_m")->spot;
    const auto width = fixed_number(entries, "yard.width_m");
    const auto length = fixed_number(entries, "yard.length_m");
    if ((width && place->x > *width) || (length && place->y > *length)) {
        faults.add(spot, "sonde.position_m",
                   fmt::format("found ({}, {}), outside the yard; allowed: 0 to {} m east, 0 to {} m north", place->x,
                               place->y, width.value_or(60.0), length.value_or(60.0)));
        return;
    }
    const Entry* depth = find(entries, "sonde.depth_m");
    const auto fixed_depth = fixed_number(entries, "sonde.depth_m");
    const bool elsewhere = content.resolved && is_shaped(content); // z = 0 need not be over the sonde
    if (run && run_holds && !elsewhere && (depth == nullptr || fixed_depth)) {
        const Lying lying = lie_in_run(*run, *place, fixed_depth, above_invert.value_or(0.025));
        if (!lying.fault.empty()) {
            faults.add(spot, "sonde.position_m", lying.fault);
        }
    }
    const auto areas = content.lists.find("area");
    if (areas == content.lists.end()) {
        return;
    }
    for (const Entries& area : areas->second) {
        const std::string_view kind = area_words[word_or(area, "area.kind", 2)];
        const Entry* outline = find(area, "area.outline_m");
        if (outline == nullptr || (kind != "house" && kind != "shed" && kind != "tree")) {
            continue;
        }
        field::Polygon corners;
        for (const auto& p : std::get<Points>(outline->value)) {
            corners.emplace_back(p[0], p[1]);
        }
        if (field::contains(corners, *place)) {
            faults.add(spot, "sonde.position_m",
                       fmt::format("found ({}, {}), inside a {}; allowed: where a receiver can stand", place->x,
                                   place->y, kind));
        }
    }
}

void check_bands(FaultList& faults, const Scenario::Content& content) {
    for (const std::string_view unit : {"_m", "_share"}) {
        static constexpr std::array<std::string_view, 3> names = {"full", "half", "quarter"};
        static constexpr std::array<double, 3> standard_m = {0.15, 0.25, 0.50};
        static constexpr std::array<double, 3> standard_share = {0.15, 0.25, 0.40};
        double before = 0.0;
        for (std::size_t i = 0; i < names.size(); ++i) {
            const std::string key = fmt::format("rubric.{}{}", names[i], unit);
            const Entry* entry = find(content.entries, key);
            const double standard = unit == "_m" ? standard_m[i] : standard_share[i];
            const double value = fixed_number(content.entries, key).value_or(entry != nullptr ? before : standard);
            if (value < before) {
                const auto table = content.tables.find("rubric");
                const Spot home = table != content.tables.end() ? table->second : Spot{};
                faults.add(entry != nullptr ? entry->spot : home, key,
                           fmt::format("found {}, narrower than the {} band's {}; allowed: full <= half <= quarter",
                                       value, names[i - 1], before));
            }
            before = value;
        }
    }
}
} // namespace

std::optional<double> fixed_number(const Entries& entries, std::string_view key) {
    const Entry* entry = find(entries, key);
    if (entry == nullptr) {
        return std::nullopt;
    }
    const Number& number = std::get<std::vector<Number>>(entry->value).front();
    return number.form == Number::Form::fixed ? std::optional(number.values.front()) : std::nullopt;
}

std::optional<glm::dvec2> fixed_place(const Entries& entries, std::string_view key) {
    const Entry* entry = find(entries, key);
    if (entry == nullptr) {
        return std::nullopt;
    }
    const auto& both = std::get<std::vector<Number>>(entry->value);
    if (both[0].form != Number::Form::fixed || both[1].form != Number::Form::fixed) {
        return std::nullopt;
    }
    return glm::dvec2{both[0].values.front(), both[1].values.front()};
}
void check_together(FaultList& faults, const Scenario::Content& content) {
    check_shape(faults, content);
    check_company(faults, content);
    check_ground(faults, content);
    check_receiver(faults, content);
    check_bands(faults, content);
    check_place(faults, content);
}

} // namespace sondeyard::scenarios
