#!/usr/bin/env bash
# What README.md shows first: a whole job on the simulated tractor. The result that was written
# live must come out of the capture again, byte for byte, and the page must stand by itself.
#
# Alone: it marks at the pace of a simulated tractor, which waits for nobody.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
grep -q '^cargo run --release -- demo' README.md || { echo "README.md shows no demo" >&2; exit 1; }
cargo build --release --workspace --locked
trundle=$build/release/trundle
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
demo=$folder/demo

"$trundle" demo --out "$demo" >"$folder/said" || {
    echo "demo ended with $?" >&2
    cat "$folder/said" >&2
    exit 1
}
head -n 3 "$folder/said"
ls -l "$demo"
[ "$(find "$demo" -type f | wc -l)" -eq 3 ] || { echo "not three files" >&2; exit 1; }
capture=$(find "$demo" -name '*.capture')
result=$(find "$demo" -name '*.json')
page=$(find "$demo" -name '*.html')
for file in "$capture" "$result" "$page"; do
    [ -s "$file" ] || { echo "a file of the three is missing or empty" >&2; exit 1; }
done

"$trundle" work "$capture" --json --report "$folder/again.html" >"$folder/again.json"
cmp "$result" "$folder/again.json"
cmp "$page" "$folder/again.html"
echo "recalculated from the capture: the same bytes, result and page"

python3 .ci/page.py "$page"
