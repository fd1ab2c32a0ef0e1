"""Run a small job in an empty home, under strace; hold files and sockets to what is said of them.

usage: writes.py TRUNDLE, from the top of the project
"""

import fnmatch
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

PAGE = "host/handbook/what-it-writes.md"
JOB = [
    ["tractor", "add", "Big"], ["tyres", "add", "Wide"],
    ["rig", "add", "R", "--tractor", "Big", "--tyres", "Wide", "--source", "wheel"],
    ["work", "job.capture"], ["sign", "job.capture"], ["backup", "all.backup"],
]
NAMED = {"job.capture", "all.backup"}
# Written by this job; the others of the list need presses on the page.
EXPECTED = ["register.db", "captures/*.capture", "writer.lock", "page.lock"]


def sockets(trace):
    """Calls that reach for an address other than this computer's own."""
    calls = [line for line in trace.splitlines() if re.search(r"sa_family=AF_INET", line)]
    outside = [c for c in calls if 'inet_addr("127.0.0.1")' not in c and '"::1"' not in c]
    return calls, outside


def main(trundle):
    listed = re.findall(r"^\| `([^`]+)` \|", pathlib.Path(PAGE).read_text(encoding="utf-8"), re.M)
    top = pathlib.Path(tempfile.mkdtemp())
    try:
        home, temporary, job = top / "home", top / "tmp", top / "job"
        for folder in (home, temporary, job):
            folder.mkdir()
        shutil.copy("logs/simulated-rtk.capture", job / "job.capture")
        world = {"PATH": "/usr/bin:/bin", "HOME": str(home), "TMPDIR": str(temporary)}
        traced = ["strace", "-f", "-qq", "-e", "trace=network", "-o"]
        for number, command in enumerate(JOB):
            run = [*traced, str(top / f"trace-{number}"), trundle, *command]
            done = subprocess.run(run, cwd=job, env=world, capture_output=True, text=True)
            if done.returncode not in (0, 1):
                sys.exit(f"{command} ended with {done.returncode}: {done.stderr}")
        page = subprocess.Popen([*traced, str(top / "trace-page"), trundle, "--no-browser"],
                                cwd=job, env=world, stdout=subprocess.PIPE,
                                stderr=subprocess.STDOUT, text=True)
        while "http://127.0.0.1:" not in (line := page.stdout.readline()):
            if not line:
                sys.exit("the page was not opened")
        inner = pathlib.Path(f"/proc/{page.pid}/task/{page.pid}/children").read_text().split()[0]
        subprocess.run(["kill", "-INT", inner], check=True)
        page.communicate(timeout=60)
        data = home / ".local/share/trundle"
        found = {str(p.relative_to(data)) if p.is_relative_to(data) else f"outside: {p}"
                 for p in top.rglob("*") if p.is_file() and not p.name.startswith("trace-")
                 and not (p.parent == job and p.name in NAMED)}
        faults = [f"{name}: written, and {PAGE} does not list it" for name in sorted(found)
                  if not any(fnmatch.fnmatchcase(name, one) for one in listed)]
        faults += [f"{one}: listed, and was not written" for one in EXPECTED
                   if one not in listed or not fnmatch.filter(found, one)]
        reached = 0
        for path in sorted(top.glob("trace-*")):
            calls, outside = sockets(path.read_text(errors="replace"))
            reached += len(calls)
            faults += [f"{path.name}: {call}" for call in outside]
        if not reached:
            faults.append("the page's own address was not seen: strace saw nothing")
    finally:
        shutil.rmtree(top)
    if faults:
        sys.exit("\n".join(faults))
    print(f"{len(found)} files written, all listed; {reached} calls with an address, all loopback")


# The rule itself: another address is found.
assert sockets('connect(3, {sa_family=AF_INET, sin_addr=inet_addr("192.0.2.1")}, 16)')[1]
main(*sys.argv[1:])
