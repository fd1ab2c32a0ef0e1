#!/usr/bin/env bash
# The packages: built, installed into an empty root, run from there and removed again, and looked
# over by lintian; those for Windows under Wine, those for 64-bit ARM by an emulator of the processor,
# where every result is this computer's to the byte. None is over 12 MB; packed again they are the
# same bytes; what each says that it contains is checked by SPDX's own tool. What they hold for the
# counter board: its two files are held to their format and to the images, and what the documents
# link and show lies beside them.
# How soon the installed program answers with its first page is printed. The quick build is packed
# here; `host/package/release.sh FOLDER` alone makes the small one.
set -euo pipefail
cd "$(dirname "$0")/.."

top=$PWD
fail() { printf 'package: %s\n' "$*" >&2; exit 1; }
read -ra packages < <(firmware-sim/pico/build.sh --missing)
command -v lintian >/dev/null || packages+=(lintian)
command -v dpkg-deb >/dev/null || packages+=(dpkg)
command -v makensis >/dev/null || packages+=(nsis)
command -v x86_64-w64-mingw32-gcc >/dev/null || packages+=(gcc-mingw-w64-x86-64)
command -v aarch64-linux-gnu-gcc >/dev/null || packages+=(gcc-aarch64-linux-gnu)
[ -e /usr/aarch64-linux-gnu/lib/libc.so ] || packages+=(libc6-dev-arm64-cross)
command -v qemu-aarch64 >/dev/null || packages+=(qemu-user)
. .ci/installed.sh
. .ci/wine.sh
. .ci/cross.sh
wine >/dev/null || packages+=(wine64)
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh --no-install-recommends "${packages[@]}"
for tool in makensis lintian dpkg-deb dpkg python3 arm-none-eabi-objcopy qemu-aarch64; do
    command -v "$tool" >/dev/null || fail "$tool is missing and could not be installed"
done
venv=${CARGO_TARGET_DIR:-$top/target}/ci/venv-package
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check 'spdx-tools==0.8.5'
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

# Not in this shell, where what it exports would build all else anew.
for target in x86_64-pc-windows-gnu aarch64-unknown-linux-gnu; do
    (cross_for "$target" && "${RUSTC:-rustc}" --version && echo "options: ${cross_options[*]}")
done
PROFILE=release host/package/release.sh "$folder/out"
# Packed again, later: the same bytes.
PROFILE=release host/package/release.sh "$folder/again" >/dev/null
cmp "$folder/out/SHA256SUMS" "$folder/again/SHA256SUMS" || fail "packed twice, not the same bytes"
cd "$folder/out"
sha256sum --check --strict SHA256SUMS
[ "$(wc -l <SHA256SUMS)" -eq 6 ] || fail "not six packages"

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

large=$(find . -type f -size +12000000c)
[ -z "$large" ] || fail "over 12 MB: $large"
ls -l
own=$(dpkg --print-architecture)
version=$(dpkg-deb --field ./*_"$own".deb Version)

# A .deb, unpacked into the folder.
unpacked_deb() { # DEB FOLDER
    local documents=$2/usr/share/doc/trundle file
    dpkg-deb --info "$1"
    dpkg-deb --contents "$1"
    dpkg -x "$1" "$2"
    cmp "$2/usr/lib/udev/rules.d/70-trundle.rules" "$top/host/package/70-trundle.rules"
    for file in copyright LICENSE-MIT LICENSE-APACHE notices.txt.gz changelog.gz README.md.gz \
        guide.md.gz handbook.html contents.spdx.json; do
        [ -s "$documents/$file" ] || fail "$1: no $file"
    done
    for file in applications/trundle.desktop icons/hicolor/scalable/apps/trundle.svg \
        icons/hicolor/48x48/apps/trundle.png; do
        [ -s "$2/usr/share/$file" ] || fail "$1: no $file"
    done
    board "$2/usr/share/trundle/board" "$1"
    [ "$(realpath "$documents/board")" = "$(realpath "$2/usr/share/trundle/board")" ] ||
        fail "$1: the documents do not lead to the board's folder"
    lintian --fail-on error,warning --info "$1"
}
for deb in ./*.deb; do unpacked_deb "$deb" "$folder/root-$(dpkg-deb --field "$deb" Architecture)"; done
# What is no program and says nothing of it is the same for every processor.
diff -r --exclude=notices.txt.gz --exclude=contents.spdx.json \
    "$folder"/root-{"$own",arm64}/usr/share || fail "the two .deb differ in more than the program"

deb=$(ls ./*_"$own".deb)
installed "$folder/db" "$deb"
program=$folder/db/usr/bin/trundle
said=$("$program" --version)
[ "$(head -n 1 <<<"$said")" = "trundle $version" ] || fail "--version: $said"
grep -qx "commit $(git -C "$top" rev-parse --short=12 HEAD)" <<<"$said" || fail "--version: $said"
# The installed program gives the stored results.
for capture in "$top"/logs/*.capture; do
    # 1 says that the result is flagged: it is there all the same.
    { "$program" work "$capture" --json || [ $? -eq 1 ]; } |
        cmp - "$top/tests/data/golden/$(basename "$capture" .capture).work.json"
done
python3 -B "$top/.ci/start.py" "$program"
removed "$folder/db" || fail "the .deb: something stays"
bash "$top/.ci/arm64-program.sh" ./*_arm64.deb ./*-linux-aarch64.tar.gz \
    "$folder/root-$own/usr/bin/trundle"

mkdir "$folder/tar" "$folder/zip"
for packed in ./*.tar.gz; do tar -xzf "$packed" -C "$folder/tar"; done
cmp "$folder"/tar/trundle-*-linux-"$(uname -m)"/trundle "$folder/root-$own/usr/bin/trundle"
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
