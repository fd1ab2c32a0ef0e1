#!/usr/bin/env bash
# The input board: its netlist by a rule check, its strip board against the netlist, its circuit
# simulated at the corners of what it is made of, each with faults that must be found; and all that
# is drawn and listed is made anew from the description and must be what is in the repository.
set -euo pipefail
cd "$(dirname "$0")/.."

board=firmware-sim/input-board
fail() { printf 'input board: %s\n' "$*" >&2; exit 1; }
packages=()
command -v ngspice >/dev/null || packages+=(ngspice)
python3 -c 'import ensurepip, venv' 2>/dev/null || packages+=(python3-venv)
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh --no-install-recommends "${packages[@]}"
command -v ngspice >/dev/null || fail "ngspice is missing and could not be installed"
ngspice --version | sed -n 's/^\*\* \(ngspice-[^ ]*\).*/\1/p'

venv=${CARGO_TARGET_DIR:-target}/ci/venv-input-board
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check --no-deps -r "$board/requirements.txt"
python=$(cd "$venv/bin" && pwd)/python
# One thread each is faster where two simulations run at a time.
export OMP_NUM_THREADS=1 PYTHONDONTWRITEBYTECODE=1

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
before=$(git status --porcelain -- . 2>/dev/null || true)
(cd "$board" && "$python" make.py "$folder/made") || fail "it cannot be drawn"
diff -r "$folder/made" "$board/made" >/dev/null ||
    fail "made/ is not what make.py makes: $(diff -rq "$folder/made" "$board/made" | head -n 5)"
echo "made/: $(find "$board/made" -type f | wc -l) files, each as the description makes it"
(cd "$board" && "$python" check.py)
[ "$before" = "$(git status --porcelain -- . 2>/dev/null || true)" ] ||
    fail "files were left in the repository"
