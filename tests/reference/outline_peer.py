#!/usr/bin/env python3
"""One hold-down job told by different outlines, from outside.

    outline_peer.py PROGRAM

turned     a segment cut at the top, and the same plate, survey and holes turned by a quarter: the same gaps and forces
polygon    that segment as a polygon of 181 corners: its forces agree within a fiftieth
rectangle  a rectangle as a polygon: the same surface, and forces that differ by what the contact points differ by
ring       an annulus of which all holes are seated on a flat table when its survey is flat
refused    corners in a wrong order, a hole over the opening, a cut that leaves nothing: status 2 and a remedy
"""
import csv
import math
import random
import subprocess
import sys
import tempfile
from pathlib import Path

RADIUS, CUT = 900.0, 500.0


def height(x, y):
    return -2.4 * (x * x + 1.2 * y * y) / 8.1e5 + 0.5 * x * y / 8.1e5 + 3e-10 * x ** 3


class Plate:
    def __init__(self, plate, inside, flat=False):
        r = random.Random(3)
        self.plate, self.files = plate, {}
        self.survey = [(x, y, 0.0 if flat else height(x, y)) for x in range(-880, 881, 80) for y in range(-880, 881, 80)
                       if inside(x, y, 0)]
        self.holes = []
        while len(self.holes) < 14:
            x, y = r.uniform(-850, 850), r.uniform(-850, 850)
            if inside(x, y, 60):
                self.holes.append((x, y))

    def run(self, program, folder, turned=False, status=(0, 1)):
        at = (lambda x, y: (y, -x)) if turned else (lambda x, y: (x, y))
        rows = ["x,y,z"] + ["%.6f,%.6f,%.6f" % (*at(x, y), z) for x, y, z in self.survey]
        (folder / "survey.csv").write_text("\n".join(rows) + "\n")
        rows = ["hole,x,y"] + ["H%d,%.6f,%.6f" % (i, *at(x, y)) for i, (x, y) in enumerate(self.holes)]
        (folder / "nominal.csv").write_text("\n".join(rows) + "\n")
        for name, text in self.files.items():
            (folder / name).write_text(text)
        (folder / "job.ini").write_text(
            f"[plate]\n{self.plate}thickness = 24\n[survey]\nfile = survey.csv\nuncertainty = 0.002\n[support]\nkind = table\n"
            "[foot]\nforce = 5 kN\nouter_diameter = 120\ninner_diameter = 80\n[holddown]\ngap_limit = 0.2\n"
            "force_cap = 900 kN\n[holes]\nnominal = nominal.csv\npitch = 60\n")
        done = subprocess.run([program, "holddown", "job.ini", "-q", "-o", "report"], cwd=folder, capture_output=True, text=True)
        assert done.returncode in status, (done.returncode, done.stderr)
        if done.returncode == 2:
            return done.stderr
        with open(folder / "report" / "holddown.csv", newline="", encoding="utf-8") as file:
            return [(float(row["gap_under_foot"]), float(row["force_to_close"] or "nan")) for row in csv.DictReader(file)]


def compare(name, a, b, gap, share):
    worst = max(abs(p[0] - q[0]) for p, q in zip(a, b))
    force = max(abs(p[1] - q[1]) / max(p[1], q[1], 500.0) for p, q in zip(a, b))
    print(f"{name}: gaps differ by up to {worst:.5f} mm, forces by up to {100 * force:.2f} %")
    return worst <= gap and force <= share


def corners_of_segment():
    half = math.acos((RADIUS - CUT) / RADIUS)
    from_angle, sweep = math.pi / 2 + half, 2 * math.pi - 2 * half
    return [(RADIUS * math.cos(from_angle + sweep * k / 180), RADIUS * math.sin(from_angle + sweep * k / 180)) for k in range(181)]


def listed(corners):
    return "x,y\n" + "".join(f"{x:.9f},{y:.9f}\n" for x, y in corners)


def main():
    program, good = str(Path(sys.argv[1]).resolve()), True

    def cut(x, y, m):
        return math.hypot(x, y) <= RADIUS - m and y <= RADIUS - CUT - m

    def box(x, y, m):
        return abs(x) <= 800 - m and abs(y) <= 500 - m

    def ring(x, y, m):
        return 300 + m <= math.hypot(x, y) <= RADIUS - m

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        top = f"outline = segment\ndiameter = {2 * RADIUS}\ncut_height = {CUT}\n"
        plate = Plate(top, cut)
        base = plate.run(program, folder)
        assert sum(1 for gap, force in base if force > 1000) >= 4, base
        plate.plate = top + "cut_angle = 0 deg\n"
        good &= compare("turned", base, plate.run(program, folder, turned=True), 1e-4, 1e-3)
        plate.plate = "outline = polygon\noutline_file = corners.csv\n"
        plate.files["corners.csv"] = listed(corners_of_segment())
        good &= compare("polygon", base, plate.run(program, folder), 0.01, 0.02)
        plain = Plate("outline = rectangle\nwidth = 1600\nheight = 1000\n", box)
        as_rectangle = plain.run(program, folder)
        plain.plate = "outline = polygon\noutline_file = corners.csv\ncentre = 0, 0\n"
        plain.files["corners.csv"] = listed([(-800, -500), (-800, 500), (800, 500), (800, -500), (-800, -500)])
        good &= compare("rectangle", as_rectangle, plain.run(program, folder), 0.01, 0.05)
        annulus = Plate(f"outline = annulus\ndiameter = {2 * RADIUS}\ninner_diameter = 600\n", ring, flat=True)
        seated = annulus.run(program, folder)
        good &= all(gap < 0.02 for gap, _ in seated)
        annulus.holes[3] = (0, 100)
        for other, words in ((annulus, "beyond the plate"),
                             (Plate(top.replace("500.0", "1800"), cut), "leaves nothing"),
                             (plain, "crosses")):
            plain.files["corners.csv"] = listed([(-800, -500), (800, 500), (800, -500), (-800, 500)])
            said = other.run(program, folder, status=(2,))
            good &= words in said and ";" in said
            print(said.strip())
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
