#!/usr/bin/env bash
# What the program is made of: licences, sources, versions beside each other, build scripts, unsafe
# code; held to .ci/supply.toml.
set -euo pipefail
cd "$(dirname "$0")/.."

cargo metadata --format-version 1 --locked | python3 .ci/supply.py
