#!/usr/bin/env bash
# The result of every capture in logs/, a course and a plan, each held against its published schema
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
    out="$results/$(basename "$capture").json"
    # 1 says that the result is refused or flagged: the object is there all the same.
    status=0
    "$build/release/trundle" work "$capture" --json >"$out" || status=$?
    [ "$status" -le 1 ] || { echo "$capture: trundle work ended with $status" >&2; exit 1; }
done
"$build/release/trundle" course --length "100 m" --json >"$results/course.json"
"$build/release/trundle" course plan --json >"$results/plan.json"
"$venv/bin/python" .ci/schema.py host/schemas "$results"
