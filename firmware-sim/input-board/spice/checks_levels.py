"""Where the inputs switch, and what they ask of whoever drives them."""

from dataclasses import replace

from board.circuit import CHANNELS, Part
from spice.bench import Bench, ends_of
from spice.check import ISO_11786, NO_SOURCE, Check, Finding, at_least, at_most, exactly
from spice.corner import BIAS_A, NOMINAL, Corner, level_corners
from spice.levels import levels
from spice.run import edges
from spice.solve import calculated

SOCKET = [c.name for c in CHANNELS[:4]]


def nominal(parts: list[Part]) -> list[Finding]:
    out = []
    for name in SOCKET:
        up, down = levels(parts, name, [NOMINAL])[0]
        out += [
            Finding(f"{name} rising", up, 4.3, 4.7, "V"),
            Finding(f"{name} falling", down, 3.0, 3.3, "V"),
        ]
    return out


def corners(parts: list[Part]) -> list[Finding]:
    """Both levels between the standard's, with 0.4 V of noise to spare, at every corner."""
    out = []
    # The wheel's stands for three; the Pico pulls the fourth the other way.
    for name in ("WHEEL", "WORK"):
        found = calculated(parts, name, level_corners())
        up, down = [a for a, _ in found], [b for _, b in found]
        out += [
            at_most(f"{name}: highest rising level of {len(found)}", max(up), 6.3 - 0.4, "V"),
            at_least(f"{name}: lowest falling level", min(down), 1.5 + 0.4, "V"),
            at_least(f"{name}: least hysteresis", min(a - b for a, b in found), 0.8, "V"),
        ]
    return out


def pps(parts: list[Part]) -> list[Finding]:
    """A PPS of 3.3 V or 5 V logic: low to 0.4 V, high from 2.4 V."""
    found = calculated(parts, "PPS", level_corners())
    return [
        at_most(f"highest rising level of {len(found)}", max(a for a, _ in found), 2.3, "V"),
        at_least("lowest falling level", min(b for _, b in found), 0.8, "V"),
        at_least("least hysteresis", min(a - b for a, b in found), 0.3, "V"),
    ]


def agree(parts: list[Part]) -> list[Finding]:
    """ngspice finds the same levels, at the four extreme corners and at every 263st."""
    out = []
    for name in ("WHEEL", "WORK", "PPS"):
        corners = level_corners()
        found = calculated(parts, name, corners)
        ends = [
            pick(range(len(found)), key=lambda i: found[i][j])
            for pick in (min, max)
            for j in (0, 1)
        ]
        some = ends + list(range(0, len(corners), 263))
        asked = levels(parts, name, [corners[i] for i in some])
        apart = [abs(a - b) for i, pair in zip(some, asked) for a, b in zip(found[i], pair)]
        out.append(at_most(f"{name}: apart at {len(some)} corners", max(apart), 0.002, "V"))
    return out


def triangle(parts: list[Part]) -> list[Finding]:
    """A slow triangle through the whole comparator switches at the levels found without it."""
    up, down = levels(parts, "WHEEL", [NOMINAL])[0]
    bench = Bench(parts, "WHEEL", [NOMINAL], "PWL(0 0 12m 12 24m 0)")
    one = bench.go(".tran 2u 24m 0 2u", ["IN", "OUT"])[0]
    falls, rises = edges(one["time"], one["OUT"])
    out = [exactly("edges each way", len(falls), 1, ""), exactly("and back", len(rises), 1, "")]
    if falls and rises:
        out += [
            Finding("rising, of 1 V a millisecond", falls[0] * 1e3, up - 0.02, up + 0.02, "V"),
            Finding("falling", 24 - rises[0] * 1e3, down - 0.02, down + 0.02, "V"),
        ]
    return out


def open_input(parts: list[Part]) -> list[Finding]:
    """An input that leads nowhere reads low: the pin of the Pico is high."""
    worst = [NOMINAL, replace(NOMINAL, bias_low_a=BIAS_A, offset_v=0.015, bias_ref_a=0.0)]
    out = []
    for name in [c.name for c in CHANNELS]:
        lowest = min(levels(parts, name, worst), key=lambda pair: pair[1])[1]
        for one in Bench(parts, name, worst, None).go(".op", ends_of(name)):
            out += [
                at_most(f"{name} seen at the open terminal", one["IN"][0], lowest / 4, "V"),
                at_least(f"{name} at the Pico", one["OUT"][0], 2.0, "V"),
            ]
    return out


def listens(parts: list[Part]) -> list[Finding]:
    """What the board draws from a pin, and that it gives nothing to one."""
    least = Corner(scale={role: 0.985 for role in ("series", "upper divider", "lower divider")})
    biased = replace(least, bias_low_a=BIAS_A)
    out = []
    for name in SOCKET + ["PPS", "SUPPLY"]:
        drawn = Bench(parts, name, [least], "DC 12").go(".op", ["IN"], ["Vs0"])[0]
        out.append(at_least(f"{name} load", 12 / -drawn["Vs0"][0] / 1e3, 80, "kohm"))
        given = Bench(parts, name, [biased], "DC 0").go(".op", ["IN"], ["Vs0"])[0]
        out.append(at_most(f"{name} gives", given["Vs0"][0] * 1e6, 2, "uA"))
    return out


def listeners(parts: list[Part]) -> list[Finding]:
    """Four boards beside a load of 3 kohm at 110 ohm, at the standard's own limits of level."""
    corner = [NOMINAL]
    boards = 4
    out = []
    for what, volt, low, high in (("high", 6.3, 5.5, 6.3), ("low", 1.5, 1.2, 1.5)):
        bench = Bench(parts, "WHEEL", corner, f"DC {volt}", ohm=110.0)
        bench.lines.append(f"Rload_0 {bench.node('IN', '0')} 0 3k")
        alone = bench.go(".op", ["IN"])[0]["IN"][0]
        others = 84e3 / (boards - 1)
        bench.lines.append(f"Rothers_0 {bench.node('IN', '0')} 0 {others:g}")
        together = bench.go(".op", ["IN", "OUT"])[0]
        out += [
            Finding(f"{what} at the pin", together["IN"][0], low, high, "V"),
            at_most(f"{what} moved by the other boards", alone - together["IN"][0], 0.05, "V"),
        ]
    return out


def ground_offset(parts: list[Part]) -> list[Finding]:
    """The board's ground 0.5 V beside the tractor's: the levels still lie between."""
    found = calculated(parts, "WHEEL", level_corners())
    return [
        at_most("highest rising level", max(a for a, _ in found), 6.3 - 0.5, "V"),
        at_least("lowest falling level", min(b for _, b in found), 1.5 + 0.5, "V"),
    ]


CHECKS = [
    Check("levels-nominal", f"{ISO_11786} 5.2.2; the values are the design's", nominal),
    Check("levels-every-corner", f"{ISO_11786} 5.2.2; 0.4 V to spare: {NO_SOURCE}", corners),
    Check("pps-levels-every-corner", "levels of 3.3 V and 5 V logic, from memory", pps),
    Check("levels-agree", "one way of calculating against the other", agree),
    Check("levels-by-triangle", "the model against itself", triangle),
    Check("open-input-reads-low", NO_SOURCE, open_input),
    Check("only-listens", f"{ISO_11786} 5.2.2 asks for 3 kohm; 80: {NO_SOURCE}", listens),
    Check("several-listeners", f"{ISO_11786} 5.2.2", listeners),
    Check("ground-offset", NO_SOURCE, ground_offset),
]
