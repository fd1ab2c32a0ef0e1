"""The little of SVG that the drawings need. Black, white and grey; units are millimetres."""

from xml.sax.saxutils import escape


class Svg:
    """A picture of `width` by `height`; it prints on A4 as large as the page allows."""

    def __init__(self, width: float, height: float, title: str):
        self.size = (width, height)
        self.items: list[str] = [f"<title>{escape(title)}</title>"]
        self.rect(0, 0, width, height, fill="white", stroke="none")

    def _add(self, tag: str, inner: str = "", **attributes):
        pairs = (
            f'{name.replace("_", "-")}="{_short(value)}"' for name, value in attributes.items()
        )
        end = f">{inner}</{tag}>" if inner else "/>"
        self.items.append(f"<{tag} {' '.join(pairs)}{end}")

    def line(self, *points, width=0.4, dash="", colour="black"):
        path = " ".join(f"{_short(x)},{_short(y)}" for x, y in points)
        more = {"stroke_dasharray": dash} if dash else {}
        style = {"stroke": colour, "stroke_width": width, "stroke_linejoin": "round"}
        self._add("polyline", points=path, fill="none", **style, **more)

    def dots(self, start, end, step, size=0.7, colour="#bbbbbb"):
        """Round dots from `start` on, one every `step`, as one element."""
        path = " ".join(f"{_short(x)},{_short(y)}" for x, y in (start, end))
        style = {"stroke": colour, "stroke_width": size, "stroke_linecap": "round"}
        self._add("polyline", points=path, fill="none", **style, stroke_dasharray=f"0 {step}")

    def rect(self, x, y, width, height, fill="none", stroke="black", line=0.4, round_mm=0.0):
        place = {"x": x, "y": y, "width": width, "height": height, "rx": round_mm}
        self._add("rect", **place, fill=fill, stroke=stroke, stroke_width=line)

    def circle(self, x, y, radius, fill="none", stroke="black", line=0.4):
        self._add("circle", cx=x, cy=y, r=radius, fill=fill, stroke=stroke, stroke_width=line)

    def text(self, x, y, words: str, size=3.0, anchor="start", bold=False, turn=0, halo=False):
        """Words whose base line begins, ends or lies centred at (x, y)."""
        more = {"font_weight": "bold"} if bold else {}
        if turn:
            more["transform"] = f"rotate({turn} {_short(x)} {_short(y)})"
        if halo:
            more |= {"stroke": "white", "stroke_width": size / 4, "paint_order": "stroke"}
        self._add("text", escape(words), x=x, y=y, font_size=size, text_anchor=anchor, **more)

    def lines(self, x, y, words: list[str], size=3.0, anchor="start", bold=False):
        """Several lines of text, the first at (x, y)."""
        for i, row in enumerate(words):
            self.text(x, y + i * size * 1.35, row, size, anchor, bold)

    def arrow(self, start, end, width=0.5):
        """A line with a head at its end; only level, upright or slanting, never of no length."""
        (x1, y1), (x2, y2) = start, end
        length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
        along, across = ((x2 - x1) / length, (y2 - y1) / length), (
            (y1 - y2) / length,
            (x2 - x1) / length,
        )
        back = (x2 - 2.4 * along[0], y2 - 2.4 * along[1])
        self.line(start, back, width=width)
        corners = [(x2, y2)] + [
            (back[0] + side * across[0], back[1] + side * across[1]) for side in (0.9, -0.9)
        ]
        path = " ".join(f"{_short(x)},{_short(y)}" for x, y in corners)
        self._add("polygon", points=path, fill="black")

    def svg(self) -> str:
        width, height = (_short(value) for value in self.size)
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}"'
            f' width="{width}mm" height="{height}mm"'
            ' font-family="DejaVu Sans, Arial, Helvetica, sans-serif">'
        )
        return "\n".join([head, *self.items, "</svg>"]) + "\n"


def _short(value) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
