#!/usr/bin/env bash
# Tables that go out, read by readers that have nothing to do with the program: Parquet by pyarrow
# and DuckDB, CSV and JSON by Python's own modules, the schema by jsonschema, maps by geojson and
# gpxpy. Every number must be the same double in all of them. At the end the query of host/handbook/guide.md is
# run as it stands there, over files of two exports.
#
# Another file may be named to take the query from.
#
# Alone: it marks at the pace of a simulated tractor, which waits for nobody.
set -euo pipefail
cd "$(dirname "$0")/.."

guide=${1:-host/handbook/guide.md}
build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-export
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check \
    'jsonschema==4.25.1' 'pyarrow==26.0.1' 'duckdb==2.0.1' 'geojson==3.3.0' 'gpxpy==1.6.2'

cargo build --release --workspace --locked
trundle=$build/release/trundle
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

"$build/release/make-exports" "$folder"
cmp "$folder/trundle-export-1.schema.json" host/schemas/trundle-export-1.schema.json

"$build/release/trundle" demo --out "$folder/demo" >/dev/null
demo=$(find "$folder/demo" -name '*.capture')
for format in csv json parquet; do
    "$trundle" export speeds logs/simulated-rtk.capture logs/simulated-corrected.capture \
        --to "$folder/speeds.$format"
done
for format in csv json parquet geojson gpx; do
    "$trundle" export slip "$demo" "$demo" --zero-slip-value 12700 --to "$folder/slip.$format"
done
# To a pipe it is the same as to a file.
cmp "$folder/slip.parquet" \
    <("$trundle" export slip "$demo" "$demo" --zero-slip-value 12700 --format parquet)
status=0
"$trundle" export speeds logs/simulated-rtk.capture --to "$folder/speeds.gpx" || status=$?
[ "$status" -eq 2 ] || { echo "speeds have no places, yet a map gave $status" >&2; exit 1; }
"$venv/bin/python" -B .ci/export.py "$folder" host/schemas "$guide"
