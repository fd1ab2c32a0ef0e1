"""Signals as they come: fast, lopsided, slow, noisy. Every impulse once, none besides."""

from board.circuit import Part
from spice.bench import Bench
from spice.check import ISO_11786, NO_SOURCE, Check, Finding, at_most, exactly
from spice.corner import Corner, fast, level_corners, slow
from spice.run import edges
from spice.solve import calculated

# Impulses a second that the board promises, and how many are sent.
RATE_HZ, IMPULSES = 20_000, 6
PERIOD_S = 1 / RATE_HZ
# A train begins 10 us late; the last edge is there before the next impulse would begin.
TRAIN_S = IMPULSES * PERIOD_S + 9e-6


def chosen(parts: list[Part], name: str = "WHEEL") -> list[Corner]:
    """The corners at which a level is extreme, each with the slowest and the fastest low-pass."""
    found = list(zip(calculated(parts, name, level_corners()), level_corners()))
    ups = sorted(found, key=lambda pair: pair[0][0])
    downs = sorted(found, key=lambda pair: pair[0][1])
    gaps = sorted(found, key=lambda pair: pair[0][0] - pair[0][1])
    ends = [ups[0][1], ups[-1][1], downs[0][1], downs[-1][1], gaps[0][1]]
    return [change(corner) for corner in ends for change in (slow, fast)]


def _counts(bench: Bench, until_s: float, wanted: int, step_s: float) -> list[Finding]:
    """Edges at the Pico's pin of every copy."""
    made = bench.go(f".tran {step_s:g} {until_s:g} 0 {step_s:g}", ["OUT"])
    out = []
    for sort in (0, 1):
        counts = [len(edges(one["time"], one["OUT"])[sort]) for one in made]
        what = ("falling", "rising")[sort]
        out += [
            exactly(f"{what} edges, least of {len(counts)} boards", min(counts), wanted, ""),
            exactly(f"{what} edges, most", max(counts), wanted, ""),
        ]
    return out


def _train(low_v: float, high_v: float, duty: float, edge_s: float = 1e-6) -> str:
    on = duty * PERIOD_S - edge_s
    return f"PULSE({low_v} {high_v} 10u {edge_s:g} {edge_s:g} {on:g} {PERIOD_S:g})"


def noise(parts: list[Part]) -> list[Finding]:
    """The standard's own limits of level at 20 kHz with 0.4 V of 500 kHz on top."""
    sources = [_train(1.5, 6.3, 0.5), "SIN(0 0.4 500k)"]
    bench = Bench(parts, "WHEEL", chosen(parts), sources)
    return _counts(bench, TRAIN_S, IMPULSES, 200e-9)


def _duty(duty: float):
    def find(parts: list[Part]) -> list[Finding]:
        out = []
        for low_v, high_v in ((1.5, 6.3), (0.0, 14.5)):
            bench = Bench(parts, "WHEEL", chosen(parts), _train(low_v, high_v, duty))
            out += _counts(bench, TRAIN_S, IMPULSES, 500e-9)
        return out

    return find


def slow_edges(parts: list[Part]) -> list[Finding]:
    """Edges of 1 ms with 0.4 V of noise of any rate: one edge at the pin for each.

    The boards with the fastest low-pass, which let most of the noise through.
    """
    out = []
    runs = (("WHEEL", "1k", 2e-6), ("WHEEL", "20k", 2e-6), ("WHEEL", "500k", 250e-9))
    for name, rate, step_s in (*runs, ("WORK", "20k", 2e-6)):
        boards = chosen(parts, name)[1::2]
        sources = ["PULSE(1.5 6.3 50u 1m 1m 100u 4m)", f"SIN(0 0.4 {rate})"]
        found = _counts(Bench(parts, name, boards, sources), 2.25e-3, 1, step_s)
        out += [
            Finding(f"{name}, {rate}Hz: {f.what}", f.value, f.low, f.high, f.unit) for f in found
        ]
    return out


def lateness(parts: list[Part]) -> list[Finding]:
    """How late the pin falls after a fast rise of the signal, and by how much boards differ."""
    sources = _train(1.5, 6.3, 0.5, 0.1e-6)
    bench = Bench(parts, "WHEEL", chosen(parts), sources)
    made = bench.go(f".tran 100n {3 * PERIOD_S:g} 0 100n", ["OUT"])
    falls = [edges(one["time"], one["OUT"])[0] for one in made]
    if any(len(each) != 3 for each in falls):
        return [exactly("edges", max(len(each) for each in falls), 3, "")]
    late = [(each[1] - 10e-6 - PERIOD_S) * 1e6 for each in falls]
    same = max(abs(each[2] - each[1] - PERIOD_S) * 1e6 for each in falls)
    return [
        at_most("latest", max(late), 8, "us"),
        at_most("one impulse to the next on one board", same, 0.1, "us"),
    ]


def pps(parts: list[Part]) -> list[Finding]:
    """A PPS of 3.3 V logic (0.4 to 2.4 V at its worst) and of 5 V logic, with noise on it."""
    out = []
    for what, low_v, high_v in (("3.3 V logic", 0.4, 2.4), ("5 V logic", 0.0, 5.5)):
        sources = [f"PULSE({low_v} {high_v} 20u 1u 1u 50u 100u)", "SIN(0 0.1 500k)"]
        found = _counts(Bench(parts, "PPS", chosen(parts, "PPS"), sources), 190e-6, 2, 250e-9)
        out += [Finding(f"{what}: {f.what}", f.value, f.low, f.high, f.unit) for f in found]
    return out


CHECKS = [
    Check("20-khz-with-noise", f"{ISO_11786} 5.2.2; noise: {NO_SOURCE}", noise),
    Check("20-khz-duty-20", f"{ISO_11786} 5.2.1", _duty(0.2)),
    Check("20-khz-duty-80", f"{ISO_11786} 5.2.1", _duty(0.8)),
    Check("edges-of-1-ms-with-noise", f"{ISO_11786} 5.2.1; noise: {NO_SOURCE}", slow_edges),
    Check("delay-of-an-edge", "issue of this board: time stamps within 2 us", lateness),
    Check("pps-with-noise", "levels of 3.3 V and 5 V logic, from memory", pps),
]
