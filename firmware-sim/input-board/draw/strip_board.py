"""The strip board drawn from its layout: parts and wires from above, cuts from the copper side."""

from board.circuit import Part
from board.layout import COLUMNS, ROWS, Layout, Place, name_of
from board.strips import UPRIGHT
from draw.lists import sorted_wires
from draw.svg import Svg

# Millimetres on paper from hole to hole; on the board it is 2.54.
PITCH = 4.2
_LEFT, _TOP = 9.0, 16.0
_WIDTH, _HEIGHT = _LEFT * 2 + 5 + (COLUMNS - 1) * PITCH, _TOP + (ROWS - 1) * PITCH + 12


def _xy(place: Place, mirrored: bool = False) -> tuple[float, float]:
    row, column = place
    column = COLUMNS - 1 - column if mirrored else column
    return (_LEFT + column * PITCH, _TOP + row * PITCH)


def _board(title: str, layout: Layout, mirrored: bool) -> Svg:
    """Strips, holes, names of strips and holes, and the cuts."""
    s = Svg(_WIDTH, _HEIGHT, title)
    s.text(_LEFT, 5, title, 3.6, bold=True)
    for row in range(ROWS):
        cuts = sorted(column for r, column in layout.cuts if r == row)
        first = 0
        for end in [*cuts, COLUMNS]:
            if end > first:
                x1, y = _xy((row, first), mirrored)
                x2, _ = _xy((row, end - 1), mirrored)
                s.line((x1, y), (x2, y), width=2.6, colour="#e4e4e4")
                first_hole, last_hole = sorted((x1, x2))
                s.dots((first_hole, y), (last_hole + 0.1, y), PITCH)
            first = end + 1
        for at, anchor in ((2.0, "start"), (_WIDTH - 2.0, "end")):
            s.text(at, _xy((row, 0))[1] + 0.9, name_of((row, 0)).rstrip("1"), 2.5, anchor)
    for column in range(COLUMNS):
        if column == 0 or column % 5 == 4:
            x, _ = _xy((0, column), mirrored)
            for y in (_TOP - 4.5, _HEIGHT - 6.5):
                s.text(x, y, str(column + 1), 2.5, "middle")
    for place in sorted(layout.cuts):
        x, y = _xy(place, mirrored)
        for side in (1, -1):
            s.line((x - 1.3, y - 1.3 * side), (x + 1.3, y + 1.3 * side), width=0.6)
    return s


def _two_legs(s: Svg, part: Part, places: list[Place]):
    """A body between two holes; the line across a diode is at its cathode."""
    (x1, y1), (x2, y2) = (_xy(place) for place in places)
    s.line((x1, y1), (x2, y2), width=0.5)
    for x, y in ((x1, y1), (x2, y2)):
        s.circle(x, y, 0.7, fill="black")
    across = y1 == y2
    x, y = (x1 + x2) / 2, (y1 + y2) / 2
    long = 11.0 if part.kind.package in ("0207", "DO-41") else 8.0
    long = 5.2 if part.kind.package == "disc" else long
    if part.ref in UPRIGHT:
        # It stands in the hole of its A; the ring, and the long leg, are K.
        s.circle(x2, y2, 1.8, fill="white")
        s.circle(x2, y2, 0.7, fill="black")
        s.text(x1 - 1.2, y1 - 2.4, part.ref, 2.3, "middle", halo=True)
        return
    wide, high = (long, 3.2) if across else (3.2, long)
    s.rect(x - wide / 2, y - high / 2, wide, high, fill="white", round_mm=0.8)
    if part.kind.package in ("DO-35", "DO-41"):
        toward = 1 if (y1 > y or x1 > x) else -1
        at = y + toward * (high / 2 - 1.3)
        s.line((x - 1.6, at), (x + 1.6, at), width=1.0)
    if across:
        s.text(x, y + 0.9, part.ref, 2.4, "middle")
    else:
        s.text(x + 0.85, y, part.ref, 2.4, "middle", turn=-90)


def _chip(s: Svg, part: Part, layout: Layout):
    """A body over its rows of legs, a notch at leg 1, the number at the first leg of each row."""
    places = {leg: layout.legs[part.ref, leg] for leg, _, _ in part.kind.legs}
    xs, ys = zip(*(_xy(place) for place in places.values()))
    pad = 2.6 if part.kind.package == "PICO" else 1.2
    left, right, top, bottom = min(xs) + pad, max(xs) - pad, min(ys) - 1.8, max(ys) + 1.8
    if part.kind.package == "PICO":
        left, right = min(xs) - 2.2, max(xs) + 2.2
    s.rect(left, top, right - left, bottom - top, fill="white", round_mm=0.8)
    for leg, place in places.items():
        x, y = _xy(place)
        s.circle(x, y, 0.8, fill="white" if leg == "1" else "black", line=0.6)
    x = (left + right) / 2
    if len(part.nets) > 8:
        words = f"{part.ref} {part.kind.value}"
        s.text(x + 1, (top + bottom) / 2, words, 2.8, "middle", turn=-90)
    else:
        s.text(x, (top + bottom) / 2 + 1, part.ref, 2.8, "middle")
    if part.kind.package == "PICO":
        s.rect(x - 5, bottom - 5, 10, 7, fill="#cccccc")
        s.text(x, bottom - 0.4, "USB", 2.8, "middle")
        for leg, name, _ in part.kind.legs:
            at, y = _xy(places[leg])
            right_side = int(leg) <= 20
            inside = at - 1.6 if right_side else at + 1.6
            s.text(inside, y + 0.8, name, 2.2, "end" if right_side else "start")


def _terminal(s: Svg, part: Part, places: list[Place]):
    (x1, y1), (x2, y2) = (_xy(place) for place in places)
    half = PITCH
    s.rect(
        min(x1, x2) - half,
        min(y1, y2) - half,
        abs(x2 - x1) + 2 * half,
        abs(y2 - y1) + 2 * half,
        fill="white",
        line=0.6,
    )
    for (leg, name, _), (x, y) in zip(part.kind.legs, ((x1, y1), (x2, y2))):
        s.circle(x, y, 1.5, fill="#dddddd")
        s.circle(x, y, 0.7, fill="black")
        if y1 == y2:
            s.text(x, y - 2.1, name, 2.2, "middle")
        else:
            s.text(x - 2.2, y + 0.8, name, 2.3, "end", halo=True)
    if y1 == y2:
        s.text((x1 + x2) / 2, y1 + 3.6, part.ref, 2.6, "middle", bold=True)
    else:
        s.text(x1 + 1.8, (y1 + y2) / 2 + 0.9, part.ref, 2.6, "end", bold=True)


def parts_side(parts: list[Part], layout: Layout) -> str:
    """All parts where they stand; the wires are on a sheet of their own."""
    s = _board("Strip board, side of the parts: parts and cuts (x)", layout, False)
    order = {"PICO": 0, "TERM-2": 1}
    for part in sorted(parts, key=lambda p: order.get(p.kind.package, 2)):
        places = [layout.legs[part.ref, leg] for leg, _, _ in part.kind.legs]
        if part.kind.package == "TERM-2":
            _terminal(s, part, places)
        elif part.kind.package == "PIN":
            x, y = _xy(places[0])
            s.rect(x - 1.2, y - 1.2, 2.4, 2.4, fill="white", line=0.7)
            s.text(x + 2.2, y + 0.9, part.ref, 2.4, halo=True)
        elif len(places) > 2:
            _chip(s, part, layout)
        else:
            _two_legs(s, part, places)
    return s.svg()


def wires_side(parts: list[Part], layout: Layout) -> str:
    """The wires by number, over faint parts of many legs."""
    s = _board("Strip board, side of the parts: wires by their number in the list", layout, False)
    for part in (p for p in parts if len(p.nets) > 2):
        xs, ys = zip(*(_xy(layout.legs[part.ref, leg]) for leg in part.nets))
        s.rect(min(xs), min(ys) - 1.5, max(xs) - min(xs), max(ys) - min(ys) + 3, stroke="#999999")
        s.text(max(xs) - 0.8, min(ys) + 1.2, part.ref, 2.6, "end", halo=True)
    wires = sorted_wires(layout)
    for wire in wires:
        s.line(_xy(wire.start), _xy(wire.end), width=0.45)
    for i, wire in enumerate(wires, 1):
        for x, y in (_xy(wire.start), _xy(wire.end)):
            s.circle(x, y, 1.75, fill="white", line=0.3)
            s.text(x, y + 0.8, str(i), 2.2, "middle")
    return s.svg()


def copper_side(layout: Layout) -> str:
    """The copper with its cuts, mirrored, as one sees it with the board turned over."""
    return _board("Strip board, COPPER side (mirrored): cut at every x", layout, True).svg()
