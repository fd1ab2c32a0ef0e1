"""Where each part sits on the strip board: 39 strips of 62 holes, 160 mm by 100 mm.

A place is (row, column), both from 0, seen from the side of the parts; strips run along the rows.
The five inputs are one pattern, side by side in the upper half; the Pico, the comparators and the
contacts share the lower half. `board/strips.py` holds all of this against the netlist.
"""

from dataclasses import dataclass

from board.circuit import CHANNELS, CONTACTS, GND, V5, V33, Part, circuit

ROWS, COLUMNS = 39, 62
Place = tuple[int, int]

# Rows of the upper half; both rows of ground and both of 3.3 V run the whole length.
IN, TOP_V33, TAP, OUT, LOW, REF, MID_GND, LOW_GND, LOW_V33, RAIL_V5 = (
    1,
    2,
    5,
    6,
    9,
    10,
    11,
    14,
    15,
    16,
)
_CUT_ROWS = (IN, TAP, OUT, LOW, REF)
# First column of each input's pattern, and the column of its wires.
_START = {"WHEEL": 0, "RADAR": 11, "PTO": 20, "WORK": 31, "SUPPLY": 40, "PPS": 48}
_WIRES = 7

# Column of the Pico's legs 1 to 20, and of 21 to 40; leg 1 is in the last row, beside the USB.
_PICO_RIGHT, _PICO_LEFT, _PICO_TOP = 27, 20, 19
_TO_BLOCK, _TO_CHIP, _TEST_PINS = 29, 30, 32
_CHIP_LEFT, _CHIP_RIGHT = 38, 41
_QUAD_TOP, _DUAL_TOP, _OPTO_TOP = 20, 29, 20
_OPTO_LEFT = {"BUTTON": 47, "GATE": 56}
_CONTACT_ROW = {"BUTTON": 25, "GATE": 29}
_EDGE = COLUMNS - 1


@dataclass(frozen=True)
class Wire:
    """An insulated wire on the side of the parts, from hole to hole."""

    net: str
    start: Place
    end: Place


@dataclass(frozen=True)
class Layout:
    """Holes of the legs by part and leg, the cut holes, and the wires."""

    legs: dict[tuple[str, str], Place]
    cuts: frozenset[Place]
    wires: tuple[Wire, ...]


def name_of(place: Place) -> str:
    """`C12`: the strip's letter, from A at the terminals, and the hole's number from 1."""
    row, column = place
    letters = chr(65 + row) if row < 26 else "A" + chr(65 + row - 26)
    return f"{letters}{column + 1}"


def pico_place(leg: int) -> Place:
    """The hole of a leg of the Pico, whose USB socket looks over the lower edge."""
    if leg <= 20:
        return (_PICO_TOP + 20 - leg, _PICO_RIGHT)
    return (_PICO_TOP + leg - 21, _PICO_LEFT)


def _chip_place(top: int, legs: int, leg: int, left: int, right: int) -> Place:
    half = legs // 2
    return (top + leg - 1, left) if leg <= half else (top + legs - leg, right)


def _channel_legs(number: int, start: int) -> dict[tuple[str, str], Place]:
    """The pattern of an input: each part stands across the strips, in a column of its own."""
    rows = (
        ("R", 1, 0, IN, TAP),
        ("R", 2, 1, TAP, LOW),
        ("D", 1, 2, TAP, MID_GND),
        ("R", 3, 3, LOW, LOW_GND),
        ("C", 1, 4, LOW, MID_GND),
        ("R", 4, 5, TOP_V33, REF),
        ("R", 5, 6, REF, LOW_GND),
        ("R", 6, 0, OUT, REF),
        ("R", 7, 4, TOP_V33, OUT),
    )
    out = {}
    for sort, i, column, first, second in rows:
        ref = f"{sort}{number}{i}"
        out |= {(ref, "1"): (first, start + column), (ref, "2"): (second, start + column)}
    return out


def _contact_legs(name: str, number: int) -> dict[tuple[str, str], Place]:
    left, row = _OPTO_LEFT[name], _OPTO_TOP
    out = {(f"U{number}", str(i)): _chip_place(row, 4, i, left, left + 3) for i in range(1, 5)}
    pairs = {
        f"R{number}1": ((RAIL_V5, left - 1), (row, left - 1)),
        f"D{number}2": ((row, left - 2), (row + 1, left - 2)),
        f"D{number}1": ((_CONTACT_ROW[name], left - 1), (row + 1, left - 1)),
        f"R{number}2": ((LOW_V33, left + 4), (row, left + 4)),
    }
    for ref, (first, second) in pairs.items():
        out |= {(ref, "1"): first, (ref, "2"): second}
    return out


def _other_legs() -> dict[tuple[str, str], Place]:
    out = {("A1", str(leg)): pico_place(leg) for leg in range(1, 41)}
    chips = (("U1", _QUAD_TOP, 14), ("U2", _DUAL_TOP, 8))
    for ref, top, legs in chips:
        for leg in range(1, legs + 1):
            out[ref, str(leg)] = _chip_place(top, legs, leg, _CHIP_LEFT, _CHIP_RIGHT)
    pairs = {
        "C91": ((RAIL_V5, 39), (LOW_GND, 39)),
        "C92": ((RAIL_V5, 41), (LOW_GND, 41)),
        "R91": ((_PICO_TOP, 29), (_PICO_TOP, 33)),
        "J1": ((IN, 7), (IN, 9)),
        "J2": ((IN, 27), (IN, 29)),
        "J3": ((IN, 42), (IN, 44)),
        "J4": ((IN, 57), (IN, 59)),
        "J5": ((_CONTACT_ROW["BUTTON"], _EDGE), (_CONTACT_ROW["BUTTON"] + 2, _EDGE)),
        "J6": ((_CONTACT_ROW["GATE"], _EDGE), (_CONTACT_ROW["GATE"] + 2, _EDGE)),
    }
    for ref, (first, second) in pairs.items():
        out |= {(ref, "1"): first, (ref, "2"): second}
    return out


def _gpio_rows(parts: list[Part]) -> dict[str, int]:
    """Row of the Pico's leg on each net."""
    pico = next(part for part in parts if part.ref == "A1")
    return {net: pico_place(int(leg))[0] for leg, net in pico.nets.items()}


def _supply_legs() -> dict[tuple[str, str], Place]:
    start = _START["SUPPLY"]
    rows = (
        ("R51", 0, IN, TAP),
        ("R52", 1, TAP, LOW),
        ("D51", 2, TAP, MID_GND),
        ("R53", 3, LOW, LOW_GND),
        ("C51", 4, LOW, MID_GND),
    )
    out = {}
    for ref, column, first, second in rows:
        out |= {(ref, "1"): (first, start + column), (ref, "2"): (second, start + column)}
    return out


def _cuts() -> frozenset[Place]:
    out = {(row, column) for row in _CUT_ROWS for column in (8, 19, 28, 39, 47)}
    out |= {(IN, 43), (IN, 58)}
    out |= {(row, 23) for row in range(_PICO_TOP, ROWS)}
    out |= {(row, 34) for row in range(_QUAD_TOP, _DUAL_TOP + 4)}
    for top, count in ((_QUAD_TOP, 7), (_DUAL_TOP, 4)):
        out |= {(row, column) for row in range(top, top + count) for column in (40, 44)}
    out |= {(_OPTO_TOP + i, column) for i in (0, 1) for column in (48, 53, 57)}
    out.add((_PICO_TOP, 31))
    return frozenset(out)


def _channel_wires(parts: list[Part], legs: dict) -> list[Wire]:
    """From each input's pattern to its comparator and to the Pico."""
    rows, out = _gpio_rows(parts), []
    for c in CHANNELS:
        column, net = _START[c.name] + _WIRES, f"{c.name}_OUT"
        out.append(Wire(net, (OUT, column), (rows[net], _TO_BLOCK)))
        ends = (
            (net, (rows[net], _TO_CHIP), c.output),
            (f"{c.name}_LOW", (LOW, column), c.inverting),
            (f"{c.name}_REF", (REF, column), c.following),
        )
        for name, start, leg in ends:
            row, at = legs[c.ref, leg]
            out.append(Wire(name, start, (row, at - 1 if at == _CHIP_LEFT else at + 1)))
    return out


def _rail_wires(parts: list[Part]) -> list[Wire]:
    rows = _gpio_rows(parts)
    out = [
        Wire(V33, (pico_place(36)[0], 17), (LOW_V33, 17)),
        Wire(V33, (TOP_V33, 47), (LOW_V33, 47)),
        Wire(V33, (LOW_V33, 44), (_DUAL_TOP + 2, 43)),
        Wire(V5, (pico_place(39)[0], 16), (RAIL_V5, 16)),
        Wire(V5, (RAIL_V5, 36), (_QUAD_TOP + 2, 36)),
        Wire(V5, (RAIL_V5, 42), (_DUAL_TOP, 42)),
        Wire(GND, (pico_place(38)[0], 18), (LOW_GND, 18)),
        Wire(GND, (pico_place(33)[0], 19), (LOW_GND, 19)),
        Wire(GND, (pico_place(18)[0], 30), (LOW_GND, 30)),
        Wire(GND, (LOW_GND, 45), (_QUAD_TOP + 2, 43)),
        Wire(GND, (_DUAL_TOP + 3, 36), (LOW_GND, 38)),
        Wire(GND, (_DUAL_TOP + 3, 37), (_DUAL_TOP + 3, 42)),
        Wire(GND, (MID_GND, 58), (LOW_GND, 58)),
        Wire(GND, (IN, 46), (MID_GND, 46)),
        Wire(GND, (IN, 61), (MID_GND, 61)),
        Wire("SUPPLY_LOW", (LOW, 45), (rows["SUPPLY_LOW"], 18)),
    ]
    for name, _, _ in CONTACTS:
        left, net = _OPTO_LEFT[name], f"{name}_OUT"
        out.append(Wire(net, (_OPTO_TOP, left + 5), (rows[net], _TO_BLOCK)))
        out.append(Wire(GND, (_OPTO_TOP + 1, left + 5), (LOW_GND, left + 5)))
    first, second = (_CONTACT_ROW[name] + 2 for name, _, _ in CONTACTS)
    out.append(Wire(GND, (first, 57), (LOW_GND, 60)))
    out.append(Wire(GND, (second, 58), (first, 58)))
    return out


def layout() -> Layout:
    """The whole layout."""
    parts = circuit()
    legs = _other_legs() | _supply_legs()
    for c in CHANNELS:
        legs |= _channel_legs(c.number, _START[c.name])
    for name, number, _ in CONTACTS:
        legs |= _contact_legs(name, number)
    rows = _gpio_rows(parts)
    for part in (part for part in parts if part.role == "test pin"):
        net = part.nets["1"]
        beside = (rows[net], _TEST_PINS) if net in rows else (_PICO_TOP, _TEST_PINS + 3)
        legs[part.ref, "1"] = beside
    wires = _channel_wires(parts, legs) + _rail_wires(parts)
    return Layout(legs, _cuts(), tuple(wires))
