#include "ui/window/worksheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace sondeyard::ui {

namespace {

using field::PlumbSide;
using field::Range;
using field::Units;

bool is_sd(std::size_t line) { return line == Worksheet::spacing_sd || line == Worksheet::depth_sd; }
bool is_signal(std::size_t line) { return line == Worksheet::signal_a || line == Worksheet::signal_b; }

std::optional<double> noted(const field::TiltSheet& sheet, std::size_t line) {
    switch (line) {
    case Worksheet::spacing:
        return sheet.spacing_m;
    case Worksheet::depth:
        return sheet.depth_m;
    case Worksheet::signal_a:
        return sheet.signal_a_db;
    case Worksheet::signal_b:
        return sheet.signal_b_db;
    case Worksheet::level_from_a:
        return sheet.level_from_a_m;
    default:
        return sheet.spacing_m ? std::optional(sheet.rise_m) : std::nullopt;
    }
}

// What counts when nothing is typed: the notebook's, or for how sure he is the usual.
std::optional<double> untyped(const Worksheet& w, std::size_t line) {
    if (!is_sd(line)) {
        return noted(w.sheet, line);
    }
    const Worksheet::Number& depth = w.numbers[Worksheet::depth];
    const std::optional<double> depth_m = depth.typed ? depth.typed : w.sheet.depth_m;
    if (!depth_m) {
        return std::nullopt;
    }
    field::TiltFixInput usual;
    usual.depth_m = *depth_m;
    return line == Worksheet::depth_sd ? depth_sd_m(usual) : spacing_sd_m(usual);
}

std::optional<double> value_of(const Worksheet& w, std::size_t line) {
    const Worksheet::Number& number = w.numbers[line];
    return number.typed ? number.typed : untyped(w, line);
}

std::string text_of(double value, std::size_t line, Units units) {
    return is_signal(line) ? fmt::format("{:.1f}", value)
           : is_sd(line)   ? field::error_text(value, units)
                           : field::length_text(value, units);
}

std::optional<double> parse_db(std::string_view text) {
    while (!text.empty() && (text.back() == ' ' || text.back() == 'B' || text.back() == 'd')) {
        text.remove_suffix(1);
    }
    double value = 0.0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    const bool all = error == std::errc{} && end == text.data() + text.size() && std::isfinite(value);
    return all ? std::optional(value) : std::nullopt;
}

void take_text(Worksheet::Number& number, std::size_t line, Units units) {
    const std::string_view text = number.text.data();
    number.typed.reset();
    number.trouble.clear();
    if (text.find_first_not_of(' ') == std::string_view::npos) {
        return; // emptied: the notebook's again
    }
    number.typed = is_signal(line) ? parse_db(text) : field::parse_length(text, units);
    if (!number.typed) {
        number.trouble =
            fmt::format("Found \"{}\"; allowed: {}. Not counted.", text,
                        is_signal(line) ? std::string_view("a number of decibels, 52.4") : field::lengths_allowed);
    }
}

} // namespace

void refresh(Worksheet& w, const field::Brief& brief, const field::Notebook& notebook) {
    w.sheet = field::tilt_sheet(brief, notebook);
    const std::optional<double> spacing_m = value_of(w, Worksheet::spacing);
    const std::optional<double> depth_m = value_of(w, Worksheet::depth);
    if (!spacing_m || !depth_m) {
        w.input.reset(), w.fix.reset();
        w.trouble.clear(), w.calls.clear();
        return;
    }
    field::TiltFixInput in = field::input_for(brief, w.sheet);
    if (w.numbers[Worksheet::depth].typed && brief.receiver_kind == sim::ReceiverKind::tri_axis) {
        in.depth_read_at = field::DepthReadAt::peak;
    }
    in.spacing_m = *spacing_m;
    in.depth_m = *depth_m;
    in.level_from_a_m = value_of(w, Worksheet::level_from_a);
    in.rise_m = value_of(w, Worksheet::rise).value_or(0.0);
    if (const std::optional<double>& sure_m = w.numbers[Worksheet::spacing_sd].typed) {
        in.mark_sd_m = field::mark_sd_of_spacing_sd_m(*sure_m);
    }
    in.depth_sd_m = w.numbers[Worksheet::depth_sd].typed;
    const std::optional<double> a_db = value_of(w, Worksheet::signal_a);
    const std::optional<double> b_db = value_of(w, Worksheet::signal_b);
    if (a_db && b_db) {
        in.a_over_b_db = *a_db - *b_db;
    } else {
        in.stronger = w.stronger;
    }
    if (w.input != in) {
        w.input = in;
        w.trouble = faults(in);
        w.fix = w.trouble.empty() ? std::optional(tilt_fix(in)) : std::nullopt;
    }
    w.calls = w.fix ? calls_of(w.sheet, *w.fix) : std::vector<field::Command>();
}

void fill_from_notebook(Worksheet& w) {
    for (Worksheet::Number& number : w.numbers) {
        number.text = {};
        number.typed.reset();
        number.trouble.clear();
    }
    w.stronger = PlumbSide::unknown;
}

void next_stronger(Worksheet& w) {
    using enum PlumbSide;
    w.stronger = w.stronger == unknown ? a : w.stronger == a ? b : unknown;
}

std::vector<field::Command> take_as_calls(Worksheet& w) {
    if (w.sheet.depth_is_call && !w.numbers[Worksheet::depth].typed && w.input) {
        w.numbers[Worksheet::depth].typed = w.input->depth_m;
    }
    return w.calls;
}

std::vector<std::string> trace_lines(const Worksheet& w) {
    std::string says = fmt::format("sheet marks {} {} ", w.sheet.a_id, w.sheet.b_id);
    if (w.fix) {
        const field::TiltFixInput& in = *w.input;
        const Range& tilt = w.fix->tilt_deg;
        says += fmt::format("spacing {:.3f} depth {:.3f} rise {:.3f} sure {:.3f} {:.3f} ", in.spacing_m, in.depth_m,
                            in.rise_m, spacing_sd_m(in), depth_sd_m(in));
        says += fmt::format("tilt {:.2f} {:.2f} {:.2f} from_a {:.3f} calls {} {}", tilt.value, tilt.low, tilt.high,
                            w.fix->from_a_m.value, w.calls.size(), name_of(w.fix->trust));
    } else {
        says += "no fix";
    }
    std::string fields = "boxes";
    for (const Worksheet::Number& number : w.numbers) {
        fields += fmt::format(" {:.0f} {:.0f}", number.middle.x, number.middle.y);
    }
    return {says, fields};
}

// ---- The panel ----

namespace {

// Fields that are not being typed in show what counts.
void fill_text(Worksheet& w, std::size_t line, Units units) {
    Worksheet::Number& number = w.numbers[line];
    if (!number.trouble.empty()) {
        return; // left as it was typed
    }
    const std::optional<double> value = value_of(w, line);
    const std::string text = value ? text_of(*value, line, units) : std::string();
    number.text = {};
    std::copy_n(text.begin(), std::min(text.size(), number.text.size() - 1), number.text.begin());
}

void number_row(const Theme& theme, Worksheet& w, std::size_t line, std::string_view label, Units units) {
    Worksheet::Number& number = w.numbers[line];
    const float wide = (units == Units::feet ? 6.5F : 4.5F) * theme.h;
    const float at = ImGui::GetCursorPosX() + ImGui::GetContentRegionAvail().x - wide;
    ImGui::AlignTextToFramePadding();
    ImGui::TextUnformatted(label.data(), label.data() + label.size());
    ImGui::SameLine(at);
    ImGui::SetNextItemWidth(wide);
    ImGui::PushID(static_cast<int>(line));
    ImGui::InputText("##number", number.text.data(), number.text.size(), ImGuiInputTextFlags_AutoSelectAll);
    ImGui::PopID();
    const ImVec2 low = ImGui::GetItemRectMin();
    const ImVec2 high = ImGui::GetItemRectMax();
    number.middle = ImVec2(0.5F * (low.x + high.x), 0.5F * (low.y + high.y));
    if (ImGui::IsItemDeactivatedAfterEdit()) {
        take_text(number, line, units);
    }
    if (!number.trouble.empty()) {
        note_text(theme, number.trouble, theme.palette.warning);
    } else if (number.typed) {
        const std::optional<double> other = untyped(w, line);
        note_text(
            theme,
            !other ? std::string("typed in")
                   : fmt::format("typed in; {} {}", is_sd(line) ? "usual" : "notebook", text_of(*other, line, units)),
            theme.palette.survey);
    }
}

void mark_line(const Theme& theme, char letter, int id, const field::Notebook& notebook, Units units) {
    const auto mark = std::ranges::find(notebook.marks, id, &field::Mark::id);
    if (mark == notebook.marks.end()) {
        caption(theme, fmt::format("{}  not marked", letter));
        return;
    }
    const glm::dvec2 place =
        mark->place_m / (units == Units::feet ? field::metres_per_foot : 1.0); // as the marks' list
    caption(theme, fmt::format("{}  mark {}, {:.2f} east {:.2f} north", letter, id, place.x, place.y));
}

void numbers_part(const Theme& theme, const ExerciseModel& model, Units units, Worksheet& w, Requests& requests) {
    mark_line(theme, 'A', w.sheet.a_id, model.notebook, units);
    mark_line(theme, 'B', w.sheet.b_id, model.notebook, units);
    gap(theme, 0.2F);
    if (!ImGui::GetIO().WantTextInput) {
        for (std::size_t line = 0; line < Worksheet::line_count; ++line) {
            fill_text(w, line, units);
        }
    }
    if (w.focus_first) {
        ImGui::SetKeyboardFocusHere();
        w.focus_first = false;
    }
    number_row(theme, w, Worksheet::spacing, "A to B", units);
    number_row(theme, w, Worksheet::depth, "Depth as read", units);
    number_row(theme, w, Worksheet::signal_a, "Signal at A, dB", units);
    number_row(theme, w, Worksheet::signal_b, "Signal at B, dB", units);
    number_row(theme, w, Worksheet::level_from_a, "A to level line", units);
    number_row(theme, w, Worksheet::rise, "Rise, A to B", units);
    caption(theme, "How sure you are of them, two times in three");
    number_row(theme, w, Worksheet::spacing_sd, "A to B, within", units);
    number_row(theme, w, Worksheet::depth_sd, "Depth, within", units);
    if (!value_of(w, Worksheet::signal_a) || !value_of(w, Worksheet::signal_b)) {
        command_button(theme, model.context, "worksheet_stronger", requests,
                       w.stronger == PlumbSide::a   ? "Stronger: A"
                       : w.stronger == PlumbSide::b ? "Stronger: B"
                                                    : "Stronger: not said");
    }
}

std::string range_text(const Range& range, Units units) {
    return fmt::format("{} to {}", field::length_text(range.low, units), field::length_text(range.high, units));
}

std::string compass(double heading_deg) {
    static constexpr std::array<std::string_view, 8> points = {"north", "north-east", "east", "south-east",
                                                               "south", "south-west", "west", "north-west"};
    const auto eighth = static_cast<std::size_t>(std::lround(heading_deg / 45.0)) % points.size();
    return fmt::format("{:.0f}°, {}", heading_deg, points[eighth]);
}

void tilt_part(const Theme& theme, const Worksheet& w) {
    const field::TiltFix& fix = *w.fix;
    caption(theme, "Tilt");
    wrapped(fmt::format("{:.0f}°, {:.0f} to {:.0f}°", fix.tilt_deg.value, fix.tilt_deg.low, fix.tilt_deg.high));
    if (fix.tilt_by_signals_deg) {
        note_text(theme,
                  fmt::format("by the signals {:.0f}°, by the spacing {}", *fix.tilt_by_signals_deg,
                              fix.tilt_by_spacing_deg ? fmt::format("{:.0f}°", *fix.tilt_by_spacing_deg) : "level"),
                  theme.palette.quiet);
    }
    caption(theme, "Raised end");
    if (fix.raised == PlumbSide::unknown) {
        wrapped("not known");
        return;
    }
    const bool a = fix.raised == PlumbSide::a;
    const double heading_deg = std::fmod(w.sheet.heading_deg + (a ? 180.0 : 0.0), 360.0);
    wrapped(fmt::format("toward {}{}", a ? "A" : "B",
                        w.sheet.a_id == 0 ? std::string() : fmt::format(" ({})", compass(heading_deg))));
}

void place_part(const Theme& theme, Units units, const Worksheet& w) {
    const field::TiltFix& fix = *w.fix;
    caption(theme, "The sonde, on the line from A to B");
    wrapped(fmt::format("{} from A, {} from B", field::length_text(fix.from_a_m.value, units),
                        field::length_text(fix.from_b_m.value, units)));
    note_text(theme, fmt::format("from A {}", range_text(fix.from_a_m, units)), theme.palette.quiet);
    if (fix.other_from_a_m) {
        note_text(theme,
                  fmt::format("if the end at B is raised; if the one at A is, {} from A",
                              field::length_text(*fix.other_from_a_m, units)),
                  theme.palette.warning);
    }
    caption(theme, "Depth there");
    wrapped(field::length_text(fix.depth_m.value, units));
    constexpr double worth_saying_m = 0.005; // less is 0 cm
    const std::string corrected =
        std::abs(fix.depth_correction_m) > worth_saying_m
            ? fmt::format("; {} of it for reading at the peak", field::error_text(fix.depth_correction_m, units))
            : std::string();
    note_text(theme, range_text(fix.depth_m, units) + corrected, theme.palette.quiet);
}

void summary_line(const Theme& theme, Units units, const field::TiltFix& fix) {
    if (!trusted(fix.trust)) {
        note_text(theme, fmt::format("Cannot be trusted: {}", name_of(fix.trust)), theme.palette.warning);
        return;
    }
    note_text(theme,
              fmt::format("{:.0f}°; {} from A, {} deep", fix.tilt_deg.value,
                          field::length_text(fix.from_a_m.value, units), field::length_text(fix.depth_m.value, units)),
              theme.palette.sewer);
}

void ranges_note(const Theme& theme, Units units, const field::TiltFixInput& in) {
    note_text(theme,
              fmt::format("Ranges hold two times in three, with A to B good to {}, depth to {}, signals to {:.2g} dB.",
                          field::error_text(spacing_sd_m(in), units), field::error_text(depth_sd_m(in), units),
                          signal_sd_db(in)),
              theme.palette.quiet);
}

void result_part(const Theme& theme, Units units, const Worksheet& w) {
    const field::TiltTrust trust = w.fix->trust;
    ImGui::PushStyleColor(ImGuiCol_Text, trusted(trust) ? theme.palette.sewer : theme.palette.warning);
    wrapped(fmt::format("{}: {}", trusted(trust) ? "Tilt fix" : "Cannot be trusted", name_of(trust)));
    ImGui::PopStyleColor();
    if (!reason_of(trust).empty()) {
        note_text(theme, reason_of(trust), theme.palette.ink);
    }
    gap(theme, 0.2F);
    tilt_part(theme, w);
    place_part(theme, units, w);
}

} // namespace

void worksheet_panel(const Theme& theme, const Area& area, const ExerciseModel& model, Worksheet& w, float scroll,
                     Requests& requests) {
    const Units units = model.settings.units;
    const Panel panel("worksheet", area);
    scroll_by(scroll);
    heading(theme, "Tilt worksheet");
    if (model.low && w.fix) { // the rest is below, out of sight
        summary_line(theme, units, *w.fix);
    }
    numbers_part(theme, model, units, w, requests);
    rule(theme);
    for (const std::string& each : w.trouble) {
        note_text(theme, field::in_units(each, units) + ".", theme.palette.warning);
    }
    if (w.fix) {
        result_part(theme, units, w);
    }
    const bool by_hand = w.numbers[Worksheet::spacing].typed && w.numbers[Worksheet::depth].typed;
    for (const std::string& remark : w.sheet.remarks) {
        if (!by_hand) { // they are about the notebook's
            note_text(theme, field::in_units(remark, units), theme.palette.warning);
        }
    }
    gap(theme, 0.2F);
    command_button(theme, model.context, "worksheet_take", requests);
    if (w.fix) {
        ranges_note(theme, units, *w.input);
    }
    note_text(
        theme,
        "The numbers are the notebook's; how sure they are, what is usual. Type over one to correct it; emptied, it is as "
        "before. Lengths are those on the level; a slope that rises evenly from A to B is counted in.",
        theme.palette.quiet);
    gap(theme, 0.2F);
    command_button(theme, model.context, "worksheet_numbers", requests);
    command_button(theme, model.context, "worksheet_fill", requests);
    command_button(theme, model.context, "worksheet", requests, "Fold worksheet");
    gap(theme, 0.5F);
}

void help_tilt_fix(const Theme& theme) {
    heading(theme, "The tilt worksheet");
    for (
        const std::string_view line :
        {"The plumb points of a level sonde lie 1.414 depths apart, and it lies midway. Tilted by t it has them L = d/2 "
         "sqrt(9T² + 8) apart, with T = tan t: so T = sqrt(4L²/d² - 8) / 3, and it lies L/2 - 3Td/4 from the stronger "
         "one, toward which its end is raised. Both follow from where a dipole's field stands plumb.",
         "Near level the spacing hardly changes with tilt: 2 % of it is 3° at 15 and 7° at 5. There the signals tell: "
         "the weak plumb point is 2 dB under the strong one at 5°, 6.5 at 15, 14 at 30. All that is given is weighed by "
         "its uncertainty. The depth is corrected for being read at the peak.",
         "On a slope each plumb point lies on its ray from the sonde, farther off uphill and nearer downhill, and is the "
         "weaker or stronger for it. An even rise from A to B is counted in so; a step between them is not.",
         "It is for ground away from lines. Numbers that do not fit each other are a sign of a line, a step or a second "
         "source, and no arithmetic mends that. The command tiltfix does the same for pencil and tape."}) {
        wrapped(line);
        gap(theme, 0.3F);
    }
}

} // namespace sondeyard::ui
