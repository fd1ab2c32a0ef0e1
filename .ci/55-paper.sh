#!/usr/bin/env bash
# Signed-off records on paper: the pages held against the HTML standard by the W3C's own checker,
# printed by Chromium, and the print read back by poppler: sheet, numbers of pages, identity on
# every page, end line on the last, PRACTICE on all pages of practice, the short form on one page,
# and so a sheet of settings.
set -euo pipefail
cd "$(dirname "$0")/.."

packages=()
need() { command -v "$1" >/dev/null || packages+=("$2"); }
need chromium chromium
need pdfinfo poppler-utils
need java default-jre-headless
need npm npm
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh "${packages[@]}"

build=${CARGO_TARGET_DIR:-target}
tools=$build/ci/vnu
if [ ! -e "$tools/node_modules/vnu-jar/build/dist/vnu.jar" ]; then
    mkdir -p "$tools"
    npm install --prefix "$tools" --no-fund --no-audit --silent vnu-jar@26.9.27
fi
folder=$(realpath -m "$build/ci/paper")
rm -rf "$folder"
cargo build --release --workspace --locked
"$build/release/paper-samples" "$folder"

# Left out, and why: the roles of tables are written out because a browser that lays a table out
# as blocks forgets that it is one; the checker's style sheets know no container queries yet.
known='.*(role” attribute must not be used on a “t|role is unnecessary for element “t|“container-type”: Property|“font-size”: Parse Error).*'
java -Xss8m -jar "$tools/node_modules/vnu-jar/build/dist/vnu.jar" --Werror \
    --filterpattern "$known" "$folder"/*.html
for page in "$folder"/*.html; do python3 -B .ci/page.py "$page" >/dev/null; done

fail() { echo "$*" >&2; exit 1; }
printed() {
    local profile code
    for try in 1 2 3; do
        profile=$(mktemp -d) code=0
        timeout 120 chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run \
            --disable-background-networking --disable-component-update --disable-sync \
            --user-data-dir="$profile" --no-pdf-header-footer --print-to-pdf="$2" "file://$1" \
            >"$2.log" 2>&1 || code=$?
        rm -rf "$profile"
        [ "$code" -ne 0 ] || return 0
        cat "$2.log" >&2
        # A browser that hangs or dies of a signal says nothing about the page: once in hundreds of
        # starts.
        [ "$code" -ge 124 ] || break
        echo "the browser died (code $code) at try $try" >&2
    done
    fail "$1 was not printed"
}

sheets=0
for page in "$folder"/*.html; do
    pdf=${page%.html}.pdf
    name=$(basename "$page" .html)
    printed "$page" "$pdf"
    id=$(python3 -c 'import json,sys; print(json.load(open(sys.argv[1]))["id"])' \
        "$folder/${name%.short}.json")
    practice=$(python3 -c 'import json,sys; print(json.load(open(sys.argv[1]))["practice"])' \
        "$folder/${name%.short}.json")
    pages=$(pdfinfo "$pdf" | sed -n 's/^Pages: *//p')
    size=$(pdfinfo "$pdf" | sed -n 's/^Page size: .*(\(.*\))$/\1/p')
    wanted=A4
    grep -q 'size: letter;' "$page" && wanted=letter
    [ "$size" = "$wanted" ] || fail "$name: printed on $size, not on $wanted"
    kind=Record
    case $name in sheet-*) kind=Sheet ;; esac
    case $name in
        *.short | sheet-*) [ "$pages" -eq 1 ] || fail "$name: $pages pages, not one" ;;
        long*) ;;
        *) [ "$pages" -le 12 ] || fail "$name: $pages pages" ;;
    esac
    for number in $(seq "$pages"); do
        text=$(pdftotext -layout -f "$number" -l "$number" "$pdf" -)
        grep -q "$kind $id" <<<"$text" || fail "$name, page $number: no identity"
        grep -q "Page $number/$pages" <<<"$text" || fail "$name, page $number: no number"
        if [ "$practice" = True ]; then
            grep -q 'PRACTICE' <<<"$text" || fail "$name, page $number: PRACTICE is missing"
        fi
    done
    grep -q "End of ${kind,} $id" <<<"$text" || fail "$name: no end line on the last page"
    sheets=$((sheets + pages))
done
echo "$(find "$folder" -name '*.pdf' | wc -l) papers, $sheets sheets: as they should be"
