"""Hold a table of the coverage program against 93 to 97 %.

`sampled`: each side may lie outside by what chance does to so few jobs, once in a thousand on
either side. `kept`: no allowance; the table must be of 2000 jobs or more.
"""

import math
import pathlib
import re
import sys

LOW, HIGH = 0.93, 0.97
CHANCE = 0.001
SCENARIOS = 12
SIDES = ("tape", "satellite", "combined")
# Four numbers a side: covered, median half-width, RMS error, mean error; all in %.
ROW = re.compile(r"^(\S.{35}) " + r"  ".join([r" *([\d.]+) +([\d.]+) +([\d.]+) +([+-][\d.]+)"] * 3)
                 + r"  +[\d.]+ %$")


def below(count, jobs, share):
    """Probability of `count` or fewer among `jobs` (binomial)."""
    return math.fsum(
        math.comb(jobs, k) * share**k * (1 - share) ** (jobs - k) for k in range(count + 1)
    )


def limits(jobs):
    """Least and greatest count that are not rarer than `CHANCE` at 93 and at 97 %."""
    low = next(k for k in range(jobs + 1) if below(k, jobs, LOW) > CHANCE)
    high = next(k for k in range(jobs + 1) if below(k, jobs, HIGH) >= 1 - CHANCE)
    return low, high


def main(path, mode):
    file = pathlib.Path(path)
    if not file.is_file():
        sys.exit(f"{path} is missing: cargo run --release -p trundle-sweeps --bin coverage -- 2000")
    lines = file.read_text(encoding="utf-8").splitlines()
    first = re.match(r"(\d+) jobs each", lines[0] if lines else "")
    if first is None:
        sys.exit(f"{path} does not begin with its number of jobs")
    jobs = int(first[1])
    if mode == "kept":
        if jobs < 2000:
            sys.exit(f"{path} is of {jobs} jobs, not of 2000")
        low, high = 100 * LOW, 100 * HIGH
    else:
        low, high = (100 * count / jobs for count in limits(jobs))
    # The header is two lines. A row that cannot be read is a failure, not a row fewer.
    rows = [(line, ROW.match(line)) for line in lines[2:] if line.strip()]
    failed = 0
    for line, row in rows:
        if row is None:
            print(f"not a row of the table: {line!r}", file=sys.stderr)
            failed += 1
            continue
        for side, covered in zip(SIDES, row.groups()[1::4]):
            # A limit and a share of the same count are printed the same.
            if not round(low, 1) <= float(covered) <= round(high, 1):
                print(f"OUTSIDE: {row[1].strip()}, {side}: {covered} %", file=sys.stderr)
                failed += 1
    if len(rows) != SCENARIOS:
        print(f"{len(rows)} rows, not {SCENARIOS}", file=sys.stderr)
        failed += 1
    allowed = f"{low:.1f} to {high:.1f} % allowed"
    print(f"{path}: {jobs} jobs, {len(rows)} rows, {allowed}, {failed} fail")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
