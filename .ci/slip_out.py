"""Read what `trundle slip` wrote with Python's own json, xml.etree and csv, and compare."""

import csv
import json
import math
import pathlib
import sys
import xml.etree.ElementTree

GPX = "{http://www.topografix.com/GPX/1/1}"
OURS = "{urn:trundle:slip:1}"
# Half of the last decimal of degrees, and a little.
DEGREES = 2e-8
# On the ground of its own value a capture has no slip; this much is noise and warming.
NONE_TOTAL = 0.01


def wheel_value(path):
    """The wheel's value of a result of `trundle work`."""
    wheel = json.loads(pathlib.Path(path).read_text(encoding="utf-8"))["channels"]["wheel"]
    for name in ("combined", "tape", "satellite"):
        if wheel[name] is not None:
            print(wheel[name]["impulses_per_100m"])
            return 0
    print(f"{path}: no value of the wheel", file=sys.stderr)
    return 1


def from_geojson(path):
    """Slip, first and last position (longitude first), kind and flags of each window."""
    document = json.loads(path.read_text(encoding="utf-8"))
    assert document["type"] == "FeatureCollection"
    for feature in document["features"]:
        assert feature["type"] == "Feature" and feature["geometry"]["type"] == "LineString"
        line, entry = feature["geometry"]["coordinates"], feature["properties"]
        assert len(line) >= 2 and all(-180 <= x <= 180 and -90 <= y <= 90 for x, y in line)
        yield entry["slip"], line[0], line[-1], entry["kind"], entry["flags"]


def from_gpx(path):
    root = xml.etree.ElementTree.parse(path).getroot()
    assert root.tag == GPX + "gpx" and root.get("version") == "1.1"
    for track in root.findall(GPX + "trk"):
        kind = track.findtext(GPX + "type")
        for segment in track.findall(GPX + "trkseg"):
            points = segment.findall(GPX + "trkpt")
            ends = [[float(p.get("lon")), float(p.get("lat"))] for p in (points[0], points[-1])]
            window = points[0].find(f"{GPX}extensions/{OURS}section")
            yield float(window.get("slip")), *ends, kind, window.get("flags").split()


def from_csv(path):
    with path.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            assert None not in row and None not in row.values(), "a row of another length"
            yield float(row["slip"]), row["kind"], row["flags"].split()


def files(stem):
    path = pathlib.Path(stem)
    ending = lambda end: path.with_name(path.name + end)
    result = json.loads(ending(".json").read_text(encoding="utf-8"))
    geojson, gpx = list(from_geojson(ending(".geojson"))), list(from_gpx(ending(".gpx")))
    table = list(from_csv(ending(".csv")))
    sections = result["sections"]
    assert sections, "no sections"
    assert len(sections) == len(geojson) == len(gpx) == len(table), "not as many sections"
    for entry, by_geojson, by_gpx, row in zip(sections, geojson, gpx, table):
        for slip in (by_geojson[0], by_gpx[0], row[0]):
            assert slip == entry["slip"], (slip, entry)
        for here, there in zip(by_geojson[1:3], by_gpx[1:3]):
            assert all(math.isclose(a, b, abs_tol=DEGREES) for a, b in zip(here, there))
        assert by_geojson[3:] == by_gpx[3:] == row[1:]
        assert by_geojson[4] == entry["flags"]
    total = result["summary"]["distance_slip"]
    assert abs(total) < NONE_TOTAL, f"slip of {total} on the ground of its own value"
    page = ending(".html").read_text(encoding="utf-8")
    assert page.count('data-label="Part"') == len(result["parts"]), "parts on the page"
    print(f"{path.name}: {len(sections)} sections alike in JSON, GeoJSON, GPX and CSV; slip {total:.4f}")
    return 0


if __name__ == "__main__":
    sys.exit({"value": wheel_value, "files": files}[sys.argv[1]](sys.argv[2]))
