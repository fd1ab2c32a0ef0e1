"""The data set: Parquet files `year=.../laptop=.../part-NAME.parquet`, a row for each capture.

A worker writes a part beside its place, under a name made of what is in it; only the run itself
puts parts in their place, by a renaming. So a part is whole or not there, a batch that is worked
twice gives the same file, and a worker that was given up and goes on all the same adds nothing.

Of what lies in the folder of the set the run takes away only what it made: parts, and what lies
beside them.
"""

import hashlib
import io
import json
import os
import posixpath
import re
import secrets
import sys
import urllib.parse

import fsspec
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq
from fsspec.implementations.local import LocalFileSystem

# Folder of parts that are not in their place yet; no table is read from it.
BESIDE = "_beside"
# How Hive's partitions call a value that is not there.
NO_VALUE = "__HIVE_DEFAULT_PARTITION__"
# A part in its place, seen from the set. What has another name is none of the run's.
PLACE = re.compile(r"year=[^/]+/laptop=[^/]+/part-[0-9a-f]{32}\.parquet")
# What reading a damaged part raises. Arrow has an OSError also for some kinds of damage.
DAMAGE = (OSError, UnicodeError, pa.ArrowException)

TEXT, NUMBER = pa.string(), pa.float64()
ROWS = pa.schema(
    [
        ("source", TEXT),
        ("bytes", pa.int64()),
        ("mark", TEXT),
        ("file_sha256", TEXT),
        ("program", TEXT),
        ("code", pa.int64()),
        ("started_utc", TEXT),
        ("recorded_with", TEXT),
        ("practice", pa.bool_()),
        ("rig", TEXT),
        ("state", TEXT),
        ("wheel_value_to_enter", pa.int64()),
        ("wheel_per_100m", NUMBER),
        ("wheel_expanded_uncertainty", NUMBER),
        ("radar_value_to_enter", pa.int64()),
        ("radar_per_100m", NUMBER),
        ("radar_expanded_uncertainty", NUMBER),
        ("document", TEXT),
    ]
)
UNWORKED = pa.schema(
    [
        ("laptop", TEXT),
        ("source", TEXT),
        ("bytes", pa.int64()),
        ("file_sha256", TEXT),
        ("code", pa.int64()),
        ("words", TEXT),
    ]
)


def parquet(rows: list[dict], schema: pa.Schema) -> bytes:
    """The same rows give the same bytes."""
    into = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows, schema), into, compression="zstd")
    return into.getvalue()


def write_parts(root: str, rows: list[dict], program: str) -> list[list[str]]:
    """Write the rows beside their place; gives name and place of each part, seen from the set."""
    by_folder: dict[str, list[dict]] = {}
    for row in rows:
        # The head of a capture may hold any text, also one that leads out of the set.
        year = (row["started_utc"] or "")[:4]
        year = year if re.fullmatch(r"[0-9]{4}", year) else NO_VALUE
        folder = f"year={year}/laptop={urllib.parse.quote(row['laptop'], safe='')}"
        kept = {key: row.get(key) for key in ROWS.names}
        by_folder.setdefault(folder, []).append({**kept, "program": program})
    fs, top = fsspec.core.url_to_fs(root)
    written = []
    for folder, of_folder in sorted(by_folder.items()):
        name, data = part_of(folder, of_folder)
        put_whole(fs, f"{top.rstrip('/')}/{BESIDE}/{name}", data)
        written.append([f"{BESIDE}/{name}", f"{folder}/{name}"])
    return written


def part_of(folder: str, rows: list[dict]) -> tuple[str, bytes]:
    """Name of a part, made of what is in it, and its bytes."""
    rows = sorted(rows, key=lambda row: row["source"])
    content = json.dumps([folder, rows], sort_keys=True)
    name = f"part-{hashlib.sha256(content.encode()).hexdigest()[:32]}.parquet"
    return name, parquet(rows, ROWS)


def put_whole(fs, path: str, data: bytes) -> None:
    """Write a file that is whole or not there, also where two write it at once."""
    fs.makedirs(posixpath.dirname(path), exist_ok=True)
    # A store of objects shows one only when it is whole; a disk needs the renaming.
    own = f"{path}.{secrets.token_hex(6)}"
    with fs.open(own, "wb") as file:
        file.write(data)
    move(fs, own, path)


def move(fs, here: str, there: str) -> None:
    """Rename; on a disk in one step, whatever is there."""
    if isinstance(fs, LocalFileSystem):
        os.replace(here, there)
    else:
        fs.mv(here, there)


class Parts:
    """The set, as the run sees it. One run at a time may hold it."""

    def __init__(self, root: str):
        self.fs, top = fsspec.core.url_to_fs(root)
        self.top = top.rstrip("/")
        self.fs.makedirs(self.top, exist_ok=True)

    def clear(self) -> None:
        """Take away what a killed run or worker left beside."""
        self.fs.invalidate_cache()
        beside = f"{self.top}/{BESIDE}"
        if self.fs.exists(beside):
            self.fs.rm(beside, recursive=True)

    def done(self, found: list[dict], program: str) -> set[str]:
        """Sources that need not be worked again.

        A part with a capture that has changed since, or that another version of the program
        worked, is taken away; its rows of captures that are not in the folder any more become a
        part of their own. A damaged part is taken away too. What cannot be read now raises an
        OSError and takes nothing away: it may be whole, and the share out of reach.
        """
        here = {one["source"]: (one["bytes"], one["mark"]) for one in found}
        done: set[str] = set()
        for path in self.paths():
            rows = self.rows_of(path, ["source", "bytes", "mark", "program"])
            sources = {row["source"] for row in rows or []}
            # A run that was killed here leaves a row in two parts: one of them goes now.
            if sources and done.isdisjoint(sources):
                if all(self.holds(row, here, program) for row in rows):
                    done |= sources
                    continue
            if gone := sources - done - here.keys():
                rows = self.rows_of(path)
                self.keep(path, [row for row in rows or [] if row["source"] in gone])
            if rows is None:
                print(
                    f"{path} is damaged and is taken away. Its captures are recalculated; those "
                    "that are not in the folder any more are lost from the set.",
                    file=sys.stderr,
                )
            self.fs.rm(path)
        return done & here.keys()

    def rows_of(self, path: str, columns: list[str] | None = None) -> list[dict] | None:
        """What stands in a part; nothing where it is damaged. Raises OSError: out of reach."""
        try:
            with self.fs.open(path, "rb") as file:
                return pq.read_table(file, columns=columns).to_pylist()
        except DAMAGE:
            # The bytes alone tell damage from a fault of the share, which raises here.
            data = self.fs.cat_file(path)
        try:
            return pq.read_table(pa.BufferReader(data), columns=columns).to_pylist()
        except DAMAGE:
            return None

    def keep(self, path: str, rows: list[dict]) -> None:
        """Make some rows of a part a part of their own, before it is taken away."""
        if rows:
            folder = posixpath.dirname(path)[len(self.top) + 1 :]
            rows = [{key: row.get(key) for key in ROWS.names} for row in rows]
            name, data = part_of(folder, rows)
            put_whole(self.fs, f"{self.top}/{BESIDE}/{name}", data)
            self.publish([[f"{BESIDE}/{name}", f"{folder}/{name}"]])

    def paths(self) -> list[str]:
        """Every part that is in its place."""
        found = sorted(self.fs.find(self.top))
        return [path for path in found if PLACE.fullmatch(path[len(self.top) + 1 :])]

    @staticmethod
    def holds(row: dict, here: dict, program: str) -> bool:
        """Is a row still what would be worked today?"""
        known = here.get(row["source"])
        if known is None:
            return True
        return known == (row["bytes"], row["mark"]) and row["program"] == program

    def publish(self, parts: list[list[str]]) -> None:
        """Put parts in their place."""
        for beside, place in parts:
            self.fs.makedirs(f"{self.top}/{posixpath.dirname(place)}", exist_ok=True)
            move(self.fs, f"{self.top}/{beside}", f"{self.top}/{place}")

    def list_unworked(self, failed: list[dict]) -> None:
        """Write `unworked.parquet` and `unworked.csv`: what could not be worked, and why."""
        failed = sorted(failed, key=lambda row: row["source"])
        rows = [{key: row.get(key) for key in UNWORKED.names} for row in failed]
        put_whole(self.fs, f"{self.top}/unworked.parquet", parquet(rows, UNWORKED))
        into = io.BytesIO()
        pyarrow.csv.write_csv(pa.Table.from_pylist(rows, UNWORKED), into)
        put_whole(self.fs, f"{self.top}/unworked.csv", into.getvalue())
