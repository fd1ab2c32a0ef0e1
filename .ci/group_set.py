"""What the set of many laptops keeps and what it takes away: on a disk, and in a store of objects.

    group_set.py TRUNDLE FOLDER GROUP

FOLDER holds `captures`; GROUP is the folder of the script. Each run is within this process, and
the store of objects is fsspec's file system in memory.
"""

import contextlib
import io
import pathlib
import re
import shutil
import sys
from unittest import mock

import duckdb
import fsspec
import pyarrow.parquet as pq

MEMORY = fsspec.filesystem("memory")
PARTS = "/year=*/laptop=*/part-*.parquet"


def check(true: bool, what: object) -> None:
    if not true:
        sys.exit(f"group: {what}")


def rework(trundle: str, captures: object, into: object) -> tuple[int, str]:
    """Exit code, and all that was said."""
    import rework as script

    told = io.StringIO()
    words = ["rework.py", str(captures), str(into), "--alone", "--trundle", trundle]
    with (
        mock.patch.object(sys, "argv", words),
        contextlib.redirect_stdout(told),
        contextlib.redirect_stderr(told),
    ):
        return script.main(), told.getvalue()


def parts(root: str) -> dict[str, bytes]:
    return {path: MEMORY.cat(path) for path in sorted(MEMORY.glob(root + PARTS))}


def rows_of(data: bytes) -> list[dict]:
    return pq.read_table(io.BytesIO(data)).to_pylist()


def rows(root: str) -> list[dict]:
    """Every row of the set, as it stands."""
    found = [row for data in parts(root).values() for row in rows_of(data)]
    return sorted(found, key=lambda row: row["source"])


def sources(found: list[dict]) -> str:
    """The one letter that each capture of `gone` is called."""
    return "".join(row["source"].removeprefix("van/")[0] for row in found)


def tree(folder: pathlib.Path) -> dict[str, bytes]:
    paths = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths}


def bucket(trundle: str, some: list[pathlib.Path]) -> None:
    """A capture that grew is recalculated with its part, and nothing else is."""
    for number, path in enumerate(some):
        MEMORY.pipe(f"/in/van {number % 2}/{path.name}", path.read_bytes())
    MEMORY.pipe("/in/astray.capture", some[0].read_bytes())
    MEMORY.pipe("/in/van 1/readme.txt", b"no capture by its name")

    def run() -> tuple[int, dict]:
        return rework(trundle, "memory://in", "memory://set")[0], parts("/set")

    code, first = run()
    listed = MEMORY.cat("/set/unworked.csv").decode()
    check(code == 1 and first and "beside the laptops' folders" in listed, listed)
    check(run() == (1, first), "nothing had changed, and the set did")
    MEMORY.pipe(f"/in/van 0/{some[0].name}", some[0].read_bytes()[:-50])
    code, after = run()
    gone, new = first.keys() - after.keys(), after.keys() - first.keys()
    check(code == 1 and len(gone) == len(new) == 1, f"a capture changed: {gone} became {new}")
    check(len(first) > 1 and all("laptop=van%200" in path for path in gone | new), (gone, new))


def gone(trundle: str, capture: bytes) -> None:
    """The row of a capture that is gone stays when the part that it is in is recalculated."""
    for name in "abc":
        MEMORY.pipe(f"/gone/van/{name}.capture", capture)
    sets = [("memory://stays", "/stays"), ("memory://again", "/again")]

    def run() -> list[dict]:
        codes = [rework(trundle, "memory://gone", address)[0] for address, _ in sets]
        check(codes == [0, 0], codes)
        of_one, of_other = (parts(root) for _, root in sets)
        check(list(of_one.values()) == list(of_other.values()), "other bytes of the same")
        return rows("/stays")

    before, whole = run(), parts("/stays")
    check(sources(before) == "abc" and len(whole) == 1, before)
    MEMORY.rm("/gone/van/b.capture")
    MEMORY.pipe("/gone/van/a.capture", capture[:-50])
    after, kept = run(), parts("/stays")
    check(sources(after) == "abc", f"of a, b, c there are {sources(after)}: b is lost")
    check(after[1] == before[1] and after[0] != before[0], "what is gone differs")
    check(run() == after and parts("/stays") == kept, "nothing had changed, and the set did")
    # As a kill leaves it when what is gone has a part of its own, and the old one is there yet.
    own = {path: data for path, data in kept.items() if rows_of(data) == [after[1]]}
    check(len(own) == 1, own)

    def killed() -> None:
        for _, root in sets:
            MEMORY.rm(list(parts(root)))
            MEMORY.pipe({p.replace("/stays", root): data for p, data in (own | whole).items()})

    killed()
    check(run() == after and parts("/stays") == kept, "after a kill the set is another one")
    killed()
    MEMORY.rm("/gone/van/a.capture")
    check(run() == before, "after a kill a row stands twice, or not at all")
    check(run() == before, "it does not stay so")


def unread(trundle: str) -> None:
    """A share that fails takes nothing away; a damaged part is recalculated, and named."""
    before = parts("/stays")
    real = type(MEMORY)._open
    fault = OSError(5, "the share is out of reach")

    def fails(self, path, mode="rb", **more):
        if path in before and mode == "rb":
            raise fault
        return real(self, path, mode=mode, **more)

    for again, wanted in ((None, 0), (fault, 3)):
        with (
            mock.patch.object(type(MEMORY), "_open", fails),
            mock.patch.object(MEMORY, "cat_file", side_effect=again, wraps=MEMORY.cat_file),
        ):
            code, told = rework(trundle, "memory://gone", "memory://stays")
        check(code == wanted and ("out of reach" in told) == (code == 3), (code, told))
        check(parts("/stays") == before, "a fault of the share took a part away")
    for number, damage in enumerate((b"", b"PAR1 or not", None)):
        path, data = next(one for one in before.items() if "c" in sources(rows_of(one[1])))
        # Nothing in it, nothing of it, and one of which only the middle is damaged.
        middle = data[:8] + bytes(len(data) // 2) + data[8 + len(data) // 2 :]
        MEMORY.pipe(path, middle if damage is None else damage)
        code, told = rework(trundle, "memory://gone", "memory://stays")
        check(code == 0 and f"{path} is damaged" in told, (number, code, told))
        now = sources(rows("/stays"))
        check("c" in now and len(now) == len(set(now)), (number, now))
        before = parts("/stays")


def crc32c(data: bytes) -> bytes:
    """The check sum of a record, as `host/core/src/capture/mod.rs` says it."""
    rest = 0xFFFFFFFF
    for byte in data:
        rest ^= byte
        for _ in range(8):
            rest = rest >> 1 ^ (0x82F63B78 if rest & 1 else 0)
    return (rest ^ 0xFFFFFFFF).to_bytes(4, "little")


def began(capture: bytes, year: bytes) -> bytes:
    """The same capture, begun in another year by its first record: sync, length, kind, time."""
    end = 15 + int.from_bytes(capture[4:6], "little")
    check(crc32c(capture[4:end]) == capture[end : end + 4], "the check sum is another one")
    head = re.sub(rb'(?<="started_utc":")....', year, capture[:end], count=1)
    check(len(head) == end and head != capture[:end], "no year in the head")
    return head + crc32c(head[4:]) + capture[end + 4 :]


def disk(trundle: str, folder: pathlib.Path, capture: bytes) -> None:
    """What is not the run's own stays as it is, and a capture's year leads nowhere else."""
    van, into = folder / "captures" / "van", folder / "set"
    van.mkdir(parents=True)
    (van / "sound.capture").write_bytes(capture)
    strange = [b"/../", "²²".encode(), b"....", b"    "]
    for number, year in enumerate(strange):
        (van / f"{number}.capture").write_bytes(began(capture, year))
    name = f"part-{'0' * 32}.parquet"
    others = [
        "part-1.capture",
        f"other/year=2025/laptop=van/{name}",
        f"year=2025/{name}",
        f"year=2025/laptop=van/deeper/{name}",
        "year=2025/laptop=van/part-1.parquet",
        f"year=2025/laptop=van/{name}.kept",
    ]
    for other in others:
        (into / other).parent.mkdir(parents=True, exist_ok=True)
        (into / other).write_bytes(b"not of this set")
    for _ in range(2):
        code, told = rework(trundle, folder / "captures", into)
        check(code == 0, told)
        now = tree(folder)
        for other in others:
            check(now.pop(f"set/{other}", None) == b"not of this set", f"{other} was taken away")
    made = {path for path in now if not path.startswith("captures/")}
    lists = {"set/unworked.csv", "set/unworked.parquet"}
    of_part = re.compile(r"set/year=(\d{4}|__HIVE_DEFAULT_PARTITION__)/laptop=van/part-\w+.parquet")
    check(all(of_part.fullmatch(path) for path in made - lists), made)
    glob = into / "year=*" / "laptop=van" / f"part-{'[0-9a-f]' * 32}.parquet"
    asked = f"SELECT source, year FROM read_parquet('{glob}', hive_partitioning = true) ORDER BY 1"
    shutil.rmtree(into / "year=2025")
    years = dict(duckdb.sql(asked).fetchall())
    check([years.pop(f"van/{n}.capture") for n in range(len(strange))] == [None] * 4, years)
    check(re.fullmatch(r"\d{4}", str(years["van/sound.capture"])), years)


def apart(trundle: str, folder: pathlib.Path) -> None:
    """A set that is not in a folder of its own is refused, and nothing is touched."""
    root = folder / "apart"
    captures, van = root / "captures", root / "captures" / "van"
    van.mkdir(parents=True)
    (van / "part-1.capture").write_bytes(b"kept in any case")
    (captures / "_beside").mkdir()
    (captures / "_beside" / "x.capture").write_bytes(b"a laptop of that name")
    (root / "link").symlink_to(captures)
    before = tree(root)
    for one, other in (
        (captures, captures),
        (captures, f"{captures}/"),
        (captures, root),
        (captures, van),
        (captures, root / "link" / "set"),
        (root / "link", captures),
        (captures, van / ".." / ".." / "captures"),
        ("memory://in", "memory://in/set"),
        ("memory://in/van 0", "memory://in"),
    ):
        code, told = rework(trundle, one, other)
        check(code == 2 and "a folder of its own" in told, (one, other, code, told))
        check(tree(root) == before, f"{one} and {other}: something was touched")
    check(not MEMORY.exists("/in/set"), "something was made within the captures")
    # Names that only begin alike are two folders.
    code, told = rework(trundle, captures, root / "captures-set")
    check("a folder of its own" not in told and (root / "captures-set").exists(), told)
    code, told = rework(trundle, captures, "nosuch://bucket/set")
    check(code == 2 and "cannot be reached" in told, told)


def main(trundle: str, folder: pathlib.Path, group: pathlib.Path) -> None:
    sys.path.insert(0, str(group))
    sound = re.compile(rb'"started_utc":"\d{4}-')
    found = sorted((folder / "captures").rglob("*.capture"))
    some = [path for path in found if sound.search(path.read_bytes()[:1000])][:6]
    bucket(trundle, some)
    gone(trundle, some[0].read_bytes())
    unread(trundle)
    disk(trundle, folder / "disk", some[0].read_bytes())
    apart(trundle, folder)
    print("group: the set keeps what it should, and takes nothing else away")


if __name__ == "__main__":
    main(sys.argv[1], *(pathlib.Path(path).resolve() for path in sys.argv[2:]))
