#!/usr/bin/env bash
# Without a display the window says so and how to go on; the commands still work.
program=$1
set -uo pipefail
unset DISPLAY WAYLAND_DISPLAY SDL_VIDEODRIVER
export XDG_CONFIG_HOME=$(mktemp -d) ASAN_OPTIONS=detect_leaks=0
export XDG_DATA_HOME=$XDG_CONFIG_HOME
trap 'rm -rf "$XDG_CONFIG_HOME"' EXIT
said=$("$program" 2>&1)
code=$?
[ "$code" = 2 ] || { echo "exit $code where 2 is due: $said"; exit 1; }
grep -qi display <<<"$said" || { echo "it does not speak of a display: $said"; exit 1; }
grep -q operate <<<"$said" || { echo "it does not say how to go on: $said"; exit 1; }
listed=$("$program" list) # whole: grep would close the pipe on a long one
grep -q level-lawn <<<"$listed" || { echo "a command does not work without a display"; exit 1; }
[ -z "$(ls -A "$XDG_CONFIG_HOME")" ] || { echo "it left files: $(ls "$XDG_CONFIG_HOME")"; exit 1; }
