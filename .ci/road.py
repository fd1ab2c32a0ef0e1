"""Hold the program against real recordings with independent values, where they are at hand.

The recordings are plain import files made of open data; TRUNDLE_ROAD names their folder. How to
make it: DEVELOPERS.md. The values were found from RTK positions and raw counts by other means than
the program's, see the table SOURCE.md beside the recordings.

    TRUNDLE_ROAD=FOLDER python road.py TRUNDLE
"""

import gzip
import json
import os
import pathlib
import re
import shutil
import statistics
import subprocess
import sys
import tempfile

HOW = """road: no recordings: TRUNDLE_ROAD names no folder. To have them:
  clone github.com/ivsg-psu/FieldDataCollection_DataCollectionProcedures_TimeClean (MIT) and
  github.com/commaai/comma2k19 (MIT), and make the import files as DEVELOPERS.md says."""
# Impulses per 100 m. Wheel counts by RTK chords, eleven and eight passes.
TRACK, MOTORWAY = 20208.3, 20163.7
# A curved course: by the RTK path, as three receivers have it.
CURVED = (20135.0, 20257.0)
# By Doppler, and by a pose fused of camera, inertial sensor and satellites.
CAR = (9913.0, 9916.0)


class Road:
    """One recording: its files unpacked, taken in and calculated."""

    def __init__(self, trundle, folder, name, out, counts="counts.csv"):
        self.trundle, self.capture = trundle, out / "job.capture"
        for packed in sorted((folder / name).glob("*.gz")):
            with gzip.open(packed) as source, (out / packed.stem).open("wb") as target:
                shutil.copyfileobj(source, target)
        self.counts = out / counts
        files = ["--nmea", out / "receiver.nmea", "--counts", self.counts]
        for option, file in (("--marks", "marks.csv"), ("--course", "course.toml")):
            if (out / file).exists():
                files += [option, out / file]
        self.taken = self.run("import", *files, "--out", self.capture)

    def run(self, *words):
        words = [str(self.trundle), *map(str, words)]
        return subprocess.run(words, capture_output=True, text=True, check=False)

    def result(self, *words):
        """The JSON of a command, or None where the capture could not be made or used."""
        if not self.capture.exists():
            return None
        done = self.run(words[0], self.capture, *words[1:], "--json")
        return json.loads(done.stdout) if done.returncode in (0, 1) else None

    def said(self):
        return (self.taken.stdout + self.taken.stderr).strip()


def near(value, true, percent):
    if value is None:
        return "no value"
    off = 100 * (value / true - 1)
    return None if abs(off) <= percent else f"{value:.1f}, {off:+.3f} % from {true}"


def wheel(result, side="satellite"):
    found = ((result or {}).get("channels", {}).get("wheel") or {}).get(side)
    return found and found["impulses_per_100m"]


def track_b(open_road):
    """Two gates crossed by light gate, eleven passes."""
    result = open_road("track-b").result("work")
    yield "wheel by satellite", near(wheel(result), TRACK, 0.03)


def motorway_d(open_road):
    """Eight passes of 634 m at road speed, and slip over the way."""
    road = open_road("motorway-d")
    yield "wheel by satellite", near(wheel(road.result("work")), MOTORWAY, 0.02)
    slip = road.result("slip", "--zero-slip-value", MOTORWAY)
    sections = (slip or {}).get("sections", [])
    valid = [s["slip"] for s in sections if s["state"] == "valid"]
    share = len(valid) / max(1, len(sections))
    few = f"{100 * share:.0f} % of {len(sections)} sections are valid"
    yield "sections are not all unreliable", None if share >= 0.5 else few
    if valid:
        middle = statistics.median(valid)
        scatter = 148.26 * statistics.median(abs(s - middle) for s in valid)
        wide = f"robust scatter of the valid sections {scatter:.3f} %"
        yield "scatter of sections", None if scatter <= 0.20 else wide


def curved_course(open_road):
    """The chord is 3 % shorter than the way: no value, or that of the way."""
    for counts in ("counts.csv", "counts_monotone.csv"):
        result = open_road("curved-course", counts).result("work")
        values = (result or {}).get("channels", {}).get("wheel") or {}
        given = values.get("value_to_enter")
        good = given is None or CURVED[0] <= given <= CURVED[1]
        yield f"{counts}: value to enter", None if good else f"{given}"
        resets = [f["what"] for f in (result or {}).get("flags", ()) if f["code"] == "BOARD_RESET"]
        wrong = resets[0] if resets else None if result else "not calculated"
        yield f"{counts}: no board reset", wrong


def lost_corrections(open_road):
    """Half the true speed for some 8 s: a slip of 30 % that was none."""
    road = open_road("lost-corrections")
    slip = road.result("slip", "--zero-slip-value", MOTORWAY)
    if slip is None:
        yield "sections", f"not calculated: {road.said()}"
        return
    false = [s for s in slip["sections"] if s["state"] == "valid" and s["slip"] > 0.1]
    words = ", ".join(f"{s['utc']} {100 * s['slip']:.1f} %" for s in false[:3])
    yield "no valid section of false slip", words or None
    yield "there are sections", None if len(slip["sections"]) > 50 else "hardly any"


def garbled_line(open_road):
    """One line of the counts is 0 in the middle of the run."""
    road = open_road("garbled-line")
    lines = road.counts.read_text().splitlines()
    rows = [int(line.split(",")[1]) for line in lines[1:]]
    garbled = [i + 2 for i in range(1, len(rows)) if rows[i] == 0 and rows[i - 1] > 0]
    named = all(re.search(rf"\bline {number}\b", road.said(), re.I) for number in garbled)
    yield "the line is named", None if garbled and named else f"lines {garbled}: {road.said()}"
    result = road.result("work")
    yield "the rest is calculated", None if wheel(result) else f"no value: {road.said()}"
    passes = (result or {}).get("passes", [])
    refused = [p["number"] for p in passes if p["state"] == "refused"]
    bad = f"{len(passes)} passes, refused {refused}"
    yield "its passes", None if passes and not refused else bad


def car_speeds(open_road):
    """Speeds of a car by its wheels and by Doppler."""
    road = open_road("car-speeds")
    speeds = road.result("speeds") or {}
    found = [p["line"]["gain"] if p["line"] else p["ratio"] for p in speeds.get("pairs", ())
             if p["of"] == "wheel" and p["against"] == "satellite"]
    if not found or found[0] is None:
        yield "wheel against satellite", f"no value: {speeds.get('refusal') or road.said()}"
        return
    value, half = (100 * found[0][key] for key in ("value", "expanded_uncertainty"))
    for true in CAR:
        off = f"{value:.1f} ± {half:.1f}, not {true}"
        yield f"wheel against satellite, {true:.0f}", None if abs(value - true) <= half else off


CHECKS = (track_b, motorway_d, curved_course, lost_corrections, garbled_line, car_speeds)


def main(trundle):
    named = os.environ.get("TRUNDLE_ROAD")
    if not named or not pathlib.Path(named).is_dir():
        print(HOW)
        return 0
    failed = 0
    for check in CHECKS:
        with tempfile.TemporaryDirectory() as scratch:
            def open_road(name, counts="counts.csv"):
                out = pathlib.Path(tempfile.mkdtemp(dir=scratch))
                return Road(pathlib.Path(trundle).resolve(), pathlib.Path(named), name, out, counts)
            for what, fault in check(open_road):
                print(f"{check.__name__.replace('_', '-')}: {what}: {fault or 'ok'}")
                failed += fault is not None
    print(f"road: {failed} do not hold" if failed else "road: all hold")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
