#!/usr/bin/env bash
# The board's firmware as it would run: built for its processor, held to its sizes, and run under
# an emulated one. No count may be lost at the rates that are promised, and a whole measured
# course through it must give the value of the simulated board.
set -euo pipefail
cd "$(dirname "$0")/.."

# Bytes. The counter core asks for a board of 8 KiB; a program of 32 KiB fits the smallest parts.
flash_limit=$((32 * 1024))
static_limit=$((8 * 1024))
fail() { printf 'image: %s\n' "$*" >&2; exit 1; }

# A compiler with the sources of its core library; the project's own has none for this processor.
packages=()
[ -x /usr/bin/rustc ] && [ -d /usr/lib/rustlib/src/rust/library/core ] ||
    packages+=(rustc-web rust-web-src)
command -v arm-none-eabi-ld >/dev/null || packages+=(binutils-arm-none-eabi)
command -v qemu-system-arm >/dev/null || packages+=(qemu-system-arm)
if [ "${#packages[@]}" -gt 0 ]; then
    echo "installing: ${packages[*]}"
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${packages[@]}" \
        >/dev/null
fi
for tool in arm-none-eabi-ld arm-none-eabi-size qemu-system-arm /usr/bin/rustc; do
    command -v "$tool" >/dev/null || fail "$tool is missing and could not be installed"
done
[ -d /usr/lib/rustlib/src/rust/library/core ] || fail "the sources of the core library are missing"
/usr/bin/rustc --version
qemu-system-arm --version | head -n 1

# The core library is built too, which wants a switch that a released compiler does not have.
(
    cd firmware-sim/image
    cargo fmt --check
    # Flags from outside would take the place of those in this folder's own settings.
    env -u RUSTFLAGS RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1 \
        cargo build --release --locked --target-dir ../../target/image
)
elf=target/image/thumbv7m-none-eabi/release/trundle-image
read -r text data bss < <(arm-none-eabi-size "$elf" | awk 'NR == 2 { print $1, $2, $3 }')
flash=$((text + data)) static=$((data + bss))
echo "flash $flash of $flash_limit bytes, static memory $static of $static_limit bytes"
[ "$flash" -lt "$flash_limit" ] || fail "the image is too large for its flash"
[ "$static" -lt "$static_limit" ] || fail "the image wants too much static memory"

build=${CARGO_TARGET_DIR:-target}
cargo build --release --workspace --locked
"$build/release/image-check" "$elf"
