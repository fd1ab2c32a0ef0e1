#!/usr/bin/env bash
# Values and intervals held against truths the program cannot know: jobs of an independent physics
# (no code of the program or of its simulator), then real recordings where they are at hand.
# HONEST_SEEDS is the number of jobs of each family.
set -euo pipefail
cd "$(dirname "$0")/.."

road=../shared/reference/road
[ -n "${TRUNDLE_ROAD:-}" ] || [ ! -d "$road" ] || export TRUNDLE_ROAD=$road
build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-honest
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check 'numpy==2.4.6' 'scipy==1.17.1'

cargo build --release --workspace --locked
# Both are run, so that one that fails does not hide the other.
status=0
"$venv/bin/python" -B .ci/road.py "$build/release/trundle" || status=1
"$venv/bin/python" -B .ci/honest.py "$build/release/trundle" --seeds "${HONEST_SEEDS:-60}" \
    --snapshot "$build/ci/honest.txt" --against tests/data/honest.txt || status=1
exit "$status"
