"""What may differ from board to board and from day to day, and by how much."""

import itertools
from dataclasses import dataclass, field, replace

# Resistors: 1 % when bought, and 100 ppm/K over the 50 K from 20 degC to the ends.
RESISTOR = 0.015
# C0G capacitor 5 %; its temperature adds nothing that counts (30 ppm/K).
CAPACITOR = 0.05
# From memory: the Pico's regulator keeps 3 %; 5 % are allowed for here.
V33 = (3.3 * 0.95, 3.3 * 1.05)
# VSYS: USB 4.4 to 5.5 V (USB 2.0, clause 7.2.2, from memory), less the Pico's own diode.
V5 = (4.0, 5.5)
# Over the whole range of temperature: ST Doc ID 2468 table 3, and Diodes DS36779 for the bias.
OFFSET_V = 0.015
BIAS_A = 500e-9
SATURATION_V = (0.05, 0.7)
# Response 1.3 us typical at 5 mV beyond (ST table 3); no greatest value is given, so twice that.
DELAY_S = (0.2e-6, 2.6e-6)
# 24 V 5 % and about +20 mV/K (from memory) over 50 K.
ZENER_V = (21.6, 26.4)
# Zener diode below its voltage, hot: from memory 0.1 uA at 25 degC, some 2 uA at 70 degC.
LEAK_A = 2e-6
# Wiring on strip board at the comparator's input.
STRAY_F = 10e-12
# Optocoupler: 200 to 400 % at 5 mA (Sharp); at 0.6 mA about half, cold and old half again
# (from memory): 45 to 400 %.
RATIO = (0.45, 4.0)
# RP2040 data sheet page 634: 50 to 80 kohm, whether up or down.
PICO_PULL = (50e3, 80e3)
# The firmware pulls this input's pin down and all others up (firmware of the Pico, its README).
PULLED_DOWN = "WORK"
# RP2040 data sheet page 635: input of the ADC 100 kohm or more.
ADC_LOAD = (100e3, 1e9)
CELSIUS = (-20.0, 70.0)


@dataclass(frozen=True)
class Corner:
    """One board on one day. `scale` multiplies the value of the parts with that role."""

    scale: dict[str, float] = field(default_factory=dict, hash=False)
    v33: float = 3.3
    v5: float = 4.7
    offset_v: float = 0.0
    bias_low_a: float = 25e-9
    bias_ref_a: float = 25e-9
    saturation_v: float = 0.15
    delay_s: float = 0.65e-6
    zener_v: float = 24.0
    leak_a: float = 0.0
    stray_f: float = 3e-12
    ratio: float = 2.0
    pull: float = 65e3
    adc_load: float = 1e9
    celsius: float = 20.0


NOMINAL = Corner()

_ROLES = (
    "series",
    "upper divider",
    "lower divider",
    "upper reference",
    "lower reference",
    "hysteresis",
    "pull-up",
)


def _both(nominal: float, part: float) -> tuple[float, float]:
    return (nominal - part, nominal + part)


def level_corners() -> list[Corner]:
    """Every combination of the ends of all that moves a switching level."""
    roles = [_both(1.0, RESISTOR)] * len(_ROLES)
    bias, leaks = (0.0, BIAS_A), (0.0, LEAK_A)
    rest = (V33, _both(0.0, OFFSET_V), bias, bias, SATURATION_V, leaks, PICO_PULL)
    out = []
    for values in itertools.product(*roles, *rest):
        scale = dict(zip(_ROLES, values))
        v33, offset, low, ref, saturation, leak, pull = values[len(_ROLES) :]
        out.append(
            Corner(
                scale=scale,
                v33=v33,
                offset_v=offset,
                bias_low_a=low,
                bias_ref_a=ref,
                saturation_v=saturation,
                leak_a=leak,
                pull=pull,
            )
        )
    return out


def slow(corner: Corner) -> Corner:
    """The same board with the slowest low-pass and comparator."""
    scale = corner.scale | {"low-pass": 1.0 + CAPACITOR}
    return replace(corner, scale=scale, stray_f=STRAY_F, delay_s=DELAY_S[1])


def fast(corner: Corner) -> Corner:
    """The same board with the fastest low-pass and comparator: it hears noise best."""
    scale = corner.scale | {"low-pass": 1.0 - CAPACITOR}
    return replace(corner, scale=scale, stray_f=0.0, delay_s=DELAY_S[0])


def harsh_corners() -> list[Corner]:
    """Ends of what the protection depends on, at both ends of temperature.

    The Zener diode's voltage rises with temperature, so the ends of its range are those of it.
    """
    out = []
    for celsius, zener_v in zip(CELSIUS, ZENER_V):
        for outer, inner in itertools.product(_both(1.0, RESISTOR), repeat=2):
            scale = {"series": outer, "upper divider": inner, "lower divider": 2.0 - inner}
            for v33, v5 in (V33, V5), (V33[::-1], V5[::-1]):
                out.append(
                    Corner(
                        scale=scale,
                        v33=v33[0],
                        v5=v5[0],
                        zener_v=zener_v,
                        celsius=celsius,
                        ratio=RATIO[0],
                        pull=PICO_PULL[0],
                        saturation_v=SATURATION_V[1],
                    )
                )
    return out
