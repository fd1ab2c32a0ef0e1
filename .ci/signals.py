"""Every live command under a closed terminal, SIGHUP, SIGTERM, SIGINT, SIGKILL and a stop.

python3 -B .ci/signals.py FOLDER_OF_PROGRAMS [SECONDS_STOPPED]

Each runs on a real pseudo-terminal that is its controlling one. Within 2 s of what ends it the
program must be gone, its ports free, and its capture must be whole: it ends with the end entry,
which `trundle work` misses otherwise (but after SIGKILL). A program that was started with SIGHUP
ignored goes on without its terminal, quietly, until SIGTERM.
"""

import functools
import os
import pty
import select
import signal
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor

WITHIN_S = 2.0
COMMANDS = {
    "drive": ["drive", "--length", "100 m"],
    "drive --lines": ["drive", "--lines", "--length", "100 m"],
    "drive --page": ["drive", "--page", "--length", "100 m"],
    "slip": ["slip", "--zero-slip-value", "12000"],
    "speeds": ["speeds"],
    "pto": ["pto"],
    "mount": ["mount"],
    "proof": ["proof"],
    "check": ["check"],
    "bus": ["bus", "--bus", "{folder}/bus"],
}
WAYS = ["close", "HUP", "TERM", "INT", "KILL", "STOP", "nohup"]


def cpu_s(pid):
    fields = open(f"/proc/{pid}/stat").read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


class Job:
    """A live command on a pseudo-terminal."""

    def __init__(self, bin, folder, name, ignore_hangup):
        self.capture = f"{folder}/{len(os.listdir(folder))}.capture"
        ports = ["--board", f"{folder}/board", "--receiver", f"{folder}/receiver"]
        command = [word.format(folder=folder) for word in COMMANDS[name]]
        args = [f"{bin}/trundle", *command, *ports, "--capture", self.capture]
        self.pid, self.master = pty.fork()
        if self.pid == 0:
            if ignore_hangup:
                signal.signal(signal.SIGHUP, signal.SIG_IGN)
            os.execv(args[0], args)
        self.said = b""

    def hear(self, seconds):
        until = time.monotonic() + seconds
        while time.monotonic() < until and self.master is not None:
            if select.select([self.master], [], [], 0.05)[0]:
                try:
                    self.said += os.read(self.master, 65536)
                except OSError:
                    return

    def records(self):
        until = time.monotonic() + 60
        while time.monotonic() < until:
            self.hear(0.2)
            if os.path.exists(self.capture) and os.path.getsize(self.capture) > 20000:
                return
        raise SystemExit(f"signals: nothing is recorded: {self.said!r}")

    def close(self):
        os.close(self.master)
        self.master = None

    def ended(self, within_s):
        until = time.monotonic() + within_s
        while time.monotonic() < until:
            self.hear(0.02)
            time.sleep(0.01)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                return os.waitstatus_to_exitcode(status)
        return None

    def kill(self):
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)


def fault(bin, folder, name, way, stopped_s):
    """What is wrong, or None."""
    job = Job(bin, folder, name, way == "nohup")
    job.records()
    if way == "STOP":
        os.kill(job.pid, signal.SIGSTOP)
        time.sleep(stopped_s)
        size = os.path.getsize(job.capture)
        os.kill(job.pid, signal.SIGCONT)
        job.hear(1.0)
        if os.path.getsize(job.capture) <= size:
            job.kill()
            return "does not go on after a stop"
        os.kill(job.pid, signal.SIGTERM)
    elif way in ("close", "nohup"):
        job.close()
    else:
        os.kill(job.pid, getattr(signal, f"SIG{way}"))
    if way == "nohup":
        if job.ended(WITHIN_S) is not None:
            return "ended with its terminal although SIGHUP was ignored"
        before = cpu_s(job.pid)
        time.sleep(1)
        if cpu_s(job.pid) - before > 0.5:
            job.kill()
            return "a thread is busy for nothing"
        os.kill(job.pid, signal.SIGTERM)
    code = job.ended(WITHIN_S)
    if code is None:
        job.kill()
        return f"still there after {WITHIN_S} s"
    if job.master is not None:
        job.close()
    if way == "KILL":
        return None
    work = subprocess.run([f"{bin}/trundle", "work", job.capture, "--json"],
                          capture_output=True, text=True)
    if '"CAPTURE_CUT"' in work.stdout or work.returncode not in (0, 1):
        return f"code {code}, the capture is not whole: {work.stdout[:200]}{work.stderr[:200]}"
    os.remove(job.capture)
    return None


def faults(bin, name, stopped_s):
    """What is wrong with a command for each way to end it, on a tractor of its own."""
    with tempfile.TemporaryDirectory() as folder:
        sim = subprocess.Popen(
            [f"{bin}/trundle-sim", "bus", "--links", folder, "--keep-open", "--lead-in", "36000"],
            stdout=subprocess.DEVNULL)
        try:
            while not os.path.exists(f"{folder}/bus"):
                time.sleep(0.05)
            return [fault(bin, folder, name, way, stopped_s) for way in WAYS]
        finally:
            sim.kill()
            sim.wait()


def main():
    bin, stopped_s = sys.argv[1], float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    wrong = tried = 0
    # Most of it is waiting, so two commands go side by side.
    with ProcessPoolExecutor(2) as pool:
        found = pool.map(functools.partial(faults, bin, stopped_s=stopped_s), COMMANDS)
        for name, all_ways in zip(COMMANDS, found):
            for way, words in zip(WAYS, all_ways):
                tried += 1
                wrong += words is not None
                print(f"{name:14} {way:6} {words or 'as it must'}", flush=True)
    print(f"signals: {tried} tried, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
