#!/usr/bin/env python3
"""Make data/demo-bundle: an invented bundle of a front tube plate, six baffles and a rear tube plate.

    scripts/make_demo_bundle.py [FOLDER]

Baffles one and two were measured from the side that looks to the rear (their x turned about). Baffle 4
was set out badly, and one hole of baffle 5 was drilled out of place. Nothing here is of a real
exchanger. The same bytes every time.
"""
import math
import random
import sys
from pathlib import Path

PITCH, TUBE, FIELD = 31.75, 25.4, 430.0  # mm
STATIONS = [0, 420, 800, 1180, 1560, 1940, 2320, 2740]  # of the front faces
NAMES = ["front", "B1", "B2", "B3", "B4", "B5", "B6", "rear"]
TURNED = {"B1", "B2"}  # measured from behind
BADLY_PLACED = {"B4": (0.9, -0.7, math.radians(0.05))}
BAD_HOLE = ("B5", "R9C9", 0.55, -0.65)
WINDOW = 118.0  # beyond this height odd baffles are cut off above, even ones below

SET = """; An invented bundle. Nothing in it belongs to a real exchanger.
[job]
title = demo bundle, {tubes} tubes
order = D-0815
drawing = demo 12
inspection_date = 2026-11-20
date = 2026-11-20

[bundle]
units = mm
match = names
accept = straight
friction = 0.3
push_limit = 3 kN
uncertainty_position = 0.012
uncertainty_diameter = 0.008

[tube]
diameter = 25.4
diameter_over = 0.15
wall = 2.11
elastic_modulus = 195 GPa
yield_strength = 205 MPa
"""


def pattern():
    """{name: (x, y)}: triangular, rows of neighbours along x, one hole in the middle."""
    rows, step = {}, PITCH * math.sqrt(3) / 2
    half = int(FIELD / 2 / step)
    for r in range(-half, half + 1):
        shift = PITCH / 2 if r % 2 else 0.0
        line = [round((c * PITCH) + shift, 4) for c in range(-8, 9)
                if math.hypot(c * PITCH + shift, r * step) <= FIELD / 2 - TUBE / 2 - 6]
        rows[r] = line
    return {f"R{i + 1}C{k + 1}": (x, round(r * step, 4))
            for i, r in enumerate(sorted(rows)) for k, x in enumerate(sorted(rows[r]))}


def main():
    root = Path(__file__).resolve().parent.parent
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else root / "data/demo-bundle"
    folder.mkdir(parents=True, exist_ok=True)
    g = random.Random(20261120)
    tubes = pattern()
    text = [SET.format(tubes=len(tubes))]
    for number, (name, station) in enumerate(zip(NAMES, STATIONS)):
        end = name in ("front", "rear")
        thick = 40 if end else 12
        dx, dy, turn = BADLY_PLACED.get(name, (0, 0, 0) if end else (g.gauss(0, 0.12), g.gauss(0, 0.12), 0.0))
        sign = -1 if name in TURNED else 1
        nominal, measured = ["hole,x,y"], ["hole,x,y,diameter,face"]
        for tube, (x, y) in tubes.items():
            if not end and (y > WINDOW if number % 2 else y < -WINDOW):
                continue  # in the window
            nominal.append(f"{tube},{sign * x:.4f},{y:.4f}")
            mx, my = x + g.gauss(0, 0.022), y + g.gauss(0, 0.022)
            if BAD_HOLE[:2] == (name, tube):
                mx, my = mx + BAD_HOLE[2], my + BAD_HOLE[3]
            cx = math.cos(turn) * mx - math.sin(turn) * my + dx
            cy = math.sin(turn) * mx + math.cos(turn) * my + dy
            size = (25.68 if end else 25.82) + g.gauss(0, 0.012)
            for face in ("entry", "exit"):
                measured.append(f"{tube},{sign * cx + g.gauss(0, 0.004):.3f},{cy + g.gauss(0, 0.004):.3f},"
                                f"{size + g.gauss(0, 0.003):.3f},{face}")
        (folder / f"{name.lower()}_nominal.csv").write_text("\n".join(nominal) + "\n")
        (folder / f"{name.lower()}.csv").write_text("\n".join(measured) + "\n")
        lines = [f"[plate {name}]"]
        lines.append(f"role = {name} tube plate" if end else "role = baffle")
        lines += [f"station = {station}", "station_of = front", f"thickness = {thick}",
                  f"nominal = {name.lower()}_nominal.csv", f"measured = {name.lower()}.csv"]
        if name in TURNED:
            lines.append("view = turned-about-y         ; measured from behind")
        if not end:
            lines += ["play = 1.6                    ; until the tie rods are locked", "play_angle = 0.2 deg"]
        text.append("\n".join(lines) + "\n")
    (folder / "set.ini").write_text("\n".join(text))


if __name__ == "__main__":
    main()
