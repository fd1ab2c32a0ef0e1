#!/usr/bin/env bash
# How soon a lost port is found again: the seconds of each case, from the moment it was back.
# They are to be below two; the check fails above four, so that a busy machine does not fail it.
#
# Alone: it measures time.
set -euo pipefail
cd "$(dirname "$0")/.."

cargo test --workspace --test program --locked shell_again:: -- --nocapture --test-threads=1 2>&1 |
    awk '
        /found again after/ { print; seconds = $(NF - 1); cases += 1; if (seconds > worst) worst = seconds }
        /^test result: ok/ { passed = 1 }
        END {
            printf "reconnect: %d cases, the slowest %.2f s\n", cases, worst
            exit !(passed && cases >= 9 && worst < 4)
        }
    '
