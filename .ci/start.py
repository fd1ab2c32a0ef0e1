"""How soon the first page is there: from the start of the program to its answer, in a new home.

usage: start.py TRUNDLE [STARTS]; prints the median, and asserts nothing about time: a busy machine
is no defect.
"""

import os
import pathlib
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request


def first_page_s(trundle, home):
    """Seconds from a start to the whole of the first page, which is read through."""
    world = {"PATH": "/usr/bin:/bin", "HOME": str(home), "LC_ALL": "C.UTF-8"}
    began = time.perf_counter()
    program = subprocess.Popen([trundle, "--no-browser"], env=world, cwd=home, text=True,
                               stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                               stderr=subprocess.STDOUT)
    try:
        said = ""
        while not (link := re.search(r"http://127\.0\.0\.1:\S+", said)):
            line = program.stdout.readline()
            if not line:
                sys.exit(f"no page was opened: {said}")
            said += line
        # The link is good for once, and gives the right that the page then asks for.
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(),
                                              urllib.request.ProxyHandler({}))
        with browser.open(link[0], timeout=60) as answer:
            page = answer.read().decode()
        took = time.perf_counter() - began
        if answer.status != 200 or "<main" not in page:
            sys.exit(f"{link[0]}: code {answer.status}, not a page: {page[:200]}")
    finally:
        program.send_signal(signal.SIGINT)
        program.communicate(timeout=60)
    return took


def main(trundle, starts="9"):
    took = []
    for _ in range(int(starts)):
        with tempfile.TemporaryDirectory() as home:
            took.append(first_page_s(os.path.realpath(trundle), pathlib.Path(home)))
    print(f"start to first page: median {1000 * statistics.median(took):.0f} ms of {len(took)} "
          f"starts, {1000 * min(took):.0f} to {1000 * max(took):.0f}; aim 300")


main(*sys.argv[1:])
