#!/usr/bin/env python3
"""Every allocation of every command fails once: the program must end with status 3, say so, and
leave the old report or the whole new one.

    allocations.py PROGRAM FAILING_MEMORY.so
"""

import filecmp
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FILES = Path(__file__).resolve().parent.parent / "cli" / "files"
COMMANDS = [
    ["keys", "fresh"],
    ["sign", "small-report", "--key", "office.key"],
    ["verify", "small-report"],
    ["inspect", "--json", "small.ini"],
    ["inspect", "--xlsx", "small.ini"],
    ["flatness", "survey.ini"],
    ["rules", "tema-style", "--tube", "25.4", "--pitch", "32", "--thickness", "40"],
]


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


def main():
    program, library = map(os.path.abspath, sys.argv[1:3])
    faults = failures = 0
    with tempfile.TemporaryDirectory() as place:
        clean = Path(place) / "clean"
        shutil.copytree(FILES, clean)
        for words in (["keys", "office"], ["inspect", "small.ini"], ["flatness", "survey.ini"]):
            subprocess.run([program, *words, "-q"], cwd=clean, check=False)
        for command in COMMANDS:
            folder = Path(place) / "work"
            shutil.copytree(clean, folder)
            _, said = run(program, library, folder, command, PP_FAIL_COUNT="1")
            total = int(said.strip().split("\n")[-1])
            done = Path(place) / "done"
            folder.rename(done)
            for n in range(1, total + 1):
                shutil.copytree(clean, folder)
                status, said = run(program, library, folder, command, PP_FAIL_AT=str(n))
                whole = all(
                    same(clean / name, folder / name) or same(done / name, folder / name)
                    for name in ("small-report", "survey-report")
                ) and not [p for p in folder.iterdir() if p.name.startswith(".")]
                faults += 1
                if status != 3 or "memory" not in said or not whole:
                    failures += 1
                    print(f"{' '.join(command)}: allocation {n}: status {status}, {said.strip()}")
                shutil.rmtree(folder)
            shutil.rmtree(done)
            print(f"{' '.join(command)}: {total} allocations")
    print(f"{faults} allocations failed on purpose, {failures} not handled")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
