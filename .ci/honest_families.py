"""Families of jobs: each draws its settings from a seed, and says what is allowed.

Those with nothing wrong stand here, the others in honest_faults.py.

`clean`: nothing is wrong; a value on every channel and side, and no flag beyond a remark.
`odd`: nothing that spoils the value; it must be given and right, flags are allowed.
`wrong`: something is wrong; right, flagged or withheld, never silently wrong.
"""

import dataclasses

from honest_drive import Setting

FAMILIES = {}


@dataclasses.dataclass
class Family:
    """How its settings are drawn, and what is allowed."""

    name: str
    kind: str
    make: object
    words: str


def family(kind, words):
    def keep(make):
        name = make.__name__.replace("_", "-")
        FAMILIES[name] = Family(name, kind, make, words)
        return make
    return keep


def usual(rng, **changes):
    """A clean job with what differs between any two jobs."""
    values = {
        "speed": float(rng.uniform(2.2, 3.8)),
        "wheel": float(rng.uniform(9500, 13500)),
        "radar": float(rng.uniform(10000, 13500)),
        "weave_m": float(rng.uniform(0.01, 0.05)),
        "weave_wave_m": float(rng.uniform(22, 35)),
        "wheel_scatter": float(rng.uniform(0.00005, 0.0002)),
        "right_m": float(rng.uniform(-0.5, 0.5)),
        "ahead_m": float(rng.uniform(0.3, 1.8)),
        "slope": float(rng.uniform(-0.01, 0.01)),
        "form": str(rng.choice(["board", "utc", "arrival"])),
        "count_hz": float(rng.choice([10, 20, 50])),
        "rate_hz": float(rng.choice([5, 10])),
        "delay_s": float(rng.uniform(0.04, 0.15)),
    }
    return Setting(**{**values, **changes})


def coarse(rng):
    return {"wheel": float(rng.uniform(150, 800)), "radar": float(rng.uniform(150, 800))}


# -- nothing wrong --------------------------------------------------------------------------------


@family("clean", "RTK, six passes of 100 m, fine sensors")
def rtk(rng):
    return usual(rng)


@family("clean", "corrected positions, fine sensors")
def differential(rng):
    return usual(rng, kind="differential")


@family("clean", "a receiver without corrections")
def standalone(rng):
    return usual(rng, kind="standalone", speed_digits=int(rng.choice([2, 3])))


@family("clean", "four passes")
def four_passes(rng):
    return usual(rng, passes=4, kind=str(rng.choice(["rtk", "differential"])))


@family("clean", "RTK, 150 to 800 impulses per 100 m")
def coarse_rtk(rng):
    return usual(rng, **coarse(rng))


@family("clean", "corrected, 150 to 800 impulses per 100 m")
def coarse_differential(rng):
    return usual(rng, kind="differential", **coarse(rng))


@family("clean", "fine wheel, radar of 150 to 800")
def coarse_radar(rng):
    return usual(rng, radar=float(rng.uniform(150, 800)))


@family("clean", "40,000 to 80,000 impulses per 100 m")
def high_counts(rng):
    return usual(rng, wheel=float(rng.uniform(4e4, 8e4)), radar=float(rng.uniform(2e4, 4e4)))


@family("clean", "the sensors themselves scatter 0.1 % from pass to pass")
def sensor_scatter(rng):
    return usual(rng, wheel_scatter=0.001, radar_scatter=0.001,
                 kind=str(rng.choice(["rtk", "differential"])))


@family("clean", "slip that differs from pass to pass, 0.05 to 0.3 %")
def slip_by_pass(rng):
    return usual(rng, pass_slip=(lambda s: list(s - s.mean() + 0.00175))(
        rng.normal(0, 0.0007, 6)))


@family("clean", "course of 50 m")
def course_50(rng):
    return usual(rng, nominal_m=50.0)


@family("clean", "course of 200 m")
def course_200(rng):
    return usual(rng, nominal_m=200.0, passes=4, speed=4.0)


@family("clean", "course of 634 m, four passes at road speed")
def course_634(rng):
    return usual(rng, nominal_m=634.0, passes=4, speed=10.0, tape_class="I", count_hz=20.0,
                 rate_hz=5.0, kind=str(rng.choice(["rtk", "differential"])))


@family("clean", "a slope of 3 to 6 %, its height stated or not")
def slope(rng):
    return usual(rng, slope=float(rng.choice([-1, 1]) * rng.uniform(0.03, 0.06)),
                 height_stated=bool(rng.integers(2)), kind=str(rng.choice(["rtk", "differential"])))


@family("clean", "the antenna rocks 10 cm either way at 0.35 to 0.7 Hz, RTK")
def sway(rng):
    return usual(rng, sway_m=0.10, sway_hz=float(rng.uniform(0.35, 0.7)))


@family("clean", "the antenna rocks, corrected positions")
def sway_differential(rng):
    return usual(rng, sway_m=0.10, sway_hz=float(rng.uniform(0.35, 0.7)), kind="differential")


@family("clean", "the wheels weave 10 to 20 cm over 20 to 30 m, RTK")
def weave(rng):
    return usual(rng, weave_m=float(rng.uniform(0.10, 0.20)),
                 weave_wave_m=float(rng.uniform(20, 30)))


@family("clean", "impulses unevenly spaced over a turn")
def uneven_teeth(rng):
    teeth = int(rng.integers(20, 60))
    return usual(rng, wheel=teeth * float(rng.uniform(18, 25)), teeth=teeth,
                 uneven=float(rng.uniform(0.15, 0.4)))


@family("clean", "sent 0.15 to 0.4 s late with jitter, of an instant up to 0.1 s before")
def late_and_jittery(rng):
    return usual(rng, form="arrival", delay_s=float(rng.uniform(0.15, 0.4)), jitter_s=0.03,
                 behind_s=float(rng.uniform(0, 0.1)))


@family("clean", "one fix a second")
def one_hertz(rng):
    return usual(rng, rate_hz=1.0, kind=str(rng.choice(["rtk", "differential"])))


@family("clean", "the day ends in the job")
def midnight(rng):
    return usual(rng, start_s=86400.0 - float(rng.integers(60, 400)))


@family("clean", "the date line runs through the course")
def date_line(rng):
    return usual(rng, place=(float(rng.uniform(-50, 60)), 180.0 - float(rng.uniform(0, 5e-4)),
                             float(rng.uniform(0, 300))))


@family("clean", "across the equator and the prime meridian")
def south_west(rng):
    return usual(rng, place=(*rng.uniform(-3e-4, 3e-4, 2).tolist(), 20.0))


@family("clean", "VTG before GGA, no RMC, the date from ZDA")
def vtg_first(rng):
    return usual(rng, order="vtg-gga-zda")


@family("clean", "RMC before GGA, GSA and GSV in between")
def other_orders(rng):
    return usual(rng, order=str(rng.choice(["rmc-gga", "gga-vtg-rmc", "vtg-gga-rmc", "sky"])))


@family("clean", "GLL with more decimals of the second than GGA")
def gll(rng):
    return usual(rng, order="gll")


@family("clean", "running counts wrap at 32 bits")
def wrap(rng):
    return usual(rng, first_count=2**32 - int(rng.integers(5000, 60000)))


@family("clean", "a fibreglass tape without a coefficient")
def fibreglass(rng):
    return usual(rng, course='material = "fibreglass"')


@family("clean", "no radar")
def wheel_only(rng):
    return usual(rng, radar=None, kind=str(rng.choice(["rtk", "differential"])))
