#!/usr/bin/env python3
"""Straightedges and out-of-flat areas by brute force on the program's own map (map.csv), which is all that a reader of
the report has. The map is laid through its nodes by a bicubic spline (scipy); straightedges are tried in every direction
through every place of a lattice, the depth below each the upper hull of its samples less the surface; areas are counted
cell by cell and joined by scipy.ndimage.label.

    map_peer.py PROGRAM [SURFACES [FIRST]]      exit 77: numpy or scipy is missing
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import numpy as np
    from scipy.interpolate import RectBivariateSpline
    from scipy.ndimage import label
except ImportError:
    print("skipped: numpy and scipy are needed")
    sys.exit(77)

WIDTH, HEIGHT, LENGTHS, THRESHOLD = 1600.0, 1000.0, (300.0, 1000.0), 0.5
JOB = f"""[job]
title = a made-up surface
[plate]
outline = rectangle
width = {WIDTH}
height = {HEIGHT}
thickness = 40
[survey]
file = survey.csv
uncertainty = 0.004
straightedge = 300, 1000
straightedge_limit = 5, 5
area_threshold = {THRESHOLD}
[holes]
nominal = nominal.csv
tube_diameter = 25 mm
hole_nominal = 25.4 mm
pitch = 32 mm
"""


def surface(rng):
    """A bow, a twist and a few bumps no narrower than the survey can show."""
    bumps = [(rng.uniform(-700, 700), rng.uniform(-400, 400), rng.uniform(180, 320), rng.uniform(-1.2, 1.2)) for _ in range(3)]
    bow, twist = rng.uniform(-1.5, 1.5, 2), rng.uniform(-1, 1)

    def z(x, y):
        total = bow[0] * (x / 800) ** 2 + bow[1] * (y / 500) ** 2 + twist * x * y / 4e5
        for cx, cy, w, h in bumps:
            total = total + h * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * (w / 2) ** 2))
        return total
    return z


def run(program, folder, rng):
    z = surface(rng)
    x, y = np.meshgrid(np.linspace(-790, 790, 33), np.linspace(-490, 490, 21))
    heights = z(x, y) + rng.normal(0, 0.002, x.shape)
    rows = "".join(f"{a:.3f},{b:.3f},{c:.5f}\n" for a, b, c in zip(x.ravel(), y.ravel(), heights.ravel()))
    (folder / "survey.csv").write_text("x,y,z\n" + rows)
    nx, ny = np.meshgrid(np.arange(-750, 751, 50.0), np.arange(-450, 451, 50.0))
    holes = list(zip(nx.ravel(), ny.ravel()))
    (folder / "nominal.csv").write_text("hole,x,y\n" + "".join(f"H{i},{a},{b}\n" for i, (a, b) in enumerate(holes)))
    job = JOB.replace("tube_diameter = 25 mm\nhole_nominal = 25.4 mm\n", "")
    (folder / "job.ini").write_text(job)
    done = subprocess.run([program, "flatness", "job.ini", "-q", "-o", "report"], cwd=folder, capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise SystemExit(f"the program says {done.stderr}")
    return json.loads((folder / "report" / "results.json").read_text()), holes


def spline_of(folder):
    table = np.genfromtxt(folder / "report" / "map.csv", delimiter=",", names=True)
    xs, ys = np.unique(table["x"]), np.unique(table["y"])
    grid = np.full((len(ys), len(xs)), np.nan)
    grid[np.searchsorted(ys, table["y"]), np.searchsorted(xs, table["x"])] = table["deviation"]
    assert not np.isnan(grid).any()
    return RectBivariateSpline(ys, xs, grid, kx=3, ky=3)


def hull_depth(t, f):
    """Largest depth of the profile below its upper hull."""
    hull = []
    for p in zip(t, f):
        while len(hull) > 1 and (hull[-1][1] - hull[-2][1]) * (p[0] - hull[-2][0]) <= (p[1] - hull[-2][1]) * (hull[-1][0] - hull[-2][0]):
            hull.pop()
        hull.append(p)
    return float(np.max(np.interp(t, *zip(*hull)) - f))


def largest_gap(spline, length, sign, directions=18, step=50.0):
    best = 0.0
    samples = np.linspace(0, length, 41)
    for angle in np.arange(directions) * np.pi / directions:
        c, s = np.cos(angle), np.sin(angle)
        for x0 in np.arange(-WIDTH / 2, WIDTH / 2 + 1, step):
            for y0 in np.arange(-HEIGHT / 2, HEIGHT / 2 + 1, step):
                x1, y1 = x0 + length * c, y0 + length * s
                if abs(x1) > WIDTH / 2 + 1e-9 or abs(y1) > HEIGHT / 2 + 1e-9:
                    continue
                f = sign * spline(y0 + samples * s, x0 + samples * c, grid=False)
                if np.max(f[0] + (f[-1] - f[0]) * samples / length - f) < 0.5 * best and np.all(np.diff(f, 2) <= 0):
                    continue
                best = max(best, hull_depth(samples, f))
    return best


def areas_of(spline, holes, size=4):
    """[(side, area, peak, holes)] of cells of `size` mm, joined by their sides."""
    x, y = np.arange(-WIDTH / 2 + size / 2, WIDTH / 2, size), np.arange(-HEIGHT / 2 + size / 2, HEIGHT / 2, size)
    f = spline(y, x)
    corners = np.abs(spline(np.arange(-HEIGHT / 2, HEIGHT / 2 + size / 4, size), np.arange(-WIDTH / 2, WIDTH / 2 + size / 4, size)))
    found = []
    for side, beyond in (("high", f > THRESHOLD), ("low", f < -THRESHOLD)):
        marks, count = label(beyond)
        for k in range(1, count + 1):
            inside = marks == k
            within = sum(bool(inside[int((b + HEIGHT / 2) // size), int((a + WIDTH / 2) // size)]) for a, b in holes)
            touched = np.zeros_like(corners, bool)  # corners of the cells: the plate's edge is among them
            for j, i in ((0, 0), (0, 1), (1, 0), (1, 1)):
                touched[j:j + inside.shape[0], i:i + inside.shape[1]] |= inside
            found.append((side, inside.sum() * float(size * size), float(np.max(corners[touched])), within))
    return sorted(found, key=lambda a: -a[1])


def compare(results, spline, holes, worst):
    wrong = []
    for edge, length in zip(results["flatness"]["straightedge"], LENGTHS):
        found = max(largest_gap(spline, length, 1), largest_gap(spline, length, -1))
        bound = edge.get("error_bound") or 0
        short, over = (found - edge["gap"] - bound) / found, (edge["gap"] - found) / found
        worst["gap short"] = max(worst["gap short"], short)
        worst["gap beyond brute force"] = max(worst["gap beyond brute force"], over)
        if short > 0.02 or over > 0.12:  # brute force stands on a lattice: it may fall short itself
            wrong.append(f"straightedge {length}: {edge['gap']:.4f}, brute force {found:.4f}, bound {bound:.4f}")
    ours = sorted(((a["side"], a["area"], abs(a["peak"]), a["holes"]) for a in results["flatness"]["areas"]), key=lambda a: -a[1])
    theirs = [a for a in areas_of(spline, holes) if a[1] > 2000]
    ours = [a for a in ours if a[1] > 2000]
    if len(ours) < len(theirs):  # a neck narrower than the cells of 4 mm parts what is one area
        theirs = [a for a in areas_of(spline, holes, 0.5) if a[1] > 2000]
        worst["necks"] += 1
    if [a[0] for a in ours] != [a[0] for a in theirs]:
        wrong.append(f"areas {ours} against {theirs}")
    for a, b in zip(ours, theirs):
        worst["area"] = max(worst["area"], abs(a[1] - b[1]) / max(b[1], 5e4))
        worst["peak"] = max(worst["peak"], abs(a[2] - b[2]))
        if abs(a[1] - b[1]) > 0.03 * b[1] + 1500 or abs(a[2] - b[2]) > 0.01 or abs(a[3] - b[3]) > 1 + 0.02 * b[3]:
            wrong.append(f"area {a} against {b}")
    return wrong


def main():
    program, count = str(Path(sys.argv[1]).resolve()), int(sys.argv[2]) if len(sys.argv) > 2 else 2
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    failed, worst, areas = 0, {"gap short": 0.0, "gap beyond brute force": 0.0, "area": 0.0, "peak": 0.0, "necks": 0}, 0
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as place:
            results, holes = run(program, Path(place), np.random.default_rng(seed))
            areas += len(results["flatness"]["areas"])
            wrong = compare(results, spline_of(Path(place)), holes, worst)
        failed += bool(wrong)
        for line in wrong:
            print(f"surface {seed}: {line}")
    print(f"{count} surfaces, {areas} areas, {failed} wrong; worst " + ", ".join(f"{k} {v:.4f}" for k, v in worst.items()))
    return 1 if failed or not areas else 0


if __name__ == "__main__":
    sys.exit(main())
