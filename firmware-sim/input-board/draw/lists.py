"""The parts list, and what is read while building: places, cuts and wires."""

import csv
import io
import re
from collections import Counter

from board.circuit import Part
from board.layout import Layout, Wire, name_of

# The cables that leave the box, each through a gland.
CABLES = ("signal cable", "USB", "button, gate, PPS")
# In the lead of the measured supply, at the plug's end.
FUSE = "100 mA"
# What the description does not hold because no net goes through it.
BESIDE = (
    (1, "strip board", "39 strips of 62 holes, 2.54 mm, 160 mm by 100 mm", "cut from a larger one"),
    (1, "jumper wire", "socket to socket, 150 mm, for the bridge of the bench test", "any"),
    (1, "enclosure", "plastic, inside 170 by 110 by 45 mm or more, closed", "any that keeps dry"),
    (len(CABLES), "cable gland", f"one each: {'; '.join(CABLES)}", "for USB one that splits"),
    (1, "fuse in the cable", f"{FUSE}, with its holder, 32 V or more, for pin 6", "63 mA"),
    (1, "plug", "7 poles, for the signal socket of ISO 11786", "as the tractor's socket asks"),
    (1, "cable", "7 cores of 0.5 mm2 or more, screened, 2 m", "6 cores: the linkage is not read"),
    (1, "USB cable", "with data lines, micro-USB at the Pico, 2 m or less", "any"),
    (1, "push button", "one contact that closes, on 2 m of cable", "any"),
    (1, "wire", "insulated, 0.25 mm2, two colours, 5 m", "any"),
)


def _order(ref: str) -> tuple[str, int]:
    letters = re.match(r"[A-Z]+", ref).group()
    return letters, int(ref[len(letters) :])


def rows(parts: list[Part]) -> list[tuple[str, str, str, str, str, str]]:
    """Quantity, value, what to order, alternatives, references, block of use."""
    groups: dict[tuple, list[Part]] = {}
    for part in parts:
        # Terminals differ in their lettering only.
        value = "2 poles" if part.kind.package == "TERM-2" else part.kind.value
        groups.setdefault((value, part.kind.order), []).append(part)
    out = []
    for (value, order), some in sorted(groups.items(), key=lambda g: _order(g[1][0].ref)):
        refs = " ".join(sorted((p.ref for p in some), key=_order))
        kind = some[0].kind
        out.append((str(len(some)), value, kind.what, order, kind.alternatives, refs))
    return out


_HEAD = ("quantity", "value", "what", "order", "alternatives", "places")


def as_csv(parts: list[Part]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_HEAD)
    writer.writerows(rows(parts))
    writer.writerows((n, "", what, order, other, "") for n, what, order, other in BESIDE)
    return out.getvalue()


def as_text(parts: list[Part]) -> str:
    lines = []
    for count, value, _, order, other, refs in rows(parts):
        lines += [f"{count:>3} x {value}: {order}", f"      or: {other}", f"      at: {refs}"]
    for count, what, order, other in BESIDE:
        lines += [f"{count:>3} x {what}: {order}", f"      or: {other}"]
    return "\n".join(lines) + "\n"


def as_markdown(parts: list[Part], extra: list[Part]) -> str:
    lines = [
        "# Parts",
        "",
        "Made by `make.py` from the description of the circuit: change it there. The numbers are"
        " general ones, made by several makers. Compare the data sheet of an alternative with the"
        " limits in `board/kinds.py`.",
        "",
    ]
    for title, some in (("On the board", parts), ("For the isolated line besides", extra)):
        lines += [f"## {title}", "", "| | order | or | places |", "|---|---|---|---|"]
        lines += [
            f"| {count} | {order} | {other} | {refs} |"
            for count, _, _, order, other, refs in rows(some)
        ]
        lines.append("")
    lines += ["## Beside the board", "", "| | order | or |", "|---|---|---|"]
    lines += [f"| {n} | {what}: {order} | {other} |" for n, what, order, other in BESIDE]
    return "\n".join(lines) + "\n"


def sorted_wires(layout: Layout) -> list[Wire]:
    """The wires in the order in which they are numbered: by net, then by place."""
    return sorted(layout.wires, key=lambda w: (w.net, w.start, w.end))


def build_list(parts: list[Part], layout: Layout) -> str:
    """Cuts, places and wires, to be ticked off while building."""
    lines = [
        "# Building by the list",
        "",
        "Made by `make.py`. `C12` is the twelfth hole of strip C; strip A is the one beside the"
        " terminals, hole 1 is on the left, both **seen from the side of the parts**.",
        "",
        f"## 1. Cuts: {len(layout.cuts)}",
        "",
        "Cut the copper through at these holes (seen from the copper side they are mirrored:"
        " `board-copper.svg`).",
        "",
    ]
    by_row: dict[str, list[str]] = {}
    for place in sorted(layout.cuts):
        by_row.setdefault(re.match("[A-Z]+", name_of(place)).group(), []).append(name_of(place))
    lines += [f"- [ ] {' '.join(names)}" for names in by_row.values()]
    lines += [
        "",
        f"## 2. Wires: {len(layout.wires)}",
        "",
        "| | net | from | to |",
        "|---|---|---|---|",
    ]
    for i, wire in enumerate(sorted_wires(layout), 1):
        ends = f"{name_of(wire.start)} | {name_of(wire.end)}"
        lines.append(f"| [ ] {i} | {wire.net} | {ends} |")
    lines += ["", "## 3. Parts", "", "| | value | legs |", "|---|---|---|"]
    for part in sorted(parts, key=lambda p: _order(p.ref)):
        if len(part.nets) > 4:
            first = name_of(layout.legs[part.ref, "1"])
            legs = f"leg 1 in {first}"
        else:
            names = {number: name for number, name, _ in part.kind.legs}
            legs = ", ".join(
                (f"{names[leg]} in " if names[leg] not in ("1", "2") else "")
                + name_of(layout.legs[part.ref, leg])
                for leg in part.nets
            )
        lines.append(f"| [ ] {part.ref} | {part.kind.value} | {legs} |")
    counts = Counter(part.kind.package for part in parts)
    lines += ["", f"{sum(counts.values())} parts in all.", ""]
    return "\n".join(lines)
