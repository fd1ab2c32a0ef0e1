"""The levels at which a channel switches, found by ngspice exactly.

A channel's comparator is replaced by an amplifier that moves the signal until both of its inputs
are equal, once with the output high and once with it low: the two levels, in one operating point.
"""

from board.circuit import Part
from spice import models
from spice.corner import Corner
from spice.run import run

# Copies of the channel in one deck.
_AT_ONCE = 512


def _servo(parts: list[Part], name: str, corner: Corner, tag: str, drawn: bool) -> list[str]:
    low, ref, out, signal = (
        models.node(f"{name}_{end}", tag) for end in ("LOW", "REF", "OUT", "IN")
    )
    lines = models.block(parts, name, corner, tag, comparator=False)
    lines += models.rails(corner, tag)
    lines += [
        f"Ilow_{tag} 0 {low} {corner.bias_low_a:.6g}",
        f"Iref_{tag} 0 {ref} {corner.bias_ref_a:.6g}",
        f"Voff_{tag} x_{tag} {low} {corner.offset_v:.6g}",
        f"Eservo_{tag} {signal} 0 {ref} x_{tag} 1e6",
    ]
    if drawn:
        lines += [f"Vsat_{tag} y_{tag} 0 {corner.saturation_v:.6g}", f"Rsat_{tag} {out} y_{tag} 50"]
    return lines


def levels(parts: list[Part], name: str, corners: list[Corner]) -> list[tuple[float, float]]:
    """For each corner the level at which a rising and a falling signal is taken, volt."""
    out = []
    for first in range(0, len(corners), _AT_ONCE):
        some = corners[first : first + _AT_ONCE]
        lines, save = [], []
        for i, corner in enumerate(some):
            for state in (False, True):
                tag = f"{i}{'l' if state else 'h'}"
                lines += _servo(parts, name, corner, tag, state)
                save.append(f"v({models.node(f'{name}_IN', tag)})")
        found = run(lines, ".op", save)
        volts = [float(found[each][0]) for each in save]
        out += list(zip(volts[::2], volts[1::2]))
    return out
