"""The stress of flattening and its range, of plates whose curvature is known, surveyed again and again.

    flattening_stress.py PROGRAM [SURVEYS [FIRST]]      surveys of each plate with fresh noise, 30, from FIRST on, 0

Exit status 1 when fewer than nine of ten ranges of all cover the plate's own figure.
"""
import json
import math
import pathlib
import random
import subprocess
import sys
import tempfile

HALF, THICKNESS, MODULUS, POISSON = 600, 25, 206000, 0.3
MARGIN = 0.1 * 2 * HALF  # of the rim, left out by the study

JOB = f"""[plate]
outline = rectangle
width = {2 * HALF}
height = {2 * HALF}
thickness = {THICKNESS}
elastic_modulus = {MODULUS} MPa
poisson_ratio = {POISSON}
[survey]
file = survey.csv
[support]
kind = table
[foot]
force = 20 kN
[holddown]
gap_limit = 9
[holes]
nominal = holes.csv
tube_diameter = 25
pitch = 40
"""

# height, and second derivatives xx, yy, xy, per mm of amplitude; u = x / HALF, v = y / HALF
SHAPES = {
    "bowl": (lambda u, v: u * u + v * v, lambda u, v: (2, 2, 0)),
    "trough": (lambda u, v: u * u, lambda u, v: (2, 0, 0)),
    "twist": (lambda u, v: u * v, lambda u, v: (0, 0, 1)),
    "wave": (lambda u, v: math.cos(2.5 * u), lambda u, v: (-6.25 * math.cos(2.5 * u), 0, 0)),
    "ridge": (lambda u, v: math.exp(-8 * u * u), lambda u, v: ((256 * u * u - 16) * math.exp(-8 * u * u), 0, 0)),
}


def stress(k):
    mean, radius = (k[0] + k[1]) / 2, math.hypot((k[0] - k[1]) / 2, k[2])
    one, two = mean + radius, mean - radius
    bent = max(abs(one + POISSON * two), abs(two + POISSON * one)) / HALF ** 2
    return MODULUS * THICKNESS / (2 * (1 - POISSON ** 2)) * bent


def truth(shape, amplitude):
    most, inside = 41, 1 - MARGIN / HALF
    places = [inside * (2 * i / (most - 1) - 1) for i in range(most)]
    return amplitude * max(stress(SHAPES[shape][1](u, v)) for u in places for v in places)


def said(program, folder, shape, amplitude, across, noise, seed):
    rng = random.Random(seed)
    rows = ["x,y,z"]
    for i in range(across):
        for j in range(across):
            u, v = 2 * i / (across - 1) - 1, 2 * j / (across - 1) - 1
            z = amplitude * SHAPES[shape][0](u, v) + rng.gauss(0, noise)
            rows.append(f"{u * HALF:.3f},{v * HALF:.3f},{z:.5f}")
    (folder / "survey.csv").write_text("\n".join(rows) + "\n")
    made = subprocess.run([program, "holddown", "--json", "--threads", "1", "plate.ini"], cwd=folder,
                          capture_output=True, text=True)
    if made.returncode > 1:
        raise SystemExit(f"exit {made.returncode}: {made.stderr}")
    found = json.loads(made.stdout)["holddown"]
    return [found["flattening_stress" + end] for end in ("", "_low", "_high", "_as_fitted")]


def main():
    program, surveys = str(pathlib.Path(sys.argv[1]).resolve()), int(sys.argv[2]) if len(sys.argv) > 2 else 30
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    covered = below = tried = 0
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "holes.csv").write_text("hole,x,y\nA,-40,0\nB,0,0\nC,40,0\n")
        for stated, shape in [(stated, shape) for stated in (False, True) for shape in SHAPES]:
            for amplitude, across, noise in ((1.2, 13, 0.04), (0.6, 20, 0.02), (2, 17, 0.01)):
                want = truth(shape, amplitude)
                # a stated uncertainty is that of the reading, twice its standard deviation
                uncertainty = f"survey.csv\nuncertainty = {2 * noise} mm" if stated else "survey.csv"
                (folder / "plate.ini").write_text(JOB.replace("survey.csv", uncertainty))
                runs = [said(program, folder, shape, amplitude, across, noise, 100 * across + first + k) for k in range(surveys)]
                hits = sum(low <= want <= high for _, low, high, _ in runs)
                covered += hits
                below += sum(high < want for _, low, high, _ in runs)
                tried += surveys
                mid = sorted(r[0] for r in runs)[surveys // 2]
                fitted = sorted(r[3] for r in runs)[surveys // 2]
                low, high = (sorted(r[k] for r in runs)[surveys // 2] for k in (1, 2))
                print(f"{shape:6} of {amplitude} mm, {across * across} points, noise {noise} mm{' stated' if stated else ''}: {want:5.1f} MPa; said "
                      f"{mid:5.1f}, range {low:5.1f} to {high:5.1f} (medians), as fitted {fitted:6.1f}; {hits} of {surveys} "
                      f"ranges cover", flush=True)
    print(f"{covered} of {tried} ranges cover the plate's own, {below} lie below it, {tried - covered - below} above")
    sys.exit(0 if 10 * covered >= 9 * tried else 1)


main()
