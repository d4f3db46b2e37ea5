// Who practises here.
#include "ui/window/drafting.hpp"
#include "ui/window/people_pages.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sondeyard::ui {

namespace {

void name_entry(const Theme& theme, PeopleUi& ui) {
    ImGui::AlignTextToFramePadding();
    ImGui::TextUnformatted("Name");
    ImGui::SameLine(0, 0.5F * theme.h);
    ImGui::SetNextItemWidth(18.0F * theme.h);
    if (std::exchange(ui.focus, false)) {
        ImGui::SetKeyboardFocusHere();
    }
    const bool entered =
        ImGui::InputText("##name", ui.typed.data(), ui.typed.size(), ImGuiInputTextFlags_EnterReturnsTrue);
    if (entered) {
        ui.name = std::string(ui.typed.data());
    } else if (ImGui::IsItemDeactivated()) { // Escape, or a click elsewhere
        ui.adding = false;
    }
    note_text(theme, "Any name, in any script. It is kept on this machine only. Enter adds it, Esc does not.",
              theme.palette.quiet);
}

} // namespace

void people_page(const Theme& theme, const Area& area, const People& people, const CommandContext& context,
                 PeopleUi& ui, Requests& requests) {
    const Panel panel("people", area);
    const float h = theme.h;
    for (const std::string_view message : {std::string_view(people.trouble()), std::string_view(ui.message)}) {
        if (!message.empty()) {
            note_text(theme, message, theme.palette.warning);
        }
    }
    wrapped("Whose practice is it? Results, progress and what comes next are kept for each person apart.");
    gap(theme, 0.3F);
    if (ui.adding) {
        name_entry(theme, ui);
    } else {
        command_button(theme, context, "add_person", requests);
    }
    gap(theme, 0.5F);
    if (people.nobody_named()) {
        note_text(theme, "Nobody has a name yet. The first name takes over what was practised before it.",
                  theme.palette.quiet);
    }
    const ImVec2 size(ImGui::GetContentRegionAvail().x, std::round(2.2F * h));
    for (std::size_t i = 0; i < people.all().size(); ++i) {
        const field::Person& person = people.all()[i];
        const ImVec2 at = ImGui::GetCursorScreenPos();
        ImGui::PushID(static_cast<int>(i));
        if (ImGui::InvisibleButton("##person", size)) {
            ui.chosen = static_cast<int>(i);
        }
        ImGui::PopID();
        ImDrawList& list = *ImGui::GetWindowDrawList();
        const bool selected = static_cast<int>(i) == ui.selected;
        const ImVec2 end(at.x + size.x, at.y + size.y);
        if (selected || ImGui::IsItemHovered()) {
            list.AddRectFilled(at, end, theme.palette.panel);
        }
        if (selected) {
            list.AddRectFilled(at, ImVec2(at.x + 0.3F * h, end.y), theme.palette.survey);
        }
        list.AddLine(ImVec2(at.x, end.y), end, theme.palette.grid);
        draw_text(list, theme.heading, ImVec2(at.x + h, at.y + 0.45F * h), theme.palette.ink, person.name);
        if (person.id == people.current()) {
            const std::string_view words = "practises now";
            draw_text(list, theme.note, ImVec2(end.x - text_size(theme.note, words).x - 0.75F * h, at.y + 0.6F * h),
                      theme.palette.quiet, words);
        }
    }
    gap(theme, 0.5F);
    note_text(theme, "Up and Down choose, Enter takes. A click takes too.", theme.palette.quiet);
}

} // namespace sondeyard::ui
