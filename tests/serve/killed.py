#!/usr/bin/env python3
"""The server killed (SIGKILL) at random moments, while it runs plates and while it saves: nothing is lost, no child stays.

    killed.py PROGRAM SOURCE [TIMES]
"""
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from screen import Events, Screen

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]
TIMES = int(sys.argv[3]) if len(sys.argv) > 3 else 4
DICE = random.Random(20261127)


def kill(screen):
    """The server's children, once it was killed with no time to say anything."""
    children = subprocess.run(["pgrep", "-P", str(screen.process.pid)], capture_output=True, text=True).stdout.split()
    screen.process.send_signal(signal.SIGKILL)
    screen.process.communicate()
    return children


def gone(children, seconds=60):
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        if not any(os.path.exists(f"/proc/{child}") for child in children):
            return True
        time.sleep(0.05)
    return False


def bytes_of(folder):
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())} if folder.exists() else None


def check_running(folder):
    """The report is the old one or the new one, whole; a run that lost its server ends by itself."""
    job, report = folder / "plate.ini", folder / "plate-report"
    text = job.read_text()
    states = []
    for number in range(2):
        job.write_text(text.replace("[job]\n", f"[job]\nreport_number = R{number}\n"))
        subprocess.run([PROGRAM, "inspect", "-q", job], check=False)
        states.append(bytes_of(report))
    assert states[0] and states[0] != states[1]
    seen = set()
    for turn in range(TIMES):
        number = turn % 2
        job.write_text(text.replace("[job]\n", f"[job]\nreport_number = R{number}\n"))
        screen = Screen(PROGRAM, folder)
        screen.enter()
        events = Events(screen)
        assert screen.ask("POST", "/api/run", json.dumps({"job": "plate.ini"}))[0] == 202
        events.until(lambda s: any(r["stages"] or r["state"] == "done" for r in s["runs"]))
        time.sleep(DICE.random() * 0.5)
        children = kill(screen)
        assert gone(children), "a run stays for ever when its server is gone"
        now = bytes_of(report)
        assert now in states, sorted(now)
        seen.add(now == states[number])
    subprocess.run([PROGRAM, "inspect", "-q", job], check=False)  # the next run clears away what a killed one left
    assert [p.name for p in folder.iterdir() if "report" in p.name] == ["plate-report"], list(folder.iterdir())
    assert bytes_of(report) in states
    return seen


def check_saving(folder):
    """Four people save without a pause; whatever was answered with 200 is there, and the file is always a whole one."""
    whole = lambda who, n: f"; {who} {n}\n[plate]\noutline = disc\ndiameter = {1000 + n}\n" + f"; {who} {n} filler\n" * 4000
    for turn in range(TIMES):
        screen = Screen(PROGRAM, folder)
        screen.enter()
        saved, stop = {}, threading.Event()

        def save(who, screen=screen, saved=saved, stop=stop):
            version = None if not (folder / f"{who}.ini").exists() else "old"
            if version:
                version = json.loads(screen.ask("POST", "/api/job", json.dumps({"job": f"{who}.ini"}))[2])["version"]
            for n in range(10000):
                if stop.is_set():
                    return
                try:
                    status, _, data = screen.ask("POST", "/api/save", json.dumps({"job": f"{who}.ini", "text": whole(who, n), "version": version}))
                except Exception:
                    saved.setdefault(who, -1)
                    return
                assert status == 200, (status, data)
                version, saved[who] = json.loads(data)["version"], n
        crowd = [threading.Thread(target=save, args=(who,)) for who in ("ann", "bob", "cleo", "dan")]
        [t.start() for t in crowd]
        time.sleep(0.3 + DICE.random())
        kill(screen)
        stop.set()
        [t.join() for t in crowd]
        assert len(saved) == 4
        for who, n in saved.items():
            text = (folder / f"{who}.ini").read_text()
            assert text.count("filler") == 4000, (who, n, text[:60])
            # what was answered is on the disk; the next one may be, its answer cut off
            assert n < 0 or text in (whole(who, n), whole(who, n + 1)), (who, n, text[:60])
        screen = Screen(PROGRAM, folder)  # a temporary file that a killed one left is in nobody's way
        screen.enter()
        assert {"ann.ini", "bob.ini", "cleo.ini", "dan.ini"} <= {row["job"] for row in screen.json("/api/plates")["rows"]}
        assert screen.end()[0] == 0
    return sum(p.name.startswith(".plateproof-") for p in folder.iterdir())


def main():
    folder = Path(tempfile.mkdtemp(prefix="plateproof-killed-"))
    for file in (Path(SOURCE) / "data/demo").iterdir():
        shutil.copy(file, folder)
    text = "".join(line for line in (folder / "plate.ini").read_text().splitlines(keepends=True) if not line.startswith("report_number"))
    cut = text.index("[support]"), text.index("[holes]")
    (folder / "plate.ini").write_text(text[:cut[0]] + text[cut[1]:])  # without its hold-down: seconds, not a minute
    seen = check_running(folder)
    left = check_saving(folder)
    shutil.rmtree(folder)
    print(f"killed: ok, {TIMES} times while running ({'old and new report' if len(seen) == 2 else 'one of the reports'} found), {TIMES} times while saving ({left} temporary files left)")


main()
