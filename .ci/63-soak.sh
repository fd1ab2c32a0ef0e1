#!/usr/bin/env bash
# A minute of the soak: do memory, handles and threads of live jobs stay flat? An hour of it:
# python3 -B .ci/soak.py target/release
#
# Alone: it measures memory.
set -euo pipefail
cd "$(dirname "$0")/.."

. .ci/programs.sh
python3 -B .ci/soak.py "$bin" 60
