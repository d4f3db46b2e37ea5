// The command line: reads the words, calls the command. Exit 0 done, 1 the answer is no, 2 bad usage or bad input.
#pragma once

namespace sondeyard::ui {

int run_command_line(int argc, const char* const* argv);

} // namespace sondeyard::ui
