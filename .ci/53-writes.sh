#!/usr/bin/env bash
# What the program writes in a home of its own is what host/handbook/what-it-writes.md lists, and it
# reaches for no network but the page's own address on this computer.
set -euo pipefail
cd "$(dirname "$0")/.."

. .ci/programs.sh
command -v strace >/dev/null || bash .ci/install.sh strace
python3 -B .ci/writes.py "$bin/trundle"
