#!/usr/bin/env bash
# A minute of the soak: do memory, handles and threads of live jobs stay flat? An hour of it:
# python3 -B .ci/soak.py target/release
#
# Alone: it measures memory.
#
# TRUNDLE_BIN: folder of the two programs, where they are built already.
set -euo pipefail
cd "$(dirname "$0")/.."

bin=${TRUNDLE_BIN:-}
if [ -z "$bin" ]; then
    cargo build --release --workspace --locked
    bin=${CARGO_TARGET_DIR:-target}/release
fi
python3 -B .ci/soak.py "$bin" 60
