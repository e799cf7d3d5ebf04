#!/usr/bin/env python3
"""An invented tube plate with one fault of each kind, and the three jobs that makers could write about it.

    invented_plate.py FOLDER      writes the lists and the jobs into FOLDER (made if need be)

honest.ini    everything, the limits of the rule set, the guarded decision
widened.ini   the same readings without the gauge's column, with limits of the maker's own
partial.ini   the same again, for a maker who only wants the flatness looked at (`plateproof flatness partial.ini`)

Nothing of it is of any real plate, maker or customer. FAULTS says what is wrong where, and what a work list must say of it.
"""
import math
import sys
from pathlib import Path

PITCH, TUBE, RADIUS = 31.75, 25.4, 262.0

# hole (row, column of the pattern): (dx, dy, diameter entry, diameter exit, go gauge, disposition, reference, what is to be done)
FAULTS = {
    (3, 4): (0.02, -0.01, 25.571, 25.580, "", "", "", "ream"),
    (3, 5): (-0.85, 0.02, 25.658, 25.660, "", "", "", "decide"),          # out of place: leaves R03C04 little to ream
    (3, 9): (-0.01, 0.02, 25.560, 25.668, "", "", "", "ream"),            # undersize on one face only
    (14, 5): (0.01, 0.00, 25.585, 25.582, "", "", "", "ream"),
    (8, 14): (0.00, 0.01, 25.590, 25.574, "", "", "", "ream"),
    (6, 6): (0.00, 0.00, 25.990, 26.010, "", "", "", "decide"),           # oversize: no reamer helps
    (9, 3): (0.31, 0.12, 25.660, 25.662, "", "", "", "decide"),           # out of place
    (12, 11): (2.60, 0.30, 25.700, 25.702, "", "", "", "decide"),         # out of place, metal gone
    (5, 12): (0.24, -0.16, 25.575, 25.578, "", "", "", "decide"),         # out of place, and undersize
    (11, 7): (0.01, 0.01, 25.665, 25.663, "no", "", "", "second opinion"),  # the go gauge says no
    (7, 9): (0.155, 0.125, 25.664, 25.661, "", "", "", "re-measure"),     # so near its limit that it is not proven
    (13, 8): (0.01, 0.02, 25.952, 25.954, "", "", "", "re-measure"),
    (10, 13): (0.00, 0.01, 25.992, 25.990, "", "accepted under concession", "NC-12", "nothing"),
}


def pattern():
    """{(row, column): (x, y)} of a triangular pattern in a circle, rows from the lowest."""
    step, holes = PITCH * math.sqrt(3) / 2, {}
    rows = int(RADIUS / step)
    for r in range(-rows, rows + 1):
        left = [k * PITCH + (r % 2) * PITCH / 2 for k in range(-20, 21)]
        inside = [x for x in left if math.hypot(x, r * step) <= RADIUS]
        for c, x in enumerate(inside):
            holes[r + rows + 1, c + 1] = x, r * step
    return holes


def small(i, k):
    """A small error of the drill, the same each time."""
    return ((i * 37 + k * 101) % 17 - 8) * 0.004


def name(place):
    return f"R{place[0]:02d}C{place[1]:02d}"


def measured(holes, gauge=True):
    rows = ["hole,x,y,diameter,face,go,disposition,reference" if gauge else "hole,x,y,diameter,face,disposition,reference"]
    for i, (place, (x, y)) in enumerate(holes.items()):
        dx, dy, entry, exit_, go, fate, reference, _ = FAULTS.get(place, (small(i, 1), small(i, 2), None, None, "", "", "", ""))
        for face, size in (("entry", entry), ("exit", exit_)):
            size = size or 25.655 + 0.002 * ((i * 7) % 9)
            lean = 0 if face == "entry" else 0.006
            said = f"{go if face == 'entry' else ''}," if gauge else ""
            rows.append(f"{name(place)},{x + dx + lean:.4f},{y + dy:.4f},{size:.4f},{face},{said}{fate},{reference}")
    return "\n".join(rows) + "\n"


def survey():
    rows = ["x,y,z"]
    for i in range(-6, 7):
        for j in range(-6, 7):
            x, y = 50.0 * i, 50.0 * j
            if math.hypot(x, y) <= 320:
                rows.append(f"{x},{y},{0.08 * (x / 320) ** 2 - 0.05 * (y / 320) + 0.004 * ((i * 5 + j * 3) % 5 - 2):.4f}")
    return "\n".join(rows) + "\n"


PLATE = """[job]
title = Tube plate of the cooler R7
plate_id = TP-R7
serial = 17
drawing = R7-200
report_number = R7-1
customer = Works West
inspector = Q. A.
inspection_date = 2026-11-20
date = 2026-11-21
[plate]
outline = disc
diameter = 660
thickness = 30
[survey]
file = survey.csv
uncertainty = 0.01
flatness_limit = 0.5
[holes]
nominal = nominal.csv
measured = measured.csv
tube_diameter = 1 in
pitch = 31.75
temperature = 20 C
uncertainty_temperature = 0.5 C
uncertainty_position = 0.02
uncertainty_diameter = 0.008
"""
HONEST = PLATE + "position_limit = 0.4\n[rules]\nset = tema-style\ndecision = guarded\n"
WIDENED = (PLATE.replace("uncertainty_position = 0.02\nuncertainty_diameter = 0.008\n", "")
           .replace("measured.csv", "readings.csv")
           + "position_limit = 6\n[rules]\nset = tema-style\nhole_under = 0.3\nhole_over_limit = 0.6\nligament_standard = 2\nligament_minimum = 1\n")
PARTIAL = HONEST


def write(folder):
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    holes = pattern()
    missing = [p for p in FAULTS if p not in holes]
    if missing:
        raise SystemExit(f"no such holes: {missing}")
    texts = {"nominal.csv": "hole,x,y\n" + "".join(f"{name(p)},{x:.4f},{y:.4f}\n" for p, (x, y) in holes.items()),
             "measured.csv": measured(holes), "readings.csv": measured(holes, gauge=False), "survey.csv": survey(),
             "honest.ini": HONEST, "widened.ini": WIDENED, "partial.ini": PARTIAL}
    for file, text in texts.items():
        (folder / file).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    write(sys.argv[1])
