"""What a worker does: captures in by the standard input of `trundle`, a part of the set out.

It knows nothing of the scheduler, so it runs in any process on any machine.
"""

import contextlib
import dataclasses
import hashlib
import json
import subprocess
import tempfile
import threading
import time

import fsspec
from parts import write_parts

# Bytes that are handed on at a time.
CHUNK = 1 << 20
# Exit codes of `trundle work` with which there is a result: sound, or flagged or refused.
WITH_RESULT = (0, 1)
# `trundle work` takes seconds for a long day; what takes longer than this hangs.
LIMIT_S = 600


class SameProgram(Exception):
    """A machine has another program than the others, or none."""


@dataclasses.dataclass(frozen=True)
class Spec:
    """What is the same for all batches of a run."""

    captures: str
    set: str
    trundle: str
    program: str


def version_of(trundle: str) -> str:
    """What the program of this machine says it is."""
    try:
        said = subprocess.run(
            [trundle, "--version"], capture_output=True, text=True, timeout=LIMIT_S, check=True
        )
    except (OSError, subprocess.SubprocessError) as why:
        raise SameProgram(f"{trundle} does not run here: {why}") from None
    # Number and commit; which formats it keeps to stands below them.
    return ", ".join(line.strip() for line in said.stdout.splitlines()[:2])


def work_batch(batch: list[dict], spec: Spec) -> dict:
    """Work some captures; gives which parts lie beside their place, and what failed.

    A machine that joined later may have another program: it is asked again for each batch.
    """
    try:
        here = version_of(spec.trundle)
    except SameProgram as why:
        here = str(why)
    if here != spec.program:
        raise SameProgram(
            "A worker has not the same program as when the run began:\n"
            f"  then: {spec.program}\n  now: {here}\n"
            "The run ends here. What is in its place in the set stays.\n"
            "Put the same version on every machine and start the run again: it does the rest."
        )
    trundle_s = 0.0
    fs, top = fsspec.core.url_to_fs(spec.captures)
    rows, failed = [], []
    for one in batch:
        row, took_s = work_one(fs, f"{top.rstrip('/')}/{one['source']}", spec)
        trundle_s += took_s
        (failed if "words" in row else rows).append({**one, **row})
    parts = write_parts(spec.set, rows, spec.program)
    return {"parts": parts, "failed": failed, "trundle_s": trundle_s, "worked": len(rows)}


def work_one(fs, path: str, spec: Spec) -> tuple[dict, float]:
    """One capture: a row of the set, or why there is none; and seconds in `trundle`.

    While the capture is fetched `trundle` waits: that is not counted as its own.
    """
    began = time.monotonic()
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        command = [spec.trundle, "work", "-", "--with-origin"]
        program = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=out, stderr=err)
        # Also where it hangs without taking what is sent.
        limit = threading.Timer(LIMIT_S, program.kill)
        limit.start()
        try:
            digest, fetching_s = feed(fs, path, program.stdin)
            code = program.wait()
        except OSError as why:
            row = {"file_sha256": None, "code": None, "words": f"It could not be read: {why}"}
            return row, 0.0
        finally:
            limit.cancel()
            program.kill()
            program.wait()
        took_s = time.monotonic() - began - fetching_s
        out.seek(0)
        err.seek(0)
        said = out.read()
        words = err.read().decode("utf-8", "replace").strip()
    if code not in WITH_RESULT or said.count(b"\n") != 1:
        words = words or f"trundle said nothing and ended with {code}, or hung for {LIMIT_S} s."
        return {"file_sha256": digest, "code": code, "words": words}, took_s
    return {"file_sha256": digest, "code": code, **columns(json.loads(said))}, took_s


def feed(fs, path: str, into) -> tuple[str, float]:
    """Send a file on as it is read; gives its SHA-256, and the seconds that fetching it took.

    The program may have had enough before its end.
    """
    digest, takes, began, sending_s = hashlib.sha256(), True, time.monotonic(), 0.0
    with fs.open(path, "rb", block_size=CHUNK) as source:
        while chunk := source.read(CHUNK):
            digest.update(chunk)
            if takes:
                sent = time.monotonic()
                try:
                    into.write(chunk)
                except BrokenPipeError:
                    takes = False
                sending_s += time.monotonic() - sent
    fetching_s = time.monotonic() - began - sending_s
    with contextlib.suppress(BrokenPipeError):
        into.close()
    return digest.hexdigest(), fetching_s


def columns(origin: dict) -> dict:
    """The columns of a result; the document itself is one of them, byte for byte."""
    document = json.loads(origin["document"])
    row = {key: origin[key] for key in ("started_utc", "recorded_with", "practice", "rig")}
    row["state"] = document["state"]
    row["document"] = origin["document"]
    for channel in ("wheel", "radar"):
        found = (document.get("channels") or {}).get(channel) or {}
        ways = (found.get(way) for way in ("combined", "satellite", "tape"))
        best = next((way for way in ways if way), {})
        row[f"{channel}_value_to_enter"] = found.get("value_to_enter")
        row[f"{channel}_per_100m"] = best.get("impulses_per_100m")
        row[f"{channel}_expanded_uncertainty"] = best.get("expanded_uncertainty")
    return row
