"""Do memory, file handles and threads of a live job stay flat?

python3 -B .ci/soak.py FOLDER_OF_PROGRAMS [SECONDS]

Two jobs run for so long of real time, an hour if not said: `drive` with its page, and `slip`, each
with a simulated tractor that drives. What the system says of each process is printed every
twentieth of it, then the means of the second and the last quarter and their ratio. Flat is: memory
grew by no more than a tenth or 8 MB from one to the other, handles and threads by no more than two.
"""

import os
import subprocess
import sys
import tempfile
import time

GREW_SHARE, GREW_MB, GREW_MANY = 1.10, 8.0, 2
JOBS = {
    "drive": ("plain", ["drive", "--page", "--length", "100 m"]),
    "slip": ("wet-headland", ["slip", "--zero-slip-value", "12000"]),
}


def of(pid):
    """Memory in MB, handles, threads."""
    status = dict(line.split(":", 1) for line in open(f"/proc/{pid}/status") if ":" in line)
    memory_mb = int(status["VmRSS"].split()[0]) / 1024
    return memory_mb, len(os.listdir(f"/proc/{pid}/fd")), int(status["Threads"])


def begin(bin, folder, name, running):
    scenario, command = JOBS[name]
    links = f"{folder}/{name}"
    os.mkdir(links)
    running.append(subprocess.Popen(
        [f"{bin}/trundle-sim", scenario, "--links", links, "--keep-open", "--lead-in", "15",
         "--passes", "200"], stdout=subprocess.DEVNULL))
    while not os.path.exists(f"{links}/receiver"):
        time.sleep(0.05)
    said = open(f"{folder}/{name}.said", "w+")
    job = subprocess.Popen(
        [f"{bin}/trundle", *command, "--board", f"{links}/board", "--receiver",
         f"{links}/receiver", "--capture", f"{folder}/{name}.capture"],
        stdin=subprocess.PIPE, stdout=said, stderr=subprocess.STDOUT)
    running.append(job)
    until = time.monotonic() + 60
    while "Recording to" not in open(said.name).read():
        if job.poll() is not None or time.monotonic() > until:
            raise SystemExit(f"soak: {name} did not begin: {open(said.name).read()}")
        time.sleep(0.1)
    return job


def mean(rows):
    return [sum(column) / len(rows) for column in zip(*rows)]


def main():
    bin, seconds = sys.argv[1], float(sys.argv[2]) if len(sys.argv) > 2 else 3600.0
    running, rows, flat = [], {name: [] for name in JOBS}, True
    with tempfile.TemporaryDirectory() as folder:
        try:
            jobs = {name: begin(bin, folder, name, running) for name in JOBS}
            for step in range(1, 21):
                time.sleep(seconds / 20)
                for name, job in jobs.items():
                    if job.poll() is not None:
                        raise SystemExit(f"soak: {name} ended: {open(f'{folder}/{name}.said').read()}")
                    rows[name].append(of(job.pid))
                    memory_mb, handles, threads = rows[name][-1]
                    print(f"{step * seconds / 20:7.0f} s  {name:6} {memory_mb:7.1f} MB "
                          f"{handles:3} handles {threads:3} threads", flush=True)
        finally:
            for process in running:
                process.kill()
                process.wait()
    for name, seen in rows.items():
        early, late = mean(seen[5:10]), mean(seen[15:])
        ratios = [b / a for a, b in zip(early, late)]
        sound = (ratios[0] <= GREW_SHARE or late[0] - early[0] <= GREW_MB) and all(
            b - a <= GREW_MANY for a, b in zip(early[1:], late[1:]))
        flat &= sound
        print(f"soak: {name}: last quarter over second: memory {ratios[0]:.3f} "
              f"({early[0]:.1f} to {late[0]:.1f} MB), handles {ratios[1]:.3f}, "
              f"threads {ratios[2]:.3f}: {'flat' if sound else 'NOT FLAT'}")
    return 0 if flat else 1


sys.exit(main())
