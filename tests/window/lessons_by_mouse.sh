#!/usr/bin/env bash
# Two lessons and their tests with the mouse alone: everything is reached by pointing and clicking.
. "$(dirname "$0")/common.sh"
. "$(dirname "$0")/common_lessons.sh"

click_on() { # what the trace calls it: "button finish", "row 3"
    local x y on
    wait_for in_sight "$1"
    read -r x y on <<<"$(last "$1 " | sed "s/^$1 //")"
    xdotool mousemove "$x" "$y" click 1
}
press() { click_on "button $1"; }
uncover() { # by the wheel
    wait_for in_sight "button pause"
    for _ in $(seq 40); do
        if in_sight "button $1"; then return; fi
        xdotool mousemove 120 400 click 5
        sleep 0.05
    done
}
hand_at() { hand_to "$@"; }
choose_lesson() {
    wait_for traced "page start"
    wait_for list_is_drawn
    if in_sight "button show_lessons"; then press show_lessons; fi
    wait_for in_sight "button show_exercises"
    # The list is rolled until the row is in sight.
    local button=5
    for _ in $(seq 60); do
        in_sight "row $1" && break
        (($(last_row) > $1)) && button=4 || button=5
        xdotool mousemove 683 500 click "$button"
        sleep 0.05
    done
    click_on "row $1"
}
list_is_drawn() { in_sight "button show_lessons" || in_sight "button show_exercises"; }
last_row() { tac "$trace" | awk '/^row / && $3 != "gone" {print $2; exit}'; }

server_start 1366x768
program_start --width 1366 --height 768 --night false
take_two_lessons mouse
