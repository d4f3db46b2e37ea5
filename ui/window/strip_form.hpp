// What the strip shows in place of its lists while the form of calls and dig box is open. Private to strip.cpp; how the
// keyboard comes to the form's numbers is in panels.hpp.
#pragma once

#include "ui/window/panels.hpp"

namespace sondeyard::ui {

void form_rows(const Theme& theme, const Area& area, const ExerciseModel& model, DigForm& form, Requests& requests);

} // namespace sondeyard::ui
