#!/usr/bin/env python3
"""Questions to a history of many plates beside pandas on the same file, and adding a report of many holes.

    bench_history.py BUILD PLATES[,PLATES...] HOLES ROUNDS
"""
import csv
import json
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import growth
import numpy
import pandas

MACHINES, FIGURES = 5, 20


def report(folder, name, holes=0, seed=1):
    """A report folder; each plate has errors of its own, or it would be one plate under two names."""
    place = folder / name
    place.mkdir()
    (place / "results.json").write_text(json.dumps(
        {"format": "plateproof-results", "version": 1, "verdict": "conforms", "basis": "",
         "job": {"plate_id": name, "inspection_date": "2026-01-01"}, "machine": {"name": "M0"}, "inputs": [],
         "flatness": {"minimum_zone": {"flatness": 0.5}}}))
    if holes:
        e = numpy.random.default_rng(seed).normal(0, 0.03, (holes, 2))
        with open(place / "holes.csv", "w", newline="") as out:
            writer = csv.writer(out)
            writer.writerow("hole,face,x,y,nominal_x,nominal_y,dx,dy,diameter_min,diameter_max".split(","))
            writer.writerows((f"H{i}", "entry", 32.0 * i + x, y, 32.0 * i, 0, x, y, 25.7, 25.7) for i, (x, y) in enumerate(e))
    return name


def fill(path, plates):
    """Rows as the program writes them, straight into its own schema."""
    r = numpy.random.default_rng(2)
    with sqlite3.connect(path) as base:
        base.executemany("INSERT OR IGNORE INTO machine (name) VALUES (?)", [(f"M{i}",) for i in range(MACHINES)])
        base.executemany("INSERT OR IGNORE INTO name (text, unit) VALUES (?, 'mm')", [(f"figure.{k}",) for k in range(FIGURES)])
        names = [n for (n,) in base.execute("SELECT name FROM name")]
        machines = [n for (n,) in base.execute("SELECT machine FROM machine")]
        base.executemany("INSERT INTO plate (plate, plate_id, heat_number, supplier) VALUES (?, ?, ?, ?)",
                         [(i + 10, f"Q{i}", f"H{i % 300}", f"S{i % 7}") for i in range(plates)])
        base.executemany(
            "INSERT INTO report (report, plate, inspection_date, machine, verdict, basis, folder, results_sha256, inputs_sha256, "
            "tool_version, added_utc) VALUES (?, ?, ?, ?, 'conforms', '', '/', ?, '', '', '2026-01-01')",
            [(i + 10, i + 10, str(numpy.datetime64("2000-01-01") + i // 2), machines[i % MACHINES], f"{i:064d}")
             for i in range(plates)])
        values = r.normal(1, 0.1, (len(names), plates))
        base.executemany("INSERT INTO figure (name, report, value) VALUES (?, ?, ?)",
                         [(n, i + 10, values[k, i]) for k, n in enumerate(names) for i in range(plates)])


def read(path, where=""):
    with sqlite3.connect(path) as base:
        return pandas.read_sql("SELECT * FROM figures WHERE figure = 'figure.3'" + where + " ORDER BY inspection_date, report", base)


def chart(path, where=""):
    v = read(path, where)["value"]
    ranges = v.diff().abs().mean()
    return v.mean(), v.mean() - 2.66 * ranges, v.mean() + 2.66 * ranges


def trend(path):
    v = read(path)["value"]
    return numpy.polyfit(numpy.arange(1, len(v) + 1), v, 1)[0]


def causes(path):
    table = read(path)
    return [table.groupby(by)["value"].agg(["mean", "count", "var"]) for by in ("supplier", "heat_number", "machine")]


def spent():
    """Processor seconds of this process and of its children: another process beside them does not count."""
    own, others = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime, others.ru_utime + others.ru_stime


def timed(rounds, work):
    """Medians: processor seconds here, of child processes, and seconds by the clock."""
    taken = []
    for _ in range(rounds):
        own, others = spent()
        began = time.perf_counter()
        work()
        ended = time.perf_counter()
        now = spent()
        taken.append((now[0] - own, now[1] - others, ended - began))
    return [statistics.median(column) for column in zip(*taken)]


def one_size(program, plates, holes, rounds):
    """Processor seconds of the chart of all plates, without the start of the program."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        path = folder / "shop.history"
        run = lambda *words: subprocess.run([program, "history", *words, "--json"], cwd=folder, check=True, capture_output=True)
        run("add", "shop.history", report(folder, "P0"))
        fill(path, plates)
        start = timed(rounds, lambda: subprocess.run([program, "--version"], check=True, capture_output=True))
        print(f"{plates} plates, {FIGURES} figures, {path.stat().st_size / 1e6:.1f} MB; processor seconds. start: of loading the "
              f"program and its libraries, {start[1]:.3f}; question: without it; whole: with it; clock: by the clock, whole;\n"
              "pandas without its imports; ratio: pandas / question")
        print(f"{'question':<28}{'question':>9}{'whole':>9}{'clock':>9}{'pandas':>9}{'ratio':>8}")
        taken = {}
        for name, words, peer in (
                ("chart of all plates", ("chart", "figure.3"), lambda: chart(path)),
                ("chart of one machine", ("chart", "figure.3", "--where", "machine=M1"), lambda: chart(path, " AND machine = 'M1'")),
                ("trend", ("trend", "figure.3"), lambda: trend(path)),
                ("causes of one figure", ("causes", "figure.3"), lambda: causes(path)),
                ("list", ("list",), None)):
            ours = timed(rounds, lambda: run(words[0], "shop.history", *words[1:]))
            theirs = timed(rounds, peer)[0] if peer else float("nan")
            taken[name] = max(ours[1] - start[1], 1e-4)
            print(f"{name:<28}{taken[name]:9.3f}{ours[1]:9.3f}{ours[2]:9.3f}{theirs:9.3f}{theirs / taken[name]:8.1f}")
        known = timed(rounds, lambda: run("add", "shop.history", "P0"))
        fresh = [report(folder, f"N{i}", holes, i) for i in range(rounds)]
        added = timed(rounds, lambda: run("add", "shop.history", fresh.pop()))
        for name, seconds in ((f"adding {holes} holes", added), ("adding one that is there", known)):
            print(f"{name:<28}{max(seconds[1] - start[1], 1e-4):9.3f}{seconds[1]:9.3f}{seconds[2]:9.3f}", flush=True)
    return taken["chart of all plates"]


def main():
    program = str(Path(sys.argv[1], "plateproof").resolve())
    counts, holes, rounds = [int(c) for c in sys.argv[2].split(",")], int(sys.argv[3]), int(sys.argv[4])
    growth.say("the chart of all plates", counts, [one_size(program, plates, holes, rounds) for plates in counts])


if __name__ == "__main__":
    main()
