#!/usr/bin/env bash
# The bus. Other readers beside ours: python-can's adapter bus and its recordings, cantools with a
# description of the messages written from the standard's table, can-j1939's identifiers.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-bus
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check \
    'python-can==4.6.1' 'pyserial==3.5' 'cantools==41.3.1' 'can-j1939==2.0.12'

. .ci/programs.sh
"$venv/bin/python" -B .ci/bus.py "$bin/bus-frames"
