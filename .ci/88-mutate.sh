#!/usr/bin/env bash
# Damaged inputs by the million for every reader, and a hundred million frames of which one in a
# hundred is damaged. A hundredth of it first with checks for sums that run over, which a release
# build does not have. The long run: cargo run --release -p trundle-sweeps --bin mutate -- frames 1000000000
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
mkdir -p "$build/ci"
# With a test named, the crates are those that the tests are built of, and not built once more.
cargo build --locked --workspace --bin mutate --test house
"$build/debug/mutate" all 100
cargo build --release --workspace --locked
"$build/release/mutate" | tee "$build/ci/mutate.txt"
