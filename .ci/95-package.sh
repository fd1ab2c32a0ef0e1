#!/usr/bin/env bash
# The packages: built, installed into an empty root, run from there and removed again, and looked
# over by lintian; those for Windows under Wine. None is over 12 MB; packed again they are the same
# bytes; what each says that it contains is checked by SPDX's own tool. What they hold for the
# counter board: its two files are held to their format and to the images, and what the documents
# link and show lies beside them.
# The quick build is packed here; `host/package/release.sh FOLDER` alone makes the small one.
set -euo pipefail
cd "$(dirname "$0")/.."

top=$PWD
fail() { printf 'package: %s\n' "$*" >&2; exit 1; }
read -ra packages < <(firmware-sim/pico/build.sh --missing)
command -v lintian >/dev/null || packages+=(lintian)
command -v dpkg-deb >/dev/null || packages+=(dpkg)
command -v makensis >/dev/null || packages+=(nsis)
command -v x86_64-w64-mingw32-gcc >/dev/null || packages+=(gcc-mingw-w64-x86-64)
. .ci/installed.sh
. .ci/wine.sh
wine >/dev/null || packages+=(wine64)
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh --no-install-recommends "${packages[@]}"
for tool in makensis lintian dpkg-deb dpkg python3 arm-none-eabi-objcopy; do
    command -v "$tool" >/dev/null || fail "$tool is missing and could not be installed"
done
venv=${CARGO_TARGET_DIR:-$top/target}/ci/venv-package
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check 'spdx-tools==0.8.5'
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

PROFILE=release host/package/release.sh "$folder/out"
# Packed again, later: the same bytes.
PROFILE=release host/package/release.sh "$folder/again" >/dev/null
cmp "$folder/out/SHA256SUMS" "$folder/again/SHA256SUMS" || fail "packed twice, not the same bytes"
cd "$folder/out"
sha256sum --check --strict SHA256SUMS
[ "$(wc -l <SHA256SUMS)" -eq 4 ] || fail "not four packages"

# The board's folder in a package: $1 is the folder, $2 its package in words.
board() {
    local build
    for build in trundle-board trundle-board-uart; do
        arm-none-eabi-objcopy -O binary --gap-fill 0xff "$top/target/pico/$build.elf" \
            "$folder/image.bin"
        python3 -B "$top/.ci/uf2.py" "$1/$build.uf2" "$folder/image.bin" ||
            fail "$2: $build.uf2 is not the file of the image"
    done
    for file in BUILDING.md notices.txt input-board/made/parts.{md,txt,csv}; do
        [ -s "$1/$file" ] || fail "$2: no $file for the board"
    done
    python3 -B "$top/.ci/links.py" "$1" || fail "$2: the board's guide shows what is not there"
}

# The lists of contained software: SPDX's own checker finds no fault in them, and each names the
# program and the crates whose licences lie beside it, no more and no fewer.
spdx() { # FOLDER PACKAGE
    local list
    for list in "$1/contents.spdx.json" "$1/board/contents.spdx.json"; do
        "$venv/bin/pyspdxtools" --infile "$list" || fail "$2: $list is not valid SPDX"
        python3 -B - "$list" "$(dirname "$list")/notices.txt" <<'PYTHON' || fail "$2: $list"
import json, re, sys
listed = {(p["name"], p["versionInfo"]) for p in json.load(open(sys.argv[1]))["packages"]
          if "externalRefs" in p}
noticed = set(re.findall(r"^={72}\n(\S+) (\S+): ", open(sys.argv[2]).read(), re.M))
print(len(listed), "crates listed with their licences")
if not listed or listed != noticed:
    sys.exit(f"listed and not noticed, or the other way: {listed ^ noticed}")
PYTHON
    done
}

deb=$(ls ./*.deb)
dpkg-deb --info "$deb"
dpkg-deb --contents "$deb"
dpkg -x "$deb" "$folder/root"
version=$(dpkg-deb --field "$deb" Version)
said=$("$folder/root/usr/bin/trundle" --version)
[ "$(head -n 1 <<<"$said")" = "trundle $version" ] || fail "--version: $said"
grep -qx "commit $(git -C "$top" rev-parse --short=12 HEAD)" <<<"$said" || fail "--version: $said"
cmp "$folder/root/usr/lib/udev/rules.d/70-trundle.rules" "$top/host/package/70-trundle.rules"
for file in copyright LICENSE-MIT LICENSE-APACHE notices.txt.gz changelog.gz README.md.gz guide.md.gz \
    handbook.html; do
    [ -s "$folder/root/usr/share/doc/trundle/$file" ] || fail "no $file"
done
for file in applications/trundle.desktop icons/hicolor/scalable/apps/trundle.svg \
    icons/hicolor/48x48/apps/trundle.png doc/trundle/contents.spdx.json; do
    [ -s "$folder/root/usr/share/$file" ] || fail "the .deb: no $file"
done
large=$(find . -type f -size +12000000c)
[ -z "$large" ] || fail "over 12 MB: $large"
board "$folder/root/usr/share/trundle/board" "the .deb"
[ "$(realpath "$folder/root/usr/share/doc/trundle/board")" = \
    "$(realpath "$folder/root/usr/share/trundle/board")" ] ||
    fail "the .deb: the documents do not lead to the board's folder"
installed "$folder/db" "$deb"
# The installed program gives the stored results.
for capture in "$top"/logs/*.capture; do
    # 1 says that the result is flagged: it is there all the same.
    { "$folder/db/usr/bin/trundle" work "$capture" --json || [ $? -eq 1 ]; } |
        cmp - "$top/tests/data/golden/$(basename "$capture" .capture).work.json"
done
removed "$folder/db" || fail "the .deb: something stays"
lintian --fail-on error,warning --info "$deb"

mkdir "$folder/tar" "$folder/zip"
tar -xzf ./*.tar.gz -C "$folder/tar"
cmp "$folder"/tar/trundle-*/trundle "$folder/root/usr/bin/trundle"
python3 -m zipfile -e ./*.zip "$folder/zip"
for unpacked in "$folder"/tar/trundle-* "$folder"/zip/trundle-*; do
    name=$(basename "$unpacked")
    board "$unpacked/board" "$name"
    spdx "$unpacked" "$name"
    python3 -B "$top/.ci/links.py" "$unpacked" || fail "$name: a document shows what is not there"
done
bash "$top/.ci/setup-program.sh" ./*-setup.exe "$folder"/zip/trundle-*
# The check of links finds one that leads nowhere.
rm "$folder"/zip/trundle-*/board/input-board/made/parts.md
if python3 -B "$top/.ci/links.py" "$folder"/zip/trundle-* >/dev/null 2>&1; then
    fail "a list that is missing went unnoticed"
fi
for file in trundle.exe README.md guide.md handbook.html copyright LICENSE-MIT LICENSE-APACHE notices.txt; do
    [ -s "$folder/zip/trundle-$version-windows-x86_64/$file" ] || fail "no $file in the zip"
done
echo "packed, unpacked, installed and run: trundle $version"
