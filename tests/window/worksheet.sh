#!/usr/bin/env bash
# The tilt worksheet: filled from marks and a reading, taken as calls; corrected by mouse and by keys, and then it says
# what the command tiltfix says to the same numbers.
. "$(dirname "$0")/common.sh"

server_start 1366x768
yard steep-branch 3
sheet() { last sheet | awk -v w="$1" '{for (i = 1; i < NF; ++i) if ($i == w) print $(i + 1)}'; } # WORD: the number after it
box() { last boxes | awk -v n="$1" '{print $(2 * n), $(2 * n + 1)}'; }                         # N from 1: where it is
near() { awk -v a="$1" -v b="$2" -v t="$3" 'BEGIN{d = a - b; exit !(d <= t && d >= -t)}'; }     # A B TOLERANCE
text_is() { [ "$(last texts | cut -d' ' -f2- | cut -d'|' -f"$1")" = "$2" ]; }                    # N TEXT
typed() { # N TEXT: into the field that has the keyboard
    xdotool type "$2"
    wait_for text_is "$1" "$2"
}
sheet_says() { [ "$(sheet "$1")" = "$2" ]; }
fixed() { last sheet | grep -q ' tilt '; }

log=$work/worksheet.jsonl
program_start --scenario steep-branch --seed 3 --log "$log" --width 1366 --height 768 --night false
key End
key F10
wait_for traced "sheet marks 0 0 no fix"
hand_to $(at -0.9) 0.3
key space
wait_for tip_at_height 0
hand_to $(at -0.45)
wait_for dip_over 84
key 1
wait_for traced "marks=1"
hand_to $(at -0.23) 0.04
xdotool keydown x
wait_for lean_under 1.5
xdotool keyup x
sleep 1                         # the receiver settles
key r
wait_for traced "readings=1"
hand_to $(at 1.17)
wait_for dip_over 84
key 1
wait_for traced "marks=2"
wait_for fixed
picture worksheet
expect "a tilt near $tilt: $(last sheet)" near "$(sheet tilt)" "$tilt" 6
expect "the usual uncertainty: $(last sheet)" near "$(sheet sure)" \
    "$(awk -v d="$(sheet depth)" 'BEGIN{m = 0.03 * d; print sqrt(2) * (m < 0.03 ? 0.03 : m)}')" 0.002
key F11
called() { grep -q '"command":"call depth"' "$log" && grep -q '"command":"call tilt","tilt":"tilted"' "$log"; }
wait_for called

# By mouse: how sure he is of the spacing, then of the depth.
low=$(sheet tilt)
before=$(last sheet)
type_at() { # N TEXT
    xdotool mousemove $(box "$1")
    sleep 0.3
    xdotool click 1
    sleep 0.5
    typed "$1" "$2"
    key Return
}
type_at 7 "30 cm"
wait_for sheet_says sure 0.300
picture worksheet-unsure
wider() { # the tilt's range than before
    awk -v a="$(sed 's/.* tilt //' <<<"$before")" -v b="$(last sheet | sed 's/.* tilt //')" \
        'BEGIN{split(a, x, " "); split(b, y, " "); exit !(y[3] - y[2] > x[3] - x[2])}'
}
expect "a wider range: $(last sheet)" wider
type_at 8 "nonsense"
sleep 0.3
expect "nonsense counts for nothing: $(last sheet)" sheet_says sure 0.300
key ctrl+F11                    # the notebook's and the usual again
wait_for traced "$before"

# By keys: every number, one after the other.
key ctrl+F10
sleep 0.5
n=0
for number in "2.35 m" "1.487 m" 50 58.78 "1.55 m" "0.1 m" "6 cm" "5 cm"; do
    n=$((n + 1))
    typed $n "$number"
    places=$(last boxes)
    key Tab
    taken() { [ "$(last boxes)" != "$places" ]; } # it says below that it was typed
    if ((n < 8)); then wait_for taken; fi
done
key Escape
wait_for sheet_says spacing 2.350
wait_for sheet_says rise 0.100
wait_for sheet_says sure 0.060
picture worksheet-typed
value() { grep "^$1 = " <<<"$scenario" | head -n 1 | sed "s/.* = //"; }
spacing=$(value antenna_spacing_m)
tip=$(value tip_to_antenna_m)
"$program" tiltfix --json --spacing 2.35 --depth 1.487 --signal-a 50 --signal-b 58.78 --level-from-a 1.55 --rise 0.1 \
    --spacing-error "6 cm" --depth-error "5 cm" ${spacing:+--antenna-spacing "$spacing"} \
    ${tip:+--antenna-above-tip "$tip"} >"$work/fix.json" || true
by_command() { awk -v w="\"$1\"" 'index($0, w) {f = 1} f && /"value"/ {gsub(/[^0-9.]/, ""); print; exit}' "$work/fix.json"; }
expect "the tilt of tiltfix, $(by_command tilt_deg): $(last sheet)" near "$(sheet tilt)" "$(by_command tilt_deg)" 0.01
expect "the place of tiltfix, $(by_command from_a_m): $(last sheet)" near "$(sheet from_a)" "$(by_command from_a_m)" 0.001
key F10
sleep 0.3
key ctrl+u                      # feet, by night, larger: nothing may be cut
key F3
key ctrl+plus
key F10
sleep 0.3
picture worksheet-feet-night
program_stop
echo "tilt $low for $tilt"
