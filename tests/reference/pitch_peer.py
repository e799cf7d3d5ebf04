#!/usr/bin/env python3
"""Pitch over n steps, worked out again with scipy's k-d tree from the files alone.

    pitch_peer.py PROGRAM DEMO_FOLDER

Rows of holes are found another way than the program does: every two nominal holes n pitches apart
(to a tenth of a pitch) whose n - 1 places between, evenly spaced, need not be drilled, but whose
first step is. Compared: how many pairs, the largest and the mean error, and whose it is.
"""
import csv
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import numpy as np
    from scipy.spatial import cKDTree
except ImportError:
    print("needs python3-numpy and python3-scipy")
    sys.exit(77)

PITCH, EXPANSION, WARM = 31.75, 11.5e-6, 0.4  # of the demo: 1.25 in, measured at 20.4 C


def nominal_holes(path):
    rows = [r for r in csv.DictReader(path.open()) if r["kind"] in ("", "tube")]
    return [r["hole"] for r in rows], np.array([[float(r["x"]), float(r["y"])] for r in rows])


def centres(path):
    """{(face, hole): mean centre of the latest round}, brought to 20 C."""
    taken = {}
    for r in csv.DictReader(path.open()):
        if not r["x_mm"]:
            continue
        key, turn = (r["face"], r["hole"]), int(r["round"] or 1)
        if key not in taken or turn > taken[key][0]:
            taken[key] = (turn, [])
        if turn == taken[key][0]:
            taken[key][1].append((float(r["x_mm"]), float(r["y_mm"])))
    return {k: np.mean(v[1], axis=0) * (1 - EXPANSION * WARM) for k, v in taken.items()}


def plugged(path):
    return {r["hole"] for r in csv.DictReader(path.open()) if r["disposition"].startswith("plug")}


def errors(names, place, measured, out, steps):
    tree, found = cKDTree(place), []
    for a in range(len(names)):
        for b in tree.query_ball_point(place[a], 1.25 * PITCH):
            if b == a:
                continue
            off, c = tree.query(place[a] + steps * (place[b] - place[a]))
            if off > 0.1 * PITCH or c <= a or names[a] in out or names[c] in out:
                continue
            for face in ("entry", "exit"):
                p, q = measured.get((face, names[a])), measured.get((face, names[c]))
                if p is not None and q is not None:
                    wanted = np.hypot(*(place[c] - place[a]))
                    found.append((abs(np.hypot(*(q - p)) - wanted), names[a], names[c], face))
    return found


def main():
    program, demo = sys.argv[1], Path(sys.argv[2])
    names, place = nominal_holes(demo / "nominal.csv")
    measured, out = centres(demo / "measured.csv"), plugged(demo / "measured.csv")
    wrong = 0
    for steps in (1, 10):
        ours = errors(names, place, measured, out, steps)
        with tempfile.TemporaryDirectory() as folder:
            for file in demo.iterdir():
                shutil.copy(file, folder)
            job = Path(folder) / "plate.ini"
            keys = f"[holes]\npitch_steps = {steps}\npitch_error_limit = 0.3\n"
            job.write_text(job.read_text().replace("[holes]\n", keys, 1))
            run = subprocess.run([program, "holes", job, "--json"], capture_output=True, text=True)
            said = subprocess.run([program, "holes", job], capture_output=True, text=True).stdout
        theirs = json.loads(run.stdout)["holes"]["pitch_error"]
        value, a, b, face = max(ours)
        called = [line.strip() for line in said.splitlines() if line.strip().startswith("pitch error")]
        checks = [("called", ["pitch error of neighbours" if steps == 1 else f"pitch error over {steps} pitches"], called),
                  ("pairs", len(ours), theirs["pairs"]),
                  ("largest", round(value, 8), round(theirs["largest"], 8)),
                  ("whose", [a, b, face], theirs["largest_pair"] + [theirs["largest_face"]]),
                  ("mean", round(float(np.mean([e[0] for e in ours])), 8), round(theirs["mean"], 8)),
                  ("out", sum(e[0] > 0.3 + 1e-6 for e in ours), theirs["out"])]
        for what, peer, got in checks:
            print(f"{steps} steps, {what}: peer {peer}, program {got}{'' if peer == got else '   WRONG'}")
            wrong += peer != got
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
