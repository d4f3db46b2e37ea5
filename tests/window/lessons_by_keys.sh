#!/usr/bin/env bash
# Two lessons and their tests by the keyboard alone: the pointer stays where it was, in a corner of the screen.
. "$(dirname "$0")/common.sh"
. "$(dirname "$0")/common_lessons.sh"

declare -A keys=([toggle_height]=space [mark_plumb]=1 [mark_level]=2 [mark_locate]=4 [finish]=Return [confirm_finish]=Return
    [start_page]=Escape [sheet]=F2 [truck_check]=c [frequency_next]=f [next_lesson]=Return [show_lessons]=Left [row_down]=Down
    [row_up]=Up [open_row]=Return)
uncover() { :; } # its key does without
press() { key "${keys[$1]}"; }

# Along each axis for somewhat less than the way takes at walking speed, until the tip is there: the last part slowly.
hand_at() { # X Y [TOLERANCE]
    local east west off
    for _ in $(seq 60); do
        if tip_near "$1" "$2" "${3:-0.06}"; then return 0; fi
        read -r dx dy <<<"$(last tip | awk -v x="$1" -v y="$2" '{print x - $2, y - $3}')"
        walk "$dx" Left Right
        walk "$dy" Down Up
        still
    done
    echo "the tip did not come to $1 $2: $(last tip)"
    exit 1
}
walk() { # METRES KEY_BACK KEY_ON
    local way=$3 slow= time
    case $1 in -*) way=$2 ;; esac
    read -r time slow <<<"$(awk -v d="$1" 'BEGIN{d = d < 0 ? -d : d; fine = d < 0.3
        print d < 0.03 ? 0 : fine ? d / 0.15 * 0.9 : d / 1.5 * 0.95, fine ? "shift" : ""}')"
    [ "$time" = 0 ] && return
    [ -z "$slow" ] || xdotool keydown shift
    xdotool keydown "$way"
    sleep "$time"
    xdotool keyup "$way"
    [ -z "$slow" ] || xdotool keyup shift
}
still() { # the tip rests: the trace says its place five times a second
    local before=
    while [ "$before" != "$(last tip | cut -d' ' -f2,3)" ]; do
        before=$(last tip | cut -d' ' -f2,3)
        sleep 0.25
    done
}
choose_lesson() {
    wait_for traced "page start"
    [ "$(last list | cut -d' ' -f2)" = lessons ] || press show_lessons
    wait_for list_shows lessons
    local before
    while [ "$(last list)" != "list lessons chosen $1" ]; do
        before=$(last list)
        press "$(last list | awk -v n="$1" '{print ($4 > n ? "row_up" : "row_down")}')"
        wait_for list_changed "$before"
    done
    press open_row
}
list_shows() { [ "$(last list | cut -d' ' -f2)" = "$1" ]; }
list_changed() { [ "$(last list)" != "$1" ]; }

server_start 1366x768
program_start --width 1366 --height 768 --night false
xdotool mousemove 1365 767
take_two_lessons keys
