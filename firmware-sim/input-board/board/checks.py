"""Netlist, strip board and guide held to the description; each check has a fault to find."""

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

from board.circuit import CHANNELS, CONTACTS, GND, V33, Part, circuit, nets
from board.layout import Layout, Wire, layout, name_of, pico_place
from board.netlist import check_and_write
from board.parse import nets_of
from board.strips import faults
from draw.lists import CABLES, FUSE
from draw.pictures import bench


def _said(name: str, found: list[str]) -> bool:
    print(f"{'FAIL' if found else 'pass'} {name}")
    for line in found:
        print(f"  X {line}")
    return not found


def _must_find(name: str, found: list[str]) -> bool:
    print(f"{'pass' if found else 'FAIL'} fault: {name}: {found[0] if found else 'NOT FOUND'}")
    return bool(found)


def _moved(parts: list[Part], ref: str, leg: str, net: str) -> list[Part]:
    return [
        replace(part, nets=part.nets | {leg: net}) if part.ref == ref else part for part in parts
    ]


def _differ(parts: list[Part], text: str) -> list[str]:
    wanted, found = nets(parts), nets_of(text)
    names = sorted(set(wanted) | set(found))
    return [f"{name} differs" for name in names if wanted.get(name) != found.get(name)]


def netlists() -> bool:
    """Both variants pass the rule check and say in the netlist what the description says."""
    good = True
    for name, isolated in (("netlist", False), ("netlist of the isolated variant", True)):
        parts = circuit(isolated)
        text, warned = check_and_write(parts)
        good &= _said(f"{name}: rule check, warnings count", warned)
        good &= _said(f"{name}: as described", _differ(parts, text))
    parts = circuit()
    broken = (
        ("R11 leads nowhere", _moved(parts, "R11", "2", "LOOSE")),
        ("U1 gets no supply", _moved(parts, "U1", "3", "UNFED")),
        ("two outputs drive the test signal", _moved(parts, "A1", "36", "TEST_OUT")),
    )
    for name, some in broken:
        good &= _must_find(name, check_and_write(some)[1])
    text, _ = check_and_write(_moved(parts, "R16", "2", "WHEEL_LOW"))
    return _must_find("R16 hangs elsewhere than described", _differ(parts, text)) and good


def _without_cut(one: Layout) -> Layout:
    return replace(one, cuts=one.cuts - {min(one.cuts)})


def _without_wire(one: Layout) -> Layout:
    return replace(one, wires=one.wires[1:])


def _wrong_wire(one: Layout) -> Layout:
    first = one.wires[0]
    row, column = first.end
    return replace(one, wires=(Wire(first.net, first.start, (row - 1, column)), *one.wires[1:]))


def _moved_leg(one: Layout) -> Layout:
    row, column = one.legs["C51", "2"]
    return replace(one, legs=one.legs | {("C51", "2"): (row - 1, column)})


def _under_terminal(one: Layout) -> Layout:
    legs = {("R21", leg): one.legs["R21", leg] for leg in "12"}
    return replace(one, legs=one.legs | {key: (row, at - 1) for key, (row, at) in legs.items()})


def strip_board() -> bool:
    """Strips, cuts, wires and legs connect what the netlist connects, and nothing else."""
    parts, one = circuit(), layout()
    good = _said("strip board: connects what the netlist connects", faults(parts, one))
    wrong = (
        ("a cut is missing", _without_cut(one)),
        ("a wire is missing", _without_wire(one)),
        ("a wire ends one strip off", _wrong_wire(one)),
        ("a leg stands one strip off", _moved_leg(one)),
        ("a resistor stands under a terminal", _under_terminal(one)),
    )
    for name, other in wrong:
        good &= _must_find(name, faults(parts, other))
    swapped = _moved(_moved(parts, "R14", "1", GND), "R15", "1", V33)
    return _must_find("the circuit changed under the layout", faults(swapped, one)) and good


def _promised(parts: list[Part]) -> list[str]:
    """What the building guide has to say in these words, as it follows from the description."""
    count = Counter(part.kind.package for part in parts)
    names = {c.name: c.gpio for c in CHANNELS} | {name: gpio for name, _, gpio in CONTACTS}
    pins = {p.nets["1"].removesuffix("_OUT"): p.ref for p in parts if p.role == "test pin"}
    words = {"WORK": "implement in work", "PTO": "PTO", "PPS": "PPS"}
    return [
        f"{count['0207']} resistors of 1 %, {count['disc']} ceramic capacitors,"
        f" {count['DO-35']} Zener diodes of 24 V, {count['DO-41']} diodes 1N4007",
        f"{count['TERM-2']} screw terminals, {count['PIN']} pins",
        f"`{name_of(pico_place(36))}` (3V3)",
        f"`{name_of(pico_place(39))}` (VSYS)",
        f"fuse of {FUSE}",
        f"{('No', 'One', 'Two', 'Three')[len(CABLES)]} cables leave the box",
    ] + [
        f"| {pins[name]} | {words.get(name, name.lower())} ({gpio})" for name, gpio in names.items()
    ]


def guide() -> bool:
    """The building guide counts, names and numbers as the description does."""
    text = Path(__file__).parents[2].joinpath("BUILDING.md").read_text(encoding="utf-8")
    parts = circuit()
    missing = [words for words in _promised(parts) if words not in text]
    good = _said("guide: says what the description says", missing)
    fewer = [part for part in parts if part.ref != "R91"]
    return _must_find("a resistor fewer", [w for w in _promised(fewer) if w not in text]) and good


def _out_of_place(picture: str, one: Layout) -> list[str]:
    """Test pins that stand elsewhere in the picture than on the board, both from above."""
    shown = re.findall(r'y="([\d.]+)"[^>]*>(P\d)  ', picture)
    drawn = [ref for _, ref in sorted(shown, key=lambda pin: float(pin[0]))]
    stand = sorted((place, ref) for (ref, _), place in one.legs.items() if ref in drawn)
    return [
        f"{here} is drawn where {there} stands"
        for here, (_, there) in zip(drawn, stand, strict=True)
        if here != there
    ] or ([] if len(drawn) == 8 else [f"{len(drawn)} pins are drawn"])


def pictures() -> bool:
    """Whoever bridges the pins by the picture finds them in its order."""
    parts, one = circuit(), layout()
    picture = bench(parts, one)
    good = _said("picture of the bench test: pins in their order", _out_of_place(picture, one))
    swapped = picture.replace("P7  ", "P0  ").replace("P8  ", "P7  ").replace("P0  ", "P8  ")
    return _must_find("two pins change places in the picture", _out_of_place(swapped, one)) and good
