#include "ui/cli/command_line.hpp"

int main(int argc, char** argv) { return sondeyard::ui::run_command_line(argc, argv); }
