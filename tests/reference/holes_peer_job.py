"""Random hole jobs for holes_peer.py: what is set, and what was measured."""
import itertools
import math

import numpy as np

# Some of data/reference/tube_holes, the second copy of the published sizes, inch: tube, hole, under, over, over_limit, and
# the smallest ligament of a pitch; fit standard.
TABLE = [(0.625, 0.635, 0.004, 0.002, 0.010, 0.8125, 0.090), (0.75, 0.760, 0.004, 0.002, 0.010, 0.9375, 0.090),
         (0.75, 0.760, 0.004, 0.002, 0.010, 1.0, 0.120), (1.0, 1.012, 0.004, 0.002, 0.010, 1.25, 0.120)]
THICKNESS = 40.0


class Job:
    """Settings in mm as the job file says them, and rows as the measured list has them."""


def random_job(rng):
    j = Job()
    j.grid = bool(rng.random() < 0.25)  # readings and limits of two decimals: many values lie on their limit
    j.unit = 1.0 if j.grid else float(rng.choice([1.0, 25.4]))
    j.pitch = rng.uniform(20, 40)
    j.size = j.pitch * rng.uniform(0.72, 0.82)  # hole nominal
    if j.grid:
        j.pitch, j.size = round(j.pitch, 2), round(j.size, 2)
    j.tube = TABLE[int(rng.integers(len(TABLE)))] if not j.grid and rng.random() < 0.2 else None
    if j.tube:
        j.size, j.pitch = 25.4 * j.tube[1], 25.4 * j.tube[5]
    j.rows, j.columns = int(rng.integers(3, 9)), int(rng.integers(3, 9))
    j.triangular = bool(rng.integers(2))
    j.centre = rng.uniform(-50, 50, 2)
    if j.grid:
        j.centre = np.round(j.centre, 2)
    j.named = bool(rng.random() < 0.75)
    aligns = ["as-measured", "best-fit", "datum-points"] + (["two-holes"] if j.named else [])
    j.align = str(rng.choice(aligns))
    j.exit_view = str(rng.choice(["through", "turned-about-x", "turned-about-y"]))
    j.faces = int(rng.choice([0, 1, 2, 3], p=[0.35, 0.1, 0.4, 0.15]))  # entry, exit, both, mixed
    j.exit_align = str(rng.choice(["same", "best-fit"] + (["two-holes"] if j.named else [])))
    if j.faces != 2:
        j.exit_align = "same"
    j.decision = str(rng.choice(["simple", "guarded"]))
    j.coverage = str(rng.choice(["every-hole", "sample"]))
    j.material = str(rng.choice(["regardless", "maximum"]))
    j.ligament_face = str(rng.choice(["worst", "exit"]))
    j.warm = bool(rng.random() < 0.3) and not j.grid
    j.expansion_given = bool(rng.integers(2))
    j.temperature = float(rng.uniform(0, 45)) if j.warm else 20.0
    j.expansion = 16e-6 if j.warm and j.expansion_given else 11.5e-6
    j.compensated = j.warm and bool(rng.integers(2))
    pick = lambda value, chance=0.8: float(value) if rng.random() < chance else None
    j.position_limit = pick(rng.uniform(0.1, 0.5))
    j.under, j.over, j.over_limit = float(rng.uniform(0.05, 0.1)), float(rng.uniform(0.02, 0.06)), 0.25
    nominal_ligament = j.pitch - j.size
    j.minimum = pick(nominal_ligament * 0.5)
    j.standard = nominal_ligament - float(rng.uniform(0.05, 0.3)) if j.minimum else None
    j.drift_limit = pick(rng.uniform(0.05, 0.2), 0.5)
    j.edge_limit = pick(rng.uniform(3, 60), 0.4)
    j.other_limit = pick(rng.uniform(1, 20), 0.4)
    j.share = float(rng.choice([0.0, 0.04, 0.1]))
    if j.tube:
        limits_of_the_set(j)
    if j.grid:
        round_limits(j)
    j.u = {"position": 0.02, "per_metre": pick(0.05, 0.5), "temperature": pick(2.0, 0.5),
           "expansion": pick(0.3, 0.3), "diameter": 0.01, "ligament": 0.04} if j.decision == "guarded" else {}
    make_holes(j, rng)
    make_rows(j, rng)
    j.pattern_limit = pick(rng.uniform(0.1, 1.2), 0.3)
    j.inch_job = bool(rng.random() < 0.3) and not j.grid
    tubes = sum(h[3] == "tube" for h in j.nominal)
    j.tube_holes = tubes + int(rng.random() < 0.3) if rng.random() < 0.15 else None
    j.style = random_style(rng)
    return j


def limits_of_the_set(j):
    tube, size, under, over, over_limit, pitch, minimum = j.tube
    drift = 0.0016 * (THICKNESS / 25.4) / tube
    clearance = 0.020 if tube < 0.625 else 0.030
    j.under, j.over, j.over_limit = 25.4 * under, 25.4 * over, 25.4 * over_limit
    j.minimum = 25.4 * minimum
    j.standard = max(j.minimum, 25.4 * (pitch - size - (2 * drift + clearance)))


def round_limits(j):
    for key in ("position_limit", "under", "over", "over_limit", "minimum", "standard", "drift_limit", "edge_limit",
                "other_limit"):
        value = getattr(j, key)
        setattr(j, key, None if value is None else round(value, 2))


def random_style(rng):
    """How the tables are written: that must not change anything."""
    style = {"delimiter": str(rng.choice([",", ";", "\t"])), "header": str(rng.choice(["plain", "mapped", "units"])),
             "faces": str(rng.choice(["plain", "own words"])), "spare column": bool(rng.integers(2)),
             "comment above": bool(rng.integers(2)), "CRLF": bool(rng.integers(2)), "BOM": bool(rng.integers(2))}
    style["decimal comma"] = style["delimiter"] != "," and bool(rng.integers(2))
    return style


def make_holes(j, rng):
    j.nominal = []  # name, x, y, kind, diameter, under, over
    step = math.sqrt(3) / 2 if j.triangular else 1.0
    for r, c in itertools.product(range(j.rows), range(j.columns)):
        x = (c + (0.5 * (r % 2) if j.triangular else 0)) * j.pitch + j.centre[0]
        y = r * step * j.pitch + j.centre[1]
        j.nominal.append([f"R{r + 1}C{c + 1}", round(x, 4), round(y, 4), "tube", None, None, None])
    if rng.random() < 0.4:
        for k in range(int(rng.integers(1, 4))):
            under, over = (0.1, 0.2) if rng.random() < 0.6 else (None, None)
            j.nominal.append([f"T{k + 1}", round(j.centre[0] - 2 * j.pitch, 4),
                              round(j.centre[1] + 1.7 * k * j.pitch, 4), "other", 12.0, under, over])
    order = rng.permutation(len(j.nominal))
    j.nominal = [j.nominal[i] for i in order]
    xs, ys = [h[1] for h in j.nominal], [h[2] for h in j.nominal]
    j.plate_centre = (float((min(xs) + max(xs)) / 2), float((min(ys) + max(ys)) / 2))
    j.disc = bool(rng.integers(2))
    w, h = max(xs) - min(xs), max(ys) - min(ys)
    j.width, j.height = float(w + 4 * j.pitch), float(h + 4 * j.pitch)
    j.diameter = float(math.hypot(w, h) + 4 * j.pitch)


def make_rows(j, rng):
    scale = 1.0 if not j.warm or j.compensated else 1 - j.expansion * (j.temperature - 20)
    moving = j.align != "as-measured"
    # without names best-fit begins as measured: every hole must be nearest to its own, or nearly
    small = not j.named and j.align == "best-fit"
    angle = rng.uniform(-3, 3) if moving and not small else rng.uniform(-2e-4, 2e-4)
    shift = rng.uniform(-300, 300, 2) if moving and not small else rng.uniform(-0.05, 0.05, 2)
    if j.grid and not moving:
        angle, shift = 0.0, np.zeros(2)
    c, s = math.cos(angle), math.sin(angle)

    def measured_place(x, y, face):
        mx, my = c * x - s * y + shift[0], s * x + c * y + shift[1]
        if face == 1 and j.exit_view == "turned-about-x":
            my = -my
        if face == 1 and j.exit_view == "turned-about-y":
            mx = -mx
        return mx / scale, my / scale

    calm = rng.random() < 0.5  # a good plate
    noise = 0.012 if calm else 0.04
    j.rows_measured = []  # name, x, y, diameter, face, round, disposition
    tubes = [h for h in j.nominal if h[3] == "tube"]
    j.datum_holes = [tubes[0][0], tubes[-1][0]]
    keep_all = rng.random() < 0.5
    for name, x, y, kind, diameter, _, _ in j.nominal:
        is_datum = name in j.datum_holes
        if not keep_all and not is_datum and rng.random() < 0.1:
            continue
        faces = {0: [0], 1: [1], 2: [0, 1],
                 3: [0, 1] if is_datum or rng.random() < 0.5 else [int(rng.integers(2))]}[j.faces]
        plugged = j.named and rng.random() < 0.03
        far = 6.0 if rng.random() < 0.02 and j.named and not calm else 1.0
        for face in faces:
            rounds = [1] if rng.random() < 0.9 else [1, 2]
            for turn in rounds:
                for _ in range(1 if not j.named or rng.random() < 0.8 else int(rng.integers(2, 4))):
                    px, py = x + far * rng.normal(0, noise), y + far * rng.normal(0, noise)
                    if far > 1 and rng.random() < 0.3:
                        px += 0.4 * j.pitch
                    mx, my = measured_place(px, py, face)
                    d = (diameter if kind == "other" else j.size) + rng.normal(0, 0.75 * noise)
                    if rng.random() < (0.01 if calm else 0.03):
                        d += 0.2
                    said = "plugged" if plugged and rng.random() < 0.7 else ""
                    if not plugged and rng.random() < 0.02:  # told, printed, and without any effect
                        said = str(rng.choice(["reamed", "sleeved", "accepted under concession", "see note 4"]))
                    j.rows_measured.append([name, mx, my, d / scale, face, turn, said])
    for k in range(int(rng.integers(0, 3)) if rng.random() < 0.3 and not calm else 0):  # extra holes
        x, y = j.nominal[int(rng.integers(len(j.nominal)))][1:3]
        mx, my = measured_place(x + 0.55 * j.pitch, y + 0.1 * j.pitch, 0)
        if j.faces != 1:
            j.rows_measured.append([f"X{k}", mx, my, j.size / scale, 0, 1, ""])
    j.rows_measured = [j.rows_measured[i] for i in rng.permutation(len(j.rows_measured))]
    digits = 2 if j.grid else 7
    for row in j.rows_measured:
        row[1], row[2], row[3] = (round(float(v) / j.unit, digits) for v in row[1:4])
    j.datum_points = []
    for k in range(int(rng.integers(2, 5))):
        x, y = rng.uniform(-400, 400, 2)
        mx, my = measured_place(x + rng.normal(0, 0.02), y + rng.normal(0, 0.02), 0)
        j.datum_points.append([f"P{k}"] + [round(float(v) / j.unit, digits) for v in (x, y, mx, my)])
    j.direct = []
    if rng.random() < 0.3:
        for a, b in itertools.combinations([h for h in tubes], 2):
            if math.hypot(a[1] - b[1], a[2] - b[2]) < 1.1 * j.pitch and rng.random() < 0.1:
                value = j.pitch - j.size + rng.normal(0, 0.05)
                face = int(rng.integers(2)) if j.faces == 2 else 0
                j.direct.append([b[0], a[0], round(float(value) / scale / j.unit, digits), face])
