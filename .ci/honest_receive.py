"""What a satellite receiver says of a drive, and the plain files of a job."""

import dataclasses
import datetime
import math

import numpy as np

from honest_drive import RECEIVERS, STEP_S, markov, to_geodetic

KNOTS = 3600 / 1852


@dataclasses.dataclass
class Fixes:
    """One row an epoch; times are seconds since the drive's begin by true UTC."""

    t: np.ndarray
    stamp: np.ndarray  # what the sentences say the time is, on the same axis
    enu: np.ndarray
    speed: np.ndarray
    course: np.ndarray
    quality: np.ndarray
    hdop: np.ndarray
    satellites: np.ndarray


def receive(drive, rng, place, azimuth):
    """Fixes of the drive, the along axis laid towards `azimuth`."""
    a = drive.setting
    where = drive.antenna()
    sin, cos = math.sin(azimuth), math.cos(azimuth)
    true = np.c_[where[:, 0] * sin - where[:, 1] * cos, where[:, 0] * cos + where[:, 1] * sin,
                 where[:, 2]]
    # Over a tenth of a second, as a receiver's own measurement lasts.
    half = 2
    velocity = np.zeros((len(true), 2))
    velocity[half:-half] = (true[2 * half:, :2] - true[:-2 * half, :2]) / (2 * half * STEP_S)
    step = 1 / a.rate_hz
    shift = 0.003 if a.order == "gll" else 0.0
    t = np.arange(0, drive.t[-1] - 0.5, step) + shift
    quality, white, slow, tau, tall, v_white, v_slow = RECEIVERS[a.kind]
    n = len(t)
    old = t - a.behind_s
    enu = np.c_[[np.interp(old, drive.t, true[:, i]) for i in range(3)]].T
    v = np.c_[[np.interp(old, drive.t, velocity[:, i]) for i in range(2)]].T
    if a.smooth_s:
        enu, v = smooth(enu, step, a.smooth_s), smooth(v, step, a.smooth_s)
    for i, factor in enumerate((1, 1, tall)):
        enu[:, i] += factor * (markov(rng, n, step, slow, tau) + rng.normal(0, white, n))
    for i in range(2):
        v[:, i] += markov(rng, n, step, v_slow, 30.0) + rng.normal(0, v_white, n)
    v *= a.speed_scale
    satellites = {"rtk": 17, "differential": 12, "standalone": 9}[a.kind]
    hdop = {"rtk": 0.6, "differential": 0.9, "standalone": 1.2}[a.kind]
    return Fixes(
        t, t.copy(), enu, np.hypot(v[:, 0], v[:, 1]),
        np.degrees(np.arctan2(v[:, 0], v[:, 1])) % 360, np.full(n, quality), np.full(n, hdop),
        np.full(n, satellites),
    )


def smooth(x, step, tau):
    keep = math.exp(-step / tau)
    out = np.empty_like(x)
    at = x[0]
    for i, row in enumerate(x):
        at = keep * at + (1 - keep) * row
        out[i] = at
    return out


# -- sentences ------------------------------------------------------------------------------------


def sentence(body):
    fold = int.from_bytes(body.encode().ljust(128, b"\0"), "big")
    for bits in (512, 256, 128, 64, 32, 16, 8):
        fold ^= fold >> bits
    return f"${body}*{fold & 255:02X}\r\n"


def angle(degrees, width, letters, digits):
    """Degrees and minutes; 59.99999 never becomes 60."""
    scale = 10**digits
    whole, part = divmod(round(abs(degrees) * 60 * scale), 60 * scale)
    minutes = f"{part // scale:02d}.{part % scale:0{digits}d}"
    return f"{whole:0{width}d}{minutes},{letters[degrees < 0]}"


class Sentences:
    """The sentences of each epoch, in the order of the setting."""

    def __init__(self, setting, place, start, fixes):
        self.a, self.start = setting, start
        # Lists of Python's own numbers format several times faster than arrays.
        self.fixes = Fixes(**{f.name: getattr(fixes, f.name).tolist()
                              for f in dataclasses.fields(fixes)})
        lat, lon, height = to_geodetic(place, *fixes.enu.T)
        self.lat, self.lon = np.degrees(lat).tolist(), np.degrees(lon).tolist()
        self.height = height.tolist()
        self.sep = 47.0

    def epoch(self, i):
        a, f = self.a, self.fixes
        utc = self.start + datetime.timedelta(microseconds=round(float(f.stamp[i]) * 1e6))
        said = utc.isoformat(timespec="milliseconds")  # 2026-01-05T12:34:56.789
        fine = said[11:13] + said[14:16] + said[17:]
        time, day = fine[:-1], said[8:10] + said[5:7] + said[2:4]
        where = (angle(self.lat[i], 2, "NS", a.digits) + ","
                 + angle(self.lon[i], 3, "EW", a.digits))
        q = int(f.quality[i])
        age = "1.0,0001" if q in (2, 4, 5) else ","
        mode = {0: "N", 1: "A", 2: "D", 4: "R", 5: "F"}[q]
        knots = f"{f.speed[i] * KNOTS:.{a.speed_digits}f}"
        course = f"{f.course[i]:.2f}"
        made = {
            "gga": f"GNGGA,{time},{where},{q},{int(f.satellites[i])},{f.hdop[i]:.2f},"
                   f"{self.height[i] - self.sep:.3f},M,{self.sep:.3f},M,{age}",
            "rmc": f"GNRMC,{time},{'A' if q else 'V'},{where},{knots},{course},{day},,,{mode}",
        }
        if "vtg" in a.order:
            made["vtg"] = f"GNVTG,{course},T,,M,{knots},N,{f.speed[i] * 3.6:.3f},K,{mode}"
        if "gll" in a.order:
            made["gll"] = f"GNGLL,{where},{fine},{'A' if q else 'V'},{mode}"
        if "zda" in a.order:
            made["zda"] = f"GNZDA,{time},{utc:%d,%m,%Y},00,00"
        names = {"gll": ["gga", "gll", "rmc"], "sky": ["gga", "gsa", "gsv", "rmc"]}.get(
            a.order, a.order.split("-"))
        if "sky" == a.order:
            made["gsa"] = "GNGSA,A,3,03,05,07,09,12,14,17,19,22,,,,1.1,0.6,0.9,1"
            made["gsv"] = "GPGSV,1,1,04,03,42,110,44,05,61,220,47,07,18,050,39,09,33,301,42,1"
        return [sentence(made[name]) for name in names]


def rfc3339(start, seconds):
    at = start + datetime.timedelta(microseconds=round(float(seconds) * 1e6))
    return at.isoformat(timespec="microseconds") + "Z"


def write(drive, rng, folder):
    """The plain files of a job; returns the options of `trundle import`."""
    a = drive.setting
    place = a.place or (float(rng.uniform(-55, 65)), float(rng.uniform(-179, 179)),
                        float(rng.uniform(0, 900)))
    azimuth = float(rng.uniform(0, 2 * math.pi))
    day = datetime.datetime(2026, 1, 5) + datetime.timedelta(days=int(rng.integers(0, 350)))
    seconds = a.start_s if a.start_s is not None else float(rng.integers(3600, 72000))
    # Epochs stand on round times; the drive begins on one.
    start = day + datetime.timedelta(seconds=round(seconds))
    drive.start = start
    fixes = receive(drive, rng, place, azimuth)
    step = 1 / a.count_hz
    t = np.arange(0, drive.t[-1] - 0.3, step) + rng.uniform(0, step)
    counts = drive.counts(t)
    marks = list(drive.marks)
    if a.mangle is not None:
        t, counts, marks = a.mangle(drive, rng, fixes, t, counts, marks) or (t, counts, marks)
    clock = table_clock(a, rng, start)
    write_counts(folder, a, clock, t, counts)
    write_nmea(folder, a, rng, clock, Sentences(a, place, start, fixes))
    options = ["--nmea", folder / "receiver.nmea", "--counts", folder / "counts.csv"]
    if marks:
        with (folder / "marks.csv").open("w") as out:
            out.write(f"{'board_s' if a.form == 'board' else 'utc'},mark\n")
            out.writelines(f"{clock(at)},{mark}\n" for at, mark in marks)
        options += ["--marks", folder / "marks.csv"]
    if a.course != "none":
        (folder / "course.toml").write_text(course_toml(drive))
        options += ["--course", folder / "course.toml"]
    return options


def table_clock(a, rng, start):
    """Seconds of the drive to what stands in the tables."""
    if a.form == "board":
        begin, rate = rng.uniform(1, 5000), 1 + rng.normal(0, 15e-6)
        return lambda at: f"{begin + at * rate:.6f}"
    if a.form == "arrival":
        off = a.laptop_s or float(np.clip(rng.normal(0, 0.05), -0.1, 0.1))
    else:
        off = a.laptop_s
    return lambda at: rfc3339(start, at + off)


def write_counts(folder, a, clock, t, counts):
    columns = [map(str, (c % 2**32).tolist()) for c in counts.values()]
    rows = [f"{'board_s' if a.form == 'board' else 'utc'},{','.join(counts)}",
            *map(",".join, zip(map(clock, t.tolist()), *columns))]
    (folder / "counts.csv").write_text("\n".join(rows) + "\n")


def write_nmea(folder, a, rng, clock, sentences):
    t = np.array(sentences.fixes.t)
    arrival = t + a.delay_s + rng.exponential(a.jitter_s, len(t))
    arrival = np.maximum.accumulate(arrival)
    with (folder / "receiver.nmea").open("w", newline="") as out:
        for i in range(len(t)):
            lines = sentences.epoch(i)
            if a.form == "arrival":
                for j, line in enumerate(lines):
                    out.write(f"{clock(arrival[i] + 0.006 * j)} {line}")
            else:
                out.writelines(lines)


def course_toml(drive):
    a = drive.setting
    course = [f"nominal_m = {a.nominal_m}"]
    if a.peg_m != 0.01:
        course.append(f"peg_placement_m = {a.peg_m}")
    if a.height_stated:
        course.append(f"height_difference_m = {drive.length * math.sin(math.atan(a.slope)):.2f}")
    tape = [f'class = "{a.tape_class}"', f"temperature_c = {drive.read_c}"]
    tape.append('material = "steel"' if a.course == "full" else a.course)
    return "\n".join(["[course]", *course, "", "[tape]", *tape, ""])
