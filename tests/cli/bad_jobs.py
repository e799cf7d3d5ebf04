#!/usr/bin/env python3
"""Every job file of the corpus of bad ones: exit status 2, one line on standard error that names the
file, the line and what to do, nothing on standard output, nothing written."""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

CORPUS = Path(__file__).resolve().parent.parent / "corpus" / "job"


def check(program, folder, name, line, words):
    shutil.copy(CORPUS / name, folder / name)
    before = sorted(p.name for p in folder.iterdir())
    run = subprocess.run([program, "inspect", name], cwd=folder, capture_output=True)
    said = run.stderr.decode("utf-8", "replace")
    after = sorted(p.name for p in folder.iterdir())
    (folder / name).unlink()
    return (run.returncode == 2 and not run.stdout and before == after
            and said.startswith(f"{name}:{line}: ") and words in said and ";" in said
            and said.count("\n") == 1), run.returncode, said


def main():
    program = str(Path(sys.argv[1]).resolve())
    wrong = 0
    rows = (CORPUS / "expected.tsv").read_text(encoding="utf-8").splitlines()[1:]
    with tempfile.TemporaryDirectory() as folder:
        for row in rows:
            name, line, words = row.split("\t")
            good, status, said = check(program, Path(folder), name, line, words)
            if not good:
                wrong += 1
                print(f"{name}: status {status}, said {said!r}; wanted line {line}, {words!r}")
    print(f"{len(rows)} bad jobs, {wrong} wrong")
    sys.exit(wrong > 0 or not rows)


main()
