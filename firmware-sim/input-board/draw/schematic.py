"""The schematic, on sheets that fit A4."""

import schemdraw.elements as elm

from board.circuit import CHANNELS, CONTACTS, GND, TEST_GPIO, V5, V33, Channel, Part
from draw.sheet import Sheet

# Height of one input on its sheet.
_STEP = 8.2


def _channel(s: Sheet, c: Channel, top: float):
    """An input: divider and clamp, low-pass, comparator, reference with hysteresis, pull-up."""
    n, name = c.number, c.name
    tap, low, ref, out = (f"{name}_{end}" for end in ("TAP", "LOW", "REF", "OUT"))
    y, r = top, top - 3.6
    s.text((-1.2, y + 1.6), f"{name}: {'PPS of the receiver' if name == 'PPS' else 'signal'}", 12)
    s.end((0, y), f"{name}_IN", "left")
    s.two(f"R{n}1", (0, y), (3, y), (f"{name}_IN", tap))
    s.dot((3, y))
    s.two(f"D{n}1", (3, y), (3, y - 2), (tap, GND), "left")
    s.ground((3, y - 2))
    s.two(f"R{n}2", (3, y), (6, y), (tap, low))
    s.dot((6, y))
    s.two(f"R{n}3", (6, y), (6, y - 2), (low, GND))
    s.ground((6, y - 2))
    s.line((6, y), (8, y))
    s.dot((8, y))
    s.two(f"C{n}1", (8, y), (8, y - 2), (low, GND))
    s.ground((8, y - 2))
    amplifier = s.drawing.add(elm.Opamp().anchor("in1").at((11, y)).theta(0))
    s.line((8, y), amplifier.in1)
    x, middle = amplifier.out
    s.text((x - 1.35, middle - 0.08), c.ref, 9)
    for anchor, leg, side in ((amplifier.in1, c.inverting, 0.1), (amplifier.in2, c.following, 0.1)):
        s.text((anchor[0] - 0.35, anchor[1] + side), leg, 8)
    s.text((x + 0.1, middle + 0.15), c.output, 8)
    s.line(amplifier.in2, (10.4, amplifier.in2[1]), (10.4, r))
    s.dot((10.4, r))
    s.two(f"R{n}4", (7.4, r), (10.4, r), (V33, ref), "bottom")
    s.rail((7.4, r), V33)
    s.two(f"R{n}5", (10.4, r), (10.4, r - 2), (ref, GND))
    s.ground((10.4, r - 2))
    s.two(f"R{n}6", (14.4, r), (10.4, r), (out, ref), "top")
    s.line((14.4, r), (14.4, middle))
    s.line((x, middle), (14.4, middle))
    s.dot((14.4, middle))
    s.two(f"R{n}7", (14.4, middle + 2), (14.4, middle), (V33, out))
    s.rail((14.4, middle + 2), V33)
    s.line((14.4, middle), (16, middle))
    s.end((16, middle), c.gpio, "right")


def _supply(s: Sheet, y: float):
    s.text((-1.2, y + 1.6), "SUPPLY: measured only", 12)
    s.end((0, y), "SUPPLY_IN", "left")
    s.two("R51", (0, y), (3, y), ("SUPPLY_IN", "SUPPLY_TAP"))
    s.dot((3, y))
    s.two("D51", (3, y), (3, y - 2), ("SUPPLY_TAP", GND), "left")
    s.two("R52", (3, y), (6, y), ("SUPPLY_TAP", "SUPPLY_LOW"))
    s.dot((6, y))
    s.two("R53", (6, y), (6, y - 2), ("SUPPLY_LOW", GND))
    s.line((6, y), (8, y))
    s.dot((8, y))
    s.two("C51", (8, y), (8, y - 2), ("SUPPLY_LOW", GND))
    for x in (3, 6, 8):
        s.ground((x, y - 2))
    s.line((8, y), (10, y))
    s.end((10, y), "GP26 (ADC0)", "right")


def _contact(s: Sheet, name: str, n: int, gpio: str, y: float):
    led, back, out = f"{name}_LED", f"{name}_BACK", f"{name}_OUT"
    s.text((-1.2, y + 1.6), f"{name}: contact to ground", 12)
    part = s.take(f"U{n}")
    if part.nets != {"1": led, "2": back, "3": GND, "4": out}:
        raise ValueError(f"U{n} hangs elsewhere: {part.nets}")
    s.end((0, y - 2), f"{name}_IN", "left")
    s.two(f"D{n}1", (0, y - 2), (3, y - 2), (f"{name}_IN", back), "bottom")
    s.dot((3, y - 2))
    s.dot((3, y))
    s.two(f"D{n}2", (3, y), (3, y - 2), (led, back), "left")
    s.two(f"R{n}1", (0, y), (3, y), (V5, led))
    s.rail((0, y), V5)
    s.box((6, y - 2.5), 3.2, 3)
    s.text((6.8, y - 2.9), f"U{n} {part.kind.value}")
    s.line((3, y), (7, y))
    s.line((3, y - 2), (7, y - 2))
    s.drawing.add(elm.LED().at((7, y)).to((7, y - 2)))
    s.drawing.add(elm.BjtNpn(circle=False).anchor("collector").at((8.6, y - 0.3)).theta(0))
    s.line((8.6, y - 0.3), (8.6, y), (11, y))
    s.line((8.6, y - 1.7), (8.6, y - 2), (10, y - 2))
    s.ground((10, y - 2))
    s.dot((11, y))
    s.two(f"R{n}2", (11, y + 2), (11, y), (V33, out))
    s.rail((11, y + 2), V33)
    s.line((11, y), (13, y))
    s.end((13, y), gpio, "right")
    for x, up, leg in ((6.1, 0.1, "1"), (6.1, -1.9, "2"), (9.3, -1.9, "3"), (9.3, 0.1, "4")):
        s.text((x - 0.35 if x < 7 else x, y + up), leg, 8)


def _rest(s: Sheet, y: float):
    """Power of the comparators, the resting half, the test signal, and the way of the ground."""
    s.text((-1.2, y + 1.6), "POWER, TEST SIGNAL", 12)
    for x, ref, cap, high, low in ((1, "U1", "C91", "3", "12"), (6, "U2", "C92", "8", "4")):
        part = s.take(ref)
        if (part.nets[high], part.nets[low]) != (V5, GND):
            raise ValueError(f"{ref} is fed elsewhere: {part.nets}")
        s.rail((x, y), V5)
        s.line((x, y), (x, y - 0.4))
        s.box((x - 1.1, y - 1.9), 2.2, 1.5)
        s.text((x - 0.9, y - 1.2), f"{ref} {part.kind.value}", 9)
        s.text((x + 0.08, y - 0.3), high, 8)
        s.text((x + 0.08, y - 2.2), low, 8)
        s.line((x, y - 1.9), (x, y - 2.3))
        s.ground((x, y - 2.3))
        s.line((x, y), (x + 2, y))
        s.two(cap, (x + 2, y), (x + 2, y - 2.3), (V5, GND))
        s.ground((x + 2, y - 2.3))
    s.text((4.6, y - 3.6), "U2: leg 5 to ground, leg 6 to 3.3 V, leg 7 open", 9)
    s.end((11, y), TEST_GPIO, "left")
    s.two("R91", (11, y), (14, y), ("TEST_OUT", "TEST"))
    s.end((14, y), "TEST (P1)", "right")
    s.text((10.4, y - 1.4), "P2 to P8: a pin on each of", 9)
    s.text((10.4, y - 2.0), "GP2 to GP8, for the bridge", 9)
    s.text((10.4, y - 2.6), "5 V: leg 39 (VSYS) of the Pico", 9)
    s.text((10.4, y - 3.2), "3.3 V: leg 36 (3V3 OUT)", 9)


def _isolated(s: Sheet, y: float):
    """Line and power across the barrier, drawn left (computer) to right (board)."""
    boxes = (
        ("A2", 0, y - 7.2, 3, 7.8),
        ("U3", 7.4, y - 5.2, 3.4, 5.2),
        ("U4", 7.4, y - 10.2, 3.4, 3),
    )
    for ref, x, low, width, height in boxes:
        part = s.take(ref)
        s.box((x, low), width, height)
        s.text((x if ref == "A2" else x + 1.9, low + height + 0.15), f"{ref} {part.kind.value}", 10)
    rows = (
        ("PC_3V3", y - 1, "3", "1", V33, "8"),
        ("PC_RXD", y - 2.2, "5", "2", "UART_TX", "7"),
        ("PC_TXD", y - 3.4, "4", "3", "UART_RX", "6"),
        ("PC_GND", y - 4.6, "1", "4", GND, "5"),
    )
    names = {"UART_TX": "GP0 (TX)", "UART_RX": "GP1 (RX)"}
    for net, at, adapter, near, beyond, far in rows:
        ends = (("A2", adapter, net), ("U3", near, net), ("U3", far, beyond))
        if any(s.parts[ref].nets[leg] != wanted for ref, leg, wanted in ends):
            raise ValueError(f"the isolated line differs at {net}")
        s.line((3, at), (7.4, at))
        s.text((3.3, at + 0.12), net, 9)
        s.text((2.55, at - 0.1), adapter, 9)
        s.text((7.5, at - 0.1), near, 9)
        s.text((10.45, at - 0.1), far, 9)
        s.line((10.8, at), (14.2, at))
        if beyond in names:
            s.end((14.2, at), names[beyond], "right")
    s.rail((14.2, y - 1), V33)
    s.ground((14.2, y - 4.6))
    s.two("C93", (5.4, y - 1), (5.4, y - 4.6), ("PC_3V3", "PC_GND"))
    s.two("C94", (12.4, y - 1), (12.4, y - 4.6), (V33, GND))
    for x, at in ((5.4, y - 1), (5.4, y - 4.6), (12.4, y - 1), (12.4, y - 4.6)):
        s.dot((x, at))
    s.line((3, y - 6.4), (5.6, y - 6.4), (5.6, y - 8.0), (7.4, y - 8.0))
    s.text((3.1, y - 6.28), "PC_5V", 9)
    s.line((4.7, y - 4.6), (4.7, y - 9.4), (7.4, y - 9.4))
    s.dot((4.7, y - 4.6))
    legs = ((7.5, 8.1, "2"), (7.5, 9.5, "1"), (10.45, 8.1, "4"), (10.45, 9.5, "3"))
    for x, down, leg in legs:
        s.text((x, y - down), leg, 9)
    s.text((2.55, y - 6.5), "2", 9)
    s.line((10.8, y - 9.4), (14.2, y - 9.4))
    s.ground((14.2, y - 9.4))
    s.two("D91", (14.2, y - 8), (10.8, y - 8), (V5, "ISO_5V"), "bottom")
    s.rail((14.2, y - 8), V5)
    s.text((14.5, y - 8.2), "to leg 39 (VSYS)", 9)
    s.drawing.add(elm.Line(ls="--").at((9.1, y + 1.2)).to((9.1, y - 11.4)))
    s.text((6.4, y + 1.0), "computer", 10)
    s.text((9.4, y + 1.0), "tractor", 10)


def sheets(parts: list[Part], isolated: list[Part]) -> dict[str, str]:
    """Every sheet by the name of its file; raises when a part is missing on them."""
    out, drawn = {}, []

    def keep(name: str, sheet: Sheet):
        out[name] = sheet.svg()
        drawn.extend(sheet.drawn)

    for name, some in (("schematic-1.svg", CHANNELS[:2]), ("schematic-2.svg", CHANNELS[2:4])):
        sheet = Sheet(parts)
        for i, c in enumerate(some):
            _channel(sheet, c, -i * _STEP)
        keep(name, sheet)
    sheet = Sheet(parts)
    _channel(sheet, CHANNELS[4], 0)
    _supply(sheet, -_STEP)
    keep("schematic-3.svg", sheet)
    sheet = Sheet(parts)
    for i, (name, n, gpio) in enumerate(CONTACTS):
        _contact(sheet, name, n, gpio, -i * 6)
    _rest(sheet, -11.5)
    keep("schematic-4.svg", sheet)
    sheet = Sheet(isolated)
    _isolated(sheet, 0)
    keep("schematic-isolated.svg", sheet)
    symbols = {p.ref for p in isolated if p.role not in ("terminal", "test pin", "processor")}
    if set(drawn) != symbols:
        raise ValueError(f"not drawn, or not there: {sorted(symbols ^ set(drawn))}")
    return out
