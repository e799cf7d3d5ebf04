#!/usr/bin/python3
"""Hole acceptance against a pandas + scipy program on the same lists, in one run.

bench_holes.py BUILD [HOLES,HOLES,...] [ROUNDS]      (BUILD: the folder that holds the program)

For each size writes a triangular pattern of HOLES holes (a million) as nominal list, and as measured list with the
rows shuffled, in a folder of its own; then lets both take turns, ROUNDS times (3):

  peer     reads both lists (pandas), merges them by name, fits, and computes positions, diameter
           classes and the ligaments of all neighbours (cKDTree); writes holes.csv and ligaments.csv
  ours     plateproof holes JOB -o FOLDER: all of that and the rest of the report
  compute  plateproof holes JOB --json: the same without the report's files

and prints the medians of wall time, the peak memory and the ratios.
"""
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

import growth
from bench_jobs import PITCH, acceptance

try:
    import numpy as np
    import pandas as pd
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"skipped: {missing.name} is not installed for {sys.executable}")
    sys.exit(77)



def write_lists(folder, count):
    rng = np.random.default_rng(20261120)
    side = int(np.ceil(np.sqrt(count)))
    row, column = np.arange(count) // side, np.arange(count) % side
    x = column * PITCH + (row % 2) * PITCH / 2
    y = row * PITCH * np.sqrt(3) / 2
    x, y = x - x.mean(), y - y.mean()
    names = np.array([f"R{r + 1:04d}C{c + 1:04d}" for r, c in zip(row, column)])
    pd.DataFrame({"hole": names, "x": x, "y": y}).to_csv(
        f"{folder}/nominal.csv", index=False, float_format="%.6f")
    angle = 0.001
    mx, my = x + rng.normal(0, 0.03, count), y + rng.normal(0, 0.03, count)
    c, s = np.cos(angle), np.sin(angle)
    order = rng.permutation(count)
    pd.DataFrame({"hole": names, "x": c * mx - s * my + 1.5, "y": s * mx + c * my - 2.5,
                  "diameter": 25.69 + rng.normal(0, 0.01, count)}).iloc[order].to_csv(
        f"{folder}/measured.csv", index=False, float_format="%.6f")
    extent = 2.2 * max(np.abs(x).max(), np.abs(y).max()) + 100
    with open(f"{folder}/job.ini", "w") as job:
        job.write(acceptance(extent))


def peer(folder):
    nominal = pd.read_csv(f"{folder}/nominal.csv")
    measured = pd.read_csv(f"{folder}/measured.csv")
    t = nominal.merge(measured, on="hole", suffixes=("_n", ""))
    a, b = t[["x", "y"]].to_numpy(), t[["x_n", "y_n"]].to_numpy()
    ca, cb = a.mean(0), b.mean(0)
    p, q = a - ca, b - cb
    angle = np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum())
    c, s = np.cos(angle), np.sin(angle)
    aligned = p @ np.array([[c, s], [-s, c]]) + cb
    d = aligned - b
    t["ax"], t["ay"] = aligned[:, 0], aligned[:, 1]
    t["position"] = 2 * np.hypot(d[:, 0], d[:, 1])
    t["class"] = np.select([t.diameter < 25.6032, t.diameter <= 25.7556, t.diameter <= 25.9588],
                           ["undersize", "in tolerance", "in remainder"], "oversize")
    pairs = cKDTree(b).query_pairs(1.25 * PITCH, output_type="ndarray")
    pairs.sort(axis=1)
    pairs = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    i, j = pairs[:, 0], pairs[:, 1]
    dia = t.diameter.to_numpy()
    ligament = np.hypot(*(aligned[i] - aligned[j]).T) - (dia[i] + dia[j]) / 2
    names = t.hole.to_numpy()
    t[["hole", "ax", "ay", "x_n", "y_n", "position", "diameter", "class"]].to_csv(
        f"{folder}/peer_holes.csv", index=False)
    pd.DataFrame({"hole_a": names[i], "hole_b": names[j], "ligament": ligament,
                  "class": np.where(ligament >= 5.4052, "standard",
                                    np.where(ligament >= 3.048, "in remainder", "thin"))}).to_csv(
        f"{folder}/peer_ligaments.csv", index=False)
    print(f"{t.position.max():.9f} {ligament.min():.9f} {len(pairs)}")


def run(command):
    start = time.time()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    output = process.stdout.read().decode()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1):
        sys.exit(f"{command} failed: {output[-500:]}")
    return time.time() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, output


def one_size(program, count, rounds):
    folder = tempfile.mkdtemp(prefix="plateproof-bench-")
    try:
        write_lists(folder, count)
        commands = {
            "peer": [sys.executable, __file__, "--peer", folder],
            "ours": [program, "holes", f"{folder}/job.ini", "-q", "-o", f"{folder}/report"],
            "compute": [program, "holes", f"{folder}/job.ini", "-q", "--json"],
        }
        taken = {name: [] for name in commands}
        for _ in range(rounds):
            for name, command in commands.items():
                taken[name].append(run(command))
        print(f"{count} holes, {rounds} rounds, medians")
        for name, values in taken.items():
            print(f"{name:8} wall {statistics.median(v[0] for v in values):6.2f} s   processor "
                  f"{statistics.median(v[1] for v in values):6.2f} s   peak "
                  f"{max(v[2] for v in values):5.0f} MB")
        for name in ("ours", "compute"):
            ratios = [p[0] / o[0] for p, o in zip(taken["peer"], taken[name])]
            print(f"peer / {name}: {statistics.median(ratios):.1f} (rounds {min(ratios):.1f} to {max(ratios):.1f})")
        medians = {name: statistics.median(v[1] for v in taken[name]) for name in ("ours", "compute")}
        print("peer says (largest position, smallest ligament, pairs):", taken["peer"][0][3].strip(), flush=True)
        return medians
    finally:
        shutil.rmtree(folder)


def main():
    if len(sys.argv) > 2 and sys.argv[1] == "--peer":
        peer(sys.argv[2])
        return
    sizes = sys.argv[2] if len(sys.argv) > 2 else "1000000"
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 3
    counts = [int(float(count)) for count in sizes.split(",")]
    medians = [one_size(os.path.join(sys.argv[1], "plateproof"), count, rounds) for count in counts]
    for name in ("ours", "compute"):
        growth.say(f"{name}, processor", counts, [m[name] for m in medians])


main()
