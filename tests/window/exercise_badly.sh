#!/usr/bin/env bash
# The same badly, in the smallest window: nothing marked, finished at once, gone back, then a mark far off and no calls.
. "$(dirname "$0")/common.sh"

server_start 1024x700
log=$work/badly.jsonl
program_start --scenario level-lawn --seed 2 --log "$log" --width 1024 --height 700 --scale 1
picture small-start
key Return
wait_for traced "question finish"       # it asks once, listing what is missing
picture small-finish-question
key Escape
wait_for traced "question none"
key r                                   # a reading with the tip up does not count
wait_for traced "readings=1"
key 4
wait_for traced "marks=1"
key BackSpace
wait_for traced "marks=0"
key ctrl+z
wait_for traced "marks=1"
key F3                                  # night
key ctrl+plus
key ctrl+plus
sleep 0.5
picture small-night-larger
key F1
sleep 0.3
picture small-help
key F1
key Return
wait_for traced "question finish"
key Return
wait_for traced "page debrief"
sleep 0.3
picture debrief-badly
key 2                                   # the coach
wait_for traced "debrief coach"
wait_for traced "coach question 1"
key k # without the questions
wait_for grep -q '^coach list [1-9]' "$trace"
sleep 0.3
picture debrief-coach-badly
key 1
wait_for traced "debrief result"
expect "a failed exercise: $(last score)" awk '{exit !($3 == "not" && $2 < 50)}' <<<"$(last score)"
key Escape
wait_for traced "page start"
sleep 0.5
picture small-start-page
program_stop
"$program" replay "$log"

# By keyboard alone, killed in mid-exercise: at most the last second is lost, and what is there replays.
log=$work/killed.jsonl
program_start --scenario two-percent --seed 3 --log "$log" --width 1024 --height 700
began=$(last tip)
xdotool keydown Up
sleep 3
xdotool keyup Up
expect "the hand moved by keyboard" test "$(last tip)" != "$began"
key 3
wait_for traced "marks=1"
kill -KILL "$window"
wait "$window" 2>/dev/null || true
window=
code=0
"$program" replay --json "$log" >"$work/replay.json" || code=$?
expect "exit 1, since the log was cut off" test "$code" = 1
expect "what is there agrees" grep -q '"agrees": true' "$work/replay.json"
expect "it says that the end is missing" grep -q 'no end line' "$work/replay.json"
expect "the mark is in it" grep -q '"command":"mark"' "$log"
