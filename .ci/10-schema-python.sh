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
    for command in work check "slip --zero-slip-figure 12700" speeds pto mount; do
        out="$results/$(basename "$capture").${command%% *}.json"
        # 1 says that the result is refused or flagged: the object is there all the same.
        status=0
        # The command's own words are meant to be split.
        # shellcheck disable=SC2086
        "$build/release/trundle" $command "$capture" --json >"$out" 2>/dev/null || status=$?
        [ "$status" -le 1 ] || { echo "$capture: trundle $command: $status" >&2; exit 1; }
    done
done
"$build/release/trundle" course --length "100 m" --json >"$results/course.json"
"$build/release/trundle" course plan --json >"$results/plan.json"
"$venv/bin/python" .ci/schema.py host/schemas "$results"
