#!/usr/bin/env python3
"""What the keys of a stack do: pins, inches, undersides, aim, clamps, softening, 16 layers, checks.

    stack_keys.py PROGRAM CASES [CHECK...]        CASES: data/reference/stack; the checks named, or all

Two domes on their rims under a point force F in the middle: their gap is A2 - A1 - F/k with
k = 16 pi D (1 + nu)/((3 + nu) R^2) (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959),
simply supported disc with a load in the middle; recalled). A clamp there adds to the foot.
"""
import csv
import json
import math
import re
import subprocess
import sys
import tempfile
from pathlib import Path

R, T, E, NU, RHO, G = 1000.0, 25.4, 206000.0, 0.3, 7850e-9, 9.80665
D = E * T ** 3 / 12 / (1 - NU * NU)
K = 16 * math.pi * D * (1 + NU) / ((3 + NU) * R * R)


def ask(program, job, *options, status=(0, 1)):
    out = job.parent / "out"
    done = subprocess.run([program, "stack", "-q", "-o", out, *options, job], capture_output=True, text=True)
    assert done.returncode in status, (done.returncode, done.stderr)
    said = json.loads((out / "results.json").read_text())["stack"] if done.returncode < 2 else None
    return said, done.stderr


def copy(cases, case, folder, *changes, holes=None):
    folder.mkdir(parents=True)
    for file in (cases / case).iterdir():
        (folder / file.name).write_bytes(file.read_bytes())
    job = folder / "job.ini"
    text = job.read_text()
    for pattern, new in changes:
        text, count = re.subn(pattern, new, text, flags=re.M)
        assert count, pattern
    job.write_text(text)
    if holes:
        (folder / "nominal.csv").write_text("hole,x,y\n" + "".join(f"H{i},{x!r},{y!r}\n" for i, (x, y) in enumerate(holes)))
    return job


def scaled(path, factor):
    head, *rows = [line.split(",") for line in path.read_text().splitlines()]
    named = head[0] == "hole"
    head = [h.replace("_mm", "") for h in head]
    path.write_text("\n".join(",".join(r[:named] + [repr(float(v) * factor) for v in r[named:]]) for r in rows).join(
        [",".join(head) + "\n", "\n"]))


def near(a, b, tolerance):
    assert (a is None) == (b is None) and (a is None or abs(a - b) <= tolerance), (a, b, tolerance)


def inches(program, cases, folder):
    before, _ = ask(program, copy(cases, "two_domes", folder / "mm"))
    job = copy(cases, "two_domes", folder / "inch", (r"units = mm", "units = inch"), (r"diameter = 2000.0", f"diameter = {2000 / 25.4!r}"),
               (r"thickness = 25.4", "thickness = 1"), (r"uncertainty = 0.002", f"uncertainty = {0.002 / 25.4!r}"),
               (r"gap_limit = 0.1", f"gap_limit = {0.1 / 25.4!r}"))
    for name in ("a.csv", "b.csv", "nominal.csv"):
        scaled(job.parent / name, 1 / 25.4)
    after, _ = ask(program, job)
    for key in ("largest_gap", "largest_gap_under_foot", "largest_table_gap"):
        near(before[key], after[key], 1e-6)
    near(before["largest_force_to_close"], after["largest_force_to_close"], 1e-2)


def clamps(program, cases, folder):
    """One place for a clamp, in the middle: too weak it leaves A2 - A1 - (F + clamp)/k."""
    for force, found in ((17500, False), (28000, True)):
        job = copy(cases, "two_domes", folder / str(force), (r"gap_limit = 0.1\nforce_cap = 900 kN", "gap_limit = 10\nforce_cap = 900 kN\n"
                   f"clamp_force_limit = {force} N\nclamp_candidates = clamps.csv"), holes=[(0.0, 0.0)])
        (job.parent / "clamps.csv").write_text("x,y\n0,0\n")
        said, _ = ask(program, job)
        assert said["plan"] == [{"x": 0.0, "y": 0.0, "force": float(force)}] and said["plan_found"] is found, said["plan"]
        near(said["plan_worst_gap"], max(0, 6 - (18100 + force) / K), 0.02)
        assert ("Clamps are not enough" in said["advice"]) is not found
    said, _ = ask(program, copy(cases, "two_domes", folder / "unasked"))
    assert said["plan"] == [] and "plan_found" not in said and "clamp_force_limit" in said["advice"]


def balance(program, cases, folder):
    said, words = ask(program, copy(cases, "two_domes", folder / "checks"), "--debug-checks")
    residual = float(re.search(r"balance (\S+) N", words).group(1))
    assert residual < 1e-6 and abs(residual - said["contact"]["equilibrium"]) <= 0.1 * residual, words


def pins(program, cases, folder):
    """On as many pins as the rim has the stack lies as on the table; fewer than three hold nothing."""
    table, _ = ask(program, copy(cases, "two_domes", folder / "table", holes=[(0.0, 0.0)]))
    rim = [(999 * math.cos(2 * math.pi * k / 32), 999 * math.sin(2 * math.pi * k / 32)) for k in range(32)]
    for count in (32, 2):
        job = copy(cases, "two_domes", folder / f"pins{count}", (r"kind = table", "kind = pins\nfile = pins.csv"), holes=[(0.0, 0.0)])
        (job.parent / "pins.csv").write_text("x,y\n" + "".join(f"{x!r},{y!r}\n" for x, y in rim[:count]))
        said, words = ask(program, job, status=(1,) if count > 3 else (2,))
        if count > 3:
            assert said["support"] == "pins"
            near(said["largest_gap"], table["largest_gap"], 0.01)
            near(said["largest_force_to_close"] / table["largest_force_to_close"], 1, 0.01)
            near(said["largest_table_gap"], table["largest_table_gap"], 0.02)
        else:
            assert "pins.csv" in words and "it needs 3" in words, words
    job = copy(cases, "two_domes", folder / "low", (r"kind = table", "kind = pins\nfile = pins.csv"), holes=[(0.0, 0.0)])
    (job.parent / "pins.csv").write_text("x,y,z\n" + "".join(f"{x!r},{y!r},{-60 if k == 5 else 0}\n" for k, (x, y) in enumerate(rim)))
    _, words = ask(program, job, status=(2,))
    assert "pins.csv:7" in words and "pin 6 stands 60 mm below pin 1" in words, words
    (job.parent / "pins.csv").write_text("x,y\n" + "".join(f"{x!r},{y!r}\n" for x, y in [*rim, rim[0]]))
    _, words = ask(program, job, status=(2,))
    assert f"pins.csv:{len(rim) + 2}" in words and "stand on one spot" in words, words


def undersides(program, cases, folder):
    """A lower face that follows the upper one changes nothing; a plane one takes the upper layer's dome out of its gap."""
    before, _ = ask(program, copy(cases, "two_domes", folder / "top", holes=[(0.0, 0.0)]))
    for plane in (False, True):
        job = copy(cases, "two_domes", folder / f"under{plane}", (r"survey = b.csv", "survey = b.csv\nunderside = under.csv"), holes=[(0.0, 0.0)])
        head, *rows = (job.parent / "b.csv").read_text().splitlines()
        rows = [r.split(",") for r in rows]
        shift = 0.0 if plane else None
        (job.parent / "under.csv").write_text("\n".join([head] + [f"{x},{y},{(shift if plane else float(z)) - T!r}" for x, y, z in rows]) + "\n")
        after, _ = ask(program, job)
        if plane:
            assert after["largest_gap"] < 0.6 * before["largest_gap"], (before["largest_gap"], after["largest_gap"])
        else:
            near(after["largest_gap"], before["largest_gap"], 0.003)


def aims(program, cases, folder):
    """aim = all looks at the force that closes the gap to the support as well."""
    between, _ = ask(program, copy(cases, "four_layers", folder / "between"))
    every, _ = ask(program, copy(cases, "four_layers", folder / "all", (r"aim = between", "aim = all")))
    key = "largest_force_to_close_all"

    def worst(arranged):
        return math.inf if arranged[key] is None else arranged[key]

    assert worst(every["found"]) <= worst(between["found"]) + 1 and worst(every["found"]) <= worst(every["listed"]) + 1
    assert every["found"]["all_tried"] and every["found"]["largest_force_to_close"] >= between["found"]["largest_force_to_close"] - 1


def solve(rows):
    """A small linear system [[coefficients..., right side]...], by elimination with pivots."""
    n = len(rows)
    for k in range(n):
        best = max(range(k, n), key=lambda i: abs(rows[i][k]))
        rows[k], rows[best] = rows[best], rows[k]
        for i in range(n):
            if i != k:
                f = rows[i][k] / rows[k][k]
                rows[i] = [a - f * b for a, b in zip(rows[i], rows[k])]
    return [rows[k][n] / rows[k][k] for k in range(n)]


def stepped_disc(d, nu, b):
    """Deflection per load in the middle of a disc of radius R on its rim, rigidity d and nu within b, D and NU beyond:
    w = r^2 ln r/(8 pi d) + A r^2 + B within, r^2 ln r/(8 pi D) + C r^2 + E ln r + G beyond; w, w' and the moment go on at b
    (Timoshenko and Woinowsky-Krieger, circular plates)."""
    i, o, log = 1 / (8 * math.pi * d), 1 / (8 * math.pi * D), math.log

    def moment(x, v, r):  # of r^2 ln r, r^2 and ln r, over x
        return x * (2 * log(r) + 3 + v * (2 * log(r) + 1)), x * 2 * (1 + v), x * (v - 1) / r ** 2

    inner, outer, rim = moment(d, nu, b), moment(D, NU, b), moment(D, NU, R)
    rows = [[b * b, 1, -b * b, -log(b), -1, (o - i) * b * b * log(b)],
            [2 * b, 0, -2 * b, -1 / b, 0, (o - i) * b * (2 * log(b) + 1)],
            [inner[1], 0, -outer[1], -outer[2], 0, o * outer[0] - i * inner[0]],
            [0, 0, R * R, log(R), 1, -o * R * R * log(R)],
            [0, 0, rim[1], rim[2], 0, -o * rim[0]]]
    return solve(rows)[1]


def effective(efficiency, thickness_over_pitch):
    """E*/E and nu* of a triangular pattern, thickness over pitch between 0.25 and 0.5 (ASME VIII-1, UHX-11.5.2, from memory)."""
    rows = {0.25: ((0.0135, 0.9910, 1.0080, -1.0498, 0.0184), (0.7439, -4.4989, 12.5779, -14.2092, 5.7822)),
            0.50: ((0.0054, 0.5279, 3.0461, -4.3657, 1.9435), (0.9100, -4.8901, 12.4325, -12.7039, 4.4298))}
    share = (thickness_over_pitch - 0.25) / 0.25
    low, high = ([sum(c * efficiency ** k for k, c in enumerate(terms)) for terms in rows[at]] for at in (0.25, 0.50))
    return [(1 - share) * a + share * b for a, b in zip(low, high)]


def softening(program, cases, folder):
    """Holes about the middle: the force to close falls as the deflection of a disc with a softer middle says."""
    pitch, hole = 70.0, 39.8
    rows = [((i + 0.5 * (j % 2)) * pitch, j * pitch * math.sqrt(3) / 2) for j in range(-20, 21) for i in range(-18, 19)]
    holes = [p for p in rows if math.hypot(*p) < 330]
    force = {}
    for soft in ("no", "yes"):
        job = copy(cases, "two_domes", folder / soft, (r"force_cap = 900 kN", f"force_cap = 900 kN\nligament_softening = {soft}"),
                   (r"\[holes\]", f"[rules]\npart = baffle\n[holes]\ntube_diameter = 39\npitch = {pitch}"), holes=holes)
        said, _ = ask(program, job)
        with open(job.parent / "out" / "stack.csv", newline="", encoding="utf-8") as file:
            force[soft] = next(float(row["force_to_close"]) for row in csv.DictReader(file) if float(row["x"]) == float(row["y"]) == 0)
        assert ("softened_share" in said) == (soft == "yes")
    modulus, nu = effective((pitch - hole) / pitch, T / pitch)
    inner = D * modulus * (1 - NU * NU) / (1 - nu * nu)
    want = stepped_disc(D, NU, 500) / stepped_disc(inner, nu, R * math.sqrt(said["softened_share"]))
    near(stepped_disc(D, NU, 500) * K, 1, 1e-9)
    near(force["yes"] / force["no"], want, 0.03 * want)


def many_layers(program, cases, folder):
    """Sixteen equal layers nest without a gap; a seventeenth is refused."""
    for count in (16, 17):
        job = copy(cases, "nested_bows", folder / str(count), holes=[(0.0, 0.0), (500.0, 300.0)])
        text = job.read_text().split("[layer A]")[0]
        job.write_text(text + "".join(f"[layer L{k}]\nsurvey = a.csv\n" for k in range(count)))
        said, words = ask(program, job, status=(0, 1) if count == 16 else (2,))
        if count == 16:
            assert len(said["layers"]) == 16 and said["largest_gap"] < 1e-3 and said["largest_gap_under_foot"] < 1e-3, said["largest_gap"]
        else:
            assert "16" in words or "sixteen" in words, words


CHECKS = (inches, clamps, balance, pins, undersides, aims, softening, many_layers)


def main():
    program, cases = sys.argv[1], Path(sys.argv[2])
    wrong = 0
    for check in [c for c in CHECKS if c.__name__ in sys.argv[3:] or not sys.argv[3:]]:
        with tempfile.TemporaryDirectory() as folder:
            try:
                check(program, cases, Path(folder))
            except AssertionError as why:
                wrong += 1
                print(f"{check.__name__}: {why}")
    print(f"keys of a stack: {wrong} wrong")
    sys.exit(1 if wrong else 0)


main()
