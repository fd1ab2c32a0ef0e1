#!/usr/bin/env bash
# Slip, sensors, boards on the bench, mounting, proof drives, bus and speeds over many seeds: each
# prints one table and fails when a limit is missed.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
cargo build --release --workspace --locked
"$build/release/slip-sweep" 100
"$build/release/sensor-sweep" 50
"$build/release/bench-sweep" 10
"$build/release/mount-sweep" 50
"$build/release/proof-sweep" 20
"$build/release/bus-sweep" 20
# The tests that try a few seeds in a quick run, on all of theirs; the sweeps among them too. As parts
# of the workspace, so that nothing is built once more for the check of the page.
tests=(cargo test --release --workspace --locked)
TEST_SEEDS=all "${tests[@]}" --test core
TEST_SEEDS=all "${tests[@]}" --test program -- replay_shared::
"${tests[@]}" --test core -- --ignored --nocapture speeds::
