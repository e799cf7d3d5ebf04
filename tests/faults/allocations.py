#!/usr/bin/env python3
"""Every allocation of every command fails once: the program must end with status 3, say so, and
leave the old report or the whole new one.

    allocations.py PROGRAM FAILING_MEMORY.so [K]      with K only every K-th allocation
"""

import concurrent.futures
import filecmp
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FILES = Path(__file__).resolve().parent.parent / "cli" / "files"
COMMANDS = [
    ["keys", "fresh", "--no-passphrase"],
    ["sign", "small-report", "--key", "office.key"],
    ["verify", "small-report"],
    ["inspect", "--json", "small.ini"],
    ["inspect", "--xlsx", "small.ini"],
    ["flatness", "survey.ini"],
    ["holddown", "held.ini"],
    ["inspect", "--json", "held.ini"],
    ["inspect", "small.ini", "survey.ini"],
    ["holes", "small.ini"],
    ["pins", "held.ini"],
    ["pins", "held.ini", "--webs"],
    ["pattern", "--layout", "30", "--pitch", "32", "--diameter", "300", "-o", "drawn.csv"],
    ["sample", "small.ini", "--count", "2", "-o", "drawn.csv"],
    ["new", "fresh.ini"],
    ["rules"],
    ["rules", "tema-style", "--tube", "25.4", "--pitch", "32", "--thickness", "40"],
]

HELD = """[plate]
outline = rectangle
width = 400
height = 300
thickness = 20
[survey]
file = survey.csv
[support]
kind = table
pin_diameter = 6
pin_spacing = 120
[foot]
force = 3 kN
[holddown]
gap_limit = 0.1
[holes]
nominal = nominal.csv
tube_diameter = 1 in
pitch = 32
[rules]
ligament_minimum = 3.05
"""


def run(program, library, folder, command, **environment):
    done = subprocess.run(
        [program, command[0], *command[1:], "--threads", "1"],
        cwd=folder,
        env={**os.environ, "LD_PRELOAD": library, "SOURCE_DATE_EPOCH": "0", **environment},
        capture_output=True,
        text=True,
        timeout=60,
    )
    return done.returncode, done.stderr


def same(left, right):
    comparison = filecmp.dircmp(left, right)
    return not (comparison.left_only or comparison.right_only or comparison.diff_files)


def fail_one(program, library, place, command, n, clean, done):
    """What is wrong with the answer when allocation n fails; None if nothing is."""
    with tempfile.TemporaryDirectory(dir=place) as own:
        folder = Path(own) / "work"
        shutil.copytree(clean, folder)
        status, said = run(program, library, folder, command, PP_FAIL_AT=str(n))
        whole = all(
            same(clean / name, folder / name) or same(done / name, folder / name)
            for name in ("small-report", "survey-report")
        ) and not [p for p in folder.iterdir() if p.name.startswith(".")]
        if status == 3 and "memory" in said and whole:
            return None
        return f"{' '.join(command)}: allocation {n}: status {status}, {said.strip()}"


def main():
    program, library = map(os.path.abspath, sys.argv[1:3])
    every = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    faults = failures = 0
    with tempfile.TemporaryDirectory() as place, concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        clean, done = Path(place) / "clean", Path(place) / "done"
        shutil.copytree(FILES, clean)
        (clean / "held.ini").write_text(HELD)
        for words in (["keys", "office", "--no-passphrase"], ["inspect", "small.ini"], ["flatness", "survey.ini"]):
            subprocess.run([program, *words, "-q"], cwd=clean, check=False)
        for command in COMMANDS:
            shutil.copytree(clean, done)
            _, said = run(program, library, done, command, PP_FAIL_COUNT="1")
            total = int(said.strip().split("\n")[-1])
            tried = range(1, total + 1, every)
            wrong = [w for w in pool.map(lambda n: fail_one(program, library, place, command, n, clean, done), tried) if w]
            faults += len(tried)
            failures += len(wrong)
            print("\n".join(wrong + [f"{' '.join(command)}: {total} allocations, {len(tried)} failed"]))
            shutil.rmtree(done)
    print(f"{faults} allocations failed on purpose, {failures} not handled")
    return 1 if failures or not faults else 0


if __name__ == "__main__":
    sys.exit(main())
