# What every window test shares: a private X server, the program with --trace, and waiting for effects, never for a time.
# Source it with the program's path in $1. Pictures go to $PICTURES (the build folder).
set -euo pipefail

program=$1
for tool in Xvfb xdotool import; do
    command -v "$tool" >/dev/null || { echo "this test needs $tool, which is missing (Debian: xvfb xdotool imagemagick)"; exit 1; }
done
PICTURES=${PICTURES:-$(dirname "$program")/../pictures}
mkdir -p "$PICTURES"
work=$(mktemp -d)
export XDG_CONFIG_HOME=$work/config XDG_DATA_HOME=$work/data
export ALSOFT_DRIVERS=${ALSOFT_DRIVERS:-null} ASAN_OPTIONS=detect_leaks=0:${ASAN_OPTIONS:-}
unset XAUTHORITY WAYLAND_DISPLAY
window=
server=
trace=$work/trace
finish() {
    local code=$?
    if ((code != 0)); then
        echo "---- failed; the last lines of the trace:"
        tail -n 15 "$trace" 2>/dev/null || true
        cat "$work/errors" 2>/dev/null || true
        [ -z "${DISPLAY:-}" ] || import -window root "$PICTURES/$(basename "$0" .sh)-failed.png" 2>/dev/null || true
    fi
    kill $window $server 2>/dev/null || true
    wait 2>/dev/null || true
    rm -rf "$work"
}
trap finish EXIT

# wait_for COMMAND...: until it succeeds; 60 s at most, since sanitizers and loaded machines are slow.
wait_for() {
    for _ in $(seq 1200); do
        if "$@"; then return 0; fi
        sleep 0.05
    done
    echo "timed out: $*"
    exit 1
}

server_start() { # WIDTHxHEIGHT
    Xvfb -displayfd 3 -screen 0 "$1x24" -nolisten tcp 3>"$work/display" 2>"$work/server.log" &
    server=$!
    wait_for test -s "$work/display"
    DISPLAY=:$(cat "$work/display")
    export DISPLAY
}

program_start() { # ARGS...
    : >"$trace"
    "$program" --trace "$@" >"$trace" 2>"$work/errors" &
    window=$!
    wait_for grep -q '^ready' "$trace"
}

program_stop() {
    kill -TERM "$window"
    local code=0
    wait "$window" || code=$?
    window=
    if ((code != 0)); then
        cat "$work/errors"
        echo "the program ended with $code"
        exit 1
    fi
}

last() { grep "^$1" "$trace" | tail -n 1; }   # the last trace line that begins so
traced() { [ "$(last "${1%%[ =]*}")" = "$1" ]; } # is this what holds now?
in_sight() { # "button finish", "row 3": it can be clicked now, and does something
    case $(last "$1 ") in "" | *gone | *off) return 1 ;; esac
}
picture() { import -window root "$PICTURES/$1.png"; }
key() { xdotool key "$1"; }
# The last pixel as a movement of the mouse: a mere setting of the pointer need not reach the program before a press.
point() { xdotool mousemove $(($1 - 1)) "$2" mousemove_relative 1 0; } # X Y

# Where a place of the yard lies on the screen now.
on_screen() { # X Y
    last view | awk -v x="$1" -v y="$2" '{printf "%d %d\n", $5 + $7 / 2 + (x - $2) * $4 + 0.5, $6 + $8 / 2 - (y - $3) * $4 + 0.5}'
}

tip_near() { # X Y TOLERANCE
    last tip | awk -v x="$1" -v y="$2" -v t="$3" '{d = sqrt(($2 - x)^2 + ($3 - y)^2); exit !(d <= t)}'
}

yard() { # SCENARIO SEED: how it is built, and of its sonde where and how it lies and what it sends
    local truth
    scenario=$("$program" generate "$1" --seed "$2")
    truth=$(awk '/^\[/{s = $0 == "[sonde]"} s' <<<"$scenario")
    read -r sx sy <<<"$(grep '^position_m' <<<"$truth" | tr -d '[],=a-z_')"
    depth=$(grep '^depth_m' <<<"$truth" | sed 's/.* = //')
    heading=$(grep '^heading_deg' <<<"$truth" | sed 's/.* = //')
    tilt=$(grep '^tilt_deg' <<<"$truth" | sed 's/.* = //')
    sends=$(grep '^frequency_hz' <<<"$truth" | sed 's/.* = //')
}
at() { # FORWARD [RIGHT], in depths, from the sonde along its heading, which is towards its lowered end
    awk -v x="$sx" -v y="$sy" -v d="$depth" -v h="$heading" -v f="$1" -v r="${2:-0}" \
        'BEGIN{a = h * atan2(0, -1) / 180; printf "%.3f %.3f\n", x + d * (f * sin(a) + r * cos(a)), y + d * (f * cos(a) - r * sin(a))}'
}

# Points at a place of the yard until the tip is there; the view may move meanwhile.
hand_to() { # X Y [TOLERANCE]
    local x=$1 y=$2 tolerance=${3:-0.06}
    for _ in $(seq 600); do
        read -r px py <<<"$(on_screen "$x" "$y")"
        xdotool mousemove "$px" "$py"
        if tip_near "$x" "$y" "$tolerance"; then return 0; fi
        sleep 0.1
    done
    echo "the tip did not come to $x $y: $(last tip)"
    exit 1
}

tip_at_height() { last tip | awk -v h="$1" '{d = $4 - h; exit !(d < 0.03 && d > -0.03)}'; }
lean_under() { last tip | awk -v l="$1" '{exit !($8 < l)}'; }
dip() { last tip | awk '{d = $12 + 0; print d < 0 ? -d : d}'; }
dip_over() { [ "$(dip)" -ge "$1" ]; }
dip_under() { [ "$(dip)" -le "$1" ]; }
facing_near() { last tip | awk -v f="$1" '{d = ($6 - f + 540) % 360 - 180; exit !(d < 6 && d > -6)}'; }
facing() { last tip | awk '{print $6}'; }
expect() { # TEXT COMMAND...
    local what=$1
    shift
    "$@" || { echo "expected: $what"; exit 1; }
}
