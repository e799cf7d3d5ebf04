#!/usr/bin/env python3
"""Write the demo jobs in data/demo: an invented scenario, the same bytes on every run.

plate.ini   the front tube plate of a condenser after drilling, with believable faults: a bowed
            machine axis, growth with temperature, a tool that wore and one that cut wide, one
            misdrilled hole, two holes never measured, one plugged, one reamed in a second round
clean.ini   its twin, drilled on a good day: everything conforms
baffle.ini  a warped 3/8 in baffle on support pins before drilling, in inches: the setup engineer's job

Only the standard library is used. Nothing here is measured data.
"""

import math
import random
from pathlib import Path

OUT = Path(__file__).resolve().parent.parent / "data" / "demo"
INCH = 25.4


def triangular_field(pitch, radius, lane_half=0.0):
    """Hole centres of a triangular (30 degree) pattern within a radius, a lane left free along x."""
    step = pitch * math.sqrt(3) / 2
    rows = int(radius / step) + 1
    holes = []
    for i in range(-rows, rows + 1):
        y = i * step
        if abs(y) < lane_half:
            continue
        columns = int(radius / pitch) + 2
        for j in range(-columns, columns + 1):
            x = (j + (i % 2) / 2) * pitch
            if math.hypot(x, y) <= radius:
                holes.append((x, y))
    holes.sort(key=lambda p: (round(p[1], 6), p[0]))
    names = {}
    ys = sorted({round(y, 6) for _, y in holes})
    row_of = {y: k + 1 for k, y in enumerate(ys)}
    left = min(x for x, _ in holes)
    for x, y in holes:
        row, column = row_of[round(y, 6)], int(round((x - left) / (pitch / 2))) // 2 + 1
        names[f"R{row:02d}C{column:02d}"] = (x, y)
    assert len(names) == len(holes)
    return names


def write_rows(name, header, rows):
    with open(OUT / name, "w", newline="\n") as f:
        f.write(header + "\n")
        f.writelines(",".join(row) + "\n" for row in rows)


# ---------------------------------------------------------------- the tube plate

PITCH = 31.75
RADIUS = 1200.0
FIELD = 1085.0


def plate_height(x, y):
    """Rolled plate: a shallow dome, a twist, a rolled-in wave; the low places rest on the table."""
    r2 = (x * x + y * y) / RADIUS**2
    return 1.55 * (1 - r2) + 0.55 * x * y / RADIUS**2 + 0.12 * math.sin(x / 260.0)


def write_nominal(holes, tie_rods):
    rows = [[name, f"{x:.4f}", f"{y:.4f}", "tube", "", "", ""] for name, (x, y) in holes.items()]
    rows += [
        [name, f"{x:.4f}", f"{y:.4f}", "other", "20", "0", "0.21"]
        for name, (x, y) in tie_rods.items()
    ]
    write_rows("nominal.csv", "hole,x,y,kind,diameter,under,over", rows)


def write_survey(rng):
    points = []
    step = 120.0
    n = int(RADIUS / step)
    for i in range(-n, n + 1):
        for j in range(-n, n + 1):
            x, y = j * step, i * step
            if math.hypot(x, y) <= RADIUS - 40:
                points.append((x, y))
    for k in range(48):  # the rim is the usual support: survey it
        a = 2 * math.pi * k / 48
        points.append(((RADIUS - 6) * math.cos(a), (RADIUS - 6) * math.sin(a)))
    lowest = min(plate_height(x, y) for x, y in points)
    rows = [
        [f"{x:.2f}", f"{y:.2f}", f"{plate_height(x, y) - lowest + rng.gauss(0, 0.006):.4f}"]
        for x, y in points
    ]
    write_rows("survey.csv", "x_mm,y_mm,z_mm", rows)


def drilling_order(holes):
    """Four interleaved sweeps of the rows, back and forth within each."""
    rows = {}
    for name, (x, y) in holes.items():
        rows.setdefault(round(y, 4), []).append((x, name))
    order = []
    keys = sorted(rows)
    for sweep in range(4):
        for k, y in enumerate(keys[sweep::4]):
            line = sorted(rows[y], reverse=k % 2 == 1)
            order += [name for _, name in line]
    return order


def faulty_errors(holes, order, rng):
    """(dx, dy, diameter, exit dx, exit dy) of each hole: what this machine did."""
    total = len(order)
    result = {}
    previous_x = 0.0
    diameter_start, life, since = 25.722, 900, 0
    for k, name in enumerate(order):
        x, y = holes[name]
        s = k / total - 0.5
        direction = 1 if x >= previous_x else -1
        previous_x = x
        dx = 78e-6 * x - 0.12 * direction / 2 + 0.03 * s
        dy = 78e-6 * y + 0.085 * (x / FIELD) ** 2 - 0.028
        dx += rng.gauss(0, 0.022)
        dy += rng.gauss(0, 0.022)
        if since == life:
            since = 0
        diameter = diameter_start - 4.2e-5 * since + rng.gauss(0, 0.0045)
        if 2010 <= k < 2150:  # a tool ground off centre, changed after a shift
            diameter += 0.062 + rng.gauss(0, 0.012)
        since += 1
        lean_x, lean_y = 0.021 + rng.gauss(0, 0.012), -0.008 + rng.gauss(0, 0.012)
        result[name] = [dx, dy, diameter, dx + lean_x, dy + lean_y]
    return result


def clean_errors(holes, order, rng):
    return {
        name: [
            rng.gauss(0, 0.018),
            rng.gauss(0, 0.018),
            25.712 + rng.gauss(0, 0.004),
            rng.gauss(0, 0.022),
            rng.gauss(0, 0.022),
        ]
        for name in order
    }


def measured_rows(holes, tie_rods, errors, order, rng, leave_out=()):
    place = {name: k + 1 for k, name in enumerate(order)}
    rows = []

    def row(name, x, y, d, face, round_=1, disposition="", reference=""):
        # the exit face is measured with the plate turned about its y axis
        rows.append(
            [
                name,
                f"{-x if face == 'exit' else x:.4f}",
                f"{y:.4f}",
                f"{d:.4f}",
                face,
                str(round_),
                str(place.get(name, "")),
                disposition,
                reference,
            ]
        )

    for name, (x, y) in holes.items():
        if name in leave_out:
            continue
        dx, dy, d, ex, ey = errors[name]
        row(name, x + dx, y + dy, d, "entry")
        row(name, x + ex, y + ey, d + rng.gauss(0, 0.003), "exit")
    for name, (x, y) in tie_rods.items():
        row(name, x + rng.gauss(0, 0.03), y + rng.gauss(0, 0.03), 20.09 + rng.gauss(0, 0.01), "entry")
    return rows


HEADER = "hole,x_mm,y_mm,diameter_mm,face,round,order,disposition,reference"


def make_plate():
    holes = triangular_field(PITCH, FIELD, lane_half=30.0)
    tie_rods = {
        f"T{k + 1:02d}": (1140 * math.cos(math.radians(15 + 30 * k)), 1140 * math.sin(math.radians(15 + 30 * k)))
        for k in range(12)
    }
    write_nominal(holes, tie_rods)
    write_survey(random.Random(20261))
    order = drilling_order(holes)

    rng = random.Random(20262)
    errors = faulty_errors(holes, order, rng)
    names = list(holes)
    misdrilled, wide_a, wide_b = "R40C20", "R12C31", "R12C32"
    reamed, plugged = "R21C14", "R09C22"
    left_out = {"R55C20", "R55C21"}
    assert {misdrilled, wide_a, wide_b, reamed, plugged} | left_out <= set(names)
    for k in (0, 3):
        errors[misdrilled][k] += 11.4  # a wrong block in the program: a third of a pitch
    errors[wide_a][2] = 25.981
    errors[wide_b][2] = 25.968
    errors[plugged][2] = 26.412
    errors[reamed][2] = 25.588  # undersize in round 1, reamed and measured again
    rows = measured_rows(holes, tie_rods, errors, order, rng, left_out)
    for r in rows:
        if r[0] == plugged:
            r[7], r[8] = "plugged", "CR-014"
    x, y = holes[reamed]
    for face, k in (("entry", 0), ("exit", 3)):
        ex, ey = x + errors[reamed][k], y + errors[reamed][k + 1]
        rows.append([reamed, f"{-ex if face == 'exit' else ex:.4f}", f"{ey:.4f}", "25.7031", face, "2", "", "reamed", "CR-011"])
    write_rows("measured.csv", HEADER, rows)

    rng = random.Random(20263)
    errors = clean_errors(holes, order, rng)
    write_rows("clean-measured.csv", HEADER, measured_rows(holes, tie_rods, errors, order, rng))

    # four punch marks outside the field, as found by the probe
    rng = random.Random(20264)
    marks = [("N", 0, 1165), ("E", 1165, 0), ("S", 0, -1165), ("W", -1165, 0)]
    write_rows(
        "punch-marks.csv",
        "name,nominal_x,nominal_y,x,y",
        [
            [name, f"{x:.3f}", f"{y:.3f}", f"{x + rng.gauss(0, 0.008):.4f}", f"{y + rng.gauss(0, 0.008):.4f}"]
            for name, x, y in marks
        ],
    )
    return len(holes)


# ---------------------------------------------------------------- the baffle, in inches


def baffle_height(x, y):
    """A thin plate, rolled with a bow along x and edges that curl; inches."""
    return 0.115 * (x / 24.0) ** 2 + 0.03 * (y / 16.0) ** 2 - 0.02 * (x / 24.0) * (y / 16.0)


def make_baffle():
    pitch = 15 / 16
    holes = {}
    step = pitch * math.sqrt(3) / 2
    rows, columns = 31, 44
    for i in range(rows):
        for j in range(columns):
            x = (j - (columns - 1) / 2) * pitch + (0.25 if i % 2 else -0.25) * pitch
            y = (i - (rows - 1) / 2) * step
            if abs(x) < 21.6 and abs(y) < 13.6:
                holes[f"{i + 1}-{j + 1}"] = (x, y)
    write_rows("baffle-nominal.csv", "hole,x_in,y_in", [[n, f"{x:.5f}", f"{y:.5f}"] for n, (x, y) in holes.items()])

    rng = random.Random(20265)
    points = [(x * 2.0 - 24.0 + 0.0, y * 2.0 - 16.0) for y in range(17) for x in range(25)]
    points = [(max(-23.9, min(23.9, x)), max(-15.9, min(15.9, y))) for x, y in points]
    lowest = min(baffle_height(x, y) for x, y in points)
    write_rows(
        "baffle-survey.csv",
        "x (in),y (in),z (in)",
        [[f"{x:.2f}", f"{y:.2f}", f"{baffle_height(x, y) - lowest + rng.gauss(0, 0.0004):.5f}"] for x, y in points],
    )
    return len(holes)


if __name__ == "__main__":
    OUT.mkdir(parents=True, exist_ok=True)
    print(f"tube plate: {make_plate()} tube holes; baffle: {make_baffle()} holes")
