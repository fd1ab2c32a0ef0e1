#!/usr/bin/env bash
# The set-up program for Windows, under Wine: sets up without a question, its entry in the start
# menu opens the page, it leaves a program that runs alone, and it removes what it brought and
# nothing else.
#
# usage: .ci/setup-program.sh SETUP.EXE UNPACKED-ZIP; 95-package.sh calls it
set -euo pipefail
top=$(cd "$(dirname "$0")/.." && pwd)
. "$top/.ci/wine.sh"

fail() { printf 'setup: %s\n' "$*" >&2; exit 1; }
setup=$(realpath "$1") unpacked=$(realpath "$2")
wine=$(wine) || fail "wine64 is missing"
folder=$(mktemp -d)
finish() { wine_end "$wine"; rm -rf "$folder"; }
trap finish EXIT
# Without the part of Wine that would put entries into the menu of this computer.
export WINEDEBUG=-all WINEPREFIX=$folder/prefix WINEDLLOVERRIDES=winemenubuilder.exe=d
unset DISPLAY WAYLAND_DISPLAY
there() { timeout 120 "$wine" "$@"; }
within() { # SECONDS COMMAND...: it comes true within this time
    local end=$((SECONDS + $1))
    until "${@:2}"; do [ "$SECONDS" -lt "$end" ] || return 1; sleep 0.2; done
}
gone() { [ ! -e "$1" ]; }
code() { local code=0; there "$@" >"$folder/said" 2>&1 || code=$?; echo "$code"; }

# What opens a browser on this computer, for this check: it writes down the link.
mkdir "$folder/bin" "$folder/home"
export HOME=$folder/home
# shellcheck disable=SC2016 # the argument is that of the script that is written
printf '#!/bin/sh\nprintf "%%s" "$1" >"%s/opened.new" && mv "%s/opened.new" "%s/opened"\n' \
    "$folder" "$folder" "$folder" >"$folder/bin/xdg-open"
chmod +x "$folder/bin/xdg-open"
export PATH=$folder/bin:$PATH
there wineboot --init
random_bytes "$folder"
cp "$folder/bcryptprimitives.dll" "$WINEPREFIX/drive_c/windows/system32/"
cp "$setup" "$folder/setup.exe"
home=$(find "$WINEPREFIX/drive_c/users" -mindepth 1 -maxdepth 1 ! -name Public)
windows_home="C:\\users\\$(basename "$home")\\AppData"
place=$home/AppData/Local/Programs/Trundle
entry="$home/AppData/Roaming/Microsoft/Windows/Start Menu/Programs/Trundle.lnk"
listed='HKCU\Software\Microsoft\Windows\CurrentVersion\Uninstall\Trundle'
cd "$folder"

# What is there is what the .zip holds, besides the icon and the removal.
set_up() { # FILE-OF-THE-PERSON...
    [ "$(code setup.exe /S)" = 0 ] || fail "setting it up: $(cat said)"
    diff -r "$unpacked" "$place" | LC_ALL=C sort >differs || true
    printf "Only in $place: %s\n" "$@" remove.exe trundle.ico | LC_ALL=C sort | diff - differs ||
        fail "there is not what the .zip holds"
    [ -s "$entry" ] || fail "no entry in the start menu"
}
set_up
# Over an older version: what that one brought is removed before, the person's own file is not.
echo mine >"$place/mine.txt"
ln "$place/trundle.exe" older.exe
set_up mine.txt
! [ older.exe -ef "$place/trundle.exe" ] || fail "the older version was not removed before"
there reg query "$listed" | tr -d '\r' >entry.txt
grep -q 'QuietUninstallString.*remove\.exe" /S' entry.txt ||
    fail "Windows is not told how to remove it"
[ "$(code reg query 'HKCU\Software\Trundle')" = 0 ] || fail "the folder is not noted"
echo "set up: $(du -sk "$place" | cut -f 1) KiB"

# The entry opens the page.
there start "$windows_home\\Roaming\\Microsoft\\Windows\\Start Menu\\Programs\\Trundle.lnk" &
within 60 test -e opened || fail "the entry opens no page"
python3 - "$(cat opened)" <<'PYTHON'
import sys, urllib.request
with urllib.request.urlopen(sys.argv[1], timeout=20) as answer:
    page = answer.read().decode()
    assert answer.status == 200 and "<main" in page, page
    print("the entry opens a page:", page[page.index("<title>"):][:60].split("\n")[0])
PYTHON
# Nothing is changed under a program that runs.
sum() { find "$place" -type f -exec sha256sum {} + | LC_ALL=C sort -k 2; }
sum >before
[ "$(code setup.exe /S)" = 4 ] || fail "set up while it runs: not refused"
[ "$(code "$place/remove.exe" /S "_?=$windows_home\\Local\\Programs\\Trundle")" = 4 ] ||
    fail "removed while it runs: not refused"
sum | cmp - before || fail "changed while it runs"
there taskkill /f /im trundle.exe >/dev/null
data=$home/AppData/Roaming/trundle
[ -d "$data" ] || fail "the page has no data folder"
find "$data" | LC_ALL=C sort >data.before

# Removed: the person's own files stay, and nothing else.
there "$place/remove.exe" /S
within 60 gone "$place/trundle.exe" || fail "not removed"
within 60 gone "$entry" || fail "the entry in the start menu stays"
within 30 gone "$place/remove.exe" || fail "remove.exe stays"
[ "$(find "$place" -mindepth 1 -printf '%P ')" = "mine.txt " ] ||
    fail "left behind: $(find "$place" -mindepth 1)"
for key in "$listed" 'HKCU\Software\Trundle'; do
    [ "$(code reg query "$key")" != 0 ] || fail "$key stays"
done
find "$data" | LC_ALL=C sort | cmp - data.before || fail "the data folder was changed"
echo "removed: the person's own files stay, and nothing else"
