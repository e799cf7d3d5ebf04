#!/usr/bin/env python3
"""Nine invented plates of one machine that drills 0.12 mm/m too large: for pictures of a history and a corrected list.

    invented_series.py FOLDER

N1 to N8 are measured, N9 is the next one. From a fixed seed.
"""
import math
import random
import sys
from pathlib import Path

PITCH, TUBE = 31.75, 25.4


def holes():
    """(name, x, y) on a triangle, within a circle of 330 mm."""
    found = []
    for row in range(-12, 13):
        for column in range(-12, 13):
            x, y = PITCH * (column + row / 2), PITCH * row * math.sqrt(0.75)
            if math.hypot(x, y) < 330:
                found.append((f"R{row + 13:02d}C{column + 13:02d}", x, y))
    return found


def job(number, measured):
    date = f"2026-0{1 + number // 2}-{3 * number:02d}"
    return "\n".join([
        "[job]", f"title = Invented plate N{number}", f"plate_id = N{number}", f"inspection_date = {date}", f"date = {date}", "stage = after drilling",
        "[plate]", "outline = disc", "diameter = 800", "thickness = 40", "[machine]", "name = borer 2", "drilling_temperature = 20 C", f"drilled = {date}",
        "[holes]", "nominal = nominal.csv", *([f"measured = n{number}.csv"] if measured else []), "tube_diameter = 1 in", f"pitch = {PITCH}",
        "position_limit = 0.6", "align = best-fit", "uncertainty_position = 0.01", "uncertainty_diameter = 0.008", ""])


def main():
    folder, dice = Path(sys.argv[1]), random.Random(9)
    folder.mkdir(parents=True, exist_ok=True)
    drawn = holes()
    (folder / "nominal.csv").write_text("hole,x,y\n" + "".join(f"{n},{x:.4f},{y:.4f}\n" for n, x, y in drawn))
    for number in range(1, 10):
        if number < 9:
            large, off = 1.00012 + dice.gauss(0, 0.00001), dice.gauss(0, 0.004)
            rows = [f"{n},{x * large + dice.gauss(0, 0.012):.4f},{y * large + dice.gauss(0, 0.012):.4f},{25.71 + off + dice.gauss(0, 0.006):.4f}" for n, x, y in drawn]
            (folder / f"n{number}.csv").write_text("hole,x,y,diameter\n" + "\n".join(rows) + "\n")
        (folder / f"n{number}.ini").write_text(job(number, number < 9))


main()
