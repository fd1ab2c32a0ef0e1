"""How each part behaves in a simulation.

Passive parts, diodes and Zener diodes are ngspice's own models and follow its temperature. The
comparator and the optocoupler are drawn from the limits of their data sheets, not from physics:
temperature reaches them only through those limits.
"""

from board.circuit import CHANNELS, GND, V33, V5, Part
from spice.corner import PULLED_DOWN, Corner

_UNITS = {"": 1.0, "k": 1e3, "pF": 1e-12, "nF": 1e-9}

LIBRARY = """
* rectifier, and the light-emitting diode: 1.2 V at 20 mA (Sharp)
.model drect D(IS=7n N=1.8 RS=0.04 CJO=20p BV=400 IBV=10u)
.model dled D(IS=0.5p N=1.9 RS=2 CJO=30p BV=6 IBV=10u)
* comparator: bias flows out of both inputs (PNP), the output only draws down
.subckt comp low ref out offset=0 biaslow=25n biasref=25n sat=0.15 delay=0.65u
Ilow 0 low {biaslow}
Iref 0 ref {biasref}
Bd d 0 V=0.5*(1+tanh((V(low)-V(ref)+offset)*2000))
Rd d f 1k
Cd f 0 {delay/1k/0.7}
Bo out 0 I=0.02*(V(out)-sat)*0.5*(1+tanh((V(f)-0.5)*40))
Ro out 0 100meg
* wiring and the Pico's pin
Co out 0 50p
.ends
* optocoupler: current ratio, and a collector that cannot go below its saturation
.subckt opto a k e c ratio=2
Vm a m 0
Dl m k dled
Bc c e I=ratio*0.5*(I(Vm)+sqrt(I(Vm)*I(Vm)+1e-16))*tanh(V(c,e)/0.05)
Rc c e 100meg
Cc c e 10p
.ends
"""


def number(value: str) -> float:
    """`4.7k`, `470`, `150 pF` in SI units."""
    digits = value.rstrip("kpnF ")
    return float(digits) * _UNITS[value[len(digits) :].strip()]


def node(net: str, tag: str) -> str:
    """The node of a net in the copy `tag` of the circuit."""
    return "0" if net == GND else f"n{net}_{tag}".lower()


def _passive(part: Part, corner: Corner, tag: str) -> str:
    ends = f"{node(part.nets['1'], tag)} {node(part.nets['2'], tag)}"
    value = number(part.kind.value) * corner.scale.get(part.role, 1.0)
    return f"{part.ref}_{tag} {ends} {value:.6g}"


def _zener(part: Part, corner: Corner, tag: str) -> list[str]:
    cathode, anode = node(part.nets["1"], tag), node(part.nets["2"], tag)
    name = f"dz{part.ref}_{tag}"
    return [
        f".model {name} D(IS=10f N=1 RS=2 CJO=60p BV={corner.zener_v:.6g} IBV=5m)",
        f"{part.ref}_{tag} {anode} {cathode} {name}",
        f"Il{part.ref}_{tag} {cathode} {anode} {corner.leak_a:.6g}",
    ]


def _opto(part: Part, corner: Corner, tag: str) -> str:
    ends = " ".join(node(part.nets[leg], tag) for leg in "1234")
    return f"X{part.ref}_{tag} {ends} opto ratio={corner.ratio:.6g}"


def _comparator(name: str, corner: Corner, tag: str) -> str:
    low, ref, out = (node(f"{name}_{end}", tag) for end in ("LOW", "REF", "OUT"))
    return (
        f"X{name}_{tag} {low} {ref} {out} comp offset={corner.offset_v:.6g}"
        f" biaslow={corner.bias_low_a:.6g} biasref={corner.bias_ref_a:.6g}"
        f" sat={corner.saturation_v:.6g} delay={corner.delay_s:.6g}"
    )


def block(parts: list[Part], name: str, corner: Corner, tag: str, comparator=True) -> list[str]:
    """The lines of one block, its comparator and what the Pico does to its pin."""
    lines = []
    for part in (p for p in parts if p.block == name and p.role != "terminal"):
        if part.kind.package == "DO-35":
            lines += _zener(part, corner, tag)
        elif part.kind.package == "DO-41":
            ends = (node(part.nets[leg], tag) for leg in "21")
            lines.append(f"{part.ref}_{tag} {' '.join(ends)} drect")
        elif part.kind.package == "DIP-4":
            lines.append(_opto(part, corner, tag))
        else:
            lines.append(_passive(part, corner, tag))
    if any(c.name == name for c in CHANNELS):
        low = node(f"{name}_LOW", tag)
        lines.append(f"Cstray{name}_{tag} {low} 0 {max(corner.stray_f, 1e-15):.6g}")
        if comparator:
            lines.append(_comparator(name, corner, tag))
    if name != "SUPPLY":
        out, end = node(f"{name}_OUT", tag), node(GND if name == PULLED_DOWN else V33, tag)
        lines.append(f"Rpico{name}_{tag} {end} {out} {corner.pull:.6g}")
    if name == "SUPPLY":
        lines.append(f"Radc_{tag} {node('SUPPLY_LOW', tag)} 0 {corner.adc_load:.6g}")
    return lines


def rails(corner: Corner, tag: str) -> list[str]:
    """Both supplies of a copy of the circuit."""
    return [
        f"V33_{tag} {node(V33, tag)} 0 {corner.v33:.6g}",
        f"V5_{tag} {node(V5, tag)} 0 {corner.v5:.6g}",
    ]
