#!/usr/bin/env bash
# The live page in a real browser: a simulated tractor is driven past its pegs and marked by
# clicks on the page. Pictures are left in PAGE_OUT, where it is set.
#
# Alone: it measures how soon a press and an impulse are on the page.
set -euo pipefail
cd "$(dirname "$0")/.."

. .ci/browser.sh
. .ci/programs.sh
ci=$PWD/.ci
pace=4
folder=$(mktemp -d)
out=${PAGE_OUT:-$folder/pictures}
sim=
program=
end() {
    [ -z "$program" ] || kill "$program" 2>/dev/null || true
    [ -z "$sim" ] || kill "$sim" 2>/dev/null || true
    rm -rf "$folder"
}
trap end EXIT
fail() {
    echo "page: $*" >&2
    tail -n 20 "$folder/drive" >&2 || true
    tail -n 3 "$folder/tractor" >&2 || true
    exit 1
}

# Waits for the simulated tractor's ports.
await_tractor() {
    for _ in $(seq 100); do [ -e "$folder/receiver" ] && break; sleep 0.1; done
}
# Waits for the page and gives its link to mark.
mark_link() {
    for _ in $(seq 300); do grep -q 'may mark:' "$folder/drive" && break; sleep 0.1; done
    sed -n 's/^Whoever opens this link may mark: //p' "$folder/drive"
}
# Waits for the program, which has to end by itself, and ends the tractor.
ended() {
    local code=0
    wait "$program" || code=$?
    program=
    [ "$code" -le 1 ] || fail "$1 ended with $code"
    kill "$sim" && wait "$sim" || true
    sim=
}

browser_driver "$folder/tools"
"$bin/trundle-sim" plain --links "$folder" --pace "$pace" --lead-in 90 --passes 2 --keep-open \
    --no-button --now >"$folder/tractor" &
sim=$!
await_tractor
export TRUNDLE_DATA=$folder/data TRUNDLE_SETTINGS=$folder/none
"$bin/trundle" drive --board "$folder/board" --receiver "$folder/receiver" --pace "$pace" \
    --length '100 m' --capture "$folder/job.capture" --page >"$folder/drive" 2>&1 </dev/null &
program=$!
link=$(mark_link)
[ -n "$link" ] || fail "there is no page"
(cd "$folder/tools" && PROGRAM=$program timeout 900 node "$ci/live_page.mjs" "$link" "$folder/tractor" \
    "$out" "$sim") || fail "the job through the page"

ended "the program"
"$bin/trundle" work "$folder/job.capture" --json >"$folder/job.json" || [ $? -eq 1 ]
python3 - "$folder/job.json" <<'PY'
import json, sys
passes = json.load(open(sys.argv[1]))["channels"]["wheel"]["passes"]
assert [p["number"] for p in passes] == [1, 2], passes
PY
echo "page: a whole job by clicks, both passes in the capture"

"$bin/trundle-sim" wet-headland --links "$folder" --pace "$pace" --lead-in 60 --passes 2 \
    --keep-open --now >"$folder/tractor" &
sim=$!
rm -f "$folder/drive"
await_tractor
"$bin/trundle" slip --zero-slip-value 12700 --right 0.4 --ahead 1.5 --board "$folder/board" \
    --receiver "$folder/receiver" --pace "$pace" --capture "$folder/slip.capture" --page \
    >"$folder/drive" 2>&1 </dev/null &
program=$!
link=$(mark_link)
[ -n "$link" ] || fail "there is no page of slip"
(cd "$folder/tools" && timeout 600 node "$ci/slip_page.mjs" "$link" "$out") || fail "the page of slip"
ended "the slip log"

# As fast as life, since what is measured is how soon.
"$bin/trundle-sim" plain --links "$folder" --lead-in 15 --passes 1 --keep-open --no-button --now \
    >"$folder/tractor" &
sim=$!
rm -f "$folder/drive"
await_tractor
"$bin/trundle" drive --board "$folder/board" --receiver "$folder/receiver" --length '200 m' \
    --capture "$folder/pace.capture" --page >"$folder/drive" 2>&1 </dev/null &
program=$!
link=$(mark_link)
[ -n "$link" ] || fail "there is no page to time"
(cd "$folder/tools" && timeout 120 node "$ci/painted.mjs" "$link" "$folder/painted.json") ||
    fail "pictures were not timed"
ended "the timed drive"
"$bin/painted" "$folder/pace.capture" "$folder/painted.json"
