#!/usr/bin/env python3
"""Interrupt a run at random moments: the old report or the whole new one, never a mixture; no
temporary folder stays, but after kill -9, and then the next run removes it.

    signals.py PROGRAM [ROUNDS]
"""

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

FILES = Path(__file__).resolve().parent.parent / "cli" / "files"
SIGNALS = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL]


def contents(folder):
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def hidden(folder):
    return [p.name for p in folder.iterdir() if p.name.startswith(".")]


def main():
    program, rounds = os.path.abspath(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 120
    draw = random.Random(20260203)
    environment = {**os.environ, "SOURCE_DATE_EPOCH": "0"}
    failures = interrupted = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "work"
        shutil.copytree(FILES, folder)
        report = folder / "small-report"
        command = [program, "inspect", "-q", "small.ini"]
        subprocess.run(command, cwd=folder, env=environment, check=False)
        old = contents(report)
        text = (folder / "small.ini").read_text()
        (folder / "small.ini").write_text(text.replace("Small plate", "Small plate, again"))
        started = time.monotonic()
        subprocess.run(command, cwd=folder, env=environment, check=False)
        took = time.monotonic() - started
        new = contents(report)
        for i in range(rounds):
            shutil.rmtree(report)
            report.mkdir()
            for name, data in old.items():
                (report / name).write_bytes(data)
            sent = SIGNALS[i % len(SIGNALS)]
            run = subprocess.Popen(command, cwd=folder, env=environment, stderr=subprocess.PIPE)
            time.sleep(draw.uniform(0, 1.1 * took))
            run.send_signal(sent)
            _, said = run.communicate()
            interrupted += run.returncode == -sent
            found, left = contents(report), hidden(folder)
            if found not in (old, new) or (left and sent != signal.SIGKILL):
                failures += 1
                print(f"round {i}, {sent.name}: status {run.returncode}, left {left}, {said}")
            if left:
                subprocess.run(command, cwd=folder, env=environment, check=False)
                if hidden(folder):
                    failures += 1
                    print(f"round {i}: the next run left {hidden(folder)}")
    print(f"{rounds} signals sent, {interrupted} ended a run, {failures} wrong")
    return 1 if failures or not interrupted else 0


if __name__ == "__main__":
    sys.exit(main())
