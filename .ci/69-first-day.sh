#!/usr/bin/env bash
# A whole first day in a real browser, from an empty folder to the printed record: by pointer, by
# keyboard alone, and without script. With the program of the package, which is installed before and
# removed afterwards. Pictures and papers are left in PAGE_OUT, where it is set.
#
# Alone: it measures how soon pages come, and marks at the pace of the simulated tractor.
#
# PACE: simulated seconds a second.
set -euo pipefail
cd "$(dirname "$0")/.."

. .ci/browser.sh
. .ci/installed.sh
read -ra packages < <(firmware-sim/pico/build.sh --missing)
command -v dpkg-deb >/dev/null || packages+=(dpkg)
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh --no-install-recommends "${packages[@]}"
ci=$PWD/.ci
began=$SECONDS
folder=$(mktemp -d)
out=${PAGE_OUT:-$folder/pictures}
mkdir -p "$out"
trap 'rm -rf "$folder"' EXIT

PROFILE=release host/package/release.sh "$folder/packages" linux
installed "$folder/root" "$folder"/packages/*.deb
export BIN=$folder/root/usr/bin
browser_driver "$folder/tools"
cd "$folder/tools"
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
removed "$folder/root"
echo "first day: done in $((SECONDS - began)) s"
