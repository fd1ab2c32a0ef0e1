#!/usr/bin/env bash
# What a full bus costs a live job, in memory and processor.
#
# Alone: it measures memory and time of the processor.
#
# TRUNDLE_BIN: folder of the programs, where they are built already.
set -euo pipefail
cd "$(dirname "$0")/.."

bin=${TRUNDLE_BIN:-}
if [ -z "$bin" ]; then
    cargo build --release --workspace --locked
    bin=${CARGO_TARGET_DIR:-target}/release
fi
python3 -B .ci/bus_load.py "$bin" 60
