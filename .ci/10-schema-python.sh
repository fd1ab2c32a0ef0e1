#!/usr/bin/env bash
# What every command says of every capture in logs/, a course and a plan, each held against its published schema
# by a validator that has nothing to do with the program: jsonschema for Python.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-schema
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check 'jsonschema==4.25.1'

shopt -s nullglob
captures=(logs/*.capture)
[ "${#captures[@]}" -gt 0 ] || { echo "logs/ holds no capture" >&2; exit 1; }
cargo build --release --workspace --locked
results=$build/ci/results
rm -rf "$results"
mkdir -p "$results"
for capture in "${captures[@]}"; do
    for command in work check "slip --zero-slip-value 12700" speeds pto mount bus proof; do
        out="$results/$(basename "$capture").${command%% *}.json"
        # 1 says that the result is refused or flagged: the object is there all the same.
        status=0
        # The command's own words are meant to be split.
        # shellcheck disable=SC2086
        "$build/release/trundle" $command "$capture" --json >"$out" 2>/dev/null || status=$?
        [ "$status" -le 1 ] || { echo "$capture: trundle $command: $status" >&2; exit 1; }
    done
done
"$build/release/trundle" work - --with-origin <"${captures[-1]}" >"$results/origin.json"
# No capture here is of a bench: that is said, in the same form.
"$build/release/trundle" check --bench "${captures[0]}" --json >"$results/bench.json" || [ $? -eq 1 ]
"$build/release/trundle" course --length "100 m" --json >"$results/course.json"
"$build/release/trundle" course plan --json >"$results/plan.json"
# Rigs and records: everything that answers with JSON.
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
export TRUNDLE_DATA=$folder/data
kept() { "$build/release/trundle" "$@"; }
kept tractor add "Big one" --serial 7 >/dev/null
kept tyres add Wide --inflation "17 psi" --wear "30 %" >/dev/null
kept rig add "Big one, wide" --tractor "Big one" --tyres Wide --antenna-right "-12 cm" >/dev/null
kept tape add Old >/dev/null
kept tape remove Old >/dev/null
capture=logs/simulated-rtk.capture
kept sign "$capture" --as-found 13400 --rate 200 --temperature "54 F" --json \
    >"$results/sign.json" 2>/dev/null
id=$(kept record list --json | sed 's/.*"id":"\([^"]*\)".*/\1/')
kept record amend "$id" --reason "soft tyres" --stated as_found --json \
    >"$results/amend.json" 2>/dev/null
for thing in tractor tyres tape person rig; do
    kept "$thing" list --json >"$results/$thing.json"
done
kept record list --json >"$results/records.json"
newer=$(sed 's/.*"records":\[{"id":"\([^"]*\)".*/\1/' "$results/records.json")
kept record show "$id" --json >"$results/record.json"
kept record verify --all --json >"$results/verify.json"
kept record compare "$id" "$newer" --json >"$results/compare.json"
# The rig does not say which speed the implement goes by: the sheet is incomplete, code 1.
kept sheet --json >"$results/sheet.json" || [ $? -eq 1 ]
kept bin list --json >"$results/bin.json"
kept backup "$folder/all.backup" --json >"$results/backup.json"
kept where --json >"$results/where.json"
for command in "doctor --no-ports" ports; do
    status=0
    # shellcheck disable=SC2086
    kept $command --json >"$results/${command%% *}.json" 2>/dev/null || status=$?
    [ "$status" -le 3 ] || { echo "trundle $command: $status" >&2; exit 1; }
done
"$venv/bin/python" .ci/schema.py host/schemas "$results"
