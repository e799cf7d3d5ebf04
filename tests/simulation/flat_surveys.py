#!/usr/bin/python3
"""Perfectly flat plates, surveyed with noise: between which ends does the program say that the flatness lies?

flat_surveys.py TOOL [SURVEYS [POINTS]]     TOOL: tests/reference/holes_tool.c; u = 0.01 mm, a disc of 2 m, square grid
"""
import json
import math
import random
import subprocess
import sys
import tempfile

U = 0.01


def survey(seed, points):
    noise, step = random.Random(seed), 1000 * math.sqrt(math.pi / points)
    far = int(1000 / step) + 1
    places = [(i * step, k * step) for i in range(-far, far + 1) for k in range(-far, far + 1)]
    return [(x, y, noise.gauss(0, U)) for x, y in places if math.hypot(x, y) <= 1000]


def main():
    surveys, points = (int(v) for v in (sys.argv[2:4] + ["20", "2000"][len(sys.argv[2:4]):]))
    tool = subprocess.Popen([sys.argv[1]], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    highs, verdicts = [], {}
    with tempfile.TemporaryDirectory(prefix="plateproof-flat-") as folder:
        with open(f"{folder}/job.ini", "w") as f:
            f.write("[plate]\noutline = disc\ndiameter = 2000\nthickness = 40\n[survey]\nfile = survey.csv\n"
                    f"uncertainty = {2 * U}\nflatness_limit = {6 * U}\n[rules]\ndecision = guarded\n")
        for seed in range(surveys):
            rows = survey(seed, points)
            with open(f"{folder}/survey.csv", "w") as f:
                f.write("x,y,z\n" + "".join(f"{x:.3f},{y:.3f},{z:.6f}\n" for x, y, z in rows))
            tool.stdin.write(f"1 {folder}/job.ini\n".encode())
            tool.stdin.flush()
            head = tool.stdout.readline().split()
            text = tool.stdout.read(sum(int(n) for n in head[1:])).decode()
            if head[0] != b"0":
                sys.exit(text)
            flatness = json.loads(text)["flatness"]
            highs.append(flatness["uncertainty"]["high"] / U)
            verdicts[flatness["verdict"]] = verdicts.get(flatness["verdict"], 0) + 1
            print(f"seed {seed}, {len(rows)} points: readings {flatness['minimum_zone']['flatness'] / U:.2f} u, plate "
                  f"{flatness['uncertainty']['low'] / U:.2f} to {highs[-1]:.2f} u, {flatness['verdict']}", flush=True)
    tool.stdin.close()
    tool.wait()
    print(f"{surveys} flat plates, limit 6 u: {verdicts}; high end {min(highs):.2f} to {max(highs):.2f} u")


main()
