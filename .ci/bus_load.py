"""What a full implement bus costs a live job.

python3 -B .ci/bus_load.py FOLDER_OF_PROGRAMS [SECONDS]

The same simulated drive is recorded twice at a time for so long, two minutes if not said, on a
tractor whose bus carries 2,000 frames a second: by board and receiver alone, and with the bus. What
the system says of each job is printed four times. The job with the bus must have recorded all of
it, and may take so much memory and so much of a processor beside what the other one takes.
"""

import os
import subprocess
import sys
import tempfile
import time

# Beside the job without: memory in MB, and seconds of processor for each second. What is reached
# is 0.3 and 0.02.
MORE_MB, MORE_CPU = 4.0, 0.06
# Bytes of the bus for each second, 27 a frame, and the share of them that must be there. The
# simulated ports throw away what is not fetched in time: a machine that is busy otherwise measures
# no full bus, and is given so many tries.
BUS_BYTES, SHARE, TRIES = 27 * 2_000, 0.95, 3
JOBS = {"without": ["speeds"], "with": ["bus"]}


def of(pid):
    """Memory in MB, the greatest and now, and seconds of processor."""
    status = dict(line.split(":", 1) for line in open(f"/proc/{pid}/status") if ":" in line)
    peak_mb, now_mb = (int(status[key].split()[0]) / 1024 for key in ("VmHWM", "VmRSS"))
    fields = open(f"/proc/{pid}/stat").read().rsplit(")", 1)[1].split()
    return peak_mb, now_mb, (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def begin(bin, folder, name, running):
    links = f"{folder}/{name}"
    os.mkdir(links)
    running.append(subprocess.Popen(
        [f"{bin}/trundle-sim", "bus-full", "--links", links, "--keep-open", "--lead-in", "15",
         "--passes", "200"], stdout=subprocess.DEVNULL))
    while not os.path.exists(f"{links}/bus"):
        time.sleep(0.05)
    ports = ["--board", f"{links}/board", "--receiver", f"{links}/receiver"]
    ports += ["--bus", f"{links}/bus"] if name == "with" else []
    said = open(f"{folder}/{name}.said", "w")
    job = subprocess.Popen(
        [f"{bin}/trundle", *JOBS[name], *ports, "--capture", f"{folder}/{name}.capture"],
        stdin=subprocess.PIPE, stdout=said, stderr=subprocess.STDOUT)
    running.append(job)
    until = time.monotonic() + 60
    while "Recording to" not in open(said.name).read():
        if job.poll() is not None or time.monotonic() > until:
            raise SystemExit(f"bus load: {name} did not begin: {open(said.name).read()}")
        time.sleep(0.1)
    return job


def measured(bin, seconds):
    """Memory and processor more than without the bus, and the share of its bytes recorded."""
    running, first, last = [], {}, {}
    with tempfile.TemporaryDirectory() as folder:
        try:
            jobs = {name: begin(bin, folder, name, running) for name in JOBS}
            size = {name: os.path.getsize(f"{folder}/{name}.capture") for name in JOBS}
            first = {name: of(job.pid) for name, job in jobs.items()}
            began = time.monotonic()
            for step in range(4):
                time.sleep(seconds / 4)
                for name, job in jobs.items():
                    if job.poll() is not None:
                        said = open(f"{folder}/{name}.said").read()
                        raise SystemExit(f"bus load: {name} ended: {said}")
                    last[name] = of(job.pid)
                    peak_mb, now_mb, cpu_s = last[name]
                    print(f"{time.monotonic() - began:6.0f} s  {name:7} memory {now_mb:6.1f} MB, "
                          f"at most {peak_mb:6.1f}; processor {cpu_s:6.2f} s", flush=True)
            took_s = time.monotonic() - began
            grew = {name: os.path.getsize(f"{folder}/{name}.capture") - size[name]
                    for name in JOBS}
        finally:
            for process in running:
                process.kill()
                process.wait()
    more_mb = last["with"][0] - last["without"][0]
    cpu = {name: (last[name][2] - first[name][2]) / took_s for name in JOBS}
    more_cpu = cpu["with"] - cpu["without"]
    share = (grew["with"] - grew["without"]) / (BUS_BYTES * took_s)
    print(f"bus load: the bus takes {more_mb:.1f} MB more; limit {MORE_MB:.0f}; "
          f"{100 * more_cpu:.1f} % of a processor beside {100 * cpu['without']:.1f} %; limit "
          f"{100 * MORE_CPU:.0f}; {100 * share:.0f} % of its bytes recorded")
    return more_mb, more_cpu, share


def main():
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 120.0
    for _ in range(TRIES):
        more_mb, more_cpu, share = measured(sys.argv[1], seconds)
        if share >= SHARE:
            break
    else:
        raise SystemExit("bus load: frames are missing, or this machine is too busy for them")
    if more_mb > MORE_MB or more_cpu > MORE_CPU:
        raise SystemExit("bus load: a full bus takes more than it may")


main()
