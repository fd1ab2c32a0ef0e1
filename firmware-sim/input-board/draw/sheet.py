"""A sheet of the schematic: draws parts by their reference, and keeps count of them.

Each symbol is drawn between two nets that the caller names; a part that hangs elsewhere in the
description is refused, and so is a part drawn twice.
"""

import schemdraw
import schemdraw.elements as elm

from board.circuit import V5, V33, Part

schemdraw.use("svg")
_SYMBOLS = {
    "0207": elm.ResistorIEC,
    "disc": elm.Capacitor,
    "DO-35": elm.Zener,
    "DO-41": elm.Diode,
}
FONT = 10


class Sheet:
    """One drawing; `at` are points (x, y) in units of the drawing."""

    def __init__(self, parts: list[Part]):
        self.parts = {part.ref: part for part in parts}
        self.drawn: list[str] = []
        self.drawing = schemdraw.Drawing(show=False)
        self.drawing.config(unit=2, fontsize=FONT, font="sans-serif", lw=1.2, margin=0.3)

    def take(self, ref: str) -> Part:
        if ref in self.drawn:
            raise ValueError(f"{ref} is drawn twice")
        self.drawn.append(ref)
        return self.parts[ref]

    def two(self, ref: str, start, end, nets: tuple[str, str], where: str = ""):
        """A part of two legs from leg 1 at `start` to leg 2 at `end`; a diode's leg 1 is its K."""
        part = self.take(ref)
        if (part.nets["1"], part.nets["2"]) != nets:
            raise ValueError(f"{ref} lies between {part.nets}, not {nets}")
        symbol = _SYMBOLS[part.kind.package]()
        diode = part.kind.package in ("DO-35", "DO-41")
        first, last = (end, start) if diode else (start, end)
        symbol.at(first).to(last)
        self.drawing.add(symbol)
        x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
        offset, gap, align = {
            "top": ((0, 0.6), "\n", "center"),
            "bottom": ((0, -0.65), " ", "center"),
            "right": ((0.45, 0), "\n", "left"),
            "left": ((-0.6, 0), "\n", "right"),
        }[where or ("top" if start[1] == end[1] else "right")]
        label = elm.Label().at((x + offset[0], y + offset[1])).theta(0)
        words = f"{ref}{gap}{part.kind.value}"
        self.drawing.add(label.label(words, halign=align, valign="center"))

    def line(self, *points):
        for first, last in zip(points, points[1:]):
            self.drawing.add(elm.Line().at(first).to(last))

    def dot(self, at):
        self.drawing.add(elm.Dot().at(at))

    def end(self, at, text: str, side: str):
        """The name of a terminal or of a pin of the Pico at the end of a line."""
        self.drawing.add(elm.Dot(open=True).at(at).label(text, side))

    def ground(self, at):
        self.drawing.add(elm.Ground().at(at))

    def rail(self, at, net: str):
        name = {V33: "3.3 V", V5: "5 V"}[net]
        self.drawing.add(elm.Vdd().at(at).label(name))

    def text(self, at, words: str, size: float = FONT):
        self.drawing.add(elm.Label().at(at).theta(0).label(words, fontsize=size, halign="left"))

    def box(self, corner, width, height):
        self.drawing.add(elm.Rect(corner1=(0, 0), corner2=(width, height)).at(corner).theta(0))

    def svg(self) -> str:
        """The picture, black on white."""
        return tidy(self.drawing.get_imagedata("svg").decode("utf-8"))


def tidy(text: str) -> str:
    """No blanks at line ends, and a last line that ends."""
    return "\n".join(line.rstrip() for line in text.splitlines()) + "\n"
