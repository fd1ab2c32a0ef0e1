#!/usr/bin/env bash
# The budget of every capture in logs/ that has a value, rebuilt by GTC, by uncertainties and by
# Monte Carlo in NumPy.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-budget
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check \
    'GTC==1.5.1' 'uncertainties==3.2.3' 'scipy==1.17.1' 'numpy==2.4.6'

shopt -s nullglob
captures=(logs/*.capture)
[ "${#captures[@]}" -gt 0 ] || { echo "logs/ holds no capture" >&2; exit 1; }
cargo build --release --workspace --locked
results=$build/ci/budgets
rm -rf "$results"
mkdir -p "$results"
for capture in "${captures[@]}"; do
    # 1 says that the result is refused or flagged: there may be a value anyway.
    status=0
    "$build/release/trundle" work "$capture" --json \
        >"$results/$(basename "$capture" .capture).json" || status=$?
    [ "$status" -le 1 ] || { echo "$capture: trundle work ended with $status" >&2; exit 1; }
done
"$venv/bin/python" .ci/budget.py "$build/release/trundle" "$results"
