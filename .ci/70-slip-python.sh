#!/usr/bin/env bash
# Slip of a capture as GeoJSON, GPX, CSV and page, read by Python's own readers, which have nothing
# to do with the program. The figure without slip is the capture's own, so slip must be about none.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
cargo build --release --workspace --locked
trundle=$build/release/trundle
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

read_back=0
for capture in logs/simulated-*.capture; do
    [ -e "$capture" ] || { echo "logs/ holds no simulated capture" >&2; exit 1; }
    out=$folder/$(basename "$capture" .capture)
    # 1 says that the result is flagged or refused: the object is there all the same.
    status=0
    "$trundle" work "$capture" --json >"$out.work.json" || status=$?
    [ "$status" -le 1 ] || { echo "$capture: trundle work ended with $status" >&2; exit 1; }
    figure=$(python3 .ci/slip_out.py figure "$out.work.json")
    status=0
    "$trundle" slip "$capture" --zero-slip-figure "$figure" --right 0 --ahead 0 \
        --geojson "$out.geojson" --gpx "$out.gpx" --csv "$out.csv" --report "$out.html" --json \
        >"$out.json" || status=$?
    [ "$status" -le 1 ] || { echo "$capture: trundle slip ended with $status" >&2; exit 1; }
    if [ -e "$out.geojson" ]; then
        python3 .ci/slip_out.py files "$out"
        python3 .ci/page.py "$out.html"
        read_back=$((read_back + 1))
    fi
done
[ "$read_back" -gt 0 ] || { echo "no capture gave slip" >&2; exit 1; }
echo "$read_back captures read back"
