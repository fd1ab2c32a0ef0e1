#!/usr/bin/env bash
# Slip of a simulated job as GeoJSON, GPX, CSV and page, read by Python's own readers, which have
# nothing to do with the program. The zero-slip value is the job's own, so slip must be about
# none.
#
# Alone: it marks at the pace of a simulated tractor, which waits for nobody.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
cargo build --release --workspace --locked
trundle=$build/release/trundle
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

"$trundle" demo --out "$folder/demo" >"$folder/said" || { echo "demo ended with $?" >&2; exit 1; }
capture=$(find "$folder/demo" -name '*.capture')
value=$(python3 -B .ci/slip_out.py value "$(find "$folder/demo" -name '*.json')")
# 1 says that something is flagged: the files are there all the same.
status=0
"$trundle" slip "$capture" --zero-slip-value "$value" --right 0 --ahead 0 \
    --geojson "$folder/out.geojson" --gpx "$folder/out.gpx" --csv "$folder/out.csv" \
    --report "$folder/out.html" --json >"$folder/out.json" || status=$?
[ "$status" -le 1 ] || { echo "trundle slip ended with $status" >&2; exit 1; }
python3 -B .ci/slip_out.py files "$folder/out"
python3 -B .ci/page.py "$folder/out.html"
