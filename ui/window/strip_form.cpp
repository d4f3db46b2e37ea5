// The form of calls and dig box: its numbers, what the keyboard does while one of them is wanted, and the notes below.
#include "ui/window/strip_form.hpp"

#include "field/cautions.hpp"
#include "field/depth_call.hpp"
#include "ui/window/drafting.hpp"

#include <SDL_keycode.h>
#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace sondeyard::ui {

namespace {

constexpr int most_awaited_frames = 30;

// Items one after the other, on to the next line where the width ends.
class Flow {
public:
    Flow(const Theme& theme, DigForm& form) : theme_(&theme), form_(&form) {}

    // One number with its unit; true when a new one was entered.
    bool number(FormNumber which, std::string_view label, float& value, const char* format) {
        begin_number(which, label, 4.0F * theme_->h);
        ImGui::InputFloat("##number", &value, 0, 0, format, ImGuiInputTextFlags_AutoSelectAll);
        return end_number(which);
    }
    // One length in either system; what was entered, when it is one. Else the form's trouble says what is allowed.
    std::optional<double> length(FormNumber which, std::string_view label, DigForm::Text& text) {
        begin_number(which, label, (theme_->units == field::Units::feet ? 7.2F : 4.0F) * theme_->h);
        ImGui::InputText("##number", text.data(), text.size(), ImGuiInputTextFlags_AutoSelectAll);
        if (!end_number(which) || text[0] == '\0') {
            return std::nullopt;
        }
        const std::optional<double> read = field::parse_length(text.data(), theme_->units);
        form_->trouble = read ? std::string()
                              : fmt::format("\"{}\" is no length. Allowed: {}.", text.data(), field::lengths_allowed);
        return read;
    }
    void words(std::string_view text) {
        next(text_size(theme_->text, text).x);
        ImGui::AlignTextToFramePadding();
        ImGui::TextUnformatted(text.data(), text.data() + text.size());
    }
    void button(const CommandContext& context, std::string_view id, Requests& requests, std::string_view label = {}) {
        next(command_button_width(*theme_, id, label));
        command_button(*theme_, context, id, requests, label);
    }

private:
    void begin_number(FormNumber which, std::string_view label, float field_width) {
        next(text_size(theme_->text, label).x + field_width + 0.3F * theme_->h);
        ImGui::AlignTextToFramePadding();
        ImGui::TextUnformatted(label.data(), label.data() + label.size());
        ImGui::SameLine(0, 0.3F * theme_->h);
        ImGui::SetNextItemWidth(field_width);
        ImGui::PushID(static_cast<int>(which));
        if (form_->focus == which) {
            ImGui::SetKeyboardFocusHere();
            form_->focus = FormNumber::none;
        }
    }
    bool end_number(FormNumber which) {
        ImGui::PopID();
        if (ImGui::IsItemActive()) {
            form_->active = which;
        }
        return ImGui::IsItemDeactivatedAfterEdit();
    }
    void next(float width) {
        if (!std::exchange(first_, false)) {
            const float right = ImGui::GetWindowPos().x + ImGui::GetWindowContentRegionMax().x;
            ImGui::SameLine(0, 0.6F * theme_->h);
            if (ImGui::GetCursorScreenPos().x + width > right) {
                ImGui::NewLine();
            }
        }
    }
    const Theme* theme_;
    DigForm* form_;
    bool first_ = true;
};

// While a number is not being typed the form shows what is in the notebook.
void fill_form(const Theme& theme, DigForm& form, const field::Notebook& notebook) {
    const field::DigBox box = notebook.dig.value_or(field::DigBox{});
    const auto fill = [&theme](DigForm::Text& text, double length_m) {
        const std::string words =
            theme.units == field::Units::feet ? length_words(theme, length_m) : fmt::format("{:.2f}", length_m);
        text.fill('\0');
        std::ranges::copy_n(words.begin(), static_cast<std::ptrdiff_t>(std::min(words.size(), text.size() - 1)),
                            text.begin());
    };
    fill(form.length, box.length_m);
    fill(form.width, box.width_m);
    fill(form.depth, box.depth_m);
    form.depth_call.fill('\0'); // none called: not 0
    if (notebook.depth_call_m) {
        fill(form.depth_call, *notebook.depth_call_m);
    }
    form.turn_deg = static_cast<float>(box.heading_deg);
    form.raised_deg = static_cast<float>(notebook.raised_heading_deg);
    form.tilt_deg = static_cast<float>(notebook.tilt_angle_call_deg.value_or(0.0));
}

void dig_row(Flow& flow, const ExerciseModel& model, DigForm& form, Requests& requests) {
    if (!model.notebook.dig) {
        flow.words("No dig box yet.");
        flow.button(model.context, "dig_box", requests);
        return;
    }
    field::DigBox box = *model.notebook.dig;
    const auto length = [&](FormNumber which, std::string_view label, DigForm::Text& text, double& value_m) {
        if (const std::optional<double> entered_m = flow.length(which, label, text)) {
            value_m = *entered_m;
            requests.work.emplace_back(field::ProposeDig{box});
        }
    };
    const bool feet = model.settings.units == field::Units::feet;
    length(FormNumber::dig_length, feet ? "Box length" : "Box length m", form.length, box.length_m);
    length(FormNumber::dig_width, "width", form.width, box.width_m);
    length(FormNumber::dig_depth, "depth", form.depth, box.depth_m);
    if (flow.number(FormNumber::dig_turn, "turn °", form.turn_deg, "%.0f")) {
        box.heading_deg = static_cast<double>(form.turn_deg);
        requests.work.emplace_back(field::ProposeDig{box});
    }
    flow.button(model.context, "dig_method", requests,
                box.method == field::DigMethod::none ? std::string("Dig by: not said")
                                                     : fmt::format("Dig by {}", field::name_of(box.method)));
    flow.button(model.context, "dig_to_pipe", requests);
}

std::string tilt_words(const field::Notebook& notebook) {
    return notebook.tilt_call == field::TiltCall::none ? "Tilt: not called"
                                                       : fmt::format("Tilt: {}", field::name_of(notebook.tilt_call));
}

void calls_row(Flow& flow, const ExerciseModel& model, DigForm& form, Requests& requests) {
    const field::Notebook& notebook = model.notebook;
    const bool feet = model.settings.units == field::Units::feet;
    const std::optional<double> call_m =
        flow.length(FormNumber::depth_call, feet ? "Depth call" : "Depth call m", form.depth_call);
    if (call_m && *call_m > 0.0) {
        requests.work.emplace_back(field::CallDepth{*call_m});
    }
    if (model.context.reads_depth) {
        const field::DepthOffer offer = field::depth_offer(notebook);
        const std::string words = field::in_units(offer.words, model.settings.units);
        if (offer.depth_m) {
            flow.button(model.context, "call_depth", requests, words);
        } else {
            flow.words(words);
        }
    }
    flow.button(model.context, "call_tilt", requests, tilt_words(notebook));
    if (notebook.tilt_call != field::TiltCall::tilted) {
        return;
    }
    bool entered = flow.number(FormNumber::raised, "raised end °", form.raised_deg, "%.0f");
    entered |= flow.number(FormNumber::tilt, "by °", form.tilt_deg, "%.0f");
    if (entered) {
        const auto angle = static_cast<double>(form.tilt_deg);
        requests.work.emplace_back(field::CallTilt{notebook.tilt_call, static_cast<double>(form.raised_deg),
                                                   angle > 0.0 ? std::optional(angle) : std::nullopt});
    }
    flow.button(model.context, "raised_end", requests, "Where I face");
}

// Below the numbers: what is wrong with one, what the dig waits for and wants, how deep the pipe lies by the call.
void form_notes(const Theme& theme, const ExerciseModel& model, const DigForm& form) {
    const field::Notebook& notebook = model.notebook;
    if (!form.trouble.empty()) {
        note_text(theme, form.trouble, theme.palette.warning);
        return;
    }
    const field::Brief& brief = model.brief;
    if (notebook.dig) {
        const double deepest_m = field::deepest_side_m(brief.terrain, *notebook.dig);
        if (field::is_deep(deepest_m, brief.protection_depth_m)) {
            note_text(theme, in_units(theme, field::deep_hole_line(deepest_m, brief.protection_depth_m)),
                      theme.palette.warning);
        }
        if (const std::string waits = field::waiting_words(brief.sheet.ticket); !waits.empty()) {
            note_text(theme, waits, theme.palette.warning);
        }
    }
    if (notebook.depth_call_m) {
        note_text(theme,
                  fmt::format("Sonde at {} by your call; the pipe's top then lies at {}.",
                              length_words(theme, *notebook.depth_call_m),
                              length_words(theme, field::pipe_top_depth_m(*notebook.depth_call_m, brief.sheet))),
                  theme.palette.quiet);
    }
}

} // namespace

void form_rows(const Theme& theme, const Area& area, const ExerciseModel& model, DigForm& form, Requests& requests) {
    const Panel panel("form", area);
    if (!ImGui::GetIO().WantTextInput) {
        fill_form(theme, form, model.notebook);
    }
    form.active = FormNumber::none;
    Flow flow(theme, form);
    calls_row(flow, model, form, requests);
    if (!model.low) {
        flow = Flow(theme, form); // a row of its own; in a low window everything runs on
    }
    dig_row(flow, model, form, requests);
    form_notes(theme, model, form);
}

void open_at(DigForm& form, FormNumber number) {
    form.open = true;
    form.wished = number;
    form.awaited_frames = most_awaited_frames;
    form.typed_ahead.clear();
}

bool is_for_number(DigForm& form, const Chord& chord) {
    const bool function_key = chord.key >= SDLK_F1 && chord.key <= SDLK_F12;
    if (form.awaited_frames == 0 || chord.ctrl || function_key) {
        return false;
    }
    if (chord.key >= ' ' && chord.key <= '~') {
        form.typed_ahead.push_back(static_cast<char>(chord.key));
    } else if (form.wished != FormNumber::none && form.typed_ahead.empty()) { // Enter, Esc: left before it was there
        form.wished = FormNumber::none;
        form.awaited_frames = 0;
    }
    return true;
}

void bring_keyboard(DigForm& form, bool idle) {
    ImGuiIO& io = ImGui::GetIO();
    if (form.awaited_frames == 0) {
        return;
    }
    if (form.wished != FormNumber::none && idle) {
        form.focus = std::exchange(form.wished, FormNumber::none);
    }
    if (!io.WantTextInput) {
        io.ClearInputCharacters(); // of this frame: they are among the keys typed ahead
    }
    if (form.active != FormNumber::none) {
        io.AddInputCharactersUTF8(std::exchange(form.typed_ahead, {}).c_str());
    }
    form.awaited_frames = io.WantTextInput || !form.open ? 0 : form.awaited_frames - 1;
}

std::string typing_words(const DigForm& form) {
    switch (form.active) {
    case FormNumber::none:
        return {};
    case FormNumber::depth_call:
        return "The keys type the depth. Enter takes what stands there, Esc leaves it as it was.";
    default:
        return "The keys type this number. Enter takes what stands there, Esc leaves it as it was.";
    }
}

} // namespace sondeyard::ui
