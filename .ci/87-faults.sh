#!/usr/bin/env bash
# Nothing is lost and nothing is silently wrong: the real program killed 200 times (1000 with
# `FAULT_KILLS=1000`), disks that are full for real, 1000 simulated days with faults, and
# 200 days without.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
mkdir -p "$build/ci"
cargo build --release --workspace --locked
"$build/release/kill-real" "${FAULT_KILLS:-200}" | tee "$build/ci/kill-real.txt"

trundle=$build/release/trundle
simulator=$build/release/trundle-sim
folder=$(mktemp -d)
simulating='' filling='' mounted=''
cleanup() {
    [ -z "$simulating" ] || kill "$simulating" 2>/dev/null || true
    [ -z "$filling" ] || exec 9>&- || true
    [ -z "$mounted" ] || umount "$mounted" || true
    rm -rf "$folder"
}
trap cleanup EXIT
fail() { printf 'full disk: %s\n' "$*" >&2; exit 1; }

mkdir "$folder/ports"
"$simulator" --links "$folder/ports" --pace 10 --lead-in 2 --keep-open >"$folder/simulator" 2>&1 &
simulating=$!
for _ in $(seq 100); do [ -e "$folder/ports/receiver" ] && break; sleep 0.1; done
drive=("$trundle" drive --length "100 m" --pace 10 --board "$folder/ports/board"
    --receiver "$folder/ports/receiver" --receiver-speed 115200)

# A job on too little room is not begun; what was there before stays as it is.
refused() { # FOLDER: where there is no room
    local code=0
    printf 'earlier data\n' >"$1/earlier"
    "${drive[@]}" --capture "$1/job.capture" </dev/null >"$folder/said" 2>&1 || code=$?
    [ "$code" -eq 6 ] || fail "code $code, not 6: $(cat "$folder/said")"
    grep -q 'no room for a job, so none was begun' "$folder/said" || fail "$(cat "$folder/said")"
    [ "$(cat "$1/earlier")" = 'earlier data' ] || fail 'earlier data was touched'
    [ "$(ls "$1")" = earlier ] || fail "left behind: $(ls "$1")"
}

# A limit on the size of files is met like a full disk, not with the program's death.
mkdir "$folder/limited"
(ulimit -f 1024; refused "$folder/limited")
echo 'file size limit of 1 MiB: refused before the job, earlier data intact'

# A disk that fills up in the middle of a job ends it with a message; the capture can be calculated.
fills_up() { # FOLDER: a small disk of its own
    local code=0
    mkfifo "$folder/typed"
    "${drive[@]}" --capture "$1/job.capture" <"$folder/typed" >"$folder/said" 2>&1 &
    local driving=$!
    exec 9>"$folder/typed"
    filling=yes
    for _ in $(seq 300); do grep -q 'Recording to' "$folder/said" && break; sleep 0.1; done
    printf 'n before the disk was full\n' >&9
    for _ in $(seq 100); do grep -q 'Note saved' "$folder/said" && break; sleep 0.1; done
    dd if=/dev/zero of="$1/filler" bs=4096 2>/dev/null || true
    wait "$driving" || code=$?
    exec 9>&-
    filling=''
    [ "$code" -eq 6 ] || fail "code $code, not 6: $(tail -n 5 "$folder/said")"
    grep -q 'could not be written' "$folder/said" || fail "$(tail -n 5 "$folder/said")"
    grep -q 'Note saved' "$folder/said" || fail 'the note was never acknowledged'
    code=0
    "$trundle" work "$1/job.capture" --json >"$folder/again.json" || code=$?
    [ "$code" -le 1 ] || fail "the capture cannot be calculated: code $code"
    grep -aq 'before the disk was full' "$1/job.capture" || fail 'the note is lost'
    [ "$(cat "$1/earlier")" = 'earlier data' ] || fail 'earlier data was touched'
}

# Hardly any file handles: it works, or says why not.
few_handles() {
    local code=0
    "${drive[@]}" --capture "$folder/few.capture" </dev/null >"$folder/said" 2>&1 || code=$?
    [ "$code" -le 6 ] || fail "few handles: code $code: $(cat "$folder/said")"
    ! grep -q panicked "$folder/said" || fail "$(cat "$folder/said")"
    echo "ulimit -n $(ulimit -n): code $code, $(wc -l <"$folder/said") lines said"
}
for handles in 6 8 12 16 20 24; do
    (ulimit -n "$handles"; few_handles)
    rm -f "$folder/few.capture"
done

# Stopped for two seconds in a job: it goes on, and closes its capture in order.
starved() {
    local code=0
    mkfifo "$folder/keys"
    "${drive[@]}" --capture "$folder/starved.capture" <"$folder/keys" >"$folder/said" 2>&1 &
    local driving=$!
    exec 9>"$folder/keys"
    for _ in $(seq 300); do grep -q 'Recording to' "$folder/said" && break; sleep 0.1; done
    kill -STOP "$driving"
    sleep 2
    kill -CONT "$driving"
    printf 'n after the stop\nq\n' >&9
    exec 9>&-
    wait "$driving" || code=$?
    [ "$code" -le 1 ] || fail "stopped: code $code: $(tail -n 5 "$folder/said")"
    grep -q 'Note saved' "$folder/said" || fail 'the note after the stop was not saved'
    code=0
    "$trundle" work "$folder/starved.capture" --json >"$folder/again.json" || code=$?
    [ "$code" -le 1 ] || fail "the capture cannot be calculated: code $code"
    ! grep -q CAPTURE_CUT "$folder/again.json" || fail 'the capture was not closed in order'
    echo 'stopped for 2 s: went on, capture closed in order'
}
starved

# Nobody reads any more what it says, and the pipe is full: the ports are read and the capture is
# written all the same, and it ends in order once it is heard again.
blocked() {
    local code=0 size=0 again=0
    mkfifo "$folder/slowly" "$folder/words"
    exec 8<>"$folder/words"
    cat <&8 >"$folder/said" 8>&- &
    local hearing=$!
    "${drive[@]}" --capture "$folder/blocked.capture" <"$folder/slowly" >"$folder/words" 2>&1 8>&- &
    local driving=$!
    exec 9>"$folder/slowly"
    for _ in $(seq 300); do grep -q 'Recording to' "$folder/said" && break; sleep 0.1; done
    kill "$hearing"
    wait "$hearing" || true
    dd if=/dev/zero of="$folder/words" bs=1 count=100000 oflag=nonblock 2>/dev/null || true
    printf 'n nobody reads this\n' >&9
    sleep 1
    size=$(stat -c %s "$folder/blocked.capture")
    sleep 2
    again=$(stat -c %s "$folder/blocked.capture")
    [ "$again" -gt "$size" ] || fail "blocked: $size bytes, and $again two seconds later"
    cat <&8 >>"$folder/said" 8>&- 9>&- &
    hearing=$!
    printf 'n heard again\nq\n' >&9
    exec 9>&-
    wait "$driving" || code=$?
    kill "$hearing" 2>/dev/null || true
    exec 8>&-
    [ "$code" -le 1 ] || fail "blocked: code $code: $(tail -n 5 "$folder/said")"
    for note in 'nobody reads this' 'heard again'; do
        grep -aq "$note" "$folder/blocked.capture" || fail "the note '$note' is lost"
    done
    code=0
    "$trundle" work "$folder/blocked.capture" --json >"$folder/again.json" || code=$?
    [ "$code" -le 1 ] || fail "the capture cannot be calculated: code $code"
    ! grep -Eq 'CAPTURE_CUT|FRAMES_LOST|LINK_GAP' "$folder/again.json" ||
        fail "bytes were lost: $(cat "$folder/again.json")"
    echo "nobody read its words: $((again - size)) bytes recorded meanwhile, ended in order"
}
blocked

# A container may not be allowed to mount; the limit above and the simulated disk remain.
mkdir "$folder/small" "$folder/middle"
if mount -t tmpfs -o size=1m none "$folder/small" 2>"$folder/why"; then
    mounted=$folder/small
    refused "$folder/small"
    umount "$mounted"
    mounted=''
    echo 'disk of 1 MiB: refused before the job, earlier data intact'
    mount -t tmpfs -o size=12m none "$folder/middle"
    mounted=$folder/middle
    printf 'earlier data\n' >"$mounted/earlier"
    fills_up "$mounted"
    umount "$mounted"
    mounted=''
    echo 'disk that fills up in a job: stopped with a message, note and earlier data intact'
else
    echo "no disk can be mounted here ($(cat "$folder/why"))"
fi

"$build/release/days" 1000 | tee "$build/ci/days.txt"
# Over a thousand clean passes: at most one in a thousand may be flagged.
"$build/release/days" clean 200 | tee "$build/ci/days-clean.txt"
