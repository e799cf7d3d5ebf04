#!/usr/bin/env python3
"""The sets of data/reference/history against the program: steps of case.json, answers of expected.json.

    cases.py PROGRAM FOLDER

A step runs the program, changes a text of a report, runs several programs at once, or kills some. In its words {case} is
a copy of the set, {db} a new history, {out} a new folder. Wanted: a value, {value, tol}, {min, max}, {length}, or a
column of a CSV of {out}. Values of NIST's data and of mathematics; README.md there says which.
"""
import csv
import glob
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path


def look_up(found, path):
    for key in path.split("."):
        if isinstance(found, dict):
            found = found[key]
        elif "=" in key:
            name, wanted = key.split("=", 1)
            found = next(item for item in found if str(item.get(name)) == wanted)
        else:
            found = found[int(key)]
    return found


def column_of(folder, wanted):
    with open(folder / wanted["file"], newline="") as text:
        return float(next(row for row in csv.DictReader(text) if row["hole"] == wanted["hole"])[wanted["column"]])


def agrees(found, wanted):
    if not isinstance(wanted, dict):
        return found == wanted
    if "length" in wanted:
        return len(found) == wanted["length"]
    if found is None:
        return False
    if "value" in wanted:
        return abs(found - wanted["value"]) <= wanted["tol"]
    return wanted.get("min", found) <= found <= wanted.get("max", found)


class Case:
    def __init__(self, program, source, place):
        self.program, self.folder = program, place / "case"
        shutil.copytree(source, self.folder)
        self.where = {"{case}": str(self.folder), "{db}": str(place / "shop.history"), "{out}": str(place / "out")}
        self.steps = json.loads((source / "case.json").read_text())["steps"]
        self.wanted = json.loads((source / "expected.json").read_text())
        self.checks = 0

    def words(self, args):
        words = [self.program]
        for word in args:
            for name, value in self.where.items():
                word = word.replace(name, value)
            words += (sorted(glob.glob(word)) or [word]) if "*" in word else [word]
        return words

    def faults(self):
        for step in self.steps:
            if "replace_text" in step:
                self.edit(**step["replace_text"])
            elif "kill_after_s" in step:
                self.kill(step)
            elif "parallel" in step:
                yield from self.at_once(step)
            else:
                yield from self.run(step)

    def edit(self, file, old, new):
        text = (self.folder / file).read_text()
        assert old in text, f"{file} has no {old}"
        (self.folder / file).write_text(text.replace(old, new, 1))

    def kill(self, step):
        for seconds in step["kill_after_s"]:
            victim = subprocess.Popen(self.words(step["args"]), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            time.sleep(seconds)
            victim.send_signal(signal.SIGKILL)
            victim.wait()

    def at_once(self, step):
        running = [subprocess.Popen(self.words(args), stdout=subprocess.PIPE, stderr=subprocess.PIPE)
                   for args in step["parallel"]]
        for process in running:
            process.communicate()
            self.checks += 1
            if process.returncode != step.get("exit", 0):
                yield f"{step['name']}: exit {process.returncode}"

    def run(self, step):
        done = subprocess.run(self.words(step["args"]), capture_output=True, text=True, timeout=120)
        self.checks += 1
        if done.returncode != step.get("exit", 0):
            yield f"{step['name']}: exit {done.returncode}, not {step.get('exit', 0)}: {done.stderr.strip()[-300:]}"
        if step.get("stderr_has", "") not in done.stderr:
            yield f"{step['name']}: standard error lacks {step['stderr_has']}"
        answer = json.loads(done.stdout) if done.stdout.startswith("{") else {}
        for path, wanted in self.wanted.get(step["name"], {}).items():
            self.checks += 1
            try:
                in_file = isinstance(wanted, dict) and "file" in wanted
                found = column_of(Path(self.where["{out}"]), wanted) if in_file else look_up(answer, path)
            except (KeyError, IndexError, StopIteration, TypeError, OSError) as why:
                yield f"{step['name']}: {path} is not there ({why!r})"
                continue
            if not agrees(found, wanted):
                yield f"{step['name']}: {path} = {found}, not {wanted}"


def main():
    program, root, wrong = os.path.abspath(sys.argv[1]), Path(sys.argv[2]), 0
    for source in sorted(path for path in root.iterdir() if (path / "case.json").exists()):
        if len(sys.argv) > 3 and source.name not in sys.argv[3:]:
            continue
        with tempfile.TemporaryDirectory() as place:
            case = Case(program, source, Path(place))
            faults = list(case.faults())
        print(f"{source.name}: {case.checks} checks, {len(faults)} failed")
        print("".join(f"  {fault}\n" for fault in faults), end="")
        wrong += len(faults)
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main())
