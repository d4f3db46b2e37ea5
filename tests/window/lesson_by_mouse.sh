#!/usr/bin/env bash
# A lesson in a real window: its steps are ticked by what is done, its test begins by itself in another yard, and the
# result leads on to the next lesson.
. "$(dirname "$0")/common.sh"

server_start 1366x768
yard() { # SEED: where its level sonde lies
    truth=$("$program" generate level-lawn --seed "$1" | awk '/^\[sonde\]/{s=1} /^\[/&&!/sonde/{s=0} s')
    read -r sx sy <<<"$(grep '^position_m' <<<"$truth" | tr -d '[],=a-z_')"
    depth=$(grep '^depth_m' <<<"$truth" | sed 's/.* = //')
    heading=$(grep '^heading_deg' <<<"$truth" | sed 's/.* = //')
}
at() { # FORWARD, in depths, from the sonde along its heading
    awk -v x="$sx" -v y="$sy" -v d="$depth" -v h="$heading" -v f="$1" \
        'BEGIN{a = h * atan2(0, -1) / 180; printf "%.3f %.3f\n", x + d * f * sin(a), y + d * f * cos(a)}'
}
work_it() {
    key End
    hand_to $(at 0) 0.3
    key space
    wait_for tip_at_height 0
    hand_to $(at 0.72)
    wait_for dip_over 84
    sleep 0.8 # a step wants half a second of it
    key 1
    wait_for traced "marks=1"
    hand_to $(at -0.72)
    wait_for dip_over 84
    key 1
    wait_for traced "marks=2"
    hand_to $(at 0)
    wait_for dip_under 7
    sleep 0.6
    key 2
    wait_for traced "marks=3"
}

program_start --lesson the-field --width 1366 --height 768 --night false
traced "lesson the-field guided step 0 seed 3"
picture lesson-begin
yard 3
work_it
picture lesson-steps-done
wait_for traced "lesson the-field test step 7 seed 11"
picture lesson-test
yard 11
work_it
key Return
wait_for traced "question finish"
key Return
wait_for traced "page lesson_result"
expect "a passed lesson" grep -q '^lesson result passed' "$trace"
sleep 0.3
picture lesson-result
key F3
sleep 0.3
picture lesson-result-night
key Return
wait_for traced "lesson sweeping guided step 0 seed 4"
key Escape
wait_for traced "page start"
sleep 0.3
picture lesson-list
program_stop
expect "the result is kept" grep -q 'lesson:the-field' "$XDG_DATA_HOME/sondeyard/progress.db"
