#!/usr/bin/env python3
"""Every job file and every rule file of the corpus of bad ones: exit status 2, one line on standard
error that names the file, the line and what to do, nothing on standard output, nothing written."""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
CORPUS = HERE.parent / "corpus"
PLATE = "[plate]\noutline = disc\ndiameter = 400\nthickness = 30\n"
RULED = {
    "holes": PLATE + "[holes]\nnominal = nominal.csv\nmeasured = measured.csv\ntube_diameter = 1 in\npitch = 32\n"
    "[rules]\nset = ./{}\n",
    "flatness": PLATE + "flatness_rule = ./{}\n[survey]\nfile = survey.csv\nstraightedge = 1000\n",
}


def rows_of(kind):
    return [row.split("\t") for row in (CORPUS / kind / "expected.tsv").read_text(encoding="utf-8").splitlines()[1:]]


def refused(program, folder, job, begins, words):
    before = sorted(p.name for p in folder.iterdir())
    run = subprocess.run([program, "inspect", job], cwd=folder, capture_output=True)
    said = run.stderr.decode("utf-8", "replace")
    good = (run.returncode == 2 and not run.stdout and before == sorted(p.name for p in folder.iterdir())
            and said.startswith(begins) and words in said and (";" in said or "?" in said) and said.count("\n") == 1)
    if not good:
        print(f"{job}: status {run.returncode}, said {said!r}; wanted {begins!r}, {words!r}")
    return good


def try_job(program, folder, name, line, words):
    shutil.copy(CORPUS / "job" / name, folder / name)
    good = refused(program, folder, name, f"{name}:{line}: ", words)
    (folder / name).unlink()
    return good


def try_rules(program, folder, name, kind, blamed, line, words):
    shutil.copy(CORPUS / "rules" / name, folder / name)
    (folder / "job.ini").write_text(RULED[kind].format(name))
    at = "job.ini" if blamed == "job" else "./" + name
    good = refused(program, folder, "job.ini", f"{at}:{line}: " if line else f"{at}: ", words)
    (folder / name).unlink()
    return good


def main():
    program = str(Path(sys.argv[1]).resolve())
    jobs, rules = rows_of("job"), rows_of("rules")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "work"
        folder.mkdir()
        good = sum(try_job(program, folder, *row) for row in jobs)
        for name in ("nominal.csv", "measured.csv", "survey.csv"):
            shutil.copy(HERE / "files" / name, folder / name)
        good += sum(try_rules(program, folder, *row) for row in rules)
    tried = len(jobs) + len(rules)
    print(f"{tried} bad jobs and rule files, {tried - good} wrong")
    sys.exit(good != tried or not jobs or not rules)


main()
