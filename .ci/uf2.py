"""Is a file that is dragged onto a board one that its boot ROM takes, and does it hold the image?

    python3 -B uf2.py FILE IMAGE

`FILE` is held to the UF2 specification (README.md of microsoft/uf2, "File format", "Flags",
"Payload sizes"; the family's number in utils/uf2families.json there). `IMAGE` are the bytes that
belong at the flash's beginning, as `objcopy -O binary --gap-fill 0xff` gives them.
"""

import pathlib
import struct
import sys

BLOCK, HEAD, PAGE = 512, 32, 256
START = (0x0A324655, 0x9E5D5157)
END = 0x0AB16F30
HAS_FAMILY = 0x2000
RP2040 = 0xE48BFF56
# Where the flash is seen, and where the board keeps its log of boots: the last two sectors of the
# 2 MiB of a Pico (`firmware-sim/pico/README.md`), which a new file must not touch.
FLASH, LOG = 0x10000000, 0x10000000 + 2 * 1024 * 1024 - 2 * 4096


def faults(file, image):
    """What is wrong with the file, in words; nothing if it is right."""
    if not file or len(file) % BLOCK:
        return [f"{len(file)} bytes are no whole blocks of {BLOCK}"]
    found, total, held = [], len(file) // BLOCK, b""
    for number in range(total):
        block = file[number * BLOCK:(number + 1) * BLOCK]
        *start, flags, address, used, told, of, family = struct.unpack("<8I", block[:HEAD])
        wanted = FLASH + number * PAGE
        right = {
            "magic number": (*start, *struct.unpack("<I", block[-4:])) == (*START, END),
            "flags": flags == HAS_FAMILY,
            "family": family == RP2040,
            "size of the data": used == PAGE,
            "number": told == number,
            "count of blocks": of == total,
            "address": address == wanted and address + PAGE <= LOG,
            "padding": set(block[HEAD + PAGE:-4]) == {0xFF},
        }
        found += [f"block {number}: {name}" for name, good in right.items() if not good]
        held += block[HEAD:HEAD + PAGE]
    if held != image + b"\xff" * (-len(image) % PAGE):
        found.append("the data are not those of the image")
    return found


def damaged(file):
    """The file with each word of a block's head, its data, padding and end changed in turn."""
    for at in [*range(0, HEAD, 4), HEAD, HEAD + PAGE, BLOCK - 4]:
        place = len(file) // BLOCK // 2 * BLOCK + at
        yield f"byte {place}", file[:place] + bytes([file[place] ^ 1]) + file[place + 1:]
    yield "no last block", file[:-BLOCK]
    yield "no last byte", file[:-1]


def main(path, image_path):
    file, image = (pathlib.Path(name).read_bytes() for name in (path, image_path))
    found = faults(file, image)
    for fault in found:
        print(f"{path}: {fault}", file=sys.stderr)
    # A check that cannot fail holds nothing.
    for what, bytes_ in damaged(file) if not found else ():
        if not faults(bytes_, image):
            found.append(what)
            print(f"{path}: taken although damaged: {what}", file=sys.stderr)
    print(f"{pathlib.Path(path).name}: {len(file) // BLOCK} blocks for an RP2040, "
          f"{len(image)} bytes from {FLASH:#x}, {len(found)} faults")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
