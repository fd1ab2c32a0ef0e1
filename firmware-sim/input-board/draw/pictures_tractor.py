"""The pictures of the building guide that show the board beside a tractor."""

from draw.lists import CABLES
from draw.svg import Svg
from draw.wiring import SOCKET


def measure() -> str:
    """A meter between ground and each pin, and what may be read there."""
    s = Svg(190, 128, "Measure before you connect")
    s.text(5, 8, "Measure before you connect", 4.2, bold=True)
    s.text(5, 15, "Plug of the board NOT in. PTO off, handbrake on, nobody near.", 3.4, bold=True)
    s.rect(8, 24, 36, 56, fill="white", line=0.8, round_mm=3)
    s.rect(13, 30, 26, 14, fill="#eeeeee")
    s.text(26, 39, "12.6 V", 4.2, "middle")
    s.circle(26, 56, 7, fill="white")
    s.line((26, 56), (22, 51), width=1)
    s.text(26, 69, "V, direct", 3.2, "middle")
    s.circle(18, 75, 1.6, fill="black")
    s.circle(34, 75, 1.6, fill="white", line=0.8)
    s.text(18, 87, "black", 3, "middle")
    s.text(34, 87, "red", 3, "middle")
    s.line((18, 77), (18, 83), width=1.2)
    s.line((18, 88.5), (18, 112), (66, 112), width=1.2)
    s.line((34, 88.5), (34, 104), (52, 104), (52, 33), (64, 33), width=0.8)
    rows = {
        "1": "at standstill: below 1.5 V or above 6.3 V",
        "2": "at standstill: below 1.5 V or above 6.3 V",
        "3": "PTO off: below 1.5 V or above 6.3 V",
        "4": "raised: above 6.3 V; lowered: below 1.5 V",
        "5": "0 to 10 V with the linkage: leave it",
        "6": "ignition on: as the battery; off: 0 V",
        "7": "0 ohm to the chassis (key out)",
    }
    for i, (pin, what, _) in enumerate(SOCKET):
        y = 33 + i * 12
        s.circle(68, y, 3.6, fill="white", line=0.6)
        s.text(68, y + 1.2, pin, 3.4, "middle", bold=True)
        s.text(75, y - 0.8, what, 3.2, bold=True)
        s.text(75, y + 3.6, rows[pin], 3.1)
    s.line((66, 112), (68, 112), (68, 108.6), width=1.2)
    s.lines(
        8,
        120,
        [
            "Pins are from memory: what you measure counts. What does not fit this list is",
            "not connected; ask the service of the tractor's maker.",
        ],
        3.3,
        bold=True,
    )
    return s.svg()


def _box(s: Svg, x: float, y: float, width: float, words: str, fill: str = "white"):
    s.rect(x, y, width, 12, fill=fill, line=0.6, round_mm=1)
    s.text(x + width / 2, y + 7.2, words, 3.2, "middle")


def ground_loop() -> str:
    """Two ways to ground, and the three ways out of it."""
    s = Svg(190, 150, "The ground loop and how to open it")
    s.text(5, 8, "The ground loop, and how to open it", 4.2, bold=True)
    s.text(5, 18, "A. A loop: the computer is charged from the tractor", 3.5, bold=True)
    _box(s, 10, 24, 36, "counter board")
    _box(s, 72, 24, 36, "computer")
    _box(s, 134, 24, 40, "12 V charger")
    s.line((46, 30), (72, 30), width=0.8)
    s.text(59, 28.5, "USB", 3, "middle")
    s.line((108, 30), (134, 30), width=0.8)
    s.line((28, 36), (28, 46), (154, 46), (154, 36), width=1.6, dash="4 2")
    s.text(31, 42.5, "pin 7", 3)
    s.text(91, 51.5, "ground of the tractor: hundreds of amperes while starting", 3, "middle")
    s.text(
        5,
        62,
        "B. Open: the computer runs on its battery, and nothing else joins it",
        3.5,
        bold=True,
    )
    _box(s, 10, 67, 36, "counter board")
    _box(s, 72, 67, 36, "computer")
    s.line((46, 73), (72, 73), width=0.8)
    s.text(114, 73, "no charger, and the receiver", 3)
    s.text(114, 77.5, "is fed by the computer as well", 3)
    s.text(5, 92, "C. Open: an isolated USB adapter, full speed (12 Mbit/s)", 3.5, bold=True)
    _box(s, 10, 97, 36, "counter board")
    _box(s, 58, 97, 34, "USB isolator", "#e4e4e4")
    _box(s, 104, 97, 36, "computer")
    s.line((46, 103), (58, 103), width=0.8)
    s.line((92, 103), (104, 103), width=0.8)
    s.text(146, 104, "board unchanged", 3)
    s.text(
        5, 122, "D. Open: the second firmware over a serial line with an isolator", 3.5, bold=True
    )
    _box(s, 10, 127, 36, "counter board")
    _box(s, 58, 127, 34, "U3 and U4", "#e4e4e4")
    _box(s, 104, 127, 36, "USB to serial")
    _box(s, 152, 127, 32, "computer")
    s.line((46, 133), (58, 133), width=0.8)
    s.line((92, 133), (104, 133), width=0.8)
    s.line((140, 133), (152, 133), width=0.8)
    s.text(10, 145, "circuit: schematic-isolated.svg. The Pico's own USB socket stays empty.", 3)
    return s.svg()


def in_the_box() -> str:
    """The board in its enclosure, glands downwards, cables held."""
    s = Svg(190, 118, "In its box")
    s.text(5, 8, "In its box", 4.2, bold=True)
    s.rect(20, 18, 112, 66, fill="white", line=1.0, round_mm=3)
    s.rect(30, 26, 92, 48, fill="#f2f2f2", line=0.5)
    s.rect(68, 40, 16, 34, fill="white")
    s.text(77, 58, "Pico", 3.4, "middle", turn=-90)
    s.rect(72, 71, 8, 4, fill="#cccccc")
    for x in (40, 56, 92, 104):
        s.rect(x, 26, 8, 6, fill="white")
    for y in (50, 60):
        s.rect(116, y, 6, 8, fill="white")
    s.text(76, 36.5, "terminals", 3, "middle")
    for x, words in zip((44, 76, 108), CABLES, strict=True):
        s.rect(x - 4, 84, 8, 7, fill="#cccccc")
        s.line((x, 91), (x, 102), width=1.8)
        s.text(x, 107, words, 3.2, "middle")
    s.line((48, 32), (48, 36), (26, 36), (26, 79), (44, 79), (44, 84), width=1.0)
    s.line((76, 75), (76, 84), width=1.4)
    s.line((108, 32), (108, 40), (127, 40), (127, 79), (108, 79), (108, 84), width=1.0)
    for y in (54, 64):
        s.line((122, y), (127, y), width=1.0)
    s.lines(
        140,
        26,
        [
            "Glands point down:",
            "water runs off.",
            "",
            "Each cable is held by",
            "its gland, not by its",
            "wires.",
            "",
            "Nothing metal touches",
            "the copper side: four",
            "spacers, glued.",
            "",
            "The screen of the",
            "cable goes to GND",
            "here, and nowhere",
            "at the plug.",
        ],
        3.2,
    )
    return s.svg()
