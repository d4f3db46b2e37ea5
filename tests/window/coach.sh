#!/usr/bin/env bash
# The peak of a tilted sonde taken for the sonde, one plumb point walked past, one reading with a leaning mast: the coach
# asks about it, says so, and leads to each moment; by keys and by mouse.
. "$(dirname "$0")/common.sh"

server_start 1366x768
yard steep-branch 3

log=$work/coach.jsonl
program_start --scenario steep-branch --seed 3 --log "$log" --width 1366 --height 768 --night false
key End
hand_to $(at -0.9) 0.3
key space
wait_for tip_at_height 0
hand_to $(at -0.45)
wait_for dip_over 80
sleep 1
key 1
wait_for traced "marks=1"
hand_to $(at 1.2)               # past the second plumb point, and back
hand_to $(at -0.24)
sleep 1
key 3
wait_for traced "marks=2"
xdotool keydown i               # the mast leans forward
wait_for test "$(last tip | awk '{print ($8 > 0)}')" = 1
sleep 1.6
xdotool keyup i
sleep 1
key r
wait_for traced "readings=1"
key 4
wait_for traced "marks=3"
key Return
wait_for traced "question finish"
key Return
wait_for traced "page debrief"
key 2
wait_for traced "coach question 1"
sleep 0.3
picture coach-question
key Down
key Down
key Return
wait_for grep -q '^coach answer 1' "$trace"
picture coach-answer
key Return
wait_for traced "coach question 2"
key k
wait_for grep -q '^coach list' "$trace"
count=$(last "coach list" | awk '{print $3}')
expect "several findings: $count" test "$count" -ge 3
key Down
wait_for traced "coach list $count chosen 2"
picture coach-list
point 900 130 # the first of the list
xdotool click 1
wait_for traced "coach list $count chosen 1"
key g                           # to its moment in the replay
wait_for traced "debrief replay"
ready() { last replay | grep -q ' ready$'; }
wait_for ready
moment=$(last replay | awk '{print $2}')
sleep 0.3
picture coach-moment
program_stop
"$program" score --json "$log" >"$work/score.json" || true
first=$(sed -n '/"findings"/,$p' "$work/score.json" | grep -m 1 '"tick"' | tr -dc '0-9')
expect "the first finding's moment, $first, not $moment" test "$moment" = "$first"
for finding in trusted_peak missed_plumb_point mast_leaning one_reading; do
    expect "score tells of $finding" grep -q "\"key\": \"$finding\"" "$work/score.json"
done
