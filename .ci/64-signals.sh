#!/usr/bin/env bash
# Every live command under a closed terminal, each signal and a stop of ten seconds.
set -euo pipefail
cd "$(dirname "$0")/.."

. .ci/programs.sh
every_signal() {
    python3 -B "$PWD/.ci/signals.py" "$bin" 10
}
every_signal
