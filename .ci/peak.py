"""Run a command and hold the greatest memory it takes for itself against a limit.

peak.py LIMIT_MIB AIM_MIB COMMAND...

Pages of files are no part of that: how much of a program or a capture the system holds in memory
depends on how the file came to lie in its cache, and goes as soon as somebody else wants room. The
greatest resident size with them is printed beside it, for the aim.
"""

import os
import re
import subprocess
import sys
import time

LOOK_S = 0.005

limit_mib, aim_mib, command = float(sys.argv[1]), float(sys.argv[2]), sys.argv[3:]


def own_mib():
    """Run it once; gives the memory of its own, MiB."""
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    files_kib = 0
    while True:
        pid, status, used = os.wait4(child.pid, os.WNOHANG)
        if pid:
            break
        # One that has just ended holds nothing any more: what was seen before that counts.
        with open(f"/proc/{child.pid}/status", encoding="ascii") as said:
            found = re.search(r"^RssFile:\s+(\d+)", said.read(), re.M)
        files_kib = max(files_kib, int(found.group(1))) if found else files_kib
        time.sleep(LOOK_S)
    all_mib = used.ru_maxrss / 1024
    own = all_mib - files_kib / 1024
    print(f"day of {command[1]:<7} {own:6.1f} MiB, limit {limit_mib:.0f}; with files "
          f"{all_mib:.1f}, aim {aim_mib:.0f}; {used.ru_utime + used.ru_stime:.1f} s of processor")
    code = os.waitstatus_to_exitcode(status)
    if code not in (0, 1):
        sys.exit(f"code {code}")
    return own


# What the machine does beside it only adds: of up to three runs the least counts.
if not any(own_mib() <= limit_mib for _ in range(3)):
    sys.exit("it takes more memory than it did")
