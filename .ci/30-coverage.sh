#!/usr/bin/env bash
# Do the 95 % intervals cover? A short run of all twelve scenarios; the long one of 2000 jobs each is
# a command of its own: cargo run --release -p trundle-sweeps --bin coverage -- 2000
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
mkdir -p "$build/ci"
cargo build --release --workspace --locked
"$build/release/coverage" 150 | tee "$build/ci/coverage-150.txt"
python3 .ci/coverage.py "$build/ci/coverage-150.txt" sampled
# The long table as it was last run.
python3 .ci/coverage.py tests/data/coverage-2000.txt kept

