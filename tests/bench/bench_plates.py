"""Hold-down of plates that are hard to lay: whole `plateproof holddown` with report, two threads.

    bench_plates.py BUILD_FOLDER [SHARE [ROUNDS]]

SHARE: of the holes; 1 for all. Discs with a wave and 0.02 mm of scatter on some two thousand survey points: a bowl whose
holes all hang, a sheet as thin as a baffle that touches its table nearly everywhere, and a large thin plate that is
twisted and rocks. The figures are seconds, processor seconds, and the peak of memory; the medians of the rounds.
"""
import math
import os
import random
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

JOB = """[job]
title = bench
date = 2026-11-20
[plate]
outline = disc
diameter = {diameter} mm
thickness = {thickness}
yield_strength = 250
[survey]
file = survey.csv
uncertainty = 0.04
laid = on-supports
[support]
kind = table
[foot]
force = 2000
outer_diameter = 127
inner_diameter = 76
[holddown]
gap_limit = 0.3
force_cap = 90000
clamp_force_limit = 20000
clamp_pad = 76
[holes]
nominal = nominal.csv
tube_diameter = 25.4
pitch = {pitch:.3f}
"""


def bowl(x, y):
    return x * x + y * y


def twist(x, y):
    return x * y


# name, diameter, thickness, pitch, height of the shape in mm, the shape over the unit disc, survey points
PLATES = (
    ("bowl", 3000, 30, 31.0, 8, bowl, 2700),
    ("sheet", 3000, 9.5, 51.2, 8, bowl, 2000),
    ("twisted", 6000, 20, 285.0, 12, twist, 2000),
    ("twisted", 6000, 20, 28.4, 12, twist, 2000),
)


def write(folder, diameter, thickness, pitch, height, shape, points):
    """The job and its two lists; the number of holes"""
    draw = random.Random(5)
    radius, row = diameter / 2, pitch * math.sqrt(3) / 2
    half = int(radius / row) + 1
    holes = [((i + j % 2 / 2) * pitch, j * row) for j in range(-half, half + 1) for i in range(-half, half + 1)]
    holes = [(x, y) for x, y in holes if math.hypot(x, y) < radius - 2 * pitch]
    with open(folder / "nominal.csv", "w") as out:
        out.write("hole,x,y,diameter\n")
        out.writelines(f"H{k},{x:.3f},{y:.3f},25.4\n" for k, (x, y) in enumerate(holes, 1))
    side = int(math.sqrt(points * 4 / math.pi))
    places = [(2 * (i + 0.5) / side - 1, 2 * (j + 0.5) / side - 1) for i in range(side) for j in range(side)]
    with open(folder / "survey.csv", "w") as out:
        out.write("x,y,z\n")
        for x, y in places:
            if math.hypot(x, y) <= 1:
                z = height * shape(x, y) + 0.8 * math.sin(6 * x) * math.cos(4.6 * y) + draw.gauss(0, 0.02)
                out.write(f"{radius * x:.3f},{radius * y:.3f},{z:.4f}\n")
    (folder / "job.ini").write_text(JOB.format(diameter=diameter, thickness=thickness, pitch=pitch))
    return len(holes)


def measure(program, folder):
    """Seconds, processor seconds, megabytes of one run"""
    before = os.times()
    child = subprocess.Popen([program, "holddown", "-q", "--threads", "2", folder / "job.ini", "-o", folder / "report"],
                             stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"bench: {program} holddown ended with {os.waitstatus_to_exitcode(status)}")
    return os.times().elapsed - before.elapsed, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main():
    program = Path(sys.argv[1]).resolve() / "plateproof"
    share = float(sys.argv[2]) if len(sys.argv) > 2 else 1
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    for name, diameter, thickness, pitch, *rest in PLATES:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            holes = write(folder, diameter, thickness, pitch / math.sqrt(share), *rest)
            found = [statistics.median(f) for f in zip(*(measure(program, folder) for _ in range(rounds)))]
        print(f"{name:8} {diameter} x {thickness} mm, {holes:6} holes: {found[0]:6.2f} s, processor {found[1]:6.2f} s, "
              f"{found[2]:4.0f} MB", flush=True)


if __name__ == "__main__":
    main()
