#!/usr/bin/python3
"""match = pattern on random jobs, against an independent search by numpy and scipy.

    pattern_peer.py TOOL [JOBS [FIRST]]

TOOL: holes_tool.c. A pattern, triangular, square or of no lattice, with lanes and holes of other kinds left out, is measured
in a frame that nobody knows: turned, shifted, half of the time turned over, noisy, rows in any order, with holes and a whole
row left out, holes that were never drawn, one misdrilled. The judge lays two far-apart readings, ten times over, on every
two nominal holes as far apart, both sides up, counts in a k-d tree what comes within a quarter pitch, and settles rows on
holes by scipy's assignment of least sum of squares. Asked:
  the same number of positions that match as many readings, and one of them, of those not turned over if there are some, the
  least turned;
  every hole's deviation to 1e-6 mm, the holes without a reading, the readings without a hole.
Also: readings in another unit, or of another pattern, are refused.
"""
import csv
import io
import json
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import numpy as np
    from scipy.optimize import linear_sum_assignment
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"skipped: {missing.name} is not installed for {sys.executable}")
    sys.exit(77)

NEAR, REACH, ENOUGH = 0.25, 0.5, 0.6  # pitches; share of readings: docs/theory/holes.md
PAIRS = 10
WRONG_UNIT, WRONG_PATTERN = "unit", "pattern"


def turn(angle):
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s], [s, c]])


def lattice(rng, pitch, kind):
    rows, columns = rng.integers(4, 11, 2)
    if kind == "none":  # holes at random, none nearer than a pitch
        holes = []
        while len(holes) < 4 * rows:
            at = rng.uniform(-6, 6, 2) * pitch
            if all(np.hypot(*(at - h)) > pitch for h in holes):
                holes.append(at)
        return np.array(holes)
    height, step = (np.sqrt(3) / 2, 0.5) if kind == "triangular" else (1.0, 0.0)
    at = np.array([(c + step * (r % 2), r * height) for r in range(rows) for c in range(columns)]) * pitch
    at -= at.mean(0)
    if rng.random() < 0.5:
        at = at[np.hypot(*at.T) < rng.uniform(0.8, 1.1) * np.hypot(*at.T).max()]
    if rng.random() < 0.5:
        at = at[np.abs(at[:, 1] - pitch * rng.uniform(-2, 2)) > 0.6 * pitch]  # a lane
    return at @ turn(rng.uniform(-3, 3)).T + rng.uniform(-300, 300, 2)


class Job:
    def __init__(self, seed):
        rng = np.random.default_rng(seed)
        self.pitch = rng.uniform(20, 40)
        self.kind = str(rng.choice(["triangular", "square", "none"], p=[0.5, 0.35, 0.15]))
        self.nominal = lattice(rng, self.pitch, self.kind)
        self.wrong = str(rng.choice([WRONG_UNIT, WRONG_PATTERN])) if rng.random() < 0.1 else None
        n = len(self.nominal)
        rows = self.nominal + rng.normal(0, rng.choice([0.005, 0.05, 0.2]), (n, 2))
        keep = rng.random(n) > rng.choice([0, 0.05, 0.2])
        if rng.random() < 0.3:  # a row of holes not measured
            across = self.nominal @ turn(rng.uniform(-3, 3))[0]
            keep &= np.abs(across - np.quantile(across, rng.uniform())) > 0.6 * self.pitch
        if keep.sum() < max(6, 0.5 * n):
            keep[:] = True
        if rng.random() < 0.3:
            rows[rng.integers(n)] += rng.uniform(-0.15, 0.15, 2) * self.pitch  # misdrilled
        rows = rows[keep]
        for _ in range(rng.choice([0, 0, 1, 3])):  # never drawn: between three or four holes, or outside
            rows = np.vstack([rows, self.nominal[rng.integers(n)] + self.pitch * turn(rng.uniform(0, 7))[0] * 0.55])
        rows = rng.permutation(rows) @ turn(rng.uniform(-np.pi, np.pi)).T + rng.uniform(-2000, 2000, 2)
        if rng.random() < 0.5:
            rows[:, 0] *= -1
        if self.wrong == WRONG_UNIT:
            rows = rows * rng.choice([25.4, 1 / 25.4])
        elif self.wrong == WRONG_PATTERN:
            rows = rows.mean(0) + (rows - rows.mean(0)) * rng.choice([0.78, 1.29])
        self.rows = np.round(rows, 5)

    def write(self, folder):
        table = lambda head, rows: head + "".join(rows)
        (folder / "nominal.csv").write_text(table(
            "hole,x,y\n", (f"H{i},{x:.9f},{y:.9f}\n" for i, (x, y) in enumerate(self.nominal))))
        (folder / "measured.csv").write_text(table("x,y,diameter\n", (f"{x:.5f},{y:.5f},16\n" for x, y in self.rows)))
        (folder / "job.ini").write_text(
            "[plate]\noutline = disc\ndiameter = 5000\nthickness = 40\n[holes]\nnominal = nominal.csv\n"
            f"measured = measured.csv\nposition_limit = 0.3\npitch = {self.pitch:.9f}\nalign = best-fit\nmatch = pattern\n"
            "[rules]\nhole_nominal = 16\nhole_under = 0.1\nhole_over = 0.1\n")
        return folder / "job.ini"


def fitted(rows, holes):
    """R, t of least sum of squares |R rows + t - holes|: Kabsch's, by singular values."""
    a, b = rows - rows.mean(0), holes - holes.mean(0)
    u, _, v = np.linalg.svd(a.T @ b)
    r = (u @ np.diag([1, np.sign(np.linalg.det(u @ v))]) @ v).T
    return r, holes.mean(0) - r @ rows.mean(0)


class Judge:
    def __init__(self, job):
        self.job, self.tree = job, cKDTree(job.nominal)

    def found(self, pose, rows):
        at = rows @ pose[0].T + pose[1]
        return self.tree.query(at)[0] <= NEAR * self.job.pitch

    def assigned(self, pose, rows, reach):
        """Rows and their holes, none twice: the least sum of squares, nothing farther than `reach` pitches."""
        at = rows @ pose[0].T + pose[1]
        far = (reach * self.job.pitch) ** 2
        square = np.minimum(((at[:, None] - self.job.nominal[None]) ** 2).sum(2), far)
        r, h = linear_sum_assignment(square)
        near = square[r, h] < far
        return r[near], h[near]

    def settle(self, pose, rows, reaches):
        for reach in reaches:
            r, h = self.assigned(pose, rows, reach)
            if len(r) < 2:
                break
            pose = fitted(rows[r], self.job.nominal[h])
        return pose

    def tried(self, rows, rng):
        """Poses of several pairs of far-apart readings."""
        holes = self.job.nominal
        apart = np.hypot(*(holes[:, None] - holes[None]).transpose(2, 0, 1))
        middle = rows.mean(0)
        outer = np.argsort(-np.hypot(*(rows - middle).T))[:max(6, len(rows) // 3)]
        for a in rng.permutation(outer)[:PAIRS]:
            off = np.hypot(*(rows[outer] - rows[a]).T)
            b = rng.choice(outer[off > 0.7 * off.max()])
            step = rows[b] - rows[a]
            for i, k in zip(*np.nonzero(np.abs(apart - np.hypot(*step)) < NEAR * self.job.pitch)):
                if i == k:
                    continue
                to = holes[k] - holes[i]
                r = turn(np.arctan2(to[1], to[0]) - np.arctan2(step[1], step[0]))
                yield r, (holes[i] + holes[k]) / 2 - r @ (rows[a] + rows[b]) / 2

    def poses(self, rng):
        """All that find most readings: (count, turned over, angle, pose); each once."""
        best = []
        for over in (False, True):
            rows = self.job.rows * (-1, 1) if over else self.job.rows
            counted = sorted(((self.found(p, rows).sum(), p) for p in self.tried(rows, rng)), key=lambda c: -c[0])
            for count, pose in counted:
                if count < counted[0][0] - 6:
                    break
                if any(o == over and self.same(pose, p, rows) for _, o, _, p in best):
                    continue
                pose = self.settle(pose, rows, (REACH, REACH, NEAR, NEAR, NEAR, NEAR))
                if any(o == over and self.same(pose, p, rows) for _, o, _, p in best):
                    continue
                angle = np.degrees(np.arctan2(pose[0][1, 0], pose[0][0, 0]))
                best.append((int(self.found(pose, rows).sum()), over, angle, pose))
        most = max((b[0] for b in best), default=0)
        return most, [b for b in best if b[0] == most]

    def same(self, p, q, rows):
        return np.abs(rows @ (p[0] - q[0]).T + p[1] - q[1]).max() < 0.5 * self.job.pitch


def differences(job, answer, holes, rng):
    judge = Judge(job)
    most, best = judge.poses(rng)
    if isinstance(answer, str):
        if not job.wrong and most >= ENOUGH * len(job.rows):
            yield f"refused, though {most} of {len(job.rows)} readings lie on holes: {answer}"
        return
    if job.wrong:
        if most < ENOUGH * len(job.rows):
            yield f"readings of another {job.wrong} are taken"
        return
    said = answer["holes"]["alignment"]
    if said["symmetries"] != len(best):
        yield f"{said['symmetries']} positions, not {len(best)}"
    allowed = [b for b in best if not b[1]] or best
    least = min(abs(b[2]) for b in allowed)
    allowed = [b for b in allowed if abs(abs(b[2]) - least) < 2e-3]
    rows = job.rows * (-1, 1) if said["turned_over"] else job.rows
    starts = [b[3] for b in allowed if b[1] == said["turned_over"]]
    finals = [judge.settle(p, rows, (REACH, REACH)) for p in starts]
    shift = np.array([said["dx"], said["dy"]])
    last = [p for p in finals if np.abs(rows @ (p[0] - turn(np.radians(said["angle_deg"]))).T + p[1] - shift).max() < 0.01]
    if not last:
        yield f"turned {said['angle_deg']}, over {said['turned_over']}; not one of {[b[1:3] for b in allowed]}, {most} found"
        return
    pose = last[0]
    r, h = judge.assigned(judge.settle(starts[next(k for k, p in enumerate(finals) if p is pose)], rows, (REACH,)), rows, REACH)
    off = rows[r] @ pose[0].T + pose[1] - job.nominal[h]
    got = {row["hole"]: (float(row["dx"]), float(row["dy"])) for row in holes if row["dx"]}
    if set(got) != {f"H{i}" for i in h}:
        yield f"holes measured: {sorted(set(got) ^ {f'H{i}' for i in h})} differ"
        return
    worst = max(np.hypot(*(np.array(got[f"H{i}"]) - o)) for i, o in zip(h, off))
    if worst > 1e-6:
        yield f"a deviation differs by {worst:.2g} mm"
    extra = sum(not row["dx"] for row in holes)
    if extra != len(rows) - len(r):
        yield f"{extra} readings without a hole, not {len(rows) - len(r)}"


def ask(tool, path):
    tool.stdin.write(f"2+{path}\n".encode())
    tool.stdin.flush()
    failed, *sizes = (int(v) for v in tool.stdout.readline().split())
    texts = [tool.stdout.read(size).decode() for size in sizes]
    if failed:
        return texts[0], []
    return json.loads(texts[0]), list(csv.DictReader(io.StringIO(texts[1], newline="")))


def main():
    tool = subprocess.Popen([sys.argv[1]], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    jobs, first = (int(sys.argv[k]) if len(sys.argv) > k else default for k, default in ((2, 40), (3, 1)))
    failed = refused = open_ones = 0
    with tempfile.TemporaryDirectory() as place:
        for seed in range(first, first + jobs):
            job = Job(seed)
            answer, holes = ask(tool, job.write(Path(place)))
            wrong = list(differences(job, answer, holes, np.random.default_rng(seed)))
            failed += bool(wrong)
            refused += isinstance(answer, str)
            open_ones += not isinstance(answer, str) and answer["holes"]["alignment"]["symmetries"] > 1
            for line in wrong:
                print(f"job {seed} ({job.kind}, {len(job.nominal)} holes, {len(job.rows)} readings, wrong {job.wrong}): {line}")
    tool.stdin.close()
    tool.wait()
    print(f"{jobs} jobs, {failed} wrong; {refused} refused, {open_ones} with more than one position")
    return 1 if failed or jobs < 1 else 0


if __name__ == "__main__":
    sys.exit(main())
