#!/usr/bin/env bash
# Guided search for bytes that a reader cannot stand: libFuzzer through cargo-fuzz, on a nightly
# compiler, some seconds for each reader (`FUZZ_SECONDS=3600` for a night's search). The bounds that
# are held are those of the seeded damage; what is found is kept as a file and printed.
set -euo pipefail
cd "$(dirname "$0")/.."

seconds=${FUZZ_SECONDS:-8}
build=$(realpath -m "${CARGO_TARGET_DIR:-target}")
fail() { printf 'fuzz: %s\n' "$*" >&2; exit 1; }

rustup run nightly rustc --version ||
    rustup toolchain install nightly --profile minimal --no-self-update
rustup run nightly rustc --version || fail "a nightly compiler is missing and could not be had"
command -v cargo-fuzz >/dev/null || cargo install --locked cargo-fuzz
cargo fuzz --version || fail "cargo-fuzz is missing and could not be installed"
command -v c++ >/dev/null || fail "libFuzzer needs a C++ compiler: install build-essential"

(cd tests/fuzz && cargo fmt --check)
# Without a sanitizer: there is no unsafe code of ours to watch, and a plain build is far quicker.
# Nor with line tables, which cargo-fuzz would have: a panic names its line without them.
RUSTFLAGS=-Cdebuginfo=0 cargo +nightly fuzz build --fuzz-dir tests/fuzz --sanitizer none --target-dir "$build/fuzz"

readers=$(sed -n 's/^name = "\([a-z]*\)"$/\1/p' tests/fuzz/Cargo.toml)
[ "$(wc -w <<<"$readers")" -eq "$(find tests/fuzz/src/bin -name '*.rs' | wc -l)" ] ||
    fail "tests/fuzz/Cargo.toml does not name every reader of tests/fuzz/src/bin"
search() { # READER: bytes that it cannot stand, for some seconds
    local folder=$build/fuzz/$1
    mkdir -p "$folder/kept" "$folder/found"
    "$build"/fuzz/*-linux-gnu/release/"$1" -max_total_time="$seconds" -timeout=10 \
        -rss_limit_mb=1024 -print_final_stats=1 -artifact_prefix="$folder/found/" \
        "$folder/kept" >"$folder/said" 2>&1 || {
        tail -n 40 "$folder/said" >&2
        fail "$1 cannot stand what is in $folder/found"
    }
    local inputs covered
    inputs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$folder/said")
    covered=$(sed -n 's/.*cov: \([0-9]*\).*/\1/p' "$folder/said" | tail -n 1)
    [ "${inputs:-0}" -gt 1000 ] || fail "$1: only ${inputs:-0} inputs in $seconds s"
    printf '%-10s %9s inputs, %5s places covered, %4s MiB at most\n' "$1" "$inputs" "$covered" \
        "$(sed -n 's/^stat::peak_rss_mb: *//p' "$folder/said")"
}
for reader in $readers; do search "$reader"; done
