#!/usr/bin/env python3
"""Seven plates as a shop has them, drawn again and again and given to the program: what is named?

    shop_plates.py PROGRAM [DRAWS [FIRST]]

Field and drilling order of data/reference/diagnosis2, scatter .03 mm, three holes misdrilled by .3 to 30 mm. For each plate the
names of its causes, in brackets what is not told apart, and where structure is left, with the number of draws.
"""
import collections
import csv
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
JOB = """[plate]
outline = disc
diameter = 760
[holes]
nominal = nominal.csv
measured = measured.csv
align = best-fit
position_limit = 0.1
[rules]
ligament_minimum = 4
"""


def field():
    with open(ROOT / "data/reference/diagnosis2/diag2_step.csv", encoding="utf-8") as lines:
        rows = sorted(csv.DictReader(line for line in lines if not line.startswith("#")), key=lambda r: int(r["drilled"]))
    return np.array([[float(r["nominal_x"]), float(r["nominal_y"])] for r in rows])


def errors(what, at, rng):
    """Errors in the order of drilling, and the set-up of each hole."""
    n, far = len(at), np.hypot(*at.T).max()
    k = np.arange(n)
    s, setup = k / (n - 1), None
    e = rng.normal(0, 0.03, (n, 2))
    for i in rng.choice(n, 3, replace=False):
        way = rng.uniform(0, 2 * np.pi)
        e[i] += 0.3 * 100 ** rng.uniform() * np.array([np.cos(way), np.sin(way)])
    if what == "step":
        e[k >= 148, 0] += 0.06
    elif what == "half plate":
        e[at[:, 0] > 0, 1] += 0.05
    elif what == "six clampings":
        e += rng.normal(0, 0.06, (6, 2))[k * 6 // n]
    elif what == "swing and scale":
        e += np.c_[0.05 * np.cos(2 * np.pi * 3.3 * s + 1), 0.04 * np.sin(2 * np.pi * 3.3 * s + 0.4)] + 0.03 * at / far
    elif what == "set-ups by label":
        setup = k * 8 // n % 4
        shift = np.array([(0, 0), (0.06, -0.02), (-0.05, 0.04), (0.02, 0.07)])[setup]
        turn = np.array([0, 0.04, -0.03, 0.02])[setup] / far
        e += shift + np.c_[-turn * at[:, 1], turn * at[:, 0]]
    elif what == "wander":  # .6 of the scatter, root mean square about its mean over the job
        e += np.cumsum(rng.normal(0, 0.6 * 0.03 * np.sqrt(6 / n), (n, 2)), axis=0)
    else:  # waves over the plate
        q = 2 * np.pi * 1.6 / (3 * far)
        e += 0.03 * np.sin(np.c_[q * (at[:, 0] + 2 * at[:, 1]) + 0.7, q * (2 * at[:, 0] - at[:, 1]) + 2])
    return e, setup


def write_plate(folder, at, e, setup, rng):
    d = 25.6 + rng.normal(0, 0.01, len(at))
    nominal = [f"H{i + 1},{x:.4f},{y:.4f}" for i, (x, y) in enumerate(at)]
    rows = [f"H{i + 1},{x + 0.6:.4f},{y - 0.25:.4f},{d[i]:.4f},{i + 1}" + ("" if setup is None else f",{'ABCD'[setup[i]]}")
            for i, (x, y) in enumerate(at + e)]
    head = "hole,x,y,diameter,order" + ("" if setup is None else ",setup")
    (folder / "nominal.csv").write_text("\n".join(["hole,x,y"] + nominal) + "\n", encoding="utf-8")
    (folder / "measured.csv").write_text("\n".join([head] + rows) + "\n", encoding="utf-8")
    (folder / "job.ini").write_text(JOB, encoding="utf-8")


def write(folder, what, at, rng):
    write_plate(folder, at, *errors(what, at, rng), rng)


def said(program, folder):
    done = subprocess.run([program, "holes", "job.ini", "--json"], cwd=folder, capture_output=True, text=True, check=False)
    d = json.loads(done.stdout)["holes"]["diagnosis"]
    found = [t for t in d["terms"] + d["patterns"] if t["state"] == "found"]
    names = sorted(t["name"] for t in found if t["is_cause"])
    names += [f"({t['name']} or {t['or']})" for t in found if t.get("or")]
    left = [k for k, v in d["structure"].items() if v["left"]]
    return " and ".join(names or ["nothing named"]) + (f"; structure left: {', '.join(left)}" if left else "")


def main():
    program, at = str(Path(sys.argv[1]).resolve()), field()
    draws, first = (int(sys.argv[k]) if len(sys.argv) > k else default for k, default in ((2, 12), (3, 1)))
    for what in ("step", "half plate", "six clampings", "swing and scale", "set-ups by label", "waves over the plate", "wander"):
        counts = collections.Counter()
        for seed in range(first, first + draws):
            with tempfile.TemporaryDirectory(prefix="plateproof-") as folder:
                write(Path(folder), what, at, np.random.default_rng(seed))
                counts[said(program, folder)] += 1
        print(f"{what}:", *(f"{n} {words}" for words, n in counts.most_common()), sep="\n    ", flush=True)


if __name__ == "__main__":
    main()
