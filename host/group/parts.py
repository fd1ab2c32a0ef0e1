"""The data set: Parquet files `year=.../laptop=.../part-NAME.parquet`, a row for each capture.

A worker writes a part beside its place, under a name made of what is in it; only the run itself
puts parts in their place, by a renaming. So a part is whole or not there, a batch that is worked
twice gives the same file, and a worker that was given up and goes on all the same adds nothing.
"""

import hashlib
import io
import json
import os
import posixpath
import secrets
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

TEXT, NUMBER = pa.string(), pa.float64()
ROWS = pa.schema(
    [
        ("source", TEXT),
        ("bytes", pa.int64()),
        ("mark", TEXT),
        ("capture_sha256", TEXT),
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
        ("capture_sha256", TEXT),
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
        year = (row["started_utc"] or "")[:4] or NO_VALUE
        folder = f"year={year}/laptop={urllib.parse.quote(row['laptop'], safe='')}"
        kept = {key: row.get(key) for key in ROWS.names}
        by_folder.setdefault(folder, []).append({**kept, "program": program})
    fs, top = fsspec.core.url_to_fs(root)
    written = []
    for folder, of_folder in sorted(by_folder.items()):
        of_folder.sort(key=lambda row: row["source"])
        content = json.dumps([folder, of_folder], sort_keys=True)
        name = f"part-{hashlib.sha256(content.encode()).hexdigest()[:32]}.parquet"
        put_whole(fs, f"{top.rstrip('/')}/{BESIDE}/{name}", parquet(of_folder, ROWS))
        written.append([f"{BESIDE}/{name}", f"{folder}/{name}"])
    return written


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
        worked, is taken away with all its rows. So is one that cannot be read. Captures that are
        not in the folder any more stay in the set.
        """
        here = {one["source"]: (one["bytes"], one["mark"]) for one in found}
        done: set[str] = set()
        for path in self.paths():
            try:
                with self.fs.open(path, "rb") as file:
                    rows = pq.read_table(
                        file, columns=["source", "bytes", "mark", "program"]
                    ).to_pylist()
            except (OSError, pa.ArrowException):
                rows = None
            if rows is None or not all(self.holds(row, here, program) for row in rows):
                self.fs.rm(path)
            else:
                done |= {row["source"] for row in rows}
        return done & here.keys()

    def paths(self) -> list[str]:
        """Every part that is in its place."""
        found = (path for path in self.fs.find(self.top) if f"/{BESIDE}/" not in path)
        return sorted(path for path in found if posixpath.basename(path).startswith("part-"))

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
