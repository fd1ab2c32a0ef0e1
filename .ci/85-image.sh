#!/usr/bin/env bash
# The board's firmware as it would run: built for its processor, held to its sizes, and run under
# an emulated one. No count may be lost at the rates that are promised, and a whole measured
# course through it must give the value of the simulated board.
#
# TRUNDLE_IMAGE_LONG_S: seconds on the wall for the long day at the end (60).
set -euo pipefail
cd "$(dirname "$0")/.."

# Bytes. A Pico has 2 MiB and 264 KiB; stack and statics are held to the first 16 KiB of them.
flash_limit=$((64 * 1024))
memory_limit=$((16 * 1024))
fail() { printf 'image: %s\n' "$*" >&2; exit 1; }

read -ra packages < <(firmware-sim/pico/build.sh --missing)
command -v npm >/dev/null || packages+=(npm)
python3 -c 'import ensurepip, venv' 2>/dev/null || packages+=(python3-venv)
[ "${#packages[@]}" -eq 0 ] || bash .ci/install.sh --no-install-recommends "${packages[@]}"
for tool in arm-none-eabi-{ld,nm,objdump,size} node npm /usr/bin/rustc; do
    command -v "$tool" >/dev/null || fail "$tool is missing and could not be installed"
done
/usr/bin/rustc --version
echo "node $(node --version)"

sizes() { # BUILD: held to its limits
    local elf=target/pico/$1.elf flash statics
    flash=$(arm-none-eabi-size "$elf" | awk 'NR == 2 { print $1 + $2 }')
    # Up to where the stack may grow: what runs from memory is no data to `size`.
    statics=$(arm-none-eabi-nm "$elf" | awk '$3 == "__sheap" { print $1 }')
    [ -n "$statics" ] || fail "the image does not say where its statics end"
    statics=$((16#$statics - 0x20000000))
    echo "$1: flash $flash of $flash_limit bytes, static memory $statics bytes"
    [ "$flash" -lt "$flash_limit" ] || fail "the image is too large for its flash"
    [ "$statics" -lt "$memory_limit" ] || fail "the image wants too much static memory"
    # While the flash is written nothing may be fetched from it.
    if arm-none-eabi-objdump -d -j .data "$elf" | grep -E '\bblx?\b'; then
        fail "what runs from memory calls something that may lie in the flash"
    fi
}
(cd firmware-sim/pico && cargo fmt --check)
firmware-sim/pico/build.sh
sizes trundle-board
sizes trundle-board-uart

# The emulator, at the version that its repairs are made for, and the harness's own tests.
(cd firmware-sim/emulator && npm ci --ignore-scripts --no-audit --no-fund && npm test)

usb=target/pico/trundle-board.elf
uart=target/pico/trundle-board-uart.elf

release=${CARGO_TARGET_DIR:-target}/release
cargo build --release --workspace --locked
"$release/image-check" "$usb"
"$release/image-check" --only inputs target/pico/trundle-board.uf2
"$release/image-check" --uart --only serial "$uart"

# Another emulator's opinion, on counting alone.
venv=target/pico/venv
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install -q --disable-pip-version-check -r firmware-sim/emulator/requirements.txt
"$venv/bin/python" -B firmware-sim/emulator/second.py "$uart"
