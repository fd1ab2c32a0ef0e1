"""Recalculate captures of many laptops, on as many machines as there are, into one data set.

    python rework.py CAPTURES SET [--scheduler ADDRESS | --workers N | --alone]

CAPTURES is a folder with a folder for each laptop, SET the folder of the data set; either may be a
bucket (any address that fsspec knows). Neither may lie in the other. All machines must reach both
under these names. The captures are worked by `trundle work -`; what spreads them is Dask's
distributed scheduler. The README beside this file says what stands in the set and how to ask it.

Exit codes: 0 all worked; 1 something could not be worked and is listed; 2 wrong usage, no capture,
no worker, or workers that have not all the same program, also where such a one joined during the
run; 3 the run broke off.
"""

import argparse
import asyncio
import contextlib
import fnmatch
import json
import logging
import os
import pathlib
import sys
import time
import traceback
from concurrent.futures import CancelledError

import fsspec
from fsspec.implementations.local import LocalFileSystem
from parts import Parts
from work import SameProgram, Spec, version_of, work_batch

# Captures that a worker takes at a time: one part of the set at most for each year among them.
BATCH = 16
# A scheduler without a worker is waited for so long, seconds.
WAIT_S = 60
# A batch that has ended more workers than this is given up, and its captures are listed.
DEATHS = 3


class NothingToDo(Exception):
    """There is no capture, nobody to work it, or no place of its own for the set."""


def arguments() -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("captures", help="folder or bucket with a folder for each laptop")
    parser.add_argument("set", help="folder or bucket of the data set")
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--scheduler", metavar="ADDRESS", help="a scheduler that runs already")
    how.add_argument("--workers", type=int, metavar="N", help="processes on this machine")
    how.add_argument("--alone", action="store_true", help="in this process, without a scheduler")
    parser.add_argument("--trundle", default="trundle", help="the program, as workers find it")
    parser.add_argument("--pattern", default="*.capture*", help="names of captures")
    parser.add_argument("--batch", type=int, default=BATCH, help="captures of one task")
    return parser.parse_args()


def apart(captures: str, into: str) -> None:
    """Refuse a set among the captures, or captures within the set."""
    (fs, one), (other_fs, other) = place(captures), place(into)
    if type(fs) is type(other_fs) and (one.startswith(other) or other.startswith(one)):
        raise NothingToDo(
            f"{captures} and {into} are the same folder, or one lies in the other. Nothing was "
            "worked, and no file was touched.\n"
            "Give the set a folder of its own, beside that of the captures."
        )


def place(address: str) -> tuple[fsspec.AbstractFileSystem, str]:
    """Whose a folder is and where it is, links followed; it ends with a slash."""
    try:
        fs, top = fsspec.core.url_to_fs(address)
    except (ImportError, ValueError) as why:
        raise NothingToDo(
            f"{address} cannot be reached from here: {why}\n"
            "Nothing was worked. Install the package for it on all machines, or see to the address."
        ) from None
    if isinstance(fs, LocalFileSystem):
        top = os.path.normcase(os.path.realpath(top)).replace(os.sep, "/")
    return fs, top.rstrip("/") + "/"


@contextlib.contextmanager
def client_of(args: argparse.Namespace):
    """The engine: the scheduler that was named, or one with workers on this machine."""
    from distributed import Client, LocalCluster

    import dask

    dask.config.set({"distributed.scheduler.allowed-failures": DEATHS})
    # That the scheduler is lost is said in words, by the code that ends the run.
    logging.getLogger("distributed.client").setLevel(logging.CRITICAL)
    if args.scheduler:
        with Client(args.scheduler) as client:
            yield client
        return
    with (
        LocalCluster(
            n_workers=args.workers or 1,
            threads_per_worker=1,
            host="127.0.0.1",
            dashboard_address=None,
        ) as cluster,
        Client(cluster) as client,
    ):
        yield client


def carry_code(client) -> None:
    """Give the scheduler and every worker, also a later one, the two modules that they need."""
    here = pathlib.Path(__file__).resolve().parent
    for name in ("parts.py", "work.py"):
        client.upload_file(str(here / name))


def same_program(client, trundle: str) -> str:
    """The version that all workers have."""
    try:
        client.wait_for_workers(1, timeout=WAIT_S)
    except (TimeoutError, asyncio.TimeoutError):
        raise NothingToDo(
            f"The scheduler has had no worker for {WAIT_S} s. Nothing was worked.\n"
            "Start a worker: dask worker ADDRESS --nthreads 1"
        ) from None
    found = client.run(version_of, trundle, on_error="return")
    versions = {str(version) for version in found.values()}
    if len(versions) != 1 or isinstance(next(iter(found.values())), Exception):
        told = "\n".join(f"  {worker}: {version}" for worker, version in sorted(found.items()))
        raise SameProgram(
            f"The workers have not the same program:\n{told}\n"
            "Nothing was worked, since results of several versions would be mixed.\n"
            "Put the same version on every machine, or name it with --trundle."
        )
    return versions.pop()


def results_of(client, batches: list, spec: Spec):
    """What each batch gave, as it comes; a batch that ends its workers is a failure of its own."""
    from distributed import KilledWorker, as_completed

    futures = {
        client.submit(work_batch, batch, spec, pure=False, retries=1): batch for batch in batches
    }
    # Each is let go when it is taken, so that nothing piles up on the scheduler.
    for future in as_completed(list(futures)):
        batch = futures.pop(future)
        try:
            yield future.result()
        except KilledWorker as why:
            words = f"More than {DEATHS} workers that held it have ended ({why})."
            yield {
                "parts": [],
                "failed": [{**one, "code": None, "words": words} for one in batch],
                "trundle_s": 0.0,
                "worked": 0,
            }
        future.release()


def one_by_one(batches: list, spec: Spec):
    """The same without a scheduler."""
    return (work_batch(batch, spec) for batch in batches)


def batches_of(todo: list[dict], size: int) -> list[list[dict]]:
    """Captures of one laptop together, in the order of their names."""
    batches: list[list[dict]] = []
    for one in sorted(todo, key=lambda one: (one["laptop"], one["source"])):
        last = batches[-1] if batches else None
        if last is None or len(last) >= size or last[0]["laptop"] != one["laptop"]:
            batches.append([one])
        else:
            last.append(one)
    return batches


def gather(args: argparse.Namespace, program: str, workers: int, results_of_batches) -> int:
    """Find what is to do, have it done and put it in its place; gives the exit code."""
    found, stray = list_captures(args.captures, args.pattern)
    if not found and not stray:
        raise NothingToDo(
            f"No file called {args.pattern} lies under {args.captures}. Nothing was worked.\n"
            "Name the folder that holds the laptops' folders, or give --pattern."
        )
    spec = Spec(args.captures, args.set, args.trundle, program)
    parts = Parts(args.set)
    parts.clear()
    done = parts.done(found, program)
    todo = [one for one in found if one["source"] not in done]
    print(f"{len(found)} captures, {len(done)} done before, {program}", flush=True)
    failed, worked, trundle_s, began = list(stray), 0, 0.0, time.monotonic()
    for result in results_of_batches(batches_of(todo, args.batch), spec):
        parts.publish(result["parts"])
        failed += result["failed"]
        worked += result["worked"]
        trundle_s += result["trundle_s"]
        print(f"{worked} worked, {len(failed)} not", flush=True)
    wall_s = time.monotonic() - began
    parts.list_unworked(failed)
    parts.clear()
    said = {
        "captures": len(found) + len(stray),
        "done_before": len(done),
        "worked": worked,
        "unworked": len(failed),
        "workers": workers,
        "wall_s": round(wall_s, 3),
        "captures_per_s": round((worked + len(failed) - len(stray)) / max(wall_s, 1e-9), 2),
        "outside_trundle": round(1.0 - trundle_s / max(wall_s * workers, 1e-9), 3),
        "program": program,
    }
    print(json.dumps(said), flush=True)
    return 1 if failed else 0


def list_captures(root: str, pattern: str) -> tuple[list[dict], list[dict]]:
    """Every capture below `root`; and those that lie in no laptop's folder, as failures."""
    fs, top = fsspec.core.url_to_fs(root)
    fs.invalidate_cache()
    top = top.rstrip("/")
    found, stray = [], []
    for path, info in sorted(fs.find(top, detail=True).items()):
        source = path[len(top) :].lstrip("/")
        laptop, within, name = source.partition("/")
        if not fnmatch.fnmatch(source.rpartition("/")[2], pattern):
            continue
        # What tells a file that has changed: by the store's own mark, else by its time.
        marks = ("ETag", "etag", "md5Hash", "content_md5", "mtime", "LastModified", "created")
        mark = next((str(info[key]) for key in marks if info.get(key) is not None), "")
        one = {"laptop": laptop, "source": source, "bytes": info["size"] or 0, "mark": mark}
        if within and name:
            found.append(one)
        else:
            words = "It lies beside the laptops' folders. Put it into the folder of its laptop."
            stray.append({**one, "laptop": None, "code": None, "words": words})
    return found, stray


def reason(why: Exception) -> str:
    """What a run broke off for."""
    if isinstance(why, CancelledError):
        return f"the scheduler is lost, or gave the work up ({getattr(why, 'reason', 'cancelled')})"
    return str(why) if isinstance(why, OSError) and str(why) else f"{type(why).__name__}: {why}"


def main() -> int:
    """Run it; gives the exit code."""
    args = arguments()
    try:
        apart(args.captures, args.set)
        if args.alone:
            program = version_of(args.trundle)
            return gather(args, program, 1, one_by_one)
        with client_of(args) as client:
            carry_code(client)
            program = same_program(client, args.trundle)
            workers = sum(one["nthreads"] for one in client.scheduler_info(-1)["workers"].values())
            return gather(args, program, workers, lambda *given: results_of(client, *given))
    except (SameProgram, NothingToDo) as why:
        print(why, file=sys.stderr)
        return 2
    except Exception as why:
        # A share or scheduler that is lost says enough; with any other, code 1 would be untrue.
        if not isinstance(why, (OSError, CancelledError)):
            traceback.print_exc()
        print(
            f"The run broke off: {reason(why)}\n"
            "What is in its place in the set stays. See to the cause and start the run again: "
            "it does the rest.",
            file=sys.stderr,
        )
        return 3


if __name__ == "__main__":
    sys.exit(main())
