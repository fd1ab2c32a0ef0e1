#!/usr/bin/env bash
# The program on Windows: cross-built, run under Wine, and held against the Linux one byte by
# byte: results and pages of every capture, and a whole demonstration.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
top=$PWD
fail() { printf 'windows: %s\n' "$*" >&2; exit 1; }
. .ci/wine.sh

packages=()
command -v x86_64-w64-mingw32-gcc >/dev/null || packages+=(gcc-mingw-w64-x86-64)
wine >/dev/null || packages+=(wine64)
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh --no-install-recommends "${packages[@]}"
wine=$(wine) || fail "wine64 is missing and could not be installed"
# Before anything is exported for the other target, which would build all of it anew.
cargo build --release --workspace --locked
. .ci/cross.sh
cross_for x86_64-pc-windows-gnu
printf '%s, %s, options: %s\n' "$("${RUSTC:-rustc}" --version)" "$("$wine" --version)" "${cross_options[*]}"

cargo build --release --locked -p trundle --bin trundle "${cross_options[@]}"

folder=$(mktemp -d)
simulator=
finish() {
    [ -z "$simulator" ] || kill "$simulator" 2>/dev/null || true
    wine_end "$wine"
    rm -rf "$folder"
}
trap finish EXIT
export WINEDEBUG=-all WINEPREFIX=$folder/prefix
cp "$build/$cross_target/release/trundle.exe" logs/*.capture "$folder/"
cd "$folder"
random_bytes .
case $build in /*) native=$build/release ;; *) native=$top/$build/release ;; esac
simulate=$native/trundle-sim native=$native/trundle
there() { timeout 300 "$wine" trundle.exe "$@"; }
# Runs the same on both; the exit codes must be the same too.
both() {
    local here_code=0 there_code=0
    "$native" "$@" >here.out 2>here.err || here_code=$?
    there "$@" >there.out 2>there.err || there_code=$?
    [ "$here_code" = "$there_code" ] || fail "$*: exit $here_code here, $there_code on Windows"
}

[ "$(there --version)" = "$("$native" --version)" ] || fail "--version"
count=0
for capture in *.capture; do
    both work "$capture" --json
    cmp here.out there.out || fail "$capture: another result on Windows"
    cmp here.out "$top/tests/data/golden/${capture%.capture}.work.json"
    "$native" work "$capture" --json --report here.html >/dev/null || true
    there work "$capture" --json --report there.html >/dev/null || true
    cmp here.html there.html || fail "$capture: another page on Windows"
    count=$((count + 1))
done
[ "$count" -ge 4 ] || fail "only $count captures"
echo "$count captures: the same results and pages, to the byte"

# What is not there is said in the same way.
both work no-such.capture --json
cmp here.out there.out
both drive --board COM77 --no-receiver --length "100 m" --capture none.capture
grep -q 'COM77: there is no such port' there.err || fail "COM77: $(cat there.err)"

there demo --out demo >said || fail "demo ended with $?"
head -n 1 said
grep -q 'truly gives' said || fail "the demonstration does not tell the truth"
for file in demo.capture demo.json demo.html; do
    [ -s "demo/$file" ] || fail "demo/$file is missing or empty"
done
# Measured on Windows, recalculated on Linux.
"$native" work demo/demo.capture --json --report again.html >again.json
cmp demo/demo.json again.json
cmp demo/demo.html again.html
echo "a demonstration on Windows, recalculated here: the same bytes"
# Here without pseudo-terminals, as there. The instants at which bytes come are not the same on two
# runs, so the values agree as two measurements do: difference within the uncertainty of both.
"$native" demo --inside --out inside >/dev/null
python3 "$top/.ci/two_demos.py" demo/demo.json inside/demo.json

# Real serial ports, through Windows' own calls: COM12 and COM13 are a simulated tractor's.
mkdir links
"$simulate" --links links --keep-open >/dev/null &
simulator=$!
for _ in $(seq 100); do [ -e links/receiver ] && break; sleep 0.1; done
ln -sfn "$folder/links/board" prefix/dosdevices/com12
ln -sfn "$folder/links/receiver" prefix/dosdevices/com13
# Waits until so much is recorded that both lines are; a minute at most.
recorded() { # CAPTURE
    for _ in $(seq 600); do
        [ "$(stat -c %s "$1" 2>/dev/null || echo 0)" -lt 20000 ] || return 0
        sleep 0.1
    done
}
number=0
for board in COM12 com12: '\\.\COM12'; do
    number=$((number + 1))
    # No pass is marked, so the exit code is 1; what counts is that both lines are recorded.
    { recorded "port$number.capture"; echo q; } | there drive --board "$board" --receiver COM13 \
        --length "100 m" --capture "port$number.capture" >com.said 2>com.notes || [ $? -eq 1 ] ||
        fail "$board: $(cat com.notes)"
    [ "$(wc -c <"port$number.capture")" -gt 5000 ] || fail "$board: hardly anything was recorded"
    both work "port$number.capture" --json
    cmp here.out there.out
    echo "$board: $(wc -c <"port$number.capture") bytes recorded on Windows"
done
kill "$simulator"
