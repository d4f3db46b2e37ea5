// The sheets at the left: job sheet, help, settings.
#include "ui/window/worksheet.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

void fact(const Theme& theme, std::string_view what, std::string_view value) {
    caption(theme, what);
    wrapped(value);
}

void pipe_facts(const Theme& theme, const field::JobSheet& sheet) {
    const bool feet = theme.units == field::Units::feet;
    fact(theme, "Pipe",
         fmt::format("{}, {} inside, wall {}",
                     sheet.material == field::PipeMaterial::pvc ? "PVC" : field::name_of(sheet.material),
                     feet ? length_words(theme, sheet.inside_diameter_m)
                          : fmt::format("{:.0f} mm", 1000 * sheet.inside_diameter_m),
                     feet ? fmt::format("{:.2f} in", sheet.wall_m / field::metres_per_inch)
                          : fmt::format("{:.0f} mm", 1000 * sheet.wall_m)));
    if (!sheet.ground.empty()) {
        fact(theme, "Ground", sheet.ground);
    }
    const double above_m = sheet.inside_diameter_m - sheet.sonde_above_invert_m + sheet.wall_m;
    fact(theme, "Pipe's top", error_words(theme, above_m) + " above the sonde's centre");
    if (sheet.cleanout_m) {
        fact(theme, "Cleanout",
             feet ? fmt::format("{:.1f} ft east, {:.1f} ft north", sheet.cleanout_m->x / field::metres_per_foot,
                                sheet.cleanout_m->y / field::metres_per_foot)
                  : fmt::format("{:.1f} m east, {:.1f} m north", sheet.cleanout_m->x, sheet.cleanout_m->y));
    }
    if (sheet.counter_m) {
        fact(theme, "Cable out when the fault was seen",
             fmt::format("{}, from the {}", length_words(theme, *sheet.counter_m), field::name_of(sheet.counter_zero)));
    }
    const double on_m = sheet.sonde_to_lens_m + sheet.lens_to_fault_m;
    fact(theme, "Fault",
         on_m == 0.0 ? "at the sonde"
                     : fmt::format("{} on from the sonde along the pipe: {} to the lens, {} from there",
                                   length_words(theme, on_m), length_words(theme, sheet.sonde_to_lens_m),
                                   length_words(theme, sheet.lens_to_fault_m)));
    fact(theme, "Sonde", field::frequency_text(sheet.frequency_hz));
}

// Brings what is drawn from here on to the top of what is seen of the sheet, if it was asked for.
void come_to(SheetPart part, SheetPart& asked) {
    if (part == asked) {
        ImGui::SetScrollHereY(0.0F);
        // A sheet that has just been unfolded is laid out once more, beside its scroll bar.
        asked = ImGui::IsWindowAppearing() ? part : SheetPart::none;
    }
}

void truck_part(const Theme& theme, const ExerciseModel& model, Requests& requests) {
    heading(theme, "Check at the truck");
    note_text(theme,
              in_units(theme,
                       "Before the push: sonde on the ground {2.0 m} from the tip. The receiver should hear it there."),
              theme.palette.quiet);
    if (!model.truck_checks.empty()) {
        const field::TruckCheckResult& r = model.truck_checks.back();
        ImGui::PushStyleColor(ImGuiCol_Text, r.heard ? theme.palette.sewer : theme.palette.warning);
        wrapped(truck_words(theme, model.brief, r));
        ImGui::PopStyleColor();
    }
    command_button(theme, model.context, "truck_check", requests);
}

void ticket_part(const Theme& theme, const ExerciseModel& model, Requests& requests) {
    const field::Ticket& ticket = model.brief.sheet.ticket;
    const bool cleared = ticket.state == field::TicketState::cleared;
    heading(theme, "One-call ticket");
    wrapped(ticket.number.empty() ? "no number" : ticket.number);
    ImGui::PushStyleColor(ImGuiCol_Text, cleared ? theme.palette.ink : theme.palette.warning);
    wrapped(fmt::format("State: {}", field::name_of(ticket.state)));
    ImGui::PopStyleColor();
    for (const field::OwnerResponse& r : ticket.responses) {
        note_text(theme, fmt::format("{} ({}): {}", r.owner, field::name_of(r.kind), r.answer), theme.palette.ink);
    }
    if (model.ticket_read) {
        note_text(theme, "You have read it.", theme.palette.sewer);
    }
    command_button(theme, model.context, "read_ticket", requests);
}

// What he calls out, and what he can be asked for.
void cable_part(const Theme& theme, const ExerciseModel& model, Requests& requests) {
    if (!model.seen.counter_m || !model.brief.sheet.counter_m) {
        return;
    }
    heading(theme, "Cable hand");
    const double by_m = *model.seen.counter_m - std::round(100.0 * *model.brief.sheet.counter_m) / 100.0;
    const std::string where =
        std::abs(by_m) < 0.005
            ? std::string("as when the fault was seen")
            : fmt::format("{} {} of the stop at {}", length_words(theme, std::abs(by_m)), by_m < 0.0 ? "short" : "on",
                          length_words(theme, *model.brief.sheet.counter_m));
    fact(theme, model.seen.cable_moving ? "Cable out, moving" : "Cable out",
         fmt::format("{}, {}", length_words(theme, *model.seen.counter_m), where));
    command_button(theme, model.context, "pull_back", requests);
    command_button(theme, model.context, "push_on", requests);
    command_button(theme, model.context, "cable_step", requests,
                   theme.units == field::Units::feet ? "by " + length_words(theme, model.cable_step_m)
                                                     : fmt::format("by {:.1f} m", model.cable_step_m));
}

void cautions_part(const Theme& theme) {
    heading(theme, "Cautions");
    for (
        const std::string_view line : {
            "Before any digging: the one-call centre, and every owner's answer.",
            "On a ticket that is not cleared nobody digs yet, by hand either.",
            "Gas and electricity kill. Inside a line's tolerance zone only hand or vacuum digging.",
            "Private lines past the meter are on no ticket: look for what betrays them.",
            "A trench from {1.5 m (5 ft)|5 ft} on needs a protective system (29 CFR 1926.652) and a competent person; shallower ones can fall in too.",
            "Sewage carries disease: gloves, and wash before eating.",
            "Training here licenses nobody. Local codes decide.",
        }) {
        note_text(theme, in_units(theme, line), theme.palette.ink);
        gap(theme, 0.1F);
    }
}

} // namespace

std::string truck_words(const Theme& theme, const field::Brief& brief, const field::TruckCheckResult& check) {
    const std::string at = field::frequency_text(check.frequency_hz);
    const std::string end = check.heard ? ": good." : ": wrong frequency, or a dead sonde.";
    if (!sim::reads_depth(brief.receiver_kind)) {
        return fmt::format("{} shows {:.1f} dBpT, the sheet says {:.1f}{}", at, check.signal_dbpt,
                           brief.sheet.truck_signal_dbpt, end);
    }
    return check.depth_m ? fmt::format("{} reads {}{}", at, length_words(theme, *check.depth_m), end)
                         : fmt::format("{} has nothing to read{}", at, end);
}

void job_sheet(const Theme& theme, const Area& area, const ExerciseModel& model, float scroll, SheetPart& part,
               Requests& requests) {
    const Panel panel("sheet", area);
    scroll_by(scroll);
    const field::JobSheet& sheet = model.brief.sheet;
    heading(theme, "Job sheet");
    wrapped(fmt::format("“{}”", in_units(theme, sheet.caller)));
    if (!sheet.camera.empty()) {
        fact(theme, "The camera saw", in_units(theme, sheet.camera));
    }
    rule(theme);
    come_to(SheetPart::ticket, part);
    ticket_part(theme, model, requests);
    rule(theme);
    come_to(SheetPart::truck, part);
    truck_part(theme, model, requests);
    rule(theme);
    pipe_facts(theme, sheet);
    rule(theme);
    cable_part(theme, model, requests);
    rule(theme);
    cautions_part(theme);
    gap(theme, 0.5F);
}

namespace {

void help_words(const Theme& theme) {
    heading(theme, "A locate in three parts");
    for (
        const std::string_view line : {
            "Approach. Hold the receiver out, sweep it in an arc and walk toward the strongest signal.",
            "Fix. Lower it to the ground. Where the field stands plumb, fore and aft of the sonde, mark plumb points; "
            "between them, where it lies level, the level line; where the signal is largest, the peak. Of a level "
            "sonde peak and level line are one. Apart, they say that it is tilted: the peak lies toward the raised "
            "end, and so does the stronger plumb point. On end the one plumb point is the peak.",
            "Prove. From the peak, one depth away, the signal must fall in every direction. Read the depth with tip "
            "down and mast plumb, go half round and read again: a facing pair. It finds lean and mounting errors, not "
            "an offset; well held it agrees within a few per cent. Over 10 %, a quarter turn and another pair. Lifted "
            "by {0.5 m} the reading must grow by {0.5 m}.",
            "Dig. The locate is the sonde; the box goes over the fault, which may lie farther on along the pipe. On a "
            "ticket that is not cleared nobody digs yet, by hand either. Once cleared: by hand or vacuum inside a "
            "tolerance zone.",
            "Ask the cable hand. In a trap, a bend or a drop the sonde cannot be located well: have it pulled back to the "
            "nearest straight run, locate it there, and once more {a metre|3 ft} on; the two locates give the pipe's heading. "
            "From there carry on to the stop, and to the fault, by the counter along that heading. Pulled back, the "
            "counter runs before the sonde does, by the slack; pulled too far and pushed on again, it lies as it did "
            "at the stop. A source that does not follow the counter is not yours.",
            "One coil shows no depth: measure from plumb point to plumb point and divide by 1.414.",
            "Two level coils show no dial. Turn and move for the largest signal: you face along the sonde. Their nulls "
            "fore and aft are the plumb points, and beyond each is a ghost peak, a fifth of the main one. The depth is "
            "right at their own peak, turned along the sonde, and nowhere else.",
        }) {
        wrapped(in_units(theme, line));
        gap(theme, 0.3F);
    }
}

} // namespace

namespace {

// What a trainer is asked: how far the yard's physics goes. The headers in sim/ say it with figures and sources.
void help_limits(const Theme& theme) {
    heading(theme, "What hides the sonde, and what is modelled of it");
    for (
        const std::string_view line : {
            "Iron. A cast-iron drain takes about 20 dB from 512 Hz and lets nothing of the kilohertz frequencies out; "
            "plastic and clay take nothing. Modelled is an endless pipe of even wall with the sonde in its middle: "
            "joints, rust and field that runs along the pipe are left out.",
            "Ground. Wet clay weakens and bends the high frequencies; at 512 Hz no receiver notices. One kind of "
            "ground all through, level with the place over the sonde; layers are left out.",
            "Lines. In a metal line earthed at both ends the sonde drives a current. It pulls the peak toward the "
            "line, the level line is no longer midway between the plumb points, and depth reads wrong. A facing pair "
            "cannot show it, since turning a plumb mast moves no antenna. A lift check may: {0.46 m for 0.50|1 ft 6 in for 1 ft 7 3/4 in} is a "
            "hint, and {0.50|1 ft 7 3/4 in} is no proof. The current is taken to be the same all along; lines do not act on each other.",
            "Hum. The mains and their harmonics fall on whole multiples of 50 or 60 Hz, and wander. 512 Hz lies "
            "between two of them; beside 640 Hz stands 650 of a 50 Hz supply. A wide filter is fast and lets more of "
            "them in. You hear hum as a low soft voice under the tone.",
            "Figures of iron, ground, lines and hum are of ordinary size, not measured on any site.",
        }) {
        wrapped(in_units(theme, line));
        gap(theme, 0.3F);
    }
}

} // namespace

void help_sheet(const Theme& theme, const Area& area, const CommandContext& context, float scroll, Requests& requests) {
    const Panel panel("help", area);
    scroll_by(scroll);
    heading(theme, "Keys");
    note_text(
        theme,
        "The pointer is the hand: it shows where the tip should go, and you walk after it. Click to keep the hand "
        "where it is and free the pointer. With the tip up a click near a mark chooses that mark instead.",
        theme.palette.quiet);
    std::string_view group;
    for (const CommandInfo& info : command_table()) {
        if (info.group != group) {
            group = info.group;
            rule(theme);
            note_text(theme, group, theme.palette.survey);
            gap(theme, 0.2F);
        }
        const float wide = ImGui::GetContentRegionAvail().x;
        const ImVec2 at = ImGui::GetCursorScreenPos();
        const ImVec2 keys = size_of(theme.note, info.key_text);
        const ImU32 ink = info.enabled(context) ? theme.palette.ink : theme.palette.quiet;
        text_at(*ImGui::GetWindowDrawList(), theme.note, ImVec2(at.x + wide - keys.x, at.y + 0.1F * theme.h), ink,
                info.key_text);
        ImGui::PushStyleColor(ImGuiCol_Text, ink);
        ImGui::TextUnformatted(in_units(theme, info.label).c_str());
        ImGui::PopStyleColor();
        note_text(theme, in_units(theme, info.help), theme.palette.quiet);
    }
    gap(theme, 0.5F);
    help_words(theme);
    help_tilt_fix(theme);
    help_limits(theme);
    command_button(theme, context, "help", requests, "Fold help");
    gap(theme, 0.5F);
}

void settings_sheet(const Theme& theme, const Area& area, const Settings& settings, const CommandContext& context,
                    std::string_view sound, float scroll, Requests& requests) {
    const Panel panel("settings", area);
    scroll_by(scroll);
    heading(theme, "Settings");
    const auto setting = [&](std::string_view what, const std::string& value,
                             std::initializer_list<std::string_view> ids) {
        gap(theme, 0.4F);
        fact(theme, what, value);
        for (const std::string_view id : ids) {
            command_button(theme, context, id, requests);
        }
    };
    setting("Theme", settings.night ? "night" : "day", {"night"});
    setting("Size of writing",
            settings.scale == 0.0 ? std::string("by the screen") : fmt::format("{:.2f}", settings.scale),
            {"scale_up", "scale_down"});
    note_text(theme, "At most what the window has room for.", theme.palette.quiet);
    setting("Tone", fmt::format("volume {:.0f} of 10{}", settings.volume * 10, settings.muted ? ", muted" : ""),
            {"volume_up", "volume_down", "mute"});
    note_text(theme, sound, theme.palette.quiet);
    static constexpr std::array<std::string_view, 3> next = {"fades with practice", "always there", "off"};
    setting("Lengths", settings.units == field::Units::feet ? "feet and inches" : "metres", {"units"});
    setting("NEXT line", std::string(next[static_cast<std::size_t>(settings.next_line)]), {"next_line"});
    gap(theme, 0.6F);
    command_button(theme, context, "settings", requests, "Fold settings");
}

} // namespace sondeyard::ui
