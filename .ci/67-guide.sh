#!/usr/bin/env bash
# The guide in a real terminal: a new rig, steps skipped and come back to, the result of a
# recorded job, and a record at the end.
set -euo pipefail
cd "$(dirname "$0")/.."

command -v tmux >/dev/null || bash .ci/install.sh tmux
. .ci/programs.sh
trundle=$bin/trundle
folder=$(mktemp -d)
export LC_ALL=C.UTF-8 TRUNDLE_DATA=$folder/data
term() { tmux -S "$folder/tmux" -f /dev/null "$@"; }
end() {
    term kill-server 2>/dev/null || true
    rm -rf "$folder"
}
trap end EXIT
see() {
    local last=$((SECONDS + 20))
    until term capture-pane -p -S - | grep -qE "$1"; do
        [ "$SECONDS" -le "$last" ] || { echo "guide: waited for: $1" >&2; term capture-pane -p >&2; exit 1; }
        sleep 0.05
    done
    sleep 0.1
}
type() { term send-keys "$@" Enter; }

# Without a terminal nothing is asked.
code=0
"$trundle" guide </dev/null >/dev/null 2>&1 || code=$?
[ "$code" -eq 2 ] || { echo "guide without a terminal: $code, not 2" >&2; exit 1; }

term new-session -d -x 80 -y 24 'bash --norc --noprofile'
type "$trundle guide --capture $PWD/logs/simulated-rtk.capture; echo code=\$?"
see '> 1\. Rig'
type ''
see 'Name of the rig'
type 'Big one, wide'
see 'Name of the tractor'
type 'Big one'
see 'Name of the set of tyres'
type Wide
see 'Their size'
type '650/65 R38'
see 'It is the active rig'
see '> 2\. Check'
type s
see '> 3\. Course'
type 5
see '> 5\. Result'
type ''
see 'Value found'
type 13400
see 'ENTER 12713'
see '> 6\. PTO'
type s
see '> 7\. Bus'
type s
see '> 8\. Sign-off'
type ''
for answer in 12713 'home field' 'dry stubble' '1.2 bar' '12 C' '' ''; do
    see 'Enter: skip'
    sleep 0.3
    type "$answer"
done
see 'Signed off as record'
see 'That is all'
see 'code=0'
term capture-pane -p
"$trundle" record list | grep -q '12713'
"$trundle" record list --json | grep -q '"rig":"Big one, wide"'
"$trundle" record verify --all
