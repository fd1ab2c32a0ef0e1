#!/usr/bin/env bash
# The packages for 64-bit ARM, by an emulator of the processor: the .deb installed into an empty
# root; what the program works out of every capture held against this computer's program byte by
# byte, and so a whole demonstration; and removed again. The .tar.gz holds the same program.
#
# usage: .ci/arm64-program.sh DEB TAR.GZ PROGRAM; 95-package.sh calls it
set -euo pipefail
top=$(cd "$(dirname "$0")/.." && pwd)
. "$top/.ci/installed.sh"

fail() { printf 'arm64: %s\n' "$*" >&2; exit 1; }
deb=$(realpath "$1") packed=$(realpath "$2") native=$(realpath "$3")
folder=$(mktemp -d)
here_pid='' there_pid=''
finish() {
    [ -z "$here_pid" ] || kill "$here_pid" 2>/dev/null || true
    [ -z "$there_pid" ] || kill "$there_pid" 2>/dev/null || true
    rm -rf "$folder"
}
trap finish EXIT
[ "$(dpkg-deb --field "$deb" Architecture)" = arm64 ] || fail "the package is for another processor"
installed "$folder/root" "$deb"
program=$folder/root/usr/bin/trundle
readelf --file-header "$program" | grep -Eq 'Machine: +AArch64' || fail "not for this processor"
# What the package depends on, as Debian's cross compiler brings it.
emulated=(timeout 600 qemu-aarch64 -L /usr/aarch64-linux-gnu "$program")
there() { "${emulated[@]}" "$@"; }

mkdir "$folder/tar" "$folder/work"
tar -xzf "$packed" -C "$folder/tar"
cmp "$folder"/tar/trundle-*-linux-aarch64/trundle "$program"
cp "$top"/logs/*.capture "$folder/work/"
cd "$folder/work"
export TRUNDLE_DATA=$folder/data

# Runs the same on both, and nothing of what comes may differ: output, messages, exit code, and the
# page where there is one.
both() { # WORD...
    local here_code=0 there_code=0
    "$native" "$@" >here.out 2>here.err || here_code=$?
    [ ! -e page.html ] || mv page.html here.html
    there "$@" >there.out 2>there.err || there_code=$?
    [ "$here_code" = "$there_code" ] ||
        fail "$*: exit $here_code here, $there_code on ARM: $(cat there.err)"
    # 1 says that something is flagged, more that nothing was worked out.
    [ "$here_code" -le 1 ] || [ "${may_fail:-}" = yes ] || fail "$*: exit $here_code: $(cat here.err)"
    cmp here.out there.out || fail "$*: another answer on ARM"
    cmp here.err there.err || fail "$*: another message on ARM"
    [ ! -e here.html ] || {
        cmp page.html here.html || fail "$*: another page on ARM"
        rm page.html here.html
        pages=$((pages + 1))
    }
}

# A whole demonstration on both, which takes its time while the rest goes on: slower than by itself,
# since an emulator keeps up with less.
demo=(demo --inside --passes 4 --pace 10)
"$native" "${demo[@]}" --out here >/dev/null 2>&1 &
here_pid=$!
"${emulated[@]}" "${demo[@]}" --out demo >said 2>&1 &
there_pid=$!

both --version
count=0 pages=0
for capture in *.capture; do
    both work "$capture" --json --report page.html
    both work "$capture"
    both slip "$capture" --zero-slip-value 12680 --json --report page.html
    both speeds "$capture" --json
    both check "$capture" --json
    both bus "$capture" --json
    count=$((count + 1))
done
[ "$count" -ge 4 ] || fail "only $count captures"
[ "$pages" -eq $((2 * count)) ] || fail "$pages pages of $count captures"
echo "$count captures: the same results and pages on ARM, to the byte"
may_fail=yes both work no-such.capture --json
# What the packages hold of this computer's program, the other one would have written as well.
both completions bash
for word in "manual" "handbook --to"; do
    # shellcheck disable=SC2086 # two words
    { "$native" $word papers-here && there $word papers-there; } >/dev/null
done
diff -r papers-here papers-there || fail "manual pages or handbook are not the same"

wait "$there_pid" || fail "the demonstration ended with $?: $(cat said)"
there_pid=''
head -n 1 said
both work demo/demo.capture --json --report page.html
cmp demo/demo.json here.out || fail "measured on ARM and recalculated here: another result"
echo "a demonstration on ARM, recalculated here: the same bytes"
wait "$here_pid" || fail "the demonstration on this computer ended with $?"
here_pid=''
# The instants at which bytes come are not the same on two runs, so the values agree as two
# measurements do: difference within the uncertainty of both.
python3 "$top/.ci/two_demos.py" demo/demo.json here/demo.json
cd /
removed "$folder/root" || fail "the .deb: something stays"
