#!/usr/bin/env python3
"""A stack of eight layers: growth with the holes, threads, the search, memory; beside one plate's hold-down.

    bench_stack.py BUILD_FOLDER [HOLES,HOLES,... [ROUNDS]]

Whole processes, medians of the rounds. Nothing is judged."""
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import growth

ROOT = Path(__file__).parent.parent.parent


def timed(*words):
    """Seconds and MB of a whole process."""
    begin = time.perf_counter()
    child = subprocess.Popen([str(w) for w in words], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = child.stderr.read()
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode > 1:
        sys.exit(said.decode())
    return time.perf_counter() - begin, usage.ru_maxrss / 1024


def median(rounds, *words):
    found = [timed(*words) for _ in range(rounds)]
    return [statistics.median(f[i] for f in found) for i in (0, 1)]


def make(folder, holes, *more):
    subprocess.run([sys.executable, ROOT / "scripts/make_stack.py", "random", folder, "1", "--holes", str(holes), *more], check=True)


def one_plate(folder):
    """The bottom layer alone, as a hold-down job."""
    text = (folder / "stack.ini").read_text().split("\n[stack]")[0]
    path = folder / "one.ini"
    path.write_text(text.replace("[survey]\n", "[survey]\nfile = a.csv\n"))
    return path


def main():
    program = Path(sys.argv[1]) / "plateproof"
    sizes = [int(s) for s in (sys.argv[2] if len(sys.argv) > 2 else "1000,2000,4000").split(",")]
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 3
    seconds = []
    with tempfile.TemporaryDirectory() as work:
        folder = Path(work)
        for holes in sizes:
            make(folder, holes, "--no-search")
            job, out = folder / "stack.ini", folder / "out"
            two, megabytes = median(rounds, program, "stack", "-q", "--threads", 2, "-o", out, job)
            seconds.append(two)
            one, _ = median(rounds, program, "stack", "-q", "--threads", 1, "-o", out, job)
            plate, _ = median(rounds, program, "holddown", "-q", "--threads", 2, "-o", folder / "plate", one_plate(folder))
            print(f"{holes:6d} holes, 8 layers: {two:.2f} s on 2 threads, {one:.2f} s on 1 (ratio {one / two:.2f}), "
                  f"{megabytes:.0f} MB; one plate {plate:.2f} s, ratio {two / plate:.1f}", flush=True)
        growth.say("8 layers", sizes, seconds)
        make(folder, sizes[-1])
        searched, megabytes = median(1, program, "stack", "-q", "--threads", 2, "-o", folder / "out", folder / "stack.ini")
        print(f"with order, face and turn searched: {searched:.2f} s, {searched - two:.2f} s on top, {megabytes:.0f} MB")


if __name__ == "__main__":
    main()
