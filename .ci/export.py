"""Read exported tables with readers that are not ours, and compare them."""

import csv
import datetime
import json
import math
import pathlib
import re
import statistics
import struct
import sys

import duckdb
import geojson
import gpxpy
import jsonschema
import pyarrow
import pyarrow.parquet

FORMULA = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.timezone.utc)
MICROSECOND = datetime.timedelta(microseconds=1)


def bits(number):
    return struct.pack("<d", number)


def instant_us(text):
    return (datetime.datetime.fromisoformat(text) - EPOCH) // MICROSECOND


def is_instant(schema):
    return "pattern" in schema


def same(name, value, found):
    """The same value to the last bit."""
    if isinstance(value, float) and found is not None:
        assert bits(value) == bits(float(found)), (name, value, found)
    else:
        assert value == found, (name, value, found)


def check_csv(path, rows, columns):
    with path.open(newline="", encoding="utf-8") as file:
        table = list(csv.DictReader(file, strict=True))
    assert len(table) == len(rows) and list(table[0]) == list(rows[0]), path
    for row, cells in zip(rows, table):
        for name, value in row.items():
            cell = cells[name]
            if value is None:
                assert cell == "", (name, cell)
            elif isinstance(value, bool):
                assert cell == str(value).lower(), (name, cell)
            elif isinstance(value, (int, float)):
                same(name, value, type(value)(cell))
            else:
                text = " ".join(value) if isinstance(value, list) else value
                guarded = not is_instant(columns[name]) and text[:1] and text[0] in FORMULA
                assert cell == ("'" + text if guarded else text), (name, cell)
                assert not (cell[:1] and cell[0] in FORMULA), (name, cell)


def arrow_type(schema):
    if is_instant(schema):
        return pyarrow.timestamp("us", tz="UTC")
    return {
        "number": pyarrow.float64(),
        "integer": pyarrow.int64(),
        "boolean": pyarrow.bool_(),
        "string": pyarrow.string(),
        "array": pyarrow.list_(pyarrow.field("element", pyarrow.string(), nullable=False)),
    }[schema["type"] if isinstance(schema["type"], str) else schema["type"][0]]


def check_parquet(path, rows, columns):
    table = pyarrow.parquet.read_table(path)
    assert table.column_names == list(rows[0]) and table.num_rows == len(rows), path
    connection = duckdb.connect()
    connection.execute("SET TimeZone = 'UTC'")
    for name in table.column_names:
        wanted, found = arrow_type(columns[name]), table.schema.field(name).type
        assert found.equals(wanted), (name, found, wanted)
        column = table[name]
        if is_instant(columns[name]):
            column = column.cast(pyarrow.int64())
        query = f'epoch_us("{name}")' if is_instant(columns[name]) else f'"{name}"'
        engine = connection.execute(f"SELECT {query} FROM read_parquet('{path}')").fetchall()
        assert len(engine) == len(rows)
        for row, arrow, (duck,) in zip(rows, column.to_pylist(), engine):
            value = row[name]
            if is_instant(columns[name]) and value is not None:
                value = instant_us(value)
            if isinstance(value, int) and columns[name]["type"][0] == "number":
                value = float(value)
            same(name, value, arrow)
            same(name, value, duck)
    about = pyarrow.parquet.read_metadata(path).metadata
    assert about[b"format"] == b"trundle-export" and about[b"version"] == b"1", about


def check_maps(folder, rows):
    # The reader would round to six decimals, a decimetre.
    geojson.geometry.DEFAULT_PRECISION = 15
    collection = geojson.loads((folder / "slip.geojson").read_text(encoding="utf-8"))
    assert collection.is_valid, collection.errors()
    assert [feature["properties"] for feature in collection["features"]] == rows
    with (folder / "slip.gpx").open(encoding="utf-8") as file:
        tracks = gpxpy.parse(file).tracks
    segments = [segment for track in tracks for segment in track.segments]
    assert len(segments) == len(rows), "a segment a row"
    for segment, feature, row in zip(segments, collection["features"], rows):
        section = segment.points[0].extensions[0]
        for name in ("slip", "standard_uncertainty", "length_m", "ground_speed_m_s"):
            same(name, row[name], float(section.get(name)))
        line = feature["geometry"]["coordinates"]
        assert len(line) == len(segment.points)
        for (longitude, latitude), point in zip(line, segment.points):
            assert math.isclose(point.longitude, longitude, abs_tol=2e-8)
            assert math.isclose(point.latitude, latitude, abs_tol=2e-8)
    assert all(track.source for track in tracks)


def check_query(folder, guide):
    """The query as it stands in the document, against Python's own arithmetic."""
    queries = re.findall(r"```sql\n(.*?)```", pathlib.Path(guide).read_text(encoding="utf-8"), re.S)
    queries = [query for query in queries if "records-*.parquet" in query]
    assert len(queries) == 1, f"{guide} shows {len(queries)} queries over records-*.parquet"
    connection = duckdb.connect()
    connection.execute(f"SET file_search_path = '{folder}'")
    found = connection.execute(queries[0]).fetchall()
    rows = []
    for name in ("records-1.json", "records-2.json"):
        rows += json.loads((folder / name).read_text(encoding="utf-8"))["rows"]
    amended = {row["amends"] for row in rows}
    rigs, drifts = {}, {}
    for row in sorted(rows, key=lambda row: row["capture_started_utc"]):
        if row["id"] not in amended:
            rigs.setdefault((row["rig"], row["channel"]), []).append(row)
    for of_rig in rigs.values():
        for before, after in zip(of_rig, of_rig[1:]):
            drift = 100 * (after["value_per_100m"] / before["value_per_100m"] - 1)
            drifts.setdefault(after["tyre_size"], []).append(drift)
    wanted = [(size, len(all_), statistics.median(all_)) for size, all_ in sorted(drifts.items())]
    assert len(found) == len(wanted) == 2, found
    for (size, changes, median), (size_wanted, changes_wanted, median_wanted) in zip(found, wanted):
        assert (size, changes) == (size_wanted, changes_wanted), found
        # Written with two decimals.
        assert abs(median - median_wanted) <= 0.005 + 1e-9, (median, median_wanted)
    print(f"query over two exports: {found}")


def main(folder, schemas, guide):
    folder = pathlib.Path(folder)
    schema = json.loads((pathlib.Path(schemas) / "trundle-export-1.schema.json").read_text())
    validator = jsonschema.Draft202012Validator(schema)
    jsonschema.Draft202012Validator.check_schema(schema)
    for name in ("records-1", "records-2", "passes", "speeds", "slip"):
        result = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
        validator.validate(result)
        rows, columns = result["rows"], schema["$defs"][result["table"]]["properties"]
        assert rows, f"{name} has no rows"
        check_csv(folder / f"{name}.csv", rows, columns)
        check_parquet(folder / f"{name}.parquet", rows, columns)
        print(f"{name}: {len(rows)} rows of {len(rows[0])} columns alike in JSON, CSV and Parquet")
        if name == "slip":
            check_maps(folder, rows)
            print(f"slip: {len(rows)} sections alike in GeoJSON and GPX")
    check_query(folder, guide)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
