"""Proof drives made by a few formulas, judged by the program, and computed again independently.

Nothing of the program or of its simulator takes part in making the drives: a tractor on a straight
line, a wheel that gives so many impulses a metre, a terminal that divides them by the value in
force and shows whole tenths of a metre. geographiclib puts the antenna on the ellipsoid. What the
program makes of the readings is then computed again: the value in force and its interval by Monte
Carlo (JCGM 101) of the display's and the counts' own distributions (JCGM 100:2008, 4.3.9), each
candidate's fit, the ratio's standard uncertainty from its budget (JCGM 100:2008, 5.1.2) and its
interval by Monte Carlo of that budget, the cost by its definition.

Each drive is judged twice: by the distances typed, and by those on a bus (ISO 11783-7) to which a
control unit with the same value in force sends them every tenth of a second, a while late. Its
frames are put into the capture as an adapter's lines.
"""

import itertools
import json
import math
import pathlib
import struct
import subprocess
import sys

import numpy
from geographiclib.geodesic import Geodesic

COUNT_HZ, FIX_HZ = 50, 10
SPEED, UP, REST = 2.2, 3.0, 12.0  # m/s, s from rest to full speed, s beside each peg
PASS = 100.0  # m
STEP = 0.1  # m, of the display
BUS_STEP = 0.001  # m, of the distance on the bus
BUS_LATE = 0.13  # s, of its messages
BUS_START = 0xFAFF_FFFF - 120_000  # mm: it wraps in the second pass
SENSORS = 5e-5  # of the distance: two sensors of one wheel, from pass to pass
DAY = "2026-05-01T"
START = 8 * 3600.0
PLACE = (52.1, 5.1, 30.0)  # latitude, longitude, heading
DRAWS = 2_000_000
# Name, true impulses per 100 m, value in force, value keyed in, old value, start of the counter,
# state and cause expected.
DRIVES = (
    ("right", 13004.6, 13005, 13005, 13400, 512.34, "took", "ENTERED"),
    ("old", 13004.6, 13400, 13005, 13400, 3.21, "did_not_take", "OLD"),
    ("twice", 12687.3, 6343, 12687, 12100, 77.77, "did_not_take", "FACTOR"),
    ("per-metre", 13349.0, 133, 13349, 13100, 0.0, "did_not_take", "FACTOR"),
    ("kept-wrong", 12687.3, 12800, 12800, 12100, 9000.05, "took_but_off", "ENTERED"),
    ("unknown", 13004.6, 12712, 13005, 13400, 1234.5, "did_not_take", None),
)
PASSES = 2


def leg(t):
    """Way along one pass at a time since its begin, and speed: even up, cruise, even down."""
    lasts = PASS / SPEED + UP
    if t <= 0:
        return 0.0, 0.0
    if t >= lasts:
        return PASS, 0.0
    if t > lasts / 2:
        s, v = leg(lasts - t)
        return PASS - s, v
    if t < UP:
        return 0.5 * SPEED / UP * t * t, SPEED / UP * t
    return SPEED * (t - 0.5 * UP), SPEED


LEG = PASS / SPEED + UP
EACH = 2 * REST + LEG


def way(t):
    n = min(int(t // EACH), PASSES - 1)
    s, v = leg(t - n * EACH - REST)
    return n * PASS + s, v


def clock(t):
    seconds = START + t
    hours, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    return int(hours), int(minutes), seconds


def sentence(body):
    total = 0
    for char in body:
        total ^= ord(char)
    return f"${body}*{total:02X}\r\n"


def degrees(value, digits, ends):
    end = ends[0] if value >= 0 else ends[1]
    whole, part = divmod(abs(value) * 60.0, 60.0)
    return f"{int(whole):0{digits}d}{part:011.8f},{end}"


def fixes():
    line = Geodesic.WGS84.Line(*PLACE)
    for n in range(int(PASSES * EACH * FIX_HZ)):
        t = n / FIX_HZ
        s, v = way(t)
        here = line.Position(s)
        hours, minutes, seconds = clock(t)
        at = f"{hours:02d}{minutes:02d}{seconds:05.2f}"
        lat = degrees(here["lat2"], 2, "NS")
        lon = degrees(here["lon2"], 3, "EW")
        knots = v * 3600 / 1852
        yield sentence(f"GPGGA,{at},{lat},{lon},4,14,0.7,0.000,M,0.000,M,1.0,0001")
        yield sentence(f"GPRMC,{at},A,{lat},{lon},{knots:.3f},{here['azi2']:.2f},010526,,,R")


def stamp(t):
    hours, minutes, seconds = clock(t)
    return f"{DAY}{hours:02d}:{minutes:02d}:{seconds:06.3f}Z"


def write(folder, per_m, in_force, begin, typed):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "receiver.nmea").write_text("".join(fixes()), newline="")
    counts = ["utc,wheel"]
    for n in range(int(PASSES * EACH * COUNT_HZ)):
        t = n / COUNT_HZ
        counts.append(f"{stamp(t)},{math.floor(way(t)[0] * per_m)}")
    (folder / "counts.csv").write_text("\n".join(counts) + "\n")
    marks, shown, counted = ["utc,mark,note"], [], []
    for n in range(PASSES):
        for mark, offset in (("start", 0.5 * REST), ("finish", 1.5 * REST + LEG)):
            t = n * EACH + offset
            impulses = math.floor(way(t)[0] * per_m)
            metres = math.floor((begin + impulses * 100.0 / in_force) / STEP) * STEP
            marks.append(f"{stamp(t)},{mark},")
            if typed:
                marks.append(f"{stamp(t + 1.0)},note,shown distance {metres:.1f}")
            else:
                metres = on_the_bus(t, per_m, in_force) * BUS_STEP
            shown.append(metres)
            counted.append(impulses)
    (folder / "marks.csv").write_text("\n".join(marks) + "\n")
    pairs = range(0, 2 * PASSES, 2)
    return [shown[i + 1] - shown[i] for i in pairs], [counted[i + 1] - counted[i] for i in pairs]


def on_the_bus(t, per_m, in_force):
    """Millimetres since the start, by whole impulses and whole millimetres; the start is whole."""
    return math.floor(math.floor(way(t)[0] * per_m) * 100_000.0 / in_force)


def crc32c(data):
    """CRC-32C (RFC 3720, appendix B.4)."""
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0x82F63B78 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


def record(host_ns, kind, body):
    """One record of a capture, as host/core/src/capture/mod.rs describes it."""
    inner = struct.pack("<HBQ", len(body), kind, host_ns) + body
    return b"\xA7\x54\x72\x5E" + inner + struct.pack("<I", crc32c(inner))


def records(data):
    at = 0
    while at < len(data):
        length, kind, host_ns = struct.unpack_from("<HBQ", data, at + 4)
        yield host_ns, kind, data[at : at + 19 + length], data[at + 15 : at + 15 + length]
        at += 19 + length


def add_bus(capture, per_m, in_force):
    """Put an adapter's lines into a capture: wheel-based and selected speed and distance."""
    old = list(records(capture.read_bytes()))
    # Kind 9 is a line of the table of counts: it says which host time which time of day is.
    rows = [(host_ns, body) for host_ns, kind, _, body in old if kind == 9]
    first_ns, _ = next((ns, body) for ns, body in rows if body.startswith(DAY.encode()))
    made = []
    for n in range(int(PASSES * EACH / 0.1)):
        t = n * 0.1
        s, v = way(t)
        speed = round(v * per_m * 100.0 / in_force * 1000)
        distance = (BUS_START + on_the_bus(t, per_m, in_force)) % 0xFB000000
        host_ns = first_ns + round((t + BUS_LATE) * 1e9)
        for group, last in (("0CFE48F0", 0xFD), ("0CF022F0", 0b11100001)):
            data = struct.pack("<HIBB", min(speed, 0xFAFF), distance, 0xFF, last)
            line = f"T{group}8{data.hex().upper()}\r".encode()
            made.append((host_ns, 13, record(host_ns, 13, line), line))
    last_ns = old[-1][0]
    made = [one for one in made if one[0] < last_ns]
    merged = sorted([*old[:-1], *made], key=lambda one: one[0])
    capture.write_bytes(b"".join(whole for _, _, whole, _ in [*merged, old[-1]]))


class Checks:
    def __init__(self):
        self.done = 0
        self.failed = 0

    def that(self, what, holds, words=""):
        self.done += 1
        if not holds:
            self.failed += 1
            print(f"  DIFFERS: {what}: {words}", file=sys.stderr)

    def near(self, what, found, expected, relative):
        holds = found is not None and math.isclose(found, expected, rel_tol=relative)
        self.that(what, holds, f"{found!r}, independently {expected!r}")


def quantile(values, p):
    return float(numpy.quantile(numpy.abs(values), p))


def drawn_ratio(shown, counted, step, sensors, generator):
    """Metres an impulse over its best value, less one, drawn from display and counts."""

    def tri(half):
        return generator.triangular(-half, 0, half, DRAWS)

    metres = sum(value + tri(step) for value in shown)
    alike = [1.0 + sensors * generator.standard_normal(DRAWS) for _ in counted]
    impulses = sum((value + tri(1.0)) * same for value, same in zip(counted, alike))
    return metres / impulses / (sum(shown) / sum(counted)) - 1.0


def drawn_budget(lines, generator):
    """Draws of a budget: normal and t lines as one t of joined degrees of freedom (JCGM 100, G.4),
    rectangles and triangles by themselves."""
    smooth = [l for l in lines if l["distribution"] in ("normal", "Student t")]
    total = numpy.zeros(DRAWS)
    variance = sum(l["contribution"] ** 2 for l in smooth)
    if variance > 0:
        over = sum(
            l["contribution"] ** 4 / l["degrees_of_freedom"]
            for l in smooth
            if l["degrees_of_freedom"] is not None
        )
        dof = variance**2 / over if over > 0 else math.inf
        shape = generator.standard_normal(DRAWS) if dof > 1e6 else generator.standard_t(dof, DRAWS)
        total += math.sqrt(variance) * shape
    for l in lines:
        u = abs(l["contribution"])
        if l["distribution"] == "rectangular":
            total += generator.uniform(-1, 1, DRAWS) * u * math.sqrt(3)
        elif l["distribution"] == "triangular":
            total += generator.triangular(-1, 0, 1, DRAWS) * u * math.sqrt(6)
    return total


def check(checks, drive, result, shown, counted, typed, generator):
    name, per_100m, in_force, entered, old, _, state, cause = drive
    name = name if typed else f"{name}, bus"
    step, sensors = (STEP, 0.0) if typed else (BUS_STEP, SENSORS)
    checks.that(f"{name}: by", result["by"] == ("distance" if typed else "bus"), result["by"])
    checks.that(f"{name}: state", result["state"] == state, result["state"])
    fits = [one for one in result["candidates"] if one["fits"]]
    causes = [one["cause"] for one in fits]
    checks.that(f"{name}: cause", cause in causes if cause else not causes, causes)
    passes = result["passes"]
    if not typed:
        checks.that(f"{name}: handed on", result["bus"]["handed_on"] == "wheel", result["bus"])
        readings = result["bus"]["readings"]
        checks.that(f"{name}: two distances", len(readings) == 2, readings)
        passes = [one for reading in readings for one in reading["passes"]]
    for n, one in enumerate(passes):
        checks.near(f"{name}: shown of pass {n + 1}", one["shown_m"], shown[n % PASSES], 1e-9)
        checks.that(
            f"{name}: impulses of pass {n + 1}",
            abs(one["wheel_impulses"] - counted[n % PASSES]) < 0.5,
            one["wheel_impulses"],
        )
    metres = sum(shown) / sum(counted)
    drawn = drawn_ratio(shown, counted, step, sensors, generator)
    value = result["in_force"]
    checks.near(f"{name}: value in force", value["impulses_per_100m"], 100.0 / metres, 1e-6)
    half = value["expanded_uncertainty"] / value["impulses_per_100m"]
    checks.near(f"{name}: its interval", half, quantile(drawn, 0.95), 0.01)
    checks.that(
        f"{name}: truly in force",
        abs(value["impulses_per_100m"] / in_force - 1.0) <= 1.5 * half,
        value["impulses_per_100m"],
    )
    wide = quantile(drawn, 0.9999)
    for one in result["candidates"]:
        if one["sensor"] != "wheel" or one["cause"] not in ("ENTERED", "OLD", "STANDARD", "FACTOR"):
            continue
        over = metres * one["impulses_per_100m"] / 100.0
        what = f"{name}: {one['cause']} {one['times'] or ''}"
        checks.near(what, one["shown_over_expected"], over, 1e-9)
        checks.near(f"{what}, half-width", one["half_width"] / over, wide, 0.03)
        if abs(abs(over - 1.0) / (wide * over) - 1.0) > 0.03:
            checks.that(f"{what}, fits", one["fits"] == (abs(over - 1.0) <= wide * over), over)
    ratio = result["shown_over_true"]
    truth = per_100m / in_force
    checks.that(
        f"{name}: the ratio holds the truth",
        abs(ratio["value"] - truth) <= 1.5 * ratio["expanded_uncertainty"],
        f"{ratio['value']} against {truth}",
    )
    lines = ratio["budget"]
    squares = math.sqrt(sum(line["contribution"] ** 2 for line in lines))
    checks.near(f"{name}: standard uncertainty", ratio["standard_uncertainty"], squares, 1e-9)
    drawn = quantile(drawn_budget(lines, generator), 0.95)
    checks.near(f"{name}: interval", ratio["expanded_uncertainty"], drawn, 0.01)
    key = "display." if typed else "bus."
    display = sum(l["contribution"] ** 2 for l in lines if l["key"].startswith(key))
    expected = step / math.sqrt(6) * math.sqrt(len(shown)) / sum(shown) * ratio["value"]
    checks.near(f"{name}: the display's share", math.sqrt(display), expected, 1e-6)
    if result["cost"] is not None:
        error = ratio["value"] - 1.0
        checks.near(f"{name}: error", result["cost"]["error"], error, 1e-9)
        checks.near(f"{name}: area", result["cost"]["area_m2_per_ha"], 1e4 * error, 1e-9)
        checks.near(f"{name}: rate", result["cost"]["difference_l_per_ha"], 200 * error, 1e-9)
    wrong = state != "took"
    checks.that(f"{name}: a cost", (result["cost"] is not None) == wrong, result["cost"])


def main(program, results):
    results = pathlib.Path(results)
    checks, generator = Checks(), numpy.random.default_rng(101)
    for drive, typed in itertools.product(DRIVES, (True, False)):
        name, per_100m, in_force, entered, old, begin, _, _ = drive
        name = name if typed else f"{name}-bus"
        folder = results / name
        shown, counted = write(folder, per_100m / 100.0, in_force, begin, typed)
        capture = folder / "drive.capture"
        files = ["--nmea", folder / "receiver.nmea", "--counts", folder / "counts.csv"]
        files += ["--marks", folder / "marks.csv", "--out", capture]
        subprocess.run([program, "import", *files], check=True, capture_output=True)
        if not typed:
            add_bus(capture, per_100m / 100.0, in_force)
        values = ["--length", "100 m", "--entered", str(entered), "--old", str(old)]
        done = subprocess.run(
            [program, "proof", capture, *values, "--rate", "200", "--json"],
            capture_output=True,
            text=True,
            check=False,
        )
        (results / f"{name}.json").write_text(done.stdout)
        result = json.loads(done.stdout)
        print(f"{name}: {result['state']}, {result['shown_over_true']['value']:.5f}")
        check(checks, drive, result, shown, counted, typed, generator)
    print(f"{checks.done - checks.failed} of {checks.done} agree")
    return 1 if checks.failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
