"""What a tractor's wiring may do to the board: no part leaves its limits, no pin of the Pico.

The four inputs of the socket are the same circuit (a check of its own holds them to that), so
that the wheel's stands for them.
"""

from dataclasses import replace

from board.circuit import V33, Part
from spice.bench import Bench, ends_of
from spice.check import ISO_16750, NO_SOURCE, Check, Finding, at_least, at_most, exactly
from spice.corner import ADC_LOAD, NOMINAL, RATIO, Corner, harsh_corners
from spice.limits import findings

EVERYWHERE = ("WHEEL", "PPS", "SUPPLY", "BUTTON")

# 101 V behind 4 ohm, up in 5 ms, down to a tenth in 400 ms, on a supply of 14 V.
_DUMP = [
    "PWL(0 0 5m 87 1 87)",
    "PWL(0 0 5m 0 55m -22 105m -38 205m -61 305m -72 405m -78 700m -86)",
]
# Peak, time to it, time constant of its decay, source: ISO 7637-2. Pulse 1 and its 10 ohm as
# restated by a maker; the other figures from memory (level IV for 12 V).
_SPIKES = {
    "pulse 1": (-150.0, 1e-6, 0.87e-3, 10.0, 6e-3),
    "pulse 2a": (112.0 + 13.5, 1e-6, 22e-6, 2.0, 300e-6),
    "pulse 3a": (-220.0 + 13.5, 5e-9, 65e-9, 50.0, 3e-6),
    "pulse 3b": (150.0 + 13.5, 5e-9, 65e-9, 50.0, 3e-6),
}


def _on(parts, names, source, analysis, ohm=1.0) -> list[Finding]:
    out = []
    for name in names:
        out += findings(Bench(parts, name, harsh_corners(), source, ohm), analysis)
    return out


def load_dump(parts: list[Part]) -> list[Finding]:
    return _on(parts, EVERYWHERE, ["DC 14", *_DUMP], ".tran 1m 700m 0 1m", 4.0)


def reverse(parts: list[Part]) -> list[Finding]:
    return _on(parts, EVERYWHERE, "DC -14", ".op")


def held(parts: list[Part]) -> list[Finding]:
    """For ever on a supply that charges, and on two batteries in a row."""
    found = _on(parts, EVERYWHERE, "DC 16", ".op") + _on(parts, EVERYWHERE, "DC 36", ".op")
    return sorted(found, key=lambda each: each.what)


def spikes(parts: list[Part]) -> list[Finding]:
    out = []
    for what, (peak_v, rise_s, decay_s, ohm, until_s) in _SPIKES.items():
        source = f"EXP(0 {peak_v} 100n {rise_s / 3:g} {100e-9 + 3 * rise_s:g} {decay_s:g})"
        step_s = min(rise_s, until_s / 300)
        for name in EVERYWHERE:
            corners = harsh_corners()[::5]
            bench = Bench(parts, name, corners, source, ohm)
            found = findings(bench, f".tran {step_s:g} {until_s:g}")
            # The bursts of 3a and 3b follow sooner than the mean is meant for; their energy is
            # a ten-thousandth of that of pulse 1.
            kept = [f for f in found if "power" not in f.what or what in ("pulse 1", "pulse 2a")]
            out += [Finding(f"{what}: {f.what}", f.value, f.low, f.high, f.unit) for f in kept]
    return out


def without_power(parts: list[Part]) -> list[Finding]:
    """The computer is off, the tractor is on: next to nothing flows into either supply.

    The Pico's pin leads into its supply through a diode of its own (from memory).
    """
    off = replace(NOMINAL, v33=0.0, v5=0.0, saturation_v=0.0)
    out = []
    for name in EVERYWHERE:
        bench = Bench(parts, name, [off], "DC 16")
        pin = bench.node("LOW" if name == "SUPPLY" else "OUT", "0")
        bench.lines.append(f"Dpin_0 {pin} {bench.node(V33, '0')} drect")
        one = bench.go(".op", ends_of(name), ["V33", "V5"])[0]
        for rail in ("V33", "V5"):
            out.append(at_most(f"{name} into {rail}", one[rail][0] * 1e6, 200, "uA"))
    return out


def supply(parts: list[Part]) -> list[Finding]:
    """Eleven times the voltage at the pin is the supply, well enough to call it low."""
    low_scale = {"series": 1.015, "upper divider": 1.015, "lower divider": 0.985}
    high_scale = {"series": 0.985, "upper divider": 0.985, "lower divider": 1.015}
    ends = [
        NOMINAL,
        Corner(scale=low_scale, adc_load=ADC_LOAD[0], leak_a=2e-6),
        Corner(scale=high_scale, adc_load=ADC_LOAD[1]),
    ]
    out = []
    for volt in (9.0, 12.0, 16.0):
        made = Bench(parts, "SUPPLY", ends, f"DC {volt}").go(".op", ["LOW"])
        shown = [11 * one["LOW"][0] / volt for one in made]
        out += [
            Finding(f"{volt} V, nominal", shown[0], 0.995, 1.005, "of it"),
            at_least(f"{volt} V, least", min(shown), 0.87, "of it"),
            at_most(f"{volt} V, most", max(shown), 1.04, "of it"),
        ]
    return out


def contact(parts: list[Part]) -> list[Finding]:
    """Button and gate: closed is low at the pin, open is high, whatever the optocoupler."""
    weak = replace(NOMINAL, v5=4.0, v33=3.465, pull=50e3, ratio=RATIO[0], celsius=-20.0)
    strong = replace(NOMINAL, v5=5.5, v33=3.135, pull=80e3, ratio=RATIO[1], celsius=70.0)
    out = []
    for corner, which in ((weak, "weak"), (strong, "strong")):
        for ohm, what in ((1.0, "closed"), (100.0, "closed, 100 ohm")):
            one = Bench(parts, "BUTTON", [corner], "DC 0", ohm).go(".op", ["OUT", "LED"])[0]
            out.append(at_most(f"{which}, {what}", one["OUT"][0], 0.8, "V"))
        for source, what in ((None, "open"), ("DC 14", "on 14 V")):
            one = Bench(parts, "BUTTON", [corner], source).go(".op", ["OUT"])[0]
            out.append(at_least(f"{which}, {what}", one["OUT"][0], 2.0, "V"))
    return out


def alike(parts: list[Part]) -> list[Finding]:
    """The four inputs of the socket, and button and gate, differ in nothing but their names."""

    def shape(name: str) -> list:
        inside = [p for p in parts if p.block == name and p.role != "terminal"]
        return [
            (p.role, p.kind.value, [net.replace(name, "*") for net in p.nets.values()])
            for p in inside
        ]

    pairs = [("WHEEL", other) for other in ("RADAR", "PTO", "WORK")] + [("BUTTON", "GATE")]
    return [exactly(f"{a} as {b}", shape(a) == shape(b), True, "") for a, b in pairs]


def bridged(parts: list[Part]) -> list[Finding]:
    """The test signal bridged to an input: low enough, and harmless against a comparator."""
    source = next(p for p in parts if p.role == "test")
    ohm = float(source.kind.value)
    corner = replace(NOMINAL, v33=3.465)
    bench = Bench(parts, "WHEEL", [corner], "DC 0")
    bench.lines.append(f"Rtest_0 {bench.node('OUT', '0')} 0 {ohm * 1.015 + 50:g}")
    low = bench.go(".op", ["OUT"])[0]["OUT"][0]
    bench = Bench(parts, "WHEEL", [replace(corner, saturation_v=0.0)], "DC 12")
    test = f"Vtest_0 t_0 0 {corner.v33}"
    bench.lines += [test, f"Rtest_0 {bench.node('OUT', '0')} t_0 {ohm * 0.985:g}"]
    against = bench.go(".op", ["OUT"], ["Vtest"])[0]["Vtest"][0]
    return [
        at_most("test signal low at an input", low, 0.8, "V"),
        at_most("test signal high against a comparator", -against * 1e3, 12, "mA"),
    ]


def current(parts: list[Part]) -> list[Finding]:
    """What the board takes from the Pico with every output low and both contacts closed."""
    corner = replace(NOMINAL, v33=3.465, v5=5.5, saturation_v=0.0)
    v33 = v5 = 0.0
    for name in ("WHEEL", "RADAR", "PTO", "WORK", "PPS", "BUTTON", "GATE"):
        source = "DC 0" if name in ("BUTTON", "GATE") else "DC 12"
        one = Bench(parts, name, [corner], source).go(".op", ["OUT"], ["V33", "V5"])[0]
        v33, v5 = v33 - one["V33"][0], v5 - one["V5"][0]
    # Both comparators' own: 3.0 mA (Diodes DS36779, LM2901 at 5 V), and as much for the LM2903.
    return [
        at_most("from 3.3 V", v33 * 1e3, 20, "mA"),
        at_most("from USB", v5 * 1e3 + 6.0, 20, "mA"),
    ]


CHECKS = [
    Check("load-dump-101-v", f"{ISO_16750}, test A: 79 to 101 V, 40 to 400 ms", load_dump),
    Check("reverse-14-v", "ISO 16750-2, 4.7, 14 V: from memory", reverse),
    Check("supply-on-any-pin-for-ever", NO_SOURCE, held),
    Check("spikes", "ISO 7637-2:2011; pulse 1 as restated by a maker, others from memory", spikes),
    Check("computer-off-tractor-on", NO_SOURCE, without_power),
    Check("supply-measured", NO_SOURCE, supply),
    Check("contacts", "RP2040 data sheet, page 634: 0.8 V and 2.0 V (2.0 V: from memory)", contact),
    Check("inputs-alike", "this circuit", alike),
    Check("test-signal-bridged", "RP2040 data sheet, page 634; 12 mA: from memory", bridged),
    Check("current-taken", NO_SOURCE, current),
]
