#!/usr/bin/env bash
# Ten thousand generated requests over all paths of the page, at the release build: nothing changes
# without every right. Prints the seed of a run; TRUNDLE_REQUESTS_SEED repeats it.
set -euo pipefail
cd "$(dirname "$0")/.."

. .ci/programs.sh
said=$(mktemp)
trap 'rm -f "$said"' EXIT
TRUNDLE_PROGRAM=$bin/trundle TRUNDLE_REQUESTS=10000 \
    cargo test --workspace --test whole --locked stations::asked:: -- --nocapture | tee "$said"
grep -q '^10000 in ' "$said"
