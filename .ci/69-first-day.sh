#!/usr/bin/env bash
# A whole first day in a real browser, from an empty folder to the printed record: by pointer, by
# keyboard alone, and without script. Pictures and papers are left in PAGE_OUT, where it is set.
#
# Alone: it measures how soon pages come, and marks at the pace of the simulated tractor.
#
# TRUNDLE_BIN: folder of the program, where it is built already. PACE: simulated seconds a second.
set -euo pipefail
cd "$(dirname "$0")/.."

packages=()
[ -x /usr/bin/chromium ] || packages+=(chromium)
command -v npm >/dev/null || packages+=(nodejs npm)
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh "${packages[@]}"
bin=${TRUNDLE_BIN:-}
if [ -z "$bin" ]; then
    cargo build --release --workspace --locked
    bin=${CARGO_TARGET_DIR:-target}/release
fi
BIN=$(cd "$bin" && pwd)
export BIN
ci=$PWD/.ci
began=$SECONDS
folder=$(mktemp -d)
out=${PAGE_OUT:-$folder/pictures}
mkdir -p "$out"
trap 'rm -rf "$folder"' EXIT

mkdir "$folder/tools"
cd "$folder/tools"
npm init -y >/dev/null
npm install --silent --no-audit --no-fund playwright-core@1 axe-core@4 >/dev/null || {
    echo "first day: the browser's driver cannot be installed" >&2
    exit 1
}
# The simulated driver waits for nobody, and a browser may hang for a while where every processor
# is taken: a walk that fails is tried once more, from an empty folder. Twice is a fault.
walk() { mkdir "$folder/$2" && timeout 600 node "$ci/$1.mjs" "$folder/$2" "$out"; }
for walk in first_day first_day_keyboard first_day_plain; do
    step=$SECONDS
    walk "$walk" "$walk-1" || {
        echo "first day: $walk is tried once more" >&2
        pkill -f -- "--data $folder/" || true
        walk "$walk" "$walk-2"
    }
    echo "$walk: $((SECONDS - step)) s"
done
echo "first day: done in $((SECONDS - began)) s"
