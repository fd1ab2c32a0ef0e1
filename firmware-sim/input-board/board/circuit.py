"""The circuit: every part with the nets of its legs. All else is made of this.

Parts are numbered by block: R11 to R17 belong to the wheel's input, R21 to R27 to the radar's.
A net that leaves the board through the signal socket ends in `_IN`.
"""

from dataclasses import dataclass, field

from board import kinds
from board.kinds import Kind

GND, V5, V33 = "GND", "5V", "3V3"
NO_CONNECTION = "NC"


@dataclass(frozen=True)
class Part:
    """One part: `nets` by the number of the leg, `role` what it does in its block."""

    ref: str
    kind: Kind
    block: str
    role: str
    nets: dict[str, str] = field(hash=False)


@dataclass(frozen=True)
class Channel:
    """An input through a comparator: its number, its pin at the Pico, and its comparator's legs."""

    name: str
    number: int
    gpio: str
    ref: str
    inverting: str
    following: str
    output: str
    upper: str
    hysteresis: str


# Socket levels switch near 4.5 and 3.2 V, those of a receiver's PPS near 1.9 and 1.3 V.
CHANNELS = (
    Channel("WHEEL", 1, "GP2", "U1", "4", "5", "2", "47k", "100k"),
    Channel("RADAR", 2, "GP3", "U1", "6", "7", "1", "47k", "100k"),
    Channel("PTO", 3, "GP4", "U1", "8", "9", "14", "47k", "100k"),
    Channel("WORK", 4, "GP5", "U1", "10", "11", "13", "47k", "100k"),
    Channel("PPS", 6, "GP8", "U2", "2", "3", "1", "150k", "330k"),
)
CONTACTS = (("BUTTON", 7, "GP6"), ("GATE", 8, "GP7"))
TERMINALS = (
    ("J1", "WHEEL", "WHEEL_IN", "RADAR_IN"),
    ("J2", "PTO", "PTO_IN", "WORK_IN"),
    ("J3", "SUPPLY", "SUPPLY_IN", GND),
    ("J4", "PPS", "PPS_IN", GND),
    ("J5", "BUTTON", "BUTTON_IN", GND),
    ("J6", "GATE", "GATE_IN", GND),
)
TEST_GPIO = "GP15"


def _two(ref: str, kind: Kind, block: str, role: str, first: str, second: str) -> Part:
    return Part(ref, kind, block, role, {"1": first, "2": second})


def _channel(c: Channel) -> list[Part]:
    """Divider with a Zener diode at its tap, low-pass, reference with hysteresis, pull-up."""
    n, name = c.number, c.name
    tap, low, reference, out = f"{name}_TAP", f"{name}_LOW", f"{name}_REF", f"{name}_OUT"
    rows = (
        ("R", 1, kinds.R["15k"], "series", f"{name}_IN", tap),
        ("D", 1, kinds.ZENER, "clamp", tap, GND),
        ("R", 2, kinds.R["47k"], "upper divider", tap, low),
        ("R", 3, kinds.R["22k"], "lower divider", low, GND),
        ("C", 1, kinds.C150P, "low-pass", low, GND),
        ("R", 4, kinds.R[c.upper], "upper reference", V33, reference),
        ("R", 5, kinds.R["18k"], "lower reference", reference, GND),
        ("R", 6, kinds.R[c.hysteresis], "hysteresis", out, reference),
        ("R", 7, kinds.R["4.7k"], "pull-up", V33, out),
    )
    return [_two(f"{sort}{n}{i}", kind, name, role, a, b) for sort, i, kind, role, a, b in rows]


def _supply() -> list[Part]:
    """100 k over 10 k to ADC0, the Zener diode inside the upper 100 k."""
    rows = (
        ("R51", kinds.R["18k"], "series", "SUPPLY_IN", "SUPPLY_TAP"),
        ("D51", kinds.ZENER, "clamp", "SUPPLY_TAP", GND),
        ("R52", kinds.R["82k"], "upper divider", "SUPPLY_TAP", "SUPPLY_LOW"),
        ("R53", kinds.R["10k"], "lower divider", "SUPPLY_LOW", GND),
        ("C51", kinds.C100N, "low-pass", "SUPPLY_LOW", GND),
    )
    return [_two(ref, kind, "SUPPLY", role, a, b) for ref, kind, role, a, b in rows]


def _contact(name: str, n: int) -> list[Part]:
    """The contact lights the optocoupler.

    One diode keeps back whatever else is on the wire, the other what a fast spike pushes through
    it all the same.
    """
    led, back, out = f"{name}_LED", f"{name}_BACK", f"{name}_OUT"
    return [
        _two(f"R{n}1", kinds.R["3.3k"], name, "series", V5, led),
        _two(f"D{n}2", kinds.DIODE, name, "keep", led, back),
        _two(f"D{n}1", kinds.DIODE, name, "block", f"{name}_IN", back),
        Part(f"U{n}", kinds.OPTO, name, "opto", {"1": led, "2": back, "3": GND, "4": out}),
        _two(f"R{n}2", kinds.R["47k"], name, "pull-up", V33, out),
    ]


def _comparators() -> list[Part]:
    nets: dict[str, dict[str, str]] = {
        "U1": {"3": V5, "12": GND},
        # The second half rests: its output holds low and leads nowhere.
        "U2": {"8": V5, "4": GND, "5": GND, "6": V33, "7": NO_CONNECTION},
    }
    for c in CHANNELS:
        ends = ((c.inverting, "LOW"), (c.following, "REF"), (c.output, "OUT"))
        nets[c.ref].update({leg: f"{c.name}_{end}" for leg, end in ends})
    return [
        Part("U1", kinds.QUAD, "COMMON", "comparators", nets["U1"]),
        Part("U2", kinds.DUAL, "COMMON", "comparators", nets["U2"]),
        _two("C91", kinds.C100N, "COMMON", "bypass", V5, GND),
        _two("C92", kinds.C100N, "COMMON", "bypass", V5, GND),
    ]


def _test_pins() -> list[Part]:
    """The board's own test signal, and a pin at each input for a bridge to it.

    The resistor lets signal and comparator hold against each other for ever without harm.
    """
    parts = [_two("R91", kinds.R["470"], "COMMON", "test", "TEST_OUT", "TEST")]
    names = [c.name for c in CHANNELS] + [name for name, _, _ in CONTACTS]
    nets_of = ["TEST"] + [f"{name}_OUT" for name in names]
    parts += [
        Part(f"P{i + 1}", kinds.PIN, "COMMON", "test pin", {"1": net})
        for i, net in enumerate(nets_of)
    ]
    return parts


def _pico(more: dict[str, str]) -> Part:
    by_name = {"GND": GND, "AGND": GND, "3V3": V33, "VSYS": V5, "ADC0": "SUPPLY_LOW"} | more
    by_name[TEST_GPIO] = "TEST_OUT"
    by_name |= {c.gpio: f"{c.name}_OUT" for c in CHANNELS}
    by_name |= {gpio: f"{name}_OUT" for name, _, gpio in CONTACTS}
    legs = kinds.PICO.legs
    return Part(
        "A1",
        kinds.PICO,
        "COMMON",
        "processor",
        {number: by_name.get(name, NO_CONNECTION) for number, name, _ in legs},
    )


def _isolated() -> list[Part]:
    """The line to the computer through an isolator, the power through an isolated converter."""
    back, usb, logic = "PC_GND", "PC_5V", "PC_3V3"
    line = {"1": back, "2": usb, "3": logic, "4": "PC_TXD", "5": "PC_RXD"}
    wall = {"1": logic, "2": "PC_RXD", "3": "PC_TXD", "4": back}
    wall |= {"5": GND, "6": "UART_RX", "7": "UART_TX", "8": V33}
    return [
        Part("A2", kinds.ADAPTER, "ISOLATED", "adapter", line),
        Part("U3", kinds.ISOLATOR, "ISOLATED", "isolator", wall),
        _two("C93", kinds.C100N, "ISOLATED", "bypass", logic, back),
        _two("C94", kinds.C100N, "ISOLATED", "bypass", V33, GND),
        Part(
            "U4",
            kinds.CONVERTER,
            "ISOLATED",
            "converter",
            {"1": back, "2": usb, "3": GND, "4": "ISO_5V"},
        ),
        _two("D91", kinds.SCHOTTKY, "ISOLATED", "feed", V5, "ISO_5V"),
    ]


def circuit(isolated: bool = False) -> list[Part]:
    """All parts of the board; `isolated` adds the line and power across the barrier."""
    parts = [part for c in CHANNELS[:4] for part in _channel(c)]
    parts += _supply() + _channel(CHANNELS[4])
    parts += [part for name, n, _ in CONTACTS for part in _contact(name, n)]
    parts += _comparators()
    for ref, block, first, second in TERMINALS:
        kind = kinds.terminal((first.removesuffix("_IN"), second.removesuffix("_IN")))
        parts.append(_two(ref, kind, block, "terminal", first, second))
    parts += _test_pins()
    uart = {"GP0": "UART_TX", "GP1": "UART_RX"} if isolated else {}
    parts.append(_pico(uart))
    return parts + (_isolated() if isolated else [])


def nets(parts: list[Part]) -> dict[str, set[tuple[str, str]]]:
    """The legs (part, leg) on each net; legs that lead nowhere are left out."""
    out: dict[str, set[tuple[str, str]]] = {}
    for part in parts:
        for leg, net in part.nets.items():
            if net != NO_CONNECTION:
                out.setdefault(net, set()).add((part.ref, leg))
    return out
