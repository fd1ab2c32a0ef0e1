"""Run a command and hold its greatest resident memory against a limit.

peak.py LIMIT_MIB AIM_MIB COMMAND...

What the machine does beside it only adds to that, so of up to three runs the least counts.
"""

import os
import subprocess
import sys

limit_mib, aim_mib, command = float(sys.argv[1]), float(sys.argv[2]), sys.argv[3:]
for _ in range(3):
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    peak_mib, code = used.ru_maxrss / 1024, os.waitstatus_to_exitcode(status)
    cpu_s = used.ru_utime + used.ru_stime
    print(f"day of {command[1]:<7} {peak_mib:8.1f} MiB; limit {limit_mib:.0f}, aim {aim_mib:.0f}; "
          f"{cpu_s:.1f} s of processor")
    if code not in (0, 1):
        sys.exit(f"code {code}")
    if peak_mib <= limit_mib:
        sys.exit()
sys.exit("it takes more memory than it did")
