#!/usr/bin/env bash
# How fast one hour is replayed, and in how much memory. Nothing is asserted about time: a busy
# machine is not a defect.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
mkdir -p "$build/ci"
cargo build --release --workspace --locked
"$build/release/replay-bench" 1 | tee "$build/ci/replay.txt"
for word in 'ratio' 'peak memory'; do
    grep -Eq "^$word +[0-9]+\.[0-9]" "$build/ci/replay.txt" ||
        { echo "no $word printed" >&2; exit 1; }
done
