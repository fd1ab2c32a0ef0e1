"""The switching levels at thousands of corners, by solving the channel's few nodes directly.

At a switching level no diode conducts and the comparator's output is either open or drawn down,
so that what is left is linear. ngspice is asked for some of the corners and must agree.
"""

import numpy as np

from board.circuit import GND, V33, Part
from spice.corner import PULLED_DOWN, Corner
from spice.models import number

# Conductance of a comparator's output while it draws down, as in the model of the comparator.
_DRAWN_S = 0.02


def calculated(parts: list[Part], name: str, corners: list[Corner]) -> list[tuple[float, float]]:
    """For each corner the level of a rising and of a falling signal, volt."""
    up, down = (_level(parts, name, corners, drawn) for drawn in (False, True))
    return list(zip(up.tolist(), down.tolist()))


def _level(parts, name: str, corners: list[Corner], drawn: bool) -> np.ndarray:
    """The signal at which both inputs are equal, with the output drawn down or open."""
    nodes = {f"{name}_{end}": i for i, end in enumerate(("TAP", "LOW", "REF", "OUT"))}
    count = len(corners)
    v33 = np.array([c.v33 for c in corners])
    matrix = np.zeros((count, 4, 4))
    # Two right sides: what flows in with the signal at 0 V, and for each volt of signal.
    flows = np.zeros((count, 4, 2))
    for part in parts:
        if part.block != name or part.kind.package != "0207":
            continue
        scale = np.array([c.scale.get(part.role, 1.0) for c in corners])
        siemens = 1 / (number(part.kind.value) * scale)
        ends = list(part.nets.values())
        for here, there in (ends, ends[::-1]):
            if here not in nodes:
                continue
            i = nodes[here]
            matrix[:, i, i] += siemens
            if there in nodes:
                matrix[:, i, nodes[there]] -= siemens
            elif there == V33:
                flows[:, i, 0] += siemens * v33
            elif there != GND:
                flows[:, i, 1] += siemens
    flows[:, nodes[f"{name}_TAP"], 0] -= [c.leak_a for c in corners]
    flows[:, nodes[f"{name}_LOW"], 0] += [c.bias_low_a for c in corners]
    flows[:, nodes[f"{name}_REF"], 0] += [c.bias_ref_a for c in corners]
    out = nodes[f"{name}_OUT"]
    siemens = 1 / np.array([c.pull for c in corners])
    matrix[:, out, out] += siemens
    if name != PULLED_DOWN:
        flows[:, out, 0] += siemens * v33
    if drawn:
        matrix[:, out, out] += _DRAWN_S
        flows[:, out, 0] += [_DRAWN_S * c.saturation_v for c in corners]
    found = np.linalg.solve(matrix, flows)
    low, ref = found[:, nodes[f"{name}_LOW"]], found[:, nodes[f"{name}_REF"]]
    offset = np.array([c.offset_v for c in corners])
    return (ref[:, 0] - offset - low[:, 0]) / low[:, 1]
