#!/usr/bin/env bash
# Do the 95 % intervals cover? A short run of all twelve scenarios now, and the long run that is
# kept in tests/data.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
mkdir -p "$build/ci"
cargo build --release --locked -p trundle-tests --bin coverage
"$build/release/coverage" 150 | tee "$build/ci/coverage-150.txt"
python3 .ci/coverage.py "$build/ci/coverage-150.txt" sampled
python3 .ci/coverage.py tests/data/coverage-2000.txt kept
