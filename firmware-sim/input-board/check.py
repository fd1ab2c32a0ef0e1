"""Every check of the input board: netlist, strip board, and the circuit in ngspice."""

import sys
import time

from board.checks import guide, netlists, pictures, strip_board
from board.circuit import circuit
from spice import checks_harm, checks_levels, checks_signal, mutants
from spice.check import run_all


def main() -> int:
    """0 when everything is passed, 1 otherwise."""
    began = time.monotonic()
    parts = circuit()
    simulated = checks_levels.CHECKS + checks_signal.CHECKS + checks_harm.CHECKS
    steps = (
        netlists,
        strip_board,
        guide,
        pictures,
        lambda: run_all(simulated, parts),
        lambda: mutants.found(parts),
    )
    good = all([step() for step in steps])
    print(f"{'all passed' if good else 'FAILED'} in {time.monotonic() - began:.0f} s")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
