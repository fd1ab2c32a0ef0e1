#!/usr/bin/env bash
# What the program is made of: licences, sources, versions beside each other, build scripts, unsafe
# code; held to .ci/supply.toml.
set -euo pipefail
cd "$(dirname "$0")/.."

cargo metadata --format-version 1 --locked | python3 .ci/supply.py
# No registry that these checks install from carries a copy of the public list of known faults (its
# readers are to be had, the list is not), so nothing here is held against it.
echo "not checked: known faults of these packages. No offline copy of a list of advisories is to be"
echo "had from the package registries. Before a release, hold Cargo.lock against one by hand."
