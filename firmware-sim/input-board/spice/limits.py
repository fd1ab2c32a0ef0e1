"""Is every part of a block inside its limits? Read from the voltages at its legs."""

import numpy as np

from board.circuit import CHANNELS, GND, V33, V5, Part
from board.kinds import PICO, QUAD
from spice.bench import Bench, ends_of
from spice.check import Finding, at_least, at_most
from spice.models import number

# A resistor warms up in some seconds: its power is judged as the mean over this time, which is
# also the least from one pulse to the next (ISO 7637-2, pulses 1 and 2a, from memory).
_WARM_S = 0.5


def _worst(findings: list[Finding]) -> list[Finding]:
    """Of findings with the same words the one that is nearest to its limit or past it."""
    worst: dict[str, Finding] = {}
    for each in findings:
        known = worst.get(each.what)
        room = min(each.value - each.low, each.high - each.value)
        if known is None or room < min(known.value - known.low, known.high - known.value):
            worst[each.what] = each
    return list(worst.values())


def _mean(power_w: np.ndarray, time: np.ndarray) -> float:
    """Mean power over the whole run, or over the time that it takes to warm up, watt."""
    if len(time) < 2:
        return float(power_w[-1])
    return float(np.trapezoid(power_w, time)) / max(_WARM_S, float(time[-1]))


def _resistor(part: Part, one: dict, scale: float, drop: np.ndarray) -> list[Finding]:
    power = drop**2 / (number(part.kind.value) * scale)
    limits = part.kind.limits
    return [
        at_most(f"{part.ref} power", _mean(power, one["time"]), limits["power_w"], "W"),
        at_most(f"{part.ref} voltage", np.abs(drop).max(), limits["volt_v"], "V"),
    ]


def _zener(part: Part, one: dict, current: np.ndarray, drop: np.ndarray) -> list[Finding]:
    power = np.abs(drop * current)
    limits = part.kind.limits
    return [
        at_most(f"{part.ref} power", _mean(power, one["time"]), limits["power_w"], "W"),
        at_most(f"{part.ref} current", np.abs(current).max(), limits["current_a"], "A"),
    ]


def _ends(part: Part, one: dict, corner) -> list[np.ndarray]:
    known = {GND: 0.0, V33: corner.v33, V5: corner.v5}
    short = {net: net.split("_")[-1] for net in part.nets.values()}
    return [
        one[short[net]] if net not in known else np.full_like(one["IN"], known[net])
        for net in part.nets.values()
    ]


def findings(bench: Bench, analysis: str) -> list[Finding]:
    """Run a bench and hold every part of its block, and the Pico's pin, to their limits."""
    out = []
    made = bench.go(analysis, ends_of(bench.name))
    for corner, one in zip(bench.corners, made):
        for part in bench.parts:
            if part.block != bench.name or part.role == "terminal":
                continue
            ends = _ends(part, one, corner)
            if part.kind.package == "0207":
                scale = corner.scale.get(part.role, 1.0)
                out += _resistor(part, one, scale, ends[0] - ends[1])
            elif part.kind.package == "disc":
                drop = np.abs(ends[0] - ends[1]).max()
                out.append(at_most(f"{part.ref} voltage", drop, part.kind.limits["volt_v"], "V"))
            elif part.kind.package == "DO-35":
                out += _zener(part, one, _tap_current(bench, one, corner), ends[0] - ends[1])
            elif part.kind.package == "DO-41":
                drop = (ends[0] - ends[1]).max()
                out.append(at_most(f"{part.ref} reverse", drop, part.kind.limits["volt_v"], "V"))
            elif part.kind.package == "DIP-4":
                out += _led(bench, part, one, corner)
        out += _pins(bench, one, corner)
    return _worst(out)


def _tap_current(bench: Bench, one: dict, corner) -> np.ndarray:
    """Into the Zener diode: what comes through the first resistor and does not go on."""
    by_role = {p.role: p for p in bench.parts if p.block == bench.name}

    def ohm(role: str) -> float:
        return number(by_role[role].kind.value) * corner.scale.get(role, 1.0)

    into = (one["IN"] - one["TAP"]) / ohm("series")
    return into - (one["TAP"] - one["LOW"]) / ohm("upper divider")


def _led(bench: Bench, part: Part, one: dict, corner) -> list[Finding]:
    by_role = {p.role: p for p in bench.parts if p.block == bench.name}
    series = number(by_role["series"].kind.value) * corner.scale.get("series", 1.0)
    current = (corner.v5 - one["LED"]) / series
    limits = part.kind.limits
    # More than the steady current is allowed for as long as a pulse may last.
    above = one["time"][current > limits["current_a"]]
    short = len(above) > 0 and 0 < above[-1] - above[0] < limits["pulse_s"]
    most = limits["pulse_a" if short else "current_a"]
    return [
        at_most(f"{part.ref} current", current.max(), most, "A"),
        at_most(f"{part.ref} reverse", (one["BACK"] - one["LED"]).max(), limits["reverse_v"], "V"),
    ]


def _pins(bench: Bench, one: dict, corner) -> list[Finding]:
    """The comparator's inputs and the Pico's pin."""
    out = []
    chip, pico = QUAD.limits, PICO.limits
    if any(c.name == bench.name for c in CHANNELS):
        low, name = one["LOW"], f"{bench.name} comparator input"
        out += [
            at_most(name, low.max(), chip["volt_v"], "V"),
            at_least(f"{name}, lowest", low.min(), chip["low_v"], "V"),
        ]
    pin = one["LOW"] if bench.name == "SUPPLY" else one["OUT"]
    over, name = (pin - corner.v33).max(), f"{bench.name} Pico's pin"
    return out + [
        at_most(f"{name} over its supply", over, pico["over_v"], "V"),
        at_least(f"{name}, lowest", pin.min(), pico["low_v"], "V"),
    ]
