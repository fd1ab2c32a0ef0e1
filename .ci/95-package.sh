#!/usr/bin/env bash
# The packages: built, unpacked into an empty root, run from there, and looked over by lintian.
# The quick build is packed here; `host/package/release.sh FOLDER` alone makes the small one.
set -euo pipefail
cd "$(dirname "$0")/.."

top=$PWD
fail() { printf 'package: %s\n' "$*" >&2; exit 1; }
packages=()
command -v lintian >/dev/null || packages+=(lintian)
command -v dpkg-deb >/dev/null || packages+=(dpkg)
if [ "${#packages[@]}" -gt 0 ]; then
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${packages[@]}"
fi
for tool in lintian dpkg-deb dpkg python3; do
    command -v "$tool" >/dev/null || fail "$tool is missing and could not be installed"
done
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

PROFILE=release host/package/release.sh "$folder/out"
cd "$folder/out"
sha256sum --check --strict SHA256SUMS
[ "$(wc -l <SHA256SUMS)" -eq 3 ] || fail "not three packages"

deb=$(ls ./*.deb)
dpkg-deb --info "$deb"
dpkg-deb --contents "$deb"
dpkg -x "$deb" "$folder/root"
version=$(dpkg-deb --field "$deb" Version)
[ "$("$folder/root/usr/bin/trundle" --version)" = "trundle $version" ] || fail "--version"
cmp "$folder/root/usr/lib/udev/rules.d/70-trundle.rules" "$top/host/package/70-trundle.rules"
for file in copyright notices.txt.gz changelog.gz README.md.gz guide.md.gz; do
    [ -s "$folder/root/usr/share/doc/trundle/$file" ] || fail "no $file"
done
# Installed as dpkg does it, in a root of its own; what it depends on is not in there.
mkdir -p "$folder/db/var/lib/dpkg/"{info,updates,triggers}
: >"$folder/db/var/lib/dpkg/status"
dpkg --root="$folder/db" --force-depends --force-not-root --force-script-chrootless --log=/dev/null \
    --install "$deb" 2>&1
dpkg --root="$folder/db" --verify trundle
# The installed program gives the stored results.
for capture in "$top"/logs/*.capture; do
    # 1 says that the result is flagged: it is there all the same.
    { "$folder/db/usr/bin/trundle" work "$capture" --json || [ $? -eq 1 ]; } |
        cmp - "$top/tests/data/golden/$(basename "$capture" .capture).work.json"
done
lintian --fail-on error --info "$deb"

mkdir "$folder/tar" "$folder/zip"
tar -xzf ./*.tar.gz -C "$folder/tar"
cmp "$folder"/tar/trundle-*/trundle "$folder/root/usr/bin/trundle"
python3 -m zipfile -e ./*.zip "$folder/zip"
for file in trundle.exe README.md guide.md copyright notices.txt; do
    [ -s "$folder/zip/trundle-$version-windows-x86_64/$file" ] || fail "no $file in the zip"
done
echo "packed, unpacked, installed and run: trundle $version"
