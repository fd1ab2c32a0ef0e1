#!/usr/bin/env bash
# The runner of these checks: what two steps say stands apart, a step that fails ends the other at
# once and is named, and so does one that never ends, with all that it started.
set -euo pipefail
cd "$(dirname "$0")/.."

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
fail() { printf 'lanes: %s\n' "$*" >&2; cat "$folder/said" >&2; exit 1; }

cat >"$folder/quick.sh" <<'SH'
echo "quick: one"; sleep 0.3; echo "quick: two"
SH
cat >"$folder/steady.sh" <<'SH'
echo "steady: one"; sleep 1; echo "steady: two"
SH
cat >"$folder/broken.sh" <<'SH'
sleep 0.5; echo "broken: this went wrong"; exit 3
SH
# It tidies up when it is ended, and what it waits for is a process of its own.
cat >"$folder/endless.sh" <<SH
trap 'touch $folder/tidied' EXIT
sleep 3600.5
SH
# Begins steps as `.ci/run` does, and gives their code.
run() { # LIMIT COUNT STEP...
    local code=0
    rm -f "$folder/tidied"
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
gone() { ! pgrep -f '^sleep 3600.5$' >/dev/null || fail "what a step started still runs"; }
steps=("$folder/steady.sh" "$folder/quick.sh")

[ "$(run 60 2 "${steps[@]}")" -eq 0 ] || fail "two sound steps failed"
for step in steady quick; do
    [ "$(grep -A 1 "^$step: one" "$folder/said" | tail -n 1)" = "$step: two" ] ||
        fail "what $step said is not in one piece"
done
[ "$(grep -n 'quick: two' "$folder/said" | cut -d : -f 1)" -lt \
    "$(grep -n 'steady: two' "$folder/said" | cut -d : -f 1)" ] || fail "they did not run together"
[ "$(run 60 1 "${steps[@]}")" -eq 0 ] || fail "two sound steps one by one failed"
[ "$(grep -n 'steady: two' "$folder/said" | cut -d : -f 1)" -lt \
    "$(grep -n 'quick: one' "$folder/said" | cut -d : -f 1)" ] || fail "one lane ran two steps"

[ "$(run 60 2 "$folder/endless.sh" "$folder/broken.sh" "$folder/quick.sh")" -eq 1 ] ||
    fail "a step that fails is not noticed"
says 'broken: this went wrong'
says 'failed: .*/broken.sh failed with code 3'
says 'ended: .*/endless.sh'
! grep -q 'quick' "$folder/said" || fail "a step was begun after one had failed"
[ -e "$folder/tidied" ] || fail "what is ended cannot tidy up"
gone
[ "$(run 1 2 "$folder/endless.sh" "$folder/quick.sh")" -eq 1 ] ||
    fail "a step that never ends is not noticed"
says 'failed: .*/endless.sh did not end within 1 s'
[ -e "$folder/tidied" ] || fail "what takes too long cannot tidy up"
gone
echo "lanes: apart, together, and ended when a step fails or never ends"
