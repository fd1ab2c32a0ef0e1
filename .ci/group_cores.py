"""What all processors of one machine gain for `trundle export` and `trundle record verify --all`.

    group_cores.py TRUNDLE FOLDER

FOLDER holds `captures`. With one processor and with all of them the same bytes must come out.
"""

import json
import os
import pathlib
import re
import subprocess
import sys
import time

# Captures of one export, and captures that are signed off.
EXPORTED, SIGNED = 80, 30
# Each is measured in turn, and the quickest time counts: at least so often, and no more often than
# that when something else keeps the processors busy meanwhile.
LEAST, MOST = 2, 8
# More than one processor must gain something.
LEAST_GAIN = 1.2


def check(true: bool, what: object) -> None:
    if not true:
        sys.exit(f"group: {what}")


def run(command: list, processors: set[int], data: pathlib.Path) -> tuple[float, tuple]:
    """Seconds, and what came out: exit code, standard output, standard error."""
    began = time.monotonic()
    done = subprocess.run(
        [str(word) for word in command],
        capture_output=True,
        check=False,
        env={**os.environ, "TRUNDLE_DATA": str(data)},
        preexec_fn=lambda: os.sched_setaffinity(0, processors),
    )
    return time.monotonic() - began, (done.returncode, done.stdout, done.stderr)


def gain(what: str, command: list, data: pathlib.Path) -> tuple:
    """Measure one processor against all, and give what came out of both."""
    every = os.sched_getaffinity(0)
    by_one, by_all, outs, ratio = [], [], [], 0.0
    while len(by_one) < LEAST or (ratio < LEAST_GAIN and 1 < len(every) and len(by_one) < MOST):
        for seconds, processors in ((by_one, {min(every)}), (by_all, every)):
            took, out = run(command, processors, data)
            seconds.append(took)
            outs.append(out)
        ratio = min(by_one) / min(by_all)
    check(all(out == outs[0] for out in outs), f"{what}: other bytes with more processors")
    print(f"{what}: {min(by_one):.2f} s by 1, {min(by_all):.2f} s by {len(every)}: {ratio:.2f}")
    check(len(every) < 2 or ratio >= LEAST_GAIN, f"{what} gains {ratio:.2f} by all processors")
    return outs[0]


def main(trundle: str, folder: pathlib.Path) -> None:
    data = folder / "data"
    # In an order that is not that of their dates; those that are no captures would end it.
    paths = [path for path in sorted((folder / "captures").rglob("*.capture")) if good(path)]
    captures = paths[:EXPORTED]
    check(len(captures) == EXPORTED, f"{len(captures)} captures")
    rigs: set[str] = set()
    signed = 0
    for path in captures[:SIGNED]:
        rig = named_rig(path)
        if rig not in rigs:
            rigs.add(rig)
            _, out = run([trundle, "rig", "add", rig], os.sched_getaffinity(0), data)
            check(out[0] == 0, out)
        _, out = run([trundle, "sign", path], os.sched_getaffinity(0), data)
        # A damaged capture is not signed off without a reason: 1.
        check(out[0] in (0, 1), out)
        signed += out[0] == 0
    check(signed > SIGNED * 0.8, f"{signed} records")
    command = [trundle, "export", "speeds", *captures, "--format", "json"]
    code, table, _ = gain(f"export speeds of {EXPORTED} captures", command, data)
    rows = json.loads(table)["rows"]
    check(code in (0, 1) and len({row["capture_sha256"] for row in rows}) > 1, code)
    command = [trundle, "record", "verify", "--all", "--json"]
    code, said, _ = gain(f"record verify --all of {signed} records", command, data)
    verified = json.loads(said)
    check(code == 0 and verified["sound"] and len(verified["records"]) == signed, said[:400])


def named_rig(path: pathlib.Path) -> str:
    """The rig that a capture names; a record is only made of one that is in the register."""
    return re.search(rb"rig: (Rig \d+)", path.read_bytes())[1].decode()


def good(path: pathlib.Path) -> bool:
    """It is a capture."""
    return path.stat().st_size > 10_000


if __name__ == "__main__":
    main(sys.argv[1], pathlib.Path(sys.argv[2]).resolve())
