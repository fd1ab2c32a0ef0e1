"""Many laptops' captures worked by several workers, held against one machine working file by file.

    group.py TRUNDLE FOLDER GROUP

FOLDER holds `captures`; GROUP is the folder of the script and its README. Every address is one of
this machine's own.
"""

import concurrent.futures
import contextlib
import hashlib
import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import time

import duckdb

# What is waited for takes seconds; this only bounds a hang.
LIMIT_S = 300
BIN = pathlib.Path(sys.executable).parent
LOOPBACK = ["--host", "127.0.0.1", "--no-dashboard"]
# Of two workers so many must be within `trundle` on average: it does not rest, as captures a second
# do, on what else the machine has to do.
LEAST_AT_ONCE = 1.5


def check(true: bool, what: object) -> None:
    if not true:
        sys.exit(f"group: {what}")


def one_machine(trundle: str, captures: pathlib.Path) -> dict[str, tuple[int, bytes, str]]:
    """Exit code, standard output and digest, of each file by itself."""

    def work(path: pathlib.Path) -> tuple[str, tuple[int, bytes, str]]:
        done = subprocess.run([trundle, "work", path, "--json"], capture_output=True, check=False)
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        return str(path.relative_to(captures)), (done.returncode, done.stdout, digest)

    paths = sorted(path for path in captures.rglob("*") if path.is_file())
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        return dict(pool.map(work, paths))


def begin(command: list, **more) -> subprocess.Popen:
    words = [str(word) for word in command]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True, **more)


def rework(group: pathlib.Path, trundle: object, folder: pathlib.Path, name: str, how, **more):
    command = [sys.executable, "-B", group / "rework.py", folder / "captures", folder / name]
    return begin([*command, "--trundle", trundle, *how], **more)


def ended(run: subprocess.Popen, code: int) -> dict:
    """What a run says at its end."""
    said, _ = run.communicate(timeout=LIMIT_S)
    check(run.returncode == code, f"exit code {run.returncode}, not {code}:\n{said}")
    return json.loads(said.splitlines()[-1])


def said(run: subprocess.Popen, captures: int) -> None:
    """Wait until so many captures are worked."""
    for line in run.stdout:
        if (found := re.match(r"(\d+) worked", line)) and int(found[1]) >= captures:
            return
    check(False, f"the run ended before {captures} captures were worked")


def rows(folder: pathlib.Path, name: str, columns: str) -> list[tuple]:
    parts = folder / name / "year=*/laptop=*/part-*.parquet"
    return duckdb.sql(
        f"SELECT {columns} FROM read_parquet('{parts}', hive_partitioning = true) ORDER BY source"
    ).fetchall()


def same_as_one_machine(folder: pathlib.Path, name: str, expected: dict) -> None:
    """Every document to the byte, every other capture in the list with the program's words."""
    worked = rows(folder, name, "source, code, document, file_sha256, laptop, year, started_utc")
    with_result = {source: one for source, one in expected.items() if one[0] in (0, 1)}
    check([row[0] for row in worked] == sorted(with_result), f"{name}: other captures")
    for source, code, document, digest, laptop, year, started in worked:
        found = (code, (document + "\n").encode(), digest)
        check(found == with_result[source], f"{name}: {source} differs from one machine")
        check(laptop == source.split("/")[0], f"{source} under {laptop}")
        check(str(year) == started[:4], f"{source} of {started} under {year}")
    unworked = duckdb.sql(
        f"SELECT source, code, words FROM '{folder / name}/unworked.parquet' ORDER BY source"
    ).fetchall()
    without = sorted(expected.keys() - with_result.keys())
    check([row[0] for row in unworked] == without, f"{name}: {unworked}")
    for source, code, words in unworked:
        check(code == expected[source][0] == 5 and "standard input is" in words, (source, words))
    table = duckdb.sql(f"SELECT count(*) FROM read_csv('{folder / name}/unworked.csv')")
    check(table.fetchall() == [(len(without),)], "unworked.csv has other rows")
    check(not (folder / name / "_beside").exists(), "something was left beside")


def parts_of(folder: pathlib.Path, name: str) -> dict[str, bytes]:
    root = folder / name
    return {str(path.relative_to(root)): path.read_bytes() for path in root.rglob("part-*")}


@contextlib.contextmanager
def running(processes: list):
    """Ends what is left of them."""
    try:
        yield processes
    finally:
        for one in processes:
            one.kill()
            one.wait()


def worker(file: pathlib.Path, name: str, **more) -> subprocess.Popen:
    command = [BIN / "dask", "worker", "--scheduler-file", file, "--nthreads", "1", "--no-nanny"]
    quiet = {"stderr": subprocess.DEVNULL}
    return begin([*command, *LOOPBACK, "--name", name], **quiet, **more)


def scheduler(processes: list, file: pathlib.Path) -> str:
    command = [BIN / "dask", "scheduler", "--port", "0", "--scheduler-file", file, *LOOPBACK]
    processes.append(begin(command, stderr=subprocess.DEVNULL))
    until = time.monotonic() + LIMIT_S
    while time.monotonic() < until:
        with contextlib.suppress(OSError, ValueError):
            address = json.loads(file.read_text())["address"]
            check(address.startswith("tcp://127.0.0.1:"), f"the scheduler is at {address}")
            return address
        time.sleep(0.05)
    sys.exit("group: no scheduler")


def through_kills(group: pathlib.Path, trundle: str, folder: pathlib.Path, count: int) -> None:
    """A worker killed in the middle, then the run itself; the next run does what is left.

    At the end the scheduler is killed.
    """
    with running([]) as processes:
        file = folder / "scheduler.json"
        address = scheduler(processes, file)
        how = ["--scheduler", address]
        processes += [worker(file, "one"), worker(file, "two")]
        run = rework(group, trundle, folder, "killed", how)
        processes.append(run)
        said(run, count // 4)
        os.kill(processes[1].pid, signal.SIGKILL)
        said(run, count // 2)
        os.kill(run.pid, signal.SIGKILL)
        run.wait()
        kept = parts_of(folder, "killed")
        kept_rows = len(rows(folder, "killed", "source"))
        check(count // 2 <= kept_rows < count, f"{kept_rows} rows when the run was killed")
        processes.append(worker(file, "three"))
        last = ended(rework(group, trundle, folder, "killed", how), 1)
        check(last["done_before"] == kept_rows, f"{last}, and {kept_rows} were there")
        now = parts_of(folder, "killed")
        check(all(now.get(name) == data for name, data in kept.items()), "a part was recalculated")
        print(f"killed: {kept_rows} kept, {last['worked']} worked after it")
        other_program(group, trundle, folder, processes, file, how)
        broken_off(group, trundle, folder, processes, how, count)


def other_program(group, trundle, folder, processes, file, how) -> None:
    """A machine with another version is named, and nothing is worked."""
    liar = folder / "trundle"
    lie = '[ -z "$OTHER" ] || exec echo "trundle $OTHER"'
    liar.write_text(f'#!/bin/sh\n{lie}\nexec {trundle} "$@"\n')
    liar.chmod(0o755)
    four = worker(file, "four", env={**os.environ, "OTHER": "99.0.0"})
    processes.append(four)
    from distributed import Client

    with Client(how[1]) as client:
        client.wait_for_workers(3, timeout=LIMIT_S)
    run = rework(group, liar, folder, "never", how, stderr=subprocess.PIPE)
    _, words = run.communicate(timeout=LIMIT_S)
    check(run.returncode == 2, "a worker with another version was not found out")
    check("trundle 99.0.0" in words and "have not the same program" in words, words)
    check(not (folder / "never").exists(), "something was worked all the same")
    four.kill()
    four.wait()


def broken_off(group, trundle, folder, processes, how, count) -> None:
    """Another version in the middle of a run ends it, and so does a kill of the scheduler."""
    changes = folder / "changes"
    lie = '[ "$1" != --version ] || [ ! -e "$0.now" ] || exec echo "trundle 98.0.0"'
    changes.write_text(f'#!/bin/sh\n{lie}\nexec {trundle} "$@"\n')
    changes.chmod(0o755)
    for name, program, break_off, code, words in (
        ("changed", changes, (folder / "changes.now").touch, 2, "now: trundle 98.0.0"),
        ("lost", trundle, processes[0].kill, 3, "The run broke off: "),
    ):
        run = rework(group, program, folder, name, [*how, "--batch", "1"], stderr=subprocess.PIPE)
        processes.append(run)
        said(run, 2)
        break_off()
        _, told = run.communicate(timeout=LIMIT_S)
        check(run.returncode == code and words in told, f"{name}: {run.returncode}, {told}")
        check("Traceback" not in told and "does the rest" in told, told)
        kept = len(rows(folder, name, "source"))
        check(2 <= kept < count, f"{name}: {kept} rows stayed of {count}")
        print(f"{name}: {kept} kept, exit code {code}")


def questions(group: pathlib.Path, folder: pathlib.Path) -> None:
    """The README's questions, as they stand there, over the set; the first against its own sum."""
    texts = re.findall(r"```sql\n(.*?)```", (group / "README.md").read_text(), re.DOTALL)
    check(len(texts) >= 2, "the README asks nothing")
    here = pathlib.Path.cwd()
    os.chdir(folder)
    answers = [duckdb.sql(text).fetchall() for text in texts]
    os.chdir(here)
    check(all(answers), "a question of the README has no answer")
    values: dict[tuple, list] = {}
    for rig, year, document in rows(folder, "set", "rig, year, document"):
        value = json.loads(document)["channels"].get("wheel", {}).get("value_to_enter")
        if value is not None:
            values.setdefault((rig, year), []).append(value)
    wanted = sorted((*key, len(of), min(of), max(of)) for key, of in values.items())
    check(answers[0] == wanted, f"{answers[0]} is not {wanted}")
    for row in wanted[:3]:
        print(f"set: {row[0]}, {row[1]}: {row[2]} values, {row[3]} to {row[4]}")


def refusals(group: pathlib.Path, trundle: str, folder: pathlib.Path) -> None:
    """What there is nothing to do about is said, and nothing is written."""
    (folder / "none" / "captures").mkdir(parents=True)
    absent = folder / "absent" / "trundle"
    for program, root, words in (
        (trundle, folder / "none", "Nothing was worked"),
        (absent, folder, "does not run here"),
    ):
        run = rework(group, program, root, "never", ["--alone"], stderr=subprocess.PIPE)
        _, told = run.communicate(timeout=LIMIT_S)
        check(run.returncode == 2 and words in told, (run.returncode, told))
        check(not (root / "never").exists(), "something was worked all the same")


def wrong(group: pathlib.Path, trundle: str, folder: pathlib.Path) -> None:
    """What a worker stumbles over by the script's own fault breaks the run off, and is no 1."""
    (folder / "wrong").mkdir()
    (folder / "wrong" / "captures").symlink_to(folder / "captures")
    program = folder / "wrong" / "trundle"
    version = f'[ "$1" != --version ] || exec {trundle} --version'
    program.write_text(f'#!/bin/sh\n{version}\ncat >"$0.in"\necho "{{}}"\n')
    program.chmod(0o755)
    how, quiet = ["--workers", "1", "--batch", "1"], {"stderr": subprocess.PIPE}
    run = rework(group, program, folder / "wrong", "set", how, **quiet)
    _, told = run.communicate(timeout=LIMIT_S)
    check(run.returncode == 3 and "The run broke off: KeyError" in told, (run.returncode, told))


def deadly(group: pathlib.Path, trundle: str, folder: pathlib.Path) -> None:
    """A capture that ends every worker that holds it is listed, and the others are worked."""
    some = sorted((folder / "captures").rglob("*.capture"))[:3]
    van = folder / "deadly" / "captures" / "van"
    van.mkdir(parents=True)
    for path in some:
        (van / path.name).write_bytes(path.read_bytes())
    (van / "x.capture").write_bytes(b"deadly")
    killer = folder / "deadly" / "trundle"
    read = 'IFS= read -r -N 6 head <"$0.in"; [ "$head" != deadly ] || kill -KILL $PPID'
    work = f'cat >"$0.in"; {read}; exec {trundle} "$@" <"$0.in"'
    killer.write_text(
        f'#!/bin/bash\n[ "$1" != --version ] || exec {trundle} --version\n{work}\n'
    )
    killer.chmod(0o755)
    how = ["--workers", "1", "--batch", "1"]
    quiet = {"stderr": subprocess.DEVNULL}
    last = ended(rework(group, killer, folder / "deadly", "set", how, **quiet), 1)
    check((last["worked"], last["unworked"]) == (len(some), 1), last)
    listed = (folder / "deadly" / "set" / "unworked.csv").read_text()
    check("van/x.capture" in listed and "have ended" in listed, listed)


def main(trundle: str, folder: pathlib.Path, group: pathlib.Path) -> None:
    expected = one_machine(trundle, folder / "captures")
    count = len(expected)
    print(f"{count} captures, {sum(one[0] > 1 for one in expected.values())} of them no captures")
    one = ended(rework(group, trundle, folder, "one", ["--workers", "1"]), 1)
    two = ended(rework(group, trundle, folder, "set", ["--workers", "2"]), 1)
    for result in (one, two):
        print(
            f"{result['workers']} workers: {result['captures_per_s']:.1f} captures/s, "
            f"{100 * result['outside_trundle']:.0f} % of the time outside trundle"
        )
    at_once = two["workers"] * (1 - two["outside_trundle"])
    gain = two["captures_per_s"] / one["captures_per_s"]
    print(f"two workers against one: {gain:.2f}; {at_once:.2f} captures are worked at a time")
    check((one["workers"], two["workers"]) == (1, 2), (one, two))
    check(at_once >= LEAST_AT_ONCE, f"two workers work {at_once:.2f} captures at a time")
    check(parts_of(folder, "one") == parts_of(folder, "set"), "by two workers other parts")
    same_as_one_machine(folder, "set", expected)
    through_kills(group, trundle, folder, count)
    same_as_one_machine(folder, "killed", expected)
    check(rows(folder, "set", "*") == rows(folder, "killed", "*"), "after the kills other rows")
    questions(group, folder)
    refusals(group, trundle, folder)
    wrong(group, trundle, folder)
    deadly(group, trundle, folder)
    print("group: all as by one machine")


if __name__ == "__main__":
    main(sys.argv[1], *(pathlib.Path(path).resolve() for path in sys.argv[2:]))
