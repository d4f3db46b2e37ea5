#!/usr/bin/env bash
# One whole exercise by mouse and keyboard, done well: the debrief says so, and the log replays to the same score.
. "$(dirname "$0")/common.sh"

server_start 1366x768
yard level-lawn 1
value() { grep "^$1 = " <<<"$scenario" | head -n 1 | sed 's/.* = //'; }

log=$work/well.jsonl
program_start --scenario level-lawn --seed 1 --log "$log" --width 1366 --height 768 --night false
traced "page exercise"
picture exercise-start
key o
key c
key End                         # the whole yard, so that the view stays still
hand_to $(at 1.2 0.2) 0.2       # approach with the receiver held out
key space
wait_for tip_at_height 0
hand_to $(at 0.7071 0)
wait_for dip_over 84            # the receiver settles
key 1
wait_for traced "marks=1"
hand_to $(at -0.7071 0)
wait_for dip_over 84
key 1
wait_for traced "marks=2"
hand_to $(at 0 0)
wait_for dip_under 9             # his lean makes a few degrees
key 2
wait_for traced "marks=3"
key 3
wait_for traced "marks=4"
picture exercise-marks
for way in "1.05 0" "0 1.05" "-1.05 0" "0 -1.05"; do hand_to $(at $way) 0.1; done
hand_to $(at 0 0)
xdotool keydown x
wait_for lean_under 1.5
xdotool keyup x
key r
wait_for traced "readings=1"
before=$(facing)
key h
wait_for facing_near "$(((before + 180) % 360))"
hand_to $(at 0 0) 0.05
key r
wait_for traced "readings=2"
key t
wait_for tip_at_height 0.5
sleep 1                         # four times the receiver's settling
key r
wait_for traced "readings=3"
picture exercise-readings
key space
key 4
wait_for traced "marks=5"
key 6
wait_for traced "typing yes"    # the reading's depth stands in the number
key Return
wait_for traced "typing no"
key 7
key 5
wait_for traced "dig=1"
key Escape                      # the form of numbers folds
key y
wait_for traced "typing yes"    # the depth of the box
key Return
wait_for traced "typing no"
key 9                           # by hand
sleep 0.3
picture exercise-calls
key Return
wait_for traced "question finish"
picture exercise-finish
key Return
wait_for traced "page debrief"
picture debrief-well
expect "a passed exercise, 90 points or more: $(last score)" awk '{exit !($2 >= 90 && $3 == "passed")}' <<<"$(last score)"
key p
wait_for grep -q '^picture /' "$trace"
key F3
sleep 0.3
picture debrief-night
key s                           # the true signal under the plan, the window still at work meanwhile
wait_for traced "map signal 1024"
key f                           # the field's lines in the section
sleep 0.3
picture debrief-map-night
key s
wait_for traced "map dip 1024"
picture debrief-dip-night
key s
wait_for traced "map off"
points=$(last score | cut -d' ' -f2)
program_stop

"$program" replay "$log"
expect "the log scores as the window did" grep -q "\"points\": $points," <("$program" score --json "$log")
echo "points $points"
