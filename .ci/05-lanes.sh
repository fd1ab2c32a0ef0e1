#!/usr/bin/env bash
# The runner of these checks: what two steps say stands apart, a step that fails ends the other at
# once and is named, and so does one that never ends, with all that it started.
set -euo pipefail
cd "$(dirname "$0")/.."

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
fail() { printf 'lanes: %s\n' "$*" >&2; cat "$folder/said" >&2; exit 1; }

# The first ends only when the second has begun, unless it is to run alone.
cat >"$folder/first.sh" <<SH
echo "first: one"
until [ -e $folder/alone ] || [ -e $folder/second ]; do sleep 0.1; done
echo "first: two"
SH
cat >"$folder/second.sh" <<SH
echo "second: one"; touch $folder/second; echo "second: two"
SH
# It tidies up when it is ended, and what it waits for is a process of its own.
endless="sleep 36000.$$"
cat >"$folder/endless.sh" <<SH
trap 'touch $folder/tidied' EXIT
touch $folder/endless
$endless
SH
cat >"$folder/broken.sh" <<SH
until [ -e $folder/endless ]; do sleep 0.1; done
echo "broken: this went wrong"
exit 3
SH
# Begins steps as `.ci/run` does, and gives their code.
run() { # LIMIT COUNT STEP...
    local code=0
    rm -f "$folder"/{second,endless,tidied}
    (
        set -euo pipefail
        began=$SECONDS
        say() { printf '== %s\n' "$*"; }
        fail() { printf 'failed: %s\n' "$*"; exit 1; }
        . .ci/lanes.sh
        trap end_lanes EXIT
        STEP_LIMIT_S=$1
        lanes "$2" "$folder/apart" "${@:3}"
    ) >"$folder/said" 2>&1 || code=$?
    echo "$code"
}
says() { grep -q "$1" "$folder/said" || fail "not said: $1"; }
in_one_piece() {
    local step
    for step in first second; do
        [ "$(grep -A 1 "^$step: one" "$folder/said" | tail -n 1)" = "$step: two" ] ||
            fail "what the $step said is not in one piece"
    done
}
ended() {
    # On a busy machine the last of it may come a moment after the step was seen to end.
    for _ in $(seq 50); do [ -e "$folder/tidied" ] && break; sleep 0.1; done
    [ -e "$folder/tidied" ] || fail "a step that is ended cannot tidy up"
    ! pgrep -f "^$endless$" >/dev/null || fail "what a step started still runs"
}
steps=("$folder/first.sh" "$folder/second.sh")

[ "$(run 20 2 "${steps[@]}")" -eq 0 ] || fail "two steps did not run together"
in_one_piece
touch "$folder/alone"
[ "$(run 20 1 "${steps[@]}")" -eq 0 ] || fail "two steps did not run one by one"
in_one_piece
[ "$(grep -n 'first: two' "$folder/said" | cut -d : -f 1)" -lt \
    "$(grep -n 'second.sh begins' "$folder/said" | cut -d : -f 1)" ] ||
    fail "two steps ran in one lane"

before=$SECONDS
[ "$(run 60 2 "$folder/endless.sh" "$folder/broken.sh" "$folder/second.sh")" -eq 1 ] ||
    fail "a step that fails is not noticed"
[ "$((SECONDS - before))" -lt 50 ] || fail "a step that fails does not end the other"
says 'broken: this went wrong'
says 'failed: .*/broken.sh failed with code 3'
says 'ended: .*/endless.sh'
[ ! -e "$folder/second" ] || fail "a step was begun after one had failed"
ended
[ "$(run 3 1 "$folder/endless.sh" "$folder/second.sh")" -eq 1 ] ||
    fail "a step that never ends is not noticed"
says 'failed: .*/endless.sh did not end within 3 s'
[ ! -e "$folder/second" ] || fail "a step was begun after one had not ended"
ended
echo "lanes: apart, together, and ended when a step fails or never ends"
