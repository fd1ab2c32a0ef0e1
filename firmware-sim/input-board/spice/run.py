"""Runs decks in ngspice and reads what it writes."""

import subprocess
import tempfile
from pathlib import Path

import numpy as np

from spice.models import LIBRARY

# Seconds for one deck; the longest takes some ten on two idle cores.
_LIMIT_S = 100


class Failed(Exception):
    """ngspice did not finish a deck; says what it printed last."""


def run(lines: list[str], analysis: str, save: list[str], celsius: float = 20.0) -> dict:
    """Each saved vector (and `time`, where there is one) of a deck as an array.

    save: vectors as ngspice names them, such as `v(nwheel_out_a)`.
    """
    deck = ["input board", LIBRARY.strip(), *lines]
    deck += [f".temp {celsius:g}", ".options reltol=1e-4 abstol=1e-10 method=gear"]
    deck += [f".save {name}" for name in save]
    deck += [analysis, ".end"]
    with tempfile.TemporaryDirectory() as folder:
        path, raw = Path(folder, "deck.cir"), Path(folder, "out.raw")
        path.write_text("\n".join(deck) + "\n", encoding="ascii")
        command = ["ngspice", "-b", "-r", str(raw), str(path)]
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=_LIMIT_S, cwd=folder, check=False
        )
        if done.returncode != 0 or not raw.exists():
            raise Failed((done.stdout + done.stderr)[-2000:])
        found = read_raw(raw.read_bytes())
    missing = [name for name in save if name not in found]
    if missing:
        raise Failed(f"not written: {missing}: {done.stderr[-1000:]}")
    return found


def read_raw(data: bytes) -> dict[str, np.ndarray]:
    """The vectors of the first plot of a binary raw file."""
    head, _, body = data.partition(b"Binary:\n")
    rows = head.decode("ascii").splitlines()
    fields = dict(row.split(":", 1) for row in rows if ":" in row)
    count, points = int(fields["No. Variables"]), int(fields["No. Points"])
    first = rows.index("Variables:") + 1
    names = [row.split()[1].lower() for row in rows[first : first + count]]
    table = np.frombuffer(body[: 8 * count * points], dtype="<f8").reshape(points, count)
    return {name: table[:, i] for i, name in enumerate(names)}


def edges(time: np.ndarray, volt: np.ndarray, level: float = 1.4) -> tuple[list, list]:
    """Times at which a voltage falls and rises through a level, seconds."""
    above = volt > level
    at = np.flatnonzero(above[1:] != above[:-1])
    share = (level - volt[at]) / (volt[at + 1] - volt[at])
    times = time[at] + share * (time[at + 1] - time[at])
    falling = above[at]
    return list(times[falling]), list(times[~falling])
