// The window's figures for `bench`. Each is taken in a program of its own that is started anew (this one, with a
// variable in its environment that says what to measure), so that neither memory nor graphics driver of the asking one
// counts, and a crash there is only a missing number.
#pragma once

namespace sondeyard::ui {

bool measuring_is_asked_for(); // this is such a program
int measure_here();            // does it, prints "name value" lines; exit code

} // namespace sondeyard::ui
