// The start page: two lists, the lessons and the exercises, as rows in course order. Trainer's and assessor's pages
// will come beside them.
#pragma once

#include "ui/window/panels.hpp"

#include <optional>

namespace sondeyard::ui {

struct CourseRow {
    std::string name; // bundled name
    std::string title;
    std::string story;                 // one line
    std::string news;                  // what is new in it
    std::optional<field::Brief> brief; // for the small plan; empty until it is made
    std::string trouble;               // why it cannot be opened
};

enum class StartList { lessons, exercises };

struct StartUi {
    StartList list = StartList::exercises;
    int selected = 0;
    bool bring_into_view = true; // after a key moved the selection
    bool newcomer = false;       // nothing was ever done here: a line says where to begin
    int begin = -1;              // set by the page when a row of the list was clicked
};

// The first exercise without a pass, or the last one when all are passed.
int next_to_do(const std::vector<CourseRow>& rows, const std::vector<Result>& results);

// The buttons that choose between the lists, and how the list is worked.
void start_tabs(const Theme& theme, const CommandContext& context, bool newcomer, Requests& requests);

void start_page(const Theme& theme, const Area& area, const std::vector<CourseRow>& rows,
                const std::vector<Result>& results, const CommandContext& context, std::string_view message,
                StartUi& ui, Requests& requests);

} // namespace sondeyard::ui
