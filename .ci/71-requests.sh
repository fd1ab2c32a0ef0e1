#!/usr/bin/env bash
# Ten thousand generated requests over all paths of the page, at the release build: nothing changes
# without every right. Prints the seed of a run; TRUNDLE_REQUESTS_SEED repeats it.
set -euo pipefail
cd "$(dirname "$0")/.."

cargo build --release --workspace --locked
build=${CARGO_TARGET_DIR:-target}
TRUNDLE_PROGRAM=$(cd "$build" && pwd)/release/trundle TRUNDLE_REQUESTS=10000 \
    cargo test --workspace --test whole --locked stations::asked:: -- --nocapture |
    tee "$build/ci/requests.txt"
grep -q '^10000 in ' "$build/ci/requests.txt"
