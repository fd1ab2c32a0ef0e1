"""Several boards at once, each a corner, each with its own source, in one deck."""

import numpy as np

from board.circuit import CHANNELS, V33, V5, Part
from spice import models
from spice.corner import Corner
from spice.run import run

# ISO 11786, 5.2.2: 100 ohm, 10 % either way.
SOURCE_OHM = 100.0


class Bench:
    """A block of the circuit in as many copies as there are corners.

    source: SPICE source after the node names, such as `DC 12`; None leaves the input open.
    """

    def __init__(
        self,
        parts: list[Part],
        name: str,
        corners: list[Corner],
        source: str | list[str] | None,
        ohm: float = SOURCE_OHM,
    ):
        self.parts, self.name, self.corners, self.ohm = parts, name, corners, ohm
        self.lines: list[str] = []
        for i, corner in enumerate(corners):
            self.lines += models.block(parts, name, corner, str(i)) + models.rails(corner, str(i))
            if source is not None:
                self._source(source if isinstance(source, list) else [source], str(i))

    def _source(self, sources: list[str], tag: str):
        at = "0"
        for n, source in enumerate(sources):
            self.lines.append(f"Vs{n}_{tag} s{n}_{tag} {at} {source}")
            at = f"s{n}_{tag}"
        self.lines.append(f"Rs_{tag} {at} {self.node('IN', tag)} {self.ohm:g}")

    def node(self, end: str, tag: str) -> str:
        return models.node(end if end in (V33, V5) else f"{self.name}_{end}", tag)

    def go(self, analysis: str, ends: list[str], currents: list[str] = ()) -> list[dict]:
        """One dictionary a copy: each asked-for end's voltage, each source's current, time."""
        groups: dict[float, list[int]] = {}
        for i, corner in enumerate(self.corners):
            groups.setdefault(corner.celsius, []).append(i)
        out: list[dict] = [{} for _ in self.corners]
        for celsius, members in groups.items():
            tags = [str(i) for i in members]
            lines = [line for line in self.lines if _of(line, tags)]
            save = [f"v({self.node(end, tag)})" for tag in tags for end in ends]
            save += [f"i({name}_{tag})".lower() for tag in tags for name in currents]
            found = run(lines, analysis, save, celsius)
            for i, tag in zip(members, tags):
                one = {end: found[f"v({self.node(end, tag)})"] for end in ends}
                one |= {name: found[f"i({name}_{tag})".lower()] for name in currents}
                one["time"] = found.get("time", np.zeros(1))
                out[i] = one
        return out


def _of(line: str, tags: list[str]) -> bool:
    """Does a line belong to one of the copies? Every element's name ends in that of its copy."""
    name = line.split()[1 if line.startswith(".model") else 0]
    return name.rsplit("_", 1)[1] in tags


def ends_of(name: str) -> list[str]:
    """The nodes of a block that a harm check looks at, from outside to the Pico's pin."""
    if any(c.name == name for c in CHANNELS):
        return ["IN", "TAP", "LOW", "REF", "OUT"]
    return ["IN", "TAP", "LOW"] if name == "SUPPLY" else ["IN", "BACK", "LED", "OUT"]
