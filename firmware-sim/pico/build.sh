#!/usr/bin/env bash
# Builds both files that are dragged onto a board, from the sources, into target/pico of the
# project's top: trundle-board.uf2 (USB) and trundle-board-uart.uf2 (the isolated serial line).
# What is built already is not built again.
#
# usage: firmware-sim/pico/build.sh             build; nothing is installed
#        firmware-sim/pico/build.sh --missing   name the Debian packages that are wanted for it
set -euo pipefail
cd "$(dirname "$0")/../.."

fail() { printf 'board files: %s\n' "$*" >&2; exit 1; }

# The compiler of Debian, with the sources of its core library, since the project's own has no core
# library for this processor.
core=/usr/lib/rustlib/src/rust/library/core
missing=()
[ -x /usr/bin/rustc ] && [ -d "$core" ] || missing+=(rustc-web rust-web-src)
command -v arm-none-eabi-ld >/dev/null || missing+=(binutils-arm-none-eabi)
command -v node >/dev/null || missing+=(nodejs)
if [ "${1:-}" = --missing ]; then
    echo "${missing[*]}"
    exit
fi
[ "${#missing[@]}" -eq 0 ] || fail "they cannot be built here: install ${missing[*]}"
command -v cargo >/dev/null || fail "they cannot be built here: cargo is missing"

# The core library is built too, which wants a switch that a released compiler does not have. Flags
# from outside would take the place of those in this folder's own settings. Where the sources lie
# is not to be in the files.
image() { # NAME OPTION...: the image NAME.elf, and NAME.uf2 of it
    local file=target/pico/$1
    (cd firmware-sim/pico && env -u RUSTFLAGS RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1 \
        cargo build --release --locked --target-dir ../../target/pico "${@:2}") ||
        fail "$1 was not built: what the compiler says stands above"
    # Both builds leave theirs under the same name.
    cp target/pico/thumbv6m-none-eabi/release/trundle-pico "$file.elf"
    node firmware-sim/emulator/uf2.mjs "$file.elf" "$file.uf2" ||
        fail "$1.uf2 was not written: what is wrong with the image stands above"
}
image trundle-board
image trundle-board-uart --features uart
