// The start page: the exercises as rows, in course order. Trainer's and assessor's pages will come from the same list.
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

struct StartUi {
    int selected = 0;
    bool bring_into_view = true; // after a key moved the selection
    int begin = -1;              // set by the page when a row was clicked
};

// The first exercise without a pass, or the last one when all are passed.
int next_to_do(const std::vector<CourseRow>& rows, const std::vector<Result>& results);

void start_page(const Theme& theme, const Area& area, const std::vector<CourseRow>& rows,
                const std::vector<Result>& results, std::string_view message, StartUi& ui);

} // namespace sondeyard::ui
