#!/usr/bin/env bash
# Every live command under a closed terminal, each signal and a stop of ten seconds.
#
# TRUNDLE_BIN: folder of the two programs, where they are built already.
set -euo pipefail
cd "$(dirname "$0")/.."

bin=${TRUNDLE_BIN:-}
if [ -z "$bin" ]; then
    cargo build --release --workspace --locked
    bin=${CARGO_TARGET_DIR:-target}/release
fi
every_signal() {
    python3 -B "$PWD/.ci/signals.py" "$bin" 10
}
every_signal
