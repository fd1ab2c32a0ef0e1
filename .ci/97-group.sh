#!/usr/bin/env bash
# A workshop group: 500 captures of four laptops worked by Dask's distributed scheduler with one and
# with two workers, through a killed worker and a killed run, bit for bit as by one machine; the set
# asked by DuckDB; what a set keeps and what it takes away; and what all processors of one machine
# gain for `export` and `record verify`.
#
# Alone: it measures captures a second by workers and processors.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
venv=$build/ci/venv-group
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check -r host/group/requirements.txt
. .ci/programs.sh

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
"$bin/make-group" "$folder/captures" "${GROUP_CAPTURES:-500}"
"$venv/bin/python" -B .ci/group.py "$bin/trundle" "$folder" host/group
"$venv/bin/python" -B .ci/group_set.py "$bin/trundle" "$folder" host/group
"$venv/bin/python" -B .ci/group_cores.py "$bin/trundle" "$folder"
