"""A tractor on a taped course, as independent physics: path, speed, impulses, receiver.

Nothing of the program or of its simulator is used. Lengths are metres, times seconds, angles
radians. Numbers about tractors and receivers without a source are common practice, no source.
"""

import dataclasses
import itertools
import math

import numpy as np

STEP_S = 0.02  # of the time grid
STEP_M = 0.05  # of the path
# WGS 84, from NIMA TR8350.2.
AXIS_M, FLAT = 6378137.0, 1 / 298.257223563
ECC2 = FLAT * (2 - FLAT)


@dataclasses.dataclass
class Setting:
    """What one job is like. The defaults are a clean job."""

    # The course and its tape.
    nominal_m: float = 100.0
    course: str = "full"  # "full", "none", or lines of the [tape] table
    tape_class: str = "II"
    peg_m: float = 0.01  # half-width of a peg's place, as the program assumes by itself
    blunder_m: float = 0.0  # a tape misread
    slope: float = 0.0  # rise over way
    height_stated: bool = False
    bend_per_m: float = 0.0  # 1 / radius of the course
    # The driving.
    passes: int = 6
    speed: float = 2.8
    speed_noise: float = 0.03
    stop_m: float = 0.02  # one standard deviation of stopping beside a peg
    rolling: bool = False
    creep: float = 0.0  # speed at the marks of passes that creep
    weave_m: float = 0.03
    weave_wave_m: float = 25.0
    sway_m: float = 0.0
    sway_hz: float = 0.5
    tilt: float = math.radians(0.12)
    # The sensors: impulses per 100 m, scatter from pass to pass, unevenness.
    wheel: float | None = 12000.0
    radar: float | None = 13000.0
    wheel_scatter: float = 0.00015
    radar_scatter: float = 0.0003
    pass_slip: list | None = None  # of each pass
    true_slip: float | None = None  # what the right value holds of it; else their mean
    rough: float = 0.001
    teeth: int = 0
    uneven: float = 0.0  # amplitude in impulses
    radar_idle_hz: float = 0.0
    first_count: int = 0
    # The receiver.
    kind: str = "rtk"
    rate_hz: float = 5.0
    right_m: float = 0.3
    ahead_m: float = 1.2
    height_m: float = 2.8
    speed_scale: float = 1.0
    smooth_s: float = 0.0
    behind_s: float = 0.0  # positions and speed of an earlier instant
    digits: int = 7
    speed_digits: int = 3
    order: str = "gga-rmc"
    # Clocks and files.
    form: str = "board"
    count_hz: float = 20.0
    laptop_s: float = 0.0
    delay_s: float = 0.08
    jitter_s: float = 0.004
    start_s: float | None = None  # of the day
    place: tuple | None = None
    mangle: object = None  # changes fixes or counts after all is made


# Noise of a receiver: quality, white and slow position (level, standard deviation and time),
# factor for height, speed white and slow.
RECEIVERS = {
    "rtk": (4, 0.006, 0.008, 120.0, 1.8, 0.025, 0.0003),
    "differential": (2, 0.03, 0.40, 250.0, 1.8, 0.035, 0.0005),
    "standalone": (1, 0.08, 1.5, 500.0, 2.0, 0.06, 0.0008),
}


def markov(rng, n, step, sigma, tau):
    """First-order Gauss-Markov noise."""
    return np.array(list(markov_one_by_one(rng, n, step, sigma, tau)))


def markov_one_by_one(rng, n, step, sigma, tau):
    """The same, calculated only as far as it is asked for; all of its randomness is drawn at once."""
    keep = math.exp(-step / tau)
    push = rng.normal(size=n) * sigma * math.sqrt(1 - keep * keep)
    walk = itertools.accumulate(push.tolist(), lambda at, p: at * keep + p,
                                initial=rng.normal() * sigma)
    next(walk)
    return walk


def smooth_noise(rng, n, step, sigma, length):
    """Noise along a path, smooth over about `length`."""
    k = np.arange(-3 * length, 3 * length + step, step)
    kernel = np.exp(-0.5 * (k / length) ** 2)
    white = rng.normal(size=n + len(kernel) - 1)
    return sigma * np.convolve(white, kernel / np.sqrt(np.sum(kernel**2)), "valid")


# -- geometry -------------------------------------------------------------------------------------


def to_ecef(lat, lon, h):
    n = AXIS_M / np.sqrt(1 - ECC2 * np.sin(lat) ** 2)
    across = (n + h) * np.cos(lat)
    return across * np.cos(lon), across * np.sin(lon), (n * (1 - ECC2) + h) * np.sin(lat)


def from_ecef(x, y, z):
    """By iteration on the latitude; five rounds are beyond a micrometre near the ground."""
    p = np.hypot(x, y)
    lat = np.arctan2(z, p * (1 - ECC2))
    for _ in range(5):
        n = AXIS_M / np.sqrt(1 - ECC2 * np.sin(lat) ** 2)
        h = p * np.cos(lat) + z * np.sin(lat) - AXIS_M * np.sqrt(1 - ECC2 * np.sin(lat) ** 2)
        lat = np.arctan2(z, p * (1 - ECC2 * n / (n + h)))
    return lat, np.arctan2(y, x), h


def to_geodetic(place, east, north, up):
    """Local east, north, up at a place (degrees, degrees, m) to radians and m."""
    lat, lon = math.radians(place[0]), math.radians(place[1])
    x0, y0, z0 = to_ecef(lat, lon, place[2])
    sl, cl, so, co = math.sin(lat), math.cos(lat), math.sin(lon), math.cos(lon)
    x = x0 - so * east - sl * co * north + cl * co * up
    y = y0 + co * east - sl * so * north + cl * so * up
    z = z0 + cl * north + sl * up
    return from_ecef(x, y, z)


def pass_line(setting, rng, x_from, x_to, y_from, y_to):
    """Along and across from one standstill to the next."""
    n = max(3, int(abs(x_to - x_from) / STEP_M))
    part = np.linspace(0, 1, n)
    x = x_from + (x_to - x_from) * part
    # Weaving begins and ends with the wheels straight.
    taper = np.sin(np.pi * part) ** 2 if abs(x_to - x_from) < 20 else np.clip(
        np.minimum(part, 1 - part) * abs(x_to - x_from) / 10, 0, 1)
    taper = taper * taper * (3 - 2 * taper)
    wave = setting.weave_wave_m * rng.uniform(0.85, 1.15)
    weave = setting.weave_m * np.sin(2 * np.pi * np.abs(x - x_from) / wave + rng.uniform(0, 6.28))
    ease = part * part * (3 - 2 * part)
    return x, y_from + (y_to - y_from) * ease + weave * taper


def turn_line(x_from, y_from, x_to, y_to, forward):
    """Straight on, a quarter to the right, three quarters to the left, straight back."""
    radius, ahead = 6.0, 4.0
    quarter = np.linspace(0, np.pi / 2, int(radius * 1.6 / STEP_M))
    most = np.linspace(0, 1.5 * np.pi, int(radius * 4.7 / STEP_M))
    on = np.linspace(0, ahead, int(ahead / STEP_M))
    back = np.linspace(ahead + 2 * radius, (x_to - x_from) * forward, 40 * 8)
    x = np.r_[on, ahead + radius * np.sin(quarter)[1:],
              ahead + 2 * radius - radius * np.cos(most)[1:], back[1:]]
    y = np.r_[0 * on, -radius * (1 - np.cos(quarter))[1:],
              -radius - radius * np.sin(most)[1:], 0 * back[1:]]
    ease = np.linspace(0, 1, len(x))
    y = y * forward + y_from + (y_to - y_from) * ease * ease * (3 - 2 * ease)
    return x_from + forward * x, y


def lay(setting, x, y):
    """Along and across onto the ground: three coordinates, the third up."""
    if setting.bend_per_m:
        radius = 1 / setting.bend_per_m
        x, y = (radius - y) * np.sin(x / radius), radius - (radius - y) * np.cos(x / radius)
    tilt = math.atan(setting.slope)
    return np.c_[x * math.cos(tilt), y, x * math.sin(tilt)]


def profile(rng, way, speed, noise, from_rest=True, to_rest=True):
    """Distance over time on the grid from one standstill to the next."""
    ramp = rng.uniform(2.5, 4.0) * speed / 2.8
    speed = min(speed, way / ramp * 0.8)
    n_ramp = int(ramp / STEP_S)
    rise = np.sin(np.linspace(0, np.pi / 2, n_ramp)) ** 2
    halves = from_rest + to_rest
    cruise = max(2, int((way / speed - 0.5 * halves * ramp) / STEP_S))
    v = np.r_[rise if from_rest else [], np.ones(cruise), rise[::-1] if to_rest else []]
    v = v * (1 + noise * markov(rng, len(v), STEP_S, 1.0, 3.0).clip(-3, 3))
    s = np.cumsum(v)
    return s * (way / s[-1])


# -- one job --------------------------------------------------------------------------------------


class Drive:
    """The truth of one job, on a grid of time."""

    def __init__(self, setting, rng):
        self.setting, self.rng = setting, rng
        self.tape()
        self.plan()
        self.move()
        self.count()

    def tape(self):
        """What the pegs are truly apart, the tape's errors drawn within their limits."""
        a, rng = self.setting, self.rng
        whole = math.ceil(a.nominal_m)
        limit_m = {  # 2014/32/EU, annex X
            "I": 0.1 + 0.1 * whole, "II": 0.3 + 0.2 * whole, "III": 0.6 + 0.4 * whole,
        }[a.tape_class] / 1000
        self.read_c = round(rng.uniform(2, 32))
        truly_c = self.read_c + rng.uniform(-2, 2)
        expansion = 11.5e-6 + rng.uniform(-0.5e-6, 0.5e-6)
        if "fibreglass" in a.course:
            expansion = rng.uniform(5e-6, 20e-6)
        read = a.nominal_m + rng.uniform(-limit_m, limit_m)
        pegs = rng.uniform(-a.peg_m, a.peg_m, 2)
        self.length = read * (1 + expansion * (truly_c - 20)) + pegs[1] - pegs[0] + a.blunder_m

    def plan(self):
        """Path of the middle of the axle, its standstills, and what each leg is."""
        a, rng = self.setting, self.rng
        self.legs = []  # (kind, pass number, polyline, true stops)
        run_up = 25.0 if a.rolling else 0.0
        y = rng.normal(0, 0.05)
        at = rng.normal(0, a.stop_m) - run_up
        for number in range(a.passes):
            forward = 1 if number % 2 == 0 else -1
            end = self.length + run_up if forward > 0 else -run_up
            to, y_to = end + rng.normal(0, a.stop_m), rng.normal(0, 0.05)
            self.legs.append((number, *pass_line(a, rng, at, to, y, y_to)))
            if number + 1 < a.passes:
                back, y_back = end + rng.normal(0, a.stop_m), rng.normal(0, 0.05)
                self.legs.append((None, *turn_line(to, y_to, back, y_back, forward)))
                at, y = back, y_back

    def move(self):
        """Distance, pass and rest over time; marks at their instants."""
        a, rng = self.setting, self.rng
        t, s, self.marks, pieces = 0.0, 0.0, [], []
        times, ways, self.spans = [], [], []
        for number, x, y in self.legs:
            ground = lay(a, x, y)
            step = np.linalg.norm(np.diff(ground, axis=0), axis=1)
            pieces.append((x, y, ground, np.r_[0, np.cumsum(step)]))
            way = pieces[-1][3][-1]
            stand = rng.uniform(13, 16)
            times.append(np.array([t]))
            ways.append(np.array([s]))
            leave = t + stand
            run = profile(rng, way, a.speed if number is not None else min(a.speed, 2.2),
                          a.speed_noise)
            grid = leave + STEP_S * np.arange(len(run) + 1)
            times.append(grid)
            ways.append(s + np.r_[0, run])
            if number is not None:
                self.mark_pass(number, x, grid, np.r_[0, run], pieces[-1][3])
                self.spans.append((s, s + way, leave, grid[-1]))
            t, s = grid[-1], s + way
        times.append(np.array([t, t + rng.uniform(13, 16)]))
        ways.append(np.array([s, s]))
        knot_t, knot_s = np.concatenate(times), np.concatenate(ways)
        self.t = np.arange(0, knot_t[-1], STEP_S)
        self.s = np.interp(self.t, knot_t, knot_s)
        self.join(pieces)

    def mark_pass(self, number, x, grid, run, arc):
        """Standing: pressed at rest. Rolling: as the hub passes each peg. Creeping: too early."""
        a, rng = self.setting, self.rng
        if a.rolling:
            line = np.interp(run, arc, x)
            pegs = (0.0, self.length) if number % 2 == 0 else (self.length, 0.0)
            sign = 1 if number % 2 == 0 else -1
            for peg, mark in zip(pegs, ("start", "finish")):
                self.marks.append((float(np.interp(sign * peg, sign * line, grid)), mark))
            return
        self.marks.append((grid[0] - rng.uniform(1.5, 3.0), "start"))
        early = 0.0
        if a.creep and rng.uniform() < 0.5:
            # Pressed while it still rolls at this speed.
            speed = np.gradient(run, STEP_S)
            slow = len(run) - 1 - int(np.argmax(speed[::-1] > a.creep))
            early = grid[-1] - grid[slow] + 2.0
        self.marks.append((grid[-1] + 2.0 + rng.uniform(0, 1.0) - early, "finish"))

    def join(self, pieces):
        """One path for the whole job: places, heading and pass over its length."""
        ground = np.concatenate([p[2] for p in pieces])
        offsets = np.cumsum([0] + [p[3][-1] for p in pieces[:-1]])
        arc = np.concatenate([p[3] + o for p, o in zip(pieces, offsets)])
        keep = np.r_[True, np.diff(arc) > 1e-6]
        self.arc, self.ground = arc[keep], ground[keep]
        way = np.gradient(self.ground, self.arc, axis=0)
        self.heading = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))

    def slip_at(self):
        """Extra turns of the wheel along the path, as a share, and the truth: their mean."""
        a, rng = self.setting, self.rng
        slip = a.pass_slip or [0.0] * a.passes
        own = np.array(slip) + rng.normal(0, a.wheel_scatter, a.passes)
        right = float(np.mean(slip)) if a.true_slip is None else a.true_slip
        self.true_wheel = (a.wheel or 0) * (1 + right)
        return own

    def count(self):
        """Impulses over the path: phases whose whole part is the count."""
        a, rng = self.setting, self.rng
        self.true_radar = a.radar or 0
        self.phases = {}
        for name, per_100m, scatter in (
            ("wheel", a.wheel, self.slip_at()),
            ("radar", a.radar, rng.normal(0, a.radar_scatter, a.passes)),
        ):
            if per_100m is None:
                continue
            share = np.zeros(len(self.arc))
            # A scatter lasts from the middle of one turn to the middle of the next.
            for (begin, end, _, _), own in zip(self.spans, scatter):
                share[(self.arc >= begin - 20) & (self.arc <= end + 20)] = own
            rough = a.rough if name == "wheel" else 4 * a.rough
            share += smooth_noise(rng, len(self.arc), STEP_M, rough, 0.4)
            steps = np.diff(self.arc) * (per_100m / 100) * (1 + 0.5 * (share[1:] + share[:-1]))
            phase = rng.uniform() + np.r_[0, np.cumsum(steps)]
            self.phases[name] = np.interp(self.s, self.arc, phase)

    def counts(self, t):
        """Whole counts of each sensor at these times."""
        a = self.setting
        out = {}
        for name, phase in self.phases.items():
            at = np.interp(t, self.t, phase)
            if name == "wheel" and a.uneven:
                at = at + a.uneven * np.sin(2 * np.pi * at / a.teeth)
            if name == "radar" and a.radar_idle_hz:
                rest = np.gradient(self.s, STEP_S) < 0.02
                idle = np.cumsum(rest) * STEP_S * a.radar_idle_hz
                at = at + np.interp(t, self.t, idle)
            out[name] = np.maximum.accumulate(np.floor(at).astype(np.int64)) + a.first_count
        return out

    def antenna(self):
        """Its place over the time grid: along, left, up."""
        a, rng = self.setting, self.rng
        base = np.c_[[np.interp(self.s, self.arc, self.ground[:, i]) for i in range(3)]].T
        psi = np.interp(self.s, self.arc, self.heading)
        tilts = [np.interp(self.s, self.arc,
                           smooth_noise(rng, len(self.arc), STEP_M, a.tilt, 1.5)) for _ in "ab"]
        ahead = a.ahead_m + a.height_m * tilts[0]
        right = a.right_m + a.height_m * tilts[1]
        if a.sway_m:
            speed = np.gradient(self.s, STEP_S)
            # The frequency wanders a little, as the ground does.
            turns = np.cumsum(a.sway_hz * (1 + markov(rng, len(self.t), STEP_S, 0.05, 4.0)))
            right = right + a.sway_m * np.minimum(1, speed / 0.8) * np.sin(
                2 * np.pi * STEP_S * turns + rng.uniform(0, 6.28))
        slope = math.atan(a.slope)
        forward = ahead * np.cos(psi) + right * np.sin(psi)
        left = ahead * np.sin(psi) - right * np.cos(psi)
        return base + np.c_[forward * math.cos(slope), left, forward * math.sin(slope) + a.height_m]
