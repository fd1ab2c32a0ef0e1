"""Draw the program's icon: a wheel with twelve lugs on a line between two pegs, invented here.

usage: icon.py FOLDER

Writes trundle.svg, trundle-48.png and trundle.ico (16, 32, 48 and 256 pixels), all from the one
list of shapes below; the same bytes everywhere, since nothing but this file decides them.
"""

import math
import pathlib
import struct
import sys
import zlib

# Shapes on a square of 64, the later over the earlier, each in one colour.
DARK, PALE, GROUND = (0x1F, 0x3D, 0x36), (0xF4, 0xF1, 0xE6), (0xE0, 0x8A, 0x2B)
HUB = (32.0, 28.0)
LUGS = 12


def shapes():
    """Each is a kind, its numbers and its colour: `box` is corner, size, radius; `disc` is centre
    and radius; `line` is both ends and half the width."""
    yield "box", (0, 0, 64, 64, 12), DARK
    for lug in range(LUGS):
        turn = 2 * math.pi * lug / LUGS
        inner, outer = ([HUB[0] + r * math.sin(turn), HUB[1] - r * math.cos(turn)] for r in (17, 22))
        yield "line", (*inner, *outer, 2.2), PALE
    yield "disc", (*HUB, 18), PALE
    yield "disc", (*HUB, 11), DARK
    yield "disc", (*HUB, 4.5), GROUND
    yield "line", (8, 55, 56, 55, 2), GROUND
    for peg in (8, 56):
        yield "line", (peg, 46, peg, 57, 2), GROUND


def distance(kind, numbers, x, y):
    """From the point to the shape's edge; negative inside."""
    if kind == "disc":
        return math.hypot(x - numbers[0], y - numbers[1]) - numbers[2]
    if kind == "box":
        left, top, width, height, radius = numbers
        dx = abs(x - left - width / 2) - width / 2 + radius
        dy = abs(y - top - height / 2) - height / 2 + radius
        return math.hypot(max(dx, 0), max(dy, 0)) + min(max(dx, dy), 0) - radius
    x1, y1, x2, y2, half = numbers
    along = ((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / ((x2 - x1) ** 2 + (y2 - y1) ** 2)
    along = min(max(along, 0), 1)
    return math.hypot(x - x1 - along * (x2 - x1), y - y1 - along * (y2 - y1)) - half


def pixels(size):
    """Rows of red, green, blue and opacity; an edge covers a pixel as far as it reaches into it."""
    scale = 64 / size
    parts = list(shapes())
    for row in range(size):
        line = bytearray()
        for column in range(size):
            x, y = (column + 0.5) * scale, (row + 0.5) * scale
            colour, opacity = [float(part) for part in DARK], 0.0
            for kind, numbers, paint in parts:
                cover = min(max(0.5 - distance(kind, numbers, x, y) / scale, 0), 1)
                opacity = max(opacity, cover) if kind == "box" else opacity
                colour = [old + cover * (new - old) for old, new in zip(colour, paint)]
            line += bytes(round(part) for part in colour) + bytes([round(255 * opacity)])
        yield bytes(line)


def png(size):
    """The picture as PNG (ISO/IEC 15948: signature, IHDR, IDAT, IEND)."""
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    head = struct.pack(">IIBBBBB", size, size, 8, 6, 0, 0, 0)
    # Filter 0 before each row.
    data = zlib.compress(b"".join(b"\0" + row for row in pixels(size)), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def ico(sizes):
    """Pictures in one file: a head, a line for each, then the pictures as PNG."""
    pictures = [png(size) for size in sizes]
    place = 6 + 16 * len(sizes)
    head = struct.pack("<HHH", 0, 1, len(sizes))
    for size, picture in zip(sizes, pictures):
        head += struct.pack("<BBBBHHII", size % 256, size % 256, 0, 0, 1, 32, len(picture), place)
        place += len(picture)
    return head + b"".join(pictures)


def svg():
    """The same shapes as a drawing."""
    lines = ['<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 64">', "<title>Trundle</title>"]
    for kind, n, colour in shapes():
        n = [f"{number:.3f}".rstrip("0").rstrip(".") for number in n]
        paint = "#%02x%02x%02x" % colour
        if kind == "box":
            lines.append(f'<rect x="{n[0]}" y="{n[1]}" width="{n[2]}" height="{n[3]}" rx="{n[4]}" '
                         f'fill="{paint}"/>')
        elif kind == "disc":
            lines.append(f'<circle cx="{n[0]}" cy="{n[1]}" r="{n[2]}" fill="{paint}"/>')
        else:
            lines.append(f'<path d="M{n[0]} {n[1]}L{n[2]} {n[3]}" stroke="{paint}" '
                         f'stroke-width="{float(n[4]) * 2:g}" stroke-linecap="round"/>')
    return "\n".join(lines) + "\n</svg>\n"


def main(name):
    folder = pathlib.Path(name)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "trundle.svg").write_text(svg(), encoding="utf-8")
    (folder / "trundle-48.png").write_bytes(png(48))
    (folder / "trundle.ico").write_bytes(ico((16, 32, 48, 256)))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
