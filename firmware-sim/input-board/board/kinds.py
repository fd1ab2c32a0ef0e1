"""Kinds of parts: values, general part numbers, alternatives, legs and limits.

A limit names its source: a data sheet that was read, or `from memory`. Whoever buys an
alternative compares its data sheet with the limits here.
"""

from dataclasses import dataclass

ST_LM2901 = "ST, LM2901 data sheet, Doc ID 2468 rev 7, table 3"
DIODES_LM290X = "Diodes Inc., LM2901/LM2903 data sheet DS36779, electrical characteristics"
ST_LM2901_MAX = "ST, LM2901 data sheet, July 2005 rev 2, table 1"
SHARP_PC817 = "Sharp, PC817 series data sheet, absolute maximum ratings and characteristics"
RP2040 = "RP2040 data sheet, tables of IO, ADC and supply characteristics, pages 634 to 636"


@dataclass(frozen=True)
class Kind:
    """A kind of part.

    legs: number, name and electrical function (SKiDL's name of it) of each leg, in order.
    limits: by name, in SI units (power_w, volt_v, current_a).
    """

    value: str
    what: str
    order: str
    alternatives: str
    legs: tuple[tuple[str, str, str], ...]
    package: str
    limits: dict[str, float]
    source: str


def _two(first: str = "1", second: str = "2") -> tuple[tuple[str, str, str], ...]:
    return (("1", first, "PASSIVE"), ("2", second, "PASSIVE"))


def _resistor(value: str) -> Kind:
    return Kind(
        value=value,
        what="resistor, metal film, 1 %, 0.6 W, 100 ppm/K or better",
        order=f"{value} 1 % 0.6 W, body 6.5 mm (size 0207)",
        alternatives="any metal film 1 % of 0.5 W or more and 250 V or more",
        legs=_two(),
        package="0207",
        limits={"power_w": 0.6, "volt_v": 250.0},
        source="from memory: 0.6 W at 70 degC, 350 V; 250 V so that others do",
    )


def _capacitor(value: str, what: str, volt_v: float) -> Kind:
    return Kind(
        value=value,
        what=what,
        order=f"{value}, {what}, leads 5 mm apart",
        alternatives="leads 2.5 mm apart, bent out to 5 mm",
        legs=_two(),
        package="disc",
        limits={"volt_v": volt_v},
        source="from memory: 50 V is the least that such parts are sold for",
    )


R = {v: _resistor(v) for v in "470 3.3k 4.7k 10k 15k 18k 22k 47k 82k 100k 150k 330k".split()}
C150P = _capacitor("150 pF", "ceramic C0G (NP0), 5 %, 50 V or more", 50.0)
C100N = _capacitor("100 nF", "ceramic X7R, 10 %, 50 V or more", 50.0)

ZENER = Kind(
    value="24 V",
    what="Zener diode 24 V, 5 %, 0.5 W",
    order="BZX55C24 or BZX79C24",
    alternatives="1N5252B; any 24 V, 5 %, 0.5 W or more in a DO-35 or DO-41 case",
    legs=_two("K", "A"),
    package="DO-35",
    # 0.5 W up to 50 degC, none left at 175 degC: 0.42 W at 70 degC.
    limits={"power_w": 0.42, "current_a": 0.25},
    source="from memory",
)
DIODE = Kind(
    value="1N4007",
    what="rectifier diode 1000 V, 1 A",
    order="1N4007",
    alternatives="1N4004, 1N4005, 1N4006",
    legs=_two("K", "A"),
    package="DO-41",
    limits={"volt_v": 400.0, "current_a": 1.0},
    source="from memory; 400 V so that a 1N4004 does",
)
SCHOTTKY = Kind(
    value="1N5819",
    what="Schottky diode 40 V, 1 A",
    order="1N5819",
    alternatives="1N5817, 1N5818",
    legs=_two("K", "A"),
    package="DO-41",
    limits={"volt_v": 20.0, "current_a": 1.0},
    source="from memory; 20 V so that a 1N5817 does",
)
QUAD = Kind(
    value="LM2901N",
    what="four comparators with open collector, DIP-14",
    order="LM2901N, with a 14-pin DIP socket",
    alternatives="LM239N, LM2901AN, LM2901BN. Not LM339N: made for 0 to 70 degC only",
    legs=(
        ("1", "OUT2", "OPENCOLL"),
        ("2", "OUT1", "OPENCOLL"),
        ("3", "VCC", "PWRIN"),
        ("4", "IN1-", "INPUT"),
        ("5", "IN1+", "INPUT"),
        ("6", "IN2-", "INPUT"),
        ("7", "IN2+", "INPUT"),
        ("8", "IN3-", "INPUT"),
        ("9", "IN3+", "INPUT"),
        ("10", "IN4-", "INPUT"),
        ("11", "IN4+", "INPUT"),
        ("12", "GND", "PWRIN"),
        ("13", "OUT4", "OPENCOLL"),
        ("14", "OUT3", "OPENCOLL"),
    ),
    package="DIP-14",
    limits={"volt_v": 36.0, "low_v": -0.3, "current_a": 0.006},
    source=f"{ST_LM2901_MAX}; sink 6 mA: {ST_LM2901}",
)
DUAL = Kind(
    value="LM2903P",
    what="two comparators with open collector, DIP-8",
    order="LM2903P or LM2903N, with an 8-pin DIP socket",
    alternatives="LM2903AN, LM2903BP. Not LM393: made for 0 to 70 degC only",
    legs=(
        ("1", "OUT1", "OPENCOLL"),
        ("2", "IN1-", "INPUT"),
        ("3", "IN1+", "INPUT"),
        ("4", "GND", "PWRIN"),
        ("5", "IN2+", "INPUT"),
        ("6", "IN2-", "INPUT"),
        ("7", "OUT2", "OPENCOLL"),
        ("8", "VCC", "PWRIN"),
    ),
    package="DIP-8",
    limits={"volt_v": 36.0, "low_v": -0.3, "current_a": 0.006},
    source=DIODES_LM290X,
)
OPTO = Kind(
    value="PC817C",
    what="optocoupler, current ratio 200 to 400 %, DIP-4",
    order="PC817C",
    alternatives="LTV-817C, EL817C, or rank D of the same",
    legs=(
        ("1", "A", "PASSIVE"),
        ("2", "K", "PASSIVE"),
        ("3", "E", "PASSIVE"),
        ("4", "C", "OPENCOLL"),
    ),
    package="DIP-4",
    limits={"current_a": 0.05, "pulse_a": 1.0, "pulse_s": 100e-6, "reverse_v": 6.0},
    source=SHARP_PC817,
)


def terminal(names: tuple[str, str]) -> Kind:
    """A screw terminal of two poles; `names` are printed beside it."""
    return Kind(
        value=" / ".join(names),
        what="screw terminal, 2 poles, 5.08 mm",
        order="screw terminal for boards, 2 poles, 5.08 mm apart",
        alternatives="5.0 mm terminals fit with their legs bent a little",
        legs=tuple((str(i + 1), name, "PASSIVE") for i, name in enumerate(names)),
        package="TERM-2",
        limits={"volt_v": 200.0},
        source="from memory",
    )


PIN = Kind(
    value="test pin",
    what="pin of a pin header, 2.54 mm",
    order="pin header, 2.54 mm, broken into single pins",
    alternatives="a bent end of bare wire",
    legs=(("1", "1", "PASSIVE"),),
    package="PIN",
    limits={"volt_v": 50.0},
    source="from memory",
)
ISOLATOR = Kind(
    value="ADuM1201",
    what="digital isolator, one channel each way, SO-8 on an adapter to DIP-8",
    order="ADuM1201 or ISO7721 with an adapter SO-8 to DIP-8",
    alternatives="Si8621, or any of one channel each way; compare the legs",
    legs=(
        ("1", "VDD1", "PWRIN"),
        ("2", "VOA", "OUTPUT"),
        ("3", "VIB", "INPUT"),
        ("4", "GND1", "PWRIN"),
        ("5", "GND2", "PWRIN"),
        ("6", "VOB", "OUTPUT"),
        ("7", "VIA", "INPUT"),
        ("8", "VDD2", "PWRIN"),
    ),
    package="DIP-8",
    limits={"volt_v": 5.5},
    source="from memory: compare the legs with the data sheet",
)
CONVERTER = Kind(
    value="5 V to 5 V",
    what="isolated converter 5 V to 5 V, 1 W, regulated output, SIP",
    order="isolated, regulated DC/DC converter 5 V to 5 V, 1 W, 1 kV",
    alternatives="2 W. Not an unregulated one: without load it gives more than 5.5 V",
    legs=(
        ("1", "-VIN", "PWRIN"),
        ("2", "+VIN", "PWRIN"),
        ("3", "-VOUT", "PASSIVE"),
        ("4", "+VOUT", "PWROUT"),
    ),
    package="SIP-4",
    limits={"current_a": 0.2},
    source="from memory: compare the legs with the data sheet",
)
ADAPTER = Kind(
    value="USB to UART 3.3 V",
    what="USB to serial adapter, 3.3 V levels, with 5 V and 3.3 V brought out",
    order="USB to serial adapter, 3.3 V levels, pins 5V, 3V3, TXD, RXD, GND",
    alternatives="any with a serial number of its own",
    legs=(
        ("1", "GND", "PASSIVE"),
        ("2", "5V", "PASSIVE"),
        ("3", "3V3", "PWROUT"),
        ("4", "TXD", "OUTPUT"),
        ("5", "RXD", "INPUT"),
    ),
    package="SIP-5",
    limits={"volt_v": 5.5},
    source="from memory",
)

_PICO_LEFT = "GP0 GP1 GND GP2 GP3 GP4 GP5 GND GP6 GP7 GP8 GP9 GND GP10 GP11 GP12 GP13 GND GP14 GP15"
_PICO_RIGHT = (
    "GP16 GP17 GND GP18 GP19 GP20 GP21 GND GP22 RUN ADC0 ADC1 AGND ADC2 ADC_VREF 3V3 3V3_EN"
    " GND VSYS VBUS"
)
# As the firmware uses them; a pin that it leaves alone may become either.
_PICO_USE = {"GND": "PWRIN", "AGND": "PWRIN", "3V3": "PWROUT", "VSYS": "PWRIN", "VBUS": "PWROUT"}
_PICO_USE |= {f"GP{n}": "INPUT" for n in range(1, 9)} | {"GP0": "OUTPUT", "GP15": "OUTPUT"}
_PICO_USE |= {"ADC0": "INPUT"}
PICO = Kind(
    value="Raspberry Pi Pico",
    what="Raspberry Pi Pico (RP2040), with pin headers and sockets of 20 ways",
    order="Raspberry Pi Pico, two pin headers and two pin sockets of 20 ways",
    alternatives="Pico H (headers fitted). Not a Pico 2: another processor. Not a Pico W: its LED"
    " hangs elsewhere and would stay dark",
    legs=tuple(
        (str(i + 1), name, _PICO_USE.get(name, "BIDIR"))
        for i, name in enumerate(f"{_PICO_LEFT} {_PICO_RIGHT}".split())
    ),
    package="PICO",
    # The project keeps 0.3 V above the supply; the data sheet allows 0.5 V (from memory).
    limits={"over_v": 0.3, "low_v": -0.3, "vil_v": 0.8, "vih_v": 2.0},
    source=RP2040,
)
