// A World as a resolved scenario. Numbers are printed in the shortest decimal form that reads back as the same double,
// with a point whatever the locale.
#include "scenarios/schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

namespace sondeyard::scenarios {

namespace {

std::string text_of(double value) { return fmt::format("{}", value + 0.0); } // + 0.0: no "-0", which reads back as 0

std::string text_of(int value) { return fmt::format("{}", value); }

std::string text_of(bool value) { return value ? "true" : "false"; }

std::string text_of(const glm::dvec2& p) { return fmt::format("[{}, {}]", p.x + 0.0, p.y + 0.0); }

std::string text_of(const glm::dvec3& p) { return fmt::format("[{}, {}, {}]", p.x + 0.0, p.y + 0.0, p.z + 0.0); }

template <typename Point>
std::string text_of(const std::vector<Point>& points) {
    std::string out = "[";
    for (const Point& p : points) {
        out += out.size() > 1 ? ", " : "";
        out += text_of(p);
    }
    out += ']';
    return out;
}

std::string text_of(std::string_view text) { // a basic string of TOML
    std::string out = "\"";
    for (const char c : text) {
        switch (c) {
        case '"':
            out += "\\\"";
            break;
        case '\\':
            out += "\\\\";
            break;
        case '\n':
            out += "\\n";
            break;
        default:
            if (static_cast<unsigned char>(c) < 32 || c == 127) {
                out += fmt::format("\\u{:04X}", static_cast<unsigned>(static_cast<unsigned char>(c)));
            } else {
                out += c;
            }
        }
    }
    out += '"';
    return out;
}

template <typename Words, typename Enumeration>
std::string_view word_of(const Words& words, Enumeration value) {
    return words[static_cast<std::size_t>(value)];
}

class Page {
public:
    template <typename Value>
    void line(std::string_view key, const Value& value) {
        out_ += fmt::format("{} = {}\n", key, text_of(value));
    }
    template <typename Value>
    void line(std::string_view key, const std::optional<Value>& value) {
        if (value) {
            line(key, *value);
        }
    }
    void line(std::string_view key, const std::string& value) { line(key, std::string_view(value)); }
    void bare(std::string_view text) { out_ += text; }
    std::string take() { return std::move(out_); }

private:
    std::string out_;
};

void write_head(Page& page, const field::World& world) {
    page.bare(fmt::format("format = {}\n", scenario_format));
    page.line("title", world.sheet.title);
    page.line("news", world.sheet.news);
    page.line("caller", world.sheet.caller);
    page.line("camera", world.sheet.camera);
    page.line("resolved", true);
    // TOML's whole numbers are signed and end at 2^63 - 1; a larger seed is written as text.
    const bool fits = world.seed <= static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max());
    page.bare(fits ? fmt::format("seed = {}\n", world.seed) : fmt::format("seed = \"{}\"\n", world.seed));
}

void write_ground(Page& page, const field::Yard& yard) {
    const field::Terrain& terrain = yard.terrain;
    const bool flat = field::is_flat(terrain);
    if (flat && !yard.resistivity_ohm_m) {
        return;
    }
    page.bare("\n[ground]\n");
    page.line("resistivity_ohm_m", yard.resistivity_ohm_m);
    if (!flat) {
        page.line("slope_percent", terrain.slope_percent);
        page.line("slope_toward_deg", terrain.slope_toward_deg);
        page.line("zero_m", terrain.zero_m);
    }
}

bool has_supply(const field::Yard& yard) {
    return !yard.overhead.empty() ||
           std::ranges::any_of(yard.lines, [](const field::BuriedLine& line) { return line.mains_current_a > 0.0; });
}

void write_lesson(Page& page, const field::Lesson& lesson) {
    if (lesson.different.empty() && lesson.tell.empty() && lesson.act.empty()) {
        return;
    }
    page.bare("\n[lesson]\n");
    page.line("different", lesson.different);
    page.line("tell", lesson.tell);
    page.line("act", lesson.act);
}

void write_truth(Page& page, const field::World& world) {
    page.bare("\n[yard]\n");
    page.line("width_m", world.yard.width_m);
    page.line("length_m", world.yard.length_m);
    write_ground(page, world.yard);
    if (has_supply(world.yard) || world.yard.mains_hz != field::Yard{}.mains_hz) {
        page.bare("\n[hum]\n");
        page.line("mains_hz", world.yard.mains_hz);
    }
    page.bare("\n[sonde]\n");
    page.line("frequency_hz", world.sonde.frequency_hz);
    page.line("moment_A_m2", world.sonde.moment_am2);
    page.line("position_m", glm::dvec2{world.sonde.position_m.x, world.sonde.position_m.y});
    page.line("depth_m", field::depth_m(world));
    page.line("heading_deg", world.sonde.heading_deg);
    page.line("tilt_deg", world.sonde.tilt_deg);
    page.line("above_invert_m", world.sheet.sonde_above_invert_m);
    if (world.run) {
        page.bare("\n[run]\n");
        page.line("points_m", world.run->centreline_m);
        page.line("material", word_of(material_words, world.run->material));
        page.line("inside_diameter_m", world.run->inside_diameter_m);
        page.line("wall_m", world.run->wall_m);
        if (world.run->slack_m) {
            page.line("slack_m", *world.run->slack_m);
        }
        if (world.run->metal.conductivity_s_per_m > 0.0) {
            page.line("relative_permeability", world.run->metal.relative_permeability);
            page.line("conductivity_MS_per_m", world.run->metal.conductivity_s_per_m / 1e6);
        }
    }
    page.bare("\n[start]\n");
    page.line("position_m", world.start_m);
    page.line("facing_deg", world.start_facing_deg);
    page.bare("\n[operator]\n");
    page.line("lean_deg", world.habits.lean_deg);
    page.line("lean_toward_deg", world.habits.lean_toward_deg);
}

// Only what is not as when left out: most instruments have none of it.
void write_front_end(Page& page, const sim::ReceiverSpec& spec) {
    const sim::ReceiverSpec standard;
    const auto line = [&](std::string_view key, auto value, auto usual) {
        if (value != usual) {
            page.line(key, value);
        }
    };
    if (spec.coil) {
        page.line("coil_turns", spec.coil->turns);
        page.line("coil_core_diameter_m", spec.coil->core_diameter_m);
        page.line("coil_mu_eff", spec.coil->mu_eff);
        page.line("coil_resistance_ohm", spec.coil->resistance_ohm);
        page.line("coil_amplifier_nv_per_rthz", spec.coil->amplifier_nv_per_rthz);
    }
    if (spec.has_wide) {
        page.line("has_wide", true);
        page.line("wide_settling_tau_s", spec.wide_settling_tau_s);
        page.line("wide_band_half_width_hz", spec.wide_band_half_width_hz);
    }
    line("full_scale_dbpt", spec.front_end.full_scale_dbpt, standard.front_end.full_scale_dbpt);
    if (spec.front_end.gain_steps > 0) {
        page.line("gain_step_db", spec.front_end.gain_step_db);
        page.line("gain_steps", spec.front_end.gain_steps);
    }
    line("converter_bits", spec.front_end.converter_bits, 0);
    line("gain_error_sd_percent", spec.gain_error_sd_percent, standard.gain_error_sd_percent);
    line("mast_bend_sd_deg", spec.mast_bend_sd_deg, standard.mast_bend_sd_deg);
}

void write_receiver(Page& page, const sim::ReceiverSpec& spec) {
    page.bare("\n[receiver]\n");
    page.line("kind", word_of(receiver_words, spec.kind));
    page.line("antenna_spacing_m", spec.antenna_spacing_m);
    page.line("tip_to_antenna_m", spec.tip_to_antenna_m);
    page.line("side_offset_sd_m", spec.side_offset_sd_m);
    page.line("axis_error_sd_deg", spec.axis_error_sd_deg);
    page.line("settling_tau_s", spec.settling_tau_s);
    page.line("band_half_width_hz", spec.band_half_width_hz);
    page.line("signal_resolution_db", spec.signal_resolution_db);
    page.line("depth_resolution_m", spec.depth_resolution_m);
    page.line("noise_floor_pt_per_rthz", spec.noise_floor_pt_per_rthz);
    page.line("noise_at_512_pt_per_rthz", spec.noise_at_512_pt_per_rthz);
    write_front_end(page, spec);
}

void write_sheet(Page& page, const field::JobSheet& sheet) {
    page.bare("\n[sheet]\n");
    page.line("frequency_hz", sheet.frequency_hz);
    page.line("truck_signal_dbpt", sheet.truck_signal_dbpt);
    page.line("cleanout_m", sheet.cleanout_m);
    page.line("counter_zero", word_of(counter_words, sheet.counter_zero));
    page.line("counter_m", sheet.counter_m);
    page.line("material", word_of(material_words, sheet.material));
    page.line("inside_diameter_m", sheet.inside_diameter_m);
    page.line("wall_m", sheet.wall_m);
    page.line("sonde_to_lens_m", sheet.sonde_to_lens_m);
    page.line("lens_to_fault_m", sheet.lens_to_fault_m);
    if (!sheet.ground.empty()) {
        page.line("ground", sheet.ground);
    }
    page.line("ticket_number", sheet.ticket.number);
    page.line("ticket_state", word_of(ticket_words, sheet.ticket.state));
}

void write_rubric(Page& page, const field::Rubric& rubric) {
    page.bare("\n[rubric]\n");
    page.line("full_m", rubric.full.least_m);
    page.line("full_share", rubric.full.share_of_depth);
    page.line("half_m", rubric.half.least_m);
    page.line("half_share", rubric.half.share_of_depth);
    page.line("quarter_m", rubric.quarter.least_m);
    page.line("quarter_share", rubric.quarter.share_of_depth);
    page.line("depth_share", rubric.depth_share);
    page.line("tolerance_zone_m", rubric.tolerance_zone_m);
    page.line("pair_share", rubric.pair_share);
    page.line("protection_depth_m", rubric.protection_depth_m);
    page.line("solvable_by_level_line", rubric.solvable_by_level_line);
}

void write_lists(Page& page, const field::World& world) {
    for (const field::Area& area : world.yard.areas) {
        page.bare("\n[[area]]\n");
        page.line("kind", word_of(area_words, area.kind));
        page.line("name", area.name);
        page.line("outline_m", area.outline_m);
    }
    for (const field::Clue& clue : world.yard.clues) {
        page.bare("\n[[clue]]\n");
        page.line("kind", word_of(clue_words, clue.kind));
        page.line("place_m", clue.place_m);
    }
    for (const field::BuriedLine& line : world.yard.lines) {
        page.bare("\n[[line]]\n");
        page.line("kind", word_of(line_words, line.kind));
        page.line("owner", line.owner);
        page.line("width_m", line.width_m);
        page.line("private", line.is_private);
        page.line("points_m", line.points_m);
        page.line("paint_m", line.paint_m);
        if (line.connection != field::LineConnection::none) {
            page.line("connection", word_of(connection_words, line.connection));
            page.line("resistance_ohm", line.resistance_ohm);
        }
        if (line.clamp_current_a > 0.0) {
            page.line("clamp_current_A", line.clamp_current_a);
            page.line("clamp_frequency_hz", line.clamp_frequency_hz);
        }
        if (line.mains_current_a > 0.0) {
            page.line("mains_current_A", line.mains_current_a);
        }
    }
    for (const field::OverheadLine& line : world.yard.overhead) {
        page.bare("\n[[overhead]]\n");
        page.line("points_m", line.points_m);
        page.line("mains_current_A", line.mains_current_a);
    }
    for (const field::OtherSonde& other : world.other_sondes) {
        page.bare("\n[[transmitter]]\n");
        page.line("owner", other.owner);
        page.line("frequency_hz", other.sonde.frequency_hz);
        page.line("moment_A_m2", other.sonde.moment_am2);
        page.line("position_m", glm::dvec2{other.sonde.position_m.x, other.sonde.position_m.y});
        page.line("depth_m", field::depth_m(world, other.sonde.position_m));
        page.line("heading_deg", other.sonde.heading_deg);
        page.line("tilt_deg", other.sonde.tilt_deg);
    }
    for (const field::GroundStep& step : world.yard.terrain.steps) {
        page.bare("\n[[step]]\n");
        page.line("place_m", step.place_m);
        page.line("toward_deg", step.toward_deg);
        page.line("rise_m", step.rise_m);
        page.line("ramp_m", step.ramp_m);
    }
    for (const field::Pad& pad : world.yard.terrain.pads) {
        page.bare("\n[[pad]]\n");
        page.line("outline_m", pad.outline_m);
        page.line("rise_m", pad.rise_m);
    }
    for (const field::OwnerResponse& response : world.sheet.ticket.responses) {
        page.bare("\n[[response]]\n");
        page.line("owner", response.owner);
        page.line("kind", word_of(line_words, response.kind));
        page.line("answer", response.answer);
    }
}

} // namespace

std::string to_toml(const field::World& world) {
    Page page;
    write_head(page, world);
    write_truth(page, world);
    write_receiver(page, world.receiver);
    write_sheet(page, world.sheet);
    write_rubric(page, world.rubric);
    write_lesson(page, world.lesson);
    write_lists(page, world);
    return page.take();
}

} // namespace sondeyard::scenarios
