// The pages about people: who practises here, and how one of them gets on. Both only look; what is asked for goes to
// Requests (commands of the table) and to their state, which the app takes up in the next frame.
#pragma once

#include "field/progress_review.hpp"
#include "ui/window/panels.hpp"
#include "ui/window/people.hpp"

#include <array>
#include <optional>

namespace sondeyard::ui {

struct PeopleUi {
    int selected = 0;
    int chosen = -1;     // set when a row was clicked or Enter was pressed
    bool adding = false; // a name is being typed
    bool focus = false;  // put the keyboard into the name at the next frame
    std::array<char, 512> typed{};
    std::optional<std::string> name; // entered
    std::string message;
};
void people_page(const Theme& theme, const Area& area, const People& people, const CommandContext& context,
                 PeopleUi& ui, Requests& requests);

// What the page says, worked out when the attempts change and not in every frame.
struct ProgressFacts {
    std::string person;
    std::size_t attempts = 0;
    field::ErrorTrend trend;
    std::vector<std::string> weak;         // sentences
    std::vector<field::Practice> practise; // in the order of practise_next
    std::vector<std::string> titles;       // of the exercises in `practise`
    int streak = 0;                        // days; said from 2 on
    struct Row {                           // newest first
        std::string date, title, result, errors;
        bool passed = false;
        bool has_log = false;
    };
    std::vector<Row> rows;
};

struct ProgressUi {
    int selected = 0; // row
    bool bring_into_view = false;
    int open = -1;  // row whose log is asked for
    int begin = -1; // index into ProgressFacts::practise
    bool delete_asked = false;
    bool logs_too = false;
    std::string message;
};
void progress_page(const Theme& theme, const Area& area, const ProgressFacts& facts, const CommandContext& context,
                   float scroll, ProgressUi& ui, Requests& requests);

} // namespace sondeyard::ui
