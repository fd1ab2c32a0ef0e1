#!/usr/bin/env bash
# What a full bus costs a live job, in memory and processor.
#
# Alone: it measures memory and time of the processor.
set -euo pipefail
cd "$(dirname "$0")/.."

. .ci/programs.sh
python3 -B .ci/bus_load.py "$bin" 60
