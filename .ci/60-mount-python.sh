#!/usr/bin/env bash
# An antenna on a circle, placed on the ellipsoid by geographiclib for Python, taken in as a plain
# recording and calculated by the program: does it find the lever arm again?
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-mount
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check 'geographiclib==2.1' 'jsonschema==4.25.1'

cargo build --release --workspace --locked
results=$build/ci/mount
rm -rf "$results"
mkdir -p "$results"
"$venv/bin/python" .ci/circle.py "$build/release/trundle" "$results"
"$venv/bin/python" .ci/schema.py host/schemas "$results"
