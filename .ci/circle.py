"""Drive an antenna of a known lever arm on circles, and have the program find the arm again.

Nothing of the program or of its simulator takes part in making the recording: the path of the axle
is a few formulas below, and geographiclib (Karney 2013) puts the antenna on the WGS 84 ellipsoid by
the direct geodesic. The program then gets an NMEA file and a table of counts, as from elsewhere.
"""

import json
import math
import pathlib
import subprocess
import sys

from geographiclib.geodesic import Geodesic

RATE_HZ = 10
COUNT_HZ = 50
SPEED = 1.8  # m/s, of the axle
RADIUS = 7.5  # m, of the axle's circle
STRAIGHT = 60.0  # m
CIRCLES = 3
PER_M = 130.0  # impulses; ISO 11786 has 130 a metre
REST = 8.0  # s, at either end
UP = 3.0  # s, from rest to full speed
PLACES = ((52.0, 5.0, 80.0), (-36.5, 174.8, 210.0))  # latitude, longitude, first heading
ARMS = ((0.35, 1.90), (-0.60, 1.10))  # right and ahead, m
# No noise but the last digit of the sentences: 0.00001 minute is 1.9 cm, 0.0000001 next to nothing.
NEAR = 0.015  # m


def path():
    """Heading change per metre of way, with the length of each piece."""
    rim = 2 * math.pi * RADIUS * CIRCLES
    straight = (STRAIGHT, 0.0)
    return [straight, (rim, -1 / RADIUS), straight, (rim, 1 / RADIUS), straight]


LENGTH = sum(length for length, _ in path())


def way(t):
    """Way and speed of the axle at a time: rest, even speeding up, cruise, the same backwards."""
    lasts = 2 * REST + LENGTH / SPEED + UP
    half = lasts / 2
    if t > half:
        s, v = way(lasts - t)
        return LENGTH - s, v
    t -= REST
    if t <= 0:
        return 0.0, 0.0
    if t < UP:
        return 0.5 * SPEED / UP * t * t, SPEED / UP * t
    return SPEED * (t - 0.5 * UP), SPEED


def axle(s):
    """Place (ahead and right of the start), heading (clockwise from the start) and bend."""
    x = y = heading = 0.0
    bend = 0.0
    for length, bend in path():
        d = min(s, length)
        if bend == 0.0:
            x, y = x + d * math.cos(heading), y + d * math.sin(heading)
        else:
            after = heading + d * bend
            x += (math.sin(after) - math.sin(heading)) / bend
            y -= (math.cos(after) - math.cos(heading)) / bend
            heading = after
        s -= d
        if s <= 0:
            break
    return x, y, heading, bend


def antenna(t, arm):
    s, v = way(t)
    x, y, heading, bend = axle(s)
    right, ahead = arm
    cos, sin = math.cos(heading), math.sin(heading)
    forward, sideways = v * (1 - bend * right), v * bend * ahead
    return (
        (x + ahead * cos - right * sin, y + ahead * sin + right * cos),
        math.hypot(forward, sideways),
        heading + math.atan2(sideways, forward) if v > 0 else heading,
    )


def sentence(body):
    check = 0
    for letter in body:
        check ^= ord(letter)
    return f"${body}*{check:02X}\r\n"


def minutes(degrees, width, letters):
    letter = letters[degrees < 0]
    whole, part = divmod(round(abs(degrees) * 60 * 10**7), 60 * 10**7)
    return f"{whole:0{width}d}{part / 10**7:010.7f},{letter}"


def record(folder, place, arm):
    latitude, longitude, azimuth = place
    lasts = 2 * REST + LENGTH / SPEED + UP
    with (folder / "receiver.nmea").open("w", newline="") as out:
        for i in range(int(lasts * RATE_HZ) + 1):
            t = i / RATE_HZ
            (x, y), speed, track = antenna(t, arm)
            to = azimuth + math.degrees(math.atan2(y, x))
            at = Geodesic.WGS84.Direct(latitude, longitude, to, math.hypot(x, y))
            # Meridians converge: a direction at the start is another one here.
            turned = at["azi2"] - to
            clock = 8 * 3600 + t
            stamp = f"{int(clock // 3600):02d}{int(clock % 3600 // 60):02d}{clock % 60:05.2f}"
            where = minutes(at["lat2"], 2, "NS") + "," + minutes(at["lon2"], 3, "EW")
            course = (azimuth + math.degrees(track) + turned) % 360
            knots = speed * 3600 / 1852
            out.write(sentence(f"GPGGA,{stamp},{where},4,14,0.8,0.000,M,0.000,M,1.0,0001"))
            out.write(sentence(f"GPRMC,{stamp},A,{where},{knots:.4f},{course:.3f},010526,,,R"))
    with (folder / "counts.csv").open("w") as out:
        out.write("utc,wheel\n")
        for i in range(int(lasts * COUNT_HZ) + 1):
            t = i / COUNT_HZ
            clock = f"2026-05-01T08:{int(t // 60):02d}:{t % 60:06.3f}Z"
            out.write(f"{clock},{int(way(t)[0] * PER_M)}\n")


def main(trundle, results):
    results = pathlib.Path(results)
    failed = 0
    for number, (place, arm) in enumerate(zip(PLACES, ARMS), 1):
        folder = results / f"circles-{number}"
        folder.mkdir()
        record(folder, place, arm)
        capture = folder / "job.capture"
        files = [
            "--nmea", folder / "receiver.nmea", "--counts", folder / "counts.csv", "--out", capture
        ]
        subprocess.run([trundle, "import", *files], check=True, stdout=subprocess.DEVNULL)
        done = subprocess.run([trundle, "mount", capture, "--json"], capture_output=True, text=True)
        if done.returncode > 1:
            sys.exit(f"trundle mount ended with {done.returncode}: {done.stderr}")
        (results / f"circles-{number}.json").write_text(done.stdout, encoding="utf-8")
        value = json.loads(done.stdout)
        for name, true in zip(("right", "ahead"), arm):
            found = value[name]
            if found is None:
                print(f"circles {number}: no {name}: {value}", file=sys.stderr)
                failed += 1
                continue
            error, half = found["value_m"] - true, found["expanded_uncertainty_m"]
            good = abs(error) <= NEAR and abs(error) <= half
            failed += not good
            print(
                f"circles {number}, {name}: true {true:+.3f} m, found {found['value_m']:+.4f} m "
                f"± {half:.4f} m, {'ok' if good else 'DIFFERS'}"
            )
        if value["ahead_from"] != "circles":
            print(f"circles {number}: the circles were not seen", file=sys.stderr)
            failed += 1
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
