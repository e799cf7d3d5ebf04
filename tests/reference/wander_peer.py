#!/usr/bin/env python3
"""The size of an irregular wander against scipy: plates whose position walks from hole to hole.

    wander_peer.py PROGRAM [PLATES]

Beside it the same model as a dense covariance, s2 (1 + q min(i, j)) along the order, with a shift of each axis and a turn, by
generalised least squares and scipy's search for the least of -2 ln L. No misdrilled hole is drawn, so that plain and robust fits
agree. Both must say the same root mean square of the walk about its mean, within a fifth: the program goes by the scatter beside
all it found, and keeps terms of the place that take a little of the walk.
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize_scalar

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "simulation"))
import shop_plates  # noqa: E402  (the same field, order and job)

SIGMA = 0.03


def draw(at, rng):
    """Noise and a walk of .6 to 1.5 of it."""
    n, size = len(at), rng.uniform(0.6, 1.5)
    return rng.normal(0, SIGMA, (n, 2)) + np.cumsum(rng.normal(0, size * SIGMA * np.sqrt(6 / n), (n, 2)), axis=0)


def likely_walk(at, e):
    """Root mean square of the walk about its mean, by maximum likelihood."""
    n = len(at)
    walk = np.minimum.outer(np.arange(1, n + 1), np.arange(1, n + 1)).astype(float)
    fixed = np.zeros((2, n, 3))
    fixed[0, :, 0] = fixed[1, :, 1] = 1
    fixed[0, :, 2], fixed[1, :, 2] = -at[:, 1] / 400, at[:, 0] / 400

    def minus_two_log(log_q):
        factor = cho_factor(np.eye(n) + np.exp(log_q) / n * walk, lower=True)
        solved = [cho_solve(factor, np.c_[fixed[axis], e[:, axis]]) for axis in (0, 1)]
        normal = sum(np.c_[fixed[axis], e[:, axis]].T @ solved[axis] for axis in (0, 1))
        beta = np.linalg.solve(normal[:3, :3], normal[:3, 3])
        s2 = (normal[3, 3] - beta @ normal[:3, 3]) / (2 * n)
        return 4 * np.log(np.diag(factor[0])).sum() + 2 * n * np.log(s2), s2

    best = minimize_scalar(lambda q: minus_two_log(q)[0], bounds=(-4, 9), method="bounded").x
    return np.sqrt(minus_two_log(best)[1] * np.exp(best) / 6)


def main():
    program, at = str(Path(sys.argv[1]).resolve()), shop_plates.field()
    plates, wrong, tried = int(sys.argv[2]) if len(sys.argv) > 2 else 12, 0, 0
    for seed in range(1, plates + 1):
        rng = np.random.default_rng(seed)
        e = draw(at, rng)
        with tempfile.TemporaryDirectory(prefix="plateproof-") as folder:
            shop_plates.write_plate(Path(folder), at, e, None, rng)
            done = subprocess.run([program, "holes", "job.ini", "--json"], cwd=folder, capture_output=True, text=True, check=False)
        wander = json.loads(done.stdout)["holes"]["diagnosis"]["wander"]
        if wander["rms"] is None:
            print(f"plate {seed}: nothing found in the order")
            continue
        ours, theirs = wander["rms"], likely_walk(at, e)
        bad = abs(ours / theirs - 1) > 0.2
        tried, wrong = tried + 1, wrong + bad
        print(f"plate {seed}: {ours:.5f} mm, scipy {theirs:.5f}, ratio {ours / theirs:.3f}, {'explains' if wander['explains'] else 'causes named'}"
              + (" WRONG" if bad else ""))
    print(f"{plates} plates, {tried} with something in the order, {wrong} wrong")
    sys.exit(wrong > 0 or tried < plates // 2)


if __name__ == "__main__":
    main()
