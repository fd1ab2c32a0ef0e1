"""Hold the program's values against a truth that it cannot know.

Jobs are made by the physics beside this file, written as plain import files, taken in by `trundle
import` and calculated by `trundle work --json`. What comes out is compared with the truth: do the
95 % intervals cover, is anything silently wrong, is anything flagged or lost without a cause?

    python honest.py TRUNDLE [--seeds N] [--first-seed K] [--family NAME ...] [--snapshot FILE]
                             [--against FILE] [--keep FOLDER]
"""

import argparse
import json
import pathlib
import shutil
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor

from honest_drive import Drive
from honest_faults import FAMILIES
from honest_judge import judge, table
from honest_receive import write
from honest_run import random, run
from honest_slip import SLIP_FAMILIES, slip_job


def scratch():
    memory = pathlib.Path("/dev/shm")
    return tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None)


def value_job(trundle, name, seed, folder):
    """Make one job, have it calculated, and put truth and values side by side."""
    rng = random(name, seed)
    drive = Drive(FAMILIES[name].make(rng), rng)
    options = write(drive, rng, folder)
    truth = {"wheel": drive.true_wheel, "radar": drive.true_radar}
    expected = [c for c in truth if getattr(drive.setting, c) is not None]
    (folder / "truth.json").write_text(json.dumps({
        "family": name, "seed": seed, "truth": truth, "course_m": drive.length}))
    kept = {"family": name, "seed": seed, "channels": {}, "flags": [], "refused": None}
    taken = run(trundle, "import", *options, "--out", folder / "job.capture")
    if taken.returncode == 5 or not (folder / "job.capture").exists():
        kept["refused"] = (taken.stderr or taken.stdout).strip().splitlines()[0]
    else:
        done = run(trundle, "work", folder / "job.capture", "--json")
        (folder / "result.json").write_text(done.stdout)
        if done.returncode == 5:
            kept["refused"] = done.stderr.strip().splitlines()[0]
    found = {} if kept["refused"] else json.loads(done.stdout)
    kept["flags"] = [[f["code"], f["channel"], f["weight"]] for f in found.get("flags", ())]
    for channel in expected:
        sides = found.get("channels", {}).get(channel) or {}
        kept["channels"][channel] = {
            "enter": sides.get("value_to_enter"),
            **{side: figure(sides.get(side), truth[channel])
               for side in ("tape", "satellite", "combined")},
        }
    kept["sides"] = (["satellite"] if drive.setting.course == "none"
                     else ["tape", "satellite", "combined"])
    return kept


def figure(value, truth):
    """Relative error and half-width, degrees of freedom and coverage factor."""
    if value is None:
        return None
    return {
        "error": value["impulses_per_100m"] / truth - 1,
        "half": value["expanded_uncertainty"] / truth,
        "dof": value["degrees_of_freedom"],
        "k": value["coverage_factor"],
    }


def one(task):
    trundle, name, seed, keep = task
    with scratch() as folder:
        folder = pathlib.Path(folder)
        job = slip_job if name in SLIP_FAMILIES else value_job
        kept = job(trundle, name, seed, folder)
        if keep:
            shutil.copytree(folder, pathlib.Path(keep) / f"{name}-{seed}", dirs_exist_ok=True)
    return kept


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("trundle", type=pathlib.Path)
    parser.add_argument("--seeds", type=int, default=60, help="jobs of each family")
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--family", action="append", help="only this one; may be repeated")
    parser.add_argument("--keep", help="copy the files of every job into this folder")
    parser.add_argument("--snapshot", help="write the table here")
    parser.add_argument("--against", help="hold half-widths against an earlier table")
    parser.add_argument("--raw", help="write what every job gave here, as JSON")
    parser.add_argument("--judge-raw", nargs="+", help="judge such files instead of making jobs")
    parser.add_argument("--list", action="store_true", help="say what families there are")
    parser.add_argument("--jobs", type=int, default=2, help="jobs at a time")
    given = parser.parse_args()
    if given.list:
        for family in (*FAMILIES.values(), *SLIP_FAMILIES.values()):
            print(f"{family.name:24} {family.kind:6} {family.words}")
        return 0
    names = given.family or [*FAMILIES, *SLIP_FAMILIES]
    for name in names:
        if name not in FAMILIES and name not in SLIP_FAMILIES:
            sys.exit(f"there is no family {name}; --list says which there are")
    if given.judge_raw:
        kept = [job for file in given.judge_raw
                for job in json.loads(pathlib.Path(file).read_text("utf-8"))]
    else:
        kept = make(given, names)
    if given.raw:
        pathlib.Path(given.raw).write_text(json.dumps(kept), encoding="utf-8")
    text = table(kept)
    print(text)
    if given.snapshot:
        pathlib.Path(given.snapshot).write_text(text + "\n", encoding="utf-8")
    against = pathlib.Path(given.against).read_text("utf-8") if given.against else None
    faults = judge(kept, against)
    for fault in faults:
        print(f"MISSED: {fault}")
    print(f"honest: {len(kept)} jobs, {len(faults)} findings")
    return 1 if faults else 0


def make(given, names):
    """All jobs, two at a time, with a word on each family as it is done."""
    tasks = [(given.trundle.resolve(), name, given.first_seed + i, given.keep)
             for name in names for i in range(given.seeds)]
    kept = []
    with ProcessPoolExecutor(given.jobs) as pool:
        for job in pool.map(one, tasks, chunksize=2):
            kept.append(job)
            if len(kept) % given.seeds == 0:
                print(f"{job['family']} ...", file=sys.stderr, flush=True)
    return kept


if __name__ == "__main__":
    sys.exit(main())
