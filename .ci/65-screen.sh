#!/usr/bin/env bash
# The screen in a real terminal of 80 by 24: a simulated tractor is driven past its pegs, the
# passes are marked by key, and whatever ends the program leaves a capture that can be calculated and
# a terminal that can be typed in.
#
# Alone: it measures how soon values are called stale, and drives at four times the pace.
set -euo pipefail
cd "$(dirname "$0")/.."

command -v tmux >/dev/null || bash .ci/install.sh tmux
. .ci/programs.sh
pace=4
folder=$(mktemp -d)
export LC_ALL=C.UTF-8
term() { tmux -S "$folder/tmux" -f /dev/null "$@"; }
pane() { term capture-pane -p; }
keys() { term send-keys "$@"; }
sim=
end() {
    term kill-server 2>/dev/null || true
    [ -z "$sim" ] || kill "$sim" 2>/dev/null || true
    rm -rf "$folder"
}
trap end EXIT

fail() {
    echo "screen: $*" >&2
    pane >&2 || true
    tail -n 3 "$folder/tractor" >&2 || true
    exit 1
}
# Wait until a command succeeds: seconds, what is waited for, command.
until_true() {
    local seconds=$1 what=$2
    shift 2
    local last=$((SECONDS + seconds))
    until "$@"; do
        [ "$SECONDS" -le "$last" ] || fail "waited $seconds s for: $what"
        sleep 0.05
    done
}
shows() { pane | grep -qE "$1"; }
see() { until_true "${2:-20}" "$1" shows "$1"; }
stands() { grep -q "pass $1 of 2, .*: standing beside the $2 peg, mark now" "$folder/tractor"; }
program() { pgrep -f "^$bin/trundle drive .*$folder/$1.capture" | head -n 1; }
begin() {
    keys "$bin/trundle drive --board $folder/board --receiver $folder/receiver --pace $pace" \
        " --length '100 m' --capture $folder/$1.capture $2; echo code=\$?" Enter
    see 'any other key: to the job' 60
    keys Enter
    see '^NEXT'
    see 'Board +live' 30
    see 'Receiver +live' 30
}
given_back() { [ "$(term display -p '#{alternate_on} #{cursor_flag}')" = "0 1" ]; }
# The terminal is as a shell wants it, and the cursor is to be seen.
sane() {
    given_back || fail "screen not given back"
    keys "clear; stty -a | grep -c -E '(^| )(icanon|echo|isig|opost)( |\$)'; stty -a | tr ';' '\n'" Enter
    see '(^| )icanon( |$)' 5
    if shows '(^| )-(icanon|echo|isig|opost|icrnl)( |$)'; then fail "the terminal is still raw"; fi
    keys clear Enter
}

"$bin/trundle-sim" plain --links "$folder" --pace "$pace" --lead-in 25 --passes 2 --keep-open \
    --no-button --now >"$folder/tractor" &
sim=$!
until_true 10 "the tractor" test -e "$folder/receiver"
NO_COLOR=1 term new-session -d -x 80 -y 24 'bash --norc --noprofile'
begin job ''
[ "$(pane | head -n 1 | grep -c 'PRACTICE')" -eq 1 ] || fail "practice is not shown"
see 'space +mark start of pass 1'
term pipe-pane -O "cat >$folder/rung"
if grep -q $'\033\[[0-9;]*3[0-7]' <(term capture-pane -p -e); then fail "colour against NO_COLOR"; fi

for pass in 1 2; do
    until_true 120 "tractor at the start of pass $pass" stands "$pass" start
    # A held key is one mark.
    keys Space Space Space
    see "Pass $pass: start saved"
    see "space +mark end of pass $pass"
    see "Pass $pass +open [0-9]+:[0-9]+ +wheel [0-9]+" 30
    until_true 120 "tractor at the finish of pass $pass" stands "$pass" finish
    see "^NEXT +Pass $pass: stop beside the far peg"
    keys Space
    see "Pass $pass: end saved"
done
# Four marks rang; more than that only troubles may.
[ "$(tr -dc '\a' <"$folder/rung" | wc -c)" -ge 4 ] || fail "the bell did not ring for each mark"
see '^ +1 +(out|back) +(valid|flagged)' 60
see '^ +2 +(out|back) +(valid|flagged)' 60
pane
keys n 'dry stubble' Enter
see 'Note saved'
keys r
see 'any other key: back'
keys Escape
see '^NEXT'

# Counts and fixes that stop are called stale; the time a look takes is allowed for.
kill -STOP "$sim"
stopped=$(date +%s%N)
until_true 5 "stale values" shows 'Board +STALE'
stale_ms=$((($(date +%s%N) - stopped) / 1000000))
echo "stale after $stale_ms ms"
[ "$stale_ms" -le 2500 ] || fail "stale values were shown as live for $stale_ms ms"
kill -CONT "$sim"
see 'Board +live' 30

# A terminal that takes nothing holds up nothing but its picture.
server=$(term display -p '#{pid}')
before=$(stat -c %s "$folder/job.capture")
kill -STOP "$server"
sleep 4
after=$(stat -c %s "$folder/job.capture")
kill -CONT "$server"
[ "$after" -gt "$((before + 4000))" ] || fail "the capture did not grow while the terminal stood"
see 'Board +live' 30

# An order of the system: the job is closed, its result stands in an ordinary terminal.
kill -TERM "$(program job)"
see 'code=143' 60
sane
"$bin/trundle" work "$folder/job.capture" --json >"$folder/job.json" || [ $? -eq 1 ]
python3 - "$folder/job.json" <<'PY'
import json, sys
wheel = json.load(open(sys.argv[1]))["channels"]["wheel"]
numbers = [p["number"] for p in wheel["passes"]]
assert numbers == [1, 2], numbers
PY

begin closed --no-bell
term pipe-pane -O "cat >$folder/quiet"
keys Space
see 'Pass 1: start saved'
[ "$(tr -dc '\a' <"$folder/quiet" | wc -c)" -eq 0 ] || fail "the bell rang against --no-bell"
kill -HUP "$(program closed)"
see 'code=143' 60
sane

# Nobody can clean up after this one but the shell; the capture is sound all the same.
begin killed ''
sleep 2
kill -KILL "$(program killed)"
see 'code=137' 20
keys 'stty sane; tput rmcup; tput cnorm' Enter
until_true 10 "the terminal, given back" given_back
sane
"$bin/trundle" work "$folder/killed.capture" --json >"$folder/killed.json" || [ $? -eq 1 ]
grep -q '"CAPTURE_CUT"' "$folder/killed.json" || fail "the cut capture is not called so"
echo "screen: marks, stale values, a stalled terminal and three ends are as they should be"
