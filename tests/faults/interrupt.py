#!/usr/bin/env python3
"""A signal during a long computation ends it at once, by that signal, and leaves nothing behind.

    interrupt.py PROGRAM

The study is made so large that it would run for many times the wait allowed here, on a fast machine too. The
signal goes when the progress line on the terminal (a pseudo-terminal) names the study, so that the program is
known to be computing (of several jobs the share that is done). A report that stood there before must stand there still; of several jobs, those done
keep their lines in summary.csv. When the processes that compute them are killed, the job under way is lost, no other.
"""

import os
import pty
import re
import select
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

START = 30  # seconds until the study must have begun; it does within one
END = 2  # seconds from the signal until the program must have ended; it takes a few milliseconds
DISC, PITCH = 6000, 26

JOB = f"""[plate]
outline = disc
diameter = {DISC}
thickness = 20
[survey]
file = survey.csv
[support]
kind = table
[foot]
force = 8 kN
outer_diameter = 160
inner_diameter = 90
[holes]
nominal = nominal.csv
pitch = {PITCH}
[holddown]
gap_limit = 0.3
"""


def write_study(folder):
    (folder / "big.ini").write_text(JOB)
    (folder / "small.ini").write_text("[plate]\noutline = disc\ndiameter = 6000\nthickness = 40\n"
                                      "[survey]\nfile = survey.csv\nflatness_limit = 50\n")
    rim = DISC / 2
    steps = [i * DISC / 24 - rim for i in range(25)]
    rows = [(x, y, 4 * (x / rim) ** 2 - 3 * (y / rim) ** 3 + 0.7 * (x / rim) * (y / rim))
            for x in steps for y in steps if x * x + y * y < rim * rim]
    (folder / "survey.csv").write_text("x,y,z\n" + "".join(f"{x:g},{y:g},{z:.4f}\n" for x, y, z in rows))
    count = int((rim - 120) / PITCH)
    places = [(i * PITCH, k * PITCH) for i in range(-count, count + 1) for k in range(-count, count + 1)
              if (i * i + k * k) * PITCH ** 2 < (rim - 120) ** 2]
    (folder / "nominal.csv").write_text("hole,x,y\n" + "".join(
        f"H{n},{x},{y}\n" for n, (x, y) in enumerate(places)))


def wait_for(terminal, words):
    """What the program wrote until `words` came; None when it ended or took too long."""
    seen, end = "", time.monotonic() + START
    while time.monotonic() < end:
        if not select.select([terminal], [], [], 1)[0]:
            continue
        try:
            piece = os.read(terminal, 4096)
        except OSError:  # the other side was closed
            piece = b""
        if not piece:
            return None
        seen += piece.decode(errors="replace")
        if re.search(words, seen):
            return seen
    return None


def everything_in(folder):
    return {str(p.relative_to(folder)): p.read_bytes() if p.is_file() else None for p in folder.rglob("*")}


def send_to_program(run, sent):
    run.send_signal(sent)


def send_to_workers(run, sent):
    for worker in Path(f"/proc/{run.pid}/task/{run.pid}/children").read_text().split():
        os.kill(int(worker), sent)


def interrupted(program, folder, arguments, sent, words="hold-down", send=send_to_program):
    """The program's exit status as subprocess gives it, and how long it lived after the signal."""
    terminal, other = pty.openpty()
    run = subprocess.Popen([program, *arguments], cwd=folder, stdout=subprocess.DEVNULL, stderr=other)
    os.close(other)
    try:
        if wait_for(terminal, words) is None:
            return f"the study did not begin (exit status {run.poll()})", 0
        time.sleep(0.3)  # into the work
        asked = time.monotonic()
        send(run, sent)
        try:
            return run.wait(timeout=START), time.monotonic() - asked
        except subprocess.TimeoutExpired:
            return "still running", START
    finally:
        run.kill()
        run.wait()
        os.close(terminal)


def main():
    program, failures = os.path.abspath(sys.argv[1]), 0

    def check(what, good, said):
        nonlocal failures
        if not good:
            failures += 1
            print(f"{what}: {said}")

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        write_study(folder)
        before = everything_in(folder)
        for sent in (signal.SIGTERM, signal.SIGINT):
            status, took = interrupted(program, folder, ["holddown", "big.ini"], sent)
            check(sent.name, status == -sent, f"exit status {status}, not {-sent}")
            check(sent.name, took <= END, f"took {took:.1f} s")
            check(sent.name, everything_in(folder) == before, f"left {set(everything_in(folder)) - set(before)}")
        status, took = interrupted(program, folder, ["inspect", "small.ini", "big.ini", "-o", "reports"], signal.SIGINT,
                                   r"plates \d")
        check("several jobs", status == -signal.SIGINT, f"exit status {status}")
        check("several jobs", took <= END, f"took {took:.1f} s")
        found = sorted(p.name for p in (folder / "reports").iterdir())
        check("several jobs", found == ["small-report", "summary.csv"], f"left {found}")
        table = (folder / "reports" / "summary.csv").read_text().splitlines()
        check("several jobs", len(table) == 2 and table[1].startswith('"small'), f"summary.csv is {table}")
        status, took = interrupted(program, folder, ["inspect", "small.ini", "big.ini", "-o", "killed"], signal.SIGKILL,
                                   r"plates \d", send_to_workers)
        check("killed", status == 3, f"exit status {status}, not 3")
        check("killed", took <= END, f"took {took:.1f} s")
        table = (folder / "killed" / "summary.csv").read_text().splitlines()
        check("killed", len(table) == 3 and table[2].startswith('"big.ini",,3,'), f"summary.csv is {table}")
    print(f"four studies interrupted, {failures} wrong")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
