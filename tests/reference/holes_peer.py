#!/usr/bin/python3
"""Random hole jobs, judged by plateproof and by this independent program.

holes_peer.py PROGRAM [JOBS] [SEED]

Written from the definitions in docs/theory/holes.md and the manual, not from the source: numpy and scipy,
one hole after the other where that is clearer. Alignments, units, faces, views, repeats, rounds, plugged
holes, holes of kind other, direct ligaments, holes without names, both decisions, coverages and material
conditions, composite positions, jobs in mm and in inch are mixed at random. Values must agree to 1e-6 mm,
counts, names and verdicts exactly, in results.json and in every row of holes.csv and ligaments.csv.
"""
import csv
import itertools
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile

try:
    import numpy as np
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"skipped: {missing.name} is not installed for {sys.executable}")
    sys.exit(77)

TOLERANCE = 1e-6
ALLOW = 1e-6
GUARD = 1.645
VERDICTS = ["not judged", "conforms", "not proven", "does not conform"]
FACES = ["entry", "exit"]


def worst(verdicts):
    return max(verdicts, key=VERDICTS.index, default="not judged")


def upper(value, limit, guard):
    if limit is None:
        return "not judged"
    if value <= limit - guard + ALLOW:
        return "conforms"
    return "does not conform" if value > limit + guard + ALLOW else "not proven"


def lower(value, limit, guard):
    return "not judged" if limit is None else upper(-value, -limit, guard)


# --- a random job ---------------------------------------------------------------------------------

class Job:
    """Settings in mm as the job file says them, and rows as the measured list has them."""


def random_job(rng):
    j = Job()
    j.unit = rng.choice([1.0, 25.4])
    j.pitch = rng.uniform(20, 40)
    j.size = j.pitch * rng.uniform(0.72, 0.82)  # hole nominal
    j.rows, j.columns = int(rng.integers(3, 9)), int(rng.integers(3, 9))
    j.triangular = bool(rng.integers(2))
    j.centre = rng.uniform(-50, 50, 2)
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
    j.warm = bool(rng.random() < 0.3)
    j.temperature, j.expansion = (float(rng.uniform(0, 45)), 16e-6) if j.warm else (20.0, 11.5e-6)
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
    j.u = {"position": 0.02, "per_metre": pick(0.05, 0.5), "temperature": pick(2.0, 0.5),
           "diameter": 0.01, "ligament": 0.04} if j.decision == "guarded" else {}
    make_holes(j, rng)
    make_rows(j, rng)
    j.pattern_limit = pick(rng.uniform(0.1, 1.2), 0.3)
    j.inch_job = bool(rng.random() < 0.3)
    return j


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
                    j.rows_measured.append([name, mx, my, d / scale, face, turn,
                                            "plugged" if plugged and rng.random() < 0.7 else ""])
    for k in range(int(rng.integers(0, 3)) if rng.random() < 0.3 and not calm else 0):  # extra holes
        x, y = j.nominal[int(rng.integers(len(j.nominal)))][1:3]
        mx, my = measured_place(x + 0.55 * j.pitch, y + 0.1 * j.pitch, 0)
        if j.faces != 1:
            j.rows_measured.append([f"X{k}", mx, my, j.size / scale, 0, 1, ""])
    j.rows_measured = [j.rows_measured[i] for i in rng.permutation(len(j.rows_measured))]
    digits = 7
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


def write_job(j, folder):
    unit = "inch" if j.unit != 1.0 else "mm"
    with open(f"{folder}/nominal.csv", "w") as f:
        f.write("hole,x,y,kind,diameter,under,over\n")
        for name, x, y, kind, *size in j.nominal:
            cells = [f"{v / j.unit:.12g}" if v is not None else "" for v in (x, y, *size)]
            f.write(f"{name},{cells[0]},{cells[1]},{kind},{cells[2]},{cells[3]},{cells[4]}\n")
    with open(f"{folder}/measured.csv", "w") as f:
        f.write(("hole," if j.named else "") + "x,y,diameter,face,round,disposition\n")
        for name, x, y, d, face, turn, disposition in j.rows_measured:
            f.write((f"{name}," if j.named else "") +
                    f"{x!r},{y!r},{d!r},{FACES[face]},{turn},{disposition}\n")
    with open(f"{folder}/datum.csv", "w") as f:
        f.write("name,nominal_x,nominal_y,x,y\n")
        for row in j.datum_points:
            f.write(",".join(str(v) for v in row) + "\n")
    if j.direct:
        with open(f"{folder}/ligaments.csv", "w") as f:
            f.write("hole_a,hole_b,ligament,face\n")
            for a, b, value, face in j.direct:
                f.write(f"{a},{b},{value!r},{FACES[face]}\n")
    job_unit = 25.4 if j.inch_job else 1.0
    length = lambda value: repr(value / job_unit)
    lines = ["[job]", f"units = {'inch' if j.inch_job else 'mm'}", "[plate]",
             f"centre = {length(j.plate_centre[0])}, {length(j.plate_centre[1])}", "thickness = 40 mm"]
    lines += ["outline = disc", f"diameter = {length(j.diameter)}"] if j.disc else [
        "outline = rectangle", f"width = {length(j.width)}", f"height = {length(j.height)}"]
    lines += ["[holes]", "nominal = nominal.csv", "measured = measured.csv", f"length_unit = {unit}",
              f"pitch = {length(j.pitch)}", f"align = {j.align}", f"exit_view = {j.exit_view}",
              f"exit_align = {j.exit_align}", f"material_condition = {j.material}",
              f"coverage = {j.coverage}"]
    if j.align == "two-holes" or j.exit_align == "two-holes":
        lines.append("datum_holes = " + ", ".join(j.datum_holes))
    if j.align == "datum-points":
        lines.append("datum_points = datum.csv")
    if j.direct:
        lines.append("ligaments = ligaments.csv")
    if j.warm:
        lines += [f"temperature = {j.temperature!r} C", f"expansion = {j.expansion!r}",
                  f"compensated = {'yes' if j.compensated else 'no'}"]
    for key, value in [("position_limit", j.position_limit), ("pattern_limit", j.pattern_limit),
                       ("edge_ligament_minimum", j.edge_limit),
                       ("other_ligament_minimum", j.other_limit)] + [
                           (f"uncertainty_{k}", v) for k, v in j.u.items()]:
        if value is not None:
            lines.append(f"{key} = {value!r} C" if key == "uncertainty_temperature" else
                         f"{key} = {length(value)}")
    lines += ["[rules]", f"decision = {j.decision}", f"remainder_share = {100 * j.share:g} %",
              f"ligament_face = {j.ligament_face}", f"hole_nominal = {length(j.size)}",
              f"hole_under = {length(j.under)}", f"hole_over = {length(j.over)}",
              f"hole_over_limit = {length(j.over_limit)}"]
    for key, value in [("ligament_standard", j.standard), ("ligament_minimum", j.minimum),
                       ("drift_limit", j.drift_limit)]:
        if value is not None:
            lines.append(f"{key} = {length(value)}")
    with open(f"{folder}/job.ini", "w") as f:
        f.write("\n".join(lines) + "\n")


# --- the same by other means ----------------------------------------------------------------------

def rigid(a, b):
    """Kabsch by SVD, with the guard against reflections. Returns R, t with R a + t near b."""
    ca, cb = a.mean(0), b.mean(0)
    v, _, wt = np.linalg.svd((b - cb).T @ (a - ca))
    r = v @ np.diag([1, np.sign(np.linalg.det(v @ wt))]) @ wt
    return r, cb - r @ ca


def two_points(a, b):
    turn = math.atan2(*(b[1] - b[0])[::-1]) - math.atan2(*(a[1] - a[0])[::-1])
    r = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    return r, b[0] - r @ a[0]


class Answer:
    pass


def combine(j, rows, index_of):
    """(hole or extra name, face) -> dict of the judged round."""
    groups = {}
    for i, row in enumerate(rows):
        if index_of[i] is None:
            continue
        groups.setdefault((index_of[i], row["face"]), []).append(row)
    bores = {}
    for key, group in groups.items():
        last = max(r["round"] for r in group)
        group = [r for r in group if r["round"] == last]
        d = [r["d"] for r in group]
        bores[key] = {"p": np.mean([r["p"] for r in group], axis=0), "dmin": min(d), "dmax": max(d),
                      "d": d}
    return bores


def poses_of(j, bores, nominal, scale):
    identity = (np.eye(2), np.zeros(2))
    face = 0 if any(k[1] == 0 for k in bores) else 1
    place = {h[0]: np.array(h[1:3]) for h in nominal}

    def fit(face):
        names = [k[0] for k in bores if k[1] == face and k[0] in place and kind_of(nominal, k[0]) == "tube"]
        return rigid(np.array([bores[n, face]["p"] for n in names]), np.array([place[n] for n in names]))

    def two(face):
        return two_points(np.array([bores[n, face]["p"] for n in j.datum_holes]),
                          np.array([place[n] for n in j.datum_holes]))

    if j.align == "as-measured":
        first = identity
    elif j.align == "best-fit":
        first = fit(face)
    elif j.align == "two-holes":
        first = two(face)
    else:
        rows = np.array([r[1:] for r in j.datum_points]) * j.unit
        first = rigid(rows[:, 2:] * scale, rows[:, :2])
    exit_pose = first
    if face == 0 and any(k[1] == 1 for k in bores):
        exit_pose = {"same": lambda: first, "best-fit": lambda: fit(1), "two-holes": lambda: two(1)}[
            j.exit_align]()
    return [first, exit_pose], face


KIND = {}


def kind_of(nominal, name):
    return KIND.get(name)


def match_nearest(j, rows, nominal, poses):
    tree = cKDTree(np.array([h[1:3] for h in nominal]))
    claims = {}
    for i, row in enumerate(rows):
        r, t = poses[row["face"]]
        distance, k = tree.query(r @ row["p"] + t)
        if distance <= j.pitch / 2:
            claims.setdefault((k, row["face"], row["round"]), []).append((distance, i))
    index_of, doubly = [None] * len(rows), set()
    for (k, _, _), list_ in claims.items():
        index_of[min(list_)[1]] = nominal[k][0]
        if len(list_) > 1:
            doubly.add(nominal[k][0])
    return index_of, doubly


def judge(j):
    a = Answer()
    nominal = j.nominal
    KIND.clear()
    KIND.update({h[0]: h[3] for h in nominal})
    nominal = [[h[0], float(f"{h[1] / j.unit:.12g}") * j.unit, float(f"{h[2] / j.unit:.12g}") * j.unit, *h[3:]]
               for h in nominal]
    place = {h[0]: np.array(h[1:3]) for h in nominal}
    scale = 1.0 if not j.warm or j.compensated else 1 - j.expansion * (j.temperature - 20)
    rows = []
    for name, x, y, d, face, turn, disposition in j.rows_measured:
        p = np.array([x, y]) * j.unit * scale
        if face == 1 and j.exit_view == "turned-about-x":
            p[1] = -p[1]
        if face == 1 and j.exit_view == "turned-about-y":
            p[0] = -p[0]
        rows.append({"name": name, "p": p, "d": d * j.unit * scale, "face": face, "round": turn,
                     "plugged": disposition == "plugged"})
    doubly = set()
    if j.named:
        index_of = [r["name"] for r in rows]
    else:
        start = [(np.eye(2), np.zeros(2))] * 2
        if j.align == "datum-points":
            start, _ = poses_of(j, {("", 0): None}, nominal, scale)
        index_of, doubly = match_nearest(j, rows, nominal, start)
        if j.align == "best-fit":
            poses, _ = poses_of(j, combine(j, rows, index_of), nominal, scale)
            index_of, doubly = match_nearest(j, rows, nominal, poses)
        index_of = [n if n is not None else f"row {i + 1}" for i, n in enumerate(index_of)]
    bores = combine(j, rows, index_of)
    poses, fitted = poses_of(j, bores, nominal, scale)
    for (name, face), b in bores.items():
        r, t = poses[face]
        b["q"] = r @ b["p"] + t
        if name in place:
            b["off"] = b["q"] - place[name]
            b["position"] = b["placed"] = 2 * math.hypot(*b["off"])
    if j.pattern_limit is not None:  # position_limit then holds within the pattern laid on itself
        names = [n for n, f in bores if f == fitted and KIND.get(n) == "tube"]
        r, t = rigid(np.array([bores[n, fitted]["q"] for n in names]), np.array([place[n] for n in names]))
        for (name, face), b in bores.items():
            if name in place:
                b["position"] = 2 * math.hypot(*(r @ b["q"] + t - place[name]))
    a.extra = list(dict.fromkeys(n for n in index_of if n not in place))
    a.doubly = [h[0] for h in nominal if h[0] in doubly]
    plugged = {n for n, r in zip(index_of, rows) if r["plugged"] and n in place}
    a.plugged = [h[0] for h in nominal if h[0] in plugged]
    tubes = [h[0] for h in nominal if h[3] == "tube"]
    read = {n for n, _ in bores}
    a.nominal, a.measured = len(tubes), sum(n in read for n in tubes)
    a.unmeasured = [n for n in tubes if n not in read]
    every = j.coverage == "every-hole"
    r0, t0 = poses[0]
    fits = [b["off"] for (n, f), b in bores.items() if f == fitted and KIND.get(n) == "tube"]
    a.alignment = {"kind": j.align, "angle_deg": math.degrees(math.atan2(r0[1, 0], r0[0, 0])),
                   "dx": t0[0], "dy": t0[1], "rms": math.sqrt(np.mean(np.sum(np.square(fits), axis=1)))}
    origin = np.zeros(2)
    if j.align == "two-holes":
        origin = place[j.datum_holes[0]]
    if j.align == "datum-points":
        origin = np.mean([r[1:3] for r in j.datum_points], axis=0) * j.unit
    g = GUARD if j.decision == "guarded" else 0.0
    up, ud, ul = ((j.u.get(k) or 0.0) / 2 for k in ("position", "diameter", "ligament"))

    def u_centre(q):
        r = math.hypot(*(q - origin))
        return math.sqrt(up ** 2 + ((j.u.get("per_metre") or 0) * r / 2000) ** 2 +
                         (j.expansion * r * (j.u.get("temperature") or 0) / 2) ** 2)

    counted = [n for n in tubes if n in read and n not in plugged]
    faces_of = lambda n: [f for f in (0, 1) if (n, f) in bores]

    def position_of(name, least, key="position", limit_of_all=j.position_limit):
        result = []
        for f in faces_of(name):
            b = bores[name, f]
            limit, u = limit_of_all, 2 * u_centre(b["q"])
            if limit is not None and j.material == "maximum":
                u = math.sqrt(u * u + ud * ud)
                if least is not None:
                    limit += max(0.0, b["dmin"] - least)
            verdict = upper(b[key], limit, g * u)
            if key == "position":
                b["limit"], b["verdict"] = limit, "not judged" if name in plugged else verdict
            result.append((b[key], f, verdict))
        return result

    def pattern_of(name, least):
        no_datum = j.align == "best-fit"
        return position_of(name, least, "placed", None if no_datum else j.pattern_limit)

    def open_if_missing(verdict, limited, missing):
        return worst([verdict, "not proven"]) if limited and missing and every else verdict

    # position
    per_hole = {n: position_of(n, j.size - j.under) for n in counted}
    verdicts = {n: worst(v for _, _, v in per_hole[n]) for n in counted}
    tops = {n: max(per_hole[n], key=lambda t: (t[0], -t[1])) for n in counted}
    a.position = {"limit": j.position_limit, "mean": np.mean([t[0] for t in tops.values()]),
                  "out": sum(v == "does not conform" for v in verdicts.values()),
                  "not_proven": sum(v == "not proven" for v in verdicts.values()),
                  "verdict": open_if_missing(worst(verdicts.values()), j.position_limit is not None,
                                             a.unmeasured)}
    top = max(counted, key=lambda n: tops[n][0])
    a.position.update(largest=tops[top][0], largest_hole=top, largest_face=FACES[tops[top][1]])

    # the pattern's place
    a.pattern = None
    if j.pattern_limit is not None:
        found = [t for n in counted for t in pattern_of(n, j.size - j.under)]
        a.pattern = {"limit": j.pattern_limit, "largest": max(t[0] for t in found),
                     "verdict": open_if_missing(worst(t[2] for t in found), j.align != "best-fit",
                                                a.unmeasured)}

    # diameter
    lo, hi, out = j.size - j.under, j.size + j.over, j.size + j.over_limit
    counts = dict.fromkeys(["undersize", "in_tolerance", "in_remainder", "oversize"], 0)
    states, outer, not_proven, means = [], [], 0, []
    for n in counted:
        bs = [bores[n, f] for f in faces_of(n)]
        dmin, dmax = min(b["dmin"] for b in bs), max(b["dmax"] for b in bs)
        means.append(np.mean([d for b in bs for d in b["d"]]))
        key = ("undersize" if dmin < lo - ALLOW else "oversize" if dmax > out + ALLOW
               else "in_remainder" if dmax > hi + ALLOW else "in_tolerance")
        counts[key] += 1
        three = [lower(dmin, lo, g * ud), upper(dmax, hi, g * ud), upper(dmax, out, g * ud)]
        not_proven += "not proven" in three
        outer.append(worst([three[0], three[2]]))
        states.append(three[1])
    n_all = len(counted) + (len(a.unmeasured) if every else 0)
    allowed = math.floor(j.share * n_all + 1e-9)
    share = share_verdict(states, outer, allowed)
    a.diameter = {"nominal": j.size, "lower": lo, "upper": hi, "upper_limit": out,
                  "smallest": min(bores[n, f]["dmin"] for n in counted for f in faces_of(n)),
                  "largest": max(bores[n, f]["dmax"] for n in counted for f in faces_of(n)),
                  "mean": np.mean(means), **counts, "remainder_allowed": allowed,
                  "not_proven": not_proven,
                  "verdict": open_if_missing(worst(outer + [share]), True, a.unmeasured)}

    # ligaments
    index = {h[0]: i for i, h in enumerate(nominal)}
    points = np.array([place[n] for n in tubes])
    pairs = cKDTree(points).query_pairs(1.25 * j.pitch)
    pairs = sorted(tuple(sorted((tubes[p], tubes[q]), key=index.get)) for p, q in pairs)
    pairs = [p for p in pairs if not (p[0] in plugged and p[1] in plugged)]
    pairs.sort(key=lambda p: (index[p[0]], index[p[1]]))
    direct = {}
    for x, y, value, f in j.direct:
        key = (*sorted((x, y), key=index.get), f)
        direct[key] = min(direct.get(key, math.inf), value * j.unit * scale)
    values = {}
    for p, q in pairs:
        for f in (0, 1):
            if (p, q, f) in direct:
                values[p, q, f] = (direct[p, q, f], ul)
            elif (p, f) in bores and (q, f) in bores:
                b, c = bores[p, f], bores[q, f]
                values[p, q, f] = (math.hypot(*(b["p"] - c["p"])) - (b["dmax"] + c["dmax"]) / 2,
                                   math.sqrt(2 * up * up + ud * ud / 2))
    standard, minimum = j.standard, j.minimum
    counts = dict.fromkeys(["standard", "in_remainder", "thin"], 0)
    states, outer, not_proven, worst_values, smallest = [], [], 0, [], None
    measured_pairs = 0
    for p, q in pairs:
        fs = [f for f in (0, 1) if (p, q, f) in values]
        if not fs:
            continue
        measured_pairs += 1
        if j.ligament_face == "exit" and 1 in fs:
            fs = [1]
        f = min(fs, key=lambda f: (values[p, q, f][0], f))
        v = values[p, q, f][0]
        worst_values.append(v)
        if smallest is None or v < smallest[0]:
            smallest = (v, p, q, f)
        if standard is None:
            continue
        against_minimum = [lower(values[p, q, k][0], minimum, g * values[p, q, k][1]) for k in fs]
        against_standard = [lower(values[p, q, k][0], standard, g * values[p, q, k][1]) for k in fs]
        counts["standard" if v >= standard - ALLOW else "in_remainder" if v >= minimum - ALLOW
               else "thin"] += 1
        outer.append(worst(against_minimum))
        states.append(worst(against_standard))
        not_proven += "not proven" in (outer[-1], states[-1])
    missing = len(pairs) - measured_pairs
    allowed = math.floor(j.share * (measured_pairs + (missing if every else 0)) + 1e-9)
    limited = standard is not None
    share = share_verdict(states, outer, allowed) if states else "not judged"
    a.ligament = {"pairs": measured_pairs, "pairs_unmeasured": missing, "nominal": j.pitch - j.size,
                  "standard_limit": standard, "minimum_limit": minimum, **counts,
                  "remainder_allowed": allowed if limited else 0, "not_proven": not_proven,
                  "verdict": open_if_missing(worst(outer + [share]), limited, missing)}
    if smallest:
        a.ligament.update(smallest=smallest[0], smallest_pair=list(smallest[1:3]),
                          smallest_face=FACES[smallest[3]], mean=np.mean(worst_values))

    # edge
    centre = np.array(j.plate_centre)
    edges, edge_verdicts = {}, {}
    for n in counted:
        for f in faces_of(n):
            b = bores[n, f]
            d = b["q"] - centre
            left = (j.diameter / 2 - math.hypot(*d) if j.disc
                    else min(j.width / 2 - abs(d[0]), j.height / 2 - abs(d[1])))
            value = left - b["dmax"] / 2
            u = math.sqrt(u_centre(b["q"]) ** 2 + ud * ud / 4)
            edges[n] = min(edges.get(n, math.inf), value)
            edge_verdicts[n] = worst([edge_verdicts.get(n, "not judged"), lower(value, j.edge_limit, g * u)])
    thin = min(edges, key=edges.get)
    a.edge = {"limit": j.edge_limit, "smallest": edges[thin], "smallest_hole": thin,
              "verdict": open_if_missing(worst(edge_verdicts.values()), j.edge_limit is not None,
                                         a.unmeasured)}

    # drift
    drifts = {n: math.hypot(*(bores[n, 1]["q"] - bores[n, 0]["q"])) for n in counted
              if (n, 0) in bores and (n, 1) in bores}
    a.drift = None
    if drifts:
        u = math.sqrt(2) * up
        vs = [upper(v, j.drift_limit, g * u) for v in drifts.values()]
        far = max(drifts, key=drifts.get)
        a.drift = {"limit": j.drift_limit, "largest": drifts[far], "largest_hole": far,
                   "out": vs.count("does not conform"), "not_proven": vs.count("not proven"),
                   "verdict": open_if_missing(worst(vs), j.drift_limit is not None, a.unmeasured)}

    # holes of kind other
    a.others = []
    for name, _, _, kind, size, under, over in nominal:
        if kind != "other":
            continue
        sized = under is not None or over is not None
        vs, spot, ds = [], None, []
        for f in faces_of(name):
            b = bores[name, f]
            spot = max(spot or 0, b["position"])
            ds += b["d"]
            if name in plugged:
                continue
            vs.append(lower(b["dmin"], size - under if under is not None else None, g * ud))
            vs.append(upper(b["dmax"], size + over if over is not None else None, g * ud))
            around = [math.hypot(*(b["q"] - c["q"])) - (b["dmax"] + c["dmax"]) / 2
                      for (n, k), c in bores.items() if k == f and KIND.get(n) == "tube"]
            if around:
                vs.append(lower(min(around), j.other_limit, g * math.sqrt(2 * up * up + ud * ud / 2)))
        least = size - under if under is not None else None
        in_place = position_of(name, least) + pattern_of(name, least)
        if name not in plugged:
            vs += [v for _, _, v in in_place]
        place_limited = j.pattern_limit is not None and j.align != "best-fit"
        if not faces_of(name) and every and (j.position_limit is not None or sized or place_limited or
                                             j.other_limit is not None):
            vs.append("not proven")
        a.others.append({"hole": name, "position": spot, "diameter": np.mean(ds) if ds else None,
                         "verdict": worst(vs)})

    # misdrilled pairs
    half = 0.5 * min(j.pitch - j.size, minimum if minimum is not None else math.inf)
    rank = lambda n: index.get(n, len(nominal) + (a.extra.index(n) if n in a.extra else 0))
    a.misdrilled = []
    for (p, q) in itertools.combinations(sorted({n for n, _ in bores}, key=rank), 2):
        for f in (0, 1):
            if (p, f) not in bores or (q, f) not in bores or (p in plugged and q in plugged):
                continue
            b, c = bores[p, f], bores[q, f]
            v = math.hypot(*(b["q"] - c["q"])) - (b["dmax"] + c["dmax"]) / 2
            if v < half - ALLOW or v < -ALLOW:
                a.misdrilled.append([p, q, FACES[f]])
    wrong = a.extra or a.doubly or a.misdrilled
    a.verdict = worst([a.position["verdict"], a.diameter["verdict"], a.ligament["verdict"],
                       a.edge["verdict"], a.pattern["verdict"] if a.pattern else "not judged", a.drift["verdict"] if a.drift else "not judged",
                       *(o["verdict"] for o in a.others), *(["does not conform"] if wrong else [])])
    for name in plugged.intersection(tubes):  # for their rows in holes.csv
        position_of(name, j.size - j.under)
    a.bores, a.place, a.values = bores, place, values
    return a


def share_verdict(states, outer, allowed):
    inside = [s for s, o in zip(states, outer) if o != "does not conform"]
    if inside.count("does not conform") > allowed:
        return "does not conform"
    if len(inside) - inside.count("conforms") <= allowed:
        return "conforms"
    return "not proven"


# --- comparing ------------------------------------------------------------------------------------

def differences(where, got, want):
    if isinstance(want, dict):
        for key, value in want.items():
            if key not in (got or {}):
                yield f"{where}.{key} is not there"
            else:
                yield from differences(f"{where}.{key}", got[key], value)
    elif isinstance(want, (list, tuple)):
        if len(got) != len(want):
            yield f"{where}: {got}, not {want}"
        else:
            for i, value in enumerate(want):
                yield from differences(f"{where}[{i}]", got[i], value)
    elif isinstance(want, (float, np.floating)):
        if got is None or not abs(got - want) <= TOLERANCE:
            yield f"{where}: {got!r}, not {float(want)!r}"
    elif got != want:
        yield f"{where}: {got!r}, not {want!r}"


POSITION_CLASS = {"conforms": "in", "does not conform": "out", "not proven": "not proven", "not judged": ""}


def diameter_class(j, b):
    if b["dmin"] < j.size - j.under - ALLOW:
        return "undersize"
    if b["dmax"] > j.size + j.over_limit + ALLOW:
        return "oversize"
    return "in remainder" if b["dmax"] > j.size + j.over + ALLOW else "in tolerance"


def row_differences(j, a, row):
    name, face = row["hole"], FACES.index(row["face"])
    b = a.bores[name, face]
    near = [v for (p, q, f), (v, _) in a.values.items() if f == face and name in (p, q)]
    want = {"x": b["q"][0], "y": b["q"][1], "diameter_min": b["dmin"], "diameter_max": b["dmax"],
            "smallest_ligament": min(near, default=None)}
    if name in a.place:
        want.update(nominal_x=a.place[name][0], nominal_y=a.place[name][1], dx=b["off"][0], dy=b["off"][1],
                    position=b["position"], position_limit=b["limit"],
                    position_class=POSITION_CLASS[b["verdict"]])
    if KIND.get(name) == "tube":
        want["diameter_class"] = diameter_class(j, b)
    got = {k: row[k] if k.endswith("class") else float(row[k]) if row[k] else None for k in want}
    yield from differences(f"holes.csv {name} {row['face']}", got, want)


def file_differences(j, a, report):
    with open(f"{report}/holes.csv", newline="") as f:
        rows = list(csv.DictReader(f))
    if {(r["hole"], FACES.index(r["face"])) for r in rows} != set(a.bores) or len(rows) != len(a.bores):
        yield f"holes.csv has {len(rows)} rows, not the {len(a.bores)} wanted"
        return
    for row in rows:
        yield from row_differences(j, a, row)
    pairs = {}
    if os.path.exists(f"{report}/ligaments.csv"):
        with open(f"{report}/ligaments.csv", newline="") as f:
            pairs = {(r["hole_a"], r["hole_b"], FACES.index(r["face"])): r for r in csv.DictReader(f)}
    if set(pairs) != set(a.values):
        yield f"ligaments.csv has {len(pairs)} rows, not the {len(a.values)} wanted"
        return
    for key, (value, _) in a.values.items():
        want = {"ligament": value, "class": ""}
        if j.standard is not None:
            want["class"] = ("standard" if value >= j.standard - ALLOW else
                             "in remainder" if value >= j.minimum - ALLOW else "thin")
        got = {"ligament": float(pairs[key]["ligament"]), "class": pairs[key]["class"]}
        yield from differences(f"ligaments.csv {key}", got, want)


def check(program, seed, folder):
    j = random_job(np.random.default_rng(seed))
    write_job(j, folder)
    done = subprocess.run([program, "inspect", f"{folder}/job.ini", "-o", f"{folder}/report", "-q",
                           "--threads", str(1 + seed % 3)], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        return [f"exit {done.returncode}: {done.stderr.strip()}"], None
    with open(f"{folder}/report/results.json") as f:
        got = json.load(f)
    a = judge(j)
    want = {"nominal": a.nominal, "measured": a.measured, "unmeasured": a.unmeasured, "extra": a.extra,
            "doubly_claimed": a.doubly, "misdrilled_pairs": a.misdrilled, "plugged": a.plugged,
            "others": a.others, "alignment": a.alignment, "position": a.position, "diameter": a.diameter,
            "ligament": a.ligament, "edge": a.edge}
    if a.drift:
        want["drift"] = a.drift
    if a.pattern:
        want["pattern"] = a.pattern
    found = list(differences("holes", got["holes"], want))
    found += list(differences("verdict", got["verdict"], a.verdict))
    found += list(file_differences(j, a, f"{folder}/report"))
    if done.returncode != (0 if a.verdict in ("conforms", "not judged") else 1):
        found.append(f"exit status {done.returncode} for {a.verdict}")
    return found, a.verdict


def main():
    program = sys.argv[1]
    jobs = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    keep = os.environ.get("KEEP")
    bad, verdicts = 0, {}
    folder = keep or tempfile.mkdtemp(prefix="plateproof-peer-")
    try:
        for seed in range(first, first + jobs):
            shutil.rmtree(f"{folder}/report", ignore_errors=True)
            for name in os.listdir(folder):
                os.remove(f"{folder}/{name}")
            found, verdict = check(program, seed, folder)
            verdicts[verdict] = verdicts.get(verdict, 0) + 1
            if found:
                bad += 1
                print(f"seed {seed}:")
                for line in found[:8]:
                    print(f"  {line}")
    finally:
        if not keep:
            shutil.rmtree(folder)
    print(f"{jobs} random jobs, {bad} differ; verdicts {verdicts}")
    sys.exit(1 if bad else 0)


main()
