#!/usr/bin/env python3
"""Invented stacks of baffles: surveys as of plates standing on edge, with noise, and job files.

    make_stack.py demo FOLDER                       data/demo-stack: the same bytes every time
    make_stack.py random FOLDER SEED [options]      one stack of discs, for benchmarks and simulations
        --layers N  --diameter MM  --thickness MM  --holes N  --foot N  --bow MM  --turns N

Shapes are sums of a dome, a twist, a roll curl and a wave of random size: nobody's plates."""
import argparse
import math
import random
from pathlib import Path

NOISE = 0.01  # mm, standard deviation of one height


def shape(rng, bow, along=4, across=3):
    """Height of a plate free of load over its radius 1; its wave has `along` and `across` radians to it."""
    dome, twist, curl, wave = (rng.gauss(0, bow * s) for s in (0.6, 0.5, 0.7, 0.15))
    turn, phase = rng.uniform(0, math.pi), rng.uniform(0, 2 * math.pi)

    def height(x, y):
        u, v = x * math.cos(turn) + y * math.sin(turn), -x * math.sin(turn) + y * math.cos(turn)
        return (dome * (1 - x * x - y * y) + 2 * twist * u * v + curl * u * u
                + wave * math.sin(along * u + phase) * math.cos(across * v))
    return height


def write(path, head, rows):
    path.write_text(head + "\n" + "".join(",".join(str(v) for v in row) + "\n" for row in rows))


def survey(rng, path, height, radius, pitch):
    steps = int(radius // pitch)
    points = [(i * pitch, j * pitch) for j in range(-steps, steps + 1) for i in range(-steps, steps + 1)]
    points = [p for p in points if math.hypot(*p) <= radius]
    points += [(radius * math.cos(a), radius * math.sin(a)) for a in (2 * math.pi * k / 36 for k in range(36))]
    write(path, "x_mm,y_mm,z_mm", [(f"{x:.1f}", f"{y:.1f}", f"{height(x / radius, y / radius) + rng.gauss(0, NOISE):.3f}")
                                   for x, y in points])


def triangular(radius, pitch):
    rows, out = int(radius / (pitch * math.sqrt(3) / 2)) + 1, []
    for j in range(-rows, rows + 1):
        y = j * pitch * math.sqrt(3) / 2
        columns = int(radius / pitch) + 1
        for i in range(-columns, columns + 1):
            x = (i + 0.5 * (j % 2)) * pitch
            if math.hypot(x, y) <= radius:
                out.append((x, y))
    return [(f"R{j:03d}", x, y) for j, (x, y) in enumerate(out, 1)]


SETUP = """[job]
title = {title}
units = mm
date = 2026-11-27

[plate]
outline = disc
diameter = {diameter:g}
thickness = {thickness:g}

[survey]
uncertainty = 0.02
laid = free                        ; each plate stood on edge

[support]
kind = table

[foot]
force = {foot:g}
outer_diameter = 160
inner_diameter = 90

[holddown]
gap_limit = 0.3                    ; to the table
force_cap = 100 kN

[holes]
nominal = nominal.csv
tube_diameter = 1.5 in
position_limit = 0.8
uncertainty_position = 0.012
uncertainty_per_metre = 0.008
uncertainty_diameter = 0.004
{extra}"""

BEFORE = """
[stack]
gap_limit = 0.1                    ; between layers: what burr is accepted
search = order, face, turn
"""


def random_stack(a):
    folder, rng = Path(a.folder), random.Random(a.seed)
    folder.mkdir(parents=True, exist_ok=True)
    names = [chr(ord("A") + k) for k in range(a.layers)]
    for name in names:
        survey(rng, folder / f"{name.lower()}.csv", shape(rng, a.bow, 6, 5), a.diameter / 2, a.diameter / 22)
    radius = a.diameter / 2 - 40
    pitch = math.sqrt(2 * math.pi * radius**2 / (math.sqrt(3) * a.holes))
    holes = triangular(radius, pitch)
    write(folder / "nominal.csv", "hole,x,y", [(n, f"{x:.3f}", f"{y:.3f}") for n, x, y in holes])
    turns = ", ".join(f"{360 * k / a.turns:g}" for k in range(a.turns))
    layers = "".join(f"\n[layer {n}]\nsurvey = {n.lower()}.csv\nface = either\nturns = {turns}\n" for n in names)
    job = SETUP.format(title=f"random stack {a.seed}", diameter=a.diameter, thickness=a.thickness, foot=a.foot, extra="")
    search = BEFORE if a.search else BEFORE.replace("order, face, turn", "none")
    if not a.search:
        layers = layers.replace("face = either\n", "").replace(f"turns = {turns}\n", "")
    (folder / "stack.ini").write_text(job + search + layers)


def demo(folder):
    folder.mkdir(parents=True, exist_ok=True)
    rng, diameter, thickness = random.Random(20261127), 1600.0, 9.5
    names = ["Ada", "Bea", "Cleo", "Dora", "Emma", "Fay"]
    for name in names:
        survey(rng, folder / f"{name.lower()}.csv", shape(rng, 2.2), diameter / 2, 100)
    holes = triangular(diameter / 2 - 40, 60)
    write(folder / "nominal.csv", "hole,x,y", [(n, f"{x:.4f}", f"{y:.4f}") for n, x, y in holes])
    layer = {n: f"\n[layer {n}]\nsurvey = {n.lower()}.csv\nface = either\nturns = 0, 60, 120, 180, 240, 300\n" for n in names}
    layer["Ada"] = layer["Ada"].replace("face = either\n", "") + "place = bottom                      ; has the lifting eyes\n"
    rules = "\n[rules]\npart = baffle\nunsupported_span = 1200\n"
    common = dict(diameter=diameter, thickness=thickness, foot=700)
    (folder / "stack.ini").write_text(SETUP.format(title="six baffles before drilling", extra=rules, **common) + BEFORE + "".join(layer.values()))

    # drilled: a lean and a bulge common to nothing; the outer layers and one between are measured
    depth = thickness * len(names)
    measured = {"Ada": (0, "exit"), "Cleo": (3 * thickness, "entry"), "Fay": (depth, "entry")}
    lists = {n: [] for n in measured}
    for hole, x, y in holes:
        foot, lean, bulge = ([rng.gauss(0, s) for _ in "xy"] for s in (0.06, 0.05, 0.018))
        for n, (height, face) in measured.items():
            share = height / depth
            place = [c + foot[i] + share * lean[i] + 4 * share * (1 - share) * bulge[i] + rng.gauss(0, 0.006)
                     for i, c in enumerate((x, y))]
            lists[n].append((hole, f"{place[0]:.4f}", f"{place[1]:.4f}", f"{38.960 + rng.gauss(0, 0.012):.4f}", face))
    for n, rows in lists.items():
        write(folder / f"{n.lower()}-holes.csv", "hole,x,y,diameter,face", rows)
    drilled = "".join(f"\n[layer {n}]\n" + (f"measured = {n.lower()}-holes.csv\n" if n in measured else "heat_number = H-4711\n") for n in names)
    (folder / "drilled.ini").write_text(SETUP.format(title="the same six once drilled", extra=rules, **common) + drilled)

    sample = rng.sample(holes, 60)
    write(folder / "roughed.csv", "hole,x,y,diameter",
          [(h, f"{x + rng.gauss(0, 0.05):.4f}", f"{y + rng.gauss(0, 0.05):.4f}", f"{39.00 + rng.gauss(0, 0.024):.4f}") for h, x, y in sample])
    roughing = "\n[roughing]\nmeasured = roughed.csv\nseconds_roughing = 18\nseconds_finishing = 24\n"
    (folder / "roughing.ini").write_text(SETUP.format(title="is the roughing pass enough?", extra=rules.replace("1200", "1200\ndecision = guarded"), **common) + roughing)


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("what", choices=["demo", "random"])
    p.add_argument("folder")
    p.add_argument("seed", nargs="?", type=int, default=1)
    p.add_argument("--layers", type=int, default=8)
    p.add_argument("--diameter", type=float, default=3000)
    p.add_argument("--thickness", type=float, default=9.5)
    p.add_argument("--holes", type=int, default=4000)
    p.add_argument("--foot", type=float, default=2000)
    p.add_argument("--bow", type=float, default=10)
    p.add_argument("--turns", type=int, default=12)
    p.add_argument("--no-search", dest="search", action="store_false")
    a = p.parse_args()
    demo(Path(a.folder)) if a.what == "demo" else random_stack(a)


if __name__ == "__main__":
    main()
