#!/usr/bin/env bash
# The time machine by mouse and by keys: a log made by a model operator, opened, scrubbed, jumped in, played, by night and larger.
. "$(dirname "$0")/common.sh"

server_start 1366x768
log=$work/operated.jsonl
"$program" operate level-lawn --operator level-line --seed 3 --log "$log" >/dev/null || true
program_start --replay "$log" --width 1366 --height 768 --scale 1
wait_for traced "debrief replay"
is_ready() { last replay | grep -q ' ready$'; }
wait_for is_ready
tick() { last replay | awk '{print $2}'; }
end=$(last replay | awk '{print $4}')
tick_is() { [ "$(tick)" = "$1" ]; }
tick_near() { local d=$(($(tick) - $1)); [ "${d#-}" -le $((end / 40)) ]; }
playing() { last replay | grep -q " playing "; }
still() { last replay | grep -q " still "; }
tick_is_end() { tick_is "$end"; }
on_graph() { last graph | awk -v s="$1" '{printf "%d %d\n", $2 + s * ($4 - $2), ($3 + $5) / 2}'; } # SHARE
picture replay-start

# Scrubbing with the mouse.
read -r x y <<<"$(on_graph 0.5)"
point "$x" "$y"
xdotool mousedown 1
wait_for tick_near $((end / 2))
read -r to y <<<"$(on_graph 0.9)"
xdotool mousemove_relative $((to - x)) 0
wait_for tick_near $((end * 9 / 10))
xdotool mouseup 1
sleep 0.3
picture replay-scrubbed

# Keys: ends, seconds, half minutes, from one thing done to the next.
key Home
wait_for tick_is 0
key Right
wait_for tick_is 60
key Up
wait_for tick_is 1860
key Down
wait_for tick_is 60
key Home
key bracketright
after_start() { [ "$(tick)" -gt 0 ]; }
wait_for after_start
first=$(tick)
key bracketright
later() { [ "$(tick)" -gt "$first" ]; }
wait_for later
key bracketleft
wait_for tick_is "$first"
key End
wait_for tick_is_end
key t
wait_for grep -q "truth shown" "$trace"
key c
wait_for grep -q "trail speed" "$trace"
sleep 0.3
picture replay-end-truth

# Played at eight times the speed it comes to the end by itself.
read -r x y <<<"$(on_graph 0.96)"
point "$x" "$y"
xdotool click 1
wait_for tick_near $((end * 96 / 100))
key e
key e
key e
key space
wait_for playing
wait_for tick_is_end
wait_for still

key F3 # night
key p
wait_for grep -q '^picture ' "$trace"
expect "a picture was written" test -s "$(last picture | cut -d' ' -f2-)"
key 1
wait_for traced "debrief result"
key 4
wait_for traced "debrief replay"
sleep 0.3
picture replay-night
program_stop

# In the smallest window, as large as it goes there.
program_start --replay "$log" --width 1024 --height 700 --scale 1.5
wait_for is_ready
key bracketright
key bracketright
key bracketright
sleep 0.3
picture replay-small-large
program_stop

# A log that was cut off is played up to there; what is no log is refused before any window is there.
head -c "$(($(stat -c %s "$log") / 2))" "$log" >"$work/cut.jsonl"
program_start --replay "$work/cut.jsonl" --width 1024 --height 700 --scale 1
wait_for is_ready
picture replay-cut
program_stop
code=0
"$program" --replay "$work/no-such.jsonl" 2>"$work/said" || code=$?
expect "exit 2 for a log that is not there" test "$code" = 2
expect "it names the file" grep -q no-such "$work/said"
code=0
"$program" --replay "$log" --seed 3 2>"$work/said" || code=$?
expect "exit 2 for a log with another seed" test "$code" = 2
expect "it says why" grep -q "brings its own yard" "$work/said"
