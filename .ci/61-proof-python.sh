#!/usr/bin/env bash
# Proof drives by a few formulas, taken in as plain recordings and judged by the program: is what
# is in force found, and are value, fit, interval and cost those of an independent computation?
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-proof
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check 'geographiclib==2.1' 'numpy==2.4.6' \
    'jsonschema==4.25.1'

cargo build --release --workspace --locked
results=$build/ci/proof
rm -rf "$results"
mkdir -p "$results"
"$venv/bin/python" .ci/proof.py "$build/release/trundle" "$results"
"$venv/bin/python" .ci/schema.py host/schemas "$results"
