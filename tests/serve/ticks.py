#!/usr/bin/env python3
"""Ticking off the work list at the screen: kept, never over a foreign file, forgotten by a new result, no verdict.

    ticks.py PROGRAM SOURCE
"""
import hashlib
import json
import shutil
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

from screen import Screen

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]


def post(screen, address, **values):
    status, _, data = screen.ask("POST", address, json.dumps(values))
    return status, json.loads(data) if data else None


def tick(screen, row, done=True):
    return post(screen, "/api/tick", job="small.ini", hole=row["hole"], extra=row["extra"], todo=row["todo"], done=done)


def bytes_of(folder):
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in (folder / "small-report").iterdir()}


def main():
    folder = Path(tempfile.mkdtemp(prefix="plateproof-ticks-")) / "shop"
    shutil.copytree(Path(SOURCE) / "tests/cli/files", folder)
    measured = folder / "measured.csv"
    measured.write_text(measured.read_text().replace("A2,32.017", "A2,33.017").replace("A3,15.988", "A3,16.988"))
    run = [PROGRAM, "inspect", "-q", folder / "small.ini"]
    screen = Screen(PROGRAM, folder)
    screen.enter()
    assert post(screen, "/api/ticks", job="small.ini")[1]["count"] == 0, "no report yet"
    subprocess.run(run, check=False)
    before = bytes_of(folder)
    _, told = post(screen, "/api/ticks", job="small.ini")
    assert told["count"] >= 1 and told["done"] == 0 and not (folder / "small-ticks.json").exists()
    row = told["rows"][0]
    status, told = tick(screen, row)
    assert status == 200 and told["done"] == 1 and told["rows"][0]["done"] > 1_700_000_000
    assert post(screen, "/api/ticks", job="small.ini")[1] == told
    assert json.loads((folder / "small-ticks.json").read_text())["ticks"][0]["hole"] == row["hole"]
    assert tick(screen, row, False)[1]["done"] == 0
    for wrong in ({**row, "hole": "nowhere"}, {**row, "todo": "nothing at all"}, {**row, "extra": True}):
        status, answer = tick(screen, wrong)
        assert status == 422 and "no longer on the work list" in answer["problem"], answer
    # two people at once: none is lost
    rows = told["rows"]
    threads = [threading.Thread(target=tick, args=(screen, r)) for r in rows for _ in range(3)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert post(screen, "/api/ticks", job="small.ini")[1]["done"] == len(rows)
    assert bytes_of(folder) == before, "a tick changes no report"
    assert screen.json("/api/plate", job="small.ini")["facts"]["verdict"] == "does not conform"
    # a new result begins without
    measured.write_text(measured.read_text().replace("33.017", "33.018"))
    subprocess.run(run, check=False)
    _, told = post(screen, "/api/ticks", job="small.ini")
    assert told["done"] == 0 and told["before"] == len(rows)
    # a file of that name that is none of ours stays
    (folder / "small-ticks.json").write_text("my own notes")
    for status, _ in (tick(screen, row), post(screen, "/api/ticks", job="small.ini")):
        assert status == 422
    assert (folder / "small-ticks.json").read_text() == "my own notes"
    (folder / "small-ticks.json").unlink()
    outside = folder.parent / "outside.json"
    outside.write_text(json.dumps({"format": "plateproof-ticks", "ticks": []}))
    (folder / "small-ticks.json").symlink_to(outside)
    tick(screen, row)
    assert json.loads(outside.read_text()) == {"format": "plateproof-ticks", "ticks": []}, "nothing outside is written"
    assert post(screen, "/api/tick", job="../small.ini")[0] == 400
    assert screen.ask("POST", "/api/tick", "{", headers={"Content-Type": "text/plain"})[0] == 415
    status, _, wrong = screen.end()
    assert status == 0 and wrong == "", wrong
    shutil.rmtree(folder.parent)
    print("ticks: ok")


main()
