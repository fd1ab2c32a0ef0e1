"""Circuits with one fault each, and the check that has to find it: a check must be able to fail."""

from dataclasses import replace

from board import kinds
from board.circuit import GND, V5, V33, Part
from spice import checks_harm, checks_levels, checks_signal
from spice.check import Check

_CHECKS = {
    check.name: check
    for module in (checks_levels, checks_signal, checks_harm)
    for check in module.CHECKS
}


def _with(parts: list[Part], ref: str, **change) -> list[Part]:
    return [replace(part, **change) if part.ref == ref else part for part in parts]


def _weak(parts: list[Part]) -> list[Part]:
    """The reference is not moved by the output: no hysteresis."""
    return _with(parts, "R16", kind=replace(kinds.R["100k"], value="100000k"))


def _bare(parts: list[Part]) -> list[Part]:
    """The Zener diode was left out: 101 V and -14 V reach the divider."""
    return [part for part in parts if part.ref not in ("D11", "D51")]


def _high(parts: list[Part]) -> list[Part]:
    """The pull-up leads to 5 V."""
    return _with(parts, "R17", nets={"1": V5, "2": "WHEEL_OUT"})


def _lazy(parts: list[Part]) -> list[Part]:
    """Ten times the capacitor: fast impulses vanish."""
    return _with(parts, "C11", kind=replace(kinds.C150P, value="1500 pF"))


def _wrong(parts: list[Part]) -> list[Part]:
    """18k and 47k of the reference in each other's place."""
    swapped = _with(parts, "R14", nets={"1": GND, "2": "WHEEL_REF"})
    return _with(swapped, "R15", nets={"1": V33, "2": "WHEEL_REF"})


def _unkept(parts: list[Part]) -> list[Part]:
    """The diode across the optocoupler was left out."""
    return [part for part in parts if part.ref != "D72"]


def _fed(parts: list[Part]) -> list[Part]:
    """820 ohm for 82k: the tractor's supply feeds the Pico through its pin."""
    return _with(parts, "R52", kind=replace(kinds.R["82k"], value="820"))


FAULTS = (
    (_weak, "edges-of-1-ms-with-noise"),
    (_bare, "load-dump-101-v"),
    (_high, "reverse-14-v"),
    (_lazy, "20-khz-duty-20"),
    (_wrong, "levels-nominal"),
    (_unkept, "spikes"),
    (_fed, "computer-off-tractor-on"),
)


def found(parts: list[Part]) -> bool:
    """Run every fault against its check; true when each is found."""
    good = True
    for change, name in FAULTS:
        check: Check = _CHECKS[name]
        bad = [f for f in check.find(change(parts)) if not f.good()]
        good = good and bool(bad)
        why = bad[0].text().strip() if bad else "NOT FOUND"
        print(f"{'pass' if bad else 'FAIL'} fault: {change.__doc__} -> {name}: {why}")
    return good
