#!/usr/bin/env bash
# Build what is given to people, into a folder: a .deb and a .tar.gz for Linux, here and on 64-bit
# ARM, a .zip for Windows, and SHA256SUMS. Each holds the counter board too (the files that are
# dragged onto it and the guide by which it is built), and the script for many laptops.
#
# usage: host/package/release.sh FOLDER [linux|arm64|windows|all]
#
# Handbook and manual pages come from the program for this computer in every package.
#
# PROFILE=release takes the quick build in place of the small one; for Linux it is the one of the
# whole workspace, which the checks run.
#
# Same commit, same tools, same SOURCE_DATE_EPOCH: the packages hold the same bytes (dates are those
# of the commit). Not so the board's files where the sources lie in another folder.
#
# contents.spdx.json beside the documents lists the software that a package contains, with licences.
# For Windows there is a set-up program too (setup.nsi), which brings what the .zip holds.
set -euo pipefail
cd "$(dirname "$0")/../.."

fail() { printf 'release: %s\n' "$*" >&2; exit 1; }
[ $# -ge 1 ] || fail "usage: host/package/release.sh FOLDER [linux|arm64|windows|all]"
mkdir -p "$1"
out=$(cd "$1" && pwd)
top=$PWD
what=${2:-all}
case $what in
    linux | arm64 | windows | all) ;;
    *) fail "not linux, arm64, windows or all: $what" ;;
esac
profile=${PROFILE:-dist}
package=host/package
build=${CARGO_TARGET_DIR:-target}
version=$(sed -n 's/^version = "\(.*\)"$/\1/p' Cargo.toml | head -n 1)
[ -n "$version" ] || fail "Cargo.toml has no version"
# A hash table below draws its keys at build time; from this seed it draws the same ones.
export CONST_RANDOM_SEED=trundle
export SOURCE_DATE_EPOCH="${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}"
# Said by --version.
export TRUNDLE_COMMIT="${TRUNDLE_COMMIT:-$(git rev-parse --short=12 HEAD)}"
[ -z "$(git status --porcelain --untracked-files=no)" ] ||
    echo "release: changes that are not committed are packed under the commit before them" >&2
tools=(cargo python3 dpkg-deb tar gzip strip readelf sha256sum)
case $what in windows | all) tools+=(makensis) ;; esac
for tool in "${tools[@]}"; do
    command -v "$tool" >/dev/null || fail "$tool is missing"
done
stage=$(mktemp -d)
trap 'rm -rf "$stage"' EXIT
umask 022

# Date every file as the commit, so that the time of packing is in no package.
dated() { find "$1" -exec touch --no-dereference --date="@$SOURCE_DATE_EPOCH" {} +; }

# The program for this computer. It writes the handbook, which says the same on every system.
program() {
    local packages=(-p trundle --bin trundle)
    [ "$profile" != release ] || packages=(--workspace)
    cargo build --profile "$profile" --locked "${packages[@]}"
}

# The program for another system.
cross() { # TARGET
    # shellcheck source=host/package/cross-target.sh
    . "$package/cross-target.sh" "$1"
    cargo build --profile "$profile" --locked -p trundle --bin trundle "${cross_options[@]}"
}

# Links lead to where the files lie in the package.
documents() { # FOLDER TARGET
    mkdir -p "$1/pictures" "$1/group"
    "$build/$profile/trundle" handbook --to "$1" >/dev/null
    cp host/handbook/{guide,what-it-writes,formats}.md CHANGELOG.md "$1/"
    cp host/group/*.py host/group/requirements.txt host/group/README.md "$1/group/"
    cp "$package/copyright" LICENSE-MIT LICENSE-APACHE "$1/"
    sed -e 's#](host/handbook/#](#g' -e 's#](host/\(pictures\|group\)/#](\1/#g' \
        -e 's#](firmware-sim/BUILDING.md#](board/BUILDING.md#g' README.md >"$1/README.md"
    cp host/pictures/*.svg "$1/pictures/"
    python3 -B "$package/notices.py" "$2" >"$1/notices.txt"
    python3 -B "$package/spdx.py" "$2" >"$1/contents.spdx.json"
}

# The counter board: its files, the guide, and all that the guide shows and lists, in the same
# places beside it.
board() { # FOLDER
    mkdir -p "$1/input-board/made"
    cp target/pico/trundle-board.uf2 target/pico/trundle-board-uart.uf2 firmware-sim/BUILDING.md "$1/"
    cp firmware-sim/input-board/made/* "$1/input-board/made/"
    (cd firmware-sim/pico && python3 -B "$top/$package/notices.py" thumbv6m-none-eabi trundle-pico) \
        >"$1/notices.txt"
    (cd firmware-sim/pico && python3 -B "$top/$package/spdx.py" thumbv6m-none-eabi trundle-pico) \
        >"$1/contents.spdx.json"
}

# What shell and manual want to know, as the program itself states it.
extras() { # ROOT
    local root=$1 program=$build/$profile/trundle page
    "$program" manual "$stage/man" >/dev/null
    for page in "$stage"/man/*.1; do
        install -D -m 644 "$page" "$root/usr/share/man/man1/$(basename "$page")"
        gzip -9 -n "$root/usr/share/man/man1/$(basename "$page")"
    done
    mkdir -p "$root/usr/share/bash-completion/completions" \
        "$root/usr/share/zsh/vendor-completions" "$root/usr/share/fish/vendor_completions.d"
    "$program" completions bash >"$root/usr/share/bash-completion/completions/trundle"
    "$program" completions zsh >"$root/usr/share/zsh/vendor-completions/_trundle"
    "$program" completions fish >"$root/usr/share/fish/vendor_completions.d/trundle.fish"
    # The entry in the menu, and its icon.
    install -D -m 644 "$package/trundle.desktop" "$root/usr/share/applications/trundle.desktop"
    python3 -B "$package/icon.py" "$stage/icon"
    local icons=$root/usr/share/icons/hicolor
    install -D -m 644 "$stage/icon/trundle.svg" "$icons/scalable/apps/trundle.svg"
    install -D -m 644 "$stage/icon/trundle-48.png" "$icons/48x48/apps/trundle.png"
}

# The newest version of the C library that a program asks for.
libc_wanted() { readelf --version-info --wide "$1" | grep -o 'GLIBC_[0-9.]*' | sort -Vu | tail -n 1; }

deb() { # ROOT ARCHITECTURE
    local root=$1 doc=$1/usr/share/doc/trundle needs
    mkdir -p "$root/DEBIAN"
    gzip -9 -n "$doc/notices.txt" "$doc/README.md" "$doc/guide.md"
    printf 'trundle (%s) unstable; urgency=medium\n\n  * See the history of the project.\n\n -- %s  %s\n' \
        "$version" "$maintainer" "$(date -R -u -d "@$SOURCE_DATE_EPOCH")" |
        gzip -9 -n >"$doc/changelog.gz"
    needs=$(libc_wanted "$root/usr/bin/trundle")
    [ -n "$needs" ] || fail "the program does not say which C library it wants"
    cat >"$root/DEBIAN/control" <<CONTROL
Package: trundle
Version: $version
Architecture: $2
Maintainer: $maintainer
Installed-Size: $(du -k -s --exclude=DEBIAN "$root" | cut -f 1)
Depends: libc6 (>= ${needs#GLIBC_}), libgcc-s1
Section: science
Priority: optional
Description: impulses per 100 m of a tractor's speed sensors
 Measures the number that turns a tractor's impulses into distance, against
 tape and satellite, with its uncertainty. Reads a counter board and a
 satellite receiver at serial ports; every byte is saved, so that each value
 can be recalculated.
CONTROL
    (cd "$root" && find . -type f -not -path './DEBIAN/*' -printf '%P\n' | LC_ALL=C sort |
        xargs md5sum) >"$root/DEBIAN/md5sums"
    dated "$root"
    dpkg-deb --root-owner-group -Zxz --build "$root" \
        "$out/trundle_${version}_$2.deb"
}

linux() {
    local target
    target=$(rustc -vV | sed -n 's/^host: //p')
    program
    linux_packages "$target" "$(dpkg --print-architecture)" "$build/$profile/trundle" strip
}

# In a shell of its own, as every build for another system: what it exports would build all else
# anew.
arm64() (
    program
    cross aarch64-unknown-linux-gnu
    linux_packages "$cross_target" arm64 "$build/$cross_target/$profile/trundle" "$cross_tools-strip"
)

linux_packages() { # TARGET ARCHITECTURE PROGRAM STRIP
    local target=$1 name=trundle-$version-linux-${1%%-*} root=$stage/deb-$2
    install -D -m 755 "$3" "$root/usr/bin/trundle"
    "$4" "$root/usr/bin/trundle"
    install -D -m 644 "$package/70-trundle.rules" "$root/usr/lib/udev/rules.d/70-trundle.rules"
    documents "$root/usr/share/doc/trundle" "$target"
    extras "$root"
    mkdir -p "$stage/$name"
    cp -R "$root/usr/bin/trundle" "$package/70-trundle.rules" "$root"/usr/share/doc/trundle/* "$stage/$name/"
    board "$stage/$name/board"
    # Not among the documents: what lies there may be left out when a package is installed.
    mkdir -p "$root/usr/share/trundle"
    cp -R "$stage/$name/board" "$root/usr/share/trundle/board"
    ln -s ../../trundle/board "$root/usr/share/doc/trundle/board"
    dated "$stage/$name"
    tar --create --sort=name --owner=0 --group=0 --numeric-owner --directory "$stage" "$name" |
        gzip -9 -n >"$out/$name.tar.gz"
    deb "$root" "$2"
}

for_windows() (
    name=trundle-$version-windows-x86_64
    program
    cross x86_64-pc-windows-gnu
    install -D -m 755 "$build/$cross_target/$profile/trundle.exe" "$stage/$name/trundle.exe"
    "$cross_tools-strip" "$stage/$name/trundle.exe"
    documents "$stage/$name" "$cross_target"
    board "$stage/$name/board"
    dated "$stage/$name"
    (cd "$stage" && python3 - "$name" "$out/$name.zip" <<'ZIP'
import pathlib, sys, time, os, zipfile
date = time.gmtime(int(os.environ["SOURCE_DATE_EPOCH"]))[:6]
with zipfile.ZipFile(sys.argv[2], "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
    for path in sorted(path for path in pathlib.Path(sys.argv[1]).rglob("*") if path.is_file()):
        packed.writestr(zipfile.ZipInfo(path.as_posix(), date), path.read_bytes(),
                        zipfile.ZIP_DEFLATED)
ZIP
    )
    setup "$stage/$name"
)

# The set-up program. It removes what it brought, name by name, so that nothing else can go.
# shellcheck disable=SC2016 # what begins with a dollar is NSIS's own
setup() { # FOLDER
    local file
    python3 -B "$package/icon.py" "$stage/icon"
    cp "$stage/icon/trundle.ico" "$1/"
    dated "$1"
    (cd "$1" && find . -type f -printf '%P\n' | LC_ALL=C sort) >"$stage/files"
    while read -r file; do
        printf 'SetOutPath "$INSTDIR\%s"\n' "$(dirname "$file" | sed 's#^\.$##; s#/#\\#g')"
        printf 'File "%s"\n' "$1/$file"
    done <"$stage/files" >"$stage/brought.nsh"
    { sed 's#/#\\#g; s#.*#Delete "$INSTDIR\\&"#' "$stage/files"
        # Each folder after those in it, and only if it is empty.
        (cd "$1" && find . -mindepth 1 -type d -printf '%P\n') | LC_ALL=C sort -r |
            sed 's#/#\\#g; s#.*#RMDir "$INSTDIR\\&"#'; } >"$stage/removed.nsh"
    makensis -V2 -WX "-DVERSION=$version" "-DICON=$1/trundle.ico" "-DPARTS=$stage" \
        "-DOUT=$out/trundle-$version-windows-x86_64-setup.exe" "$top/$package/setup.nsi"
}

# Before anything that takes long: there is no package without them.
firmware-sim/pico/build.sh ||
    fail "the files for the counter board cannot be had (see above), so nothing was packed"
maintainer="Trundle maintainers <trundle@example.invalid>"
case $what in
    linux) linux ;;
    arm64) arm64 ;;
    windows) for_windows ;;
    all) linux; arm64; for_windows ;;
esac
cd "$out"
sha256sum trundle[_-]* >SHA256SUMS
cat SHA256SUMS
