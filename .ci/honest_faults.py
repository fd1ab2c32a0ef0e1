"""Families of jobs in which something is odd or wrong; see honest_families.py."""

import dataclasses

import numpy as np

from honest_drive import markov
from honest_families import FAMILIES, family, usual

__all__ = ["FAMILIES"]


# -- odd: the value is wanted, flags are allowed ---------------------------------------------------


@family("odd", "light gates: marks on the move")
def rolling(rng):
    return usual(rng, rolling=True, count_hz=50.0)


@family("odd", "no tape, RTK")
def no_tape_rtk(rng):
    return usual(rng, course="none")


@family("odd", "no tape, corrected; the receiver's speed off by 0.03 % (one standard deviation)")
def no_tape_differential(rng):
    return usual(rng, course="none", kind="differential",
                 speed_scale=1 + float(rng.normal(0, 0.0003)))


@family("odd", "no tape, no corrections; the speed off as before")
def no_tape_standalone(rng):
    return usual(rng, course="none", kind="standalone",
                 speed_scale=1 + float(rng.normal(0, 0.0003)))


@family("odd", "the receiver smooths over 1.5 s")
def smoothing(rng):
    return usual(rng, smooth_s=1.5, kind=str(rng.choice(["rtk", "differential"])))


@family("odd", "the laptop's clock is 0.2 to 60 s off")
def laptop_clock(rng):
    return usual(rng, form=str(rng.choice(["utc", "arrival"])),
                 laptop_s=float(rng.choice([-1, 1]) * np.exp(rng.uniform(-1.6, 4.1))))


@family("odd", "fixes are missing for 2 to 5 s of a pass")
def gap(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        begin = middle(drive, rng, 0.3, 0.7)
        away = (fixes.t > begin) & (fixes.t < begin + rng.uniform(2, 5))
        for field in dataclasses.fields(fixes):
            setattr(fixes, field.name, getattr(fixes, field.name)[~away])
    return usual(rng, mangle=mangle)


@family("odd", "one line of the counts holds 0 in the middle of a pass")
def garbled_line(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        at = int(np.searchsorted(t, middle(drive, rng, 0.2, 0.8)))
        for values in counts.values():
            values[at] = 0
    return usual(rng, mangle=mangle, first_count=int(rng.integers(1000, 100000)))


@family("odd", "an encoder that wavers by one at standstill")
def wavering_encoder(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        rest = np.interp(t, drive.t, np.gradient(drive.s, drive.t)) < 1e-6
        wavers = rest & (rng.uniform(size=len(t)) < 0.05) & (counts["wheel"] > 0)
        counts["wheel"] = counts["wheel"] - wavers
    return usual(rng, mangle=mangle)


@family("odd", "three satellites and 80 m off for some seconds between passes")
def bad_sky(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        number = int(rng.integers(0, len(drive.spans) - 1))
        begin = 0.5 * (drive.spans[number][3] + drive.spans[number + 1][2]) - 4
        away = (fixes.t > begin) & (fixes.t < begin + rng.uniform(3, 8))
        fixes.enu[away] += 80.0 * np.array([*rng.choice([-1, 1], 2), 1.0]) / 1.4
        fixes.hdop[away], fixes.satellites[away], fixes.quality[away] = 99.0, 3, 1
    return usual(rng, mangle=mangle)


# -- something wrong ------------------------------------------------------------------------------


def middle(drive, rng, low, high, number=None):
    """An instant within a pass."""
    if number is None:
        number = int(rng.integers(1, len(drive.spans)))
    _, _, begin, end = drive.spans[number]
    return begin + rng.uniform(low, high) * (end - begin)


@family("wrong", "RTK whose speed is 0.3 % off")
def speed_scale_rtk(rng):
    return usual(rng, speed_scale=1 + float(rng.choice([-1, 1])) * 0.003)


@family("wrong", "corrected, the speed 0.3 % off")
def speed_scale_differential(rng):
    return usual(rng, kind="differential", speed_scale=1 + float(rng.choice([-1, 1])) * 0.003)


@family("wrong", "the receiver's clock steps back by 13 to 18 s")
def clock_step(rng):
    step = int(rng.integers(13, 19))

    def mangle(drive, rng, fixes, t, counts, marks):
        at = rng.uniform(60, drive.t[-1] - 60)
        fixes.stamp[fixes.t < at] += step
    return usual(rng, mangle=mangle)


@family("wrong", "corrections are lost for 8 s, the speed halved meanwhile")
def half_speed(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        for number in rng.choice(len(drive.spans), 2, replace=False):
            begin = middle(drive, rng, 0.1, 0.7, number)
            away = (fixes.t > begin) & (fixes.t < begin + 8)
            fixes.speed[away] *= 0.5
            fixes.quality[away] = 1
            fixes.hdop[away] = 1.1
            fixes.enu[away] += rng.normal(0, (0.3, 0.3, 0.6), 3)
    return usual(rng, mangle=mangle)


@family("wrong", "one peg beside a wall: positions there 5 to 50 cm off, slowly changing")
def multipath(rng):
    size = float(rng.uniform(0.05, 0.5))

    def mangle(drive, rng, fixes, t, counts, marks):
        far = np.interp(fixes.t, drive.t, drive.s)
        place = np.interp(far, drive.arc, drive.ground[:, 0])
        near = 1 / (1 + np.exp(-(place - 0.9 * drive.length) / 2))
        step = 1 / drive.setting.rate_hz
        for i in range(2):
            off = rng.normal(0, size) + markov(rng, len(fixes.t), step, size / 2, 60.0)
            fixes.enu[:, i] += near * off
    return usual(rng, mangle=mangle, kind=str(rng.choice(["rtk", "differential"])))


@family("wrong", "RTK that is float in one pass, 0.2 to 0.5 m off")
def float_pass(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        number = int(rng.integers(0, len(drive.spans)))
        _, _, begin, end = drive.spans[number]
        away = (fixes.t > begin + 5) & (fixes.t < end + 25)
        fixes.quality[away] = 5
        fixes.hdop[away] = 0.9
        fixes.enu[away] += rng.normal(0, (0.3, 0.3, 0.6), 3)
    return usual(rng, mangle=mangle)


@family("wrong", "marks pressed while the tractor still creeps")
def creeping_marks(rng):
    return usual(rng, creep=float(rng.uniform(0.05, 0.4)))


@family("wrong", "one direction slips 0.5 to 1.5 % more")
def one_sided_slip(rng):
    more = float(rng.uniform(0.005, 0.015))
    return usual(rng, pass_slip=[0.001 + more * (i % 2) for i in range(6)])


@family("wrong", "the value drifts 0.2 to 0.6 % over the passes")
def drift(rng):
    more = float(rng.choice([-1, 1]) * rng.uniform(0.002, 0.006))
    return usual(rng, pass_slip=[more * i / 5 for i in range(6)],
                 kind=str(rng.choice(["rtk", "differential"])))


@family("wrong", "one pass slips 1 to 4 %")
def one_slips(rng):
    slip = [0.0] * 6
    slip[int(rng.integers(0, 6))] = float(rng.uniform(0.01, 0.04))
    return usual(rng, pass_slip=slip, true_slip=0.0)


@family("wrong", "a curved course, taped along the path")
def curved(rng):
    return usual(rng, bend_per_m=float(rng.choice([-1, 1]) / rng.uniform(100, 400)),
                 nominal_m=float(rng.choice([100.0, 200.0])), passes=4)


@family("wrong", "a curved course without a tape")
def curved_no_tape(rng):
    return usual(rng, bend_per_m=float(rng.choice([-1, 1]) / rng.uniform(100, 400)),
                 course="none", passes=4)


@family("wrong", "the tape misread, by as much as the receiver can see")
def tape_misread(rng):
    kind = str(rng.choice(["rtk", "differential"]))
    least = {"rtk": 0.1, "differential": 0.5}[kind]
    return usual(rng, kind=kind,
                 blunder_m=float(rng.choice([-1, 1]) * rng.uniform(least, 2 * least + 0.5)))


@family("wrong", "the wheel's impulses fail for 0.3 to 1 s in one or two passes")
def lost_impulses(rng):
    def mangle(drive, rng, fixes, t, counts, marks):
        for number in rng.choice(len(drive.spans), int(rng.integers(1, 3)), replace=False):
            begin = middle(drive, rng, 0.2, 0.8, number)
            end = begin + rng.uniform(0.3, 1.0)
            at = np.searchsorted(t, (begin, end)).clip(0, len(t) - 1)
            lost = counts["wheel"][at[1]] - counts["wheel"][at[0]]
            kept = counts["wheel"].copy()
            kept[at[0]:at[1]] = kept[at[0]]
            kept[at[1]:] -= lost
            counts["wheel"] = kept
    return usual(rng, mangle=mangle)


@family("wrong", "the radar counts 1 to 5 impulses a second at standstill")
def radar_idles(rng):
    return usual(rng, radar_idle_hz=float(rng.uniform(1, 5)))


@family("wrong", "no tape, corrected, the speed 0.3 % off")
def no_tape_scale(rng):
    return usual(rng, course="none", kind="differential",
                 speed_scale=1 + float(rng.choice([-1, 1])) * 0.003)
