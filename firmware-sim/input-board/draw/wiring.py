"""The wiring drawing: signal socket to terminals, terminals to the Pico."""

from board.circuit import CHANNELS, CONTACTS, TERMINALS, Part
from draw.lists import FUSE
from draw.svg import Svg

# Pin of the socket, what it carries, net of the board; pins from memory: measure before use.
SOCKET = (
    ("1", "true ground speed (radar)", "RADAR_IN"),
    ("2", "theoretical ground speed (wheel)", "WHEEL_IN"),
    ("3", "PTO", "PTO_IN"),
    ("4", "implement in work", "WORK_IN"),
    ("5", "linkage position: not connected", ""),
    ("6", "supply, behind the ignition", "SUPPLY_IN"),
    ("7", "ground", "GND"),
)
_OTHERS = (
    ("receiver", "PPS", "PPS_IN"),
    ("receiver", "ground", "GND"),
    ("button", "one wire", "BUTTON_IN"),
    ("button", "other wire", "GND"),
    ("light gate", "switched contact", "GATE_IN"),
    ("light gate", "ground", "GND"),
)
_ROW = 9.0


def _gpio(net: str) -> str:
    pins = {f"{c.name}_IN": c.gpio for c in CHANNELS}
    pins |= {f"{name}_IN": gpio for name, _, gpio in CONTACTS}
    return pins.get(net, "GP26 (ADC0)" if net == "SUPPLY_IN" else "")


def _terminals(parts: list[Part]) -> list[tuple[str, str, str]]:
    """Terminal, its lettering and its net, in the order of the board's edge."""
    known = {part.ref: part for part in parts}
    out = []
    for ref, _, *named in TERMINALS:
        if list(known[ref].nets.values()) != named:
            raise ValueError(f"{ref} carries {known[ref].nets}")
        out += [(ref, net.removesuffix("_IN"), net) for net in named]
    return out


def drawing(parts: list[Part]) -> str:
    s = Svg(190, 146, "Wiring: from the signal socket to the Pico")
    s.text(5, 8, "Wiring: from the signal socket to the Pico", 4.2, bold=True)
    words = "Pins of the socket are from memory: MEASURE each before you connect it."
    s.text(5, 14, f"{words} Pin 6 has a fuse at the plug.", 3.2)
    heads = ((5, "signal socket (ISO 11786)"), (98, "terminal"), (152, "pin of the Pico"))
    for x, words in heads:
        s.text(x, 22, words, 3.2, bold=True)
    terminals = _terminals(parts)
    places, top = {}, 30.0
    for i, (ref, name, net) in enumerate(terminals):
        y = top + i * _ROW
        s.rect(98, y - 3.4, 26, 6.8, fill="white", line=0.5)
        s.text(100, y + 1.1, f"{ref}  {name}", 3.0)
        places.setdefault(net, []).append(y)
        if _gpio(net):
            s.arrow((124, y), (150, y))
            s.rect(130, y - 2.6, 12, 5.2, fill="white")
            s.text(136, y + 0.9, "circuit", 2.6, "middle")
            s.text(152, y + 1.1, _gpio(net), 3.2)
        else:
            s.text(128, y + 1.1, "ground of the board", 2.8)
    _left(s, places, top)
    return s.svg()


def _left(s: Svg, places: dict[str, list[float]], top: float):
    """What comes from outside, each line to its own terminal."""
    free = {net: list(ys) for net, ys in places.items()}
    rows = [(f"pin {pin}", what, net) for pin, what, net in SOCKET] + list(_OTHERS)
    for i, (where, what, net) in enumerate(rows):
        y = top + i * _ROW
        s.rect(
            5, y - 3.4, 68, 6.8, fill="#f0f0f0" if where.startswith("pin") else "white", line=0.4
        )
        s.text(7, y + 1.1, f"{where}: {what}", 2.9)
        if not net:
            continue
        at = free[net].pop(0)
        s.line((73, y), (77, y), (94, at), (98, at), width=0.5)
        if net == "SUPPLY_IN":
            s.rect(57, y - 2.6, 14, 5.2, fill="white")
            s.text(64, y + 0.9, FUSE, 2.6, "middle")
