"""A named check: a circuit in, findings out, each a figure with the limits it must keep to."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Callable

from board.circuit import Part

# Figures printed of a check that is passed: those nearest to their limits.
_SHOWN = 8
NO_SOURCE = "common practice, no source"
ISO_11786 = "ISO 11786:1995, as restated in public discussion of it, clause"
ISO_16750 = "ISO 16750-2:2012, as restated in makers' manuals and papers"


@dataclass(frozen=True)
class Finding:
    """One figure of a check; it fails outside of `low` to `high`."""

    what: str
    value: float
    low: float
    high: float
    unit: str

    def good(self) -> bool:
        return self.low <= self.value <= self.high

    def room(self) -> float:
        """How far from the nearer limit, as a share of that limit; below 0 past it."""
        limits = [limit for limit in (self.low, self.high) if abs(limit) != float("inf")]
        return min(
            ((limit - self.value) if limit == self.high else (self.value - limit))
            / max(abs(limit), 1e-12)
            for limit in limits
        )

    def text(self) -> str:
        mark = "  " if self.good() else "X "
        limits = f"[{self.low:.4g} .. {self.high:.4g}]"
        return f"  {mark}{self.what}: {self.value:.4g} {self.unit} {limits}"


@dataclass(frozen=True)
class Check:
    """A check and where its demand comes from."""

    name: str
    source: str
    find: Callable[[list[Part]], list[Finding]]


def at_most(what: str, value: float, limit: float, unit: str) -> Finding:
    return Finding(what, float(value), float("-inf"), limit, unit)


def at_least(what: str, value: float, limit: float, unit: str) -> Finding:
    return Finding(what, float(value), limit, float("inf"), unit)


def exactly(what: str, value: float, wanted: float, unit: str) -> Finding:
    return Finding(what, float(value), wanted, wanted, unit)


def run_all(checks: list[Check], parts: list[Part]) -> bool:
    """Run and print every check, two at a time; true when all findings are good."""

    def one(check: Check) -> tuple[Check, list[Finding], float]:
        began = time.monotonic()
        return check, check.find(parts), time.monotonic() - began

    good = True
    with ThreadPoolExecutor(2) as pool:
        for check, findings, took_s in pool.map(one, checks):
            fine = bool(findings) and all(finding.good() for finding in findings)
            good = good and fine
            print(f"{'pass' if fine else 'FAIL'} {check.name} ({took_s:.1f} s; {check.source})")
            shown = sorted(findings, key=Finding.room)[:_SHOWN]
            for finding in findings:
                if finding in shown or not finding.good():
                    print(finding.text())
            if len(findings) > len(shown):
                print(f"    and {len(findings) - len(shown)} figures further inside their limits")
    return good
