#!/usr/bin/env python3
"""Sixteen processes add to one history and are killed at random: nothing that was said to be added is lost, nothing is
half there, and the rest can be added afterwards.

    survival.py PROGRAM [REPORTS]
"""
import random
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from plates import Shop

PROCESSES, AT_ONCE, SEED = 16, 4, 20


def time_of_adding(shop, names):
    """Seconds that one undisturbed process takes, so that the kills fall while others add."""
    began = time.monotonic()
    shop.run("add", "trial.history", *names[:len(names) // 2])
    return time.monotonic() - began


def attack(shop, names, dice):
    """Groups of processes, each killed somewhere; returns what they said was added."""
    seconds = time_of_adding(shop, names)
    said = set()
    for group in range(PROCESSES // AT_ONCE):
        running = []
        for k in range(AT_ONCE):
            mine = dice.sample(names, len(names) // 2)
            running.append(subprocess.Popen([shop.program, "history", "add", shop.file, *mine], cwd=shop.folder,
                                            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True))
        for process in running:
            time.sleep(dice.uniform(0, seconds))
            process.kill()
        for process in running:
            lines = process.stderr.read().splitlines()
            process.wait()
            said |= {line.split(":")[0] for line in lines if line.endswith((": added", ": already there"))}
    return said


def main():
    reports = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    with tempfile.TemporaryDirectory() as place:
        shop = Shop(str(Path(sys.argv[1]).resolve()), place)
        names = [shop.flat(f"P{i:03d}", 1 + i / 64) for i in range(reports)]
        said = attack(shop, names, random.Random(SEED))
        assert shop.ask("check")["integrity"] == "ok"
        with sqlite3.connect(shop.folder / shop.file) as base:
            there = {row[0] for row in base.execute("SELECT plate_id FROM figures")}
            reports_there = base.execute("SELECT count(*) FROM report").fetchone()[0]
        assert said <= there, f"said to be added and lost: {sorted(said - there)}"
        assert reports_there == len(there), "a report without its figure"
        shop.add(*names)
        chart = shop.ask("chart", "flatness")
        assert sorted(chart["values"]) == [1 + i / 64 for i in range(reports)]
        print(f"{len(said)} said to be added by {PROCESSES} killed processes, {len(there)} there; all {reports} at the end")
        return 0 if said else 1


if __name__ == "__main__":
    sys.exit(main())
