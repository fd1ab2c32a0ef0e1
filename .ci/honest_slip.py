"""Headlands with slipping wheels for `trundle slip`, and slopes for `trundle speeds`."""

import datetime
import json
import math

import numpy as np

from honest_drive import STEP_M, STEP_S, Drive, markov_one_by_one, smooth_noise
from honest_families import Family, usual
from honest_receive import write
from honest_run import random, run

SLIP_FAMILIES = {}
LOWEST_SPEED = 1.2  # m/s, in turns
ZERO_SLIP_PERCENT = 0.1  # of the zero-slip value, 95 %
MOUNTING_M = 0.03  # of the antenna's place, one standard deviation


def family(kind, words):
    def keep(make):
        name = make.__name__.replace("_", "-")
        SLIP_FAMILIES[name] = Family(name, kind, make, words)
        return make
    return keep


class Ride(Drive):
    """A path driven without stopping on it; no course."""

    def __init__(self, setting, rng, ground, straight, speed_at, slip):
        self.setting, self.rng = setting, rng
        self.marks, self.length, self.read_c = [], 0.0, 20
        step = np.linalg.norm(np.diff(ground, axis=0), axis=1)
        self.ground, self.arc = ground, np.r_[0, np.cumsum(step)]
        way = np.gradient(ground, self.arc, axis=0)
        self.heading = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
        self.straight = straight
        self.drive_along(speed_at)
        self.true_wheel, self.true_radar = setting.wheel, setting.radar
        # What the wheel turns too much over a lug or a clod is slip too.
        own = 1 + smooth_noise(rng, len(slip), STEP_M, setting.rough, 0.4)[1:]
        self.wheel_way = np.r_[0, np.cumsum(
            np.diff(self.arc) * own / (1 - 0.5 * (slip[1:] + slip[:-1])))]
        rough = 1 + smooth_noise(rng, len(slip), STEP_M, 4 * setting.rough, 0.4)[1:]
        radar_way = np.r_[0, np.cumsum(np.diff(self.arc) * rough)]
        self.phases = {}
        for name, line in (("wheel", self.wheel_way), ("radar", radar_way)):
            per_100m = getattr(setting, name)
            if per_100m is not None:
                phase = line * per_100m / 100 + rng.uniform()
                self.phases[name] = np.interp(self.s, self.arc, phase)

    def drive_along(self, speed_at):
        """Speed follows what is wanted within a second or so; rest before and after."""
        rng, end = self.rng, self.arc[-1]
        noise = markov_one_by_one(rng, 400_000, STEP_S, 1.0, 3.0)
        s, v, ways = 0.0, 0.0, [0.0] * int(rng.uniform(30, 35) / STEP_S)
        for i, much in enumerate(noise):
            factor = 1 + self.setting.speed_noise * min(3.0, max(-3.0, much))
            wanted = speed_at(s, i * STEP_S) * factor
            left = max(0.0, end - s)
            wanted = min(wanted, math.sqrt(2 * 0.4 * left) + 0.01)
            v += max(-1.5 * STEP_S, min(0.8 * STEP_S, wanted - v))
            s = min(end, s + v * STEP_S)
            ways.append(s)
            if s >= end:
                break
        ways += [end] * int(12 / STEP_S)
        self.s = np.array(ways)
        self.t = STEP_S * np.arange(len(ways))

    def way_about(self, middle_s, length_m):
        """Ways of axle and wheel over a length, as long in time before as after an instant."""
        wide = np.arange(0.2, 40, 0.02)
        far = np.interp(middle_s + wide, self.t, self.s)
        near = np.interp(middle_s - wide, self.t, self.s)
        i = min(int(np.searchsorted(far - near, length_m)), len(wide) - 1)
        over = np.interp((near[i], far[i]), self.arc, self.wheel_way)
        return far[i] - near[i], over[1] - over[0]


def headland(rng, **changes):
    """Passes side by side with half circles between, slip of 3 to 15 %."""
    setting = usual(rng, form="board", course="none", passes=0, **changes)
    radius, long = float(rng.uniform(5, 8)), float(rng.uniform(80, 130))
    x, y, bends = [], [], []
    for number in range(int(rng.integers(4, 7))):
        sign, left = (1, 0.0) if number % 2 == 0 else (-1, long)
        part = np.linspace(0, long, int(long / STEP_M))[1:]
        weave = setting.weave_m * np.sin(np.pi * part / long) ** 2 * np.sin(
            2 * np.pi * part / setting.weave_wave_m)
        x.append(left + sign * part)
        y.append(2 * radius * number + weave)
        bends.append(np.zeros(len(part), bool))
        # The steering wheel takes a while: bend grows and falls over a quarter of the turn.
        u = np.linspace(0, 1, int(1.3 * np.pi * radius / STEP_M))
        bend = np.clip(np.minimum(u, 1 - u) / 0.2, 0, 1)
        psi = np.cumsum(bend)
        psi *= np.pi / psi[-1]
        dx, dy = np.cumsum(np.cos(psi)), np.cumsum(np.sin(psi))
        scale = 2 * radius / dy[-1]
        x.append(x[-1][-1] + sign * scale * dx)
        y.append(2 * radius * number + scale * dy)
        bends.append(np.ones(len(u), bool))
    x, y, bends = (np.concatenate(p[:-1]) for p in (x, y, bends))
    ground = np.c_[x, y, 0.01 * x]
    n = len(x)
    slip = float(rng.uniform(0.04, 0.11)) + smooth_noise(rng, n, STEP_M, 0.012, 15.0)
    more = smooth_step(bends.astype(float), 100) * float(rng.uniform(-0.01, 0.03))
    slip = np.clip(slip + more, 0.03, 0.15)
    arc = np.r_[0, np.cumsum(np.linalg.norm(np.diff(ground, axis=0), axis=1))]
    fast = float(rng.uniform(1.6, 2.8))
    speeds = np.where(bends, max(LOWEST_SPEED, 0.7 * fast), fast)
    table = speeds.tolist()
    step = arc[-1] / (n - 1)
    ride = Ride(setting, rng, ground, ~bends,
                lambda s, t: table[min(n - 1, int(s / step))], slip)
    return ride


def smooth_step(x, half):
    kernel = np.hanning(2 * half + 1)
    return np.convolve(np.pad(x, half, mode="edge"), kernel / kernel.sum(), "valid")


@family("slip", "RTK, wheel slip 3 to 15 %, board clock")
def slip_rtk(rng):
    return headland(rng)


@family("slip", "corrected positions")
def slip_differential(rng):
    return headland(rng, kind="differential")


@family("slip", "no corrections")
def slip_standalone(rng):
    return headland(rng, kind="standalone")


@family("slip", "RTK on a road, 8 to 14 m/s, slip of half a percent")
def slip_road(rng):
    setting = usual(rng, form="board", course="none", passes=0, rate_hz=10.0)
    along = np.arange(0, float(rng.uniform(1500, 2500)), STEP_M)
    ground = np.c_[along, 40 * np.sin(along / 900), 0.01 * along]
    slip = 0.005 + smooth_noise(rng, len(along), STEP_M, 0.001, 30.0)
    fast = float(rng.uniform(8, 14))
    slows = rng.uniform(0.25, 0.45), rng.uniform(0.55, 0.75)
    end = along[-1]
    return Ride(setting, rng, ground, np.ones(len(along), bool),
                lambda s, t: fast * (0.5 if any(abs(s / end - at) < 0.05 for at in slows) else 1),
                slip)


@family("slip", "RTK, no radar, wheel of 400 to 800 impulses per 100 m")
def slip_coarse(rng):
    return headland(rng, radar=None, wheel=float(rng.uniform(400, 800)))


@family("slip", "RTK, no radar, fine wheel")
def slip_wheel_only(rng):
    return headland(rng, radar=None)


@family("slip-wrong", "corrections are lost for 8 s, the speed halved meanwhile")
def slip_half_speed(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        begin = rng.uniform(0.2, 0.8) * drive.t[-1]
        away = (fixes.t > begin) & (fixes.t < begin + 8)
        fixes.speed[away] *= 0.5
        fixes.quality[away] = 1
        fixes.hdop[away] = 1.1
        fixes.enu[away] += rng.normal(0, (0.3, 0.3, 0.6), 3)
    return headland(rng, mangle=mangle)


@family("slip-wrong", "RTK whose speed is 0.3 % off")
def slip_scale(rng):
    return headland(rng, speed_scale=1 + float(rng.choice([-1, 1])) * 0.003)


@family("slip-wrong", "the antenna rocks 10 cm either way at 0.35 to 0.7 Hz")
def slip_sway(rng):
    return headland(rng, sway_m=0.10, sway_hz=float(rng.uniform(0.35, 0.7)))


@family("speeds", "steady speeds up a slope of 5 to 10 %, or down")
def speeds_slope(rng):
    setting = usual(rng, form="board", course="none", passes=0,
                    kind=str(rng.choice(["rtk", "differential"])))
    rise = float(rng.choice([-1, 1]) * rng.uniform(0.05, 0.10))
    steps = rng.permutation([1.0, 1.6, 2.2, 2.9, 3.6, 4.4]) * rng.uniform(0.95, 1.05)
    lasts = 16.0
    long = float(np.sum(steps)) * lasts
    x = np.linspace(0, long, int(long / STEP_M)) * math.cos(math.atan(rise))
    ground = np.c_[x, 0 * x, x * rise]
    return Ride(setting, rng, ground, np.ones(len(x), bool),
                lambda s, t: steps[min(5, int(t / lasts))], np.zeros(len(x)))


# -- run and compare ------------------------------------------------------------------------------


def slip_job(trundle, name, seed, folder):
    rng = random(name, seed)
    ride = SLIP_FAMILIES[name].make(rng)
    options = write(ride, rng, folder)
    kept = {"family": name, "seed": seed, "refused": None, "sections": [], "totals": [],
            "pairs": []}
    capture = folder / "job.capture"
    taken = run(trundle, "import", *options, "--out", capture)
    if not capture.exists():
        kept["refused"] = (taken.stderr or taken.stdout).strip().splitlines()[0]
        return kept
    a = ride.setting
    if name.startswith("speeds"):
        done = run(trundle, "speeds", capture, "--json")
        (folder / "result.json").write_text(done.stdout)
        pairs(kept, json.loads(done.stdout), a)
        return kept
    # What is known beforehand is known as well as is stated.
    value = a.wheel * (1 + rng.normal(0, ZERO_SLIP_PERCENT / 200))
    right, ahead = rng.normal((a.right_m, a.ahead_m), MOUNTING_M)
    done = run(trundle, "slip", capture, "--zero-slip-value", f"{value:.3f}",
               "--zero-slip-percent", ZERO_SLIP_PERCENT, f"--right={right:.3f} m",
               f"--ahead={ahead:.3f} m", "--mounting-uncertainty", MOUNTING_M, "--json")
    (folder / "result.json").write_text(done.stdout)
    compare(kept, ride, json.loads(done.stdout))
    return kept


def pairs(kept, found, setting):
    for pair in found["pairs"]:
        best = pair["line"]["gain"] if pair["line"] else pair["ratio"]
        if pair["against"] != "satellite" or best is None:
            continue
        true = getattr(setting, pair["of"]) / 100
        kept["pairs"].append({
            "of": pair["of"], "error": best["value"] / true - 1,
            "half": best["expanded_uncertainty"] / true,
        })


def compare(kept, ride, found):
    """Each section with what the wheel truly slipped there; totals over the same sections."""
    sums = {"all": [0.0, 0.0], "passes": [0.0, 0.0], "turns": [0.0, 0.0]}
    for section in found["sections"]:
        utc = datetime.datetime.fromisoformat(section["utc"].replace("Z", ""))
        actual, turned = ride.way_about((utc - ride.start).total_seconds(), section["length_m"])
        for key in ("all", "turns" if section["turning"] else "passes"):
            sums[key][0] += actual
            sums[key][1] += turned
        kept["sections"].append({
            "error": section["slip"] - (1 - actual / turned),
            "u": section["standard_uncertainty"],
            "turning": section["turning"],
            "flags": section["flags"],
        })
    summary = found["summary"] or {}
    totals = {"all": summary, "passes": summary.get("passes"), "turns": summary.get("turns")}
    for key, total in totals.items():
        if total and sums[key][1] > 0:
            kept["totals"].append({
                "of": key, "u": total["standard_uncertainty"],
                "error": total["distance_slip"] - (1 - sums[key][0] / sums[key][1]),
            })
