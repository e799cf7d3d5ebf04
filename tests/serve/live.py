#!/usr/bin/env python3
"""Following the instrument: a file that is written is looked at again, and the report that stands is left alone.

    live.py PROGRAM SOURCE            what CI tries
    live.py PROGRAM SOURCE --time     how long it takes from the file written to what the page shows, at 4,000 holes
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from screen import Events, Screen

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]


def follow(screen, job, yes=True):
    status, _, data = screen.ask("POST", "/api/follow", json.dumps({"job": job, "follow": yes}))
    return status, json.loads(data) if data else None


def ended(job, after=0):
    return lambda state: any(r["job"] == job and r["kind"] == "live" and r["number"] > after and r["state"] in ("done", "failed")
                             for r in state["runs"])


def newest(state, job):
    return next(r for r in state["runs"] if r["job"] == job and r["kind"] == "live")


def measured_of(screen, job):
    status, _, data = screen.ask("GET", "/file", job=job, kind="live", name="results.json")
    assert status == 200, data
    return json.loads(data)["holes"]["measured"]


def check(folder):
    head, *rows = (folder / "measured.csv").read_text().splitlines()
    job, lists = "small.ini", folder / "measured.csv"
    subprocess.run([PROGRAM, "inspect", "-q", folder / job], check=False)
    standing = {p.name: p.read_bytes() for p in (folder / "small-report").iterdir()}
    lists.write_text("\n".join([head, rows[0]]) + "\n")
    screen = Screen(PROGRAM, folder)
    screen.enter()
    events = Events(screen)
    assert follow(screen, job) == (200, {"followed": [job]})
    state = events.until(ended(job))
    assert newest(state, job)["state"] == "done" and state["followed"] == [job], newest(state, job)
    assert measured_of(screen, job) == 1
    # as an instrument writes: closed; renamed over; piece by piece, and never closed
    number = newest(state, job)["number"]
    lists.write_text("\n".join([head, *rows[:2]]) + "\n")
    state = events.until(ended(job, number))
    assert measured_of(screen, job) == 2
    number = newest(state, job)["number"]
    (folder / "next.tmp").write_text("\n".join([head, *rows]) + "\n")
    os.replace(folder / "next.tmp", lists)
    state = events.until(ended(job, number))
    assert measured_of(screen, job) == 3
    number = newest(state, job)["number"]
    with open(lists, "w") as open_still:
        open_still.write("\n".join([head, *rows[:2]]) + "\n")
        open_still.flush()
        state = events.until(ended(job, number))
        assert measured_of(screen, job) == 2
    number = newest(state, job)["number"]
    # a file that can't be read is said, and what was found before stays
    lists.write_text(head + "\nA1,0.0,zero,25.7\n")
    state = events.until(lambda s: ended(job, number)(s) and newest(s, job)["state"] == "failed")
    assert "zero" in newest(state, job)["said"] and measured_of(screen, job) == 2
    number = newest(state, job)["number"]
    lists.write_text("\n".join([head, *rows]) + "\n")
    state = events.until(lambda s: ended(job, number)(s) and newest(s, job)["state"] == "done")
    assert standing == {p.name: p.read_bytes() for p in (folder / "small-report").iterdir()}, "the report is left alone"
    assert [row["job"] for row in screen.json("/api/plates")["rows"] if "live" in row["job"]] == []
    # no more
    assert follow(screen, job, False) == (200, {"followed": []})
    number = newest(state, job)["number"]
    lists.write_text("\n".join([head, *rows[:1]]) + "\n")
    time.sleep(0.6)
    assert measured_of(screen, job) == 3
    assert follow(screen, "survey.ini")[0] == 422 and follow(screen, "../small.ini")[0] == 400
    (folder / "out.ini").write_text((folder / job).read_text().replace("= measured.csv", "= /etc/passwd"))
    assert follow(screen, "out.ini")[0] == 422, "nothing outside the folder"
    status, _, wrong = screen.end()
    assert status == 0 and wrong == "", wrong


def processor(screen):
    """Seconds of processor so far: of the server, of the runs that it has started and that have ended."""
    fields = Path(f"/proc/{screen.process.pid}/stat").read_text().rpartition(")")[2].split()
    ticks = os.sysconf("SC_CLK_TCK")
    return (int(fields[11]) + int(fields[12])) / ticks, (int(fields[13]) + int(fields[14])) / ticks


def take_time(folder):
    shutil.copytree(Path(SOURCE) / "data/demo", folder / "demo")
    job, lists, times = "demo/clean.ini", folder / "demo/clean-measured.csv", []
    screen = Screen(PROGRAM, folder)
    screen.enter()
    events = Events(screen)
    follow(screen, job)
    state = events.until(ended(job))
    text, before = lists.read_text(), processor(screen)
    for i in range(7):
        number = newest(state, job)["number"]
        lists.write_text(text + f"# {i}\n")
        begun = time.monotonic()
        state = events.until(ended(job, number))
        measured = measured_of(screen, job)
        times.append(time.monotonic() - begun)
    own, runs = (after - was for after, was in zip(processor(screen), before))
    screen.end()
    print(f"{measured} holes: from the file written to what the page shows {sorted(times)[3]:.2f} s (median of 7; most {max(times):.2f} s); "
          f"processor, each time: {runs / 7:.2f} s the run, {own / 7:.3f} s the server; load {os.getloadavg()[0]:.0f} on {os.cpu_count()} processors")


def main():
    place = Path(tempfile.mkdtemp(prefix="plateproof-live-"))
    folder = place / "shop"
    shutil.copytree(Path(SOURCE) / "tests/cli/files", folder)
    take_time(folder) if sys.argv[3:] else check(folder)
    shutil.rmtree(place)
    print("live: ok")


main()
