#!/usr/bin/env python3
"""docs/manual/sizes.md is true: at each limit a run still works, one beyond it is refused with words
that say so; what does not fit the memory ends with status 3.

    sizes.py PROGRAM
"""

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

PLATE = "[plate]\noutline = rectangle\nwidth = 400\nheight = 300\nthickness = 20\n[survey]\nfile = survey.csv\n"
POINTS = "".join(f"{x},{y},{0.01 * ((x + y) % 7)}\n" for x in range(-150, 151, 50) for y in range(-100, 101, 50))


def run(program, folder, *arguments, memory=None):
    def limit():
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))

    # OpenBLAS starts its threads when it is loaded, long before the program says that it wants one
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([program, *arguments], cwd=folder, capture_output=True, timeout=20, preexec_fn=memory and limit,
                          env=environment)
    return done.returncode, done.stderr.decode("utf-8", "replace")


def line_of(length):
    """A row of the survey of exactly `length` bytes without its end, three cells wide."""
    return "0,0," + "0" * (length - 5) + "1"


def padded(text, size):
    """The text brought to `size` bytes by comment lines."""
    lines, left = [], size - len(text)
    while left > 0:
        n = min(left, 100) if left - min(left, 100) != 1 else 99
        lines.append("#" * (n - 1) + "\n")
        left -= n
    return text + "".join(lines)


def job_file(size):
    return {"job.ini": padded(PLATE, size)}


def survey(text, header="x,y,z\n"):
    return {"survey.csv": header + POINTS + text}


def square(side):
    return {"job.ini": "[survey]\nfile = survey.csv\n", "survey.csv": f"x,y,z\n0,0,0\n{side},0,1\n0,{side},2\n{side},{side},0\n"}


def cells(count):
    return {"survey.csv": "x,y,z," + ",".join(f"c{i}" for i in range(count - 3)) + "\n"
            + "".join(row + ",1" * (count - 3) + "\n" for row in POINTS.splitlines())}


def instrument(length):
    return {"job.ini": PLATE + f"[instrument {'a' * (length - len('instrument '))}]\nkind = arm\n"}


KEY = "title = "
# name: files at the limit, files beyond, the status beyond and its words; the arguments beside them
LIMITS = {
    "a job file of 1 MiB": (job_file(1 << 20), job_file((1 << 20) + 1), 2, "1 MiB|1048576"),
    "key and value of 198 bytes": ({"job.ini": "[job]\n" + KEY + "x" * (198 - len(KEY)) + "\n" + PLATE},
                                   {"job.ini": "[job]\n" + KEY + "x" * (199 - len(KEY)) + "\n" + PLATE}, 2, "198"),
    "a section name of 48 bytes": (instrument(48), instrument(49), 2, "48 bytes"),
    "a CSV line of 65,536 bytes": (survey(line_of(65536) + "\n"), survey(line_of(65537) + "\n"), 2, "65536|65,536"),
    "1024 cells": (cells(1024), cells(1025), 2, "1024"),
    "a length within 1e9 mm": (square("1e9"), square("1.000001e9"), 2, "1e+09|1e9|large"),
}


def fresh(place, files):
    folder = Path(tempfile.mkdtemp(dir=place))
    for name, text in {"job.ini": PLATE, "survey.csv": "x,y,z\n" + POINTS, **files}.items():
        (folder / name).write_text(text)
    return folder


def try_limit(program, place, name):
    at, beyond, want, words = LIMITS[name]
    status, said = run(program, fresh(place, at), "flatness", "--json", "job.ini")
    if status not in (0, 1):
        return f"{name}: at the limit status {status}: {said[:200]}"
    status, said = run(program, fresh(place, beyond), "flatness", "--json", "job.ini")
    remedies = [";" in line or "?" in line for line in said.splitlines()]  # one problem of the file a line
    if status != want or not any(w in said for w in words.split("|")) or not remedies or not all(remedies):
        return f"{name}: beyond the limit status {status}: {said[:200]}"
    return None


def try_threads(program, place):
    folder = fresh(place, {})
    status, said = run(program, folder, "flatness", "--json", "--threads", "256", "job.ini")
    if status not in (0, 1):
        return f"256 threads: status {status}: {said}"
    status, said = run(program, folder, "flatness", "--json", "--threads", "257", "job.ini")
    return None if status == 2 and "256" in said else f"257 threads: status {status}: {said}"


def try_memory(program, place):
    """A survey of a million points in ever less memory: an answer, or status 3 that says so."""
    folder = fresh(place, {"survey.csv": "x,y,z\n" + "".join(
        f"{(i * 37 % 4001) / 10 - 200},{(i * 101 % 2999) / 10 - 150},{i % 17 / 1000}\n" for i in range(300000))})
    seen = set()
    for megabytes in (40, 60, 80, 100, 150, 250, 400, 2000):
        status, said = run(program, folder, "flatness", "--json", "--threads", "1", "job.ini", memory=megabytes << 20)
        loads = status == 127  # the system could not even load the program's libraries
        if not loads and status not in (0, 1) and not (status == 3 and "memory ran out" in said):
            return f"{megabytes} MB of memory: status {status}: {said[:300]}"
        seen.add("loads" if loads else status)
    return None if 3 in seen and seen & {0, 1} else f"less and less memory: only statuses {seen} were seen"


def try_folder(program, place):
    """A signed folder holds at most 10,000 files and no link."""
    folder = fresh(place, {})
    run(program, folder, "flatness", "-q", "job.ini")
    run(program, folder, "keys", "office", "--no-passphrase")
    report = folder / "job-report"
    (report / "link").symlink_to("results.json")
    status, said = run(program, folder, "sign", "job-report", "--key", "office.key")
    if status != 2 or "link" not in said:
        return f"a link in a signed folder: status {status}: {said}"
    (report / "link").unlink()
    for i in range(10001):
        (report / f"more{i}").touch()
    status, said = run(program, folder, "sign", "job-report", "--key", "office.key")
    return None if status == 2 and ("10000" in said or "10,000" in said) else f"10,001 files to sign: status {status}: {said}"


def main():
    program = os.path.abspath(sys.argv[1])
    with tempfile.TemporaryDirectory() as place:
        answers = [try_limit(program, place, name) for name in LIMITS]
        answers += [part(program, place) for part in (try_threads, try_memory, try_folder)]
    wrong = [a for a in answers if a]
    for text in wrong:
        print(text)
    print(f"{len(answers)} limits tried, {len(wrong)} not as the manual says")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
