"""Does the strip board connect what the netlist connects, and nothing else?"""

from board.circuit import NO_CONNECTION, Part
from board.layout import COLUMNS, ROWS, Layout, Place, name_of

# Legs of a part that are joined inside it: the Pico's grounds (its AGND is not counted among them).
_JOINED_NAMES = {"A1": "GND"}
# Holes from leg to leg that a body allows, lying flat; one hole only where it stands upright.
_SPAN = {
    "0207": range(4, 11),
    "DO-35": range(3, 11),
    "DO-41": range(4, 11),
    "disc": range(2, 3),
    "TERM-2": range(2, 3),
}
UPRIGHT = ("D72", "D82")


class _Pieces:
    """Pieces of copper, joined step by step."""

    def __init__(self):
        self.above: dict = {}

    def find(self, one):
        self.above.setdefault(one, one)
        while self.above[one] != one:
            one = self.above[one]
        return one

    def join(self, one, other):
        self.above[self.find(one)] = self.find(other)


def _copper(layout: Layout) -> dict[Place, tuple[int, int]]:
    """The piece of strip at each hole that was not cut."""
    out = {}
    for row in range(ROWS):
        piece = 0
        for column in range(COLUMNS):
            if (row, column) in layout.cuts:
                piece += 1
            else:
                out[row, column] = (row, piece)
    return out


def _holes(layout: Layout) -> list[str]:
    """Holes off the board, cut, or used twice."""
    used: dict[Place, str] = {}
    out = []
    ends = [(f"{ref}.{leg}", place) for (ref, leg), place in layout.legs.items()]
    for i, wire in enumerate(layout.wires, 1):
        ends += [(f"wire {i}", wire.start), (f"wire {i}", wire.end)]
    for who, place in ends:
        if not (0 <= place[0] < ROWS and 0 <= place[1] < COLUMNS):
            out.append(f"{who} is off the board: {place}")
        elif place in layout.cuts:
            out.append(f"{who} is in the cut hole {name_of(place)}")
        elif place in used:
            out.append(f"{who} and {used[place]} are both in {name_of(place)}")
        used[place] = who
    return out


def _covered(places: list[Place]) -> set[Place]:
    """The holes under a part: the smallest rectangle around its legs."""
    rows, columns = [r for r, _ in places], [c for _, c in places]
    return {
        (row, column)
        for row in range(min(rows), max(rows) + 1)
        for column in range(min(columns), max(columns) + 1)
    }


def _terminal_body(places: list[Place]) -> set[Place]:
    """The holes under a screw terminal: one beyond each leg, two to either side."""
    (r1, c1), (r2, c2) = places
    along, across = 1, 2
    high, wide = (across, along) if r1 == r2 else (along, across)
    return _covered([(r1 - high, c1 - wide), (r2 + high, c2 + wide)])


def _under_terminals(parts: list[Part], layout: Layout) -> list[str]:
    """Legs, bodies and ends of wires where a terminal sits; terminals may touch one another."""
    bodies, other = {}, [(f"wire {i}", {w.start, w.end}) for i, w in enumerate(layout.wires, 1)]
    for part in parts:
        places = [layout.legs[part.ref, leg] for leg, _, _ in part.kind.legs]
        if part.kind.package == "TERM-2":
            bodies[part.ref] = _terminal_body(places)
        else:
            other.append((part.ref, _covered(places)))
    return [
        f"{who} is under {ref}" for who, at in other for ref, body in bodies.items() if at & body
    ]


def _spans(parts: list[Part], layout: Layout) -> list[str]:
    """Legs too near or too far for the body, and whatever is under a part."""
    out = []
    under: dict[Place, str] = {}
    for part in parts:
        places = [layout.legs[part.ref, leg] for leg, _, _ in part.kind.legs]
        allowed = range(1, 2) if part.ref in UPRIGHT else _SPAN.get(part.kind.package)
        if allowed is not None:
            (r1, c1), (r2, c2) = places
            if r1 != r2 and c1 != c2:
                out.append(f"{part.ref} lies aslant")
            if abs(r1 - r2) + abs(c1 - c2) not in allowed:
                out.append(f"{part.ref} spans {abs(r1 - r2) + abs(c1 - c2)} holes")
        for place in _covered(places):
            if place in under:
                out.append(f"{part.ref} lies on {under[place]}")
            under[place] = part.ref
    for i, wire in enumerate(layout.wires, 1):
        for place in (wire.start, wire.end):
            if place in under:
                out.append(f"wire {i} ends under {under[place]}, in {name_of(place)}")
    return sorted(set(out)) + _under_terminals(parts, layout)


def faults(parts: list[Part], layout: Layout) -> list[str]:
    """All that is wrong; empty when board and netlist connect the same."""
    out = _holes(layout)
    wanted = {(part.ref, leg) for part in parts for leg in part.nets}
    if wanted != set(layout.legs):
        out.append(f"parts differ: {sorted(wanted ^ set(layout.legs))}")
    if out:
        return out
    out = _spans(parts, layout)
    copper, pieces = _copper(layout), _Pieces()
    for wire in layout.wires:
        pieces.join(copper[wire.start], copper[wire.end])
    for part in parts:
        same = [leg for leg, name, _ in part.kind.legs if name == _JOINED_NAMES.get(part.ref)]
        for leg in same[1:]:
            pieces.join(copper[layout.legs[part.ref, leg]], copper[layout.legs[part.ref, same[0]]])
    on_piece: dict = {}
    for part in parts:
        for leg, net in part.nets.items():
            alone = f"{part.ref}.{leg} alone" if net == NO_CONNECTION else net
            piece = pieces.find(copper[layout.legs[part.ref, leg]])
            on_piece.setdefault(piece, {}).setdefault(alone, []).append(f"{part.ref}.{leg}")
    for found in on_piece.values():
        if len(found) > 1:
            out.append(f"joined, but apart in the netlist: {found}")
    nets = [net for found in on_piece.values() for net in found]
    out += [f"in pieces on the board: {net}" for net in sorted(set(nets)) if nets.count(net) > 1]
    for wire in layout.wires:
        if wire.net not in on_piece.get(pieces.find(copper[wire.start]), {}):
            out.append(f"a wire of {wire.net} starts elsewhere, at {name_of(wire.start)}")
    return out
